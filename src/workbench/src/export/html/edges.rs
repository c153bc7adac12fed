//! Sharpness apart from grain, in the report.

use std::fmt::Write;

use twinwedge_core::compare::{Kind, format};
use twinwedge_core::drawing::{FilmEdge, Role, edge_plots};
use twinwedge_core::sharpness::{EdgeMeasure, EdgeSpace, Sharpness};
use twinwedge_core::shown::capital;
use twinwedge_core::words;

use super::findings::saying;
use super::{Footnotes, cell};
use crate::export::gather::{CandidatePart, FilmPart, Gathered};
use crate::export::markup::escape;
use crate::export::svg::inline;

/// Width of plots, millimetres.
const WIDTH: f64 = 178.0;

/// A film's surest edge.
type Known<'a> = (&'a FilmPart, Role, &'a Sharpness, &'a EdgeMeasure);

/// By which steps the films were measured, each way once.
fn steps(known: &[Known<'_>]) -> String {
    let mut ways: Vec<String> = known.iter().map(|(.., edge)| edge.steps()).collect();
    ways.dedup();
    ways.join("; ")
}

/// Transfer and edge-spread functions of both films over each other, and their numbers.
pub(super) fn edges(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    let parts = [(&gathered.reference, Role::Reference), (&candidate.part, Role::Candidate)];
    if parts.iter().all(|(part, _)| part.sharpness.is_none()) {
        return;
    }
    out.push_str("<h3>Sharpness</h3>\n");
    for (part, _) in parts {
        let why = match &part.sharpness {
            None => "no edge was marked.".to_owned(),
            Some(Err(problem)) => problem.to_string(),
            Some(Ok(_)) => continue,
        };
        let _ = writeln!(out, "<p class=\"small\">{}: {}</p>", escape(&part.film.label), escape(&why));
    }
    let known: Vec<Known<'_>> = parts
        .into_iter()
        .filter_map(|(part, role)| {
            let sharpness = part.sharpness.as_ref()?.as_ref().ok()?;
            Some((part, role, &**sharpness, sharpness.surest()?))
        })
        .collect();
    if known.is_empty() {
        return;
    }
    let films: Vec<FilmEdge<'_>> = known
        .iter()
        .map(|(part, role, sharpness, edge)| FilmEdge {
            label: &part.film.label,
            role: *role,
            mtf: &sharpness.mtf,
            edge,
        })
        .collect();
    let plots = edge_plots(&films);
    let _ = write!(
        out,
        "<figure>\n{}\n<figcaption>Modulation of a slanted edge over spatial frequency, the power of the grain taken off. Steps: {}. \
         Bands: 95 % interval.</figcaption>\n</figure>\n<figure>\n{}\n<figcaption>Density across the edge, \
         averaged along it: 0 and 1 are the uniform areas. What passes them is overshoot. Bands: 95 % \
         interval.</figcaption>\n</figure>\n",
        inline(&saying(&plots.mtf, candidate, &[Kind::Edges]), WIDTH),
        escape(&steps(&known)),
        inline(&plots.spread, WIDTH)
    );
    let mut notes = Footnotes::default();
    out.push_str(
        "<table>\n<thead><tr><th>Film</th><th>50 % at, c/mm</th><th>10 % at, c/mm</th><th>10 to 90 %, µm</th><th>Measured in</th>\
         <th>Edges</th></tr></thead>\n<tbody>\n",
    );
    for (part, _, sharpness, edge) in &known {
        let measured = sharpness.edges.iter().filter(|edge| edge.measured().is_some()).count();
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}{}</td><td>{measured} of {}</td></tr>",
            escape(&part.film.label),
            cell(&sharpness.mtf50, 1, &mut notes),
            cell(&sharpness.mtf10, 1, &mut notes),
            cell(&sharpness.width, 1, &mut notes),
            space(edge),
            if edge.method.scanner_removed { ", scanner removed" } else { ", film with scanner" },
            sharpness.edges.len(),
        );
    }
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
    for (part, _, sharpness, edge) in &known {
        let label = escape(&part.film.label);
        let _ = writeln!(out, "<p>{label}: {}</p>", escape(&overshoot(edge)));
        if let Some(scatter) = sharpness.scatter {
            let _ = writeln!(
                out,
                "<p class=\"small\">{label}: the edges' 50 % scatter by {} %.</p>",
                format::number(100.0 * scatter, 1)
            );
        }
        if !edge.notes.is_empty() {
            let _ = writeln!(out, "<p class=\"small\">{label}: {}</p>", escape(&words::joined(&edge.notes)));
        }
    }
}

fn space(edge: &EdgeMeasure) -> &'static str {
    match edge.method.space {
        EdgeSpace::Exposure => "exposure",
        EdgeSpace::Light => "light",
    }
}

/// Overshoot in a sentence or two.
fn overshoot(edge: &EdgeMeasure) -> String {
    let over = &edge.overshoot;
    let mut words = format!("{}.", capital(over.cause.words()));
    for (lobe, side) in [(&over.dense, "dense"), (&over.thin, "thin")] {
        if !lobe.seen {
            continue;
        }
        let _ = write!(
            words,
            " On the {side} side D {} ({} % of the step)",
            format::measured(&lobe.height, 3),
            format::number(100.0 * lobe.share, 1)
        );
        match lobe.width_um {
            Some(width) => {
                let pixels = width / edge.method.pitch;
                let _ = write!(words, ", falling to a third within {width:.0} µm ({pixels:.1} pixels).");
            }
            None => words.push('.'),
        }
    }
    format!("{words} {}", over.reason)
}
