//! The line above every page while comparisons use predicted curves.

use egui::Ui;

use twinwedge_workbench::core::document::CompareAs;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::PredictedOf;

use crate::appearance::{fonts, widgets};
use crate::outbox::Outbox;
use crate::pages::View;

/// Says so, and offers the way back.
pub fn line(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    if view.series.development.compare_as == CompareAs::AsDeveloped {
        return;
    }
    let hover = view.candidate.map(|film| match view.session.peek(&PredictedOf { film: film.id.clone() }) {
        Slot::Ready(curve) | Slot::Stale(curve, _) => {
            curve.prediction.as_ref().map(|prediction| prediction.sentence.clone()).unwrap_or_default()
        }
        Slot::Pending(_) => "Being predicted.".to_owned(),
        Slot::Failed(problem) => format!("{} {}", problem.cause, problem.remedy),
    });
    ui.horizontal_wrapped(|ui| {
        ui.label(fonts::strong("Predicted, not measured:"));
        ui.label("curves of candidates are shown as if developed to the reference's contrast.")
            .on_hover_text(hover.unwrap_or_default());
        if widgets::button(ui, "Compare as developed", "Back to the curves that were measured").clicked() {
            outbox.edit("compare as developed", |series| {
                series.development.compare_as = CompareAs::AsDeveloped;
            });
        }
    });
}
