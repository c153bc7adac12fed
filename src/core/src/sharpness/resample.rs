//! How sure a figure of the edge is: the grain of each block of rows is added once more, and what that does to the figure is
//! what the block did to it.
//!
//! Infinitesimal jackknife over blocks (B. Efron, *The Jackknife, the Bootstrap and Other Resampling Plans*, 1982; blocks
//! after H. R. Künsch, Ann. Statist. 17, 1989): rows of a block keep their common grain, so that its correlation counts.

use super::spread::{BIN, Spread};
use super::transfer::{self, Complex, Transfer, Window};
use crate::numeric::{math, quantiles, robust};

/// What light stands for.
pub(super) type Signal<'a> = &'a (dyn Fn(f64) -> f64 + Sync);

/// What blocks say of the uncertainty of anything that is computed from all of them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Blocks {
    /// By what the sum of squares of what blocks did is multiplied.
    pub(super) scale: f64,
    /// Half a 95 % interval in standard uncertainties: Student's quantile, for blocks are few.
    pub(super) quantile: f64,
}

impl Blocks {
    pub(super) fn of(spread: &Spread) -> Self {
        let count = spread.moved.len() as f64;
        // Residuals about a mean that they share in are too small by n / (n - 1); and neighbours that lean the same way make
        // the mean less sure than blocks on their own would. Independent ones lean 1 / n the other way.
        let lean = (together(&spread.moved) + 1.0 / count).max(0.0);
        Self {
            scale: count / (count - 1.0) * (1.0 + 2.0 * lean),
            quantile: quantiles::student_t(0.975, count - 1.0),
        }
    }

    /// Standard uncertainty of `figure` of the edge.
    pub(super) fn uncertainty(&self, spread: &Spread, figure: &dyn Fn(&[f64]) -> Option<f64>) -> Option<f64> {
        let best = figure(&spread.light)?;
        let mut sum = 0.0;
        for block in &spread.moved {
            let with: Vec<f64> = spread.light.iter().zip(block).map(|(light, moved)| light + moved).collect();
            let off = figure(&with)? - best;
            sum += off * off;
        }
        Some(math::sqrt(self.scale * sum))
    }
}

/// Correlation of neighbouring blocks over all bins.
fn together(moved: &[Vec<f64>]) -> f64 {
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let whole: f64 = moved.iter().map(|block| product(block, block)).sum();
    let between: f64 = moved.windows(2).map(|pair| product(&pair[0], &pair[1])).sum();
    if whole > 0.0 { between / whole } else { 0.0 }
}

/// The bins averaged with a Gaussian of standard deviation `sigma` pixels.
pub(super) fn smooth(values: &[f64], sigma: f64) -> Vec<f64> {
    averaged(values, sigma, |square| math::exp(-0.5 * square))
}

/// The same with a kernel of fourth order, which leaves the height of a smooth lobe as it is (M. P. Wand and M. C. Jones, *Kernel
/// Smoothing*, 1995).
pub(super) fn smooth_lobes(values: &[f64], sigma: f64) -> Vec<f64> {
    averaged(values, sigma, |square| (1.5 - 0.5 * square) * math::exp(-0.5 * square))
}

fn averaged(values: &[f64], sigma: f64, kernel: impl Fn(f64) -> f64) -> Vec<f64> {
    let reach = (3.5 * sigma / BIN).ceil() as usize;
    let weights: Vec<f64> =
        (0..=reach).map(|k| kernel((k as f64 * BIN / sigma) * (k as f64 * BIN / sigma))).collect();
    let total = weights[0] + 2.0 * weights[1..].iter().sum::<f64>();
    let last = values.len() - 1;
    let at = |k: usize| {
        let pair = |step: usize| values[k.saturating_sub(step)] + values[(k + step).min(last)];
        let beside: f64 = weights.iter().enumerate().skip(1).map(|(step, w)| w * pair(step)).sum();
        (weights[0] * values[k] + beside) / total
    };
    (0..values.len()).map(at).collect()
}

/// The window of an edge that rises over `rise` pixels: flat over what stands out of the grain, at least 1.3 rises and three
/// pixels to either side, as far as the box allows.
pub(super) fn window(spread: &Spread, blocks: &Blocks, rise: f64) -> Window {
    let kernel = (0.4 * rise).max(2.0 * BIN);
    let shown = smooth(&spread.light, kernel);
    let moved: Vec<Vec<f64>> = spread.moved.iter().map(|block| smooth(block, kernel)).collect();
    let reach = spread.reach();
    let level = |left: bool| {
        let far = |d: f64| if left { d < -0.6 * reach } else { d > 0.6 * reach };
        let values: Vec<f64> =
            (0..shown.len()).filter(|k| far(spread.distance(*k))).map(|k| shown[k]).collect();
        robust::mean(&values).unwrap_or(0.0)
    };
    let (left, right) = (level(true), level(false));
    let departs = |k: &usize| {
        let off = shown[*k] - if spread.distance(*k) < 0.0 { left } else { right };
        let u = math::sqrt(blocks.scale * moved.iter().map(|block| block[*k] * block[*k]).sum::<f64>());
        off.abs() > (3.5 * u).max(0.004 * (right - left).abs())
    };
    // Beyond the edge itself, the first place on each side at which nothing shows any more.
    let start = (rise / BIN) as usize;
    let half = shown.len() / 2;
    let quiet = |side: &dyn Fn(usize) -> usize| (start..half).find(|k| !departs(&side(*k))).unwrap_or(half);
    let ends = quiet(&|k| half - 1 - k).max(quiet(&|k| half + k)) as f64 * BIN;
    let flat = ends.max(1.3 * rise).max(3.0).min(0.55 * reach);
    Window { flat, end: (flat + (1.5 * rise).max(4.0)).min(reach - 2.0 * BIN) }
}

/// The transfer function at one frequency.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Point {
    /// Square of the modulus as it is found, grain and all.
    pub(super) power: f64,
    /// What grain adds to that on average: its power in phase with the edge, and across.
    pub(super) along: f64,
    pub(super) across: f64,
    /// Standard uncertainty of the modulus by that of the film's curve.
    pub(super) of_curve: f64,
}

impl Point {
    /// Square of the modulus with the power of the grain taken off; below zero where chance took it there.
    pub(super) fn square(&self) -> f64 {
        self.power - self.along - self.across
    }

    /// The power that is found with probability below a normal's `z` where the modulus is truly `level`: a scaled chi-square of
    /// the same mean and variance (P. B. Patnaik, Biometrika 36, 1949).
    fn found(&self, level: f64, level_u: f64, z: f64) -> f64 {
        let mean = level * level + self.along + self.across;
        let variance = self.variance(level) + 4.0 * level * level * level_u * level_u;
        if variance <= 0.0 {
            return mean;
        }
        let free = 2.0 * mean * mean / variance;
        // The chi-square's cube root is nearly normal (E. B. Wilson and M. M. Hilferty, 1931).
        let root = 1.0 - 2.0 / (9.0 * free) + z * math::sqrt(2.0 / (9.0 * free));
        mean * root.max(0.0) * root.max(0.0) * root.max(0.0)
    }

    fn variance(&self, level: f64) -> f64 {
        4.0 * level * level * (self.along + self.of_curve * self.of_curve)
            + 2.0 * self.along * self.along
            + 2.0 * self.across * self.across
    }

    /// Modulus over that of the scanner, `own` with its standard uncertainty, and the ends of its interval of `z` standard
    /// deviations.
    pub(super) fn modulus(&self, own: f64, own_u: f64, z: f64) -> (f64, f64, f64) {
        let root = |square: f64| math::sqrt(square.max(0.0)) / own;
        let value = math::sqrt(self.square().max(0.0));
        let of_scanner = 2.0 * value * value * own_u / own;
        let half = z * math::hypot(math::sqrt(self.variance(value)), of_scanner);
        (value / own, root(self.square() - half), root(self.square() + half))
    }
}

/// The transfer function of an edge, at steps of [`transfer::STEP`].
#[derive(Debug, Clone)]
pub(super) struct Curve {
    pub(super) points: Vec<Point>,
    pub(super) quantile: f64,
}

/// A frequency in cycles per pixel and the ends of its 95 % interval; the upper one is open where the grain hides it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frequency {
    pub(super) value: f64,
    pub(super) low: f64,
    pub(super) high: Option<f64>,
}

impl Curve {
    /// `drawn` are signals as they might be, by what is not known of the film's curve.
    pub(super) fn of(
        spread: &Spread,
        blocks: &Blocks,
        window: Window,
        signal: Signal<'_>,
        drawn: &[Signal<'_>],
    ) -> Self {
        let transfer = Transfer::new(spread.first, spread.light.len(), window);
        let values: Vec<f64> = spread.light.iter().map(|light| signal(*light)).collect();
        let (step, best) = transfer.transform(&values);
        let mut points: Vec<Point> = best
            .iter()
            .map(|z| Point { power: (z.0 * z.0 + z.1 * z.1) / (step * step), ..Point::default() })
            .collect();
        for block in &spread.moved {
            let moved: Vec<f64> = spread
                .light
                .iter()
                .zip(block)
                .zip(&values)
                .map(|((light, moved), value)| signal(light + moved) - value)
                .collect();
            let (by, waves) = transfer.transform(&moved);
            for (point, (best, wave)) in points.iter_mut().zip(best.iter().zip(waves)) {
                let (along, across) = beside(*best, wave, by, step);
                point.along += blocks.scale * along * along;
                point.across += blocks.scale * across * across;
            }
        }
        for drawn in drawn {
            let values: Vec<f64> = spread.light.iter().map(|light| drawn(*light)).collect();
            let (step, waves) = transfer.transform(&values);
            for (point, wave) in points.iter_mut().zip(waves) {
                let off = math::hypot(wave.0, wave.1) / step.abs() - math::sqrt(point.power);
                point.of_curve += off * off;
            }
        }
        let count = drawn.len().max(1) as f64;
        points.iter_mut().for_each(|point| point.of_curve = math::sqrt(point.of_curve / count));
        Self { points, quantile: blocks.quantile }
    }

    /// The highest modulus and where it is, cycles per pixel.
    pub(super) fn peak(&self) -> (f64, f64) {
        let highest = self.points.iter().enumerate().max_by(|a, b| a.1.square().total_cmp(&b.1.square()));
        highest
            .map_or((1.0, 0.0), |(k, point)| (math::sqrt(point.square().max(0.0)), k as f64 * transfer::STEP))
    }

    /// The lowest frequency at which the modulus over the scanner's (and its standard uncertainty, by cycles per pixel) has come
    /// down to `level`; the interval holds the frequencies at which a modulus of `level` agrees with what is found.
    pub(super) fn frequency(
        &self,
        level: f64,
        scanner: &dyn Fn(f64) -> Option<(f64, f64)>,
    ) -> Option<Frequency> {
        let wanted: Vec<(f64, f64)> = (0..self.points.len())
            .map_while(|k| scanner(k as f64 * transfer::STEP))
            .map(|(own, u)| (level * own, level * u))
            .collect();
        let each = || self.points.iter().zip(&wanted);
        let squares: Vec<f64> = each().map(|(point, (level, _))| point.square() - level * level).collect();
        let less = |z: f64| -> Vec<f64> {
            each().map(|(point, (level, u))| point.power - point.found(*level, *u, z)).collect()
        };
        let value = transfer::crossing(&squares, 0.0)?;
        let low = transfer::crossing(&less(self.quantile), 0.0)?.min(value);
        let high = transfer::crossing(&less(-self.quantile), 0.0).map(|high| high.max(value));
        Some(Frequency { value, low, high })
    }
}

/// What a block moved the ratio of transform and step by, in phase with the transform and across.
fn beside(best: Complex, wave: Complex, by: f64, step: f64) -> (f64, f64) {
    let size = math::hypot(best.0, best.1).max(1e-300);
    let along = (wave.0 * best.0 + wave.1 * best.1) / size - by / step * size;
    let across = (wave.1 * best.0 - wave.0 * best.1) / size;
    (along / step, across / step)
}
