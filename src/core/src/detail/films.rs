//! From spectra of both prints to each film's own signal-to-grain.
//!
//! Coherence alone gives a product: `C = s1 s2 / ((1 + s1) (1 + s2))`. With a third film of the scene the scene's power in
//! the first print is `S12 S13 / S23`, for what the three have in common is the scene alone (the three-cornered hat of
//! J. E. Gray & D. W. Allan, Proc. 28th Symp. Freq. Control, 1974). With a uniform area of each print the grain's power is
//! measured there. With neither, a film's share of scene is at least the coherence, and no more is said.

use serde::Serialize;

use super::Blocks;
use super::blocks::{FIRST, Grid, Plan};
use super::coherence::{self, Neighbours, SegmentCounts};
use super::draws::{Spectra, gamma, wishart};
use super::shifts::Field;
use crate::measured::{Flags, Measured, Value, Z95};
use crate::numeric::isotonic::pool_adjacent_violators;
use crate::numeric::math;
use crate::numeric::random::Stream;
use crate::words::{self, Sentence};

/// How each film's own share was had.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Separation {
    /// From a third film of the scene.
    ThirdFilm,
    /// From the grain in a uniform area of each print.
    UniformAreas,
    /// Not at all: shares are bounded by coherence.
    Bounds,
}

/// One annulus of spatial frequency.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FrequencyRow {
    /// Cycles per millimetre.
    pub frequency: f64,
    /// Magnitude-squared coherence, bias taken off.
    pub coherence: Measured,
    /// What an estimate exceeds in one case of twenty where there is no coherence.
    pub zero_level: f64,
    /// Independent segments that it rests on.
    pub segments: f64,
    /// Signal-to-grain power ratio of reference and candidate; infinity where grain cannot be told from none. At least
    /// that, where it is flagged so.
    pub signal_to_grain: [Option<Measured>; 2],
    /// Modulation of the candidate over that of the reference, contrast included.
    pub transfer: Option<Measured>,
}

/// Sums over all blocks that are used.
pub(super) struct Totals {
    /// Cycles per pixel of the reference's picture, annulus by annulus.
    pub(super) frequency: Vec<f64>,
    /// Powers and cross powers per coefficient, annulus by annulus.
    pub(super) spectra: Vec<Spectra>,
    /// Sizes of the cross-spectra 12, 13, 23.
    sizes: Vec<[f64; 3]>,
    pub(super) segments: Vec<f64>,
    /// Part of the segments that is left where annuli are joined.
    joined: Vec<f64>,
    /// What remains of shifts may change the cross-spectra of second and third print by such a part.
    slack: Vec<[f64; 2]>,
}

impl Totals {
    pub(super) fn of(
        blocks: &Blocks,
        used: &[bool],
        grid: &Grid,
        plan: &Plan,
        worth: &SegmentCounts,
        field: &Field,
    ) -> Self {
        let on_grid = {
            let mut all = vec![false; grid.columns * grid.rows];
            for ((column, row), _) in blocks.at.iter().zip(used).filter(|(_, used)| **used) {
                all[row * grid.columns + column] = true;
            }
            all
        };
        let count = on_grid.iter().filter(|used| **used).count();
        let neighbours = Neighbours::of(grid, &on_grid);
        let remaining = field.remaining();
        let mut totals = Self {
            frequency: plan.frequency.clone(),
            spectra: Vec::new(),
            sizes: Vec::new(),
            segments: Vec::new(),
            joined: Vec::new(),
            slack: Vec::new(),
        };
        for annulus in 0..plan.annuli {
            let mut sums = [0.0_f64; 9];
            let mut products = 0.0;
            for (block, _) in used.iter().enumerate().filter(|(_, used)| **used) {
                let parts = &blocks.parts(block)[annulus];
                sums.iter_mut().zip(parts).for_each(|(sum, part)| *sum += f64::from(*part));
                products += f64::from(parts[0]) * f64::from(parts[1]);
            }
            let per = 1.0 / (count.max(1) * plan.count[annulus].max(1)) as f64;
            let size = |re: usize| per * math::hypot(sums[re], sums[re + 1]);
            let sizes = [size(3), size(5), size(7)];
            let mean = sums.map(|sum| sum * per);
            totals.spectra.push([mean[0], mean[1], mean[2], mean[3], mean[5], mean[7]]);
            totals.sizes.push(sizes);
            let segments = if annulus < FIRST || count == 0 {
                coherence::FEWEST
            } else {
                // Where few blocks hold most of the power, they count for all.
                let raw = (sizes[0] * sizes[0] / (mean[0] * mean[1]).max(1e-300)).min(1.0);
                let even = sums[0] * sums[1] * (1.0 + raw / worth.alone(annulus))
                    / (count as f64 * products.max(1e-300));
                worth.together(annulus, count, neighbours) * even.min(1.0)
            };
            totals.segments.push(segments.max(coherence::FEWEST));
            totals.joined.push(worth.joined(annulus, count, neighbours));
            let turn = core::f64::consts::TAU * plan.frequency[annulus];
            totals.slack.push(remaining.map(|variance| turn * turn * variance));
        }
        totals
    }

    /// Raw coherence of prints 1 and 2, 1 and 3, or 2 and 3.
    fn raw(&self, annulus: usize, pair: usize) -> f64 {
        let spectra = &self.spectra[annulus];
        let (one, other) = [(0, 1), (0, 2), (1, 2)][pair];
        let size = self.sizes[annulus][pair];
        (size * size / (spectra[one] * spectra[other]).max(1e-300)).min(1.0)
    }
}

/// The spectrum of a uniform area: power per coefficient and segments, annulus by annulus.
pub(super) struct Plain {
    pub(super) power: Vec<f64>,
    pub(super) segments: Vec<f64>,
}

/// Both films apart, in one annulus.
#[derive(Debug, Clone, Copy)]
pub(super) struct FilmsApart {
    /// Share of the scene in each film's power.
    pub(super) share: [f64; 2],
    /// Modulation of the candidate over that of the reference.
    pub(super) transfer: f64,
    /// Power of grain, in the films' own density.
    pub(super) grain: [f64; 2],
    /// The scene's power in the reference.
    pub(super) scene: f64,
}

pub(super) fn apart(spectra: &Spectra, grain: Option<[f64; 2]>) -> Option<FilmsApart> {
    let [s11, s22, _, s12, s13, s23] = *spectra;
    let scene = match grain {
        None if s12 > 0.0 && s13 > 0.0 && s23 > 0.0 => [s12 * s13 / s23, s12 * s23 / s13],
        None => return None,
        Some([one, two]) => [s11 - one, s22 - two],
    };
    let transfer = if grain.is_none() { s23 / s13 } else { s12 / scene[0] };
    let share = [scene[0] / s11, scene[1] / s22];
    let usable = share.iter().all(|share| share.is_finite());
    usable.then_some(FilmsApart { share, transfer, grain: [s11 - scene[0], s22 - scene[1]], scene: scene[0] })
}

/// Each film's own share of the scene and what follows.
pub(super) struct Films {
    pub(super) rows: Vec<FrequencyRow>,
    pub(super) separation: Separation,
    /// Annulus by annulus, with draws; none where the films cannot be told apart.
    pub(super) apart: Vec<Option<(FilmsApart, Vec<FilmsApart>)>>,
    /// Raw coherences and their draws.
    coherences: Vec<Vec<f64>>,
    /// Part of the segments that is left where annuli are joined.
    joined: f64,
    pub(super) notes: Vec<Sentence>,
}

/// Draws for intervals.
const DRAWS: usize = 240;

/// Tells the films apart, from spectra as printed for coherence and at even contrast for all else; `to_mm` brings cycles per pixel to cycles per millimetre.
pub(super) fn films(
    (as_printed, totals): (&Totals, &Totals),
    third: bool,
    plain: &[Option<Plain>; 2],
    to_mm: f64,
    quick: bool,
) -> Films {
    let count = if quick { DRAWS / 3 } else { DRAWS };
    let separation = match plain {
        _ if third => Separation::ThirdFilm,
        [Some(_), Some(_)] => Separation::UniformAreas,
        _ => Separation::Bounds,
    };
    let (mut rows, mut all, mut coherences) = (Vec::new(), Vec::new(), Vec::new());
    for annulus in 0..totals.spectra.len() {
        let parts = match separation {
            _ if annulus < FIRST => None,
            Separation::ThirdFilm => by_third(totals, annulus, count),
            Separation::UniformAreas => by_plain(totals, annulus, plain, count),
            Separation::Bounds => None,
        };
        let correction = |spectra: &Spectra| (spectra[3] * spectra[3] / (spectra[0] * spectra[1])).min(1.0);
        coherences.push(drawn(as_printed, annulus, count).map(|draw| correction(&draw)).collect());
        all.push(parts);
    }
    for (annulus, parts) in all.iter().enumerate().skip(FIRST) {
        rows.push(row((as_printed, totals), annulus, parts.as_ref(), to_mm));
    }
    let mut notes = Vec::new();
    if separation == Separation::Bounds {
        notes.push(words::Detail::PrintsAlone.into());
    }
    if separation == Separation::UniformAreas {
        notes.push(words::Detail::GrainTakenAlike.into());
    }
    let joined = totals.joined.last().copied().unwrap_or(1.0);
    Films { rows, separation, apart: all, coherences, joined, notes }
}

fn drawn(totals: &Totals, annulus: usize, count: usize) -> impl Iterator<Item = Spectra> {
    let mut stream = Stream::new(0x00d3_7a11, annulus as u64);
    let mean = totals.spectra[annulus];
    let segments = totals.segments[annulus] * totals.joined[annulus];
    let slack = totals.slack[annulus];
    (0..count).map(move |_| {
        let mut draw = wishart(&mut stream, &mean, segments);
        // What remains of the shifts lowers the cross-spectra or was fitted into them.
        let [one, two] = slack.map(|slack| math::exp(0.5 * slack * stream.normal()));
        draw[3] *= one;
        draw[4] *= two;
        draw[5] *= math::sqrt(one * two);
        draw
    })
}

type Told = Option<(FilmsApart, Vec<FilmsApart>)>;

fn by_third(totals: &Totals, annulus: usize, count: usize) -> Told {
    let draws: Vec<Spectra> = drawn(totals, annulus, count).collect();
    let level = coherence::zero_level(totals.segments[annulus]);
    let agree = (0..3).all(|pair| totals.raw(annulus, pair) > 3.0 * level);
    let parts = apart(&totals.spectra[annulus], None).filter(|_| agree);
    parts.map(|parts| (parts, draws.iter().filter_map(|draw| apart(draw, None)).collect()))
}

fn by_plain(totals: &Totals, annulus: usize, plain: &[Option<Plain>; 2], count: usize) -> Told {
    let draws: Vec<Spectra> = drawn(totals, annulus, count).collect();
    let [Some(one), Some(two)] = plain else { return None };
    let power = [one.power[annulus], two.power[annulus]];
    let mut stream = Stream::new(0x00d3_7a12, annulus as u64);
    let mut grain = || {
        let mut draw = |plain: &Plain| {
            let segments = plain.segments[annulus] * totals.joined[annulus];
            plain.power[annulus] * gamma(&mut stream, segments) / segments
        };
        [draw(one), draw(two)]
    };
    let parts = apart(&totals.spectra[annulus], Some(power));
    parts.map(|parts| (parts, draws.iter().filter_map(|draw| apart(draw, Some(grain()))).collect()))
}

pub(super) fn deviation(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = values.clone().count();
    if count < 2 {
        return f64::INFINITY;
    }
    let mean = values.clone().sum::<f64>() / count as f64;
    math::sqrt(values.map(|v| (v - mean) * (v - mean)).sum::<f64>() / (count - 1) as f64)
}

/// One annulus in numbers. Draws are those of joined annuli; alone it is surer.
fn row(
    (as_printed, totals): (&Totals, &Totals),
    annulus: usize,
    parts: Option<&(FilmsApart, Vec<FilmsApart>)>,
    to_mm: f64,
) -> FrequencyRow {
    let segments = as_printed.segments[annulus];
    let mut coherence = coherence::estimate(as_printed.raw(annulus, 0), segments);
    let slack = Z95 * totals.slack[annulus][0] * coherence.value;
    coherence.low = (coherence.value - math::hypot(coherence.value - coherence.low, slack)).max(0.0);
    coherence.high = (coherence.value + math::hypot(coherence.high - coherence.value, slack)).min(1.0);
    let ratio = |share: f64| if share < 1.0 { (share / (1.0 - share)).max(0.0) } else { f64::INFINITY };
    let alone = math::sqrt(totals.joined[annulus]);
    let film = |film: usize| match parts {
        Some((best, draws)) => {
            let share = best.share[film];
            let u = alone * deviation(draws.iter().map(|draw| draw.share[film]));
            let (low, high) = (ratio(share - Z95 * u), ratio(share + Z95 * u));
            let spread = if high.is_finite() { (high - low) / (2.0 * Z95) } else { f64::INFINITY };
            Measured::with_interval(ratio(share), spread, low, high)
        }
        // A film's share is no less than the coherence.
        None => {
            Measured::with_interval(ratio(coherence.value), coherence.u, ratio(coherence.low), f64::INFINITY)
                .flagged(Flags::LOWER_BOUND)
        }
    };
    let transfer = parts.map(|(best, draws)| {
        let u = alone * deviation(draws.iter().map(|draw| math::ln(draw.transfer.max(1e-12))));
        let (value, side) = (best.transfer, math::exp(Z95 * u));
        Measured::with_interval(value, value * u, value / side, value * side)
    });
    FrequencyRow {
        frequency: totals.frequency[annulus] * to_mm,
        coherence,
        zero_level: coherence::zero_level(segments),
        segments,
        signal_to_grain: [Some(film(0)), Some(film(1))],
        transfer,
    }
}

/// Where a falling curve comes down to a level.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Crossing {
    At(f64),
    Beyond(f64),
    Before(f64),
}

/// The never-rising curve nearest to the points, and where it crosses.
fn crossing(points: &[(f64, f64)], weights: &[f64], level: f64) -> Option<Crossing> {
    let negative: Vec<f64> = points.iter().map(|(_, value)| -value).collect();
    let fitted: Vec<f64> = pool_adjacent_violators(&negative, weights).iter().map(|value| -value).collect();
    let (first, last) = (points.first()?, points.last()?);
    let Some(over) = fitted.iter().rposition(|value| *value >= level) else {
        return Some(Crossing::Before(first.0));
    };
    // Near the end of what is known, what is left out there for its noise would shape the answer.
    let Some(under) = points.get(over + 1).filter(|_| over + 3 < points.len()) else {
        return Some(Crossing::Beyond(points[over].0.min(last.0)));
    };
    // Power falls about as a Gaussian does, so the logit goes straight with the square of frequency; a line through the
    // points around the step says more than the step itself.
    let logit = |value: f64| {
        let value = value.clamp(0.01, 0.99);
        math::ln(value / (1.0 - value))
    };
    let (mut w, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for k in over.saturating_sub(1)..(over + 3).min(points.len()) {
        let (square, value) = (points[k].0 * points[k].0, points[k].1.clamp(0.01, 0.99));
        let slope = value * (1.0 - value);
        let weight = weights[k] * slope * slope;
        w += weight;
        x += weight * square;
        y += weight * logit(value);
        xx += weight * square * square;
        xy += weight * square * logit(value);
    }
    let slope = (w * xy - x * y) / (w * xx - x * x);
    let line = math::sqrt(((logit(level) - (y - slope * x) / w) / slope).max(0.0));
    let (low, high) = (points[over.saturating_sub(1)].0, points[(over + 2).min(points.len() - 1)].0);
    let step = {
        let part = (fitted[over] - level) / (fitted[over] - fitted[over + 1]).max(1e-12);
        points[over].0 + part * (under.0 - points[over].0)
    };
    Some(Crossing::At(if slope < 0.0 && line > low && line < high { line } else { step }))
}

fn first(points: &[(f64, f64)]) -> f64 {
    points.first().map_or(0.0, |point| point.0)
}

/// A crossing with the interval that draws give it.
fn limit(points: &[(f64, f64)], draws: &[Vec<f64>], level: f64, joined: f64, what: words::Detail) -> Value {
    let weights: Vec<f64> = draws
        .iter()
        .map(|draws| {
            let u = deviation(draws.iter().copied());
            1.0 / (u * u).clamp(1e-8, 1e8)
        })
        .collect();
    let Some(best) = crossing(points, &weights, level) else {
        return Value::Undefined(words::Detail::NoFrequency.into());
    };
    let count = draws.iter().map(Vec::len).min().unwrap_or(0);
    let mut places = Vec::with_capacity(count);
    for k in 0..count {
        let drawn: Vec<(f64, f64)> = points.iter().zip(draws).map(|((f, _), draws)| (*f, draws[k])).collect();
        match crossing(&drawn, &weights, level) {
            Some(Crossing::At(f) | Crossing::Beyond(f) | Crossing::Before(f)) => places.push(f),
            None => {}
        }
    }
    // Draws are those of annuli joined without end; a crossing rests on four of them, whose sum has nine tenths of the
    // variance.
    let u = math::pow(joined, 0.125) * deviation(places.iter().copied());
    match best {
        Crossing::At(f) => Value::Known(Measured::normal(f, u)),
        Crossing::Beyond(_) => {
            // At least as far as every share is above the level beyond its uncertainty.
            let sure = |(point, weight): &(&(f64, f64), &f64)| point.1 - Z95 / math::sqrt(**weight) > level;
            let f = points
                .iter()
                .zip(&weights)
                .take_while(sure)
                .last()
                .map_or(first(points), |(point, _)| point.0);
            Value::Known(Measured::with_interval(f, u.min(f), f, f64::INFINITY).flagged(Flags::LOWER_BOUND))
        }
        Crossing::Before(f) => {
            Value::Undefined(words::Detail::Below { what: what.into(), frequency: f }.into())
        }
    }
}

impl Films {
    /// Frequency up to which each film carries the scene's detail.
    pub(super) fn limits(&self) -> [Value; 2] {
        [0, 1].map(|film| {
            let known = || {
                self.rows
                    .iter()
                    .zip(self.apart.iter().skip(FIRST))
                    .filter_map(|(row, parts)| parts.as_ref().map(|parts| (row.frequency, parts)))
            };
            let points: Vec<(f64, f64)> = known().map(|(f, (best, _))| (f, best.share[film])).collect();
            let draws: Vec<Vec<f64>> =
                known().map(|(_, (_, draws))| draws.iter().map(|draw| draw.share[film]).collect()).collect();
            if self.separation == Separation::Bounds {
                // A share is at least the coherence.
                let bound = self.crossing_of_coherence(0.5);
                return match bound {
                    Value::Known(found) => {
                        let flagged = found.flagged(Flags::LOWER_BOUND);
                        Value::Known(Measured { high: f64::INFINITY, ..flagged })
                    }
                    Value::Undefined(_) => Value::Undefined(words::Detail::LowCoherence.into()),
                };
            }
            limit(&points, &draws, 0.5, self.joined, words::Detail::LowSignal)
        })
    }

    /// Frequency at which coherence comes down to a quarter, what two films show that carry as much grain as scene.
    pub(super) fn agreement(&self) -> Value {
        self.crossing_of_coherence(0.25)
    }

    fn crossing_of_coherence(&self, level: f64) -> Value {
        let points: Vec<(f64, f64)> =
            self.rows.iter().map(|row| (row.frequency, row.coherence.value)).collect();
        let draws: Vec<Vec<f64>> = self.coherences.iter().skip(FIRST).cloned().collect();
        limit(&points, &draws, level, self.joined, words::Detail::LowCoherenceThere)
    }
}
