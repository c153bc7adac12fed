//! Report: findings with their evidence, each kept, reworded or dropped; the tester's verdict; export.

mod findings;
mod preview;
mod summary;

use std::collections::BTreeMap;

use egui::{ScrollArea, Ui};

use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::edits::FindingEdit;
use twinwedge_workbench::engine::Slot;
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
    shown: Shown,
    preview: preview::Preview,
}

/// What the page shows where it has no room for both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Shown {
    #[default]
    Findings,
    Sheet,
}

const SHOWN: [(Shown, &str, &str); 2] = [
    (Shown::Findings, "Findings", "Verdict, recommendation, and each finding to keep, reword, move or drop"),
    (Shown::Sheet, "Sheet", "The film's one sheet as it will stand on paper"),
];

/// Room in which findings and sheet stand beside each other.
const BOTH: f32 = 1300.0;

impl Page for Report {
    fn ui(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let Some((reference, candidate)) = view.reference.zip(view.candidate) else {
            let why = "A report compares a candidate with the reference.";
            if widgets::empty(ui, "Two films are needed", why, "Go to Films") {
                outbox.send(Command::Page(PageId::Films));
            }
            return;
        };
        let line = "Each finding is made from the numbers beside it. Keep it, say it in your own words, move or drop it.";
        widgets::title(ui, &format!("{} against {}", candidate.label, reference.label), line);
        if ui.available_width() >= BOTH {
            let width = 0.5 * ui.available_width() - 2.0 * STEP;
            ui.horizontal_top(|ui| {
                ui.vertical(|ui| {
                    ui.set_width(width);
                    said(ui, candidate, view, outbox);
                });
                ui.vertical(|ui| self.sheet(ui, candidate, view));
            });
        } else {
            widgets::choice(ui, "Show", &mut self.shown, &SHOWN);
            match self.shown {
                Shown::Findings => said(ui, candidate, view, outbox),
                Shown::Sheet => self.sheet(ui, candidate, view),
            }
        }
    }

    fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        summary::signed_by(ui, view, outbox);
        summary::holds(ui, view);
        summary::exports(ui, view, (&mut self.printed, &mut self.slides), outbox);
        summary::problems(ui, view);
    }
}

impl Report {
    /// The film's sheet as it will stand on paper.
    fn sheet(&mut self, ui: &mut Ui, candidate: &Film, view: &View<'_>) {
        let paper = self.printed.paper.unwrap_or_default();
        ScrollArea::vertical().id_salt("sheet").auto_shrink([false, false]).show(ui, |ui| {
            let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
            match slot {
                Slot::Failed(problem) => widgets::problem(ui, &problem),
                Slot::Ready(comparison) => self.preview.show(ui, view, candidate, Some((comparison, paper))),
                Slot::Stale(..) | Slot::Pending(_) => self.preview.show(ui, view, candidate, None),
            }
        });
    }
}

/// Verdict, recommendation and findings.
fn said(ui: &mut Ui, candidate: &Film, view: &View<'_>, outbox: &mut Outbox) {
    ScrollArea::vertical().id_salt("report").auto_shrink([false, false]).show(ui, |ui| {
        verdict(ui, candidate, view, outbox);
        let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
        widgets::slot(ui, &slot, &format!("Comparing {}", candidate.label), |ui, comparison| {
            findings::list(ui, comparison, candidate, view.series, outbox);
        });
        ui.add_space(4.0 * STEP);
    });
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
