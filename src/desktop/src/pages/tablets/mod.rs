//! Tablets: step densities of both films, from scans of their strips or typed, and the calibration of the scanner.

mod calibration;
pub(super) mod choices;
pub(super) mod found;
mod readout;
mod several;
mod strip;
mod trust;
mod typing;

use egui::{Ui, UiBuilder, vec2};
use twinwedge_workbench::core::drawing::Role;

use super::{Page, View};
use crate::actions::Action;
use crate::appearance::widgets;
use crate::canvas::Tiles;
use crate::outbox::Outbox;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Part {
    #[default]
    Strips,
    Calibration,
}

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Tablets {
    part: Part,
    tiles: Tiles,
    reference: strip::Strip,
    candidate: strip::Strip,
    calibration: calibration::Bench,
}

impl Page for Tablets {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        self.tiles.begin();
        let parts = [
            (Part::Strips, "Strips of both films", "Step densities of the reference and of the candidate"),
            (
                Part::Calibration,
                "Scanner calibration",
                "A scan of a tablet of known densities, and how far it can be trusted",
            ),
        ];
        widgets::choice(ui, "Show", &mut self.part, &parts);
        ui.add_space(4.0);
        match self.part {
            Part::Strips => self.strips(ui, view, outbox),
            Part::Calibration => self.calibration.ui(ui, view, &mut self.tiles, outbox),
        }
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        match self.part {
            Part::Strips => {
                let shown = [self.reference.chosen(view.reference), self.candidate.chosen(view.candidate)];
                readout::steps(ui, view, shown, outbox);
            }
            Part::Calibration => self.calibration.readout(ui, view, outbox),
        }
    }

    fn forget_pictures(&mut self) {
        self.tiles = Tiles::default();
    }

    fn act(&mut self, action: Action, _view: &View<'_>, _outbox: &mut Outbox) -> bool {
        match self.part {
            Part::Strips => {
                let first = self.reference.sight.act(action);
                self.candidate.sight.act(action) || first
            }
            Part::Calibration => self.calibration.sight.act(action),
        }
    }
}

impl Tablets {
    fn strips(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let whole = ui.available_rect_before_wrap();
        let height = ((whole.height() - 8.0) / 2.0).floor();
        let halves = [
            (Role::Reference, view.reference, &mut self.reference),
            (Role::Candidate, view.candidate, &mut self.candidate),
        ];
        for (i, (role, film, strip)) in halves.into_iter().enumerate() {
            let top = whole.min + vec2(0.0, i as f32 * (height + 8.0));
            let place = egui::Rect::from_min_size(top, vec2(whole.width(), height));
            ui.scope_builder(UiBuilder::new().max_rect(place).id_salt(i), |ui| match film {
                Some(film) => strip.ui(ui, film, role, view, &mut self.tiles, outbox),
                None => missing_film(ui, role, outbox),
            });
        }
    }
}

fn missing_film(ui: &mut Ui, role: Role, outbox: &mut Outbox) {
    let what = match role {
        Role::Reference => "No reference film yet",
        _ => "No candidate yet",
    };
    if widgets::empty(
        ui,
        what,
        "A film is added to the series; the first one is the reference.",
        "Add a film",
    ) {
        outbox.send(crate::outbox::Command::Do(Action::AddFilm));
    }
}
