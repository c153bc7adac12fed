//! What speaks against a scan, in a line beside it; hovering tells what it spoils and what to do.

use std::fmt::Write;

use egui::Ui;
use twinwedge_workbench::core::document::{ReadingsSource, ScanId};
use twinwedge_workbench::core::scan::examine::Verdict;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{Examined, ExaminedOf};

use super::{View, left_out, scan_choices};
use crate::appearance::widgets;
use crate::outbox::Outbox;

/// A line for a scan: 'Scan of the strip: sharpened'.
pub(super) fn line(ui: &mut Ui, view: &View<'_>, label: &str, scan: &ScanId) {
    match view.session.peek(&ExaminedOf { scan: scan.clone() }) {
        Slot::Ready(examined) | Slot::Stale(examined, _) => {
            let words = format!("{label}: {}", examined.line());
            let text = if examined.doubtful() {
                crate::appearance::fonts::strong(&words)
            } else {
                egui::RichText::new(&words).color(crate::appearance::Tokens::get(ui).muted)
            };
            ui.label(text).on_hover_text(hover(&examined));
        }
        Slot::Pending(progress) => widgets::waiting(ui, &format!("Examining: {label}"), progress),
        // The page says why the scan cannot be read.
        Slot::Failed(_) => {}
    }
}

/// Lines for the scans of both films on the bench: of their strips.
pub(super) fn strips(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    left_out::switch(ui);
    for film in view.bench() {
        for strip in &film.strips {
            if let ReadingsSource::Strip { scan, .. } = &strip.readings {
                line(ui, view, &format!("Scan of {}", film.label), scan);
                scan_choices::scan(ui, view, &format!("strip of {}", film.label), scan, outbox);
            }
        }
    }
}

/// The same of their prints.
pub(super) fn prints(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    left_out::switch(ui);
    for film in view.bench() {
        if let Some(print) = &film.print {
            line(ui, view, &format!("Scan of {}", film.label), &print.scan);
            scan_choices::scan(ui, view, &format!("print of {}", film.label), &print.scan, outbox);
        }
    }
}

/// Every test in a sentence; of what was found what it spoils and the remedy.
fn hover(examined: &Examined) -> String {
    let mut text = String::new();
    if examined.other_kind {
        text.push_str(
            "It is read through a calibration of the other kind: film is seen through, a print by reflection.\nChoose a \
             calibration made from a tablet of the same kind.\n\n",
        );
    }
    for test in examined.pixels.found() {
        let _ = writeln!(
            text,
            "{} This spoils {}.\n{}\n",
            test.sentence,
            test.fault.spoils(),
            test.fault.remedy()
        );
    }
    for difference in &examined.settings {
        let _ = writeln!(text, "{}", difference.sentence);
    }
    if text.is_empty() {
        text.push_str("Its pixels were looked through for faults of scanning; none was found.\n\n");
    }
    for test in examined.pixels.tests.iter().filter(|test| test.verdict != Verdict::Recognised) {
        let _ = writeln!(text, "{}: {}", widgets::capital(test.fault.word()), test.sentence);
    }
    text.trim_end().to_owned()
}
