//! Tables: figures, patches, spots, and where the definitions come from.

use std::fmt::Write;

use twinwedge_core::citation::SourceKind;
use twinwedge_core::compare::{Comparison, GREYS_CAUTION, PatchRow, difference, format};
use twinwedge_core::document::Film;
use twinwedge_core::drawing::screen_grey;
use twinwedge_core::figures::{FigureGroup, registry, spec};
use twinwedge_core::measured::{Flags, Value};
use twinwedge_core::units::Density;

use super::{Footnotes, cell, difference_cell};
use crate::export::gather::Gathered;
use crate::export::markup::escape;

fn unit(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(" <span class=\"u\">{}</span>", escape(unit)) }
}

fn head(out: &mut String, (class, first): (&str, &str), gathered: &Gathered, film: &Film, last: &str) {
    let _ = write!(
        out,
        "<table{class}>\n<thead><tr><th>{first}</th><th class=\"v\">{}</th><th class=\"v candidate\">{}</th>\
         <th class=\"v\">difference</th>{last}</tr></thead>\n<tbody>\n",
        escape(&gathered.reference.film.label),
        escape(&film.label)
    );
}

/// All figures of both films and their differences.
pub(super) fn table(out: &mut String, gathered: &Gathered, film: &Film, comparison: &Comparison) {
    out.push_str("<h3>Figures</h3>\n");
    head(out, ("", "figure"), gathered, film, "");
    let mut notes = Footnotes::default();
    let mut group = None;
    for row in &comparison.rows {
        let spec = spec(row.figure);
        let own = FigureGroup::of(row.figure);
        if group.replace(own) != Some(own) {
            let _ = writeln!(out, "<tr class=\"group\"><th colspan=\"4\">{}</th></tr>", own.text());
        }
        let class = if row.distinguishable == Some(true) { "differs" } else { "same" };
        let reference = cell(&row.reference, spec.decimals, &mut notes);
        let candidate = cell(&row.candidate, spec.decimals, &mut notes);
        let decimals = difference::decimals(spec.difference, spec.decimals);
        // Where a figure itself is missing its own reason stands there already.
        let missing = row.reference.known().is_none() || row.candidate.known().is_none();
        let difference = if missing {
            "<span class=\"none\">–</span>".to_owned()
        } else {
            difference_cell(&row.difference, decimals, &mut notes)
        };
        let difference_unit = if row.difference.known().is_some() && row.difference_unit != spec.unit {
            unit(&row.difference_unit)
        } else {
            String::new()
        };
        let _ = writeln!(
            out,
            "<tr class=\"{class}\"><td><a class=\"how\" href=\"#how-{}\">{}</a>{}</td><td class=\"v\">{reference}</td><td \
             class=\"v\">{candidate}</td><td class=\"v d\">{difference}{difference_unit}</td></tr>",
            spec.key,
            escape(spec.label),
            unit(spec.unit)
        );
    }
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
}

/// Speeds by every criterion, their distances from the box, and when each is the right one.
pub(super) fn speeds(out: &mut String, gathered: &Gathered, film: &Film, comparison: &Comparison) {
    out.push_str("<h3>Speeds</h3>\n");
    head(out, ("", "criterion, and when it is the right one"), gathered, film, "");
    let mut notes = Footnotes::default();
    for row in &comparison.speeds {
        let class =
            if difference::distinguishable(&row.difference) == Some(true) { "differs" } else { "same" };
        let mut films = [0, 1].map(|which| {
            let mut text = cell(&row.speeds[which], 0, &mut notes);
            if let Some(printed) = &row.printed[which] {
                let _ = write!(text, "<div class=\"small\">{}</div>", escape(printed));
            }
            if let Value::Known(stops) = &row.from_box[which] {
                let place = format::thirds_beside(stops, "the box");
                let assumed = if stops.flags.contains(Flags::ASSUMED) { ", assumed" } else { "" };
                let _ = write!(
                    text,
                    "<div class=\"small\">{} stops, {place}{assumed}</div>",
                    escape(&format::difference(stops, 2)),
                );
            }
            text
        });
        let [reference, candidate] = &mut films;
        let _ = writeln!(
            out,
            "<tr class=\"{class}\"><td>{}<div class=\"small\">{}</div></td><td class=\"v\">{reference}</td>\
             <td class=\"v\">{candidate}</td><td class=\"v d\">{} <span class=\"u\">stops</span></td></tr>",
            row.criterion.text(),
            row.criterion.when(),
            difference_cell(&row.difference, 2, &mut notes)
        );
    }
    out.push_str("</tbody>\n</table>\n");
    notes.write(out);
}

/// Patches and spots of the prints.
pub(super) fn patches(out: &mut String, gathered: &Gathered, film: &Film, comparison: &Comparison) {
    rows(out, "Patches", "patch", gathered, film, &comparison.patches);
    rows(out, "Spots", "spot", gathered, film, &comparison.spots);
}

fn rows(out: &mut String, title: &str, first: &str, gathered: &Gathered, film: &Film, rows: &[PatchRow]) {
    if rows.is_empty() {
        return;
    }
    let _ = writeln!(out, "<h3>{title}</h3>");
    head(
        out,
        (" class=\"sorts\"", first),
        gathered,
        film,
        "<th class=\"v\">against the grey card, not corrected for contrast</th>",
    );
    let mut notes = Footnotes::default();
    for row in rows {
        let class = if row.distinguishable == Some(true) { "differs" } else { "same" };
        let card_class = match row.against_grey.known() {
            Some(measured) if measured.excludes_zero() => "v",
            _ => "v same",
        };
        let _ = writeln!(
            out,
            "<tr class=\"{class}\"><td>{}</td><td class=\"v\">{}{}</td><td class=\"v\">{}{}</td><td class=\"v d\">{}</td>\
             <td class=\"{card_class}\">{}</td></tr>",
            escape(&row.name),
            swatch(&row.reference),
            cell(&row.reference, 2, &mut notes),
            swatch(&row.candidate),
            cell(&row.candidate, 2, &mut notes),
            difference_cell(&row.difference, 2, &mut notes),
            difference_cell(&row.against_grey, 2, &mut notes),
        );
    }
    out.push_str("</tbody>\n</table>\n");
    let _ = writeln!(
        out,
        "<p class=\"small\">Densities in the prints. The last column takes each density against the grey card of its own \
         print first. {GREYS_CAUTION}</p>"
    );
    notes.write(out);
}

/// The grey of a density on the reader's screen.
fn swatch(value: &Value) -> String {
    value.known().map_or_else(String::new, |measured| {
        let code = screen_grey(Density(measured.number()).light());
        format!(
            "<svg class=\"swatch\" aria-hidden=\"true\"><rect width=\"100%\" height=\"100%\" \
             fill=\"rgb({code},{code},{code})\"/></svg>"
        )
    })
}

/// What each figure means and where its definition comes from.
pub(super) fn definitions(out: &mut String) {
    out.push_str(
        "<h2 id=\"definitions\">Definitions and their sources</h2>\n<table class=\"sources\">\n<thead><tr><th>figure</th><th>definition</th>\
         <th>source</th></tr></thead>\n<tbody>\n",
    );
    for spec in registry() {
        let kind = match spec.source.kind {
            SourceKind::Published => "",
            SourceKind::Derived => " (by arithmetic from the definition)",
            SourceKind::Practice => " (common practice)",
            SourceKind::Recalled => " (recalled, not at hand when written)",
        };
        let _ = writeln!(
            out,
            "<tr id=\"how-{}\"><td>{}{}</td><td>{}</td><td>{}{kind}</td></tr>",
            spec.key,
            escape(spec.label),
            unit(spec.unit),
            escape(spec.definition),
            escape(spec.source.text)
        );
    }
    out.push_str("</tbody>\n</table>\n");
}
