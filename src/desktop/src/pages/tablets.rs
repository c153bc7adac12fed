//! Tablets: step densities and the calibration of the scanner.

use super::{Page, View};
use crate::outbox::Outbox;

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Tablets {}

impl Page for Tablets {
    fn ui(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (view, outbox);
        ui.heading("Tablets");
    }

    fn readout(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (ui, view, outbox);
    }
}
