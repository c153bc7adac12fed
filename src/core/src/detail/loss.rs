//! What detail was lost to: grain or blur, only where the data separate them.
//!
//! Modulation falling with frequency faster than the reference's is blur; power of grain, brought to the reference's
//! contrast, above the reference's is grain. Contrast is what the modulation is at the lowest frequencies.
//!
//! Pixels fold detail from beyond half a cycle per pixel back into lower frequencies. What they fold from the scene is not
//! alike in two prints and so counts as grain in both, which draws the ratio of grain towards 1: it is a bound, the truth being
//! no nearer to 1.

use serde::Serialize;

use super::Blocks;
use super::blocks::{FIRST, Grid, Parts};
use super::draws::Spectra;
use super::films::{Films, FilmsApart, Separation, Totals, deviation};
use crate::measured::{Flags, Measured, Value, Z95};
use crate::numeric::math;
use crate::words::{self, Sentence};

/// What became of the scene's detail in the candidate, against the reference.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Loss {
    /// Less signal-to-grain: more grain.
    Grain,
    /// Less signal-to-grain: less modulation.
    Blur,
    /// Less signal-to-grain: both.
    GrainAndBlur,
    /// Less signal-to-grain, and neither alone is beyond its uncertainty.
    NotSeparated,
    /// More signal-to-grain than the reference.
    Kept,
    /// No difference beyond its uncertainty.
    NotDistinguishable,
    /// The data hold nothing that tells.
    NotMeasured,
}

/// A statement about the candidate, with what it rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Statement {
    /// What it says.
    pub loss: Loss,
    /// Lowest and highest frequency that it rests on, cycles per millimetre.
    pub band: (f64, f64),
    /// Candidate's signal-to-grain over the reference's, as a power ratio.
    pub signal_to_grain: Value,
    /// Candidate's modulation over the reference's, against that at low frequencies.
    pub modulation: Value,
    /// Candidate's power of grain over the reference's, at equal contrast of the scene.
    pub grain: Value,
    /// Chance that a statement called so is wrong, at most.
    pub error_rate: f64,
}

/// Standard deviations that a statement asks for: one side of 1 %, for each of the ratios that it may rest on.
const SURE: f64 = 2.326;
/// What is stated of it.
const ERROR_RATE: f64 = 0.05;
/// Part of the spread of contrast between blocks that is taken to be left within them (an allowance, no source).
const WITHIN: f64 = 0.2;
/// Regions along each side that are left out in turn.
const REGIONS: usize = 4;

impl Loss {
    /// What three ratios of the candidate over the reference say, each as its logarithm with its standard uncertainty:
    /// signal-to-grain, modulation, and grain at equal contrast.
    #[must_use]
    pub fn of(ratio: (f64, f64), modulation: (f64, f64), grain: (f64, f64)) -> Self {
        let under = |(value, u): (f64, f64)| value < -SURE * u;
        let over = |(value, u): (f64, f64)| value > SURE * u;
        // Less modulation at no less grain, or more grain at no more modulation, leaves less: that says as much as the ratio.
        let less = under(ratio)
            || (ratio.0 < 0.0
                && ((under(modulation) && !under(grain)) || (over(grain) && !over(modulation))));
        match (less, over(grain), under(modulation)) {
            (true, true, true) => Self::GrainAndBlur,
            (true, true, false) => Self::Grain,
            (true, false, true) => Self::Blur,
            (true, false, false) => Self::NotSeparated,
            (false, ..) if over(ratio) => Self::Kept,
            (false, ..) => Self::NotDistinguishable,
        }
    }
}

impl Statement {
    fn none(reason: words::Detail) -> Self {
        let reason = Sentence::from(reason);
        let value = || Value::Undefined(reason.clone());
        Self {
            loss: Loss::NotMeasured,
            band: (0.0, 0.0),
            signal_to_grain: value(),
            modulation: value(),
            grain: value(),
            error_rate: ERROR_RATE,
        }
    }
}

/// Logarithms of the three ratios, and half of what another way to contrast would change in the last two.
type Ratios = [f64; 4];

/// The annuli that a statement rests on.
struct Bands {
    low: core::ops::Range<usize>,
    upper: core::ops::Range<usize>,
}

pub(super) fn statement(
    films: &Films,
    blocks: &Blocks,
    used: &[bool],
    grid: &Grid,
    totals: &Totals,
    spread: f64,
) -> Statement {
    if films.separation == Separation::Bounds {
        return Statement::none(words::Detail::NoThird);
    }
    let Some(bands) = bands(films) else {
        return Statement::none(words::Detail::FewFrequencies);
    };
    let best = |annulus: usize| films.apart[annulus].as_ref().map(|(best, _)| *best);
    let Some(ratios) = ratios(&bands, &best, totals) else {
        return Statement::none(words::Detail::LittleAgreement);
    };
    let count = (bands.low.start..bands.upper.end)
        .filter_map(|annulus| films.apart[annulus].as_ref().map(|(_, draws)| draws.len()))
        .min()
        .unwrap_or(0);
    let draws: Vec<Ratios> = (0..count)
        .filter_map(|k| {
            let drawn = |annulus: usize| films.apart[annulus].as_ref().map(|(_, draws)| draws[k]);
            self::ratios(&bands, &drawn, totals)
        })
        .collect();
    let parts = left_out(films, blocks, used, grid, totals, &bands);
    let value = |n: usize| {
        let by_draws = deviation(draws.iter().map(|draw| draw[n]));
        let by_parts = if parts.len() > 3 {
            let count = parts.len() as f64;
            deviation(parts.iter().map(|part| part[n])) * (count - 1.0) / math::sqrt(count)
        } else {
            0.0
        };
        let times = [0.0, 1.0, 2.0][n];
        let u = math::hypot(by_draws.max(by_parts), times * math::hypot(ratios[3], WITHIN * spread));
        (ratios[n], if u.is_finite() { u } else { 1e3 })
    };
    let [ratio, modulation, grain] = [value(0), value(1), value(2)];
    let loss = Loss::of(ratio, modulation, grain);
    let told = |(value, u): (f64, f64)| {
        let (value, side) = (math::exp(value), math::exp((Z95 * u).min(50.0)));
        Value::Known(Measured::with_interval(value, value * u, value / side, value * side))
    };
    let frequency = |annulus: usize| films.rows[annulus - FIRST].frequency;
    Statement {
        loss,
        band: (frequency(bands.upper.start), frequency(bands.upper.end - 1)),
        signal_to_grain: told(ratio),
        modulation: told(modulation),
        grain: folded(told(grain)),
        error_rate: ERROR_RATE,
    }
}

/// A ratio that folding draws towards 1, as the bound that it is.
fn folded(ratio: Value) -> Value {
    match ratio {
        Value::Known(known) if known.value > 1.0 => Value::Known(known.flagged(Flags::LOWER_BOUND)),
        Value::Known(known) => Value::Known(known.flagged(Flags::UPPER_BOUND)),
        Value::Undefined(_) => ratio,
    }
}

/// The upper half of the frequencies at which the reference carries the scene and both films can be told apart, and the
/// lowest of them.
fn bands(films: &Films) -> Option<Bands> {
    let end = (FIRST..films.apart.len()).take_while(|annulus| films.apart[*annulus].is_some()).last()? + 1;
    let carried = |annulus: &usize| {
        films.apart[*annulus].as_ref().is_some_and(|(best, _)| best.share[0] >= 0.5 || best.share[1] >= 0.5)
    };
    let end = (FIRST..end).take_while(carried).last()? + 1;
    let low = FIRST..FIRST + ((end - FIRST) / 5).max(2);
    let upper = (FIRST + (end - FIRST) / 2).max(low.end)..end;
    (upper.len() >= 2).then_some(Bands { low, upper })
}

fn ratios(bands: &Bands, apart: &dyn Fn(usize) -> Option<FilmsApart>, totals: &Totals) -> Option<Ratios> {
    let mean_ln = |range: &core::ops::Range<usize>| {
        let mut sum = 0.0;
        for annulus in range.clone() {
            sum += math::ln(apart(annulus)?.transfer.max(1e-6));
        }
        Some(sum / range.len() as f64)
    };
    let (low, upper) = (mean_ln(&bands.low)?, mean_ln(&bands.upper)?);
    let mean_power = |range: &core::ops::Range<usize>, power: i32| {
        range.clone().map(|annulus| totals.frequency[annulus].powi(power)).sum::<f64>() / range.len() as f64
    };
    // Contrast is what modulation would be at no frequency at all. Its logarithm goes with the square of frequency where
    // blur is like a Gaussian, with frequency where it has long tails.
    let contrast = |power: i32| {
        let (near, far) = (mean_power(&bands.low, power), mean_power(&bands.upper, power));
        low - (upper - low) * near / (far - near)
    };
    let (contrast, tails) = (contrast(2), contrast(1));
    let (mut one, mut two, mut scene_one, mut scene_two) = (0.0, 0.0, 0.0, 0.0);
    for annulus in bands.upper.clone() {
        let parts = apart(annulus)?;
        // All annuli count alike, whatever the scene's power there.
        let weight = 1.0 / totals.spectra[annulus][0].max(1e-300);
        one += weight * parts.grain[0];
        two += weight * parts.grain[1];
        scene_one += weight * parts.scene;
        scene_two += weight * parts.scene * parts.transfer * parts.transfer;
    }
    let floor = 1e-4 * (scene_one + scene_two);
    let (one, two) = (one.max(floor), two.max(floor));
    let grain = math::ln(two / one) - 2.0 * contrast;
    let ratio = math::ln((scene_two.max(floor) / two) / (scene_one.max(floor) / one));
    Some([ratio, upper - contrast, grain, 0.5 * (tails - contrast)])
}

/// The ratios with each region of the picture left out in turn: what changes from place to place is in them.
fn left_out(
    films: &Films,
    blocks: &Blocks,
    used: &[bool],
    grid: &Grid,
    totals: &Totals,
    bands: &Bands,
) -> Vec<Ratios> {
    let region = |(column, row): (usize, usize)| {
        let of = |at: usize, count: usize| (at * REGIONS / count.max(1)).min(REGIONS - 1);
        of(row, grid.rows) * REGIONS + of(column, grid.columns)
    };
    let annuli = bands.low.start..bands.upper.end;
    let zero = || vec![[0.0_f64; 9]; annuli.len()];
    let (mut all, mut parts) = (zero(), vec![zero(); REGIONS * REGIONS]);
    let mut held = [0_usize; REGIONS * REGIONS];
    for (block, at) in blocks.at.iter().enumerate().filter(|(block, _)| used[*block]) {
        let region = region(*at);
        held[region] += 1;
        let spectra: &[Parts] = &blocks.parts(block)[annuli.clone()];
        for (k, values) in spectra.iter().enumerate() {
            for (n, value) in values.iter().enumerate() {
                all[k][n] += f64::from(*value);
                parts[region][k][n] += f64::from(*value);
            }
        }
    }
    let whole = held.iter().sum::<usize>() as f64;
    let scaled = |annulus: usize, sums: &[f64; 9], left: f64| -> Option<FilmsApart> {
        let per = totals.spectra[annulus][0] / all[annulus - annuli.start][0] * whole / left;
        let spectra: Spectra = [sums[0], sums[1], sums[2], sums[3], sums[5], sums[7]].map(|sum| sum * per);
        // Grain of the uniform areas stays what it is.
        let grain = films.apart[annulus].as_ref()?.0.grain;
        super::films::apart(&spectra, (films.separation == Separation::UniformAreas).then_some(grain))
    };
    (0..REGIONS * REGIONS)
        .filter(|region| held[*region] > 0)
        .filter_map(|region| {
            let rest = |annulus: usize| {
                let k = annulus - annuli.start;
                let mut sums = all[k];
                sums.iter_mut().zip(&parts[region][k]).for_each(|(sum, part)| *sum -= part);
                scaled(annulus, &sums, whole - held[region] as f64)
            };
            ratios(bands, &rest, totals)
        })
        .collect()
}
