//! Results out: report, figures, tables, drawings.

use std::path::Path;

use twinwedge_core::document::FilmId;
use twinwedge_core::drawing::Plot;
use twinwedge_core::grain::Granularity;
use twinwedge_core::patch::PatchSample;
use twinwedge_core::problem::Problem;
use twinwedge_core::tablet::StepSample;

use crate::session::Session;

/// The report of one candidate against the reference (or of all candidates) as one self-contained HTML file.
///
/// # Errors
/// There is no reference or no candidate. Figures that cannot be had stand in the report with their reason.
pub fn report_html(session: &Session, candidate: Option<&FilmId>) -> Result<String, Problem> {
    todo!("{session:?} {candidate:?}")
}

/// All measured figures of the series as JSON. An undefined figure is null with its reason beside it.
///
/// # Errors
/// There is no film.
pub fn figures_json(session: &Session) -> Result<serde_json::Value, Problem> {
    todo!("{session:?}")
}

/// The table of figures and differences as CSV, a row per film and figure.
///
/// # Errors
/// There is no film.
pub fn figures_csv(session: &Session) -> Result<String, Problem> {
    todo!("{session:?}")
}

/// A plot as SVG, `width_mm` wide; true scale in millimetres. Colours are fixed greys and the one accent.
#[must_use]
pub fn svg(plot: &Plot, width_mm: f64) -> String {
    todo!("{plot:?} {width_mm}")
}

/// Writes report (.html), figures (.json) or table (.csv) of the series to `path`, by its ending.
///
/// # Errors
/// An unknown ending, or what the writer found.
pub fn to_file(session: &Session, candidate: Option<&FilmId>, path: &Path) -> Result<(), Problem> {
    todo!("{session:?} {candidate:?} {path:?}")
}

/// One sampled step as JSON, measured numbers in the form of [`figures_json`].
#[must_use]
pub fn step_json(step: &StepSample) -> serde_json::Value {
    todo!("{step:?}")
}

/// One sampled patch as JSON, measured numbers in the form of [`figures_json`].
#[must_use]
pub fn patch_json(patch: &PatchSample) -> serde_json::Value {
    todo!("{patch:?}")
}

/// A granularity as JSON, measured numbers in the form of [`figures_json`].
#[must_use]
pub fn grain_json(grain: &Granularity) -> serde_json::Value {
    todo!("{grain:?}")
}
