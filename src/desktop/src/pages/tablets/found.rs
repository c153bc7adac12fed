//! What was found of a strip by itself: the row above the scan, the borders over it, and the doubts in words.

use egui::{Color32, Painter, RichText, Stroke, Ui};
use twinwedge_workbench::core::document::{ScanId, StripShape, TabletId};
use twinwedge_workbench::core::found::Found;
use twinwedge_workbench::core::tablet::find::{FoundStrip, Order, Wanted};
use twinwedge_workbench::core::words::Sentence;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::FoundStripOf;

use crate::appearance::{Tokens, over, widgets};
use crate::canvas::Placement;
use crate::pages::View;

/// A strip on a scan, as a page looks at it.
#[derive(Debug, Clone, Copy)]
pub(in crate::pages) struct Placed<'a> {
    pub(in crate::pages) scan: &'a ScanId,
    pub(in crate::pages) shape: &'a StripShape,
    /// The tablet, where one is chosen.
    pub(in crate::pages) tablet: Option<&'a TabletId>,
    pub(in crate::pages) order: Order,
}

impl Placed<'_> {
    /// What is seen of it. A measured tablet says how many steps there are; nominal densities were perhaps chosen by the
    /// number that was counted, so the steps are counted again, and the number on the page counts only where that fails.
    pub(in crate::pages) fn found(&self, view: &View<'_>) -> Slot<Found<FoundStrip>> {
        let ask = |steps: Option<u32>| {
            let wanted = Wanted { steps, order: self.order };
            view.session.peek(&FoundStripOf { scan: self.scan.clone(), wanted })
        };
        let steps = self.shape.steps;
        let tablet = self.tablet.and_then(|id| view.series.tablets.get(id));
        if tablet.is_some_and(|tablet| !tablet.nominal && tablet.steps.len() == steps as usize) {
            return ask(Some(steps));
        }
        match ask(None) {
            Slot::Ready(found) if found.value.shape.steps != steps => ask(Some(steps)),
            Slot::Failed(_) => ask(Some(steps)),
            counted => counted,
        }
    }

    /// What is seen of it, where it is what the series holds: not moved by hand since.
    pub(in crate::pages) fn as_found<'f>(
        &self,
        slot: &'f Slot<Found<FoundStrip>>,
    ) -> Option<&'f Found<FoundStrip>> {
        slot.value().map(|found| &**found).filter(|found| same(&found.value.shape, self.shape))
    }
}

/// Whether two shapes lie at one place.
fn same(a: &StripShape, b: &StripShape) -> bool {
    let corners = a.quad.corners.iter().zip(&b.quad.corners);
    a.steps == b.steps
        && corners.into_iter().all(|(a, b)| (a.x - b.x).abs() < 0.02 && (a.y - b.y).abs() < 0.02)
}

/// The row that says how the strip came to its place, with what else stands in it; gives the shape to put there when the button
/// was pressed.
pub(in crate::pages) fn row(
    ui: &mut Ui,
    placed: &Placed<'_>,
    slot: &Slot<Found<FoundStrip>>,
    beside: impl FnOnce(&mut Ui),
) -> Option<StripShape> {
    let mut pressed = false;
    ui.horizontal(|ui| {
        let hover = "Looks for the steps in the scan and puts the corners there; undo takes it back";
        let there = slot.value().is_some();
        pressed = ui.add_enabled_ui(there, |ui| widgets::button(ui, "Find the strip", hover).clicked()).inner;
        beside(ui);
        let words = match (slot, placed.as_found(slot)) {
            (_, Some(found)) if found.is_sure() => "Found by itself".to_owned(),
            (_, Some(found)) => format!("Found by itself, in doubt: {}", found.doubts[0]),
            (Slot::Pending(_), None) => "Looking for the strip".to_owned(),
            (Slot::Failed(problem), None) => format!("Not found: {}", problem.cause),
            _ => "Placed by hand".to_owned(),
        };
        let muted = Tokens::get(ui).muted;
        widgets::ellipsis(ui, RichText::new(words).color(muted));
    });
    if let Slot::Failed(problem) = slot {
        widgets::footnote(ui, &problem.remedy.to_string());
    }
    slot.value().filter(|_| pressed).map(|found| found.value.shape)
}

/// Draws the borders between steps: whole lines where they are seen, only their ends where they are not.
pub(in crate::pages) fn draw(painter: &Painter, placement: &Placement, found: &FoundStrip) {
    let line = |from: egui::Pos2, to: egui::Pos2, color: Color32| {
        painter.line_segment([from, to], Stroke::new(2.5, over::UNDER));
        painter.line_segment([from, to], Stroke::new(1.0, color));
    };
    for border in &found.borders {
        let [a, b] = border.ends.map(|end| placement.screen(end));
        if border.off.is_some() {
            line(a, b, over::LIGHT);
        } else {
            line(a, a.lerp(b, 0.12), over::LIGHT);
            line(b, b.lerp(a, 0.12), over::LIGHT);
        }
    }
}

/// The doubts, and the steps that are not sound with their reasons, under a heading.
pub(in crate::pages) fn words(ui: &mut Ui, heading: &str, found: &Found<FoundStrip>) {
    let reasons = found.value.steps.iter().filter(|note| !note.reasons.is_empty());
    let steps: Vec<String> = reasons
        .map(|note| {
            let words: Vec<String> = note.reasons.iter().map(|reason| reason.words().to_string()).collect();
            format!("Step {}: {}.", note.step, words.join("; "))
        })
        .filter(|sentence| !found.doubts.iter().any(|doubt| doubt == sentence.as_str()))
        .collect();
    if found.is_sure() && steps.is_empty() {
        return;
    }
    let title = if found.is_sure() { "found by itself" } else { "found by itself, in doubt" };
    widgets::muted(ui, &format!("{heading}: {title}"));
    for sentence in found.doubts.iter().map(Sentence::to_string).chain(steps) {
        widgets::footnote(ui, &sentence);
    }
    ui.add_space(4.0);
}

/// Whether anything is told of a step.
pub(in crate::pages) fn unsound(found: Option<&Found<FoundStrip>>, step: u32) -> bool {
    let note = found.and_then(|found| found.value.steps.get(step as usize - 1));
    note.is_some_and(|note| !note.reasons.is_empty())
}
