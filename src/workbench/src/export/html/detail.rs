//! Surviving detail: what both prints agree about, each film's signal-to-grain, and where detail went.

use std::fmt::Write;

use twinwedge_core::compare::{Kind, format};
use twinwedge_core::detail::Detail;
use twinwedge_core::drawing::{coherence_plot, signal_to_grain_plot};

use super::findings::saying;
use crate::export::gather::{CandidatePart, Gathered};
use crate::export::markup::{escape, escape_plain};
use crate::export::picture::grey_picture;
use crate::export::svg::inline;

/// Width of plots on an A4 sheet, millimetres.
const WIDTH: f64 = 178.0;

/// The section of a candidate; nothing where one of the two has no print.
pub(super) fn detail(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    let found = match &candidate.detail {
        None => return,
        Some(Err(problem)) => {
            let _ = writeln!(
                out,
                "<h3>Surviving detail</h3>\n<p class=\"small\">It was not measured. {}</p>",
                escape(&problem.to_string())
            );
            return;
        }
        Some(Ok(found)) => found,
    };
    let detail = &found.detail;
    let labels = [gathered.reference.film.label.as_str(), candidate.part.film.label.as_str()];
    out.push_str("<h3>Surviving detail</h3>\n");
    let _ = write!(
        out,
        "<figure>\n{}\n<figcaption>Coherence of both prints: what share of one print's detail the other tells. Band: 95 % \
         interval. Thin line: what chance reaches in one case of twenty.</figcaption>\n</figure>\n<figure>\n{}\n\
         <figcaption>Power of the scene's detail over that of grain, paper, enlarger and scanner included, as a decimal \
         logarithm. Bands: 95 % intervals. At 0 there is as much grain as detail.</figcaption>\n</figure>\n",
        inline(&saying(&coherence_plot(detail), candidate, &[Kind::Agreement]), WIDTH),
        inline(&saying(&signal_to_grain_plot(detail, labels), candidate, &[Kind::Lost]), WIDTH)
    );
    picture(out, gathered, detail, labels[1]);
    if !detail.differing.is_empty() {
        out.push_str("<p class=\"small\">The frames differ here and these places were left out: ");
        let places: Vec<String> = detail
            .differing
            .iter()
            .map(|place| {
                format!(
                    "around {:.0}, {:.0} px, {}",
                    (place.area.min.x + place.area.max.x) / 2.0,
                    (place.area.min.y + place.area.max.y) / 2.0,
                    escape(&place.difference.words().to_string())
                )
            })
            .collect();
        let _ = writeln!(out, "{}.</p>", places.join("; "));
    }
    let shifts = &detail.shifts;
    let _ = writeln!(
        out,
        "<p class=\"small\">{} blocks of {:.0} pixels. Shifts that the registration left were taken out, {} px in the mean; \
         {} px remain.{}</p>",
        detail.blocks.0,
        detail.block_px,
        format::number(shifts.taken_out_px, 2),
        format::number(shifts.remaining_px, 2),
        detail.notes.iter().map(|note| format!(" {}", escape(&note.to_string()))).collect::<String>()
    );
}

/// The map beside the print, with its scale.
fn picture(out: &mut String, gathered: &Gathered, detail: &Detail, label: &str) {
    let Some(prints) = &gathered.prints else { return };
    let map = &detail.map;
    let (half, step) = (map.step_px / 2.0, map.step_px);
    let (x, y) = (map.first.x - half, map.first.y - half);
    let (width, height) = (map.columns as f64 * step, map.rows as f64 * step);
    // White: all of the detail; black: none; no picture where there is none to lose.
    let pixels: Vec<[u8; 2]> = map
        .share
        .iter()
        .map(|share| share.map_or([0, 0], |share| [(share * 255.0).round() as u8, 255]))
        .collect();
    let Ok(uri) = grey_picture(map.columns, map.rows, &pixels) else { return };
    let band = format!("{} to {} cycles/mm", format::number(map.band.0, 1), format::number(map.band.1, 1));
    let shades: String = (0..=10)
        .map(|k| {
            let tone = k * 255 / 10;
            format!(
                "<rect x=\"{}\" y=\"0\" width=\"5.1\" height=\"3\" fill=\"rgb({tone},{tone},{tone})\"/>",
                k * 5
            )
        })
        .collect();
    let (name, spoken) = (escape(label), escape_plain(label));
    let _ = write!(
        out,
        "<div class=\"pair\">\n<figure><div class=\"surround\"><svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Print of \
         {}\"><use href=\"#reference-print\"/></svg></div><figcaption>{}</figcaption></figure>\n<figure><div \
         class=\"surround\"><svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Map of detail in {spoken}\"><image x=\"{x:.1}\" \
         y=\"{y:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" preserveAspectRatio=\"none\" href=\"{uri}\" \
         class=\"crop\"/></svg></div><figcaption class=\"candidate\">{name}: share of the reference's \
         detail from {band}. Empty: no detail above the reference's grain, or left out.<br><svg viewBox=\"-4 0 64 7\" \
         class=\"scale\" role=\"img\" aria-label=\"Scale of the map\">{shades}<rect x=\"0\" y=\"0\" width=\"55\" \
         height=\"3\" fill=\"none\" stroke=\"#8f8f8f\" stroke-width=\"0.2\"/><text x=\"0\" y=\"6.4\" font-size=\"3\">0</text><text \
         x=\"55\" y=\"6.4\" font-size=\"3\" text-anchor=\"end\">1</text></svg></figcaption></figure>\n</div>\n",
        prints.width,
        prints.height,
        escape_plain(&gathered.reference.film.label),
        escape(&gathered.reference.film.label),
        prints.width,
        prints.height,
    );
}
