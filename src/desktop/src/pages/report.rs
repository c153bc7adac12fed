//! Report: findings with their evidence, verdict, export.

use super::{Page, View};
use crate::outbox::Outbox;

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Report {}

impl Page for Report {
    fn ui(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (view, outbox);
        ui.heading("Report");
    }

    fn readout(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (ui, view, outbox);
    }
}
