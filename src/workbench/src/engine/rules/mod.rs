//! How each question is answered.

mod altered;
mod brackets;
mod calibrations;
mod conclusions;
mod curves;
mod detail;
mod development;
mod edges;
mod encodings;
mod ends;
mod examined;
mod figures;
mod frames;
mod grain;
mod granularity;
mod greys;
mod labels;
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

use crate::words::{Remedy, Rule};
pub use examined::Examined;
pub use measurable::Drift;
pub use tone::chain as tone_chain;

pub(super) use scans::file_name;
pub(crate) use scans::missing;

use twinwedge_core::document::{Film, FilmId, PrintChoice};
use twinwedge_core::problem::{Problem, Subject};

use super::View;
use super::names::stand_in;

/// The film of that name.
fn film<'a>(view: &'a View<'_>, id: &FilmId) -> Result<&'a Film, Problem> {
    view.film(id).ok_or_else(|| Problem::error(Subject::Film(id.clone()), Rule::NoFilm, Remedy::OtherFilm))
}

/// The reference film.
fn reference<'a>(view: &'a View<'_>) -> Result<&'a Film, Problem> {
    view.reference_film()
        .ok_or_else(|| Problem::error(Subject::Series, Rule::NoReference, Remedy::ChooseReference))
}

/// A film's print.
fn print_of(film: &Film) -> Result<&PrintChoice, Problem> {
    film.print.as_ref().ok_or_else(|| {
        Problem::note(
            Subject::Film(film.id.clone()),
            Rule::NoPrint { called: called(film) },
            Remedy::AddPrint,
        )
    })
}

/// What a film is called in sentences: its label is put in where they are shown.
fn called(film: &Film) -> String {
    stand_in(&film.id)
}
