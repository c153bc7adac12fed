//! The record of the series: what all films share, and how figures are taken.

use egui::Ui;

use twinwedge_workbench::core::document::{Series, Settings};

use super::record::{number, text};
use crate::appearance::widgets;
use crate::outbox::Outbox;

/// A field of text: its name, what it is, how it is read and written.
type TextField = (&'static str, &'static str, fn(&Series) -> &str, fn(&mut Series, String));

const CONDITIONS: [TextField; 8] = [
    (
        "Light source",
        "Light that exposed tablet and target, for instance daylight, 5500 K",
        |series| &series.conditions.light_source,
        |series, text| series.conditions.light_source = text,
    ),
    (
        "Camera",
        "Camera and lens used for the target",
        |series| &series.conditions.camera,
        |series, text| series.conditions.camera = text,
    ),
    (
        "Target",
        "What the target is",
        |series| &series.conditions.target,
        |series, text| series.conditions.target = text,
    ),
    (
        "Paper",
        "Printing paper and its grade",
        |series| &series.conditions.paper,
        |series, text| series.conditions.paper = text,
    ),
    (
        "Paper process",
        "Paper developer and time",
        |series| &series.conditions.paper_process,
        |series, text| series.conditions.paper_process = text,
    ),
    (
        "Enlarger",
        "Lens and aperture of the enlarger",
        |series| &series.conditions.enlarger,
        |series, text| series.conditions.enlarger = text,
    ),
    (
        "Scanner",
        "Scanner and the settings it ran with",
        |series| &series.conditions.scanner,
        |series, text| series.conditions.scanner = text,
    ),
    (
        "Densitometer",
        "Instrument that read typed densities",
        |series| &series.conditions.densitometer,
        |series, text| series.conditions.densitometer = text,
    ),
];

/// A setting: name, unit, what it is, how it is read and written, least and most.
type SettingField =
    (&'static str, &'static str, &'static str, fn(&Settings) -> f64, fn(&mut Settings, f64), (f64, f64));

const SETTINGS: [SettingField; 6] = [
    (
        "Reading, u",
        "D",
        "Standard uncertainty of a typed density where none stands beside it",
        |settings| settings.reading_u,
        |settings, value| settings.reading_u = value,
        (0.0005, 0.5),
    ),
    (
        "Gradient over",
        "log H",
        "Range above the speed point over which the average gradient is taken",
        |settings| settings.gradient_range,
        |settings, value| settings.gradient_range = value,
        (0.3, 3.0),
    ),
    (
        "ISO window",
        "D",
        "Half window allowed on the density difference of 0.80 of ISO 6",
        |settings| settings.iso_window,
        |settings, value| settings.iso_window = value,
        (0.0, 0.3),
    ),
    (
        "Usable from",
        "",
        "Local gradient at which the usable exposure range begins on the side of the toe; 0.20 is common practice",
        |settings| settings.usable_toe_gradient,
        |settings, value| settings.usable_toe_gradient = value,
        (0.02, 2.0),
    ),
    (
        "Usable to",
        "",
        "Local gradient at which the usable exposure range ends on the side of the shoulder; 0.20 is common practice",
        |settings| settings.usable_shoulder_gradient,
        |settings, value| settings.usable_shoulder_gradient = value,
        (0.02, 2.0),
    ),
    (
        "Grain aperture",
        "µm",
        "Diameter of the aperture for RMS granularity; 48 µm by ISO 10505",
        |settings| settings.aperture_um,
        |settings, value| settings.aperture_um = value,
        (5.0, 500.0),
    ),
];

/// The record.
pub(super) fn record(ui: &mut Ui, series: &Series, outbox: &mut Outbox) {
    if let Some(title) = text(ui, "series", "Title", &series.title, "What the series is called") {
        outbox.edit("change the title", move |series| series.title = title);
    }
    widgets::section(ui, "About");
    let id = ui.scope_id().with("about");
    let hint = "Where the data come from and who made them";
    if let Some(about) = widgets::text_area(ui, id, "About the series", &series.about, hint, 3) {
        outbox.edit("change what the series is about", move |series| series.about = about);
    }
    widgets::section(ui, "Conditions that all films share");
    for (name, hover, read, write) in &CONDITIONS {
        if let Some(entered) = text(ui, "series", name, read(series), hover) {
            let write = *write;
            outbox.edit(format!("change {}", name.to_lowercase()), move |series| write(series, entered));
        }
    }
    let hover = "Enlargement of the prints from the negative, linear; carries lengths between print and film";
    if let Some(value) = number(ui, "series", "Enlargement", series.conditions.enlargement, "×", hover) {
        outbox.edit("change enlargement", move |series| {
            series.conditions.enlargement = value.filter(|value| *value > 0.0);
        });
    }
    settings(ui, series, outbox);
}

fn settings(ui: &mut Ui, series: &Series, outbox: &mut Outbox) {
    widgets::section(ui, "How figures are taken");
    for (name, unit, hover, read, write, (least, most)) in &SETTINGS {
        let hover = format!("{hover} ({least} to {most})");
        let entered = number(ui, "series", name, Some(read(&series.settings)), unit, &hover);
        let Some(Some(value)) = entered else { continue };
        if (*least..=*most).contains(&value) {
            let write = *write;
            outbox.edit(format!("change {}", name.to_lowercase()), move |series| {
                write(&mut series.settings, value);
            });
        } else {
            let told = format!("{name} goes from {least} to {most}; it stays as it was.");
            outbox.send(crate::outbox::Command::Say(told));
        }
    }
    crate::pages::scan_encoding::of_series(ui, series, outbox);
}
