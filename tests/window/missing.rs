//! A scan that is not there: what is missing, what is still known, and the three ways on.

use egui::Role;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{PrintChoice, ScanId, ScanKind};
use twinwedge_workbench::store::scan_entry;

use crate::bench::{folder, go, sample, says, take_path, until, window};
use crate::typed::{self, document};

/// A print of random tones, as a picture.
fn print(path: &std::path::Path) {
    let tone = |x: u32, y: u32| ((x / 7).wrapping_mul(2_654_435_761) ^ (y / 5).wrapping_mul(40_503)) as u8;
    image::GrayImage::from_fn(120, 90, |x, y| image::Luma([tone(x, y)])).save(path).unwrap();
}

#[test]
fn missing_scans_are_found_in_a_folder_or_done_without() {
    let home = folder();
    let mut series = typed::series();
    for film in 0..2 {
        let name = format!("print {film}.png");
        print(&home.path().join(&name));
        let entry = scan_entry(&home.path().join(&name), ScanKind::Print, home.path()).unwrap();
        series.scans.insert(ScanId::from(name.as_str()), entry);
        series.films[film].print = Some(PrintChoice::new(ScanId::from(name.as_str())));
    }
    let moved = home.path().join("moved/scans");
    std::fs::create_dir_all(&moved).unwrap();
    for film in 0..2 {
        let name = format!("print {film}.png");
        std::fs::rename(home.path().join(&name), moved.join(&name)).unwrap();
    }
    let mut session = twinwedge_workbench::session::Session::of(series, home.path().to_path_buf());
    session.set_recovery_folder(None);
    let mut harness = window(session);
    go(&mut harness, "Prints");
    until(&mut harness, "what is missing", |harness| says(harness, "The scan print 0.png is not here"));
    assert!(says(&harness, "Last seen as print 0.png") && says(&harness, "Still known: a scan of a print"));
    harness.get_by_role_and_label(Role::Button, "Find all missing scans in a folder").click();
    harness.run_steps(3);
    take_path(&mut harness, &home.path().join("moved"), "Look through");
    until(&mut harness, "both scans", |harness| {
        document(harness).scans.values().all(|entry| entry.path.starts_with("moved/scans/"))
    });
    until(&mut harness, "the picture", |harness| says(harness, "Print: Tern 160"));
    assert!(!says(&harness, "is not here"));
}

#[test]
fn a_print_is_taken_away_where_it_is_seen_and_comes_back() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    until(&mut harness, "the button", |harness| says(harness, "Take the print of Plover 640 away"));
    assert!(says(&harness, "Replace the print of Plover 640"));
    // By the keyboard: it may be out of sight.
    harness.get_by_role_and_label(Role::Button, "Take the print of Plover 640 away").focus();
    harness.run_steps(3);
    harness.key_press(egui::Key::Enter);
    harness.run_steps(3);
    let has = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        document(harness).film(&"Plover 640".into()).is_some_and(|film| film.print.is_some())
    };
    assert!(!has(&harness));
    assert_eq!(harness.state().session().undo_label(), Some("take the print of Plover 640 away"));
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run_steps(3);
    assert!(has(&harness));
}
