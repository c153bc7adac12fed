//! The table of all films of a series.

use std::fmt::Write;
use std::sync::Arc;

use twinwedge_core::compare::{self, Comparison, Finding, Kind, Verdict, difference, format};
use twinwedge_core::document::Film;
use twinwedge_core::figures::{FigureId, spec};
use twinwedge_core::problem::Problem;

use super::{Footnotes, difference_cell};
use crate::export::markup::escape;

/// The figures by which a film is known at a glance, with a short name for a narrow column.
const KEYS: [(FigureId, &str); 5] = [
    (FigureId::SpeedPoint, "speed"),
    (FigureId::AverageGradient, "contrast"),
    (FigureId::BaseFog, "base+fog"),
    (FigureId::GranularityNetOne, "grain, equal density"),
    (FigureId::Mtf50, "sharpness"),
];

/// One film of the table of all: its label and box speed, where its report is, and what the comparison found.
pub(super) struct SummaryRow<'a> {
    pub(super) film: &'a Film,
    pub(super) href: String,
    pub(super) comparison: &'a Result<Arc<Comparison>, Problem>,
    /// What is in doubt about it, where that is told.
    pub(super) doubts: Option<String>,
}

/// The table of all films. A figure that was measured in none of them has no column.
pub(super) fn table(out: &mut String, reference: &Film, rows: &[SummaryRow<'_>]) {
    let measured = |id: FigureId| {
        rows.iter().any(|row| row.figure(id).is_ok_and(|row| row.difference.known().is_some()))
    };
    let (shown, missing): (Vec<_>, Vec<_>) = KEYS.into_iter().partition(|(id, _)| measured(*id));
    let doubts = rows.iter().any(|row| row.doubts.is_some());
    out.push_str(
        "<h2>All films</h2>\n<table class=\"all sorts\">\n<thead><tr><th>film</th><th>box speed</th>",
    );
    for (id, name) in &shown {
        let unit = difference::unit(spec(*id).difference, spec(*id).unit);
        let unit = if unit.is_empty() { String::new() } else { format!(" <span class=\"u\">{unit}</span>") };
        let _ = write!(out, "<th class=\"v\">{name}{unit}</th>");
    }
    out.push_str(if doubts { "<th>in doubt</th>" } else { "" });
    out.push_str("</tr></thead>\n<tbody>\n");
    let mut notes = Footnotes::default();
    for row in rows {
        let speed = row.film.box_speed.map_or_else(|| "–".to_owned(), |speed| format::number(speed, 0));
        let _ = write!(
            out,
            "<tr><td><a href=\"{}\">{}</a>{}</td><td>{speed}</td>",
            escape(&row.href),
            escape(&row.film.label),
            row.in_short()
        );
        for (id, _) in &shown {
            row.difference(out, *id, &mut notes);
        }
        if let Some(doubts) = &row.doubts {
            let _ = write!(out, "<td>{}</td>", escape(doubts));
        }
        out.push_str("</tr>\n");
    }
    let _ = write!(
        out,
        "</tbody>\n</table>\n<p class=\"small\">Differences from {}. {} Grey: not distinguishable.",
        escape(&reference.label),
        format::INTERVAL_NOTE
    );
    if !missing.is_empty() {
        let names: Vec<&str> = missing.iter().map(|(_, name)| *name).collect();
        let _ = write!(out, " Not measured in any of these films: {}.", names.join(", "));
    }
    out.push_str("</p>\n");
    notes.write(out);
}

impl SummaryRow<'_> {
    /// What the comparison says of a figure, or in words why it says nothing.
    fn figure(&self, id: FigureId) -> Result<&compare::FigureRow, String> {
        let comparison = self.comparison.as_ref().map_err(ToString::to_string)?;
        let row = comparison.rows.iter().find(|row| row.figure == id);
        row.ok_or_else(|| "The test holds no data for it.".to_owned())
    }

    /// Speed against grain in a sentence, where both were measured.
    fn in_short(&self) -> String {
        let findings = self.comparison.as_ref().map(|comparison| &*comparison.findings).unwrap_or_default();
        let worth = |finding: &&Finding| {
            finding.kind == Kind::SpeedForGrain && finding.verdict != Verdict::NotMeasured
        };
        findings.iter().find(worth).map_or_else(String::new, |finding| {
            format!("<div class=\"small\">{}</div>", escape(&finding.sentence))
        })
    }

    /// The cell of a figure.
    fn difference(&self, out: &mut String, id: FigureId, notes: &mut Footnotes) {
        let spec = spec(id);
        let (class, text) = match self.figure(id) {
            Ok(row) => {
                let class = if row.distinguishable == Some(true) { "v" } else { "v same" };
                let decimals = difference::decimals(spec.difference, spec.decimals);
                (class, difference_cell(&row.difference, decimals, notes))
            }
            Err(why) => ("v", format!("<span class=\"none\">–</span>{}", notes.mark(&why))),
        };
        let _ = write!(out, "<td class=\"{class}\">{text}</td>");
    }
}
