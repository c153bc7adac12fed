//! Prints side by side and grain crops at one scale.

use std::fmt::Write;

use twinwedge_core::compare::format;
use twinwedge_core::document::PatchRole;
use twinwedge_core::drawing::LADDER_NOTE;
use twinwedge_core::words::Sentence;

use crate::export::gather::{CandidatePart, FilmPart, Gathered};
use crate::export::markup::{escape, escape_plain};
use crate::export::picture::{GRAIN_MEAN, PrintPictures};
use crate::export::svg::{FONTS, INK, ladder};

/// Width of the grey ladder on the sheet, millimetres.
const WIDTH: f64 = 178.0;

/// Pictures that several sections show, once in the file: the reference's print and grain, and the marks on the prints.
pub(super) fn shared(gathered: &Gathered) -> String {
    let mut out =
        String::from("<svg width=\"0\" height=\"0\" class=\"shared\" aria-hidden=\"true\"><defs>\n");
    if let Some(prints) = &gathered.prints {
        if let Ok(uri) = &prints.reference {
            let _ = writeln!(
                out,
                "<image id=\"reference-print\" width=\"{}\" height=\"{}\" href=\"{uri}\"/>",
                prints.width, prints.height
            );
        }
        let _ = writeln!(out, "<g id=\"print-marks\">{}</g>", marks(gathered, prints));
    }
    for (part, name) in with_grain(gathered) {
        if let Some(Ok(crop)) = &part.crop {
            let _ = writeln!(
                out,
                "<image id=\"{name}\" width=\"{side}\" height=\"{side}\" href=\"{}\" class=\"crop\"/>",
                crop.uri,
                side = crop.side_um
            );
        }
    }
    out.push_str("</defs></svg>\n");
    out
}

/// All films, reference first, and what the picture of each one's grain is called in the file.
fn with_grain(gathered: &Gathered) -> impl Iterator<Item = (&FilmPart, String)> {
    let candidates = gathered.candidates.iter().enumerate();
    let candidates = candidates.map(|(number, candidate)| (&candidate.part, grain_name(number)));
    std::iter::once((&gathered.reference, "reference-grain".to_owned())).chain(candidates)
}

pub(super) fn grain_name(number: usize) -> String {
    format!("grain-{number}")
}

/// The grain of all films: the same piece of each, small.
pub(super) fn sheet(out: &mut String, gathered: &Gathered) {
    let mut figures = String::new();
    for (part, name) in with_grain(gathered) {
        let (Some(Ok(crop)), Some(Ok(grain))) = (&part.crop, &part.grain) else { continue };
        let (label, spoken) = (escape(&part.film.label), escape_plain(&part.film.label));
        let _ = writeln!(
            figures,
            "<figure><svg viewBox=\"0 0 {side} {side}\" role=\"img\" aria-label=\"Grain of {spoken}\"><use \
             href=\"#{name}\"/></svg><figcaption>{label}: {}</figcaption></figure>",
            format::measured(&grain.rms, 1),
            side = crop.side_um
        );
    }
    if !figures.is_empty() {
        let _ = write!(
            out,
            "<h2>Grain of all films</h2>\n<div class=\"sheet\">\n{figures}</div>\n<p class=\"small\">Pieces of \
             one size, at one mean density of {}, each with its RMS granularity.</p>\n",
            format::number(GRAIN_MEAN, 2)
        );
    }
}

/// Outlines of the sampled patches and rings around the spots, in the reference print's pixels.
fn marks(gathered: &Gathered, prints: &PrintPictures) -> String {
    let mut out = String::new();
    // Drawn to be seen at half a page: about 86 mm across.
    let hair = prints.width / 86.0 * 0.22;
    let card = gathered.series.layout.as_ref().and_then(|layout| {
        layout.patches.iter().find(|patch| patch.role == PatchRole::GreyCard).map(|patch| patch.name.as_str())
    });
    for (name, quad) in &prints.patches {
        let points: Vec<String> =
            quad.corners.iter().map(|corner| format!("{:.1},{:.1}", corner.x, corner.y)).collect();
        let points = points.join(" ");
        let width = if Some(name.as_str()) == card { hair * 2.5 } else { hair };
        // Black on white: seen on every tone.
        let _ = write!(
            out,
            "<polygon points=\"{points}\" fill=\"none\" stroke=\"#fff\" stroke-width=\"{:.2}\"/><polygon points=\"{points}\" \
             fill=\"none\" stroke=\"#000\" stroke-width=\"{width:.2}\"/>",
            width + 2.0 * hair,
        );
    }
    let text = prints.width / 86.0 * 2.6;
    for (index, spot) in gathered.series.spots.iter().enumerate() {
        let radius = spot.radius.max(prints.width / 86.0 * 0.9);
        for (tone, width) in [("#fff", 3.0 * hair), ("#000", hair)] {
            let _ = write!(
                out,
                "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{radius:.1}\" fill=\"none\" stroke=\"{tone}\" \
                 stroke-width=\"{width:.2}\"/>",
                spot.at.x, spot.at.y
            );
        }
        let _ = write!(
            out,
            "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{text:.1}\" font-family=\"{FONTS}\" fill=\"{INK}\" stroke=\"#fff\" \
             stroke-width=\"{:.2}\" paint-order=\"stroke\">{}</text>",
            spot.at.x + radius * 1.3,
            spot.at.y + text * 0.35,
            text * 0.25,
            index + 1
        );
    }
    out
}

/// The two prints in one frame with what was sampled in them, and the ladder to judge the screen by.
pub(super) fn prints(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    // A film without a print beside a reference that has one is told; where there are none at all, there is nothing to show.
    let Some(prints) = &gathered.prints else { return };
    out.push_str("<h2>Prints</h2>\n");
    let reference = match &prints.reference {
        Ok(_) => Ok("<use href=\"#reference-print\"/>".to_owned()),
        Err(problem) => Err(problem.to_string()),
    };
    let other = match &candidate.print {
        Some(Ok(uri)) => {
            Ok(format!("<image width=\"{}\" height=\"{}\" href=\"{uri}\"/>", prints.width, prints.height))
        }
        Some(Err(problem)) => Err(problem.to_string()),
        None => Err("There is no scan of this film's print.".to_owned()),
    };
    let (width, height) = (prints.width, prints.height);
    let frame = |picture: Result<String, String>, label: &str, class: &str| match picture {
        Ok(picture) => format!(
            "<figure><div class=\"surround\"><svg viewBox=\"0 0 {width} {height}\" role=\"img\" aria-label=\"Print of \
             {}\">{picture}<use href=\"#print-marks\"/></svg></div><figcaption class=\"{class}\">{}</figcaption>\
             </figure>\n",
            escape_plain(label),
            escape(label)
        ),
        Err(reason) => format!("<p class=\"small\">{}: {}</p>\n", escape(label), escape(&reason)),
    };
    let _ = write!(
        out,
        "<figure>{}<figcaption>{LADDER_NOTE}</figcaption></figure>\n<div class=\"pair prints\">\n{}{}</div>\n",
        ladder(WIDTH),
        frame(reference, &gathered.reference.film.label, ""),
        frame(other, &candidate.part.film.label, "candidate")
    );
    let mut caption = String::from(
        "The candidate's print is shown registered to the reference's. Outlines: areas sampled for the patches, the grey \
         card's heavier.",
    );
    if !gathered.series.spots.is_empty() {
        let names =
            gathered.series.spots.iter().enumerate().map(|(i, spot)| format!("{} {}", i + 1, spot.name));
        let names: Vec<String> = names.collect();
        let _ = write!(caption, " Rings: spots {}.", escape(&names.join(", ")));
    }
    let _ = writeln!(out, "<p class=\"small\">{caption}</p>");
}

/// Grain crops of both films at the same scale and mean density.
pub(super) fn grain(out: &mut String, gathered: &Gathered, candidate: &CandidatePart, number: usize) {
    let parts = [(&gathered.reference, ""), (&candidate.part, "candidate")];
    if parts.iter().all(|(part, _)| part.grain.is_none()) {
        return;
    }
    let pitches = parts.iter().filter_map(|(part, _)| Some(part.grain.as_ref()?.as_ref().ok()?.pitch.0));
    let pitch = pitches.fold(f64::INFINITY, f64::min);
    let pitch = if pitch.is_finite() { format!(" data-pitch=\"{pitch:.4}\"") } else { String::new() };
    let _ = writeln!(out, "<h2>Grain</h2>\n<div class=\"pair grain\"{pitch}>");
    for (part, class) in parts {
        let (label, spoken) = (escape(&part.film.label), escape_plain(&part.film.label));
        match (&part.crop, &part.grain) {
            (Some(Ok(crop)), _) => {
                let name = if class.is_empty() { "reference-grain".to_owned() } else { grain_name(number) };
                let picture = format!("<use href=\"#{name}\"/>");
                let _ = writeln!(
                    out,
                    "<figure><svg viewBox=\"0 0 {side} {side}\" role=\"img\" aria-label=\"Grain of {spoken}\">{picture}{}</svg>\
                     <figcaption class=\"{class}\">{label}{}</figcaption></figure>",
                    crop.scale_bar(),
                    measured(part),
                    side = crop.side_um
                );
            }
            (Some(Err(problem)), _) | (None, Some(Err(problem))) => {
                let _ = writeln!(out, "<p class=\"small\">{label}: {}</p>", escape(&problem.to_string()));
            }
            _ => {
                let _ =
                    writeln!(out, "<p class=\"small\">{label}: no area was marked to measure grain in.</p>");
            }
        }
    }
    let _ = write!(
        out,
        "</div>\n<p class=\"small\">Pieces of one size, brought to one mean density of {} so that tone does not \
         pass for grain; pixels of the scan as they are, contrast unchanged.</p>\n",
        format::number(GRAIN_MEAN, 2)
    );
}

/// What must be known of how the granularity of both films was measured.
pub(super) fn grain_notes(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    let parts = [&gathered.reference, &candidate.part];
    if parts.iter().all(|part| part.grain.is_none()) {
        return;
    }
    out.push_str("<h3>Grain</h3>\n");
    for part in parts {
        let Some(Ok(grain)) = &part.grain else { continue };
        let without = grain.without_scanner().map(|rms| {
            format!("{} is what it would be without the scanner's blur.", format::measured(&rms, 1))
        });
        let said: Vec<String> = grain
            .notes
            .iter()
            .chain(&grain.loss_in_words())
            .map(Sentence::to_string)
            .chain(without)
            .collect();
        if !said.is_empty() {
            let _ = writeln!(
                out,
                "<p class=\"small\">{}: {}</p>",
                escape(&part.film.label),
                escape(&said.join(" "))
            );
        }
    }
}

fn measured(part: &FilmPart) -> String {
    let Some(Ok(grain)) = &part.grain else { return String::new() };
    format!(
        ": RMS granularity {} at density {}, through {} µm; scanned at {} µm a pixel",
        format::measured(&grain.rms, 1),
        format::number(grain.mean_density.number(), 2),
        format::number(grain.aperture.0, 0),
        format::number(grain.pitch.0, 1)
    )
}
