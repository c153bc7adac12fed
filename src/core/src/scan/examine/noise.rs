//! Noise that must be there and is not.

use super::spectrum::{Block, Spectrum};
use super::{Fault, Known, Test, percent};
use crate::compare::format;
use crate::numeric::{math, robust};
use crate::scan::NoiseSource;

/// Noise at the finest detail below this share of the scanner's variance, where that was taken from two scans; and from one,
/// in which the grain of the tablet may have raised it.
const SHARE: f64 = 0.5;
const SHARE_OF_ONE: f64 = 0.25;
/// Ratio of the 90 % and 50 % quantiles of differences between pixels: 2.44 for normal ones, more where small ones were
/// shrunk and large ones kept.
const TAILS: f64 = 3.1;
/// Equal neighbours are so many times as frequent as their spread lets expect.
const EQUAL: f64 = 6.0;
/// Power at the end of the spectrum over that before it.
const FALL: f64 = 0.03;
/// Variance at the finest detail, in squared steps of the codes, that rounding alone leaves (1/12), twice.
const ROUNDING: f64 = 2.0 / 12.0;

/// The test. `explained` says that missing noise is already explained by another fault.
pub(super) fn denoised(
    spectrum: Option<&Spectrum>,
    known: Known<'_>,
    unit: f64,
    top: f64,
    explained: bool,
) -> Test {
    let sixteen_bits = top > 255.0;
    let Some(spectrum) = spectrum else {
        return Test::not_testable(Fault::Denoised, SHARE, "it shows no plain places with noise in them");
    };
    if explained {
        let why = "noise at the finest detail went with another fault";
        return Test::not_testable(Fault::Denoised, SHARE, why);
    }
    if let Some((share, u)) = against_model(&spectrum.blocks, known, unit) {
        let one = known.noise.is_some_and(|(model, _)| model.source == NoiseSource::OneScan);
        let limit = if one { SHARE_OF_ONE } else { SHARE };
        let recognised = share + 2.0 * u < limit;
        let sentence = format!(
            "Its noise at the finest detail has {} ± {} % of the power that the calibration tells of this scanner.",
            percent(share),
            percent(1.96 * u)
        );
        if recognised {
            return Test::new(Fault::Denoised, true, share, limit, sentence);
        }
        if let Some(test) = by_itself(spectrum, unit, sixteen_bits) {
            return test;
        }
        return Test::new(Fault::Denoised, false, share, limit, sentence);
    }
    by_itself(spectrum, unit, sixteen_bits).unwrap_or_else(|| {
        if spectrum.noise() < 2.5 * unit {
            return Test::not_testable(Fault::Denoised, SHARE, "its codes are too coarse for its noise");
        }
        let tails = most_reach(&spectrum.blocks, |block| block.tails);
        let sentence = format!(
            "Its noise is as a scanner's: quantiles of 90 and 50 % of differences between pixels are {} to 1 (2.44 for \
             normal noise); whether some was taken away evenly only a calibration with a noise model can tell.",
            format::number(tails, 2)
        );
        Test::new(Fault::Denoised, false, tails, TAILS, sentence)
    })
}

/// What the scan alone tells; `None` where it tells nothing against it.
fn by_itself(spectrum: &Spectrum, unit: f64, sixteen_bits: bool) -> Option<Test> {
    let noise = spectrum.noise();
    // Where rounding is as large as the noise, neither equal neighbours nor tails say anything.
    let resolved = noise > 2.5 * unit;
    let tails = most_reach(&spectrum.blocks, |block| block.tails);
    if resolved && tails > TAILS {
        let sentence = format!(
            "Small differences between pixels are too rare against large ones: quantiles of 90 and 50 % are {} to 1 (2.44 \
             for normal noise), as where a filter keeps edges and takes noise.",
            format::number(tails.min(99.0), 2)
        );
        return Some(Test::new(Fault::Denoised, true, tails.min(99.0), TAILS, sentence));
    }
    let spread = math::sqrt(spectrum.variance());
    let excess = most_reach(&spectrum.blocks, |block| block.equal.0 / block.equal.1.max(1e-6));
    let equal = most_reach(&spectrum.blocks, |block| block.equal.0);
    if spread > 4.0 * unit && unit < 1.5 && excess > EQUAL && equal > 0.04 {
        let sentence = format!(
            "{} % of its neighbouring pixels are equal, {} times as many as their spread lets expect, as after a filter \
             that takes middle values.",
            percent(equal),
            format::number(excess, 0)
        );
        return Some(Test::new(Fault::Denoised, true, excess, EQUAL, sentence));
    }
    if spread > 6.0 * unit && spectrum.fall < FALL && spectrum.corner > 4.0 * ROUNDING * unit * unit {
        let sentence = format!(
            "Its noise falls to {} % within the last tenth of a cycle per pixel, where a scanner's own noise is level: \
             smoothed.",
            percent(spectrum.fall)
        );
        return Some(Test::new(Fault::Denoised, true, spectrum.fall, FALL, sentence));
    }
    let floor = spectrum.corner / (unit * unit);
    if sixteen_bits && unit < 1.5 && spread > 6.0 && floor < ROUNDING {
        let sentence = format!(
            "At the finest detail it has no more noise than rounding leaves ({} of a squared code), which no scanner does: \
             smoothed.",
            format::number(floor, 2)
        );
        return Some(Test::new(Fault::Denoised, true, floor, ROUNDING, sentence));
    }
    None
}

/// What three of four blocks reach: a filter leaves its mark in all of them, an edge in a few.
fn most_reach(blocks: &[Block], of: impl Fn(&Block) -> f64) -> f64 {
    let sorted = robust::sorted(&blocks.iter().map(of).collect::<Vec<f64>>());
    robust::quantile_of_sorted(&sorted, 0.25).unwrap_or(0.0)
}

/// Median share of the noise that the model tells, over blocks within its range, and its standard error.
fn against_model(blocks: &[Block], known: Known<'_>, unit: f64) -> Option<(f64, f64)> {
    let (model, table) = known.noise?;
    let share = |block: &Block| {
        let expected = model.code_variance(table, block.mean)?;
        // Rounding is noise too, and stays when the rest is taken away.
        let rounding = unit * unit / 12.0;
        (expected > 2.0 * rounding).then(|| (block.corner - rounding).max(0.0) / expected)
    };
    let shares: Vec<f64> = blocks.iter().filter_map(share).collect();
    if shares.len() < 4 {
        return None;
    }
    let middle = robust::median(&shares)?;
    let spread = robust::median_absolute_deviation(&shares)? * robust::MAD_TO_SIGMA;
    // Blocks overlap by half along both sides: about a third of them are independent.
    let error = 1.25 * spread / math::sqrt((shares.len() as f64 / 3.0).max(1.0));
    Some((middle, math::hypot(error, middle * model.relative_u)))
}
