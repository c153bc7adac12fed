//! How each question is answered.

mod altered;
mod brackets;
mod curves;
mod detail;
mod development;
mod edges;
mod encodings;
mod examined;
mod figures;
mod frames;
mod grain;
mod granularity;
mod measurable;
mod prints;
mod readings;
mod sampled;
mod scanner_noise;
mod scans;
mod spectrum;
mod steps_seen;
mod tiles;
mod tone;

pub use examined::Examined;
pub use measurable::Drift;
pub use tone::chain as tone_chain;

pub(crate) use scans::missing;

use twinwedge_core::document::{Film, FilmId, PrintChoice, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::View;

/// The film of that name.
fn film<'a>(view: &'a View<'_>, id: &FilmId) -> Result<&'a Film, Problem> {
    view.film(id).ok_or_else(|| {
        Problem::error(
            Subject::Film(id.clone()),
            "The series has no film of this name.",
            "Choose another film.",
        )
    })
}

/// The reference film.
fn reference<'a>(view: &'a View<'_>) -> Result<&'a Film, Problem> {
    view.reference_film().ok_or_else(|| {
        Problem::error(
            Subject::Series,
            "No film of the series is its reference.",
            "Choose the film that all others are compared with.",
        )
    })
}

/// A film's print.
fn print_of(film: &Film) -> Result<&PrintChoice, Problem> {
    film.print.as_ref().ok_or_else(|| {
        Problem::note(
            Subject::Film(film.id.clone()),
            format!("{} has no print.", film.label),
            "Add a scan of its print.",
        )
    })
}

/// The label of a film, for the status line.
fn label_of<'a>(series: &'a Series, id: &'a FilmId) -> &'a str {
    series.film(id).map_or(&id.0, |film| &film.label)
}
