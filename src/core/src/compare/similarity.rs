//! How alike two characteristic curves are, in one number.

use serde::Serialize;

use crate::curve::{Curve, Spline};
use crate::figures::BaseFog;
use crate::figures::speed::SPEED_NET_DENSITY;
use crate::measured::Measured;
use crate::numeric::robust;
use crate::words::{self, Sentence};

/// What the number means, for hover texts and reports.
pub const DEFINITION: &str = "Root mean square of the difference in density above base+fog between the film's curve and the \
    reference's, with their speed points over each other, over the log exposures that both curves cover; in units of density. \
    0 is the same curve. Grey where errors of the readings alone would give as much in one case of twenty or more.";

/// Places over the common range at which curves are compared.
const PLACES: usize = 60;
/// Shortest common range that is compared, in log H.
const LEAST_RANGE: f64 = 0.6;

/// The difference of two curves in one number.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Similarity {
    /// Root mean square difference in net density.
    pub difference: Measured,
    /// Log exposure over which both were compared.
    pub range: f64,
    /// Whether it exceeds what errors alone would give in 95 of 100 cases.
    pub distinguishable: bool,
}

/// A curve from its speed point: net density over log H above it.
struct Aligned<'a> {
    spline: &'a Spline,
    base: f64,
    at: f64,
}

impl<'a> Aligned<'a> {
    fn of(spline: &'a Spline, base: Option<f64>) -> Option<Self> {
        let base = base?;
        let at = spline.log_h_at(base + SPEED_NET_DENSITY)?;
        Some(Self { spline, base, at })
    }

    fn range(&self) -> (f64, f64) {
        (self.spline.from - self.at, self.spline.to - self.at)
    }

    /// Net density there, held at the ends by what rounding may leave outside.
    fn net(&self, x: f64) -> f64 {
        let at = (x + self.at).clamp(self.spline.from, self.spline.to);
        self.spline.density(at).unwrap_or(f64::NAN) - self.base
    }
}

/// Compares a film's curve with the reference's.
///
/// The interval follows from the resamplings of both curves, draw by draw, so that what their errors have in common cancels.
///
/// # Errors
/// A curve without a speed point, or too little in common, in one sentence.
pub fn similarity(reference: &Curve, film: &Curve) -> Result<Similarity, Sentence> {
    let feet = [BaseFog::of(film), BaseFog::of(reference)];
    let none = |whose: &'static str| words::Pair::NoSpeedPointOf { whose };
    let ours = Aligned::of(&film.best, feet[0].known()).ok_or_else(|| none("The film"))?;
    let theirs = Aligned::of(&reference.best, feet[1].known()).ok_or_else(|| none("The reference"))?;
    let from = ours.range().0.max(theirs.range().0);
    let to = ours.range().1.min(theirs.range().1);
    if to - from < LEAST_RANGE {
        return Err(words::Pair::LittleInCommon.into());
    }
    let places: Vec<f64> = (0..=PLACES).map(|i| from + (to - from) * i as f64 / PLACES as f64).collect();
    let differences = |ours: &Aligned<'_>, theirs: &Aligned<'_>| -> Vec<f64> {
        places.iter().map(|x| ours.net(*x) - theirs.net(*x)).collect()
    };
    let found = differences(&ours, &theirs);
    let count = film.resampled.len().min(reference.resampled.len());
    // Draws of one number suppose the same errors of tablet and light in both films.
    let drawn = |number: usize| {
        let a = &film.resampled[number];
        let b = &reference.resampled[number];
        let ours = Aligned::of(&a.spline, feet[0].drawn(a))?;
        let theirs = Aligned::of(&b.spline, feet[1].drawn(b))?;
        let differences = differences(&ours, &theirs);
        let error: Vec<f64> = differences.iter().zip(&found).map(|(drawn, found)| drawn - found).collect();
        Some((rms(&differences), rms(&error)))
    };
    let (draws, errors): (Vec<f64>, Vec<f64>) = (0..count).filter_map(drawn).unzip();
    let (draws, errors) = (robust::sorted(&draws), robust::sorted(&errors));
    let quantile = |sorted: &[f64], p| robust::quantile_of_sorted(sorted, p);
    let value = rms(&found);
    let ends = (quantile(&draws, 0.025), quantile(&draws, 0.5), quantile(&draws, 0.975));
    let (Some(low), Some(middle), Some(high)) = ends else {
        return Err(words::Pair::SpeedPointsUnsettled.into());
    };
    let u = robust::standard_deviation(&draws).unwrap_or(0.0);
    let difference =
        Measured::with_interval(value, u, (value + low - middle).max(0.0), value + high - middle)
            .flagged(film.readings.all_flags() | reference.readings.all_flags());
    let by_chance = quantile(&errors, 0.95).unwrap_or(0.0);
    Ok(Similarity { difference, range: to - from, distinguishable: value > by_chance })
}

fn rms(values: &[f64]) -> f64 {
    (values.iter().map(|value| value * value).sum::<f64>() / values.len().max(1) as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curve::model::toe_and_line;
    use crate::curve::{FitSettings, Reading, Readings, Sources, fit};
    use crate::measured::Flags;

    fn curve(shift: f64, gamma: f64, base: f64) -> Curve {
        let point = |i: u32| {
            let log_h = -3.2 + 0.15 * f64::from(i);
            Reading {
                step: i + 1,
                log_h,
                log_h_u: 0.0,
                density: toe_and_line(base, gamma, 2.0, -2.4 + shift, log_h),
                density_u: 0.004,
                strip: 0,
                set_aside: false,
                flags: Flags::empty(),
            }
        };
        let readings = Readings {
            points: (0..21).map(point).collect(),
            absolute: true,
            log_h_shared_u: 0.0,
            base_fog: Some((base, 0.002)),
            sources: Sources::default(),
            flags: Flags::empty(),
        };
        fit(readings, FitSettings { resamplings: 200, seed: 3 }).unwrap()
    }

    #[test]
    fn speed_and_base_do_not_count_and_contrast_does() {
        let reference = curve(0.0, 0.6, 0.2);
        let alike = similarity(&reference, &curve(0.3, 0.6, 0.35)).unwrap();
        assert!(!alike.distinguishable && alike.difference.value < 0.01, "{alike:?}");
        let harder = similarity(&reference, &curve(0.0, 0.75, 0.2)).unwrap();
        assert!(harder.distinguishable && harder.difference.low > 0.05, "{harder:?}");
        assert!((harder.range - 3.0).abs() < 0.3, "{harder:?}");
    }

    #[test]
    fn two_lines_differ_by_what_algebra_says() {
        // Net densities 0.6 x and 0.7 x from the point of net density 0.1 on: the difference is 0.1 x over 0 to x1.
        let at = |x: f64, gamma: f64| 0.2 + 0.1 + gamma * x;
        let line = |gamma: f64| {
            let point = |i: u32| Reading {
                step: i + 1,
                log_h: 0.1 * f64::from(i) - 0.1,
                log_h_u: 0.0,
                density: at(0.1 * f64::from(i) - 0.1, gamma),
                density_u: 0.001,
                strip: 0,
                set_aside: false,
                flags: Flags::empty(),
            };
            let readings = Readings {
                points: (0..22).map(point).collect(),
                absolute: false,
                log_h_shared_u: 0.0,
                base_fog: Some((0.2, 0.0)),
                sources: Sources::default(),
                flags: Flags::empty(),
            };
            fit(readings, FitSettings { resamplings: 60, seed: 1 }).unwrap()
        };
        let found = similarity(&line(0.6), &line(0.7)).unwrap();
        // Integral of (0.1 x)² over -0.1 to 2.0, over its length.
        let exact = (0.01 / 3.0 * (8.0 + 0.001) / 2.1_f64).sqrt();
        assert!((found.difference.value - exact).abs() < 2e-3, "{} for {exact}", found.difference.value);
    }
}
