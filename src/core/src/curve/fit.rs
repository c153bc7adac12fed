//! Fitting a monotone smoothing spline.
//!
//! *The curve* is a penalised B-spline with never-falling coefficients (P. H. C. Eilers and B. D. Marx, Statistical
//! Science 11 (1996)): weighted least squares plus `lambda` times the sum of squared second differences of the
//! coefficients. The penalty leaves lines alone, which is what the middle of a characteristic curve is; third differences
//! biased speed point and gradients by 0.4 to 0.5 of their uncertainty in `tests/simulated`, second ones by 0.2 to 0.3.
//!
//! *Weights* are the inverse variances of the readings. An error of the tablet's density moves a point along log H; it
//! counts in density through the local gradient, `u² = u_D² + (D' u_logH)²` (JCGM 100:2008, 5.1), with the gradient of the
//! fit before. What a calibration errs moves neighbours alike and bends no curve between them: it has no part in the weights but
//! for what it errs at a point otherwise than at its neighbours, and all of it is in the resamplings.
//!
//! *Stiffness* follows from the stated errors by restricted maximum likelihood with known variances: the penalty is
//! read as a normal prior on the second differences, and `lambda` maximises the probability of the readings (G. Wahba, Ann.
//! Statist. 13 (1985); H. D. Patterson and R. Thompson, Biometrika 58 (1971)). Among the ways to choose it this one needs
//! no count of its own for degrees of freedom, does not undersmooth as cross-validation does with twenty points, and
//! gives how likely every other stiffness is, which the resamplings use.
//!
//! Where residuals exceed what the stated errors allow (chi-square above its 99 % quantile) all errors are multiplied by
//! the same factor and the fit repeated (R. T. Birge, Phys. Rev. 40 (1932)), so that uncertainties stay honest. At its
//! 95 % quantile one film in twenty with errors as stated would be told that they are larger by a third.

use core::cmp::Ordering;

use super::check::{check, check_numbers};
use super::join::{self, Levels};
use super::misread;
use super::parametric::{self, Goodness};
use super::resample;
use super::spline::{locate, value_weights};
use super::{Curve, FitSettings, Reading, Readings, Spline};
use crate::numeric::banded::{Banded, Factor};
use crate::numeric::{math, monotone, quantiles};
use crate::problem::{Problem, Subject};
use crate::words;

/// Share of all films with errors as stated whose residuals stay below what counts as a contradiction.
const CONTRADICTED: f64 = 0.99;
/// Width of a spline cell in log H that resolves a toe: half a stop.
const CELL: f64 = 0.15;
/// Bounds on the number of cells.
const CELLS: (usize, usize) = (8, 64);
/// Powers of ten of the stiffness, relative to the readings' own weight, and their spacing.
const STIFFNESS: (f64, f64, f64) = (-5.0, 7.0, 0.25);
/// A reading is never taken as surer than this.
pub(super) const LEAST_U: f64 = 5e-4;

/// Fits a monotone smoothing spline to the readings, and once more to each resampling of them.
///
/// Readings that the others contradict are set aside first, unless they are flagged as kept: see [`Curve::outliers`]. Points
/// set aside get a residual and no say. The result does not depend on the number of threads.
///
/// # Errors
/// A number that is not finite, fewer than four fitted exposures, densities that do not rise with exposure, or that fall
/// with exposure by more than 0.05 and five times their errors.
///
/// ```
/// # use twinwedge_core::curve::{fit, FitSettings, Reading, Readings, Sources};
/// # use twinwedge_core::measured::Flags;
/// let point = |i: u32| Reading {
///     strip: 0, step: i + 1,
///     log_h: 0.15 * f64::from(i),
///     log_h_u: 0.0,
///     density: 0.20 + 0.09 * f64::from(i),
///     density_u: 0.01,
///     set_aside: false,
///     flags: Flags::empty(),
/// };
/// let readings = Readings {
///     points: (0..21).map(point).collect(),
///     absolute: false,
///     log_h_shared_u: 0.0, sources: Sources::default(),
///     base_fog: None,
///     flags: Flags::empty(),
/// };
/// let curve = fit(readings, FitSettings { resamplings: 100, seed: 1 }).unwrap();
/// let (gradient, u) = curve.gradient(1.5).unwrap();
/// assert!((gradient - 0.6).abs() < 1e-6 && u < 0.05);
/// ```
pub fn fit(mut readings: Readings, settings: FitSettings) -> Result<Curve, Problem> {
    check_numbers(&readings)?;
    readings.points.sort_by(in_order);
    let outliers = misread::set_aside(&mut readings);
    Ok(Curve { outliers, ..fit_as_given(readings, settings)? })
}

/// An order that is the data's own, whatever the order of steps and strips.
pub(super) fn in_order(a: &Reading, b: &Reading) -> Ordering {
    let by_place = a.log_h.total_cmp(&b.log_h).then(a.step.cmp(&b.step));
    by_place.then(a.density.total_cmp(&b.density))
}

/// The same with every reading that is not set aside: none is judged by the others.
///
/// # Errors
/// As [`fit`].
pub fn fit_as_given(mut readings: Readings, settings: FitSettings) -> Result<Curve, Problem> {
    readings.points.sort_by(in_order);
    check(&readings)?;
    let fitted: Vec<Reading> = readings.points.iter().filter(|point| !point.set_aside).copied().collect();
    let levels = Levels::of(&readings, &fitted)?;
    let mut solution = solve(&fitted, levels).ok_or_else(undetermined)?;
    let claims = join::claims(&readings, &fitted, &solution);
    readings.points.iter_mut().for_each(|point| point.log_h += solution.levels.at[point.strip]);
    readings.points.sort_by(in_order);
    solution.sort(&fitted, in_order);
    let fitted: Vec<Reading> = readings.points.iter().filter(|point| !point.set_aside).copied().collect();
    let best = solution.spline();
    let residuals =
        readings.points.iter().map(|point| Some(best.density(point.log_h)? - point.density)).collect();
    let points: Vec<parametric::Point> = fitted
        .iter()
        .zip(&solution.rows)
        .map(|(point, row)| (point.log_h, point.density, row.u / solution.error_scale))
        .collect();
    let (resampled, model) = rayon::join(
        || resample::resample(&solution, &readings, settings),
        || parametric::fit_model(&best, &points),
    );
    let levels = join::offsets(&readings, &solution, &claims, &resampled);
    Ok(Curve {
        residuals,
        misfit: solution.misfit,
        error_scale: solution.error_scale,
        outliers: Vec::new(),
        goodness: solution.goodness(),
        model,
        levels,
        best,
        resampled,
        readings,
    })
}

fn undetermined() -> Problem {
    Problem::error(Subject::Series, words::Readings::Undetermined, words::Remedy::CheckReadings)
}

/// A reading as the equations see it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Equation {
    /// First of its four coefficients.
    pub(super) first: usize,
    /// Their weights in its density.
    pub(super) basis: [f64; 4],
    /// Its density as it was read.
    pub(super) density: f64,
    /// Standard uncertainty of its own error, scale included.
    pub(super) own: f64,
    /// What one standard uncertainty more of its log H, scale included, is in density.
    pub(super) along: f64,
    /// Its standard uncertainty in density: both together, and what its scale errs there otherwise than at its neighbours.
    pub(super) u: f64,
    /// Gradient of the curve there.
    pub(super) slope: f64,
    /// Strip and step that it was read on.
    pub(super) place: (usize, u32),
}

impl Equation {
    fn dot(&self, c: &[f64]) -> f64 {
        self.basis.iter().zip(&c[self.first..]).map(|(b, c)| b * c).sum()
    }
}

/// One stiffness, ready to be solved with.
#[derive(Debug, Clone)]
pub(super) struct Stiffness {
    pub(super) lambda: f64,
    pub(super) matrix: Banded,
    pub(super) factor: Factor,
    /// How likely it is given the readings; all stiffnesses sum to 1.
    pub(super) share: f64,
}

/// A fit and everything that resampling it needs.
#[derive(Debug, Clone)]
pub(super) struct Solution {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) rows: Vec<Equation>,
    pub(super) stiffnesses: Vec<Stiffness>,
    pub(super) coefficients: Vec<f64>,
    /// For each strip the highest step whose log H is uncertain.
    pub(super) steps: Vec<u32>,
    /// Where the levels of the strips were found, and what is known of them beforehand.
    pub(super) levels: Levels,
    best: usize,
    misfit: f64,
    error_scale: f64,
}

impl Solution {
    pub(super) fn spline(&self) -> Spline {
        Spline { from: self.from, to: self.to, coefficients: self.coefficients.clone() }
    }

    /// Density of the best fit at a row.
    pub(super) fn fitted(&self, row: &Equation) -> f64 {
        row.dot(&self.coefficients)
    }

    /// The stiffness of the best fit.
    pub(super) fn stiffness(&self) -> &Stiffness {
        &self.stiffnesses[self.best]
    }

    /// Puts the rows of `points` into their order by `compare`, once each lies where its strip's level puts it.
    pub(super) fn sort(&mut self, points: &[Reading], compare: impl Fn(&Reading, &Reading) -> Ordering) {
        let moved =
            points.iter().map(|point| Reading { log_h: point.log_h + self.levels.at[point.strip], ..*point });
        let mut both: Vec<(Reading, Equation)> = moved.zip(self.rows.iter().copied()).collect();
        both.sort_by(|a, b| compare(&a.0, &b.0));
        self.rows = both.into_iter().map(|(_, row)| row).collect();
    }

    /// How much of its own fitted density each reading decides (diagonal of the smoother matrix).
    fn leverages(&self) -> Vec<f64> {
        let factor = &self.stiffnesses[self.best].factor;
        let mut column = vec![0.0; self.coefficients.len()];
        let leverage = |row: &Equation| {
            column.fill(0.0);
            column[row.first..row.first + 4].copy_from_slice(&row.basis);
            factor.solve(&mut column);
            row.dot(&column) / (row.u * row.u)
        };
        self.rows.iter().map(leverage).collect()
    }

    fn chi_square(&self) -> f64 {
        let squares = self.rows.iter().map(|row| (row.density - self.fitted(row)) / row.u);
        squares.map(|z| z * z).sum()
    }

    fn goodness(&self) -> Goodness {
        let residuals =
            self.rows.iter().map(|row| (row.density - self.fitted(row), row.u / self.error_scale));
        Goodness::of(residuals, self.leverages().iter().sum())
    }
}

/// Rounds of fitting at most: gradients settle in two, levels of strips in a few more.
const ROUNDS: u32 = 40;
/// Times that errors may be scaled.
const SCALINGS: u32 = 4;
/// Levels have settled when they move by no more than this in log H.
const SETTLED: f64 = 1e-6;

/// The fit of readings, with the levels of their strips.
pub(super) fn solve(points: &[Reading], mut levels: Levels) -> Option<Solution> {
    let (mut scale, mut scalings) = (1.0, 0);
    let mut solution: Option<Solution> = None;
    for round in 0..ROUNDS {
        let mut next = solve_at(points, &levels, scale, solution.as_ref())?;
        next.error_scale = scale;
        let freedom = points.len() as f64 - next.leverages().iter().sum::<f64>();
        let chi_square = next.chi_square();
        next.misfit = scale * (chi_square / freedom.max(1.0)).sqrt();
        let steps = levels.steps(&next, points);
        let moves = steps.iter().fold(0.0_f64, |most, step| most.max(step.abs()));
        let settled = round >= 2 && moves <= SETTLED;
        if settled {
            let contradicted = freedom >= 1.0 && chi_square > quantiles::chi_square(CONTRADICTED, freedom);
            if !contradicted || scalings >= SCALINGS {
                return Some(next);
            }
            scale = next.misfit.max(scale);
            scalings += 1;
        } else {
            levels.at[1..].iter_mut().zip(&steps).for_each(|(at, step)| *at += step);
        }
        solution = Some(next);
    }
    solution
}

/// One round: gradients as they were in the round before, levels as they stand.
pub(super) fn solve_at(
    points: &[Reading],
    levels: &Levels,
    scale: f64,
    before: Option<&Solution>,
) -> Option<Solution> {
    let place = |point: &Reading| point.log_h + levels.at[point.strip];
    let from = points.iter().map(place).fold(f64::INFINITY, f64::min);
    let to = points.iter().map(place).fold(f64::NEG_INFINITY, f64::max);
    let wanted = ((to - from) / CELL - 1e-6).ceil().min(CELLS.1 as f64) as usize;
    let cells = wanted.max(points.len() - 1).clamp(CELLS.0, CELLS.1);
    let spline = before.map(Solution::spline);
    let row = |point: &Reading| {
        let at = place(point);
        let (first, t) = locate(from, to, cells, at)?;
        // A strip that moved may have left the range of the round before.
        let slope = spline.as_ref().and_then(|spline| spline.gradient(at.clamp(spline.from, spline.to)));
        let slope = slope.unwrap_or(0.0);
        let own = scale * point.density_u.max(LEAST_U);
        let along = scale * slope * point.log_h_u;
        let rough = scale * levels.rough_u(point);
        let (u, place) = (math::hypot(math::hypot(own, along), rough), (point.strip, point.step));
        Some(Equation { first, basis: value_weights(t), density: point.density, own, along, u, slope, place })
    };
    let rows: Option<Vec<Equation>> = points.iter().map(row).collect();
    let mut solution = solve_rows(from, to, cells, rows?)?;
    solution.levels = levels.clone();
    solution.steps = levels.at.iter().map(|_| 0).collect();
    for point in points.iter().filter(|point| point.log_h_u > 0.0) {
        let highest = &mut solution.steps[point.strip];
        *highest = point.step.max(*highest);
    }
    Some(solution)
}

/// A second difference.
pub(super) const DIFFERENCE: [f64; 3] = [1.0, -2.0, 1.0];

/// The penalty: sum of squared second differences.
fn penalty(size: usize) -> Banded {
    let mut penalty = Banded::zero(size);
    for start in 0..size - 2 {
        for (i, a) in DIFFERENCE.iter().enumerate() {
            for (j, b) in DIFFERENCE.iter().enumerate().take(i + 1) {
                penalty.add(start + i, start + j, a * b);
            }
        }
    }
    penalty
}

/// `B'W z` for values `z` at the rows, into `out`.
pub(super) fn right_side(rows: &[Equation], values: impl Iterator<Item = f64>, out: &mut [f64]) {
    out.fill(0.0);
    for (row, value) in rows.iter().zip(values) {
        let weighted = value / (row.u * row.u);
        for (slot, basis) in out[row.first..].iter_mut().zip(&row.basis) {
            *slot += basis * weighted;
        }
    }
}

fn solve_rows(from: f64, to: f64, cells: usize, rows: Vec<Equation>) -> Option<Solution> {
    let size = cells + 3;
    let mut gram = Banded::zero(size);
    for row in &rows {
        for i in 0..4 {
            for j in 0..=i {
                gram.add(row.first + i, row.first + j, row.basis[i] * row.basis[j] / (row.u * row.u));
            }
        }
    }
    let penalty = penalty(size);
    let unit = gram.trace() / penalty.trace();
    let mut right = vec![0.0; size];
    right_side(&rows, rows.iter().map(|row| row.density), &mut right);
    let steps = ((STIFFNESS.1 - STIFFNESS.0) / STIFFNESS.2).round() as u32;
    let stiffness = |step: u32| {
        let lambda = unit * math::pow(10.0, STIFFNESS.0 + STIFFNESS.2 * f64::from(step));
        let matrix = gram.plus(lambda, &penalty);
        let factor = matrix.cholesky()?;
        let mut c = right.clone();
        factor.solve(&mut c);
        // Twice the negative logarithm of the restricted likelihood, but for a constant.
        let explained: f64 = right.iter().zip(&c).map(|(b, c)| b * c).sum();
        let score = factor.ln_determinant() - (size - 2) as f64 * math::ln(lambda) - explained;
        Some(Stiffness { lambda, matrix, factor, share: score })
    };
    let mut stiffnesses: Vec<Stiffness> = (0..=steps).filter_map(stiffness).collect();
    let best =
        (0..stiffnesses.len()).min_by(|a, b| stiffnesses[*a].share.total_cmp(&stiffnesses[*b].share))?;
    let lowest = stiffnesses[best].share;
    for candidate in &mut stiffnesses {
        candidate.share = math::exp((lowest - candidate.share) / 2.0);
    }
    let sum: f64 = stiffnesses.iter().map(|candidate| candidate.share).sum();
    for candidate in &mut stiffnesses {
        candidate.share /= sum;
    }
    let mut coefficients = Vec::new();
    let chosen = &stiffnesses[best];
    monotone::solve(
        &chosen.matrix,
        &chosen.factor,
        &right,
        &mut coefficients,
        &mut monotone::Workspace::default(),
    );
    Some(Solution {
        from,
        to,
        rows,
        stiffnesses,
        coefficients,
        steps: Vec::new(),
        levels: Levels::default(),
        best,
        misfit: 0.0,
        error_scale: 1.0,
    })
}
