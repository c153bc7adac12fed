//! The noise of a scanner: variance of light from pixel to pixel by light, from the steps of a tablet.
//!
//! In light and not in codes, because there the parts have their physical form whatever the tone curve of the file: a
//! constant of the electronics, a part in proportion to light of the photons, and one in proportion to its square of what
//! scales the light (lamp, unequal sensors). `variance = a + b L + c L^2`, none of them below zero.

use nalgebra::{DMatrix, DVector};
use serde::Serialize;

use super::ToneTable;
use crate::numeric::{math, robust};

/// What each variance was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum NoiseSource {
    /// One scan: what differs between neighbouring pixels, `(a - b - c + d)^2 / 4` over squares of four. Grain of the tablet
    /// as fine as a pixel is in it.
    OneScan,
    /// Two scans of the same: half the variance of their difference. Neither grain nor a fixed pattern is in it.
    TwoScans,
}

/// One step's noise.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NoisePoint {
    /// Step number, from 1.
    pub step: u32,
    /// Mean light of the step.
    pub light: f64,
    /// Variance of light of one pixel.
    pub variance: f64,
    /// Number of independent values it was taken from.
    pub count: f64,
}

/// A fitted noise model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoiseModel {
    /// Constant, in proportion to light, in proportion to its square.
    pub terms: [f64; 3],
    /// Their standard uncertainties; zero where the data do not need the term.
    pub terms_u: [f64; 3],
    /// Typical relative departure of the steps from the model.
    pub relative_u: f64,
    /// What it was taken from.
    pub source: NoiseSource,
    /// What it rests on.
    pub points: Vec<NoisePoint>,
}

/// Relative scatter that steps have beside chance: tablets have grain, and dust.
const SCATTER: f64 = 0.05;
/// Fewer steps make no model.
const LEAST_STEPS: usize = 4;
/// Rounds of the robust fit.
const ROUNDS: usize = 8;

impl NoiseModel {
    /// Fits the model. Robust: a step that departs much counts less (J. W. Tukey's weights, 4.685 sigma). Of the models that
    /// leave out terms the one is taken that H. Akaike's criterion prefers. `None` for fewer than four steps.
    #[must_use]
    pub fn fit(points: &[NoisePoint], source: NoiseSource) -> Option<Self> {
        let sound = |point: &&NoisePoint| point.light > 0.0 && point.variance > 0.0 && point.count >= 8.0;
        let points: Vec<NoisePoint> = points.iter().filter(sound).copied().collect();
        if points.len() < LEAST_STEPS {
            return None;
        }
        let subsets: [&[usize]; 7] = [&[0, 1, 2], &[0, 1], &[0, 2], &[1, 2], &[0], &[1], &[2]];
        let fits = subsets.iter().filter_map(|terms| Attempt::of(&points, terms));
        let best = fits.min_by(|a, b| a.score.total_cmp(&b.score))?;
        Some(Self {
            terms: best.terms,
            terms_u: best.errors,
            relative_u: best.scatter / math::sqrt(points.len() as f64),
            source,
            points,
        })
    }

    /// Variance of light of one pixel at a light.
    #[must_use]
    pub fn variance(&self, light: f64) -> f64 {
        let [a, b, c] = self.terms;
        a + light * (b + light * c)
    }

    /// Whether the steps that it rests on reach that light.
    #[must_use]
    pub fn reaches(&self, light: f64) -> bool {
        let ends = (f64::INFINITY, 0.0_f64);
        let (low, high) =
            self.points.iter().fold(ends, |(low, high), p| (low.min(p.light), high.max(p.light)));
        light >= 0.8 * low && light <= 1.25 * high
    }

    /// The same in squared codes at a code of a scan that is read through `table`; `None` outside the steps' range.
    #[must_use]
    pub fn code_variance(&self, table: &ToneTable, code: f64) -> Option<f64> {
        let slope = slope(table, code)?;
        let light = *table.light.get((code + 0.5) as usize)?;
        (self.reaches(light) && slope != 0.0).then(|| self.variance(light) / (slope * slope))
    }
}

/// Light per code around a code; `None` outside the table.
#[must_use]
pub(crate) fn slope(table: &ToneTable, code: f64) -> Option<f64> {
    let reach = if table.light.len() > 256 { 64 } else { 1 };
    let at = (code + 0.5) as usize;
    let (from, to) = (at.checked_sub(reach)?, at + reach);
    Some((table.light.get(to)? - table.light.get(from)?) / (to - from) as f64)
}

struct Attempt {
    terms: [f64; 3],
    errors: [f64; 3],
    scatter: f64,
    score: f64,
}

impl Attempt {
    fn of(points: &[NoisePoint], chosen: &[usize]) -> Option<Self> {
        let n = points.len();
        let design = DMatrix::from_fn(n, chosen.len(), |row, k| power(points[row].light, chosen[k]));
        let mut expected: Vec<f64> = points.iter().map(|point| point.variance).collect();
        let mut trust = vec![1.0; n];
        let mut solved = None;
        for _ in 0..ROUNDS {
            let sigma: Vec<f64> = points
                .iter()
                .zip(&expected)
                .map(|(p, v)| v * math::hypot(math::sqrt(2.0 / p.count), SCATTER))
                .collect();
            let weights = DVector::from_fn(n, |i, _| trust[i] / (sigma[i] * sigma[i]));
            let weighted = DMatrix::from_fn(n, chosen.len(), |i, k| design[(i, k)] * weights[i]);
            let normal = weighted.transpose() * &design;
            // Scaled to a unit diagonal: the terms differ by many powers of ten.
            let scale: Vec<f64> =
                (0..chosen.len()).map(|k| math::sqrt(normal[(k, k)]).max(f64::MIN_POSITIVE)).collect();
            let unit =
                DMatrix::from_fn(chosen.len(), chosen.len(), |i, k| normal[(i, k)] / (scale[i] * scale[k]));
            let inverse = unit.try_inverse()?;
            let inverse =
                DMatrix::from_fn(chosen.len(), chosen.len(), |i, k| inverse[(i, k)] / (scale[i] * scale[k]));
            let right = weighted.transpose() * DVector::from_fn(n, |i, _| points[i].variance);
            let found = &inverse * right;
            let fitted = &design * &found;
            let residuals: Vec<f64> = (0..n).map(|i| (points[i].variance - fitted[i]) / sigma[i]).collect();
            let spread = (robust::median_absolute_deviation(&residuals)? * robust::MAD_TO_SIGMA).max(1.0);
            trust = residuals.iter().map(|r| tukey(r / spread)).collect();
            let least = 0.02 * points.iter().map(|p| p.variance).fold(f64::INFINITY, f64::min);
            expected = fitted.iter().map(|v| v.max(least)).collect();
            let chi: f64 = residuals.iter().map(|r| (r / spread).powi(2).min(9.0)).sum();
            solved = Some((found, inverse, chi, spread));
        }
        let (found, inverse, chi, spread) = solved?;
        if found.iter().any(|term| *term < 0.0) {
            return None;
        }
        let (mut terms, mut errors) = ([0.0; 3], [0.0; 3]);
        for (k, term) in chosen.iter().enumerate() {
            terms[*term] = found[k];
            errors[*term] = spread * math::sqrt(inverse[(k, k)]);
        }
        let departures: Vec<f64> =
            points.iter().zip(&expected).map(|(p, v)| (p.variance / v - 1.0).abs()).collect();
        let scatter = robust::median(&departures)? * robust::MAD_TO_SIGMA;
        // The scale of the residuals is part of the fit: without it a model that explains nothing would score well.
        let score = chi + 2.0 * n as f64 * math::ln(spread) + 2.0 * chosen.len() as f64;
        Some(Self { terms, errors, scatter, score })
    }
}

fn power(light: f64, exponent: usize) -> f64 {
    match exponent {
        0 => 1.0,
        1 => light,
        _ => light * light,
    }
}

fn tukey(z: f64) -> f64 {
    let share = z / 4.685;
    if share.abs() < 1.0 { (1.0 - share * share) * (1.0 - share * share) } else { 0.0 }
}
