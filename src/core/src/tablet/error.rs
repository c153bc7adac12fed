//! How sure the mean over an area is: from means of its cells and how they hang together.
//!
//! The variance of a mean is the sum of all covariances over the square of their number. Covariances of cells are summed out
//! to the distance where they are lost in chance; each is lowered by the variance of the mean itself, for deviations are
//! taken from it, and that is put back: `V (1 - M / N^2) = S / N^2`, S the sum of products of deviations of pairs within
//! reach, M the sum of products of their numbers of pixels, N the number of pixels. It is the spectrum at frequency zero
//! through a window of that reach; its degrees of freedom are those of such an estimate, `N^2 / M` (M. S. Bartlett,
//! *Biometrika* 37 (1950), 1), less what the mean takes.

use super::reading::{Cells, Totals};
use crate::numeric::{math, quantiles};

/// Fewer cells along the shorter side say nothing of how they hang together.
const LEAST_CELLS: usize = 5;
/// Correlation that is lost in chance: two standard errors, and no less than this.
const LOST: f64 = 0.04;

/// Degrees of freedom over `N^2 / M`: such a sum is no chi-square, and its small values, which a quantile of Student's
/// guards against, are rarer. Set where intervals of fields that hang together over a fifth of the area hold the truth in 95 of
/// 100, in `tests/simulated/scan_trust.rs`.
const FREEDOM: f64 = 1.6;

/// Variance of two means, of light and of codes, and the degrees of freedom of both.
pub(super) struct Variances {
    pub(super) light: f64,
    pub(super) code: f64,
    pub(super) freedom: f64,
}

/// `None` where the area holds too few cells.
pub(super) fn of_mean(cells: &Cells, totals: &Totals) -> Option<Variances> {
    let (light, code) = (totals.light / totals.count, totals.code / totals.count);
    let grid = Grid {
        across: cells.across,
        down: cells.down,
        counts: cells.cells.iter().map(|cell| cell.count).collect(),
        light: cells.cells.iter().map(|cell| cell.light - light * cell.count).collect(),
        code: cells.cells.iter().map(|cell| cell.code - code * cell.count).collect(),
    };
    grid.variances()
}

/// Standard uncertainty of the mean of the parts of a square, `side` along each side, with its quantile of Student for 95 %; of each
/// part its weight and its weighted value. `None` where there are too few.
pub(super) fn of_parts(side: usize, parts: &[(f64, f64)]) -> Option<(f64, f64)> {
    let (count, sum) = parts.iter().fold((0.0, 0.0), |(count, sum), part| (count + part.0, sum + part.1));
    if count < (LEAST_CELLS * LEAST_CELLS) as f64 {
        return None;
    }
    let deviations: Vec<f64> = parts.iter().map(|(weight, value)| value - sum / count * weight).collect();
    let counts = parts.iter().map(|(weight, _)| *weight).collect();
    let grid = Grid { across: side, down: side, counts, code: deviations.clone(), light: deviations };
    let found = grid.variances()?;
    Some((math::sqrt(found.light), quantiles::student_t(0.975, found.freedom)))
}

struct Grid {
    across: usize,
    down: usize,
    counts: Vec<f64>,
    light: Vec<f64>,
    code: Vec<f64>,
}

/// Sums of products over pairs of cells.
#[derive(Clone, Copy)]
struct Sums {
    light: f64,
    code: f64,
    weights: f64,
    pairs: f64,
}

impl Sums {
    fn add(&mut self, other: &Self) {
        self.light += other.light;
        self.code += other.code;
        self.weights += other.weights;
        self.pairs += other.pairs;
    }
}

impl Grid {
    fn variances(&self) -> Option<Variances> {
        let shorter = self.across.min(self.down);
        if shorter < LEAST_CELLS {
            return None;
        }
        let mut sums = self.ring(0);
        let own = sums;
        for reach in 1..=(shorter / 4).max(1) {
            let ring = self.ring(reach);
            let correlation = (ring.light / ring.weights) / (own.light / own.weights);
            sums.add(&ring);
            // Each pair is counted from both of its ends.
            if correlation.is_nan() || correlation < (2.0 / math::sqrt(ring.pairs / 2.0)).max(LOST) {
                break;
            }
        }
        let count: f64 = self.counts.iter().sum();
        let all = count * count;
        let seen = sums.weights / all;
        let left = 1.0 - seen;
        // No less than half of what independent cells would give: a sum of products may come out below zero by chance.
        let variance = |sum: f64, own: f64| sum.max(0.5 * own) / (all * left);
        let freedom = (FREEDOM * left * left / seen).max(1.0);
        Some(Variances {
            light: variance(sums.light, own.light),
            code: variance(sums.code, own.code),
            freedom,
        })
    }

    /// All pairs whose larger distance along an axis is `reach` cells.
    fn ring(&self, reach: usize) -> Sums {
        let far = reach as isize;
        let mut sums = Sums { light: 0.0, code: 0.0, weights: 0.0, pairs: 0.0 };
        for dy in -far..=far {
            for dx in -far..=far {
                if dx.abs().max(dy.abs()) == far {
                    self.pairs(dx, dy, &mut sums);
                }
            }
        }
        sums
    }

    fn pairs(&self, dx: isize, dy: isize, sums: &mut Sums) {
        let range = |length: usize, d: isize| {
            let from = (-d).max(0) as usize;
            from..(length as isize - d.max(0)).max(from as isize) as usize
        };
        for y in range(self.down, dy) {
            for x in range(self.across, dx) {
                let here = y * self.across + x;
                let there = (here as isize + dy * self.across as isize + dx) as usize;
                let weight = self.counts[here] * self.counts[there];
                if weight > 0.0 {
                    sums.light += self.light[here] * self.light[there];
                    sums.code += self.code[here] * self.code[there];
                    sums.weights += weight;
                    sums.pairs += 1.0;
                }
            }
        }
    }
}
