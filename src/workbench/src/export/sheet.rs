//! A contact sheet: the same piece of every film at one scale and one mean density.

use std::fmt::Write;

use twinwedge_core::compare::format;
use twinwedge_core::document::Film;
use twinwedge_core::problem::{Problem, Subject};

use super::gather::{FilmPart, film_part};
use super::markup::escape_plain;
use super::picture::{GRAIN_MEAN, GrainCrop, grain_crops};
use super::svg::{ACCENT, FONTS, INK};
use crate::session::Session;

/// Side of a crop on the sheet, and what lies between crops and at the margins, millimetres.
const SIDE: f64 = 60.0;
const GAP: f64 = 5.0;
const MARGIN: f64 = 10.0;
/// Height of text, and of the words above a crop.
const TEXT: f64 = 3.0;
const WORDS: f64 = 10.0;
/// Millimetres above the first row.
const HEAD: f64 = 24.0;

/// The grain of all films of a series as one SVG picture, reference first. Crops are lossless.
///
/// # Errors
/// No film of the series has a uniform area that could be measured.
pub fn sheet_svg(session: &Session) -> Result<String, Problem> {
    let series = session.series();
    let reference = series.reference_film();
    let films =
        reference.into_iter().chain(series.candidates()).filter(|film| !film.uniform_areas.is_empty());
    let mut parts: Vec<FilmPart> = films.map(|film: &Film| film_part(session, film)).collect();
    grain_crops(session, parts.iter_mut().collect());
    let shown: Vec<(&FilmPart, &GrainCrop)> =
        parts.iter().filter_map(|part| Some((part, part.crop.as_ref()?.as_ref().ok()?))).collect();
    if shown.is_empty() {
        return Err(Problem::error(
            Subject::Series,
            "There is no film with a measured uniform area, so there is nothing to lay on a contact sheet.",
            "Mark a uniform area on a scan of each film (Grain page, or kind grain in a list).",
        ));
    }
    let columns = ((1.4 * shown.len() as f64).sqrt().ceil() as usize).clamp(1, 8);
    let rows = shown.len().div_ceil(columns);
    let across = columns.min(shown.len()) as f64;
    let width = (2.0 * MARGIN + across * (SIDE + GAP) - GAP).max(150.0);
    let height = HEAD + rows as f64 * (WORDS + SIDE + GAP) + MARGIN;
    let title = if series.title.is_empty() { "Grain of all films" } else { &series.title };
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.1}mm\" height=\"{height:.1}mm\" viewBox=\"0 0 {width:.1} \
         {height:.1}\" font-family=\"{FONTS}\" font-size=\"{TEXT}\" fill=\"{INK}\"><title>{0}: grain of all \
         films</title><rect width=\"100%\" height=\"100%\" fill=\"#fff\"/><text x=\"{MARGIN}\" y=\"12\" \
         font-size=\"5\">{0}</text>",
        escape_plain(title)
    );
    // Writing to a String cannot fail.
    let _ = write!(
        out,
        "<text x=\"{MARGIN}\" y=\"18\">Grain: {} mm of each film, at one mean density of {}, with its RMS \
         granularity</text>",
        format::number(shown[0].1.side_um / 1000.0, 2),
        format::number(GRAIN_MEAN, 2)
    );
    for (index, (part, crop)) in shown.iter().enumerate() {
        let x = MARGIN + (index % columns) as f64 * (SIDE + GAP);
        let y = HEAD + (index / columns) as f64 * (WORDS + SIDE + GAP);
        let is_reference = reference.is_some_and(|film| film.id == part.film.id);
        let tone = if is_reference { INK } else { ACCENT };
        let _ = write!(
            out,
            "<text x=\"{x:.1}\" y=\"{:.1}\" fill=\"{tone}\" font-weight=\"600\">{}</text><text x=\"{x:.1}\" \
             y=\"{:.1}\">{}</text><svg x=\"{x:.1}\" y=\"{:.1}\" width=\"{SIDE}\" height=\"{SIDE}\" viewBox=\"0 0 {side} \
             {side}\"><image width=\"{side}\" height=\"{side}\" href=\"{}\" style=\"image-rendering:pixelated\"/>{}</svg>",
            y + 3.0,
            escape_plain(&part.film.label),
            y + 7.5,
            escape_plain(&measured(part)),
            y + WORDS,
            crop.uri,
            crop.scale_bar(),
            side = crop.side_um
        );
    }
    out.push_str("</svg>\n");
    Ok(out)
}

/// `9.9 ± 0.4 at density 1.02`.
fn measured(part: &FilmPart) -> String {
    let Some(Ok(grain)) = &part.grain else { return String::new() };
    format!(
        "{} at density {}",
        format::measured(&grain.rms, 1),
        format::number(grain.mean_density.number(), 2)
    )
}
