//! Settings in one sheet: how the window looks, how numbers and plots behave, where files are, and the keys.

use egui::{Context, Id, Modal, ScrollArea, Ui};

use super::keys::KeysPage;
use crate::actions::{Action, Keys};
use crate::appearance::{STEP, fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::settings::{Appearance, PaperSize, Settings};

/// Shows it; `true` when it is over.
#[must_use]
pub fn show(
    ctx: &Context,
    page: &mut KeysPage,
    keys: &Keys,
    settings: &Settings,
    outbox: &mut Outbox,
) -> bool {
    let mut over = false;
    let waiting = page.waits();
    let response = Modal::new(Id::unique("settings")).show(ctx, |ui| {
        ui.set_width(700.0);
        ui.heading("Settings");
        let height = (ctx.content_rect().height() - 160.0).max(200.0);
        ScrollArea::vertical()
            .max_height(height)
            .min_scrolled_height(height)
            .auto_shrink([false, true])
            .show(ui, |ui| {
                let mut new = settings.clone();
                looks(ui, &mut new, outbox);
                work(ui, &mut new);
                files(ui, &mut new);
                if new != *settings {
                    outbox.send(Command::Settings(Box::new(new)));
                }
                widgets::section(ui, "Keys");
                page.table(ui, keys, settings, outbox);
            });
        ui.add_space(2.0 * STEP);
        over = widgets::button(ui, "Close", "Settings are kept as they are changed").clicked();
    });
    over || (!waiting && response.should_close())
}

fn looks(ui: &mut Ui, new: &mut Settings, outbox: &mut Outbox) {
    ui.label(fonts::strong("Appearance"));
    let appearances = [
        (Appearance::AsSystem, "as the desktop", "Light or dark, as the desktop says"),
        (Appearance::Light, "light", "Dark text on light surfaces"),
        (Appearance::Dark, "dark", "Light text on dark surfaces: for a darkened room"),
    ];
    widgets::choice(ui, "Surfaces", &mut new.appearance, &appearances);
    let high = "Black and white, with hard edges: for eyes that need it, and for bad projectors";
    widgets::switch(ui, &mut new.habits.high_contrast, "High contrast", high);
    let motion = "Nothing moves by itself: prints that alternate wait for a key";
    widgets::switch(ui, &mut new.habits.reduced_motion, "Reduced motion", motion);
    ui.horizontal(|ui| {
        widgets::muted_inline(ui, "Text");
        let steps = [
            (Action::SmallerText, "Smaller", "Text and all that goes with it a step smaller"),
            (Action::UsualText, "Usual", "Text as large as it is meant to be"),
            (Action::LargerText, "Larger", "Text and all that goes with it a step larger"),
        ];
        for (action, word, hover) in steps {
            if widgets::button(ui, word, hover).clicked() {
                outbox.send(Command::Do(action));
            }
        }
        ui.label(format!("{} %", new.text.percent()));
    });
}

fn work(ui: &mut Ui, new: &mut Settings) {
    widgets::section(ui, "Plots and numbers");
    let wheel = "On: the wheel zooms a plot about the pointer. Off: with Ctrl. Two fingers always zoom";
    widgets::switch(ui, &mut new.habits.wheel_zooms, "The wheel zooms plots", wheel);
    let comma = "Numbers that are shown, and those that are copied from plots, have a comma; fields read both. Files that are \
                 written have what their format asks for";
    widgets::switch(ui, &mut new.habits.decimal_comma, "Decimal comma", comma);
}

fn files(ui: &mut Ui, new: &mut Settings) {
    widgets::section(ui, "Paper, folders and files");
    let papers = [
        (PaperSize::A4, "A4", "Reports as PDF are set for 210 × 297 mm"),
        (PaperSize::Letter, "Letter", "Reports as PDF are set for 8.5 × 11 inches"),
    ];
    widgets::choice(ui, "Paper", &mut new.paper, &papers);
    let last = new.folder.as_ref().map_or("none yet".to_owned(), |folder| folder.display().to_string());
    widgets::value_row(
        ui,
        "Files are looked for in",
        &last,
        "The folder that the last file was in; beside the series where one is saved",
    );
    let own = "Paths are typed inside the window, and the desktop's file dialog is left alone";
    widgets::switch(ui, &mut new.own_file_dialog, "Type paths inside the window", own);
    ui.horizontal(|ui| {
        widgets::muted_inline(ui, "Most memory of one scan");
        let id = ui.scope_id().with("scan megabytes");
        let hover = "Megabytes that one scan with its smaller copies may take; empty: as much as the machine has free";
        let now = new.scan_megabytes.map(|megabytes| megabytes as f64);
        if let Some(entered) = widgets::number_field(ui, id, "Most memory of one scan", now, hover, 80.0) {
            let plausible = entered.filter(|megabytes| (16.0..=1_048_576.0).contains(megabytes));
            new.scan_megabytes = plausible.map(|megabytes| megabytes as u64);
        }
        widgets::muted_inline(ui, "MB");
    });
    if let Some(file) = &new.file {
        widgets::footnote(ui, &format!("All of this is kept in {}.", file.display()));
    }
}
