//! Strips that are found by themselves when they are taken in, corrected by hand, and found again.

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{Film, ReadingsSource, Series, StripShape, Tablet, TabletId};
use twinwedge_desktop::app::App;
use twinwedge_workbench::session::Session;

use crate::bench::{folder, go, says, take_path, until, window};
use crate::typed;

/// A series with one film and a tablet of 21 steps, on the Tablets page, into which a scan of the sample was taken. The tablet
/// says how many steps there are: the film's last ones cannot be told from its base.
fn taken(scan: &str) -> Harness<'static, App> {
    let mut series = Series::default();
    series.tablets.insert(TabletId::from("tablet"), Tablet::nominal(21).unwrap());
    let mut session = Session::of(series, std::path::PathBuf::new());
    session.set_recovery_folder(None);
    let mut harness = window(session);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::J);
    harness.run_steps(3);
    go(&mut harness, "Tablets");
    harness.get_all_by_role_and_label(Role::Button, "Open a strip scan ...").last().unwrap().click();
    harness.run_steps(3);
    let path =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-projects/saltmarsh/scans").join(scan);
    take_path(&mut harness, &path, "Open");
    until(&mut harness, "the scan", |harness| harness.state().session().series().scans.len() == 1);
    harness
}

fn shape(harness: &Harness<'_, App>) -> StripShape {
    match harness.state().session().series().films[0].strip_readings(0) {
        Some(ReadingsSource::Strip { shape, .. }) => *shape,
        _ => panic!("a strip"),
    }
}

#[test]
fn a_strip_is_found_when_it_is_taken_in_and_again_after_a_drag() {
    let mut harness = taken("tern-160-strip.tif");
    // As the tester marked it (list.csv of the sample), off by up to a pixel each way; 21 steps.
    let marked = [(54.18, 57.19), (1712.12, 84.42), (1709.69, 241.42), (51.81, 215.89)];
    let found = shape(&harness);
    assert_eq!(found.steps, 21);
    for (corner, (x, y)) in found.quad.corners.iter().zip(marked) {
        assert!((corner.x - x).hypot(corner.y - y) < 3.0, "{found:?}");
    }
    until(&mut harness, "what was found", |harness| says(harness, "Found by itself"));
    let handle = "New film: corner at the start of step 1";
    harness.get_by_role_and_label(Role::Button, handle).focus();
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::ALT, Key::ArrowRight);
    harness.run_steps(3);
    let moved = shape(&harness).quad.corners[0].x - found.quad.corners[0].x;
    assert!((moved - 0.1).abs() < 1e-3, "a tenth of a pixel with Alt, not {moved}");
    until(&mut harness, "who placed it", |harness| says(harness, "Placed by hand"));
    harness.get_by_role_and_label(Role::Button, "Find the strip").click();
    harness.run_steps(3);
    assert_eq!(shape(&harness), found);
    assert!(says(&harness, "Found by itself"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(3);
    assert!((shape(&harness).quad.corners[0].x - found.quad.corners[0].x - 0.1).abs() < 1e-3);
}

#[test]
fn a_scan_over_typed_readings_asks_which_are_kept() {
    let mut session = Session::of(typed::series(), std::path::PathBuf::new());
    session.set_recovery_folder(None);
    let mut harness = window(session);
    go(&mut harness, "Tablets");
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample-projects/saltmarsh/scans/tern-160-strip.tif");
    let is_typed = |film: &Film| matches!(film.strip_readings(0), Some(ReadingsSource::Typed(typed)) if typed.len() == 21);
    for (answer, typed) in [("Keep the readings", true), ("Take the scan", false)] {
        harness.get_all_by_role_and_label(Role::Button, "Open a strip scan ...").next().unwrap().click();
        harness.run_steps(3);
        take_path(&mut harness, &path, "Open");
        harness.run_steps(2);
        assert!(says(&harness, "21 readings of Tern 160 were typed"));
        harness.get_by_role_and_label(Role::Button, answer).click();
        harness.run_steps(3);
        until(&mut harness, answer, |harness| {
            let series = harness.state().session().series();
            is_typed(&series.films[0]) == typed && series.scans.len() == usize::from(!typed)
        });
    }
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(3);
    assert!(is_typed(&harness.state().session().series().films[0]), "Undo gives them back");
}

#[test]
fn a_scan_without_a_strip_says_why_and_keeps_a_first_place() {
    let mut harness = taken("tern-160-grain.tif");
    assert_eq!(shape(&harness).steps, 21);
    until(&mut harness, "why", |harness| says(harness, "Not found: "));
}

#[test]
fn taking_in_a_scan_is_cancelled_and_leaves_nothing() {
    let home = folder();
    let path = home.path().join("large.tif");
    image::GrayImage::from_pixel(7000, 7000, image::Luma([128])).save(&path).unwrap();
    let mut series = Series::default();
    series.films.push(Film::named("Tern".into(), "Tern 160"));
    let mut session = Session::of(series, home.path().to_path_buf());
    session.set_recovery_folder(None);
    let mut harness = window(session);
    go(&mut harness, "Tablets");
    harness.get_all_by_role_and_label(Role::Button, "Open a strip scan ...").last().unwrap().click();
    harness.run_steps(3);
    take_path(&mut harness, &path, "Open");
    assert!(says(&harness, "large.tif"), "it is under way");
    harness.get_by_role_and_label(Role::Button, "Cancel").click();
    harness.run_steps(3);
    assert!(!says(&harness, "large.tif"));
    // Nothing comes of it later either.
    for _ in 0..20 {
        std::thread::sleep(std::time::Duration::from_millis(50));
        harness.step();
    }
    let session = harness.state().session();
    assert!(session.series().scans.is_empty() && session.undo_label().is_none());
}
