//! What was left out of sampled areas, shown on the picture on a switch that all pages share.

use egui::{Id, Painter, Stroke, StrokeKind, Ui};
use twinwedge_workbench::core::tablet::StepSample;

use crate::appearance::{Tokens, over, widgets};
use crate::canvas::Placement;

fn id() -> Id {
    Id::unique("left out is shown")
}

/// Whether it is shown.
pub(super) fn shown(ui: &Ui) -> bool {
    ui.data(|data| data.get_temp(id())).unwrap_or(false)
}

/// The switch that shows where pixels were left out.
pub(super) fn switch(ui: &mut Ui) {
    let mut on = shown(ui);
    let hover =
        "Outlines dust, scratches and what hangs on to them, which were left out of the sampled areas";
    if widgets::switch(ui, &mut on, "Show what was left out", hover) {
        ui.data_mut(|data| data.insert_temp(id(), on));
    }
}

/// Outlines what was left out of some samples.
pub(super) fn draw<'a>(
    ui: &Ui,
    painter: &Painter,
    placement: &Placement,
    samples: impl IntoIterator<Item = &'a StepSample>,
) {
    if !shown(ui) {
        return;
    }
    let accent = Tokens::get(ui).accent;
    for rect in samples.into_iter().flat_map(|sample| &sample.rejected) {
        let around =
            egui::Rect::from_min_max(placement.screen(rect.min), placement.screen(rect.max)).expand(2.0);
        painter.rect_stroke(around, 0.0, Stroke::new(3.0, over::UNDER), StrokeKind::Outside);
        painter.rect_stroke(around, 0.0, Stroke::new(1.0, accent), StrokeKind::Outside);
    }
}
