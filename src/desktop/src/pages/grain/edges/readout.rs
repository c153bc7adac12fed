//! Sharpness of both films in numbers.

use egui::Ui;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::measured::{Measured, Value};
use twinwedge_workbench::core::scan::examine::Fault;
use twinwedge_workbench::core::sharpness::{Cause, EdgeMeasure, EdgeOutcome, EdgeSpace, Lobe};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{ExaminedOf, SharpnessOf};

use super::Known;
use crate::appearance::comparison::{self, Line};
use crate::appearance::{fonts, widgets};
use crate::origin::On;
use crate::pages::{View, scan_trust};

/// Both films and their differences, then what is to be known of each.
pub(super) fn show(ui: &mut Ui, view: &View<'_>, known: &[Known], chosen: [usize; 2]) {
    ui.heading("Sharpness");
    widgets::footnote(
        ui,
        "Modulation transfer of a slanted edge (steps of ISO 12233:2014), averaged along it; the power of the grain is taken off.",
    );
    comparison::films(
        ui,
        view.reference.map(|film| film.label.as_str()),
        view.candidate.map(|film| film.label.as_str()),
    );
    let film = |role: Role| known.iter().find(|film| film.role == role);
    let both = [film(Role::Reference), film(Role::Candidate)];
    if known.iter().any(Known::is_first_answer) {
        widgets::footnote(ui, "A first answer from fewer rows; the full one is on its way.");
    }
    if both.iter().any(Option::is_some) {
        table(ui, both);
    }
    for (side, (found, film)) in both.into_iter().zip([view.reference, view.candidate]).enumerate() {
        let Some(film) = film else { continue };
        widgets::section(ui, &film.label);
        if film.edges.is_empty() {
            widgets::muted(ui, "No edge is marked yet.");
            continue;
        }
        if let Some(edge) = film.edges.get(chosen[side].min(film.edges.len() - 1)) {
            scan_trust::line(ui, view, "Scan", &edge.scan);
            let examined = view.session.peek(&ExaminedOf { scan: edge.scan.clone() });
            let sharpened = examined.value().is_some_and(|examined| examined.pixels.has(Fault::Sharpened));
            if sharpened && found.is_some_and(|found| found.edge.overshoot.cause == Cause::Adjacency) {
                widgets::footnote(
                    ui,
                    "It looks sharpened by its edges alone; measured here, the film did it.",
                );
            }
        }
        match found {
            Some(found) => one(ui, found),
            None => {
                let slot = view.session.peek(&SharpnessOf { film: film.id.clone() });
                if !matches!(slot, Slot::Ready(_)) {
                    widgets::slot(ui, &slot, "Measuring the edge", |_, _| {});
                }
            }
        }
    }
}

fn table(ui: &mut Ui, both: [Option<&Known>; 2]) {
    type Pick = fn(&Known) -> Value;
    let rows: [(&str, &str, usize, &str, Pick); 5] = [
        (
            "50 % modulation at",
            "c/mm",
            1,
            "Spatial frequency on the film at which the modulation has come down to half",
            |film| film.sharpness.as_ref().map_or(&film.edge.mtf50, |all| &all.mtf50).clone(),
        ),
        ("10 % modulation at", "c/mm", 1, "Spatial frequency on the film at which a tenth is left", |film| {
            film.sharpness.as_ref().map_or(&film.edge.mtf10, |all| &all.mtf10).clone()
        }),
        ("10 to 90 % of the edge", "µm", 1, "Distance over which the edge rises", |film| {
            film.sharpness.as_ref().map_or(&film.edge.width, |all| &all.width).clone()
        }),
        (
            "overshoot, dense side",
            "D",
            3,
            "By how much density passes that of the uniform area, of the edge that is looked at",
            |film| Value::Known(film.edge.overshoot.dense.height),
        ),
        (
            "overshoot, thin side",
            "D",
            3,
            "By how much density falls short of that of the uniform area",
            |film| Value::Known(film.edge.overshoot.thin.height),
        ),
    ];
    comparison::head(ui);
    let cells: Vec<[Option<Value>; 3]> = rows
        .iter()
        .map(|(.., pick)| {
            let [reference, candidate] = both.map(|film| film.map(pick));
            let difference = match (&reference, &candidate) {
                (Some(Value::Known(reference)), Some(Value::Known(candidate))) => {
                    Some(Value::Known(candidate.minus(reference)))
                }
                _ => None,
            };
            [reference, candidate, difference]
        })
        .collect();
    let lines: Vec<Line<'_>> = rows
        .iter()
        .zip(&cells)
        .map(|((label, unit, decimals, about, _), [reference, candidate, difference])| Line {
            label: widgets::capital(label).into(),
            unit,
            about: (*about).to_owned(),
            reference: reference.as_ref(),
            candidate: candidate.as_ref(),
            difference: difference.as_ref(),
            difference_unit: unit,
            distinguishable: difference.as_ref().and_then(Value::known).map(Measured::excludes_zero),
            decimals: *decimals,
            on: On::Edges,
        })
        .collect();
    for line in &lines {
        comparison::line(ui, line);
    }
    comparison::footnotes(ui, &lines);
}

fn one(ui: &mut Ui, found: &Known) {
    let edge = &found.edge;
    let space = match edge.method.space {
        EdgeSpace::Exposure => "exposure, by the film's curve",
        EdgeSpace::Light => "light as scanned",
    };
    widgets::value_row(ui, "Measured in", space, "What the transfer function is one of");
    let scanner = if edge.method.scanner_removed { "divided out" } else { "in it" };
    widgets::value_row(
        ui,
        "The scanner's sharpness is",
        scanner,
        "It can be taken from the scan of a knife edge",
    );
    let densities = edge.densities.map(|density| format::number(density, 2)).join(" and ");
    widgets::value_row(
        ui,
        "Fields of density",
        &densities,
        "Densities of the mean light of both uniform areas",
    );
    let rows = format!("{} at {}°", edge.line.rows, format::number(edge.line.angle, 1));
    widgets::value_row(
        ui,
        "Rows along the edge",
        &rows,
        "Rows of pixels that the edge crosses, and its angle to them",
    );
    if edge.line.bend > 0.0 {
        let bend = format!("{} pixels", format::number(edge.line.bend, 1));
        widgets::value_row(
            ui,
            "Bent by",
            &bend,
            "How far the edge leaves the chord of its ends; it was followed",
        );
    }
    let window = format!(
        "{} to {} µm",
        format::number(edge.method.window.0, 0),
        format::number(edge.method.window.1, 0)
    );
    let hover = "Distance from the edge up to which all counts, and from which on nothing does; a half cosine between";
    widgets::value_row(ui, "Window ends from", &window, hover);
    ui.add_space(4.0);
    ui.add(egui::Label::new(fonts::strong(widgets::capital(edge.overshoot.cause.words()))).wrap());
    for (lobe, side) in [(&edge.overshoot.dense, "dense"), (&edge.overshoot.thin, "thin")] {
        lobe_line(ui, lobe, side, edge);
    }
    widgets::footnote(ui, &edge.overshoot.reason.to_string());
    for note in &edge.notes {
        widgets::footnote(ui, &note.to_string());
    }
    if let Some(all) = &found.sharpness
        && all.edges.len() > 1
    {
        let measured = all.edges.iter().filter(|edge| edge.measured().is_some()).count();
        let mut words = format!("{measured} of {} edges are averaged", all.edges.len());
        if let Some(scatter) = all.scatter {
            words += &format!("; their 50 % scatter by {} %", format::number(100.0 * scatter, 1));
        }
        widgets::footnote(ui, &format!("{words}."));
        for (number, edge) in all.edges.iter().enumerate() {
            if let EdgeOutcome::Refused(why) = edge {
                widgets::footnote(ui, &format!("Edge {}: {why}", number + 1));
            }
        }
    }
    let words = edge.flags.words();
    if !words.is_empty() {
        widgets::footnote(ui, &words.join(", "));
    }
}

fn lobe_line(ui: &mut Ui, lobe: &Lobe, side: &str, edge: &EdgeMeasure) {
    let Some(width) = lobe.width_um.filter(|_| lobe.seen) else { return };
    let words = format!(
        "{} % over {} µm ({} px)",
        format::number(100.0 * lobe.share, 1),
        format::number(width, 0),
        format::number(width / edge.method.pitch, 1)
    );
    let hover = "Share of the edge's step, and the distance from its highest place to where a third is left";
    widgets::value_row(ui, &widgets::capital(&format!("{side} side")), &words, hover);
}
