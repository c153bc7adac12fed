//! The record of one film.

use egui::Ui;

use twinwedge_workbench::core::document::{Film, FilmId, TypedReading};

use super::record::{number, text};
use crate::appearance::widgets;
use crate::outbox::{Command, FileFor, Outbox};
use crate::pages::{PageId, View};

/// A field of text: its name, what it is, how it is read and written.
type TextField = (&'static str, &'static str, fn(&Film) -> &str, fn(&mut Film, String));
/// A field of a number: its name, unit, what it is, how it is read and written.
type NumberField =
    (&'static str, &'static str, &'static str, fn(&Film) -> Option<f64>, fn(&mut Film, Option<f64>));

const BOX_TEXT: [TextField; 3] = [
    ("Batch", "Emulsion batch", |film| &film.batch, |film, text| film.batch = text),
    ("Format", "For instance 135 or 120", |film| &film.format, |film, text| film.format = text),
    ("Price", "Price of a roll, with its currency", |film| &film.price, |film, text| film.price = text),
];

const PROCESS_TEXT: [TextField; 3] = [
    ("Developer", "Developer", |film| &film.process.developer, |film, text| film.process.developer = text),
    (
        "Dilution",
        "For instance 1+9",
        |film| &film.process.dilution,
        |film, text| film.process.dilution = text,
    ),
    (
        "Agitation",
        "Agitation in words",
        |film| &film.process.agitation,
        |film, text| film.process.agitation = text,
    ),
];

const PROCESS_NUMBER: [NumberField; 2] = [
    (
        "Temperature",
        "°C",
        "Temperature of the developer",
        |film| film.process.temperature_c,
        |film, value| film.process.temperature_c = value,
    ),
    (
        "Time",
        "min",
        "Time in the developer",
        |film| film.process.minutes,
        |film, value| film.process.minutes = value,
    ),
];

const BOX_SPEED: NumberField = (
    "Box speed",
    "",
    "Speed printed on the box, arithmetic",
    |film| film.box_speed,
    |film, value| film.box_speed = value.filter(|speed| *speed > 0.0),
);

const BASE_FOG: NumberField = (
    "Base+fog",
    "D",
    "Density of an unexposed, developed area, where one was read; else the curve's lowest density stands in",
    |film| film.base_fog.map(|reading| reading.density),
    |film, value| {
        film.base_fog = value.map(|density| TypedReading { density, u: None, set_aside: false });
    },
);

const PRINT_EXPOSURE: NumberField = (
    "Print exposure",
    "s",
    "Exposure of this film's print in seconds",
    |film| film.print.as_ref().and_then(|print| print.exposure_s),
    |film, value| {
        if let Some(print) = &mut film.print {
            print.exposure_s = value;
        }
    },
);

/// The record.
pub(super) fn record(ui: &mut Ui, film: &Film, view: &View<'_>, outbox: &mut Outbox) {
    let id = &film.id;
    if let Some(label) = text(ui, id, "Label", &film.label, "The film's name as it is shown everywhere")
        && !label.trim().is_empty()
    {
        let name = label.trim().to_owned();
        change(outbox, format!("rename {} to {name}", film.label), id, move |film| film.label = name);
    }
    number_field(ui, film, &BOX_SPEED, outbox);
    text_fields(ui, film, &BOX_TEXT, outbox);
    widgets::section(ui, "Process");
    text_fields(ui, film, &PROCESS_TEXT[..2], outbox);
    for field in &PROCESS_NUMBER {
        number_field(ui, film, field, outbox);
    }
    text_fields(ui, film, &PROCESS_TEXT[2..], outbox);
    widgets::section(ui, "Measured by hand");
    number_field(ui, film, &BASE_FOG, outbox);
    if film.print.is_some() {
        number_field(ui, film, &PRINT_EXPOSURE, outbox);
    }
    widgets::section(ui, "Notes");
    let area = ui.scope_id().with(("notes", id));
    if let Some(notes) = widgets::text_area(ui, area, "Notes", &film.notes, "What else is to be known", 3) {
        change(outbox, format!("change the notes of {}", film.label), id, move |film| film.notes = notes);
    }
    missing(ui, film, outbox);
    actions(ui, film, view, outbox);
}

fn change(outbox: &mut Outbox, label: String, id: &FilmId, change: impl FnOnce(&mut Film) + Send + 'static) {
    let id = id.clone();
    outbox.edit(label, move |series| {
        if let Some(film) = series.film_mut(&id) {
            change(film);
        }
    });
}

fn text_fields(ui: &mut Ui, film: &Film, fields: &[TextField], outbox: &mut Outbox) {
    for (name, hover, read, write) in fields {
        if let Some(entered) = text(ui, &film.id, name, read(film), hover) {
            let label = format!("change {} of {}", name.to_lowercase(), film.label);
            let write = *write;
            change(outbox, label, &film.id, move |film| write(film, entered));
        }
    }
}

fn number_field(ui: &mut Ui, film: &Film, field: &NumberField, outbox: &mut Outbox) {
    let (name, unit, hover, read, write) = *field;
    if let Some(entered) = number(ui, &film.id, name, read(film), unit, hover) {
        let label = format!("change {} of {}", name.to_lowercase(), film.label);
        change(outbox, label, &film.id, move |film| write(film, entered));
    }
}

/// What is missing, each with the button that puts it there.
fn missing(ui: &mut Ui, film: &Film, outbox: &mut Outbox) {
    let file = |wanted: FileFor| Command::Ask(wanted);
    let lacks = [
        (
            film.readings.is_none(),
            "Readings",
            "Step densities as a text table",
            file(FileFor::Readings(film.id.clone())),
        ),
        (
            film.readings.is_none(),
            "Strip scan",
            "A scan of the exposed strip",
            file(FileFor::Strip(film.id.clone())),
        ),
        (
            film.print.is_none(),
            "Print scan",
            "A scan of its print of the target",
            file(FileFor::Print(film.id.clone())),
        ),
        (
            film.grain.is_none(),
            "Grain scan",
            "A scan of a plain area of the film",
            file(FileFor::Grain(film.id.clone())),
        ),
        (
            film.bracket.as_ref().is_none_or(|bracket| bracket.frames.is_empty()),
            "Bracket",
            "Shadow densities frame by frame, on the Frames page",
            Command::Page(PageId::Frames),
        ),
    ];
    if lacks.iter().all(|(lacks, ..)| !lacks) {
        return;
    }
    widgets::section(ui, "Missing");
    ui.horizontal_wrapped(|ui| {
        for (_, word, hover, command) in lacks.into_iter().filter(|(lacks, ..)| *lacks) {
            if widgets::button(ui, &format!("{word} …"), hover).clicked() {
                outbox.send(command);
            }
        }
    });
}

fn actions(ui: &mut Ui, film: &Film, view: &View<'_>, outbox: &mut Outbox) {
    ui.add_space(12.0);
    ui.horizontal_wrapped(|ui| {
        let reference = view.reference.is_some_and(|other| other.id == film.id);
        let hover = "All films are compared with this one from now on";
        let why_not = "It is the reference already";
        if widgets::button_if(ui, !reference, "Make reference", hover, why_not).clicked() {
            let id = film.id.clone();
            outbox.edit(format!("make {} the reference", film.label), move |series| {
                series.reference = Some(id);
            });
        }
        let hover = "Takes the film out of the series; its scans stay where they are. Undo brings it back";
        if widgets::button(ui, "Remove film", hover).clicked() {
            let id = film.id.clone();
            outbox.edit(format!("remove {}", film.label), move |series| {
                series.films.retain(|film| film.id != id);
                if series.reference.as_ref() == Some(&id) {
                    series.reference = None;
                }
            });
        }
    });
}
