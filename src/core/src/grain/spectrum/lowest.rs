//! The spectrum at frequency zero, extrapolated from low frequencies that are not zero.

use nalgebra::{DMatrix, DVector};

use super::positive;
use super::radial::{FIRST, Radial};
use crate::measured::Measured;
use crate::numeric::math;

/// The fit goes up to where the spectrum has fallen to this share.
const FALLEN: f64 = 0.5;
/// Least improvement of chi-square for the fourth power of the frequency.
const WORTH: f64 = 10.0;

/// Grain hangs together over no more than some 20 micrometres: its power does not fall to a half below this frequency, in
/// cycles per millimetre (a Gaussian correlation of 2 s = 40 micrometres does at 6.6).
const GRAIN: f64 = 6.0;

/// What says that the area holds more than grain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Uneven {
    /// Power of the first rings over what the others lead to, beyond chance.
    Rises(f64),
    /// Frequency at which power has fallen to a half, lower than grain's can.
    Coarse(f64),
}

/// The value at zero, of which the rings are told what it is made of: a smooth spectrum without direction is a series in the
/// square of the frequency, and so is its logarithm, which is fitted.
pub(super) fn zero(rings: &mut Radial) -> (Measured, Option<Uneven>) {
    let (end, fallen) = end(rings);
    let Some(fit) = best(rings, FIRST, end) else {
        // Nothing above zero: a field that does not fluctuate, or nothing left of it.
        return (Measured::with_interval(0.0, 0.0, 0.0, 0.0), None);
    };
    for (ring, weight) in &fit.weights {
        rings.zero[*ring] = fit.value * weight / rings.power(*ring);
    }
    let (_, u) = rings.sum(&rings.zero.clone());
    let coarse = rings.frequency(end as f64);
    let uneven = if fallen && coarse < GRAIN { Some(Uneven::Coarse(coarse)) } else { uneven(rings, end) };
    (positive(fit.value, u), uneven)
}

/// Whether the lowest rings stand out over what the next ones lead to.
fn uneven(rings: &Radial, end: usize) -> Option<Uneven> {
    const LOWEST: usize = 3;
    let without = best(rings, FIRST + LOWEST, end.max(FIRST + 2 * LOWEST + 2).min(rings.last()))?;
    let (mut power, mut cells, mut variance) = (0.0, 0.0, 0.0);
    for ring in FIRST..FIRST + LOWEST {
        power += rings.cells[ring] * rings.power(ring);
        cells += rings.cells[ring];
        variance += rings.cells[ring] * rings.cells[ring] * rings.relative_variance(ring);
    }
    let ratio = power / cells / without.value;
    // Neighbours share half of their errors.
    let u = math::sqrt(2.0 * variance / (cells * cells) + without.relative_variance);
    (ratio > 1.5 && math::ln(ratio) > 4.0 * u).then_some(Uneven::Rises(ratio))
}

/// The ring up to which the fit goes, and whether the spectrum has fallen there.
fn end(rings: &Radial) -> (usize, bool) {
    let most = (rings.last() / 2).max(FIRST + 4);
    let mean = |from: usize, to: usize| {
        let (power, cells) = (from..to.min(rings.last() + 1)).fold((0.0, 0.0), |(power, cells), ring| {
            (power + rings.cells[ring] * rings.power(ring), cells + rings.cells[ring])
        });
        power / f64::max(cells, 1.0)
    };
    let low = mean(FIRST, FIRST + 4);
    let fallen = (FIRST + 4..most).find(|ring| mean(ring - 2, ring + 3) < FALLEN * low);
    (fallen.unwrap_or(most).min(rings.last()), fallen.is_some())
}

struct Fit {
    value: f64,
    /// What each ring's logarithm counts; they sum to 1.
    weights: Vec<(usize, f64)>,
    chi_square: f64,
    relative_variance: f64,
}

/// Two or three terms.
fn best(rings: &Radial, from: usize, to: usize) -> Option<Fit> {
    let two = fit(rings, from, to, 2)?;
    if to < from + 8 {
        return Some(two);
    }
    let three = fit(rings, from, to, 3)?;
    Some(if two.chi_square - three.chi_square > WORTH { three } else { two })
}

/// Weighted least squares of the logarithm over powers of the squared frequency.
fn fit(rings: &Radial, from: usize, to: usize, terms: usize) -> Option<Fit> {
    let used: Vec<usize> =
        (from..=to).filter(|ring| rings.cells[*ring] > 0.0 && rings.power(*ring) > 0.0).collect();
    if used.len() < terms + 1 {
        return None;
    }
    let scale = rings.radius[to];
    let variance = |ring: usize| {
        let share = rings.measured[ring] / rings.power(ring);
        (share * share * rings.relative_variance(ring)).max(1e-12)
    };
    let design = DMatrix::from_fn(used.len(), terms, |row, power| {
        let x = rings.radius[used[row]] / scale;
        let mut value = 1.0;
        for _ in 0..power {
            value *= x * x;
        }
        value
    });
    let weighted = DMatrix::from_fn(terms, used.len(), |term, row| design[(row, term)] / variance(used[row]));
    // The mean logarithm of a chi-square over its degrees of freedom lies one over them below zero.
    let logarithms =
        DVector::from_fn(used.len(), |row, _| math::ln(rings.power(used[row])) + 0.5 * variance(used[row]));
    let solver = (&weighted * &design).cholesky()?.inverse() * &weighted;
    let found = &solver * &logarithms;
    let residuals = &design * &found - &logarithms;
    let chi_square = residuals.iter().zip(&used).map(|(r, ring)| r * r / variance(*ring)).sum();
    let weights: Vec<(usize, f64)> =
        used.iter().enumerate().map(|(row, ring)| (*ring, solver[(0, row)])).collect();
    // Neighbouring rings share half of their errors.
    let relative_variance = 2.0 * weights.iter().map(|(ring, w)| w * w * variance(*ring)).sum::<f64>();
    let value = math::exp(found[0]);
    value.is_finite().then_some(Fit { value, weights, chi_square, relative_variance })
}
