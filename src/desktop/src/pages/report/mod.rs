//! Report: findings with their evidence, each kept, reworded or dropped; the tester's verdict; export.

mod findings;
mod summary;

use std::collections::BTreeMap;

use egui::{ScrollArea, Ui};

use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::edits::FindingEdit;
use twinwedge_workbench::engine::ask::ComparisonOf;
use twinwedge_workbench::export::SlideSize;

use super::{Page, PageId, View};
use crate::appearance::{STEP, widgets};
use crate::outbox::{Command, Outbox, Printed};

/// What the page keeps.
#[derive(Debug, Default)]
pub struct Report {
    printed: Printed,
    slides: SlideSize,
}

impl Page for Report {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let Some((reference, candidate)) = view.reference.zip(view.candidate) else {
            let why = "A report compares a candidate with the reference.";
            if widgets::empty(ui, "Two films are needed", why, "Go to Films") {
                outbox.send(Command::Page(PageId::Films));
            }
            return;
        };
        let line =
            "Each finding is made from the numbers beside it. Keep it, say it in your own words, or drop it.";
        widgets::title(ui, &format!("{} against {}", candidate.label, reference.label), line);
        ScrollArea::vertical().id_salt("report").auto_shrink([false, false]).show(ui, |ui| {
            verdict(ui, candidate, view, outbox);
            let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
            widgets::slot(ui, &slot, &format!("Comparing {}", candidate.label), |ui, comparison| {
                findings::list(ui, comparison, candidate, view.series, outbox);
            });
            ui.add_space(4.0 * STEP);
        });
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        summary::signed_by(ui, view, outbox);
        summary::holds(ui, view);
        summary::exports(ui, view, (&mut self.printed, &mut self.slides), outbox);
        summary::problems(ui, view);
    }
}

/// The tester's own words on the film as a whole.
fn verdict(ui: &mut Ui, candidate: &Film, view: &View<'_>, outbox: &mut Outbox) {
    let report = &view.series.report;
    let text = |ui: &mut Ui, name: &str, texts: &BTreeMap<FilmId, String>, hint: &str, lines| {
        widgets::section(ui, name);
        let current = texts.get(&candidate.id).map_or("", String::as_str);
        let id = ui.scope_id().with((name, &candidate.id));
        widgets::text_area(ui, id, name, current, hint, lines)
    };
    let hint = "Is it worth using? In the tester's own words";
    if let Some(verdict) = text(ui, "Verdict", &report.verdicts, hint, 3) {
        outbox.change(FindingEdit::Verdict(candidate.id.clone(), verdict));
    }
    let hint = "For what and for whom, at which exposure index and time";
    if let Some(words) = text(ui, "Recommendation", &report.recommendations, hint, 2) {
        outbox.change(FindingEdit::Recommendation(candidate.id.clone(), words));
    }
}
