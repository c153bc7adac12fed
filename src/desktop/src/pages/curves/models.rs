//! How well the curves hold: both models, the levels of the strips, and readings in doubt.

use egui::Ui;

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::curve::{Goodness, LevelFound, ModelFit, Standing};
use twinwedge_workbench::core::drawing::{Role, mark_word};
use twinwedge_workbench::core::units::STOP;

use super::plots::Shown;
use super::readings;
use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::View;

/// Outliers and strips of the films on the bench.
pub(super) fn doubts(ui: &mut Ui, view: &View<'_>, films: &[Shown], outbox: &mut Outbox) {
    outliers(ui, view, bench(films), outbox);
    if bench(films).any(|film| !film.curve.curve.levels.is_empty()) {
        widgets::section(ui, "Strips");
        bench(films).for_each(|film| strips(ui, film));
    }
}

/// Both models of each film on the bench.
pub(super) fn show(ui: &mut Ui, films: &[Shown]) {
    if bench(films).next().is_none() {
        return;
    }
    widgets::section(ui, "How well the curves hold");
    bench(films).for_each(|film| of_film(ui, film));
}

fn bench(films: &[Shown]) -> impl Iterator<Item = &Shown> {
    films.iter().filter(|film| film.role != Role::Other)
}

fn of_film(ui: &mut Ui, film: &Shown) {
    let curve = &film.curve.curve;
    let hover = "Chi-square: squared residuals over the stated uncertainties, summed; with its degrees of freedom and the \
                 probability of one as large. Below 0.05 the readings contradict the curve or their uncertainties";
    widgets::muted(ui, &film.label);
    widgets::value_row(ui, "Spline", &short(&curve.goodness), hover);
    let Some(model) = &curve.model else {
        widgets::footnote(ui, "The readings determine no toe, line and shoulder.");
        return;
    };
    let parameters = parameters(model);
    widgets::value_row(ui, "Toe to shoulder", &short(&model.goodness), &format!("{hover}.\n{parameters}"));
    let mut notes = Vec::new();
    if !model.shape.lacks().is_empty() {
        notes.push(format!("the model has {}", model.shape.lacks()));
    }
    match (curve.goodness.contradicted(), model.goodness.contradicted()) {
        (true, true) => notes.push("the readings contradict both".to_owned()),
        (true, false) => notes.push("the readings contradict the spline".to_owned()),
        (false, true) => notes.push("the readings contradict toe, line and shoulder".to_owned()),
        (false, false) => {}
    }
    if let Some(error) = film.curve.speed_point_model_error() {
        notes.push(format!(
            "model error of the speed point: {} in log H, {} stop",
            format::signed(error, 3),
            format::signed(error / STOP, 2)
        ));
    }
    if notes.is_empty() {
        return;
    }
    let mut text = notes.join("; ");
    text[..1].make_ascii_uppercase();
    widgets::footnote(ui, &format!("{text}.")).on_hover_text(
        "Model error: where the model of few parameters puts the speed point, less where the spline puts it",
    );
}

/// Chi-square over its degrees, probability and root mean square.
fn short(goodness: &Goodness) -> String {
    let p = goodness.p.map_or_else(String::new, |p| format!(", p {}", format::number(p, 2)));
    let (chi_square, degrees) = (format::number(goodness.chi_square, 1), format::number(goodness.degrees, 1));
    format!("{chi_square} / {degrees}{p}, r.m.s. {}", format::number(goodness.rms, 3))
}

fn parameters(model: &ModelFit) -> String {
    let one = |parameter: &twinwedge_workbench::core::curve::Parameter| {
        format!(
            "{} {} ± {}",
            parameter.name,
            format::number(parameter.value, 3),
            format::number(parameter.u, 3)
        )
    };
    let all: Vec<String> = model.parameters.iter().map(one).collect();
    format!("{} (± standard uncertainty)", all.join(", "))
}

fn strips(ui: &mut Ui, film: &Shown) {
    let readings = &film.curve.curve.readings;
    for level in &film.curve.curve.levels {
        let name = format!("{}, {}", film.label, readings.strip_name(level.strip));
        let value =
            format!("{} ± {} stops less", format::number(level.stops_less, 2), format::number(level.u, 2));
        widgets::value_row(ui, &name, &value, &level_words(level));
        let marks = mark_word(film.role, level.strip);
        let wrong = if level.contradicted { "; statement and overlap contradict each other" } else { "" };
        widgets::footnote(ui, &format!("Drawn as {marks}{wrong}.")).on_hover_text(level_words(level));
    }
}

/// A strip's level with what it follows from, in words.
pub(in crate::pages) fn level_words(level: &LevelFound) -> String {
    let pair = |(stops, u): (f64, f64)| format!("{} ± {}", format::number(stops, 2), format::number(u, 2));
    let mut words = format!(
        "Stops less light than the first strip: {} (standard uncertainty)",
        pair((level.stops_less, level.u))
    );
    if let Some(stated) = level.stated {
        words.push_str(&format!("\nstated: {}", pair(stated)));
    }
    match level.by_overlap {
        Some(found) => words.push_str(&format!("\nthe overlap with the other strips says {}", pair(found))),
        None => words.push_str("\nit has too little in common with the other strips to say"),
    }
    if level.contradicted {
        words.push_str("\nThe two contradict each other beyond their uncertainties.");
    }
    words
}

/// Readings that the others contradict, each with a button that keeps it in the fit, or leaves it to the fit again.
fn outliers<'a>(ui: &mut Ui, view: &View<'_>, films: impl Iterator<Item = &'a Shown>, outbox: &mut Outbox) {
    let mut begun = false;
    for shown in films {
        let Some(film) = view.series.film(&shown.id) else { continue };
        for outlier in &shown.curve.curve.outliers {
            if !std::mem::replace(&mut begun, true) {
                widgets::section(ui, "Outliers");
                widgets::footnote(
                    ui,
                    "Readings that the others contradict. The fit sets them aside unless they are kept.",
                );
            }
            let name = shown.curve.curve.readings.name_at(outlier.strip, outlier.step);
            ui.horizontal(|ui| {
                let kept = outlier.standing == Standing::Kept;
                let (word, hover) = if kept {
                    ("Set aside", "It stays in sight, crossed out, and is not fitted; undo takes it back")
                } else {
                    ("Keep", "It is fitted whatever the others say; undo takes that back")
                };
                let button = ui.small_button(word).on_hover_text(hover);
                let spoken = format!("{word} {name} of {}", film.label);
                button.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &spoken));
                if button.clicked() {
                    readings::keep(film, outlier.strip, outlier.step, !kept, outbox);
                }
                widgets::ellipsis(ui, film.label.as_str()).on_hover_text(&film.label);
            });
            widgets::footnote(ui, &format::outlier(&shown.curve.curve.readings, outlier));
        }
    }
}
