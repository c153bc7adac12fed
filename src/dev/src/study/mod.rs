//! Do stated intervals hold the truth? Series of a reference and a candidate are simulated with the errors that a darkroom
//! has, entered as a tester would, measured by the program itself (the same session as window and verbs), and every figure
//! is held against the closed form that the film was made from.
//!
//! - `films`: what is true, mixtures of published forms of the curve.
//! - `series`: what the tester sees of it, with errors.
//! - `scanned`: the same where everything is scanned: strips, prints, plain fields.
//! - `registered`: prints that are laid on each other.
//! - `truth`: the figures of the closed forms, by numerical means of the study's own.
//! - `tally`: how often intervals hold, as a table.
//! - `share`: how surely so many cases tell a share.
//! - `widths`: the same of films and of pairs of films, beside how wide intervals are for the errors that there are.
//! - `claims`: whether what findings say of the two films is true.

mod chance;
pub(crate) mod claims;
mod films;
mod registered;
mod scanned;
mod scans;
mod series;
mod share;
mod tally;
mod truth;
pub(crate) mod widths;

use rayon::prelude::*;
use twinwedge_core::compare::Comparison;
use twinwedge_core::figures::{Difference, registry};
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_workbench::engine::ask::{ComparisonOf, CurveOf};
use twinwedge_workbench::session::Session;

use series::{Simulated, Simulation, Wanted, simulate};
pub(crate) use tally::Tally;

/// What a case is grouped by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum By {
    /// Nothing: all cases in one table.
    Nothing,
    /// Whether base+fog was read or comes from the curve.
    BaseFog,
}

/// One figure of one simulated film or pair, and its truth.
#[derive(Debug, Clone)]
pub(crate) struct Case {
    /// Key of the figure, or of the difference.
    figure: &'static str,
    /// It is the difference of two films by the figure's rule.
    pair: bool,
    /// Base+fog was read, of both films where the case is a pair.
    base_read: bool,
    truth: f64,
    value: Value,
}

/// Simulates and measures that many series.
///
/// # Errors
/// A series that the program refuses as a whole.
pub(crate) fn run(series: u64, seed: u64) -> Result<Tally, String> {
    let cases: Result<Vec<Vec<Case>>, String> = (0..series)
        .into_par_iter()
        .map(|number| measure(simulate(seed, number, Wanted::default())))
        .collect();
    Ok(Tally::of(cases?))
}

fn measure(simulation: Simulation) -> Result<Vec<Case>, String> {
    let [reference, candidate] = &simulation.films;
    let session = Session::of(simulation.series, std::path::PathBuf::new());
    let ask = ComparisonOf { film: candidate.id.clone() };
    let comparison = session.wait(&ask).map_err(|problem| problem.cause.to_string())?;
    let base_read = [reference.base_read, candidate.base_read];
    let mut cases = of_rows(&comparison, base_read, &[reference, candidate].map(Simulated::truths));
    for row in &comparison.rows {
        let Some(spec) = registry().iter().find(|spec| spec.id == row.figure) else { continue };
        let base_read = reference.base_read && candidate.base_read;
        match spec.key {
            "speed_point" => cases.push(Case {
                figure: "relative_speed",
                pair: false,
                base_read,
                truth: (reference.film.speed_point - candidate.film.speed_point) / 2.0_f64.log10(),
                value: row.difference.clone(),
            }),
            "shadow_match_index" => cases.push(Case {
                figure: "shadow_match_index",
                pair: false,
                base_read,
                truth: simulation.matched_index,
                value: row.candidate.clone(),
            }),
            "shadow_match_other" => cases.push(Case {
                figure: "shadow_match_other",
                pair: false,
                base_read,
                truth: simulation.matched_net,
                value: row.candidate.clone(),
            }),
            _ => {}
        }
    }
    for film in [reference, candidate] {
        let Some(truth) = film.stops_less else { continue };
        let curve =
            session.wait(&CurveOf { film: film.id.clone() }).map_err(|problem| problem.cause.to_string())?;
        let found = curve.curve.levels.iter().find(|level| level.strip == 1);
        let value = match found {
            Some(level) => Value::Known(Measured::normal(level.stops_less, level.u)),
            None => Value::Undefined("The strip was not joined.".into()),
        };
        cases.push(Case { figure: "joined_offset", pair: false, base_read: film.base_read, truth, value });
    }
    leave_bounds_out(&mut cases);
    Ok(cases)
}

/// What is only a bound has no interval.
fn leave_bounds_out(cases: &mut [Case]) {
    for case in cases {
        let bound = Flags::LOWER_BOUND | Flags::UPPER_BOUND;
        if case.value.known().is_some_and(|measured| measured.flags.intersects(bound)) {
            case.value = Value::Undefined("The test gives a bound.".into());
        }
    }
}

/// The figures of reference and candidate and their differences, beside the true ones.
fn of_rows(
    comparison: &Comparison,
    base_read: [bool; 2],
    truths: &[Vec<(&'static str, f64)>; 2],
) -> Vec<Case> {
    let mut cases = Vec::new();
    for row in &comparison.rows {
        let Some(spec) = registry().iter().find(|spec| spec.id == row.figure) else { continue };
        let known =
            |film: usize| truths[film].iter().find(|(key, _)| *key == spec.key).map(|(_, truth)| *truth);
        for (film, value) in [&row.reference, &row.candidate].into_iter().enumerate() {
            let base_read = base_read[film];
            let case = |truth| Case { figure: spec.key, pair: false, base_read, truth, value: value.clone() };
            cases.extend(known(film).map(case));
        }
        let Some((reference, candidate)) = known(0).zip(known(1)) else { continue };
        let truth = match spec.difference {
            Difference::Subtract => candidate - reference,
            Difference::Stops => (candidate / reference).log2(),
            Difference::SpeedStops => (reference - candidate) / 2.0_f64.log10(),
            Difference::Percent => 100.0 * (candidate / reference - 1.0),
        };
        let base_read = base_read[0] && base_read[1];
        cases.push(Case { figure: spec.key, pair: true, base_read, truth, value: row.difference.clone() });
    }
    cases
}
