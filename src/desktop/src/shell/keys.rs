//! The page of keys, made from the declarations of the actions.

use egui::{Grid, Id, Modal, RichText, ScrollArea};

use super::settings::Settings;
use crate::actions::{ACTIONS, Keys, Menu};
use crate::appearance::{Tokens, fonts};

/// Shows all keys; `true` when it is over.
#[must_use]
pub fn show(ctx: &egui::Context, keys: &Keys, settings: &Settings) -> bool {
    let mut over = false;
    let response = Modal::new(Id::unique("keys")).show(ctx, |ui| {
        ui.set_width(640.0);
        ui.heading("Keys");
        match &settings.file {
            Some(file) => ui.label(format!(
                "A key is changed in {}, under 'keys': name of the action and key, such as \"undo\": \"Ctrl+U\".",
                file.display()
            )),
            None => ui.label("This machine offers no place for settings, so the keys are the usual ones."),
        };
        for complaint in keys.complaints.iter().chain(&settings.complaint) {
            ui.label(fonts::strong(complaint));
        }
        ui.add_space(8.0);
        let height = (ctx.content_rect().height() - 240.0).max(200.0);
        ScrollArea::vertical().max_height(height).min_scrolled_height(height).auto_shrink([false, true]).show(ui, |ui| {
            Grid::new("keys").num_columns(4).spacing([24.0, 4.0]).show(ui, |ui| {
                for menu in Menu::ALL {
                    ui.label(fonts::strong(menu.word()));
                    ui.end_row();
                    for spec in ACTIONS.iter().filter(|spec| spec.menu == menu) {
                        ui.label(spec.label).on_hover_text(spec.hover);
                        ui.label(keys.words(spec.action));
                        ui.label(RichText::new(spec.name).color(Tokens::get(ui).muted));
                        ui.end_row();
                    }
                }
                ui.label(fonts::strong("Handles"));
                ui.end_row();
                ui.label("Move a handle");
                ui.label("Arrow keys");
                ui.label(RichText::new("ten pixels with Shift").color(Tokens::get(ui).muted));
                ui.end_row();
                ui.label("Next handle or control");
                ui.label("Tab");
                ui.end_row();
                ui.label("Break a drag off");
                ui.label("Escape");
                ui.end_row();
            });
        });
        ui.add_space(8.0);
        over = ui.button("Close").clicked();
    });
    over || response.should_close()
}
