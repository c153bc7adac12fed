//! The record of several films at once: what is entered is changed for all of them as one step.

use egui::Ui;

use twinwedge_workbench::core::document::{Exposure, Film, FilmId};
use twinwedge_workbench::edits::{FilmChange, FilmText, StripChange, Together};

use super::film::{
    BOX_SPEED, BOX_TEXT, NumberField, PROCESS_NUMBER, PROCESS_TEXT, TABLET_SECONDS, TextField,
};
use super::record::{number, text};
use crate::appearance::{STEP, fonts, widgets};
use crate::outbox::{Command, Outbox};

const LIGHT_SOURCE: TextField = (
    "Light source",
    "Light that exposed the tablets, where it is not that of the series",
    FilmText::LightSource,
);

/// The record that all of them share. Answers whether the films are to be marked no more.
pub(super) fn record(ui: &mut Ui, films: &[&Film], outbox: &mut Outbox) -> bool {
    ui.label(fonts::strong(format!("{} films at once", films.len())));
    let labels: Vec<&str> = films.iter().map(|film| film.label.as_str()).collect();
    widgets::muted(ui, &labels.join(", "));
    let over = widgets::button(ui, "Mark none", "Back to the record of one film").clicked();
    ui.add_space(STEP);
    widgets::footnote(
        ui,
        "What is entered here is changed for all of them, as one step that Undo takes back. A field is empty where they differ.",
    );
    let ids: Vec<FilmId> = films.iter().map(|film| film.id.clone()).collect();
    number_of_all(ui, films, &ids, &BOX_SPEED, outbox);
    for field in &BOX_TEXT {
        text_of_all(ui, films, &ids, field, outbox);
    }
    widgets::section(ui, "Process");
    for field in &PROCESS_TEXT[..2] {
        text_of_all(ui, films, &ids, field, outbox);
    }
    for field in &PROCESS_NUMBER {
        number_of_all(ui, films, &ids, field, outbox);
    }
    text_of_all(ui, films, &ids, &PROCESS_TEXT[2], outbox);
    widgets::section(ui, "Tablet exposure");
    if films.iter().any(|film| film.tablet_exposure.is_none()) {
        widgets::muted(ui, "Not all of them have been exposed through a tablet yet.");
        return over;
    }
    light(ui, films, &ids, outbox);
    text_of_all(ui, films, &ids, &LIGHT_SOURCE, outbox);
    number_of_all(ui, films, &ids, &TABLET_SECONDS, outbox);
    over
}

/// What all films have there; none where they differ.
fn common<T: PartialEq>(films: &[&Film], of: impl Fn(&Film) -> T) -> Option<T> {
    let mut values = films.iter().map(|film| of(film));
    let first = values.next()?;
    values.all(|value| value == first).then_some(first)
}

fn text_of_all(ui: &mut Ui, films: &[&Film], ids: &[FilmId], field: &TextField, outbox: &mut Outbox) {
    let (name, hover, which) = *field;
    let shared = common(films, |film| which.value_in(film).to_owned());
    if let Some(entered) = text(ui, ids, name, shared.as_deref().unwrap_or_default(), hover) {
        outbox.change(FilmChange::Text(which, entered).of_all(ids));
    }
}

fn number_of_all(ui: &mut Ui, films: &[&Film], ids: &[FilmId], field: &NumberField, outbox: &mut Outbox) {
    let shared = common(films, |film| field.which.value_in(film)).flatten();
    let Some(entered) = number(ui, ids, field.name, shared, field.unit, field.hover) else { return };
    match field.plausible(entered) {
        Ok(value) => outbox.change(FilmChange::Number(field.which, value).of_all(ids)),
        Err(told) => outbox.send(Command::Say(told)),
    }
}

/// The light on all their tablets: the same for all.
fn light(ui: &mut Ui, films: &[&Film], ids: &[FilmId], outbox: &mut Outbox) {
    let full = Exposure::Relative { stops_less: 0.0 };
    let now = common(films, |film| film.tablet_exposure.as_ref().map(|exposed| exposed.exposure)).flatten();
    let words = match now {
        None => "They had different light.",
        Some(Exposure::NotSaid) => "Nothing is said of their light yet.",
        Some(Exposure::Relative { stops_less: 0.0 }) => "All had the series' full exposure.",
        Some(Exposure::Relative { .. }) => "All had the same weaker light.",
        Some(Exposure::Absolute { .. }) => "All had the same measured light.",
    };
    widgets::muted(ui, words);
    let hover = "Says of each that its tablet had the full exposure of the series";
    if widgets::button_if(ui, now != Some(full), "All had the full exposure", hover, "It is said already")
        .clicked()
    {
        let steps = ids.iter().map(|film| StripChange::Light(full).of(film, 0).into()).collect();
        outbox.change(Together { label: format!("set the light on {} films", ids.len()), steps });
    }
}
