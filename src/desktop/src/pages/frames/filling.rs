//! The exposure indices of a whole bracket, filled in at once: where it begins, its step, how many frames.

use egui::Ui;

use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::edits::BracketChange;

use crate::appearance::widgets;
use crate::outbox::Outbox;

/// Most frames of a bracket that are filled in at once: a roll.
const MOST_FRAMES: f64 = 40.0;

/// What is entered of the series of indices.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Filling {
    first: Option<f64>,
    stops: f64,
    frames: Option<f64>,
}

impl Filling {
    /// As it stands at first: thirds of a stop, over the frames that are there.
    pub(super) fn of(film: &Film) -> Self {
        let frames = film.bracket.as_ref().map_or(0, |bracket| bracket.frames.len());
        Self { first: None, stops: 1.0 / 3.0, frames: (frames > 0).then_some(frames as f64) }
    }

    /// Shows its line. Answers whether it is over.
    pub(super) fn show(&mut self, ui: &mut Ui, film: &Film, outbox: &mut Outbox) -> bool {
        let name = &film.label;
        widgets::groups(ui, |ui| {
            widgets::group(ui, "first", |ui| {
                widgets::muted_inline(ui, "From EI");
                let hover = "The exposure index of the first frame, as it was set on the meter";
                let id = ui.scope_id().with(("first", &film.id));
                let spoken = format!("First exposure index of {name}");
                if let Some(first) = widgets::number_field(ui, id, &spoken, self.first, hover, 56.0) {
                    self.first = first.filter(|first| *first > 0.0);
                }
            });
            let steps = [
                (1.0 / 3.0, "1/3 up", "Each frame a third of a stop above the one before: less light"),
                (-1.0 / 3.0, "1/3 down", "Each frame a third of a stop below the one before: more light"),
                (0.5, "1/2 up", "Each frame half a stop above the one before"),
                (1.0, "1 up", "Each frame a stop above the one before"),
            ];
            widgets::group(ui, "steps", |ui| {
                widgets::choice(ui, "Stops", &mut self.stops, &steps);
            });
            widgets::group(ui, "frames", |ui| {
                widgets::muted_inline(ui, "Frames");
                let id = ui.scope_id().with(("frames", &film.id));
                let hover = "How many frames; those that are not there yet are added";
                let spoken = format!("Number of frames of {name}");
                if let Some(frames) = widgets::number_field(ui, id, &spoken, self.frames, hover, 44.0) {
                    self.frames =
                        frames.filter(|frames| (1.0..=MOST_FRAMES).contains(frames)).map(f64::round);
                }
            });
        });
        ui.horizontal(|ui| {
            let entered = self.first.zip(self.frames);
            let why_not = "Enter the first index and the number of frames (at most 40)";
            let hover = "Fills in the indices as one step; densities stay as they are";
            let fill = widgets::button_if(ui, entered.is_some(), "Fill in", hover, why_not);
            widgets::name_it(&fill, &format!("Fill in the indices of {name}"));
            if let Some((first, frames)) = entered.filter(|_| fill.clicked()) {
                let (stops, frames) = (self.stops, frames as usize);
                outbox.change(BracketChange::Indices { first, stops, frames }.of(&film.id));
                return true;
            }
            widgets::button(ui, "Cancel", "Leaves the bracket as it is").clicked()
        })
        .inner
    }
}
