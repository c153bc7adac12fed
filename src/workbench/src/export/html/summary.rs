//! What a reader sees first: the few numbers that matter, and for a series the table of all films.

use std::fmt::Write;

use twinwedge_core::compare::difference;
use twinwedge_core::compare::{Comparison, format};
use twinwedge_core::figures::{FigureId, spec};
use twinwedge_core::measured::Value;

use super::{Footnotes, byline, difference_cell};
use crate::export::gather::Gathered;
use crate::export::markup::escape;

/// The figures by which a film is known at a glance, with a short name for a narrow column.
const KEYS: [(FigureId, &str); 4] = [
    (FigureId::SpeedPoint, "speed"),
    (FigureId::AverageGradient, "contrast"),
    (FigureId::BaseFog, "base+fog"),
    (FigureId::Granularity, "granularity"),
];

/// Four differences in large figures.
pub(super) fn keys(out: &mut String, comparison: &Comparison) {
    out.push_str("<div class=\"keys\">\n");
    for (id, name) in KEYS {
        let Some(row) = comparison.rows.iter().find(|row| row.figure == id) else { continue };
        let spec = spec(id);
        let decimals = difference::decimals(spec.difference, spec.decimals);
        let _ = match &row.difference {
            Value::Known(measured) => {
                let parts = format::difference_parts(measured, decimals);
                let (class, words) = match row.distinguishable {
                    Some(true) => ("differs", String::new()),
                    _ => ("same", ", not distinguishable".to_owned()),
                };
                writeln!(
                    out,
                    "<div class=\"{class}\"><span class=\"what\">{name}</span><span class=\"much\">{} \
                     <span class=\"unit\">{}</span></span><span class=\"sure\">{}{words}</span></div>",
                    parts.value,
                    escape(&row.difference_unit),
                    parts.uncertainty
                )
            }
            Value::Undefined(_) => writeln!(
                out,
                "<div class=\"missing\"><span class=\"what\">{name}</span><span class=\"much\">not measured</span></div>"
            ),
        };
    }
    out.push_str("</div>\n");
}

/// Title, summary of all candidates, all curves in one plot.
pub(super) fn index(out: &mut String, gathered: &Gathered) {
    let series = &gathered.series;
    let title = if series.title.is_empty() { "Film comparison" } else { &series.title };
    let _ = write!(
        out,
        "<header>\n<p class=\"kicker\">{} films against {}</p>\n<h1 id=\"all-films\">{}</h1>\n",
        gathered.candidates.len(),
        escape(&gathered.reference.film.label),
        escape(title)
    );
    byline(out, gathered);
    out.push_str("</header>\n<h2>All films</h2>\n<table>\n<thead><tr><th>film</th><th>box speed</th>");
    for (id, name) in KEYS {
        let unit = difference::unit(spec(id).difference, spec(id).unit);
        let unit = if unit.is_empty() { String::new() } else { format!(" <span class=\"u\">{unit}</span>") };
        let _ = write!(out, "<th class=\"v\">{name}{unit}</th>");
    }
    out.push_str("</tr></thead>\n<tbody>\n");
    let mut notes = Footnotes::default();
    for (number, candidate) in gathered.candidates.iter().enumerate() {
        let film = &candidate.part.film;
        let speed = film.box_speed.map_or_else(|| "–".to_owned(), |speed| format::number(speed, 0));
        let _ = write!(
            out,
            "<tr><td><a href=\"#film-{number}\">{}</a></td><td>{speed}</td>",
            escape(&film.label)
        );
        for (id, _) in KEYS {
            let row = candidate.comparison.as_ref().map(|of| of.rows.iter().find(|row| row.figure == id));
            let spec = spec(id);
            let decimals = difference::decimals(spec.difference, spec.decimals);
            let (class, text) = match row {
                Ok(Some(row)) => {
                    let class = if row.distinguishable == Some(true) { "v" } else { "v same" };
                    (class, difference_cell(&row.difference, decimals, &mut notes))
                }
                Ok(None) => ("v", String::new()),
                Err(problem) => {
                    ("v", format!("<span class=\"none\">–</span>{}", notes.mark(&problem.to_string())))
                }
            };
            let _ = write!(out, "<td class=\"{class}\">{text}</td>");
        }
        out.push_str("</tr>\n");
    }
    let _ = write!(
        out,
        "</tbody>\n</table>\n<p class=\"small\">Differences from {}. {} Grey: not distinguishable.</p>\n",
        escape(&gathered.reference.film.label),
        format::INTERVAL_NOTE
    );
    notes.write(out);
    super::curves::all(out, gathered);
    super::pictures::sheet(out, gathered);
}
