//! The record of the series: what all films share, and how figures are taken.

use egui::Ui;

use twinwedge_workbench::core::document::Series;
use twinwedge_workbench::edits::{Condition, RecordEdit, Setting};

use super::record::{number, text};
use crate::appearance::widgets;
use crate::outbox::Outbox;

/// A field of text: its name, what it is, and which it is.
type TextField = (&'static str, &'static str, Condition);

const CONDITIONS: [TextField; 8] = [
    (
        "Light source",
        "Light that exposed tablet and target, for instance daylight, 5500 K",
        Condition::LightSource,
    ),
    ("Camera", "Camera and lens used for the target", Condition::Camera),
    ("Target", "What the target is", Condition::Target),
    ("Paper", "Printing paper and its grade", Condition::Paper),
    ("Paper process", "Paper developer and time", Condition::PaperProcess),
    ("Enlarger", "Lens and aperture of the enlarger", Condition::Enlarger),
    ("Scanner", "Scanner and the settings it ran with", Condition::Scanner),
    ("Densitometer", "Instrument that read typed densities", Condition::Densitometer),
];

/// A setting: name, unit, what it is, which it is, least and most.
type SettingField = (&'static str, &'static str, &'static str, Setting, (f64, f64));

const SETTINGS: [SettingField; 6] = [
    (
        "Reading, u",
        "D",
        "Standard uncertainty of a typed density where none stands beside it",
        Setting::ReadingU,
        (0.0005, 0.5),
    ),
    (
        "Gradient over",
        "log H",
        "Range above the speed point over which the average gradient is taken",
        Setting::GradientRange,
        (0.3, 3.0),
    ),
    (
        "ISO window",
        "D",
        "Half window allowed on the density difference of 0.80 of ISO 6",
        Setting::IsoWindow,
        (0.0, 0.3),
    ),
    (
        "Usable from",
        "",
        "Local gradient at which the usable exposure range begins on the side of the toe; 0.20 is common practice",
        Setting::UsableToe,
        (0.02, 2.0),
    ),
    (
        "Usable to",
        "",
        "Local gradient at which the usable exposure range ends on the side of the shoulder; 0.20 is common practice",
        Setting::UsableShoulder,
        (0.02, 2.0),
    ),
    (
        "Grain aperture",
        "µm",
        "Diameter of the aperture for RMS granularity; 48 µm by ISO 10505",
        Setting::ApertureUm,
        (5.0, 500.0),
    ),
];

/// The record of the series: its title, its conditions and settings.
pub(super) fn record(ui: &mut Ui, series: &Series, outbox: &mut Outbox) {
    if let Some(title) = text(ui, "series", "Title", &series.title, "What the series is called") {
        outbox.change(RecordEdit::Title(title));
    }
    widgets::section(ui, "About");
    let id = ui.scope_id().with("about");
    let hint = "Where the data come from and who made them";
    if let Some(about) = widgets::text_area(ui, id, "About the series", &series.about, hint, 3) {
        outbox.change(RecordEdit::About(about));
    }
    widgets::section(ui, "Conditions that all films share");
    for (name, hover, which) in &CONDITIONS {
        if let Some(entered) = text(ui, "series", name, which.value_in(series), hover) {
            outbox.change(RecordEdit::Condition(*which, entered));
        }
    }
    let hover = "Enlargement of the prints from the negative, linear; carries lengths between print and film";
    if let Some(value) = number(ui, "series", "Enlargement", series.conditions.enlargement, "×", hover) {
        outbox.change(RecordEdit::Enlargement(value));
    }
    settings(ui, series, outbox);
}

fn settings(ui: &mut Ui, series: &Series, outbox: &mut Outbox) {
    widgets::section(ui, "How figures are taken");
    for (name, unit, hover, which, (least, most)) in &SETTINGS {
        let hover = format!("{hover} ({least} to {most})");
        let entered = number(ui, "series", name, Some(which.value_in(series)), unit, &hover);
        let Some(Some(value)) = entered else { continue };
        if (*least..=*most).contains(&value) {
            outbox.change(RecordEdit::Setting(*which, value));
        } else {
            let told = format!("{name} goes from {least} to {most}; it stays as it was.");
            outbox.send(crate::outbox::Command::Say(told));
        }
    }
    crate::pages::scan_encoding::of_series(ui, series, outbox);
}
