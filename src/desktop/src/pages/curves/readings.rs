//! The readings behind the curves: a press on a point, or its switch in the list, sets it aside and takes it back.

use egui::Ui;

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::curve::Reading;
use twinwedge_workbench::core::document::{Film, FilmId, ReadingsSource};
use twinwedge_workbench::engine::ask::ReadingsOf;

use super::Choices;
use super::plots::{Drawn, Shown, log_h};
use crate::appearance::table::{self, Column, NumberCell, Table};
use crate::appearance::widgets;
use crate::outbox::{Command, Outbox};
use crate::pages::{Selected, View};
use crate::plot::Mark;

/// A mark of the plot was pressed.
pub(super) fn press(
    mark: Mark,
    drawn: &Drawn,
    films: &[Shown],
    choices: &Choices,
    view: &View<'_>,
    outbox: &mut Outbox,
) {
    let Some((index, shown)) = films.iter().enumerate().find(|(_, film)| film.role == mark.role) else {
        return;
    };
    let at = log_h(mark.at[0], drawn.shift(index), choices.axis);
    let distance = |reading: &Reading| (reading.log_h - at).abs() + (reading.density - mark.at[1]).abs();
    let nearest = shown.curve.curve.readings.points.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)));
    if let (Some(reading), Some(film)) = (nearest, view.series.film(&shown.id)) {
        outbox.send(Command::Select(Selected::Step(reading.step)));
        turn(film, reading.step, !reading.set_aside, outbox);
    }
}

/// Sets a step aside or takes it back, as one step of the history.
fn turn(film: &Film, step: u32, aside: bool, outbox: &mut Outbox) {
    let verb = if aside { "set aside" } else { "take back" };
    let id: FilmId = film.id.clone();
    outbox.edit(format!("{verb} step {step} of {}", film.label), move |series| {
        let Some(film) = series.film_mut(&id) else { return };
        match &mut film.readings {
            Some(ReadingsSource::Typed(readings)) => {
                let index = usize::try_from(step).unwrap_or(usize::MAX).wrapping_sub(1);
                if let Some(reading) = readings.get_mut(index) {
                    reading.set_aside = aside;
                }
            }
            Some(ReadingsSource::Strip { .. }) => {
                film.steps_set_aside.retain(|other| *other != step);
                if aside {
                    film.steps_set_aside.push(step);
                    film.steps_set_aside.sort_unstable();
                }
            }
            None => {}
        }
    });
}

/// The readings of both films, step by step.
pub(super) fn list(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let films: Vec<_> = view
        .bench()
        .filter_map(|film| {
            let slot = view.session.peek(&ReadingsOf { film: film.id.clone() });
            Some((film, slot.value().cloned()?))
        })
        .collect();
    if films.is_empty() {
        return;
    }
    widgets::section(ui, "Readings");
    widgets::footnote(ui, "A step whose tick is taken away is set aside: shown crossed out, not fitted.");
    let mut steps: Vec<u32> =
        films.iter().flat_map(|(_, readings)| readings.points.iter().map(|point| point.step)).collect();
    steps.sort_unstable();
    steps.dedup();
    let mut columns = vec![Column::number("Step", 40.0)];
    columns.extend(films.iter().map(|(film, _)| {
        Column::text(film.label.as_str(), 90.0).growing(1.0).hover(format!("Densities of {}", film.label))
    }));
    let selected = match view.selected {
        Selected::Step(step) => steps.iter().position(|other| *other == step),
        _ => None,
    };
    let table = Table { selected, height: 320.0, ..Table::new("readings", &columns, steps.len()) };
    table.show(
        ui,
        |row| format!("Step {}", steps[row]),
        |ui, row, column| {
            let step = steps[row];
            let Some((film, readings)) = column.checked_sub(1).and_then(|index| films.get(index)) else {
                let cell = NumberCell::plain("Step", step.to_string(), 0);
                table::number_cell(ui, &cell);
                return;
            };
            let Some(point) = readings.points.iter().find(|point| point.step == step) else { return };
            density(ui, film, point, outbox);
        },
    );
}

fn density(ui: &mut Ui, film: &Film, point: &Reading, outbox: &mut Outbox) {
    let mut used = !point.set_aside;
    let words = point.flags.words().join(", ");
    let hover = format!(
        "Step {} of {}: density {} at log H {}{}{words}",
        point.step,
        film.label,
        format::number(point.density, 3),
        format::number(point.log_h, 2),
        if words.is_empty() { "" } else { "; " },
    );
    let name = format!("Use step {} of {}", point.step, film.label);
    let response = ui.checkbox(&mut used, format::number(point.density, 2)).on_hover_text(hover);
    response.widget_info(|| egui::WidgetInfo::selected(egui::Role::CheckBox, true, used, &name));
    if response.changed() {
        turn(film, point.step, !used, outbox);
    }
}
