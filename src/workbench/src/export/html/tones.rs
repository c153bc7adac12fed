//! Zones, the way of a tone in four quadrants, and the paper.

use std::fmt::Write;

use twinwedge_core::compare::difference::distinguishable;
use twinwedge_core::compare::format;
use twinwedge_core::document::Film;
use twinwedge_core::drawing::{four_quadrants, paper_plot};
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_core::tone::{
    PAPER_SOURCES, PrintedFilm, TONE_SOURCES, Tones, ZoneDifference, ZoneReading, zone_name,
};

use super::{Footnotes, cell, difference_cell};
use crate::engine::ask::FilmCurve;
use crate::engine::tone_chain;
use crate::export::gather::{CandidatePart, Gathered};
use crate::export::markup::escape;
use crate::export::svg::{inline, quadrants};

/// Width of the diagram on an A4 sheet, millimetres.
const WIDTH: f64 = 150.0;
const BOUNDS: Flags = Flags::LOWER_BOUND.union(Flags::UPPER_BOUND);

/// The section of one candidate.
pub(super) fn tones(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    out.push_str("<h3>Tones, rated alike</h3>\n");
    let tones = match &candidate.tones {
        Ok(tones) => tones,
        Err(problem) => {
            let _ = writeln!(
                out,
                "<p class=\"small\">The zones were not compared. {}</p>",
                escape(&problem.to_string())
            );
            return;
        }
    };
    zones(out, tones);
    diagram(out, gathered, candidate, tones);
    if tones.paper.is_some() {
        prints(out, tones);
    }
    let _ = writeln!(out, "<p class=\"small\">{}</p>", escape(TONE_SOURCES));
}

/// One number of a zone, and its difference from the reference's.
type ZonePart = (fn(&ZoneReading) -> &Value, fn(&ZoneDifference) -> &Value);

fn zones(out: &mut String, tones: &Tones) {
    let (net, separation) = tones.criteria;
    let _ = writeln!(
        out,
        "<p>All films exposed at EI {}, zones one stop apart about the metered tone V. A zone is <em>lost</em> when beyond \
         doubt it lies less than {net} above base+fog or less than {separation} from its neighbour towards V.</p>",
        format::number(tones.exposure_index, 0)
    );
    out.push_str("<h4>Density above base+fog</h4>\n");
    table(out, tones, (|zone| &zone.net, |difference| &difference.net), true);
    out.push_str("<h4>Separation to the next zone</h4>\n");
    table(out, tones, (|zone| &zone.separation, |difference| &difference.separation), false);
    for film in &tones.films {
        let _ = writeln!(
            out,
            "<p class=\"small\">{}: {}</p>",
            escape(&film.label),
            escape(&film.tie.to_string())
        );
    }
}

fn table(out: &mut String, tones: &Tones, (of, between): ZonePart, kept: bool) {
    let mut notes = Footnotes::default();
    out.push_str("<table class=\"zones\">\n<thead><tr><th>Zone</th><th>log H</th>");
    for (index, film) in tones.films.iter().enumerate() {
        let class = if index == 1 { " class=\"candidate\"" } else { "" };
        let _ = write!(out, "<th{class}>{}</th>", escape(&film.label));
        if kept {
            out.push_str("<th>kept</th>");
        }
        if index > 0 {
            out.push_str("<th>difference</th>");
        }
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    for row in &tones.rows {
        let log_h = format::number(row.log_h, 2);
        let _ = write!(out, "<tr><td>{}</td><td>{log_h}</td>", zone_name(row.zone));
        for (index, zone) in row.films.iter().enumerate() {
            let _ = write!(out, "<td>{}</td>", bare(of(zone), &mut notes));
            if kept {
                let _ = write!(out, "<td>{}</td>", zone.kept.word());
            }
            if index > 0 {
                let difference = between(&row.differences[index - 1]);
                let grey = if distinguishable(difference) == Some(true) { "" } else { " class=\"same\"" };
                let _ = write!(out, "<td{grey}>{}</td>", difference_cell(difference, 2, &mut notes));
            }
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
}

/// A cell whose footnotes are reasons alone: what the readings carry stands with the figures, and a bound has its sign.
fn bare(value: &Value, notes: &mut Footnotes) -> String {
    match value {
        Value::Known(known) => {
            cell(&Value::Known(Measured { flags: known.flags & BOUNDS, ..*known }), 2, notes)
        }
        Value::Undefined(_) => cell(value, 2, notes),
    }
}

fn diagram(out: &mut String, gathered: &Gathered, candidate: &CandidatePart, tones: &Tones) {
    let parts = [Some(&gathered.reference), Some(&candidate.part), gathered.third.as_ref()];
    let mut films: Vec<(&Film, &FilmCurve)> = Vec::new();
    for part in parts.into_iter().flatten() {
        if let Ok(curve) = &part.curve
            && films.iter().all(|(film, _)| film.id != part.film.id)
        {
            films.push((&part.film, curve));
        }
    }
    let paper = gathered.paper.as_deref();
    let Ok(chain) = tone_chain(&gathered.series, &films, paper) else { return };
    let diagram = four_quadrants(&chain);
    let half = if diagram.printed {
        "Left above: what the paper makes of each negative density at that film's print exposure. Left below: the print \
         against the subject; the thin line of 45 degrees renders every difference as it was. Thin uprights: 0.04 above the \
         paper's white, and 90 % of its range."
    } else {
        "The left half stays empty: the paper was not tested."
    };
    let _ = write!(
        out,
        "<figure>\n{}\n<figcaption>From subject to print. Right below: the subject's zones as exposures at the film, flare \
         factor {}. Right above: the films, zones marked. {half}</figcaption>\n</figure>\n",
        quadrants(&diagram, WIDTH),
        format::number(10.0_f64.powf(tones.subject.0 - tones.subject.1), 1)
    );
}

/// A line of the print table: what it is called, its value, decimals.
type PrintLine = (&'static str, fn(&PrintedFilm) -> &Value, usize);

fn prints(out: &mut String, tones: &Tones) {
    let mut notes = Footnotes::default();
    let _ = write!(
        out,
        "<p>Print exposure of the reference: {}.</p>\n<table>\n<thead><tr><th>of the print</th>",
        escape(&tones.print_basis.to_string())
    );
    for film in &tones.films {
        let _ = write!(out, "<th>{}</th>", escape(&film.label));
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    let lines: [PrintLine; 5] = [
        ("Print exposure over the reference's, ×", |print| &print.factor, 2),
        ("Blank from negative density", |print| &print.blank_density, 2),
        ("Blank from zone", |print| &print.blank_zone, 1),
        ("Black up to negative density", |print| &print.black_density, 2),
        ("Black up to zone", |print| &print.black_zone, 1),
    ];
    for (label, of, decimals) in lines {
        let _ = write!(out, "<tr><td>{label}</td>");
        for film in &tones.films {
            let text = film.print.as_ref().map(|print| cell(of(print), decimals, &mut notes));
            let _ = write!(out, "<td>{}</td>", text.unwrap_or_default());
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
}

/// The paper, once for all films.
pub(super) fn paper(out: &mut String, gathered: &Gathered) {
    let Some(paper) = &gathered.paper else { return };
    let test = gathered.series.paper.as_ref();
    let label = test.map(|test| test.label.as_str()).filter(|label| !label.is_empty());
    let _ = writeln!(
        out,
        "<h2>Paper{}</h2>",
        label.map_or(String::new(), |label| format!(": {}", escape(label)))
    );
    let _ = write!(
        out,
        "<figure>\n{}\n<figcaption>Print density over exposure, from a print of a step tablet. Band: 95 % interval of the \
         fit.</figcaption>\n</figure>\n",
        inline(&paper_plot(&paper.curve, &paper.figures), WIDTH)
    );
    let mut notes = Footnotes::default();
    let figures = &paper.figures;
    let rows: [(&str, &Value, usize); 6] = [
        ("D-min", &figures.d_min, 2),
        ("D-max", &figures.d_max, 2),
        ("Range R, not rounded", &figures.range, 0),
        ("Speed P, not rounded", &figures.speed, 0),
        ("log H at 0.04 above white (T)", &figures.t, 2),
        ("log H at 90 % of the range (S)", &figures.s, 2),
    ];
    out.push_str("<table>\n<tbody>\n");
    for (label, value, decimals) in rows {
        let _ = writeln!(out, "<tr><td>{label}</td><td>{}</td></tr>", cell(value, decimals, &mut notes));
    }
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
    let _ = writeln!(out, "<p class=\"small\">{}</p>", escape(PAPER_SOURCES));
}
