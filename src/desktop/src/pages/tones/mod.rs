//! Tones: zones on both films at one exposure index, the subject laid on them, the paper, and the way of a tone from
//! subject to print in four quadrants.

mod choices;
mod diagram;
mod paint;
mod paper;
mod readout;
mod zones;

use std::sync::Arc;

use egui::{Ui, UiBuilder, vec2};
use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::core::tone::Chain;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{FilmCurve, PaperCurve, PaperOf, TonesOf};
use twinwedge_workbench::engine::tone_chain;

use super::{Page, PageId, View};
use crate::appearance::{STEP, widgets};
use crate::canvas::{Tiles, ZoomPan};
use crate::outbox::{Command, Outbox};

/// Width from which diagram and zones stand side by side.
const BOTH: f32 = 1320.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Part {
    #[default]
    Diagram,
    Zones,
    Paper,
}

/// What the page keeps.
#[derive(Debug)]
pub struct Tones {
    part: Part,
    quantity: zones::Quantity,
    /// The tone that is followed, as a zone.
    zone: f64,
    drag: Option<diagram::Drag>,
    typing: Option<paper::Typing>,
    tiles: Tiles,
    sight: ZoomPan,
}

impl Default for Tones {
    fn default() -> Self {
        Self {
            part: Part::default(),
            quantity: zones::Quantity::default(),
            zone: twinwedge_workbench::core::tone::METERED_ZONE,
            drag: None,
            typing: None,
            tiles: Tiles::default(),
            sight: ZoomPan::default(),
        }
    }
}

/// The films that have a curve, and the paper if it has one.
struct Members<'a> {
    films: Vec<(&'a Film, Arc<FilmCurve>)>,
    paper: Option<Arc<PaperCurve>>,
}

impl<'a> Members<'a> {
    fn of(view: &View<'a>) -> Self {
        let third = view.series.tones.third.as_ref().and_then(|id| view.series.film(id));
        let mut films: Vec<(&'a Film, Arc<FilmCurve>)> = Vec::new();
        for film in view.bench().chain(third) {
            let slot = view.session.peek_compared(&film.id);
            if let Some(curve) = slot.value()
                && films.iter().all(|(other, _)| other.id != film.id)
            {
                films.push((film, Arc::clone(curve)));
            }
        }
        let paper = view.series.paper.as_ref().and_then(|_| view.session.peek(&PaperOf).value().cloned());
        Self { films, paper }
    }

    /// The chain; none without the reference's curve, and why.
    fn chain<'b>(&'b self, view: &View<'b>) -> Result<Chain<'b>, String> {
        let reference = view.reference.ok_or("There is no reference film.")?;
        if self.films.first().is_none_or(|(film, _)| film.id != reference.id) {
            return Err(format!("{} has no curve yet.", reference.label));
        }
        let films: Vec<(&Film, &FilmCurve)> =
            self.films.iter().map(|(film, curve)| (*film, &**curve)).collect();
        tone_chain(view.series, &films, self.paper.as_deref()).map_err(|why| why.to_string())
    }
}

/// The film whose tables are shown: the candidate, else the reference alone.
fn beside(view: &View<'_>) -> Option<FilmId> {
    view.candidate.or(view.reference).map(|film| film.id.clone())
}

impl Page for Tones {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        self.tiles.begin();
        if view.reference.is_none() {
            let why = "Zones are compared with those of the reference.";
            if widgets::empty(ui, "No reference film", why, "Go to Films") {
                outbox.send(Command::Page(PageId::Films));
            }
            return;
        }
        let members = Members::of(view);
        let chain = members.chain(view);
        self.parts(ui, view, outbox);
        if self.part == Part::Paper {
            paper::ui(self, ui, view, outbox);
            return;
        }
        choices::bar(ui, view, chain.as_ref().ok(), outbox);
        ui.add_space(STEP);
        for film in view.bench() {
            if let Slot::Failed(problem) = view.session.peek_compared(&film.id) {
                widgets::problem(ui, &problem);
            }
        }
        let chain = match chain {
            Ok(chain) => chain,
            Err(reason) => {
                widgets::muted(ui, &reason);
                return;
            }
        };
        let whole = ui.available_rect_before_wrap();
        if whole.width() >= BOTH {
            let left = whole.with_max_x(whole.left() + (whole.width() * 0.56).min(whole.height() * 1.25));
            let right = whole.with_min_x(left.right() + 4.0 * STEP);
            ui.scope_builder(UiBuilder::new().max_rect(left).id_salt("diagram"), |ui| {
                diagram::ui(self, ui, &chain, outbox);
            });
            ui.scope_builder(UiBuilder::new().max_rect(right).id_salt("zones"), |ui| {
                zones::ui(ui, view, &mut self.quantity, &mut self.zone);
            });
            return;
        }
        match self.part {
            Part::Zones => zones::ui(ui, view, &mut self.quantity, &mut self.zone),
            Part::Diagram | Part::Paper => diagram::ui(self, ui, &chain, outbox),
        }
    }

    fn forget_pictures(&mut self) {
        self.tiles = Tiles::default();
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        if self.part == Part::Paper {
            paper::readout(ui, view);
            return;
        }
        let members = Members::of(view);
        let chain = members.chain(view);
        if let Ok(chain) = &chain {
            readout::traced(ui, view, chain, self.zone);
        }
        if let Some(film) = beside(view) {
            let slot = view.session.peek(&TonesOf { film });
            widgets::slot(ui, &slot, "Zones", readout::films);
        }
        readout::settings(ui, view, outbox);
    }

    fn act(&mut self, action: crate::actions::Action, _: &View<'_>, _: &mut Outbox) -> bool {
        self.part == Part::Paper && self.sight.act(action)
    }
}

impl Tones {
    fn parts(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing = vec2(4.0 * STEP, STEP);
            let parts = [
                (
                    Part::Diagram,
                    "four quadrants",
                    "From subject to print: camera, films, paper, reproduction",
                ),
                (Part::Zones, "zones", "Density zone by zone, both films at one exposure index"),
                (Part::Paper, "paper", "The print of a step tablet that the paper's curve is made from"),
            ];
            widgets::choice(ui, "Show", &mut self.part, &parts);
            ui.horizontal(|ui| choices::third_film(ui, view, outbox));
        });
    }
}
