//! What readings must be before a curve is fitted to them.

use super::fit::LEAST_U;
use super::{Reading, Readings};
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::words;

/// A fall of density counts as one beyond errors from so many combined standard uncertainties ...
pub(super) const FALL_SIGMAS: f64 = 5.0;
/// ... and from so much density.
pub(super) const FALL: f64 = 0.05;
/// Highest step number: no tablet has more.
const MOST_STEPS: u32 = 1000;

/// # Errors
/// Numbers that are not finite, points that lie nowhere.
pub(super) fn check_numbers(readings: &Readings) -> Result<(), Problem> {
    let finite = |point: &Reading| {
        let numbers = [point.log_h, point.log_h_u, point.density, point.density_u];
        numbers.iter().all(|number| number.is_finite()) && point.log_h_u >= 0.0 && point.density_u >= 0.0
    };
    if let Some(point) = readings.points.iter().find(|point| !finite(point)) {
        let cause = words::Readings::NotFinite { step: point.step };
        return Err(Problem::error(Subject::Series, cause, words::Remedy::CorrectReading));
    }
    let strips = readings.sources.strips.len();
    let placed = |point: &Reading| (1..=MOST_STEPS).contains(&point.step) && point.strip < strips;
    if strips == 0 || !readings.points.iter().all(placed) {
        let cause = words::Readings::NoSuchPlace { most_steps: MOST_STEPS };
        return Err(Problem::error(Subject::Series, cause, words::Remedy::NumberSteps));
    }
    Ok(())
}

/// # Errors
/// As [`check_numbers`], fewer than four exposures, densities that do not rise, or fall.
pub(super) fn check(readings: &Readings) -> Result<(), Problem> {
    check_numbers(readings)?;
    let mut fitted: Vec<&Reading> = readings.points.iter().filter(|point| !point.set_aside).collect();
    let points = fitted.len();
    fitted.dedup_by(|a, b| (a.log_h - b.log_h).abs() < 1e-6);
    if fitted.len() < 4 {
        let cause = words::Readings::TooFew { points, fitted: fitted.len() };
        return Err(Problem::error(Subject::Series, cause, words::Remedy::AddReadings));
    }
    let strips = 0..readings.sources.strips.len();
    strips.clone().try_for_each(|strip| check_falls(readings, strip))?;
    if !strips.into_iter().any(|strip| rises(readings, strip)) {
        return Err(Problem::error(
            Subject::Series,
            words::Readings::NoRise,
            words::Remedy::CheckExposedStrip,
        ));
    }
    Ok(())
}

/// The fitted points of a strip, in order of log exposure.
fn fitted(readings: &Readings, strip: usize) -> Vec<&Reading> {
    let mut fitted: Vec<&Reading> =
        readings.points.iter().filter(|point| !point.set_aside && point.strip == strip).collect();
    fitted.sort_by(|a, b| a.log_h.total_cmp(&b.log_h));
    fitted
}

fn sigmas(a: &Reading, b: &Reading) -> f64 {
    math::hypot(a.density_u.max(LEAST_U), b.density_u.max(LEAST_U))
}

/// Whether densities of a strip rise with exposure beyond their errors.
fn rises(readings: &Readings, strip: usize) -> bool {
    let fitted = fitted(readings, strip);
    let Some(mut lowest) = fitted.first() else { return false };
    fitted.iter().any(|point| {
        let rises = point.density - lowest.density > FALL_SIGMAS * sigmas(point, lowest);
        if point.density < lowest.density {
            lowest = point;
        }
        rises
    })
}

/// Densities of a strip must not fall with exposure, give or take their errors.
fn check_falls(readings: &Readings, strip: usize) -> Result<(), Problem> {
    let fitted = fitted(readings, strip);
    let Some(mut highest) = fitted.first() else { return Ok(()) };
    let mut worst = None::<(f64, &Reading, &Reading)>;
    for point in &fitted {
        let fall = highest.density - point.density;
        let counts = fall > FALL.max(FALL_SIGMAS * sigmas(highest, point));
        if counts && worst.is_none_or(|(largest, ..)| fall > largest) {
            worst = Some((fall, highest, point));
        }
        if point.density > highest.density {
            highest = point;
        }
    }
    let Some((fall, from, to)) = worst else { return Ok(()) };
    let (first, second) = (readings.name_of(from), readings.name_of(to));
    let cause = words::Readings::Falls { fall, first, second, step: to.step };
    let remedy = words::Remedy::ReadBothSteps;
    Err(Problem::error(Subject::Series, cause, remedy))
}
