//! The line above every page while the file of the series is not what this window knows of it.

use egui::Ui;
use twinwedge_workbench::session::OnDisk;

use crate::actions::Action;
use crate::appearance::{fonts, widgets};
use crate::outbox::{Command, Outbox};
use crate::pages::View;

/// Says so, and offers what can be done.
pub fn line(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    match view.session.changed_on_disk() {
        OnDisk::Same => {}
        OnDisk::Changed => {
            ui.horizontal_wrapped(|ui| {
                ui.label(fonts::strong("Somebody else has saved this series."));
                ui.label("This window shows it as it was before.");
                let hover = "Shows what is different in their file; nothing is saved or lost by that";
                if widgets::button(ui, "Compare", hover).clicked() {
                    outbox.send(Command::CompareOnDisk);
                }
                let hover = "Shows the series as they saved it; Undo gives yours back";
                if widgets::button(ui, "Take theirs in", hover).clicked() {
                    outbox.send(Command::Reload);
                }
            });
        }
        OnDisk::Gone => {
            ui.horizontal_wrapped(|ui| {
                ui.label(fonts::strong("The file of this series is not there any more."));
                ui.label("It was moved, renamed or removed; the series is still here.");
                if widgets::button(ui, "Save as ...", Action::SaveAs.spec().hover).clicked() {
                    outbox.send(Command::Do(Action::SaveAs));
                }
            });
        }
    }
}
