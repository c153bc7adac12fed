//! From a tablet of known densities to a tone table.

use super::flare::{self, Flare};
use super::smooth::Smooth;
use super::{NoiseModel, ScaleErrors, ToneSource, ToneTable};
use crate::measured::Flags;
use crate::numeric::interpolate::{MonotoneCubic, SlopeRule};
use crate::numeric::isotonic::pool_adjacent_violators;
use crate::numeric::{math, robust};
use crate::problem::{Problem, Subject};
use crate::words::{self, Sentence};

/// Fewer usable steps make no table.
const LEAST_STEPS: usize = 4;
/// Least share of pairs of steps, agreeing less disagreeing (Kendall's tau), whose codes follow their densities.
const AGREEMENT: f64 = 0.8;
/// An end step is left out where lg code changes with density by less than this share of the usual.
const LEAST_GRADIENT: f64 = 0.1;
/// How far past the end steps the table goes on at their slope before it stays: so that the noise of an area that is as
/// dark or as light as an end step averages out. Results there are flagged all the same.
const MARGIN: f64 = 0.15;
/// Offsets of codes that are tried, as shares of the lowest code. Nearer to it the last steps would lie far apart, with nothing
/// between them to hold the curve.
const OFFSETS: [f64; 6] = [0.0, 0.2, 0.4, 0.6, 0.75, 0.85];
/// Least standard uncertainty of a known density, where a smaller one or none is stated.
const LEAST_U: f64 = 0.002;

/// One step of the calibration tablet as the scanner saw it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CalibrationPoint {
    /// Step number on the tablet, from 1.
    pub step: u32,
    /// Mean code over the step.
    pub code: f64,
    /// Standard error of that mean.
    pub code_u: f64,
    /// The density that the step is known to have.
    pub density: f64,
    /// Its standard uncertainty.
    pub density_u: f64,
    /// Clipped or not; clipped steps are not used. A nominal tablet makes the table nominal.
    pub flags: Flags,
}

/// A fitted calibration with what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrationFit {
    /// The table from codes to densities.
    pub table: ToneTable,
    /// The steps of the tablet, whether they were used or not.
    pub points: Vec<CalibrationPoint>,
    /// Density by the table minus known density, step by step; `None` where the step was not used.
    pub residuals: Vec<Option<f64>>,
    /// Root mean square of the residuals.
    pub rms: f64,
    /// Things worth telling: steps left out and why.
    pub notes: Vec<Sentence>,
    /// The light that strayed over the tablet, or why the steps do not tell.
    pub flare: Result<Flare, words::NoFlare>,
    /// The scanner's noise, where it was measured.
    pub noise: Option<NoiseModel>,
}

/// Fits a monotone table from code to density through the steps of a tablet.
///
/// Density is a smooth function of lg (code - offset): a natural cubic smoothing spline at the steps, weighted by their
/// uncertainties and as smooth as generalised cross-validation finds right, made monotone, with monotone cubic pieces between.
/// The offset is what a scanner adds to all codes, dark current and stray light; cross-validation chooses it, too. With it the
/// curve bends little where codes run out, and less of the steps' own errors goes into the table.
///
/// `levels` is 256 or 65536. Codes may rise or fall with density; steps that are clipped, out of order or
/// indistinguishable are left out with a note. No trust beyond the darkest and lightest usable step.
///
/// # Errors
/// Fewer than four usable steps, or codes that do not follow the densities.
pub fn calibrate(points: &[CalibrationPoint], levels: usize, name: &str) -> Result<CalibrationFit, Problem> {
    let mut notes = Vec::new();
    let seen = seen(points, levels, &mut notes);
    if seen.len() < LEAST_STEPS {
        return Err(too_few(name, seen.len()));
    }
    let agreement = agreement(&seen);
    if agreement.abs() < AGREEMENT {
        return Err(Problem::error(
            Subject::Series,
            words::Calibration::NotFollowing { name: name.to_owned() },
            words::Remedy::CheckStripMarks,
        ));
    }
    if agreement > 0.0 {
        notes.push(words::Calibration::CodesRise.into());
    }
    let used = usable(&seen, agreement.signum(), &mut notes);
    if used.len() < LEAST_STEPS {
        return Err(too_few(name, used.len()));
    }
    let table = fit(&used, levels, name).ok_or_else(|| too_few(name, 0))?;
    let at = |code: f64| {
        let low = (code.floor() as usize).min(levels - 2);
        table.density[low] + (code - low as f64) * (table.density[low + 1] - table.density[low])
    };
    let residual = |point: &CalibrationPoint| {
        used.iter().any(|u| u.step == point.step && u == point).then(|| at(point.code) - point.density)
    };
    let residuals: Vec<Option<f64>> = points.iter().map(residual).collect();
    let squares: f64 = residuals.iter().flatten().map(|r| r * r).sum();
    let rms = math::sqrt(squares / used.len() as f64);
    let flare = flare::estimate(&used);
    Ok(CalibrationFit { table, points: points.to_vec(), residuals, rms, notes, flare, noise: None })
}

fn too_few(name: &str, steps: usize) -> Problem {
    Problem::error(
        Subject::Series,
        words::Calibration::TooFewSteps { name: name.to_owned(), steps, least_steps: LEAST_STEPS },
        words::Remedy::ScanBetterTablet,
    )
}

/// The steps that the scanner saw within its range, from the lowest density to the highest.
fn seen(points: &[CalibrationPoint], levels: usize, notes: &mut Vec<Sentence>) -> Vec<CalibrationPoint> {
    let mut seen = Vec::with_capacity(points.len());
    for point in points {
        let within = point.code > 0.0 && point.code < (levels - 1) as f64 && point.density.is_finite();
        if within && !point.flags.contains(Flags::CLIPPED) {
            seen.push(*point);
        } else {
            notes.push(words::Calibration::StepClipped { step: point.step }.into());
        }
    }
    seen.sort_by(|a, b| a.density.total_cmp(&b.density).then(a.step.cmp(&b.step)));
    seen
}

/// Kendall's tau between code and density: 1 if codes rise with density throughout, -1 if they fall.
fn agreement(seen: &[CalibrationPoint]) -> f64 {
    let mut sum = 0.0;
    let mut pairs = 0.0;
    for (i, a) in seen.iter().enumerate() {
        for b in seen[i + 1..].iter().filter(|b| b.density > a.density) {
            pairs += 1.0;
            sum += if b.code > a.code { 1.0 } else { -1.0 };
        }
    }
    if pairs > 0.0 { sum / pairs } else { 0.0 }
}

/// The longest run of steps of which each is told apart from the one before, without ends that hardly differ.
fn usable(seen: &[CalibrationPoint], direction: f64, notes: &mut Vec<Sentence>) -> Vec<CalibrationPoint> {
    let follows = |a: &CalibrationPoint, b: &CalibrationPoint| {
        let gap = (b.code - a.code) * direction;
        b.density > a.density && gap > 0.0 && gap > 2.0 * math::hypot(a.code_u, b.code_u)
    };
    let mut best: Vec<(usize, Option<usize>)> = Vec::with_capacity(seen.len());
    for (j, b) in seen.iter().enumerate() {
        let before = (0..j).filter(|i| follows(&seen[*i], b)).max_by_key(|i| (best[*i].0, *i));
        best.push((before.map_or(1, |i| best[i].0 + 1), before));
    }
    let mut chain = Vec::new();
    let mut at = (0..best.len()).max_by_key(|i| (best[*i].0, std::cmp::Reverse(*i)));
    while let Some(i) = at {
        chain.push(i);
        at = best[i].1;
    }
    chain.reverse();
    for (i, point) in seen.iter().enumerate().filter(|(i, _)| !chain.contains(i)) {
        let near = |other: &CalibrationPoint| {
            (other.code - point.code).abs() <= 2.0 * math::hypot(other.code_u, point.code_u)
        };
        let alike = seen.iter().enumerate().any(|(other, p)| other != i && near(p));
        notes.push(words::Calibration::StepLeftOut { step: point.step, alike }.into());
    }
    let mut used: Vec<CalibrationPoint> = chain.into_iter().map(|i| seen[i]).collect();
    trim(&mut used, notes);
    used
}

/// Leaves out ends where the scanner hardly tells densities apart any more.
fn trim(used: &mut Vec<CalibrationPoint>, notes: &mut Vec<Sentence>) {
    let gradient = |pair: &[CalibrationPoint]| {
        (math::log10(pair[1].code / pair[0].code) / (pair[1].density - pair[0].density)).abs()
    };
    let gradients: Vec<f64> = used.windows(2).map(gradient).collect();
    let least = LEAST_GRADIENT * robust::median(&gradients).unwrap_or(0.0);
    let mut tell = |point: CalibrationPoint| {
        notes.push(words::Calibration::StepTooNear { step: point.step }.into());
    };
    while used.len() > LEAST_STEPS && gradient(&used[used.len() - 2..]) < least {
        used.pop().into_iter().for_each(&mut tell);
    }
    while used.len() > LEAST_STEPS && gradient(&used[..2]) < least {
        tell(used.remove(0));
    }
}

fn fit(used: &[CalibrationPoint], levels: usize, name: &str) -> Option<ToneTable> {
    let mut points = used.to_vec();
    points.sort_by(|a, b| a.code.total_cmp(&b.code));
    let known: Vec<f64> = points.iter().map(|point| point.density).collect();
    let falling = known.last() < known.first();
    let sigma: Vec<f64> = (0..points.len()).map(|i| sigma(&points, i)).collect();
    let fits = OFFSETS.iter().filter_map(|share| {
        let offset = share * points[0].code;
        let x: Vec<f64> = points.iter().map(|point| math::log10(point.code - offset)).collect();
        Some((Smooth::fit(&x, &known, &sigma)?, x, offset))
    });
    let (smooth, x, offset) = fits.min_by(|one, other| one.0.score.total_cmp(&other.0.score))?;
    let sign = if falling { -1.0 } else { 1.0 };
    let weights: Vec<f64> = sigma.iter().map(|s| 1.0 / (s * s)).collect();
    let rising: Vec<f64> = smooth.values.iter().map(|value| sign * value).collect();
    let fitted: Vec<f64> =
        pool_adjacent_violators(&rising, &weights).iter().map(|value| sign * value).collect();
    let curve = MonotoneCubic::new(&x, &fitted, SlopeRule::FritschButland)?;
    let error = MonotoneCubic::new(&x, &smooth.errors, SlopeRule::Steffen)?;
    let ends = Ends { x: &x, fitted: &fitted };
    let mut density = Vec::with_capacity(levels);
    let mut density_u = Vec::with_capacity(levels);
    for code in 0..levels {
        let x = math::log10((code as f64 - offset).max(0.0));
        if let (Some(value), Some(u)) = (curve.value(x), error.value(x)) {
            density.push(value);
            density_u.push(u);
        } else {
            let (value, beyond) = ends.beyond(x);
            density.push(value);
            density_u.push(smooth.errors[if x < ends.x[0] { 0 } else { points.len() - 1 }] + beyond);
        }
    }
    let (first, last) = (fitted[0], fitted[fitted.len() - 1]);
    let flags = used.iter().fold(Flags::empty(), |sum, point| sum | point.flags) & Flags::NOMINAL_TABLET;
    Some(ToneTable {
        light: density.iter().map(|d| math::pow(10.0, -d)).collect(),
        density,
        density_u,
        errors: ScaleErrors::of_steps(identity(&points), &fitted, &smooth.parts),
        trusted: (first.min(last), first.max(last)),
        source: ToneSource::Calibration(name.to_owned()),
        flags,
    })
}

/// A number that tells fits apart, from all that they rest on: FNV-1a (G. Fowler, L. C. Noll and K.-P. Vo, RFC 9923).
fn identity(points: &[CalibrationPoint]) -> u64 {
    let numbers = points.iter().flat_map(|p| [p.code, p.code_u, p.density, p.density_u]);
    let bytes = numbers.flat_map(|number| number.to_bits().to_le_bytes());
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

/// Standard uncertainty of a step's density against the curve: its own, and that of its code seen through the slope.
fn sigma(points: &[CalibrationPoint], i: usize) -> f64 {
    let (before, after) = (points[i.saturating_sub(1)], points[(i + 1).min(points.len() - 1)]);
    let slope = (after.density - before.density) / math::log10(after.code / before.code);
    let of_code = slope * core::f64::consts::LOG10_E * points[i].code_u / points[i].code;
    math::hypot(points[i].density_u.max(LEAST_U), of_code)
}

/// The table past its first and last step.
struct Ends<'a> {
    x: &'a [f64],
    fitted: &'a [f64],
}

impl Ends<'_> {
    /// Density at `x` outside the steps, and how far it is from the end step's.
    fn beyond(&self, x: f64) -> (f64, f64) {
        let last = self.x.len() - 1;
        let (end, inner) = if x < self.x[0] { (0, 1) } else { (last, last - 1) };
        let slope = (self.fitted[end] - self.fitted[inner]) / (self.x[end] - self.x[inner]);
        let way = slope * (x - self.x[end]);
        let step = if way.is_nan() { 0.0 } else { way.clamp(-MARGIN, MARGIN) };
        (self.fitted[end] + step, step.abs())
    }
}
