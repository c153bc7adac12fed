//! A scan that is not there, in the place where it would be shown: what is missing, what is still known, and the three ways
//! on. And the row by which a scan that is there is replaced or taken away.

use egui::{Rect, Ui, UiBuilder};

use twinwedge_workbench::core::document::{ScanEntry, ScanId, ScanKind, Series};
use twinwedge_workbench::edits::Operation;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::ScanOf;
use twinwedge_workbench::intake::Purpose;

use super::View;
use crate::appearance::{STEP, fonts, widgets};
use crate::canvas;
use crate::outbox::{FileFor, Outbox};

/// Most width of the box.
const WIDEST: f32 = 520.0;

/// Says in `rect` why a scan is not shown: that it is being read, or, where it cannot be, what to do. `without` takes it out of
/// the series where that can be done.
pub(super) fn instead(
    ui: &mut Ui,
    rect: Rect,
    view: &View<'_>,
    scan: &ScanId,
    without: Option<Operation>,
    outbox: &mut Outbox,
) {
    let Slot::Failed(problem) = view.session.peek(&ScanOf { scan: scan.clone() }) else {
        let note = canvas::size_of(view.session, scan).err().unwrap_or_default();
        return canvas::note(ui, rect, &note);
    };
    let Some(entry) = view.series.scans.get(scan) else {
        return canvas::note(ui, rect, &format!("{} {}", problem.cause, problem.remedy));
    };
    let width = (rect.width() - 24.0).clamp(120.0, WIDEST);
    let place = Rect::from_center_size(rect.center(), egui::vec2(width, (rect.height() - 16.0).max(40.0)));
    let builder = UiBuilder::new().max_rect(place).id_salt(("missing", &scan.0));
    ui.scope_builder(builder, |ui| {
        egui::ScrollArea::vertical().id_salt(("missing", &scan.0)).auto_shrink([false, true]).show(
            ui,
            |ui| {
                widgets::boxed(ui, |ui| {
                    ui.label(fonts::strong(format!("The scan {} is not here", scan.0)));
                    widgets::muted(ui, &problem.cause.to_string());
                    for words in known(scan, entry, view.series) {
                        widgets::muted(ui, &words);
                    }
                    ui.add_space(STEP);
                    ui.horizontal_wrapped(|ui| ways_on(ui, scan, without, outbox));
                });
            },
        );
    });
}

fn ways_on(ui: &mut Ui, scan: &ScanId, without: Option<Operation>, outbox: &mut Outbox) {
    let hover = "Opens the file where it is now; others that moved with it are found as well";
    let find = widgets::button(ui, "Find it …", hover);
    widgets::name_it(&find, &format!("Find the scan {}", scan.0));
    if find.clicked() {
        outbox.ask(Purpose::Missing(scan.clone()));
    }
    let hover = "Looks through a folder and those in it for all scans that are missing, by name and contents";
    let all = widgets::button(ui, "Find all in a folder …", hover);
    widgets::name_it(&all, "Find all missing scans in a folder");
    if all.clicked() {
        outbox.send(crate::outbox::Command::Ask(FileFor::MissingIn));
    }
    if let Some(operation) = without {
        let hover = "The series goes on without it; Undo brings it back";
        let response = widgets::button(ui, "Do without", hover);
        widgets::name_it(&response, &format!("Do without the scan {}", scan.0));
        if response.clicked() {
            outbox.change(operation);
        }
    }
}

/// What the series still knows of it.
fn known(scan: &ScanId, entry: &ScanEntry, series: &Series) -> Vec<String> {
    let mut words = vec![format!("Last seen as {}", entry.path)];
    let kind = match entry.kind {
        ScanKind::Film => "a scan of film",
        ScanKind::Print => "a scan of a print",
    };
    let size =
        entry.digest.as_ref().map_or(String::new(), |held| format!(", {:.1} MB", held.bytes as f64 / 1e6));
    words.push(format!("Still known: {kind}{size}; where its areas lie; every entry of the record."));
    if let Some(calibration) = &entry.calibration {
        words.push(format!("It is read through the calibration {}.", calibration.0));
    }
    let also = series.scans.iter().filter(|(other, of)| *other != scan && of.path == entry.path).count();
    if also > 0 {
        words.push("The same file serves another part of the series.".to_owned());
    }
    words.push("Its numbers come back as soon as the file is found.".to_owned());
    words
}

/// The two buttons by which a scan that is shown is replaced or taken away. `what` names it: 'print of Tern 160'.
pub(super) fn replace(ui: &mut Ui, what: &str, other: Purpose, without: Operation, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        let hover = format!("Opens another scan in the place of the {what}");
        let replace = widgets::button(ui, "Replace …", &hover);
        widgets::name_it(&replace, &format!("Replace the {what}"));
        if replace.clicked() {
            outbox.ask(other);
        }
        let hover = format!("Takes the {what} out of the series; its file stays. Undo brings it back");
        let away = widgets::button(ui, "Take away", &hover);
        widgets::name_it(&away, &format!("Take the {what} away"));
        if away.clicked() {
            outbox.change(without);
        }
    });
}
