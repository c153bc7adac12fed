//! A scan that is not there: what is missing, what is still known, and the three ways on.

use egui::Role;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{Film, PrintChoice, ScanId, ScanKind};
use twinwedge_workbench::session::Edit;
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

/// How many parts of a film rest on one kind of scan.
type Parts = fn(&Film) -> usize;

#[test]
fn each_part_does_without_its_missing_scan_and_undo_brings_it_back() {
    let mut session = sample();
    session
        .apply(Edit::new("lose the scans", |series| {
            for entry in series.scans.values_mut() {
                entry.path = format!("nowhere/{}", entry.path);
            }
        }))
        .unwrap();
    let mut harness = window(session);
    let parts: [(&str, Option<&str>, &str, Parts); 4] = [
        ("Prints", None, "Tern 160 print", |film| usize::from(film.print.is_some())),
        ("Tablets", None, "Tern 160 strip", |film| film.strips.len()),
        ("Grain", None, "Tern 160 grain", |film| film.uniform_areas.len()),
        ("Grain", Some("Show: edges"), "Tern 160 edge", |film| film.edges.len()),
    ];
    for (page, part, scan, count) in parts {
        go(&mut harness, page);
        if let Some(part) = part {
            harness.get_by_role_and_label(Role::RadioButton, part).click();
            harness.run_steps(3);
        }
        let button = format!("Do without the scan {scan}");
        until(&mut harness, &button, |harness| says(harness, &button));
        let before = document(&harness).clone();
        let has = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
            count(document(harness).film(&"Tern 160".into()).unwrap())
        };
        let held = has(&harness);
        // By the keyboard: it may be out of sight.
        harness.get_by_role_and_label(Role::Button, &button).focus();
        harness.run_steps(4);
        harness.key_press(egui::Key::Enter);
        harness.run_steps(3);
        assert_eq!(has(&harness) + 1, held, "{scan}");
        harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
        harness.run_steps(3);
        assert_eq!(*document(&harness), before, "{scan}: Undo brings it back");
    }
}

#[test]
fn a_print_is_replaced_where_it_is_seen() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    until(&mut harness, "the button", |harness| says(harness, "Replace the print of Plover 640"));
    harness.get_by_role_and_label(Role::Button, "Replace the print of Plover 640").focus();
    harness.run_steps(4);
    harness.key_press(egui::Key::Enter);
    harness.run_steps(3);
    let other = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-projects/saltmarsh/scans/dunlin-40-print.tif");
    take_path(&mut harness, &other, "Open");
    until(&mut harness, "the other print", |harness| {
        let series = document(harness);
        let print = series.film(&"Plover 640".into()).and_then(|film| film.print.as_ref());
        print.is_some_and(|print| series.scans[&print.scan].path.ends_with("dunlin-40-print.tif"))
    });
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run_steps(3);
    let print = document(&harness).film(&"Plover 640".into()).and_then(|film| film.print.clone()).unwrap();
    assert_eq!(print.scan, ScanId::from("Plover 640 print"));
}
