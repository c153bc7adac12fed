//! Frames: brackets and the shadow match.

use super::{Page, View};
use crate::outbox::Outbox;

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Frames {}

impl Page for Frames {
    fn ui(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (view, outbox);
        ui.heading("Frames");
    }

    fn readout(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (ui, view, outbox);
    }
}
