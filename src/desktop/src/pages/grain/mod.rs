//! Grain: the area measured on each film's scan, and crops of both at one physical scale.

mod area;
mod crops;
mod readout;

use egui::{Rect, Ui, UiBuilder, vec2};
use twinwedge_workbench::core::drawing::Role;

use super::{Page, View};
use crate::actions::Action;
use crate::appearance::widgets;
use crate::canvas::{Sight, Tiles};
use crate::outbox::{Command, Outbox};

/// What of grain and detail is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Part {
    #[default]
    Crops,
}

/// The parts of the page, in their order.
const PARTS: [(Part, &str, &str); 1] =
    [(Part::Crops, "crops", "Both films at one physical scale, and the plain areas that are measured")];

/// What the page keeps.
#[derive(Debug)]
pub struct Grain {
    part: Part,
    tiles: Tiles,
    areas: [Sight; 2],
    crops: Sight,
    one_mean: bool,
    contrast: u16,
}

impl Default for Grain {
    fn default() -> Self {
        Self {
            part: Part::default(),
            tiles: Tiles::default(),
            areas: [Sight::default(); 2],
            crops: Sight::default(),
            one_mean: true,
            contrast: 100,
        }
    }
}

const CONTRASTS: [(u16, &str, &str); 3] = [
    (0, "as it is", "Densities as they are"),
    (
        100,
        "doubled",
        "Differences of density are shown twice as large, so that grain can be seen on a screen",
    ),
    (300, "fourfold", "Differences of density are shown four times as large"),
];

impl Page for Grain {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        self.tiles.begin();
        ui.horizontal(|ui| widgets::choice(ui, "Show", &mut self.part, &PARTS));
        ui.add_space(4.0);
        match self.part {
            Part::Crops => self.crops(ui, view, outbox),
        }
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, _outbox: &mut Outbox) {
        match self.part {
            Part::Crops => readout::granularity(ui, view),
        }
    }

    fn act(&mut self, action: Action, _view: &View<'_>, _outbox: &mut Outbox) -> bool {
        // Keys move the crops, which are compared; the areas follow the pointer.
        self.crops.act(action)
    }
}

impl Grain {
    /// Both films' plain areas above, their crops below.
    fn crops(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        ui.horizontal_wrapped(|ui| {
            widgets::switch(
                ui,
                &mut self.one_mean,
                "Same mean density",
                "The candidate's crop is shown lighter or darker, so that both have the reference's mean",
            );
            ui.add_space(8.0);
            widgets::choice(ui, "Contrast", &mut self.contrast, &CONTRASTS);
        });
        ui.add_space(4.0);
        let whole = ui.available_rect_before_wrap();
        let width = ((whole.width() - 8.0) / 2.0).floor();
        let films = [(Role::Reference, view.reference), (Role::Candidate, view.candidate)];
        for (i, (role, film)) in films.into_iter().enumerate() {
            let left = whole.left() + i as f32 * (width + 8.0);
            let place = Rect::from_min_size(egui::pos2(left, whole.top()), vec2(width, whole.height()));
            ui.scope_builder(UiBuilder::new().max_rect(place).id_salt(i), |ui| match film {
                Some(film) => self.half(ui, film, role, view, outbox),
                None => {
                    let why = "A film is added to the series; the first one is the reference.";
                    if widgets::empty(ui, "No film here yet", why, "Add a film") {
                        outbox.send(Command::Do(Action::AddFilm));
                    }
                }
            });
        }
    }
}
