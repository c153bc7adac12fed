//! Results out: report, figures, tables, drawings.

mod curve_json;
mod detail;
mod development;
mod edges;
mod file;
mod found_json;
mod gather;
mod granularity;
mod html;
mod markup;
mod picture;
mod registration;
mod scans;
mod sheet;
mod spectrum;
mod svg;
mod tables;
mod tones;

use twinwedge_core::document::FilmId;
use twinwedge_core::problem::{Problem, Subject};

use crate::session::Session;

pub use curve_json::grid_json;
pub use detail::detail_json;
pub use development::{development_json, development_text};
pub use edges::{edge_json, sharpness_json};
pub use file::to_file;
pub use found_json::found_strip_json;
pub use granularity::{grain_json, grain_pair_json, granularity_curve_json, law_json};
pub use registration::registration_json;
pub use scans::{drift_json, examined_json, flat_json, scan_json};
pub use sheet::sheet_svg;
pub use spectrum::{spectrum_json, viewed_json};
pub use svg::svg;
pub use tables::{figures_csv, figures_json, patch_json, step_json};
pub use tones::{tones_json, tones_text};

/// The report of one candidate against the reference (or of all candidates) as one self-contained HTML file.
///
/// # Errors
/// There is no reference or no candidate. Figures that cannot be had stand in the report with their reason.
pub fn report_html(session: &Session, candidate: Option<&FilmId>) -> Result<String, Problem> {
    Ok(html::page(&gather::gather(session, candidate)?))
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
