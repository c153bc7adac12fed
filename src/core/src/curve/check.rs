//! What readings must be before a curve is fitted to them.

use super::fit::LEAST_U;
use super::{Reading, Readings};
use crate::numeric::math;
use crate::problem::{Problem, Subject};

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
        let cause =
            format!("Step {} holds a number that is not finite, or a negative uncertainty.", point.step);
        return Err(Problem::error(Subject::Series, cause, "Correct the reading or set it aside."));
    }
    let strips = readings.sources.strips.len();
    let placed = |point: &Reading| (1..=MOST_STEPS).contains(&point.step) && point.strip < strips;
    if strips == 0 || !readings.points.iter().all(placed) {
        let cause =
            format!("A reading lies on a strip that is not there, or on a step outside 1 to {MOST_STEPS}.");
        return Err(Problem::error(
            Subject::Series,
            cause,
            "Number steps from 1 and name the strip of each.",
        ));
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
        let cause = format!(
            "A curve needs readings at four exposures or more; there are {points} readings at {}.",
            fitted.len()
        );
        return Err(Problem::error(Subject::Series, cause, "Add readings, or take back points set aside."));
    }
    let strips = 0..readings.sources.strips.len();
    strips.clone().try_for_each(|strip| check_falls(readings, strip))?;
    if !strips.into_iter().any(|strip| rises(readings, strip)) {
        return Err(Problem::error(
            Subject::Series,
            "Densities do not rise with exposure beyond their errors.",
            "Check that these are the readings of an exposed strip.",
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
    let cause = format!(
        "Density falls by {fall:.2} from {first} to {second}, although step {} had more exposure.",
        to.step
    );
    let remedy =
        "Read both steps again, set the wrong one aside, or check that the strip is not the other way round.";
    Err(Problem::error(Subject::Series, cause, remedy))
}
