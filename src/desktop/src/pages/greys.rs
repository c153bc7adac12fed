//! Greys: the colour patches of both prints as greys.

use super::{Page, View};
use crate::outbox::Outbox;

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Greys {}

impl Page for Greys {
    fn ui(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (view, outbox);
        ui.heading("Greys");
    }

    fn readout(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (ui, view, outbox);
    }
}
