//! Whether the light on both frames was the same, told from the neutral patches left and right.

use egui::Ui;
use twinwedge_workbench::core::compare::{format, greys as words};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::engine::ask::LightingOf;

use crate::appearance::{fonts, widgets};
use crate::pages::View;

pub(super) fn ui(ui: &mut Ui, view: &View<'_>, candidate: &Film) {
    widgets::muted(
        ui,
        "Light that was uneven, or changed between the frames, passes for a difference of the films. The neutral patches at \
         both sides of the target tell it, by the curves of paper and films.",
    );
    ui.add_space(4.0);
    let slot = view.session.peek(&LightingOf { film: candidate.id.clone() });
    widgets::slot(ui, &slot, &format!("Checking the light on {}", candidate.label), |ui, lighting| {
        ui.label(fonts::strong(words::light(lighting)));
        for told in &lighting.told {
            if told.distinguishable {
                ui.add(egui::Label::new(words::told(told)).wrap());
            } else {
                widgets::muted(ui, &words::told(told));
            }
        }
        widgets::section(ui, "Not told here");
        for untold in &lighting.untold {
            widgets::muted(ui, words::untold(*untold));
        }
    });
}

/// What each cause would fake, in numbers.
pub(super) fn readout(ui: &mut Ui, view: &View<'_>, candidate: &Film) {
    let slot = view.session.peek(&LightingOf { film: candidate.id.clone() });
    let Some(lighting) = slot.value() else { return };
    widgets::section(ui, "What it would fake, stops");
    for told in &lighting.told {
        widgets::value_row(
            ui,
            &widgets::capital(words::cause(told.cause)),
            &words::stops(&told.fakes),
            &words::told(told),
        );
    }
    widgets::section(ui, "Flare, of a white's light");
    let reference = view.reference.map_or("reference", |film| film.label.as_str());
    for (label, flare) in [reference, candidate.label.as_str()].into_iter().zip(&lighting.flare) {
        let hover = "Even light over the frame, as a share of the light from a perfect white";
        widgets::value_row(ui, label, &format::measured(flare, 3), hover);
    }
    for (label, scale) in [reference, candidate.label.as_str()].into_iter().zip(lighting.error_scale) {
        if scale > 1.0 {
            widgets::footnote(
                ui,
                &format!(
                    "{label}: light, unevenness and flare do not explain its greys; their errors were taken as {} times as large.",
                    format::number(scale, 1)
                ),
            );
        }
    }
}
