//! Greys: how both films turn the patches' colours into greys, from which light they take their exposure, filters between them,
//! and whether the light on both frames was the same.

mod bands;
mod densities;
mod filters;
mod light;
mod rendering;
mod target;

use egui::Ui;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{ComparisonOf, PatchesOf};

use super::{Page, PageId, View};
use crate::appearance::comparison;
use crate::appearance::widgets;
use crate::outbox::{Command, Outbox};

/// What of the greys is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Part {
    #[default]
    Rendering,
    Bands,
    Filters,
    Light,
    Densities,
}

/// The parts of the page, in their order.
const PARTS: [(Part, &str, &str); 5] = [
    (
        Part::Rendering,
        "greys",
        "Each patch as the grey that it becomes on either film, and how much lighter the candidate renders it",
    ),
    (
        Part::Bands,
        "sensitivity",
        "From which light both films take their exposure, and what these patches cannot tell",
    ),
    (
        Part::Filters,
        "filters",
        "Which filter brings the candidate nearest to the reference, under which light",
    ),
    (Part::Light, "light", "Whether the light on both frames was the same, told from the neutral patches"),
    (Part::Densities, "densities", "Print densities against the grey card, not corrected for contrast"),
];

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Greys {
    part: Part,
    filters: filters::Filters,
}

impl Page for Greys {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let Some(candidate) = view.candidate.filter(|_| view.reference.is_some()) else {
            let why = "Patches of two prints are compared: the reference's and a candidate's.";
            if widgets::empty(ui, "Two films are needed", why, "Go to Films") {
                outbox.send(Command::Page(PageId::Films));
            }
            return;
        };
        if nothing_to_show(ui, view, candidate, outbox) {
            return;
        }
        ui.horizontal_wrapped(|ui| widgets::choice(ui, "Show", &mut self.part, &PARTS));
        ui.add_space(4.0);
        match self.part {
            Part::Rendering => rendering::ui(ui, view, candidate, outbox),
            Part::Bands => bands::ui(ui, view, candidate, outbox),
            Part::Filters => self.filters.ui(ui, view, candidate, outbox),
            Part::Light => light::ui(ui, view, candidate),
            Part::Densities => densities::ui(ui, view, outbox),
        }
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, _: &mut Outbox) {
        comparison::films(
            ui,
            view.reference.map(|film| film.label.as_str()),
            view.candidate.map(|film| film.label.as_str()),
        );
        let Some(candidate) = view.candidate else { return };
        match self.part {
            Part::Rendering => rendering::readout(ui, view, candidate),
            Part::Bands => bands::readout(ui, view, candidate),
            Part::Filters => self.filters.readout(ui, view, candidate),
            Part::Light => light::readout(ui, view, candidate),
            Part::Densities => densities::readout_of(ui, view),
        }
    }
}

/// Says what goes here and offers the way, where no patch of both prints is read.
fn nothing_to_show(ui: &mut Ui, view: &View<'_>, candidate: &Film, outbox: &mut Outbox) -> bool {
    let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
    let Some(comparison) = slot.value() else {
        widgets::slot(ui, &slot, &format!("Comparing {}", candidate.label), |_, _| {});
        return true;
    };
    if !comparison.patches.is_empty() {
        return false;
    }
    let (what, why) = match unread(view) {
        Some((film, problem)) => {
            (format!("The patches of {film} are not read"), format!("{} {}", problem.cause, problem.remedy))
        }
        None => (
            "No patch is sampled yet".to_owned(),
            "Lay the patch grid on the reference's print; the candidate's follows through the registration."
                .to_owned(),
        ),
    };
    if widgets::empty(ui, &what, &why, "Go to Prints") {
        outbox.send(Command::Page(PageId::Prints));
    }
    true
}

/// The film whose patches could not be read though a grid is laid, and why.
fn unread<'a>(view: &View<'a>) -> Option<(&'a str, Problem)> {
    let laid = |film: &&Film| film.print.as_ref().is_some_and(|print| print.grid.is_some());
    view.reference.filter(laid)?;
    view.bench().filter(|film| film.print.is_some()).find_map(|film| {
        match view.session.peek(&PatchesOf { film: film.id.clone() }) {
            Slot::Failed(problem) => Some((film.label.as_str(), problem)),
            Slot::Ready(_) | Slot::Stale(..) | Slot::Pending(_) => None,
        }
    })
}
