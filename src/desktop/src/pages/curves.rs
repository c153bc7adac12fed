//! Curves: both characteristic curves over each other.

use super::{Page, View};
use crate::outbox::Outbox;

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Curves {}

impl Page for Curves {
    fn ui(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (view, outbox);
        ui.heading("Curves");
    }

    fn readout(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox) {
        let _ = (ui, view, outbox);
    }
}
