//! Magnitude-squared coherence of two records and how sure it is.
//!
//! Its distribution over K independent segments is that of G. C. Carter, C. H. Knapp & A. H. Nuttall (IEEE Trans. Audio
//! Electroacoust. 21, 1973). Given the true coherence C it is a mixture: Beta(1 + j, K - 1) with j negative binomial of
//! order K and chance C, which holds for a K between whole numbers too.

use statrs::distribution::{ContinuousCDF, Normal};
use statrs::function::beta::{beta_reg, ln_beta};

use super::blocks::{Grid, Plan};
use crate::measured::{Measured, Z95};
use crate::numeric::math;

/// Bias of an estimate from `segments` independent segments where the truth is `coherence`: to first order.
///
/// ```
/// # use twinwedge_core::detail::bias;
/// assert!((0.25 + bias(0.25, 32.0) - 0.267578).abs() < 1e-6);
/// ```
#[must_use]
pub fn bias(coherence: f64, segments: f64) -> f64 {
    (1.0 - coherence) * (1.0 - coherence) / segments
}

/// What an estimate from `segments` independent segments exceeds in one case of twenty where there is no coherence.
///
/// ```
/// # use twinwedge_core::detail::zero_level;
/// assert!((zero_level(32.0) - 0.092114).abs() < 1e-6);
/// ```
#[must_use]
pub fn zero_level(segments: f64) -> f64 {
    1.0 - math::pow(0.05, 1.0 / (segments - 1.0))
}

/// Coherence of two records with signal-to-noise power ratios `first` and `second`.
///
/// ```
/// # use twinwedge_core::detail::of_ratios;
/// assert!((of_ratios(0.5, 0.5) - 0.111111).abs() < 1e-6);
/// ```
#[must_use]
pub fn of_ratios(first: f64, second: f64) -> f64 {
    first * second / ((1.0 + first) * (1.0 + second))
}

/// Fewest segments that say anything.
pub(super) const FEWEST: f64 = 3.0;

/// The coherence behind an estimate from `segments` independent segments: bias taken off, 95 % interval from the
/// distribution's tails.
#[must_use]
pub fn estimate(raw: f64, segments: f64) -> Measured {
    let raw = raw.clamp(0.0, 1.0);
    let segments = segments.max(FEWEST);
    let value = (raw - bias(raw, segments)).max(0.0);
    let low = solved(raw, segments, 0.975);
    let high = solved(raw, segments, 0.025);
    Measured::with_interval(value, (high - low) / (2.0 * Z95), low.min(value), high.max(value))
}

/// The coherence at which an estimate below `raw` has the chance `p`: the distribution falls as the coherence rises.
fn solved(raw: f64, segments: f64, p: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0 - 1e-9);
    if below(raw, low, segments) < p {
        return 0.0;
    }
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if below(raw, middle, segments) > p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Chance that an estimate from `k` segments lies below `x` where the truth is `c`.
#[must_use]
pub fn below(x: f64, c: f64, k: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    let expected = k * c / (1.0 - c);
    // Many terms: the arc tangent of the root is nearly normal (H. Hotelling, J. R. Stat. Soc. B 15, 1953).
    if expected > 400.0 {
        let z = |square: f64| {
            let root = math::sqrt(square);
            0.5 * (math::log1p(root) - math::log1p(-root))
        };
        let mean = z(c) + math::sqrt(c) / (2.0 * k);
        let deviation = math::sqrt(1.0 / (2.0 * k - 2.0));
        return Normal::standard().cdf((z(x) - mean) / deviation);
    }
    let b = k - 1.0;
    let (mut weight, ratio) = (math::exp(k * math::log1p(-c)), c);
    let mut inner = beta_reg(1.0, b, x);
    // I_x(a + 1, b) = I_x(a, b) - x^a (1 - x)^b / (a B(a, b)).
    let mut step = math::exp(math::ln(x) + b * math::log1p(-x) - ln_beta(1.0, b));
    let (mut sum, mut left) = (0.0, 1.0);
    for j in 0..6000_u32 {
        sum += weight * inner;
        left -= weight;
        if left < 1e-10 || (inner < 1e-12 && f64::from(j) > expected) {
            break;
        }
        let a = f64::from(j) + 1.0;
        inner = (inner - step).max(0.0);
        step *= x * (a + b) / (a + 1.0);
        weight *= ratio * (k + f64::from(j)) / a;
    }
    sum.clamp(0.0, 1.0)
}

/// How many independent segments an annulus of one block is worth, and how much blocks that overlap have in common, for
/// records whose spectrum is even within a few coefficients.
pub(super) struct SegmentCounts {
    annuli: Vec<Annulus>,
}

/// Half of an annulus' coefficients, and what two of them have in common, summed: in one block, in blocks half a block apart
/// along one axis, and along both.
struct Annulus {
    half: f64,
    /// Coefficients of the annulus alone.
    own: [f64; 3],
    /// Coefficients of its neighbours too: what counts where annuli are joined.
    all: [f64; 3],
}

impl SegmentCounts {
    pub(super) fn of(plan: &Plan) -> Self {
        const REACH: i32 = 3;
        let overlaps = [false, true]
            .map(|half| core::array::from_fn::<f64, 7, _>(|n| plan.window_overlap(half, n as i32 - REACH)));
        let common = |dx: i32, dy: i32| {
            let at = |half: bool, d: i32| overlaps[usize::from(half)][(d + REACH) as usize];
            let one = 0.5 * (at(true, dx) * at(false, dy) + at(false, dx) * at(true, dy));
            [at(false, dx) * at(false, dy), one, at(true, dx) * at(true, dy)]
        };
        let around = || (-REACH..=REACH).flat_map(|dx| (-REACH..=REACH).map(move |dy| (dx, dy)));
        let add = |sum: [f64; 3], part: [f64; 3]| core::array::from_fn(|n| sum[n] + part[n]);
        let all = around().map(|(dx, dy)| common(dx, dy)).fold([0.0; 3], add);
        let of_annulus = |annulus: usize| {
            let members = plan.members(annulus);
            let holds = |x: i32, y: i32| math::hypot(f64::from(x), f64::from(y)).round() as usize == annulus;
            let pairs = members.iter().flat_map(|(x, y)| {
                around().filter(move |(dx, dy)| holds(x + dx, y + dy)).map(|(dx, dy)| common(dx, dy))
            });
            let count = members.len().max(1) as f64;
            let own = pairs.fold([0.0; 3], add).map(|sum| sum / count);
            Annulus { half: 0.5 * count, own, all }
        };
        Self { annuli: (0..plan.annuli).map(of_annulus).collect() }
    }

    /// Of one block.
    pub(super) fn alone(&self, annulus: usize) -> f64 {
        let annulus = &self.annuli[annulus];
        annulus.half / annulus.own[0]
    }

    /// Of several blocks.
    pub(super) fn together(&self, annulus: usize, blocks: usize, neighbours: Neighbours) -> f64 {
        let annulus = &self.annuli[annulus];
        annulus.half * neighbours.worth(blocks, annulus.own)
    }

    /// Part of that which is left where neighbouring annuli are joined.
    pub(super) fn joined(&self, annulus: usize, blocks: usize, neighbours: Neighbours) -> f64 {
        let annulus = &self.annuli[annulus];
        (neighbours.worth(blocks, annulus.all) / neighbours.worth(blocks, annulus.own)).min(1.0)
    }
}

/// Pairs of blocks that overlap.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Neighbours {
    along: usize,
    aslant: usize,
}

impl Neighbours {
    /// Independent blocks that so many are worth.
    fn worth(self, blocks: usize, common: [f64; 3]) -> f64 {
        let count = blocks.max(1) as f64;
        count / (common[0] + 2.0 * (self.along as f64 * common[1] + self.aslant as f64 * common[2]) / count)
    }

    /// Among the blocks of a grid for which `used` holds.
    pub(super) fn of(grid: &Grid, used: &[bool]) -> Self {
        let at = |x: usize, y: usize| x < grid.columns && y < grid.rows && used[y * grid.columns + x];
        let mut found = Self::default();
        for y in 0..grid.rows {
            for x in 0..grid.columns {
                if !at(x, y) {
                    continue;
                }
                found.along += usize::from(at(x + 1, y)) + usize::from(at(x, y + 1));
                found.aslant += usize::from(at(x + 1, y + 1)) + usize::from(x > 0 && at(x - 1, y + 1));
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the closed form without coherence, `1 - (1 - x)^(K - 1)` (Carter, Knapp & Nuttall 1973), and that both ways
    /// of summing meet.
    #[test]
    fn the_distribution_has_its_closed_form_at_zero_and_no_step() {
        for (x, k) in [(0.05, 12.0), (0.2, 7.5), (0.01, 150.0)] {
            assert!((below(x, 0.0, k) - (1.0 - math::pow(1.0 - x, k - 1.0))).abs() < 1e-9);
        }
        // On both sides of 400 expected terms.
        let (under, over) = (below(0.8, 0.79, 106.0), below(0.8, 0.79, 106.7));
        assert!((under - over).abs() < 0.01, "{under} {over}");
    }
}
