//! Granularity of both films over density and over the aperture, and where the two are alike.

use std::fmt::Write;

use twinwedge_core::compare::Kind;
use twinwedge_core::drawing::{FilmGrain, Role, granularity_plots};
use twinwedge_core::grain::{PairRow, PairSide};
use twinwedge_core::shown::capital;

use super::findings::saying;
use super::{Footnotes, cell, difference_cell};
use crate::export::gather::{CandidatePart, FilmPart, Gathered};
use crate::export::markup::escape;
use crate::export::svg::inline;

/// Width of a plot, millimetres.
const WIDTH: f64 = 178.0;

/// The section; nothing where neither film has a uniform area.
pub(super) fn granularity(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    let parts = [(Role::Reference, &gathered.reference), (Role::Candidate, &candidate.part)];
    let films = parts.map(|(role, part)| FilmGrain {
        role,
        label: &part.film.label,
        curve: part.granularity.curve.as_deref(),
        law: part.granularity.law.as_ref().and_then(|law| law.as_deref().ok()),
    });
    if films.iter().all(|film| film.curve.is_none() && film.law.is_none()) {
        return;
    }
    let plots = granularity_plots(&films);
    out.push_str("<h3>Granularity over density and aperture</h3>\n");
    for (plot, caption) in [
        (
            &plots.density,
            "Granularity of every uniform area; between areas by their variances. Dotted: carried on by the \
                          square-root law, a prediction.",
        ),
        (&plots.aperture, "By the law of apertures (Selwyn, 1935) this is a level line."),
    ] {
        if !plot.layers.is_empty() {
            let _ = write!(
                out,
                "<figure>\n{}\n<figcaption>{} {caption} Bars: 95 % intervals.</figcaption>\n</figure>\n",
                inline(&saying(plot, candidate, &[Kind::GranularityNetOne]), WIDTH),
                escape(&format!("{}.", plot.title))
            );
        }
    }
    for (_, part) in parts {
        law(out, part);
    }
    if let Some(rows) = &candidate.grain {
        table(out, gathered, candidate, rows);
    }
}

fn law(out: &mut String, part: &FilmPart) {
    let label = escape(&part.film.label);
    let _ = match &part.granularity.law {
        Some(Ok(law)) => writeln!(out, "<p>{label}: {}</p>", escape(&law.sentence.to_string())),
        Some(Err(problem)) => {
            writeln!(out, "<p class=\"small\">{label}: {}</p>", escape(&problem.cause.to_string()))
        }
        None => Ok(()),
    };
}

fn table(out: &mut String, gathered: &Gathered, candidate: &CandidatePart, rows: &[PairRow]) {
    let mut notes = Footnotes::default();
    let _ = write!(
        out,
        "<table>\n<thead><tr><th>RMS granularity at</th><th>{}</th><th class=\"candidate\">{}</th><th>difference, %</th></tr>\
         </thead>\n<tbody>\n",
        escape(&gathered.reference.film.label),
        escape(&candidate.part.film.label)
    );
    for row in rows {
        let grey = if row.distinguishable() == Some(true) { "" } else { " class=\"same\"" };
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td>{}</td><td>{}</td><td{grey}>{}</td></tr>",
            escape(&row.alike.words().to_string()),
            side(&row.reference, &mut notes),
            side(&row.candidate, &mut notes),
            difference_cell(&row.percent, 0, &mut notes)
        );
    }
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
}

fn side(side: &PairSide, notes: &mut Footnotes) -> String {
    let at =
        side.density.map_or(String::new(), |density| format!(" <span class=\"small\">D {density:.2}</span>"));
    let how = if side.how.is_empty() { String::new() } else { notes.mark(&capital(&side.how.to_string())) };
    format!("{}{how}{at}", cell(&side.rms, 1, notes))
}
