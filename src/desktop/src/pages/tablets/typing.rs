//! Readings typed or pasted.

use std::fmt::Write as _;

use egui::{ScrollArea, TextEdit, Ui};
use twinwedge_workbench::core::curve::rounding_u;
use twinwedge_workbench::core::document::{Film, ReadingsSource, TypedReading};
use twinwedge_workbench::edits::{RecordEdit, Setting, StripChange, Taking, named};
use twinwedge_workbench::intake::{Purpose, in_one};
use twinwedge_workbench::load;

use crate::appearance::table::{Column, NumberCell, Table, muted_cell, number_cell};
use crate::appearance::{fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::{Selected, View};

/// Readings while they are typed.
#[derive(Debug, Default)]
pub(super) struct Typing {
    text: String,
    wrong: Option<String>,
}

impl Typing {
    /// Begins with what the film has.
    pub(super) fn of(film: &Film, strip: usize) -> Self {
        let mut text = String::new();
        if let Some(ReadingsSource::Typed(readings)) = film.strip_readings(strip) {
            for (step, reading) in (1..).zip(readings) {
                let _ = match reading.u {
                    Some(u) => writeln!(text, "{step}\t{}\t{u}", reading.density),
                    None => writeln!(text, "{step}\t{}", reading.density),
                };
            }
        }
        Self { text, wrong: None }
    }

    /// Shows the text; `true` when it was taken or given up.
    pub(super) fn ui(&mut self, ui: &mut Ui, film: &Film, strip: usize, outbox: &mut Outbox) -> bool {
        let mut over = false;
        let name = format!("Readings of {}", named(film, strip));
        widgets::muted(
            ui,
            "One reading a line: density; or step and density; or step, density and uncertainty. Blanks, commas or \
                 semicolons between them, decimal point or comma.",
        );
        let room = (ui.available_height() - 72.0).max(80.0);
        ScrollArea::vertical().id_salt("typing").max_height(room).show(ui, |ui| {
            let edit = TextEdit::multiline(&mut self.text).desired_width(f32::INFINITY).desired_rows(8);
            ui.name_inputs(&name, |ui| ui.add(edit))
                .on_hover_text("Densities of the steps, as a densitometer reads them");
        });
        if let Some(wrong) = &self.wrong {
            ui.add(egui::Label::new(fonts::strong(wrong)).wrap());
        }
        ui.horizontal(|ui| {
            let ready = !self.text.trim().is_empty();
            let take = widgets::button_if(
                ui,
                ready,
                "Take these readings",
                "They become the film's curve",
                "Nothing is typed yet",
            );
            if take.clicked() {
                match load::table(&self.text, "the typed readings") {
                    Ok(load::Table { readings, stated, notes, .. }) => {
                        let (film, name) = (film.id.clone(), String::new());
                        outbox.change(Taking::Readings { film, strip, name, readings, stated });
                        if let Some(told) = in_one(&notes) {
                            outbox.send(Command::Say(told));
                        }
                        over = true;
                    }
                    Err(problem) => self.wrong = Some(problem.to_string()),
                }
            }
            if widgets::button(ui, "Open a file ...", "A table of readings: CSV, TSV or text").clicked() {
                outbox.ask(Purpose::Readings(film.id.clone(), strip));
                over = true;
            }
            over |= widgets::button(ui, "Leave it", "The readings stay as they were").clicked();
        });
        over
    }
}

/// The readings as they stand, each of which can be set aside.
pub(super) fn shown(
    ui: &mut Ui,
    film: &Film,
    strip: usize,
    readings: &[TypedReading],
    view: &View<'_>,
    outbox: &mut Outbox,
) {
    let columns = [
        Column::number("Step", 56.0),
        Column::number("Density", 96.0),
        Column::number("Uncertainty", 112.0)
            .hover("Standard uncertainty; grey where it is the series' setting"),
        Column::text("", 120.0).growing(1.0),
    ];
    let selected = match view.selected {
        Selected::Step(step) => Some(step as usize - 1),
        _ => None,
    };
    instrument(ui, readings, view, outbox);
    let of = named(film, strip);
    let name = format!("Readings of {of}");
    let mut table = Table::new(&name, &columns, readings.len());
    (table.selected, table.reveal, table.press) = (selected, None, true);
    let pressed = table.show(
        ui,
        |row| format!("Step {} of {of}", row + 1),
        |ui, row, column| {
            let reading = &readings[row];
            match column {
                0 => number(ui, &format!("Step {}", row + 1), (row + 1).to_string(), 0, reading.set_aside),
                1 => number(ui, "Density", format!("{:.3}", reading.density), 3, reading.set_aside),
                2 => {
                    let u = reading.u.unwrap_or(view.series.settings.reading_u.hypot(rounding_u(readings)));
                    number(ui, "Uncertainty", format!("{u:.3}"), 3, reading.u.is_none());
                }
                _ => aside(ui, film, strip, row, reading.set_aside, outbox),
            }
        },
    );
    if let Some(row) = pressed.row {
        outbox.send(Command::Select(Selected::Step(row as u32 + 1)));
    }
}

/// The instrument's error, of all readings that have none of their own, and what rounding adds to it.
fn instrument(ui: &mut Ui, readings: &[TypedReading], view: &View<'_>, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Instrument error");
        let id = ui.scope_id().with("instrument error");
        let hover = "Standard uncertainty of a density reading, for all readings of the series without one of their own";
        let now = view.series.settings.reading_u;
        if let Some(Some(u)) = widgets::number_field(ui, id, "Instrument error", Some(now), hover, 56.0)
        {
            outbox.change(RecordEdit::Setting(Setting::ReadingU, u));
        }
        let rounding = rounding_u(readings);
        let text = format!("and ± {rounding:.4} of rounding to the digits typed: ± {:.4} together", now.hypot(rounding));
        widgets::muted_inline(ui, &text);
    });
}

fn number(ui: &mut Ui, name: &str, text: String, decimals: usize, grey: bool) {
    number_cell(
        ui,
        &NumberCell { name: name.into(), text: text.into(), grey, ..NumberCell::plain("", "", decimals) },
    );
}

fn aside(ui: &mut Ui, film: &Film, strip: usize, row: usize, set_aside: bool, outbox: &mut Outbox) {
    let (word, hover) = if set_aside {
        ("Take back in", "The reading is fitted again")
    } else {
        ("Set aside", "The reading stays in sight and is not fitted")
    };
    let response = ui.small_button(word).on_hover_text(hover);
    if set_aside {
        muted_cell(ui, "");
    }
    if response.clicked() {
        let (step, aside) = (row as u32 + 1, !set_aside);
        outbox.change(StripChange::Aside { step, aside }.of(&film.id, strip));
    }
}
