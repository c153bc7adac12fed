//! What is read at the pointer, all figures of both films, and what they were made of.

use egui::Ui;

use twinwedge_workbench::core::compare::{Comparison, format};
use twinwedge_workbench::core::drawing::{Role, has_construction};
use twinwedge_workbench::core::figures::{FigureGroup, FigureId, Reached};
use twinwedge_workbench::core::measured::{Measured, Value};
use twinwedge_workbench::engine::ask::ComparisonOf;

use super::Choices;
use super::plots::{Drawn, Shown, log_h, place};
use crate::appearance::comparison::{self, Line};
use crate::appearance::{STEP, Tokens, widgets};
use crate::origin::On;
use crate::pages::{Selected, View};

/// The readout on the right.
pub(super) fn show(
    ui: &mut Ui,
    view: &View<'_>,
    films: &[Shown],
    drawn: Option<&Drawn>,
    choices: &Choices,
    at: Option<f64>,
    doubts: impl FnOnce(&mut Ui),
) -> Option<FigureId> {
    let mut pointed = None;
    comparison::films(
        ui,
        view.reference.map(|film| film.label.as_str()),
        view.candidate.map(|film| film.label.as_str()),
    );
    for film in view.bench() {
        let process = film.process.in_words();
        if !process.is_empty() {
            widgets::footnote(ui, &format!("{}: {process}", film.label))
                .on_hover_text("Process; entered on the Films page");
        }
    }
    if let Some(drawn) = drawn.filter(|_| !films.is_empty()) {
        pointer(ui, films, drawn, choices, at);
    }
    doubts(ui);
    if let Some(candidate) = view.candidate {
        widgets::section(ui, "Figures");
        let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
        widgets::slot(ui, &slot, &format!("Comparing {}", candidate.label), |ui, comparison| {
            pointed = figures(ui, comparison, view.selected);
        });
    }
    ends(ui, films);
    straight(ui, films, view);
    made_of(ui, films);
    pointed
}

/// Whether the test reached toe and shoulder, and what to expose where not.
fn ends(ui: &mut Ui, films: &[Shown]) {
    let bench = || films.iter().filter(|film| film.role != Role::Other);
    if bench().next().is_none() {
        return;
    }
    widgets::section(ui, "Toe and shoulder");
    for film in bench() {
        let reach = &film.curve.reach;
        for end in [&reach.toe, &reach.shoulder] {
            let sign = if end.reached == Reached::Whole { "✓" } else { "–" };
            let advice = end.advice.clone().unwrap_or_default();
            widgets::footnote(ui, format!("{sign} {}: {} {advice}", film.label, end.reason).trim());
        }
    }
}

/// Peaks and valleys along each straight line, and where the two are opposed.
fn straight(ui: &mut Ui, films: &[Shown], view: &View<'_>) {
    let bench = || films.iter().filter(|film| film.role != Role::Other);
    if bench().all(|film| film.curve.departures.is_none()) {
        return;
    }
    widgets::section(ui, "Along the straight line")
        .on_hover_text(twinwedge_workbench::core::figures::straight::CRITERION);
    for film in bench() {
        let Some(departures) = &film.curve.departures else { continue };
        for extreme in &departures.extremes {
            let kind = if extreme.departure.value > 0.0 { "Peak" } else { "Valley" };
            let label = format!("{kind}, {}, log H {}", film.label, format::number(extreme.log_h, 2));
            let mut text = format::difference(&extreme.departure, 3);
            if !extreme.distinguishable() {
                text.push_str(", not distinguishable");
            }
            widgets::value_row(ui, &label, &text, "Density of the curve above or below its straight line");
        }
    }
    let Some(candidate) = view.candidate else { return };
    let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
    let Some(comparison) = slot.value() else { return };
    for place in &comparison.opposed {
        let label = format!(
            "Opposed, log H {} and {}",
            format::number(place.reference_log_h, 2),
            format::number(place.candidate_log_h, 2)
        );
        let text = format::difference(&place.difference, 3);
        let hover = "One film lies above its straight line where the other lies below its own, each beyond its uncertainty, speed points over each other: \
                     candidate's departure minus reference's";
        widgets::value_row(ui, &label, &text, hover);
    }
}

/// What is read off a film's curve at its own log H: value and standard uncertainty.
type Reading = fn(&Shown, f64) -> Option<(f64, f64)>;

fn pointer(ui: &mut Ui, films: &[Shown], drawn: &Drawn, choices: &Choices, at: Option<f64>) {
    let Some(x) = at else {
        widgets::section(ui, "At the pointer");
        widgets::muted(ui, "Point at the curves to read both films there.");
        return;
    };
    widgets::section(ui, &format!("At {}", place(x, choices.axis)));
    let read = |role: Role, what: fn(&Shown, f64) -> Option<(f64, f64)>| {
        let found = films.iter().enumerate().find(|(_, film)| film.role == role);
        let outside = Value::Undefined("outside the exposures that were tested".into());
        found.map(|(index, film)| {
            what(film, log_h(x, drawn.shift(index), choices.axis))
                .map_or(outside, |(value, u)| Value::Known(Measured::normal(value, u)))
        })
    };
    comparison::head(ui);
    let quantities: [(&str, Reading, &str); 2] = [
        ("Density", |film, at| film.curve.curve.density(at), "Density of the fitted curve."),
        (
            "Gradient",
            |film, at| film.curve.curve.gradient(at),
            "Slope of the fitted curve: density per log H.",
        ),
    ];
    for (label, what, about) in quantities {
        let (reference, candidate) = (read(Role::Reference, what), read(Role::Candidate, what));
        let difference = match (&reference, &candidate) {
            (Some(Value::Known(reference)), Some(Value::Known(candidate))) => {
                Some(Value::Known(candidate.minus(reference)))
            }
            _ => None,
        };
        let known = difference.as_ref().and_then(Value::known);
        comparison::line(
            ui,
            &Line {
                label: label.into(),
                unit: "",
                about: format!("{about} ± {}", format::INTERVAL_NOTE.trim_start_matches("± ")),
                reference: reference.as_ref(),
                candidate: candidate.as_ref(),
                difference: difference.as_ref(),
                difference_unit: "",
                distinguishable: known.map(Measured::excludes_zero),
                decimals: 2,
                on: On::Curves,
            },
        );
    }
    others(ui, films, drawn, choices, x);
}

/// The further films at the pointer, when all are shown.
fn others(ui: &mut Ui, films: &[Shown], drawn: &Drawn, choices: &Choices, x: f64) {
    for (index, film) in films.iter().enumerate().filter(|(_, film)| film.role == Role::Other) {
        let at = log_h(x, drawn.shift(index), choices.axis);
        let best = &film.curve.curve.best;
        let text = match (best.density(at), best.gradient(at)) {
            (Some(density), Some(gradient)) => {
                format!("D {}   gradient {}", format::number(density, 2), format::number(gradient, 2))
            }
            _ => "–".to_owned(),
        };
        widgets::value_row(ui, &film.label, &text, "Density and gradient of a further film at the pointer");
    }
}

/// All figures, group by group. Answers which one is pointed at.
fn figures(ui: &mut Ui, comparison: &Comparison, selected: Selected) -> Option<FigureId> {
    let mut pointed = None;
    let mut group = None;
    for row in &comparison.rows {
        let own = FigureGroup::of(row.figure);
        if group.replace(own) != Some(own) {
            ui.add_space(STEP);
            ui.label(crate::appearance::fonts::strong(own.text()));
            comparison::head(ui);
        }
        let line = Line::of(row);
        if has_construction(row.figure) {
            let before = ui.cursor().min;
            if comparison::pointed_line(ui, &line) {
                pointed = Some(row.figure);
            }
            if selected == Selected::Figure(row.figure) {
                let after = egui::pos2(ui.max_rect().right(), ui.cursor().min.y);
                chosen(ui, row.figure, egui::Rect::from_min_max(before, after));
            }
        } else {
            comparison::line(ui, &line);
        }
    }
    let lines: Vec<Line<'_>> = comparison.rows.iter().map(Line::of).collect();
    comparison::footnotes(ui, &lines);
    pointed
}

/// Marks the line of the figure that was selected on the curves, and brings it into sight once.
fn chosen(ui: &Ui, figure: FigureId, rect: egui::Rect) {
    let stroke = egui::Stroke::new(2.0, Tokens::get(ui).accent);
    ui.painter().rect_stroke(rect, 2.0, stroke, egui::StrokeKind::Inside);
    let id = egui::Id::unique("figure in sight");
    if ui.data(|data| data.get_temp::<FigureId>(id)) != Some(figure) {
        ui.data_mut(|data| data.insert_temp(id, figure));
        ui.scroll_to_rect(rect, Some(egui::Align::Center));
    }
}

fn made_of(ui: &mut Ui, films: &[Shown]) {
    let bench: Vec<_> = films.iter().filter(|film| film.role != Role::Other).collect();
    if bench.is_empty() {
        return;
    }
    widgets::section(ui, "Made of");
    for film in bench {
        let curve = &film.curve.curve;
        let points = &curve.readings.points;
        let aside = points.iter().filter(|point| point.set_aside).count();
        let mut text = format!("{} readings", points.len());
        if aside > 0 {
            text.push_str(&format!(", {aside} set aside"));
        }
        let misfit = format::number(curve.misfit, 2);
        text.push_str(&format!("; residuals over their uncertainties {misfit}"));
        let words = curve.readings.flags.words();
        if !words.is_empty() {
            text.push_str(&format!("; {}", words.join(", ")));
        }
        widgets::footnote(ui, &format!("{}: {text}.", film.label))
            .on_hover_text("Near 1 when the readings scatter about the curve as their uncertainties say");
    }
}
