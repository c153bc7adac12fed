//! Times: a film's rolls over time, the time for a wanted gradient, temperature, and what comparisons use.

mod choices;
mod readout;

use std::sync::Arc;

use egui::Ui;

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::development::family::Development as Family;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::{DevelopmentPlots, Role, development_plots};
use twinwedge_workbench::engine::ask::DevelopmentOf;

use super::{Page, PageId, View};
use crate::appearance::{STEP, widgets};
use crate::outbox::{Command, Outbox, PointerReading};
use crate::plot;

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Times {
    of: Of,
    drawn: Option<(Arc<Family>, Role, DevelopmentPlots)>,
    at: Option<f64>,
}

/// Whose development is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Of {
    #[default]
    Candidate,
    Reference,
}

impl Times {
    fn film<'a>(&self, view: &View<'a>) -> Option<(&'a Film, Role)> {
        let candidate = view.candidate.map(|film| (film, Role::Candidate));
        let reference = view.reference.map(|film| (film, Role::Reference));
        match self.of {
            Of::Candidate => candidate.or(reference),
            Of::Reference => reference.or(candidate),
        }
    }

    fn plots(&mut self, family: &Arc<Family>, role: Role) -> &DevelopmentPlots {
        let same = |(kept, as_role, _): &(Arc<Family>, Role, DevelopmentPlots)| {
            Arc::ptr_eq(kept, family) && *as_role == role
        };
        if !self.drawn.as_ref().is_some_and(same) {
            self.drawn = None;
        }
        &self.drawn.get_or_insert_with(|| (Arc::clone(family), role, development_plots(family, role))).2
    }

    fn show(&mut self, ui: &mut Ui, family: &Arc<Family>, role: Role, outbox: &mut Outbox) {
        let hair = self.at;
        let plots = self.plots(family, role);
        let room = ui.available_height() - 2.0 * ui.spacing().item_spacing.y;
        let below = (room * 0.36).clamp(130.0, 360.0);
        let look = |ui: &Ui, name: &str, height: f32| plot::PlotLook {
            free: true,
            hair,
            ..plot::PlotLook::new(ui.scope_id().with(name), height)
        };
        let over = look(ui, "gradient", (room - below).max(200.0));
        let mut pointer = plot::show(ui, &plots.gradient, &over).pointer;
        ui.columns(2, |columns| {
            for (ui, plot) in columns.iter_mut().zip([&plots.speed, &plots.base_fog]) {
                let under = look(ui, &plot.title, below);
                pointer = pointer.or(plot::show(ui, plot, &under).pointer.map(|at| [at[0], f64::NAN]));
            }
        });
        self.at = pointer.map(|at| at[0]);
        if let Some([minutes, _]) = pointer {
            let near =
                family.band.windows(2).find(|pair| (pair[0].minutes..pair[1].minutes).contains(&minutes));
            let law = near.map(|pair| {
                let share = (minutes - pair[0].minutes) / (pair[1].minutes - pair[0].minutes);
                pair[0].gradient + share * (pair[1].gradient - pair[0].gradient)
            });
            let law = law.map(|gradient| format!("gradient {} by the law", format::number(gradient, 2)));
            let (reference, candidate) = if role == Role::Reference { (law, None) } else { (None, law) };
            let at = format!("{} min", format::number(minutes, 1));
            outbox.pointer(PointerReading { at, reference, candidate, difference: None });
        }
    }
}

impl Page for Times {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let Some((film, role)) = self.film(view) else {
            let why = "Development is followed over the rolls of a film.";
            if widgets::empty(ui, "No film yet", why, "Go to Films") {
                outbox.send(Command::Page(PageId::Films));
            }
            return;
        };
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 4.0 * STEP;
            widgets::choice(
                ui,
                "Film",
                &mut self.of,
                &[
                    (Of::Candidate, "candidate", "The rolls of the candidate on the bench"),
                    (Of::Reference, "reference", "The rolls of the reference film"),
                ],
            );
            choices::bar(ui, view, outbox);
        });
        choices::compare_as(ui, view, outbox);
        ui.add_space(STEP);
        let slot = view.session.peek(&DevelopmentOf { film: film.id.clone() });
        match slot.value().cloned() {
            Some(family) => self.show(ui, &family, role, outbox),
            None => widgets::slot(ui, &slot, &format!("Development of {}", film.label), |_, _| {}),
        }
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let Some((film, role)) = self.film(view) else { return };
        let slot = view.session.peek(&DevelopmentOf { film: film.id.clone() });
        let what = format!("Development of {}", film.label);
        widgets::slot(ui, &slot, &what, |ui, family| readout::show(ui, family, film, role, view, outbox));
    }
}
