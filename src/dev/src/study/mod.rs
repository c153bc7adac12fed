//! Do stated intervals hold the truth? Series of a reference and a candidate are simulated with the errors that a darkroom
//! has, entered as a tester would, measured by the program itself (the same session as window and verbs), and every figure
//! is held against the closed form that the film was made from.
//!
//! - `films`: what is true, mixtures of published forms of the curve.
//! - `series`: what the tester sees of it, with errors.
//! - `truth`: the figures of the closed forms, by numerical means of the study's own.
//! - `tally`: how often intervals hold, as a table.
//! - `claims`: whether what findings say of the two films is true.

mod chance;
pub(crate) mod claims;
mod films;
mod series;
mod tally;
mod truth;

use rayon::prelude::*;
use twinwedge_core::figures::registry;
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_workbench::engine::ask::{ComparisonOf, CurveOf};
use twinwedge_workbench::session::Session;

use series::{Simulation, Wanted, simulate};
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
    Ok(Tally::of(series, cases?.into_iter().flatten().collect()))
}

fn measure(simulation: Simulation) -> Result<Vec<Case>, String> {
    let [reference, candidate] = &simulation.films;
    let session = Session::of(simulation.series, std::path::PathBuf::new());
    let ask = ComparisonOf { film: candidate.id.clone() };
    let comparison = session.wait(&ask).map_err(|problem| problem.cause)?;
    let mut cases = Vec::new();
    let truths = [reference, candidate].map(series::Simulated::truths);
    for row in &comparison.rows {
        let Some(spec) = registry().iter().find(|spec| spec.id == row.figure) else { continue };
        for (film, truths, value) in
            [(reference, &truths[0], &row.reference), (candidate, &truths[1], &row.candidate)]
        {
            let known = truths.iter().find(|(key, _)| *key == spec.key);
            cases.extend(known.map(|(figure, truth)| Case {
                figure,
                base_read: film.base_read,
                truth: *truth,
                value: value.clone(),
            }));
        }
        let base_read = reference.base_read && candidate.base_read;
        match spec.key {
            "speed_point" => cases.push(Case {
                figure: "relative_speed",
                base_read,
                truth: (reference.film.speed_point - candidate.film.speed_point) / 2.0_f64.log10(),
                value: row.difference.clone(),
            }),
            "shadow_match_index" => cases.push(Case {
                figure: "shadow_match_index",
                base_read,
                truth: simulation.matched_index,
                value: row.candidate.clone(),
            }),
            "shadow_match_other" => cases.push(Case {
                figure: "shadow_match_other",
                base_read,
                truth: simulation.matched_net,
                value: row.candidate.clone(),
            }),
            _ => {}
        }
    }
    for film in [reference, candidate] {
        let Some(truth) = film.stops_less else { continue };
        let curve = session.wait(&CurveOf { film: film.id.clone() }).map_err(|problem| problem.cause)?;
        let found = curve.curve.levels.iter().find(|level| level.strip == 1);
        let value = match found {
            Some(level) => Value::Known(Measured::normal(level.stops_less, level.u)),
            None => Value::Undefined("The strip was not joined.".to_owned()),
        };
        cases.push(Case { figure: "joined_offset", base_read: film.base_read, truth, value });
    }
    for case in &mut cases {
        let bound = Flags::LOWER_BOUND | Flags::UPPER_BOUND;
        if case.value.known().is_some_and(|measured| measured.flags.intersects(bound)) {
            case.value = Value::Undefined("The test gives a bound.".to_owned());
        }
    }
    Ok(cases)
}
