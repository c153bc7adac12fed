//! Results out: report, figures, tables, drawings.

mod curve_json;
mod detail;
mod development;
mod edges;
mod found_json;
mod gather;
mod granularity;
mod html;
mod markup;
mod pages;
mod picture;
mod registration;
mod scans;
mod sheet;
mod spectrum;
mod svg;
mod tables;
mod tones;

use std::path::Path;
use std::sync::Arc;

use twinwedge_core::document::FilmId;
use twinwedge_core::problem::{Problem, Subject};

use crate::session::Session;
use crate::store;

pub use curve_json::grid_json;
pub use detail::detail_json;
pub use development::{development_json, development_text};
pub use edges::{edge_json, sharpness_json};
pub use found_json::found_strip_json;
pub use granularity::{grain_json, grain_pair_json, granularity_curve_json, law_json};
pub use registration::registration_json;
pub use scans::{drift_json, examined_json, flat_json, scan_json};
pub use sheet::sheet_svg;
pub use spectrum::{spectrum_json, viewed_json};
pub use svg::svg;
pub use tables::{FiguresText, figures_csv, figures_json, patch_json, step_json};
pub use tones::{tones_json, tones_text};

/// The report of one candidate against the reference (or of all candidates) as one self-contained HTML file.
///
/// # Errors
/// There is no reference or no candidate. Figures that cannot be had stand in the report with their reason.
pub fn report_html(session: &Session, candidate: Option<&FilmId>) -> Result<String, Problem> {
    let series = Arc::clone(session.series());
    let (reference, films) = gather::shown(&series, candidate)?;
    Ok(html::page(&gather::gather(&mut session.begin_check(), reference, &films)))
}

/// Writes report (.html), figures (.json), table (.csv) or contact sheet of grain (.svg) of the series to `path`, by its ending;
/// a file that is there is replaced whole or not at all. A report of many films is a first page at `path` and a folder beside it
/// with a page for each. Gives what is missing or doubtful in what was written.
///
/// # Errors
/// An unknown ending, or what the writer found.
pub fn to_file(session: &Session, candidate: Option<&FilmId>, path: &Path) -> Result<Vec<Problem>, Problem> {
    let ending = path.extension().and_then(|ending| ending.to_str()).map(str::to_ascii_lowercase);
    match ending.as_deref() {
        Some("html" | "htm") => report(session, candidate, path),
        Some("json") => {
            let (text, mut problems) = (FiguresText::of(session)?, Vec::new());
            store::save_by(path, |file| {
                problems = text.write(file)?;
                Ok(())
            })?;
            Ok(problems)
        }
        Some("csv") => {
            let (table, problems) = tables::figures_table(session)?;
            store::save(path, table.as_bytes())?;
            Ok(problems)
        }
        Some("svg") => {
            store::save(path, sheet_svg(session)?.as_bytes())?;
            Ok(session.check())
        }
        _ => Err(Problem::error(
            Subject::File { path: path.display().to_string(), place: None },
            "Nothing is written to a file with this ending.",
            "End the name in .html for the report, .json for all figures, .csv for the table of figures, or .svg for a contact \
             sheet of the grain of all films.",
        )),
    }
}

/// Writes the report: one page, or many where there are many films.
fn report(session: &Session, candidate: Option<&FilmId>, path: &Path) -> Result<Vec<Problem>, Problem> {
    let series = Arc::clone(session.series());
    let (reference, films) = gather::shown(&series, candidate)?;
    let mut check = session.begin_check();
    if films.len() > pages::ON_ONE_PAGE {
        pages::write(&mut check, reference, &films, path)?;
        return Ok(check.finish());
    }
    let gathered = gather::gather(&mut check, reference, &films);
    store::save(path, html::page(&gathered).as_bytes())?;
    Ok(if candidate.is_some() { gathered.problems } else { check.finish() })
}

/// What a problem is about, in words.
fn subject_words(subject: &Subject) -> String {
    match subject {
        Subject::Series => "series".to_owned(),
        Subject::Film(id) => format!("film {}", id.0),
        Subject::Scan(id) => format!("scan {}", id.0),
        Subject::Tablet(id) => format!("tablet {}", id.0),
        Subject::Calibration(id) => format!("calibration {}", id.0),
        Subject::File { path, place: None } => path.clone(),
        Subject::File { path, place: Some(place) } => format!("{path}, {place}"),
    }
}
