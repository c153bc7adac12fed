//! What the fit might as well have been: draws from everything that is not known for sure.
//!
//! Each resampling draws errors of the readings, a stiffness by its likelihood, and what the penalty's prior leaves open
//! between the readings, then solves again, never falling. Without the monotone bound that is an exact draw from the
//! posterior of the smoothing spline (G. Papandreou and A. L. Yuille, "Gaussian sampling by local perturbations", NIPS
//! 2010), whose spread covers noise and smoothing bias together: G. Wahba, "Bayesian confidence intervals for the
//! cross-validated smoothing spline", J. R. Statist. Soc. B 45 (1983); D. Nychka, J. Am. Stat. Assoc. 83 (1988). A plain
//! bootstrap of residuals (B. Efron, Ann. Statist. 7 (1979)) leaves out the bias.
//!
//! The prior's part is drawn at 0.75 of its size. A prior of independent second differences is rougher than film is, whose
//! curvature is itself smooth: drawn in full it stated 1.4 times the error of local gradients in the toe (99 % of 95 %
//! intervals held the truth) and 1.1 times that of average gradients, in `cargo dev study`. The share was set there.
//!
//! Draw number k of one film and draw number k of another suppose the same error wherever both have an error in common:
//! of the light, of a tablet as a whole, of a step of a tablet, of the calibration that scans were read by. So what one film differs from another by may be taken draw
//! by draw, and common errors cancel as far as they do in truth. Errors of its own readings are each film's own.

use rayon::prelude::*;
use serde::Serialize;

use super::fit::{DIFFERENCE, Equation, Solution, Stiffness, right_side};
use super::join::{self, Border, level_u};
use super::{ErrorKey, FitSettings, Readings, Spline};
use crate::numeric::monotone::{self, Workspace};
use crate::numeric::random::Stream;

/// Share of the prior's standard deviation that is drawn: see above.
const PRIOR_SHARE: f64 = 0.75;

/// A curve as it might have come out with other errors of the same size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Resampling {
    /// Its curve, on the same log exposures as the best fit.
    pub spline: Spline,
    /// Error of the light itself and of what all steps of the first strip's tablet share: this is to be added to log
    /// exposures read off `spline`.
    pub log_h_shift: f64,
    /// Base+fog as it might have been read, where it was read.
    pub base_fog: Option<f64>,
    /// For each additional strip what was added to its stated log H.
    pub levels: Vec<f64>,
    /// A number between 0 and 1 for what is only known to lie between two bounds.
    pub uniform: f64,
}

/// Draws them all. Each has streams of its own, so that order and threads do not matter.
pub(super) fn resample(solution: &Solution, readings: &Readings, settings: FitSettings) -> Vec<Resampling> {
    let borders = join::borders(solution);
    let scales = Scales::of(solution, readings);
    let known = Known { solution, borders: &borders, scales: &scales, readings };
    let draw = |space: &mut Space, number: u32| one(&known, (settings.seed, number), space);
    let space = || Space { right: vec![0.0; solution.coefficients.len()], ..Space::default() };
    (0..settings.resamplings.max(50)).into_par_iter().with_min_len(32).map_init(space, draw).collect()
}

/// What all draws start from.
struct Known<'a> {
    solution: &'a Solution,
    borders: &'a [Option<Border>],
    scales: &'a Scales,
    readings: &'a Readings,
}

/// What calibrations err in the densities of the rows.
struct Scales {
    /// Each calibration, and the number of its errors.
    calibrations: Vec<(u64, usize)>,
    /// For each row which calibration, and the parts of its error; none for what was typed.
    rows: Vec<Option<(usize, Vec<f64>)>>,
}

impl Scales {
    fn of(solution: &Solution, readings: &Readings) -> Self {
        let mut calibrations: Vec<(u64, usize)> = Vec::new();
        let row = |row: &Equation| {
            let error = readings.sources.strips[row.place.0].scale.density(row.density);
            if error.parts.is_empty() {
                return None;
            }
            let own = (error.calibration, error.parts.len());
            let at = calibrations.iter().position(|other| *other == own).unwrap_or_else(|| {
                calibrations.push(own);
                calibrations.len() - 1
            });
            Some((at, error.parts))
        };
        let rows = solution.rows.iter().map(row).collect();
        Self { calibrations, rows }
    }

    /// The errors of each calibration in one draw, in standard uncertainties: the same for every film read through it.
    fn draw(&self, draw: (u64, u32), drawn: &mut Vec<Vec<f64>>) {
        drawn.resize_with(self.calibrations.len(), Vec::new);
        for ((calibration, count), errors) in self.calibrations.iter().zip(drawn) {
            let mut stream = Stream::keyed(draw.0, u64::from(draw.1), *calibration);
            errors.clear();
            errors.extend((0..*count).map(|_| stream.normal()));
        }
    }

    /// What a row's density errs in a draw.
    fn error(&self, row: usize, drawn: &[Vec<f64>]) -> f64 {
        let Some((calibration, parts)) = &self.rows[row] else { return 0.0 };
        parts.iter().zip(&drawn[*calibration]).map(|(part, error)| part * error).sum()
    }
}

/// Memory that draws use one after the other.
#[derive(Default)]
struct Space {
    work: Workspace,
    right: Vec<f64>,
    tablets: Vec<TabletErrors>,
    scales: Vec<Vec<f64>>,
}

/// The errors of a tablet in one draw, in standard uncertainties: the same for every strip and film exposed through it.
#[derive(Debug, Clone, Default)]
struct TabletErrors {
    key: ErrorKey,
    shared: f64,
    steps: Vec<f64>,
}

/// The errors of the tablet of each strip, in the strips' order, into `tablets`.
fn draw_tablets(readings: &Readings, steps: &[u32], draw: (u64, u32), tablets: &mut Vec<TabletErrors>) {
    tablets.resize_with(steps.len(), TabletErrors::default);
    for (strip, errors) in tablets.iter_mut().enumerate() {
        errors.key = readings.sources.strips[strip].tablet;
        let mut stream = Stream::keyed(draw.0, u64::from(draw.1), errors.key.number());
        errors.shared = stream.normal();
        errors.steps.clear();
        errors.steps.extend((0..steps[strip]).map(|_| stream.normal()));
    }
}

/// The error of one step of a tablet in draw number `draw`, in standard uncertainties: what every curve that was exposed through
/// the tablet supposes there.
pub(crate) fn step_error(seed: u64, draw: u32, tablet: ErrorKey, step: u32) -> f64 {
    let mut stream = Stream::keyed(seed, u64::from(draw), tablet.number());
    // The first is the error that all steps share.
    (0..=step).map(|_| stream.normal()).last().unwrap_or_default()
}

fn one(known: &Known<'_>, draw: (u64, u32), space: &mut Space) -> Resampling {
    let Known { solution, borders, scales, readings } = *known;
    let Space { work, right, tablets, scales: drawn } = space;
    scales.draw(draw, drawn);
    draw_tablets(readings, &solution.steps, draw, tablets);
    let light = Stream::keyed(draw.0, u64::from(draw.1), ErrorKey::LIGHT.number()).normal();
    let first = &readings.sources.strips[0];
    let log_h_shift = readings.log_h_shared_u * light + first.tablet_shared_u * tablets[0].shared;

    let mut own = Stream::keyed(draw.0, u64::from(draw.1), readings.sources.film.number());
    let uniform = own.uniform();
    let base_fog = readings.base_fog.map(|(density, u)| density + u * own.normal());
    // More exposure than stated: the curve lies at a higher log H than the readings say, so density at theirs is lower.
    let mut error = |(number, row): (usize, &Equation)| {
        let (strip, step) = row.place;
        let shared = tablets[strip].steps.get(step as usize - 1).copied().unwrap_or(0.0);
        row.own * own.normal() - row.along * shared + scales.error(number, drawn)
    };
    let errors: Vec<f64> = solution.rows.iter().enumerate().map(&mut error).collect();
    let number = pick(&solution.stiffnesses, own.uniform());
    let stiffness = &solution.stiffnesses[number];
    let values: Vec<f64> =
        solution.rows.iter().zip(&errors).map(|(row, error)| row.density + error).collect();
    right_side(&solution.rows, values.iter().copied(), right);
    let root = PRIOR_SHARE * stiffness.lambda.sqrt();
    for start in 0..right.len() - 2 {
        let innovation = root * own.normal();
        for (slot, difference) in right[start..].iter_mut().zip(DIFFERENCE) {
            *slot += difference * innovation;
        }
    }
    let mut levels = solution.levels.at[1..].to_vec();
    if let Some(Some(border)) = borders.get(number) {
        let strips = &readings.sources.strips;
        let of_tablet = |strip: usize| strips[strip].tablet_shared_u * tablets[strip].shared;
        let prior = |strip| of_tablet(strip) - of_tablet(0) + level_u(&strips[strip]) * own.normal();
        let prior: Vec<f64> = (1..strips.len()).map(prior).collect();
        let moves = join::draw(solution, border, &values, &prior, right);
        levels.iter_mut().zip(moves).for_each(|(level, by)| *level += by);
    }
    let mut coefficients = Vec::with_capacity(right.len());
    monotone::solve(&stiffness.matrix, &stiffness.factor, right, &mut coefficients, work);
    let spline = Spline { from: solution.from, to: solution.to, coefficients };
    Resampling { spline, log_h_shift, base_fog, levels, uniform }
}

/// The number of the stiffness at the share `at` of all likelihood.
fn pick(stiffnesses: &[Stiffness], at: f64) -> usize {
    let mut sum = 0.0;
    let found = stiffnesses.iter().position(|candidate| {
        sum += candidate.share;
        sum > at
    });
    found.unwrap_or(stiffnesses.len() - 1)
}

#[cfg(test)]
mod tests {
    use super::super::{Curve, ErrorKey, FitSettings, Reading, Readings, Sources, Strip, fit};
    use crate::measured::Flags;
    use crate::numeric::robust::standard_deviation;

    fn film(name: &str, tablet: &str, density_u: f64) -> Readings {
        let point = |i: u32| Reading {
            strip: 0,
            step: i + 1,
            log_h: 0.15 * f64::from(i),
            log_h_u: 0.01,
            density: 0.2 + 0.09 * f64::from(i),
            density_u,
            set_aside: false,
            flags: Flags::empty(),
        };
        let strip = Strip { tablet_shared_u: 0.02, ..Strip::first(ErrorKey::of("tablet", tablet)) };
        Readings {
            points: (0..15).map(point).collect(),
            absolute: true,
            log_h_shared_u: 0.01,
            sources: Sources { film: ErrorKey::of("film", name), strips: vec![strip] },
            base_fog: Some((0.2, 0.01)),
            flags: Flags::empty(),
        }
    }

    /// Standard deviation of where density 1.0 is reached: in the first film, and of the difference to the second, draw by
    /// draw.
    fn spreads(first: Readings, second: Readings) -> (f64, f64) {
        let settings = FitSettings { resamplings: 2000, seed: 5 };
        let places = |readings| -> Vec<f64> {
            let curve = fit(readings, settings).unwrap();
            let place = |draw: &super::Resampling| draw.spline.log_h_at(1.0).unwrap() + draw.log_h_shift;
            curve.resampled.iter().map(place).collect()
        };
        let (first, second) = (places(first), places(second));
        let differences: Vec<f64> = first.iter().zip(&second).map(|(a, b)| a - b).collect();
        (standard_deviation(&first).unwrap(), standard_deviation(&differences).unwrap())
    }

    #[test]
    fn errors_of_one_tablet_and_one_light_cancel_between_films() {
        let (alone, difference) = spreads(film("a", "t", 5e-4), film("b", "t", 5e-4));
        assert!(difference < 0.2 * alone, "{difference} of {alone}");
        // Another tablet: its errors add in squares, those of the light still cancel.
        let (alone, difference) = spreads(film("a", "t", 5e-4), film("b", "other", 5e-4));
        let of_tablets = 2.0_f64.sqrt() * (alone * alone - 0.01 * 0.01).sqrt();
        assert!((difference / of_tablets - 1.0).abs() < 0.1, "{difference} of {of_tablets}");
    }

    #[test]
    fn films_share_none_of_their_own_errors() {
        let own = |name| Readings { log_h_shared_u: 0.0, ..film(name, "t", 0.02) };
        let plain = |name| {
            let mut readings = own(name);
            readings.points.iter_mut().for_each(|point| point.log_h_u = 0.0);
            readings.sources.strips[0].tablet_shared_u = 0.0;
            readings
        };
        let (alone, difference) = spreads(plain("a"), plain("b"));
        assert!((difference / (2.0_f64.sqrt() * alone) - 1.0).abs() < 0.1, "{difference} of {alone}");
    }

    #[test]
    fn the_number_of_threads_does_not_matter() {
        let readings = film("a", "t", 0.01);
        let with = |threads: usize| -> Curve {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| fit(readings.clone(), FitSettings { resamplings: 300, seed: 5 }).unwrap())
        };
        assert_eq!(with(1), with(3));
    }
}
