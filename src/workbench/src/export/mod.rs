//! Results out: report, figures, tables, drawings.

mod calibration;
pub use crate::cells;
mod cgats;
mod conclusions;
mod curve_json;
mod detail;
mod development;
mod edges;
mod file;
mod found_json;
mod gather;
mod granularity;
mod greys;
mod html;
mod json;
mod markup;
mod pages;
mod paper;
mod picture;
mod policy;
mod raster;
mod registration;
mod scans;
mod sheet;
mod sheets;
mod slides;
mod spectrum;
mod still;
mod svg;
mod tables;
mod tones;
mod written;

use std::str::FromStr;
use std::sync::Arc;

use twinwedge_core::document::FilmId;
use twinwedge_core::problem::{Problem, Subject};

use crate::session::Session;

pub use calibration::calibration_json;
pub use cgats::{cgats_patches, cgats_steps};
pub use conclusions::{conclusions_json, conclusions_text};
pub use curve_json::grid_json;
pub use detail::detail_json;
pub use development::{development_json, development_text};
pub use edges::{edge_json, sharpness_json};
pub use file::{ReportOf, to_file, to_file_on, to_table_file};
pub use found_json::found_strip_json;
pub use granularity::{grain_json, grain_pair_json, granularity_curve_json, law_json};
pub use greys::{
    bands_json, factor_json, filters_json, greys_json, lighting_json, rendering_json, sensitivity_json,
};
pub use json::json_text;
pub use paper::{COMMON_SCALE, GRAPH_SCALE, GraphSheet, Paper};
pub use registration::registration_json;
pub use scans::{drift_json, encoding_json, examined_json, flat_json, scan_json};
pub use sheet::sheet_svg;
pub use sheets::{Decimal, Table, table};
pub use slides::{Slide, SlideSize, SlidesOf, slide_svg, slides_to_files};
pub use spectrum::{spectrum_json, viewed_json};
pub use still::{drawing_to_file, still_to_file};
pub use svg::svg;
pub use tables::{
    FiguresText, figures_csv, figures_json, patch_differences_json, patch_json, problem_json, step_json,
};
pub use tones::{tones_json, tones_text};
pub use written::{SCHEMA, document};

/// How much of a film a report holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Depth {
    /// Card, findings with pictures, and all evidence.
    #[default]
    Whole,
    /// One sheet a film.
    Sheet,
}

impl FromStr for Depth {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.to_ascii_lowercase().as_str() {
            "whole" => Ok(Self::Whole),
            "sheet" => Ok(Self::Sheet),
            _ => Err("depths are whole and sheet".to_owned()),
        }
    }
}

/// The report of one candidate against the reference (or of all candidates) as one self-contained HTML file.
///
/// # Errors
/// There is no reference or no candidate. Figures that cannot be had stand in the report with their reason.
pub fn report_html(session: &Session, candidate: Option<&FilmId>) -> Result<String, Problem> {
    let series = Arc::clone(session.series());
    let (reference, films) = gather::shown(&series, candidate)?;
    Ok(html::page(&gather::gather(&mut session.begin_check(), reference, &films)))
}

/// The same report as tagged PDF (PDF/UA-1), however many films it has.
///
/// # Errors
/// As [`report_html`].
pub fn report_pdf(session: &Session, candidate: Option<&FilmId>, on: Paper) -> Result<Vec<u8>, Problem> {
    Ok(paper::report(session, candidate, on)?.0)
}

/// A page as pixels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PagePicture {
    /// Width and height in pixels.
    pub size: [u32; 2],
    /// Red, green and blue of each pixel, row by row from the upper left corner.
    pub rgb: Vec<u8>,
}

/// The sheet of one film as it stands on paper, so many pixels wide.
///
/// # Errors
/// As [`report_html`].
pub fn sheet_picture(
    session: &Session,
    film: &FilmId,
    on: Paper,
    width: u32,
) -> Result<PagePicture, Problem> {
    let (svg, [wide, high]) = paper::sheet_drawing(session, film, on)?;
    let size = [width, (f64::from(width) * high / wide).round() as u32];
    let rgb = raster::rgb(&svg, size).map_err(|why| {
        let cause = format!("The page could not be drawn: {why}.");
        Problem::error(Subject::Film(film.clone()), cause, "Export it as .pdf, and look at that.")
    })?;
    Ok(PagePicture { size, rgb })
}

/// One sheet a film as tagged PDF, each on one page.
///
/// # Errors
/// As [`report_html`].
pub fn sheets_pdf(session: &Session, candidate: Option<&FilmId>, on: Paper) -> Result<Vec<u8>, Problem> {
    Ok(paper::sheets(session, candidate, on)?.0)
}
