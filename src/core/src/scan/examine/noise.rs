//! Noise that must be there and is not.

use super::spectrum::{Block, Spectrum};
use super::{Fault, Known, Test};
use crate::numeric::{math, robust};
use crate::scan::NoiseSource;
use crate::words;

/// Noise at the finest detail below this share of the scanner's variance, where that was taken from two scans; and from one,
/// in which the grain of the tablet may have raised it.
const SHARE: f64 = 0.5;
const SHARE_OF_ONE: f64 = 0.25;
/// How uneven noise is from where on a filter that keeps edges took it, if its tails are heavy, too, against normal ones. Of
/// 1,300 simulated scans left alone none comes near both: the most uneven has 1.54 with tails of 1.09, that of the heaviest tails
/// 1.42 with 1.15. Medians and bilateral filters of moderate strength make it 1.7 to 2.9 and 1.2 to 2, non-local ones 1.45 and
/// 1.1 at the least.
const UNEVEN: f64 = 1.5;
const TAILS: f64 = 1.1;
/// Where codes are coarse for the noise: share of the variance beyond rounding that quiet places have of lively ones. Of 500
/// scans left alone the least had 0.46; filters of moderate strength make it 0.1 to 0.5.
const COARSE_SHARE: f64 = 0.42;
/// Least noise in lively places for that, in steps of the codes: with less, quiet places are of one code throughout.
const LEAST_COARSE: f64 = 0.45;
/// Noise from which codes are fine enough for its distribution to be seen, in their steps.
const FINE: f64 = 2.5;
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
        return Test::not_testable(Fault::Denoised, SHARE, words::Examined::NoPlainPlaces.into());
    };
    if explained {
        let why = words::Examined::Explained.into();
        return Test::not_testable(Fault::Denoised, SHARE, why);
    }
    if let Some((share, u)) = against_model(&spectrum.blocks, known, unit) {
        let one = known.noise.is_some_and(|(model, _)| model.source == NoiseSource::OneScan);
        let limit = if one { SHARE_OF_ONE } else { SHARE };
        let recognised = share + 2.0 * u < limit;
        let sentence =
            words::Examined::ShareOfModel { percent: words::Percent(share), u: words::Percent(1.96 * u) }
                .into();
        if recognised {
            return Test::new(Fault::Denoised, true, share, limit, sentence);
        }
        if let Some(test) = by_itself(spectrum, unit, sixteen_bits) {
            return test;
        }
        return Test::new(Fault::Denoised, false, share, limit, sentence);
    }
    by_itself(spectrum, unit, sixteen_bits).unwrap_or_else(|| {
        let evenly = words::Examined::TakenEvenly.into();
        match judged(spectrum, unit) {
            Some(Judged::Fine(uneven, _)) => {
                let sentence = words::Examined::EvenNoise { uneven: words::Number(uneven, 2), evenly }.into();
                Test::new(Fault::Denoised, false, uneven, UNEVEN, sentence)
            }
            Some(Judged::Coarse(share)) => {
                let sentence = words::Examined::CoarseNoise { percent: words::Percent(share), evenly }.into();
                Test::new(Fault::Denoised, false, share, COARSE_SHARE, sentence)
            }
            None => Test::not_testable(Fault::Denoised, SHARE, words::Examined::TooCoarse.into()),
        }
    })
}

/// What the scan alone tells; `None` where it tells nothing against it.
fn by_itself(spectrum: &Spectrum, unit: f64, sixteen_bits: bool) -> Option<Test> {
    match judged(spectrum, unit) {
        Some(Judged::Fine(uneven, tails)) if uneven > UNEVEN && tails > TAILS => {
            let sentence = words::Examined::UnevenNoise { times: words::Number(uneven, 2) }.into();
            return Some(Test::new(Fault::Denoised, true, uneven, UNEVEN, sentence));
        }
        Some(Judged::Coarse(share)) if share < COARSE_SHARE => {
            let sentence = words::Examined::LessWhereEven { percent: words::Percent(share) }.into();
            return Some(Test::new(Fault::Denoised, true, share, COARSE_SHARE, sentence));
        }
        _ => {}
    }
    let spread = math::sqrt(spectrum.variance());
    let excess = most_reach(&spectrum.blocks, |block| block.equal.0 / block.equal.1.max(1e-6));
    let equal = most_reach(&spectrum.blocks, |block| block.equal.0);
    if spread > 4.0 * unit && unit < 1.5 && excess > EQUAL && equal > 0.04 {
        let sentence = words::Examined::EqualNeighbours {
            percent: words::Percent(equal),
            times: words::Number(excess, 0),
        }
        .into();
        return Some(Test::new(Fault::Denoised, true, excess, EQUAL, sentence));
    }
    if spread > 6.0 * unit && spectrum.fall < FALL && spectrum.corner > 4.0 * ROUNDING * unit * unit {
        let sentence = words::Examined::NoiseFalls { percent: words::Percent(spectrum.fall) }.into();
        return Some(Test::new(Fault::Denoised, true, spectrum.fall, FALL, sentence));
    }
    let floor = spectrum.corner / (unit * unit);
    if sixteen_bits && unit < 1.5 && spread > 6.0 && floor < ROUNDING {
        let sentence = words::Examined::NoNoise { square: words::Number(floor, 2) }.into();
        return Some(Test::new(Fault::Denoised, true, floor, ROUNDING, sentence));
    }
    None
}

/// What the dependence of noise on its surroundings comes to.
enum Judged {
    /// Codes are fine: how uneven it is, and how heavy its tails are.
    Fine(f64, f64),
    /// They are coarse: the share of noise that quiet places have.
    Coarse(f64),
}

/// `None` where codes are too coarse to tell.
fn judged(spectrum: &Spectrum, unit: f64) -> Option<Judged> {
    let quiet = spectrum.quiet.as_ref()?;
    if spectrum.noise() > FINE * unit {
        return Some(Judged::Fine(quiet.unevenness(), quiet.tails));
    }
    (quiet.lively > LEAST_COARSE * unit).then_some(Judged::Coarse(quiet.beyond_rounding))
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
