//! How far fluctuations of the aperture's density hang together, hence how many independent ones an area holds.
//!
//! For a field with correlation `rho(h)` seen over an area, the mean of its values has variance `sigma^2 / M` with
//! `area / M = integral of rho`, and their mean square has relative variance `2 / N` with `area / N = integral of rho^2`
//! (M. S. Bartlett, *An Introduction to Stochastic Processes*, 1955, for the normal case; a fourth cumulant adds to the
//! second). Both integrals are taken from the measured residuals, so correlated grain is counted as what it is.

use rayon::prelude::*;

use super::tile::Patch;
use crate::numeric::math;
use crate::numeric::wide::dot;

/// The two integrals, in square pixels, and how the field looks from afar.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extent {
    /// Integral of the correlation.
    pub(super) of_mean: f64,
    /// Integral of its square.
    pub(super) of_square: f64,
    /// Share of the variance in structures of more than eight apertures, beyond what grain of that `of_mean` gives
    /// and chance explains; `None` where the area holds too few of them to tell.
    pub(super) large_scale: Option<f64>,
}

/// The geometry of the patches.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lattice {
    /// Pixels from one value to the next, along and across.
    pub(super) spacing: (f64, f64),
    /// Diameter of the aperture in pixels.
    pub(super) diameter: f64,
    /// Size of the area over which apertures lie, in pixels.
    pub(super) area: (f64, f64),
    /// Coefficients of the surface that was taken out of the residuals.
    pub(super) terms: f64,
}

/// Integral over the plane of the squared correlation of a disc of diameter 1 on independent grain, over its area: with
/// `rho(h) = 2/pi (acos h - h sqrt(1 - h^2))`, `8 * integral of rho^2 h dh` from 0 to 1.
pub(super) fn disc_square() -> f64 {
    let steps = 2_000;
    let term = |k: usize| {
        let h = (k as f64 + 0.5) / f64::from(steps);
        let rim = math::sqrt(1.0 - h * h);
        let rho = (math::atan2(rim, h) - h * rim) * core::f64::consts::FRAC_2_PI;
        8.0 * rho * rho * h / f64::from(steps)
    };
    (0..steps as usize).map(term).sum()
}

/// Sum of products of values `dx`, `dy` apart over all patches, and the number of such pairs.
fn products(patches: &[Patch], dx: isize, dy: usize) -> (f64, f64) {
    let shift = dx.unsigned_abs();
    let (mut sum, mut pairs) = (0.0, 0.0);
    for patch in patches {
        let width = patch.width;
        let height = patch.values.len() / width.max(1);
        if shift >= width || dy >= height {
            continue;
        }
        let count = width - shift;
        let (from, to) = if dx >= 0 { (0, shift) } else { (shift, 0) };
        for y in 0..height - dy {
            let first = &patch.values[y * width + from..][..count];
            let second = &patch.values[(y + dy) * width + to..][..count];
            sum += dot(first, second);
        }
        pairs += (count * (height - dy)) as f64;
    }
    (sum, pairs)
}

/// Estimates the integrals from the residuals on the lattice.
pub(super) fn extent(patches: &[Patch], lattice: &Lattice) -> Extent {
    let disc = core::f64::consts::FRAC_PI_4 * lattice.diameter * lattice.diameter;
    let (total, count) = products(patches, 0, 0);
    let variance = total / count.max(1.0);
    let independent = Extent { of_mean: disc, of_square: disc * disc_square(), large_scale: None };
    if variance <= 0.0 {
        return independent;
    }
    let cell = lattice.spacing.0 * lattice.spacing.1;
    let seen = count * cell;
    let noise = math::sqrt(independent.of_square / seen);
    let reach = (
        reach_along(patches, variance, noise, lattice, true),
        reach_along(patches, variance, noise, lattice, false),
    );
    let lags = Lags::of(patches, reach);
    let mut found = independent;
    // Twice: the second time with what the first found, in the two small corrections that need it.
    for _ in 0..2 {
        found = lags.integrate(variance, lattice, &found);
        // White grain through a disc is the least correlated there is; anything below it is chance.
        found.of_square = found.of_square.max(independent.of_square);
        found.of_mean = found.of_mean.max(0.3 * disc);
    }
    found.large_scale = large_scale(patches, variance, lattice, found.of_mean.min(3.0 * disc));
    found
}

/// Steps of the lattice along one axis beyond which the correlation is lost in its noise; at least one diameter, at most
/// half a patch.
fn reach_along(patches: &[Patch], variance: f64, noise: f64, lattice: &Lattice, along: bool) -> usize {
    let spacing = if along { lattice.spacing.0 } else { lattice.spacing.1 };
    let size = |patch: &Patch| if along { patch.width } else { patch.values.len() / patch.width.max(1) };
    let half = patches.iter().map(size).max().unwrap_or(0) / 2;
    let least = (lattice.diameter / spacing).ceil() as usize;
    let most = ((6.0 * lattice.diameter / spacing) as usize).min(half).max(1);
    let threshold = (3.0 * noise).max(0.05);
    let correlated = |lag: &usize| {
        let (sum, pairs) =
            if along { products(patches, *lag as isize, 0) } else { products(patches, 0, *lag) };
        pairs > 0.0 && (sum / pairs / variance).abs() > threshold
    };
    // The first lag from which two in a row are lost.
    let end = (1..most).find(|lag| !correlated(lag) && !correlated(&(lag + 1))).unwrap_or(most);
    (end + 1).max(least).min(most.max(least).min(half.max(1)))
}

/// Sums of products by how far the two values are apart, over half the plane: the other half mirrors it.
struct Lags {
    /// Steps of the lattice from one lag to the next, along and across.
    stride: (usize, usize),
    /// Lag along and across, sum of products, number of pairs.
    sums: Vec<(isize, usize, f64, f64)>,
}

impl Lags {
    fn of(patches: &[Patch], reach: (usize, usize)) -> Self {
        // No more than eight lags on either side: a field that hangs together over more needs no finer ones.
        let stride = (reach.0.div_ceil(8).max(1), reach.1.div_ceil(8).max(1));
        let (across, down) = ((reach.0 / stride.0) as isize, reach.1 / stride.1);
        let lags: Vec<(isize, usize)> = (0..=down)
            .flat_map(|y| (-across..=across).map(move |x| (x, y)))
            .filter(|(x, y)| *y > 0 || *x > 0)
            .collect();
        let one = |(x, y): &(isize, usize)| {
            let (sum, pairs) = products(patches, x * stride.0 as isize, y * stride.1);
            (*x, *y, sum, pairs)
        };
        Self { stride, sums: lags.par_iter().map(one).collect() }
    }

    fn integrate(&self, variance: f64, lattice: &Lattice, known: &Extent) -> Extent {
        let size = (self.stride.0 as f64 * lattice.spacing.0, self.stride.1 as f64 * lattice.spacing.1);
        let area = lattice.area.0 * lattice.area.1;
        // What the surface took away from the correlation at short distance.
        let taken = (lattice.terms * known.of_mean / area).min(0.5);
        let (mut mean, mut square) = (0.0, 0.0);
        for (x, y, sum, pairs) in self.sums.iter().filter(|(.., pairs)| *pairs >= 1.0) {
            let rho = (sum / pairs / variance) * (1.0 - taken) + taken;
            let outside = |lag: f64, size: f64| (1.0 - lag / size).max(0.0);
            let weight = outside(x.unsigned_abs() as f64 * size.0, lattice.area.0)
                * outside(*y as f64 * size.1, lattice.area.1);
            // The square of its noise stays in: it matters for small areas alone, and lengthens their intervals, which without
            // it come out short, because the number of independent apertures is itself only an estimate there.
            mean += weight * rho;
            square += weight * rho * rho;
        }
        let cell = size.0 * size.1;
        Extent { of_mean: cell * (1.0 + 2.0 * mean), of_square: cell * (1.0 + 2.0 * square), ..*known }
    }
}

/// The variance of means over squares of eight apertures, as a share of the whole, less that of squares of grain. Grain is
/// no larger than about an aperture, so `of_mean` is at most a few discs here: what hangs together further is no grain.
fn large_scale(patches: &[Patch], variance: f64, lattice: &Lattice, of_mean: f64) -> Option<f64> {
    let steps = |spacing: f64| ((8.0 * lattice.diameter / spacing) as usize).max(1);
    let (across, down) = (steps(lattice.spacing.0), steps(lattice.spacing.1));
    let mut means = Vec::new();
    for patch in patches {
        let height = patch.values.len() / patch.width.max(1);
        for y in 0..height / down {
            for x in 0..patch.width / across {
                let rows = (y * down..(y + 1) * down).map(|row| {
                    let start = row * patch.width + x * across;
                    patch.values[start..start + across].iter().map(|v| f64::from(*v)).sum::<f64>()
                });
                means.push(rows.sum::<f64>() / (across * down) as f64);
            }
        }
    }
    if means.len() < 12 {
        return None;
    }
    let middle = means.iter().sum::<f64>() / means.len() as f64;
    let spread = means.iter().map(|m| (m - middle) * (m - middle)).sum::<f64>() / (means.len() - 1) as f64;
    let square = across as f64 * lattice.spacing.0 * down as f64 * lattice.spacing.1;
    // Three standard errors of a variance from that many squares.
    let chance = 1.0 + 3.0 * math::sqrt(2.0 / (means.len() - 1) as f64);
    Some((spread / variance - chance * of_mean / square).max(0.0))
}

#[cfg(test)]
mod tests {
    #[test]
    fn squared_correlation_of_a_disc() {
        // Independent: overlap of a disc with its shifted copy, counted on a grid of points.
        let fine = 400_i32;
        let inside = |x: i32, y: i32| {
            let (x, y) = (f64::from(x) + 0.5, f64::from(y) + 0.5);
            x * x + y * y <= f64::from(fine * fine) / 4.0
        };
        let half = fine / 2;
        let points: Vec<(i32, i32)> = (-half..half)
            .flat_map(|y| (-half..half).map(move |x| (x, y)))
            .filter(|(x, y)| inside(*x, *y))
            .collect();
        let (steps, mut sum) = (50_i32, 0.0);
        for k in 0..steps {
            let shift = (2 * k + 1) * fine / (2 * steps);
            let both = points.iter().filter(|(x, y)| inside(x + shift, *y)).count() as f64;
            let rho = both / points.len() as f64;
            let h = (f64::from(k) + 0.5) / f64::from(steps);
            sum += 8.0 * rho * rho * h / f64::from(steps);
        }
        assert!((super::disc_square() - sum).abs() < 2e-3, "{sum}");
    }
}
