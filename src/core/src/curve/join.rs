//! Several strips of one roll, joined into one curve.
//!
//! Strips of one roll differ by their light alone, so their points lie on one curve once each strip is moved along log H by
//! what its light was less. How far is found together with the curve, as the levels that make the penalised sum of squares
//! least (Gauss's and Newton's method on levels and spline, each round with the spline at its best for the levels; the
//! stiffness is chosen anew in every round). What is known of a level beforehand, its stated value with its uncertainty,
//! enters as one more observation; errors of the tablets that a strip and the first strip do not share loosen it. A level of
//! which nothing is known follows from the densities that the strips have in common, and where they have too little in
//! common, readings are refused.
//!
//! Once found, levels and spline are uncertain together: the resamplings draw both from the bordered normal equations.

use std::collections::BTreeMap;

use nalgebra::{DMatrix, DVector};
use serde::Serialize;

use super::fit::{Equation, LEAST_U, Solution, Stiffness, solve};
use super::{Reading, Readings, Resampling, Strip};
use crate::document::StripLevel;
use crate::numeric::{math, robust};
use crate::problem::{Problem, Subject};
use crate::scan::SharedError;
use crate::units::STOP;
use crate::words;

/// A stated level is never taken as surer than this, in log H: a thousandth of a stop.
const LEAST_LEVEL_U: f64 = 3e-4;
/// Gradient, relative to the steepest, from which a density tells where on the curve it lies.
const STEEP: f64 = 0.25;
/// Points of a strip that must lie on such a part of the other strips' curve.
const COMMON: usize = 2;
/// Longest step of a level in one round, in log H.
const LONGEST_STEP: f64 = 0.2;
/// A stated level is contradicted when it lies this many combined standard uncertainties from what the overlap says:
/// 99 % of normal errors lie within.
const CONTRADICTED: f64 = 2.576;

/// What a calibration errs at a point beyond the mean of what it errs at its neighbours: as an error of the point's own it tells
/// the fit how far to trust the point against them. That their mean is as rough as the point is taken off: of independent errors
/// such a difference has one and a half times the variance.
fn rough(readings: &Readings, fitted: &[Reading]) -> BTreeMap<(usize, u32), f64> {
    let mut found = BTreeMap::new();
    for strip in 0..readings.sources.strips.len() {
        let mut points: Vec<&Reading> = fitted.iter().filter(|point| point.strip == strip).collect();
        points.sort_by(|a, b| a.density.total_cmp(&b.density));
        let errors: Vec<SharedError> = points.iter().map(|point| readings.scale_error(point)).collect();
        for at in 1..points.len().saturating_sub(1) {
            let around = errors[at - 1].mixed(0.5, &errors[at + 1], 0.5);
            let u = errors[at].mixed(1.0, &around, -1.0).u() / math::sqrt(1.5);
            if u > 0.0 {
                found.insert((strip, points[at].step), u);
            }
        }
    }
    found
}

/// The level of one strip against the first, in stops less light.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LevelFound {
    /// The strip, an index into the sources' strips.
    pub strip: usize,
    /// Stops less than the first strip, as used in the curve: statement and overlap together.
    pub stops_less: f64,
    /// Its standard uncertainty in stops.
    pub u: f64,
    /// What was stated: stops less and standard uncertainty.
    pub stated: Option<(f64, f64)>,
    /// What the overlap with the other strips says by itself: stops less and standard uncertainty; `None` where they have
    /// too little in common.
    pub by_overlap: Option<(f64, f64)>,
    /// Statement and overlap contradict each other beyond their uncertainties (99 %).
    pub contradicted: bool,
}

/// Levels of the strips while they are looked for.
#[derive(Debug, Clone, Default)]
pub(super) struct Levels {
    /// For each strip what is added to its stated log H; 0 for the first.
    pub(super) at: Vec<f64>,
    /// Inverse covariance of what is known beforehand of the additional strips.
    precision: DMatrix<f64>,
    /// For each point by strip and step the standard uncertainty of what its scale errs there otherwise than at its neighbours.
    rough: BTreeMap<(usize, u32), f64>,
}

impl Levels {
    /// What is known of the levels, and where the search for the others begins.
    pub(super) fn of(readings: &Readings, fitted: &[Reading]) -> Result<Self, Problem> {
        let strips = &readings.sources.strips;
        let known: Vec<bool> = strips.iter().map(|strip| strip.level != StripLevel::FromOverlap).collect();
        Self::with(readings, fitted, &known)
    }

    /// The same with only those levels taken as known.
    fn with(readings: &Readings, fitted: &[Reading], known: &[bool]) -> Result<Self, Problem> {
        let strips = &readings.sources.strips;
        let rough = rough(readings, fitted);
        let mut levels = Self { at: vec![0.0; strips.len()], precision: precision(strips, known), rough };
        let mut joined: Vec<Reading> = fitted.iter().filter(|point| known[point.strip]).copied().collect();
        let mut open: Vec<usize> = (1..strips.len()).filter(|strip| !known[*strip]).collect();
        while !open.is_empty() {
            let found = open.iter().filter_map(|strip| Some((*strip, begin(&joined, fitted, *strip)?)));
            // The strip that has most in common with what is joined already.
            let Some((strip, (at, _))) = found.max_by(|a, b| a.1.1.cmp(&b.1.1).then(b.0.cmp(&a.0))) else {
                return Err(apart(readings, &joined, fitted, open[0]));
            };
            levels.at[strip] = at;
            let moved = fitted.iter().filter(|point| point.strip == strip);
            joined.extend(moved.map(|point| Reading { log_h: point.log_h + at, ..*point }));
            open.retain(|other| *other != strip);
        }
        Ok(levels)
    }

    /// Standard uncertainty of what the scale errs at a point otherwise than at its neighbours.
    pub(super) fn rough_u(&self, point: &Reading) -> f64 {
        self.rough.get(&(point.strip, point.step)).copied().unwrap_or(0.0)
    }

    fn further(&self) -> usize {
        self.at.len().saturating_sub(1)
    }

    /// By how much each further level must move to be the best for this curve.
    pub(super) fn steps(&self, solution: &Solution, points: &[Reading]) -> Vec<f64> {
        if self.further() == 0 {
            return Vec::new();
        }
        let spline = solution.spline();
        let mut rows = solution.rows.clone();
        for (row, point) in rows.iter_mut().zip(points) {
            row.slope = spline.gradient(point.log_h + self.at[point.strip]).unwrap_or(0.0);
        }
        let Some(border) = Border::of(&rows, solution.stiffness(), &self.precision) else {
            return vec![0.0; self.further()];
        };
        let mut right = DVector::zeros(self.further());
        for row in rows.iter().filter(|row| row.place.0 > 0) {
            let residual = row.density - solution.fitted(row);
            right[row.place.0 - 1] += row.slope * residual / (row.u * row.u);
        }
        right -= &self.precision * DVector::from_column_slice(&self.at[1..]);
        let steps = border.covariance * right;
        steps.iter().map(|step| step.clamp(-LONGEST_STEP, LONGEST_STEP)).collect()
    }
}

/// Inverse covariance of the stated levels: errors of the levels themselves, and those that tablets have as a whole, as far
/// as a strip's tablet is not the first strip's.
fn precision(strips: &[Strip], known: &[bool]) -> DMatrix<f64> {
    let stated: Vec<usize> = (1..strips.len()).filter(|strip| known[*strip]).collect();
    let first = &strips[0];
    let covariance = DMatrix::from_fn(stated.len(), stated.len(), |i, j| {
        let (a, b) = (&strips[stated[i]], &strips[stated[j]]);
        let own = if i == j { level_u(a) * level_u(a) } else { 0.0 };
        own + shared(a, b) - shared(a, first) - shared(b, first) + shared(first, first)
    });
    let mut precision = DMatrix::zeros(strips.len() - 1, strips.len() - 1);
    if let Some(inverse) = covariance.cholesky().map(|factor| factor.inverse()) {
        for (i, a) in stated.iter().enumerate() {
            for (j, b) in stated.iter().enumerate() {
                precision[(a - 1, b - 1)] = inverse[(i, j)];
            }
        }
    }
    precision
}

/// Covariance of what two strips' tablets have as a whole.
fn shared(a: &Strip, b: &Strip) -> f64 {
    if a.tablet == b.tablet { a.tablet_shared_u * b.tablet_shared_u } else { 0.0 }
}

/// Standard uncertainty of a stated level in log H.
pub(super) fn level_u(strip: &Strip) -> f64 {
    match strip.level {
        StripLevel::StopsLess { u, .. } => (u * STOP).max(LEAST_LEVEL_U),
        StripLevel::FromOverlap => 0.0,
    }
}

/// Where the search for a level begins - the middle of what the strip's densities say on the curve of `joined` - and how
/// many of them say something; `None` when too few do.
fn begin(joined: &[Reading], fitted: &[Reading], strip: usize) -> Option<(f64, usize)> {
    let mut places: Vec<f64> = joined.iter().map(|point| point.log_h).collect();
    places.sort_by(f64::total_cmp);
    places.dedup();
    if places.len() < 4 {
        return None;
    }
    let joined: Vec<Reading> = joined.iter().map(|point| Reading { strip: 0, ..*point }).collect();
    let curve = solve(&joined, Levels { at: vec![0.0], ..Levels::default() })?;
    let spline = curve.spline();
    let steepest = joined.iter().filter_map(|point| spline.gradient(point.log_h)).fold(0.0, f64::max);
    let says = |point: &Reading| {
        let margin = 2.0 * point.density_u.max(LEAST_U);
        let within = point.density > spline.lowest() + margin && point.density < spline.highest() - margin;
        let at = spline.log_h_at(point.density).filter(|_| within)?;
        (spline.gradient(at)? >= STEEP * steepest).then_some(at - point.log_h)
    };
    let places: Vec<f64> = fitted.iter().filter(|point| point.strip == strip).filter_map(says).collect();
    let common = places.len();
    Some((robust::median(&places).filter(|_| common >= COMMON)?, common))
}

/// The problem of a strip that has too little in common with the others.
fn apart(readings: &Readings, joined: &[Reading], fitted: &[Reading], strip: usize) -> Problem {
    let range = |points: &mut dyn Iterator<Item = &Reading>| {
        points.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), point| {
            (low.min(point.density), high.max(point.density))
        })
    };
    let own = range(&mut fitted.iter().filter(|point| point.strip == strip));
    let others = range(&mut joined.iter());
    let name = readings.strip_name(strip);
    let cause = if own.0 > own.1 {
        words::Readings::NoReadingForLevel { name }
    } else {
        words::Readings::LevelNotFound { name, low: own.0, high: own.1, from: others.0, to: others.1 }
    };
    let remedy = words::Remedy::SayLevel;
    Problem::error(Subject::Series, cause, remedy)
}

/// How levels and coefficients depend on each other at one stiffness.
#[derive(Debug, Clone)]
pub(super) struct Border {
    /// For each additional strip the right side that its level adds per unit of log H.
    columns: Vec<Vec<f64>>,
    /// These solved for coefficients.
    solved: Vec<Vec<f64>>,
    /// Covariance of the levels.
    covariance: DMatrix<f64>,
}

impl Border {
    fn of(rows: &[Equation], stiffness: &Stiffness, precision: &DMatrix<f64>) -> Option<Self> {
        let further = precision.nrows();
        let mut columns = vec![vec![0.0; stiffness.matrix.size()]; further];
        let mut schur = precision.clone();
        for row in rows.iter().filter(|row| row.place.0 > 0) {
            let strip = row.place.0 - 1;
            let weighted = row.slope / (row.u * row.u);
            schur[(strip, strip)] += row.slope * weighted;
            for (slot, basis) in columns[strip][row.first..].iter_mut().zip(&row.basis) {
                *slot += basis * weighted;
            }
        }
        let solved: Vec<Vec<f64>> = columns
            .iter()
            .map(|column| {
                let mut column = column.clone();
                stiffness.factor.solve(&mut column);
                column
            })
            .collect();
        for i in 0..further {
            for j in 0..further {
                schur[(i, j)] -= dot(&columns[i], &solved[j]);
            }
        }
        let covariance = schur.cholesky()?.inverse();
        Some(Self { columns, solved, covariance })
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// What the resamplings need to draw levels: a border for each stiffness, empty for one strip.
pub(super) fn borders(solution: &Solution) -> Vec<Option<Border>> {
    if solution.levels.further() == 0 {
        return Vec::new();
    }
    let border = |stiffness| Border::of(&solution.rows, stiffness, &solution.levels.precision);
    solution.stiffnesses.iter().map(border).collect()
}

/// Moves levels for one draw: `values` are the rows' densities with their errors, `prior` the error of each stated level
/// in log H, `right` the right side of the coefficients, from which the
/// part of the moves is taken.
pub(super) fn draw(
    solution: &Solution,
    border: &Border,
    values: &[f64],
    prior: &[f64],
    right: &mut [f64],
) -> Vec<f64> {
    let levels = &solution.levels;
    let known = DVector::from_iterator(prior.len(), prior.iter().zip(&levels.at[1..]).map(|(e, at)| e - at));
    let mut own = &levels.precision * known;
    for (row, value) in solution.rows.iter().zip(values).filter(|(row, _)| row.place.0 > 0) {
        own[row.place.0 - 1] += row.slope * value / (row.u * row.u);
    }
    for (slot, solved) in own.iter_mut().zip(&border.solved) {
        *slot -= dot(solved, right);
    }
    let moves = &border.covariance * own;
    for (column, by) in border.columns.iter().zip(moves.iter()) {
        right.iter_mut().zip(column).for_each(|(slot, column)| *slot -= column * by);
    }
    moves.iter().copied().collect()
}

/// For each additional strip with a stated level what the overlap says of it by itself, in log H: offset from the statement
/// and standard uncertainty.
pub(super) fn claims(
    readings: &Readings,
    fitted: &[Reading],
    solution: &Solution,
) -> Vec<Option<(f64, f64)>> {
    let strips = &readings.sources.strips;
    let stated = |strip: usize| strips[strip].level != StripLevel::FromOverlap;
    let claim = |strip: usize| {
        if !stated(strip) {
            return None;
        }
        let known: Vec<bool> = (0..strips.len()).map(|other| other != strip && stated(other)).collect();
        let free = solve(fitted, Levels::with(readings, fitted, &known).ok()?)?;
        let border = Border::of(&free.rows, free.stiffness(), &free.levels.precision)?;
        Some((free.levels.at[strip], border.covariance[(strip - 1, strip - 1)].sqrt()))
    };
    (1..solution.levels.at.len()).map(claim).collect()
}

/// The levels as they were found.
pub(super) fn offsets(
    readings: &Readings,
    solution: &Solution,
    claims: &[Option<(f64, f64)>],
    resampled: &[Resampling],
) -> Vec<LevelFound> {
    let of = |(strip, claim): (usize, &Option<(f64, f64)>)| {
        let at = solution.levels.at[strip];
        let draws: Vec<f64> =
            resampled.iter().filter_map(|draw| draw.levels.get(strip - 1)).copied().collect();
        let u = robust::standard_deviation(&draws).unwrap_or(0.0) / STOP;
        let (stated, by_overlap) = match readings.sources.strips[strip].level {
            StripLevel::FromOverlap => (None, Some((-at / STOP, u))),
            StripLevel::StopsLess { stops, u } => {
                (Some((stops, u)), claim.map(|(at, u)| (stops - at / STOP, u / STOP)))
            }
        };
        let (own, first) = (&readings.sources.strips[strip], &readings.sources.strips[0]);
        let tablets = (shared(own, own) + shared(first, first) - 2.0 * shared(own, first)).max(0.0).sqrt();
        let contradicted = stated.zip(by_overlap).is_some_and(|(stated, found)| {
            let allowed = math::hypot(math::hypot(stated.1, found.1), tablets / STOP);
            (stated.0 - found.0).abs() > CONTRADICTED * allowed
        });
        let stops_less = stated.map_or(0.0, |stated| stated.0) - at / STOP;
        LevelFound { strip, stops_less, u, stated, by_overlap, contradicted }
    };
    (1..).zip(claims).map(of).collect()
}
