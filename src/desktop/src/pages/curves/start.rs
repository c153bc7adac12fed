//! The first steps: what the series at hand is, and the three files that a series of one's own starts from.

use egui::Ui;

use twinwedge_workbench::core::document::{Film, Series};
use twinwedge_workbench::edits::FilmEdit;
use twinwedge_workbench::intake::Purpose;

use crate::actions::Action;
use crate::appearance::{STEP, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::View;

/// One line: what the series is, and how to begin one's own.
pub(super) fn line(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let about = view.series.about.lines().next().unwrap_or_default();
    if about.is_empty() {
        return;
    }
    ui.horizontal(|ui| {
        let label = "Begin your own series";
        let size = egui::vec2((ui.available_width() - 176.0).max(80.0), ui.spacing().interact_size.y);
        let color = crate::appearance::Tokens::get(ui).muted;
        let layout = egui::Layout::left_to_right(egui::Align::Center);
        ui.allocate_ui_with_layout(size, layout, |ui| {
            ui.set_min_width(size.x);
            widgets::ellipsis(ui, egui::RichText::new(about).color(color)).on_hover_text(&view.series.about);
        });
        let hover = "A new series from three files: a tablet's densities, the reference's readings and a candidate's readings";
        if widgets::button(ui, label, hover).clicked() {
            outbox.send(Command::Do(Action::New));
        }
    });
}

/// Whether one of the three files is still to come.
pub(super) fn needed(view: &View<'_>) -> bool {
    let lacks = |film: Option<&Film>| film.is_none_or(|film| film.strips.is_empty());
    view.series.tablets.is_empty() || lacks(view.reference) || lacks(view.candidate)
}

/// The three files, each with what is there of it.
pub(super) fn files(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    widgets::boxed(ui, |ui| {
        ui.label(crate::appearance::fonts::strong("A series starts from three files"));
        widgets::muted(
            ui,
            "Tables of densities as text, step by step: with points or commas, with or without a head. Everything else can \
             come later; each page says what it still lacks.",
        );
        ui.add_space(STEP);
        let tablet = view.series.tablets.values().next();
        let there = tablet.map(|tablet| format!("{}, {} steps", tablet.label, tablet.steps.len()));
        if step(ui, "Tablet densities", there, "The known densities of the step tablet, step 1 first") {
            outbox.ask(Purpose::Tablet);
        }
        let hover = "Densities read on the strip of the film that all are compared with, step 1 first";
        if step(ui, "Reference readings", view.reference.and_then(there_of), hover) {
            ask(view.reference, "Reference film", true, outbox, view.series);
        }
        let hover = "Densities read on the strip of the film under test, step 1 first";
        if step(ui, "Candidate readings", view.candidate.and_then(there_of), hover) {
            ask(view.candidate, "Candidate film", false, outbox, view.series);
        }
    });
    ui.add_space(2.0 * STEP);
}

fn there_of(film: &Film) -> Option<String> {
    (!film.strips.is_empty()).then(|| format!("of {}", film.label))
}

/// One of the three: its button, and what is there. Answers whether it was pressed.
fn step(ui: &mut Ui, name: &str, there: Option<String>, hover: &str) -> bool {
    ui.horizontal(|ui| {
        let size = egui::vec2(168.0, ui.spacing().interact_size.y);
        let pressed = ui.add(egui::Button::new(name).min_size(size)).on_hover_text(hover).clicked();
        match there {
            Some(there) => ui.label(format!("✓ {there}")),
            None => widgets::muted(ui, "not there yet"),
        };
        pressed
    })
    .inner
}

/// Asks for the readings of a film, which is put into the series first where there is none.
fn ask(film: Option<&Film>, label: &str, reference: bool, outbox: &mut Outbox, series: &Series) {
    let id = film.map_or_else(|| series.free_film_id(label), |film| film.id.clone());
    if film.is_none() {
        outbox.change(FilmEdit::Add { id: id.clone(), label: label.to_owned(), reference });
        if !reference {
            outbox.send(Command::Candidate(id.clone()));
        }
    }
    outbox.ask(Purpose::Readings(id, 0));
}
