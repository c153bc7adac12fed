//! What speaks against a scan stands beside it, and how it is read can be chosen there.

use egui::Role;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{Encoding, FlatSource, ScanId};
use twinwedge_workbench::engine::ask::{ScreenTones, TileOf, TilePicture};
use twinwedge_workbench::session::{Edit, Session};

use crate::bench::{go, sample, says, until, window};
use crate::typed::enter;

#[test]
fn every_page_with_a_scan_says_what_was_found_about_it() {
    let mut harness = window(sample());
    for page in ["Tablets", "Prints"] {
        go(&mut harness, page);
        until(&mut harness, "the examination", |harness| {
            says(harness, "Scan of Tern 160: nothing found against it")
        });
    }
    go(&mut harness, "Grain");
    until(&mut harness, "the examination", |harness| says(harness, "Scan: nothing found against it"));
    go(&mut harness, "Tablets");
    harness.get_by_role_and_label(Role::RadioButton, "Show: Scanner calibration").click();
    harness.run_steps(2);
    until(&mut harness, "the noise", |harness| says(harness, "Noise of a pixel, D: "));
    assert!(says(&harness, "Stray light: "));
}

#[test]
fn the_falloff_of_a_print_is_taken_from_its_border_and_left_out_is_shown() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    until(&mut harness, "the scan", |harness| says(harness, "How the print of Tern 160 is read"));
    harness
        .query_all_by_label_contains("How the print of Tern 160 is read")
        .next()
        .expect("a heading")
        .click();
    harness.run_steps(12);
    harness.query_all_by_label_contains("Falloff of light of Tern 160 print").next().expect("a list").click();
    harness.run_steps(3);
    harness.get_by_label("by the paper's border").click();
    harness.run_steps(3);
    let flat = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        harness.state().session().series().scans[&ScanId::from("Tern 160 print")].flat.clone()
    };
    assert_eq!(flat(&harness), FlatSource::Border(20.0));
    enter(&mut harness, "Width of the border", "12");
    assert_eq!(flat(&harness), FlatSource::Border(12.0));
    harness.get_by_label("Show what was left out").click();
    harness.run_steps(3);
    assert_eq!(harness.state().session().undo_label(), Some("set the border of Tern 160 print"));
}

/// The sample with falloffs to be taken from a border of one pixel, which is too narrow: those of calibrations, or all others.
fn too_narrow(calibrations: bool) -> Session {
    let mut session = sample();
    let edit = Edit::new("take falloffs from one pixel", move |series| {
        let made: Vec<ScanId> = series.calibrations.values().map(|made| made.scan.clone()).collect();
        for (id, entry) in &mut series.scans {
            if made.contains(id) == calibrations {
                entry.flat = FlatSource::Border(1.0);
            }
        }
    });
    session.apply(edit).expect("an edit");
    session
}

const NO_FALLOFF: &str = "The falloff of light cannot be taken out. A border of 1 pixels cannot be read";

#[test]
fn a_falloff_that_cannot_be_taken_out_says_why_in_the_picture() {
    let mut harness = window(too_narrow(false));
    for page in ["Tablets", "Prints", "Grain"] {
        go(&mut harness, page);
        until(&mut harness, page, |harness| says(harness, NO_FALLOFF));
        assert!(says(&harness, "Type how many pixels wide the paper's white is"), "{page}");
    }
    // The pictures themselves are there to be looked at.
    let session = harness.state().session();
    for scan in session.series().scans.keys() {
        let picture = TilePicture::Scan(scan.clone());
        let tile = TileOf { picture, level: 0, column: 0, row: 0, look: ScreenTones::default() };
        let drawn = session.wait(&tile);
        assert!(drawn.is_ok(), "{}: {drawn:?}", scan.0);
    }
}

#[test]
fn a_calibration_that_fails_says_why_in_every_picture_read_by_it() {
    let mut harness = window(too_narrow(true));
    for page in ["Tablets", "Prints"] {
        go(&mut harness, page);
        until(&mut harness, page, |harness| {
            says(harness, "cannot be used. A border of 1 pixels cannot be read")
        });
    }
    go(&mut harness, "Tablets");
    harness.get_by_role_and_label(Role::RadioButton, "Show: Scanner calibration").click();
    harness.run_steps(2);
    until(&mut harness, "the calibration", |harness| says(harness, NO_FALLOFF));
}

/// The sample with one strip read without its calibration: what its codes stand for is asked beside the scan, and settled there.
#[test]
fn what_codes_stand_for_is_asked_and_chosen_beside_the_scan() {
    let mut session = sample();
    let scan = ScanId::from("Tern 160 strip");
    let id = scan.clone();
    let edit = Edit::new("read it without a calibration", move |series| {
        if let Some(entry) = series.scans.get_mut(&id) {
            entry.calibration = None;
        }
    });
    session.apply(edit).expect("an edit");
    let mut harness = window(session);
    go(&mut harness, "Tablets");
    let asked = "Nothing states what its codes stand for";
    until(&mut harness, "the question", |harness| says(harness, asked));
    let asks = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        harness.state().session().problems().iter().any(|problem| problem.cause.contains(asked))
    };
    until(&mut harness, "the problem", asks);
    harness.query_all_by_label_contains("Codes of Tern 160 strip").next().expect("a list").click();
    harness.run_steps(3);
    harness.get_by_label("linear light").click();
    harness.run_steps(3);
    let encoding = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        harness.state().session().series().scans[&scan].encoding
    };
    assert_eq!(encoding(&harness), Some(Encoding::Linear));
    assert_eq!(
        harness.state().session().undo_label(),
        Some("say what the codes of Tern 160 strip stand for")
    );
    until(&mut harness, "the answer", |harness| !says(harness, asked) && !asks(harness));
}
