//! The record of one film.

use egui::Ui;

use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::edits::{FilmChange, FilmEdit, FilmNumber, FilmText};
use twinwedge_workbench::intake::Purpose;

use super::record::{number, text};
use crate::appearance::widgets;
use crate::outbox::{Command, Outbox};
use crate::pages::tablets::choices;
use crate::pages::{PageId, View};

/// A field of text: its name, what it is, and which it is.
pub(super) type TextField = (&'static str, &'static str, FilmText);
/// A field of a number: its name, unit, what it is, which it is, and what is plausible.
pub(super) struct NumberField {
    pub(super) name: &'static str,
    pub(super) unit: &'static str,
    pub(super) hover: &'static str,
    pub(super) which: FilmNumber,
    /// Least and most that is plausible, both allowed.
    range: (f64, f64),
    /// What to do about a number beyond.
    remedy: &'static str,
}

impl NumberField {
    /// A number that is plausible here; else what is to be told.
    pub(super) fn plausible(&self, entered: Option<f64>) -> Result<Option<f64>, String> {
        let (least, most) = self.range;
        match entered.filter(|value| !(least..=most).contains(value)) {
            None => Ok(entered),
            Some(value) => {
                let shown = widgets::plain(value);
                Err(format!("{} of {shown} is not plausible and was not taken. {}", self.name, self.remedy))
            }
        }
    }
}

pub(super) const BOX_TEXT: [TextField; 3] = [
    ("Batch", "Emulsion batch", FilmText::Batch),
    ("Format", "For instance 135 or 120", FilmText::Format),
    ("Price", "Price of a roll, with its currency", FilmText::Price),
];

pub(super) const PROCESS_TEXT: [TextField; 3] = [
    ("Developer", "Developer", FilmText::Developer),
    ("Dilution", "For instance 1+9", FilmText::Dilution),
    ("Agitation", "Agitation in words", FilmText::Agitation),
];

pub(super) const PROCESS_NUMBER: [NumberField; 2] = [
    NumberField {
        name: "Temperature",
        unit: "°C",
        hover: "Temperature of the developer in degrees Celsius",
        which: FilmNumber::Temperature,
        range: (5.0, 50.0),
        remedy: "Enter degrees Celsius: 68 degrees Fahrenheit are 20.",
    },
    NumberField {
        name: "Time",
        unit: "min",
        hover: "Time in the developer in minutes; half a minute is 0.5",
        which: FilmNumber::Minutes,
        range: (0.1, 240.0),
        remedy: "Enter minutes.",
    },
];

pub(super) const BOX_SPEED: NumberField = NumberField {
    name: "Box speed",
    unit: "",
    hover: "Speed printed on the box, arithmetic",
    which: FilmNumber::BoxSpeed,
    range: (0.1, 100_000.0),
    remedy: "Enter the arithmetic speed, not the one in degrees.",
};

const BASE_FOG: NumberField = NumberField {
    name: "Base+fog",
    unit: "D",
    hover: "Density of an unexposed, developed area, where one was read; else the curve's lowest density stands in",
    which: FilmNumber::BaseFog,
    range: (0.0, 3.0),
    remedy: "Enter a density.",
};

const PRINT_EXPOSURE: NumberField = NumberField {
    name: "Print exposure",
    unit: "s",
    hover: "Exposure of this film's print in seconds",
    which: FilmNumber::PrintSeconds,
    range: (0.01, 10_000.0),
    remedy: "Enter seconds.",
};

pub(super) const TABLET_SECONDS: NumberField = NumberField {
    name: "Exposure time",
    unit: "s",
    hover: "How long the tablet was exposed onto this film, in seconds; a hundredth of a second is 0.01",
    which: FilmNumber::TabletSeconds,
    range: (1e-6, 100_000.0),
    remedy: "Enter seconds above zero.",
};

/// The record of one film: what it is, and how it was developed and exposed.
pub(super) fn record(ui: &mut Ui, film: &Film, view: &View<'_>, outbox: &mut Outbox) {
    let id = &film.id;
    if let Some(label) = text(ui, id, "Label", &film.label, "The film's name as it is shown everywhere") {
        outbox.change(FilmChange::Rename(label).of(id));
    }
    family(ui, film, view, outbox);
    actions(ui, film, view, outbox);
    number_field(ui, film, &BOX_SPEED, outbox);
    text_fields(ui, film, &BOX_TEXT, outbox);
    widgets::section(ui, "Process");
    text_fields(ui, film, &PROCESS_TEXT[..2], outbox);
    for field in &PROCESS_NUMBER {
        number_field(ui, film, field, outbox);
    }
    text_fields(ui, film, &PROCESS_TEXT[2..], outbox);
    exposure(ui, film, view, outbox);
    widgets::section(ui, "Measured by hand");
    number_field(ui, film, &BASE_FOG, outbox);
    if film.print.is_some() {
        number_field(ui, film, &PRINT_EXPOSURE, outbox);
    }
    widgets::section(ui, "Notes");
    let area = ui.scope_id().with(("notes", id));
    if let Some(notes) = widgets::text_area(ui, area, "Notes", &film.notes, "What else is to be known", 3) {
        outbox.change(FilmChange::Text(FilmText::Notes, notes).of(id));
    }
    missing(ui, film, outbox);
}

/// Tablet, light and time of the exposure that the curve comes from.
fn exposure(ui: &mut Ui, film: &Film, view: &View<'_>, outbox: &mut Outbox) {
    widgets::section(ui, "Tablet exposure");
    ui.horizontal_wrapped(|ui| {
        // A word goes to the next line with its field, not cut in two.
        ui.style_mut().wrap_mode = Some(egui::TextWrapMode::Extend);
        choices::tablet_and_light(ui, film, view, outbox);
    });
    let Some(exposed) = &film.tablet_exposure else { return };
    let hover = "Light that exposed the tablet, where it is not that of the series";
    if let Some(entered) = text(ui, &film.id, "Light source", &exposed.light_source, hover) {
        outbox.change(FilmChange::Text(FilmText::LightSource, entered).of(&film.id));
    }
    number_field(ui, film, &TABLET_SECONDS, outbox);
}

/// Which film this is another roll of.
fn family(ui: &mut Ui, film: &Film, view: &View<'_>, outbox: &mut Outbox) {
    let leads = view.series.films.iter().any(|other| other.roll_of.as_ref() == Some(&film.id));
    if leads {
        let rolls = view.series.family(&film.id).count() - 1;
        let plural = if rolls == 1 { "roll" } else { "rolls" };
        widgets::muted(ui, &format!("{rolls} further {plural} of this film in the series."));
        return;
    }
    let heads = view.series.films.iter().filter(|other| other.roll_of.is_none() && other.id != film.id);
    let now = film.roll_of.as_ref().and_then(|id| view.series.film(id));
    let shown = now.map_or("no other film", |head| head.label.as_str());
    let mut chosen: Option<Option<FilmId>> = None;
    ui.horizontal(|ui| {
        let color = crate::appearance::Tokens::get(ui).muted;
        ui.label(egui::RichText::new("Roll of").color(color));
        let name = format!("{} is another roll of", film.label);
        let response = egui::ComboBox::from_id_salt(&name)
            .width(ui.available_width() - 8.0)
            .truncate()
            .selected_text(shown);
        let response = response.show_ui(ui, |ui| {
            if ui.selectable_label(now.is_none(), "no other film").clicked() {
                chosen = Some(None);
            }
            for head in heads {
                if ui.selectable_label(now.is_some_and(|now| now.id == head.id), &head.label).clicked() {
                    chosen = Some(Some(head.id.clone()));
                }
            }
        });
        response.response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::Role::ComboBox, true, format!("{name}: {shown}"))
        });
        response
            .response
            .on_hover_text("Rolls of one film, developed for other times, make a family on the Times page");
    });
    if let Some(head) = chosen.filter(|head| *head != film.roll_of) {
        outbox.change(FilmEdit::RollOf(film.id.clone(), head));
    }
}

fn text_fields(ui: &mut Ui, film: &Film, fields: &[TextField], outbox: &mut Outbox) {
    for (name, hover, which) in fields {
        if let Some(entered) = text(ui, &film.id, name, which.value_in(film), hover) {
            outbox.change(FilmChange::Text(*which, entered).of(&film.id));
        }
    }
}

fn number_field(ui: &mut Ui, film: &Film, field: &NumberField, outbox: &mut Outbox) {
    let NumberField { name, unit, hover, which, .. } = *field;
    let Some(entered) = number(ui, &film.id, name, which.value_in(film), unit, hover) else { return };
    match field.plausible(entered) {
        Ok(value) => outbox.change(FilmChange::Number(which, value).of(&film.id)),
        Err(told) => outbox.send(Command::Say(told)),
    }
}

/// What is missing, each with the button that puts it there.
fn missing(ui: &mut Ui, film: &Film, outbox: &mut Outbox) {
    let file = |wanted: Purpose| Command::Ask(wanted.into());
    let lacks = [
        (
            film.strips.is_empty(),
            "Readings",
            "Step densities as a text table",
            file(Purpose::Readings(film.id.clone(), 0)),
        ),
        (
            film.strips.is_empty(),
            "Strip scan",
            "A scan of the exposed strip",
            file(Purpose::Strip(film.id.clone(), 0)),
        ),
        (
            film.print.is_none(),
            "Print scan",
            "A scan of its print of the target",
            file(Purpose::Print(film.id.clone())),
        ),
        (
            film.uniform_areas.is_empty(),
            "Grain scan",
            "A scan of a uniform area of the film",
            file(Purpose::Grain(film.id.clone())),
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
    ui.horizontal_wrapped(|ui| {
        let hover = "Adds a roll of the same film, with box, process and exposure copied: change its time, then add its readings";
        if widgets::button(ui, "Another roll of this film", hover).clicked() {
            outbox.change(FilmEdit::AddRoll(film.id.clone()));
        }
        let reference = view.reference.is_some_and(|other| other.id == film.id);
        let hover = "All films are compared with this one from now on";
        let why_not = "It is the reference already";
        if widgets::button_if(ui, !reference, "Make reference", hover, why_not).clicked() {
            outbox.change(FilmEdit::MakeReference(film.id.clone()));
        }
        let hover = "Takes the film out of the series; its scans stay where they are. Undo brings it back";
        if widgets::button(ui, "Remove film", hover).clicked() {
            outbox.change(FilmEdit::Remove(film.id.clone()));
        }
    });
}
