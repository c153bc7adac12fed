//! What a filter that keeps edges leaves behind: noise that depends on what lies around it.
//!
//! In squares of 2 x 2 pixels the difference of both diagonals, `(a - b - c + d) / 2`, is orthogonal to the means of the
//! square and of its neighbours: where noise is noise, and grain the sum of many grains, the one says nothing of the other. A
//! bilateral, a median or a non-local filter averages most where the neighbours are alike, so that little is left there,
//! and leaves the rest where tones change; and the differences of all places together have heavier tails than normal ones.

use super::spectrum::{Candidate, SIDE, at};
use crate::numeric::{math, robust};

/// Share of the squares of a block that count as quiet: those that differ least from their neighbours; and from where on they
/// count as lively.
const QUIET: f64 = 0.2;
const LIVELY: f64 = 0.5;
/// Ratio of the 95 % and 40 % quantiles of sizes of normal differences: 1.9600 / 0.5244.
const NORMAL_TAILS: f64 = 3.7376;
/// Variance of a difference that rounding to whole codes leaves.
const ROUNDING: f64 = 1.0 / 12.0;

/// What differs from pixel to pixel in quiet squares and in lively ones, over all plain blocks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Quiet {
    /// Standard deviation in the quiet squares, in codes; the median over blocks.
    pub(super) quiet: f64,
    /// The same in the lively ones.
    pub(super) lively: f64,
    /// Variance in the quiet over that in the lively ones, rounding of `unit` taken off both; the median over blocks.
    pub(super) beyond_rounding: f64,
    /// Ratio of the 95 % and 40 % quantiles of the sizes of all, each block's brought to one spread, over that of normal
    /// differences.
    pub(super) tails: f64,
}

impl Quiet {
    /// Over blocks of a scan whose codes lie `unit` apart.
    pub(super) fn of(blocks: &[Candidate<'_>], unit: f64) -> Option<Self> {
        let all: Vec<Squares> = blocks.iter().filter_map(Squares::of).collect();
        let rounding = ROUNDING * unit * unit;
        let share = |squares: &Squares| {
            let [quiet, lively] =
                [squares.quiet, squares.lively].map(|variance| (variance - rounding).max(0.0));
            quiet / lively.max(0.01 * rounding)
        };
        let middle = |of: &dyn Fn(&Squares) -> f64| robust::median(&all.iter().map(of).collect::<Vec<f64>>());
        let sizes: Vec<f64> = all.iter().flat_map(|squares| squares.sizes.iter().copied()).collect();
        let sizes = robust::sorted(&sizes);
        let quantile = |p| robust::quantile_of_sorted(&sizes, p);
        Some(Self {
            quiet: math::sqrt(middle(&|squares| squares.quiet)?),
            lively: math::sqrt(middle(&|squares| squares.lively)?),
            beyond_rounding: middle(&share)?,
            tails: quantile(0.95)? / quantile(0.4)?.max(1e-6) / NORMAL_TAILS,
        })
    }

    /// How uneven noise is: one where it is as it comes, more where it was taken from quiet places.
    pub(super) fn unevenness(&self) -> f64 {
        (self.tails * self.lively / self.quiet.max(1e-6)).min(99.0)
    }
}

/// The squares of one block.
struct Squares {
    /// Variances of the differences.
    quiet: f64,
    lively: f64,
    /// Sizes of all of them, in units of their own spread.
    sizes: Vec<f64>,
}

impl Squares {
    /// `None` for a block without any differences.
    fn of(block: &Candidate<'_>) -> Option<Self> {
        // Once beginning at the block's corner, once a pixel further down and across: two samples of the same.
        let mut found: Vec<(f64, f64)> =
            [0, 1].into_iter().flat_map(|phase| differences(block, phase)).collect();
        found.sort_by(|one, other| one.0.total_cmp(&other.0));
        let sizes = robust::sorted(&found.iter().map(|(_, size)| *size).collect::<Vec<f64>>());
        let quantile = |p| robust::quantile_of_sorted(&sizes, p).unwrap_or(0.0);
        // Dust is no noise.
        let limit = 5.0 * (quantile(0.5) * robust::MAD_TO_SIGMA).max(quantile(0.9) / 1.645);
        let variance = |of: &[(f64, f64)]| {
            let within = of.iter().filter(|(_, size)| *size <= limit);
            let (sum, count) =
                within.fold((0.0, 0.0), |(sum, count), (_, size)| (sum + size * size, count + 1.0));
            sum / f64::max(count, 1.0)
        };
        let place = |share: f64| (share * found.len() as f64) as usize;
        let spread = math::sqrt(variance(&found));
        (spread > 0.0).then(|| Self {
            quiet: variance(&found[..place(QUIET)]),
            lively: variance(&found[place(LIVELY)..]),
            sizes: sizes.iter().filter(|size| **size <= limit).map(|size| size / spread).collect(),
        })
    }
}

/// For each square but those at the rim: how far its mean lies from those of its eight neighbours (sum of squares), and the
/// size of the difference of its diagonals.
fn differences(block: &Candidate<'_>, phase: usize) -> Vec<(f64, f64)> {
    const ALONG: usize = SIDE / 2 - 1;
    let (mut means, mut sizes) = ([0.0; ALONG * ALONG], [0.0; ALONG * ALONG]);
    for (place, (mean, size)) in means.iter_mut().zip(&mut sizes).enumerate() {
        let (x, y) = (block.x + phase + place % ALONG * 2, block.y + phase + place / ALONG * 2);
        let code = |dx, dy| at(block.tile, x + dx, y + dy);
        let (a, b, c, d) = (code(0, 0), code(1, 0), code(0, 1), code(1, 1));
        *mean = (a + b + c + d) / 4.0;
        *size = ((a - b - c + d) / 2.0).abs();
    }
    let mut found = Vec::with_capacity(ALONG * ALONG);
    for y in 1..ALONG - 1 {
        for x in 1..ALONG - 1 {
            let own = means[y * ALONG + x];
            let rows = (y - 1..=y + 1).flat_map(|j| &means[j * ALONG + x - 1..=j * ALONG + x + 1]);
            found.push((rows.map(|mean| (mean - own) * (mean - own)).sum(), sizes[y * ALONG + x]));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::super::tiles::Tile;
    use super::*;
    use crate::numeric::random::Stream;

    /// A plain tile of waves, and on it noise that goes with what lies around it, or does not.
    fn tile(with_slope: bool) -> Tile {
        let mut chance = Stream::new(7, 1);
        let wave = |x: usize| math::sincos(x as f64 / 9.0).0;
        let code = |k: usize| {
            let x = k % 128;
            let slope = (wave(x + 1) - wave(x)).abs() * 9.0;
            let spread = if with_slope { 40.0 * slope } else { 40.0 };
            (20_000.0 + 800.0 * wave(x) + spread * chance.normal()) as f32
        };
        Tile { width: 128, height: 128, codes: (0..128 * 128).map(code).collect() }
    }

    fn quiet(tile: &Tile) -> Quiet {
        let starts = (0..16).map(|k| (k % 4 * 32, k / 4 * 32));
        let blocks: Vec<Candidate<'_>> = starts.map(|(x, y)| Candidate { tile, x, y, coarse: 0.0 }).collect();
        Quiet::of(&blocks, 1.0).unwrap()
    }

    /// Analytic: normal noise of standard deviation 40 everywhere; and noise in proportion to the slope of a wave, whose flat
    /// fifth lies within 0.31 of its crests: there the slope is less than a third of the mean.
    #[test]
    fn noise_that_shuns_quiet_places_is_uneven() {
        let even = quiet(&tile(false));
        assert!((even.quiet / 40.0 - 1.0).abs() < 0.1 && (even.lively / 40.0 - 1.0).abs() < 0.05, "{even:?}");
        assert!((even.tails - 1.0).abs() < 0.05 && even.unevenness() < 1.2, "{even:?}");
        let uneven = quiet(&tile(true));
        assert!(uneven.quiet < 0.5 * uneven.lively && uneven.unevenness() > 2.0, "{uneven:?}");
    }
}
