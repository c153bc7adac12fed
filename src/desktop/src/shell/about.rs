//! What the program says of itself: version, licences, and the cautions of the darkroom.

use egui::{Id, Modal, RichText, ScrollArea};
use twinwedge_workbench::core::compare::DARKROOM_CAUTION;

use crate::appearance::{Tokens, fonts, widgets};

/// Shows it; `true` when it is over.
#[must_use]
pub fn show(ctx: &egui::Context) -> bool {
    let mut over = false;
    let response = Modal::new(Id::unique("about")).show(ctx, |ui| {
        ui.set_width(520.0);
        ui.heading(concat!("Twinwedge ", env!("CARGO_PKG_VERSION")));
        let height = (ctx.content_rect().height() - 200.0).max(160.0);
        ScrollArea::vertical().max_height(height).auto_shrink([false, true]).show(ui, |ui| {
            ui.label("Puts a black-and-white film beside a reference film and says, with numbers and pictures, how they differ.");
            ui.add_space(8.0);
            ui.label(fonts::strong("Licences"));
            ui.label("The program: MIT or Apache-2.0, at your option.");
            ui.label("The font of the window: SIL Open Font License 1.1. It may be used, copied and changed, not sold by itself.");
            ui.label("The libraries of others that it is built from keep their own licences, all of them free.");
            ui.add_space(8.0);
            ui.label(fonts::strong("In the darkroom"));
            ui.label(DARKROOM_CAUTION);
            ui.add_space(8.0);
            let sample = "The sample series is invented: its films, papers and developers exist only in a simulation.";
            ui.label(RichText::new(sample).color(Tokens::get(ui).muted));
        });
        ui.add_space(8.0);
        over = widgets::button(ui, "Close", "Back to the page; Escape does the same").clicked();
    });
    over || response.should_close()
}
