//! Handles and tools on the picture pages, by key and by pointer.

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{Aperture, ReadingsSource, Series};
use twinwedge_desktop::app::App;

use crate::bench::{go, sample, says, until, window};
use crate::typed::enter;

fn series<'a>(harness: &'a Harness<'_, App>) -> &'a Series {
    harness.state().session().series()
}

/// The corner at the start of step 1 of the reference's strip.
fn corner(harness: &Harness<'_, App>) -> (f64, f64) {
    let film = series(harness).reference_film().expect("a reference");
    match film.strip_readings(0) {
        Some(ReadingsSource::Strip { shape, .. }) => (shape.quad.corners[0].x, shape.quad.corners[0].y),
        other => panic!("the sample's reference has a strip, not {other:?}"),
    }
}

const CORNER: &str = "Tern 160: corner at the start of step 1";

#[test]
fn a_corner_is_moved_by_keys_pixel_by_pixel_and_taken_back() {
    let mut harness = window(sample());
    go(&mut harness, "Tablets");
    until(&mut harness, "the strip", |harness| says(harness, CORNER));
    let before = corner(&harness);
    harness.get_by_label(CORNER).focus();
    harness.run_steps(2);
    harness.key_press(Key::ArrowRight);
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowDown);
    harness.run_steps(2);
    assert_eq!(corner(&harness), (before.0 + 1.0, before.1 + 10.0));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(corner(&harness), before);
}

#[test]
fn a_drag_is_one_step_and_escape_breaks_it_off() {
    let mut harness = window(sample());
    go(&mut harness, "Tablets");
    until(&mut harness, "the strip", |harness| says(harness, CORNER));
    let before = corner(&harness);
    let at = harness.get_by_label(CORNER).rect().center();
    let there = at + egui::vec2(30.0, 12.0);
    harness.hover_at(at);
    harness.step();
    harness.drag_at(at);
    harness.step();
    harness.hover_at(there);
    harness.run_steps(3);
    assert_ne!(corner(&harness), before, "the strip follows the pointer");
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    assert_eq!(corner(&harness), before, "Escape puts it back");
    harness.drop_at(there);
    harness.run_steps(2);
    assert_eq!(harness.state().session().undo_label(), None, "a drag broken off leaves no step");

    let at = harness.get_by_label(CORNER).rect().center();
    harness.hover_at(at);
    harness.step();
    harness.drag_at(at);
    harness.step();
    for share in [0.25, 0.5, 1.0] {
        harness.hover_at(at + (there - at) * share);
        harness.run_steps(2);
    }
    harness.drop_at(there);
    harness.run_steps(2);
    assert_ne!(corner(&harness), before);
    assert_eq!(harness.state().session().undo_label(), Some("move the strip of Tern 160"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(corner(&harness), before, "one step takes the whole drag back");
}

#[test]
fn the_calibration_tells_its_trusted_range_and_residuals() {
    let mut harness = window(sample());
    go(&mut harness, "Tablets");
    harness.get_by_role_and_label(Role::RadioButton, "Show: Scanner calibration").click();
    harness.run_steps(2);
    until(&mut harness, "the calibration", |harness| says(harness, "Trusted range: D "));
    assert!(says(&harness, "Residual, step 21"));
}

#[test]
fn a_patch_is_renamed_and_the_grid_is_laid_on_both_prints() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    harness.get_by_role_and_label(Role::RadioButton, "Tool: Patch grid").click();
    harness.run_steps(2);
    until(&mut harness, "the grid", |harness| says(harness, "Patch grid: upper left corner"));
    assert_eq!(harness.query_all_by_label("Patch grid: the whole grid").count(), 1);
    until(&mut harness, "the patches", |harness| says(harness, "Density of brick: 0"));
    harness.query_all_by_label("brick").next().expect("a row").click();
    harness.run_steps(2);
    enter(&mut harness, "Name of the patch", "brick wall");
    let layout = series(&harness).layout.as_ref().expect("a layout");
    assert_eq!(layout.patches[1].name, "brick wall");
}

#[test]
fn the_registration_is_corrected_by_two_pairs_and_found_again() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    until(&mut harness, "the registration", |harness| says(harness, "How: found by itself"));
    harness.get_by_role_and_label(Role::RadioButton, "Tool: Registration").click();
    harness.run_steps(2);
    harness.get_by_role_and_label(Role::Button, "Correct it by two pairs of points").click();
    harness.run_steps(2);
    until(&mut harness, "the points", |harness| says(harness, "Point 2 on Plover 640"));
    until(&mut harness, "the correction", |harness| says(harness, "How: two pairs of points"));
    harness.get_by_role_and_label(Role::Button, "Find it by itself again").click();
    harness.run_steps(2);
    until(&mut harness, "the registration", |harness| says(harness, "How: found by itself"));
}

#[test]
fn every_arrangement_of_the_prints_shows_itself() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    until(&mut harness, "the registration", |harness| says(harness, "How: found by itself"));
    harness.key_press(Key::V);
    harness.run_steps(2);
    assert!(says(&harness, "Line between the prints"));
    harness.key_press(Key::V);
    harness.run_steps(2);
    harness.key_press(Key::V);
    harness.run_steps(2);
    assert!(says(&harness, "Print: Plover 640 minus Tern 160"));
    harness.key_press(Key::V);
    harness.run_steps(2);
    assert!(says(&harness, "Print: Tern 160"));
}

#[test]
fn granularity_stands_beside_its_interval_for_both_films() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    until(&mut harness, "the granularity", |harness| {
        harness.query_all_by_label_contains("RMS granularity: ").count() == 3
    });
    assert!(says(&harness, "Crop of Tern 160") && says(&harness, "Crop of Plover 640"));
}

#[test]
fn the_layout_of_the_target_says_gaps_and_known_densities() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    harness.get_by_role_and_label(Role::RadioButton, "Tool: Patch grid").click();
    harness.run_steps(2);
    until(&mut harness, "the patches", |harness| says(harness, "Density of brick: 0"));
    enter(&mut harness, "Gaps across, per cent", "15");
    enter(&mut harness, "Margins down, per cent", "10");
    harness.query_all_by_label("brick").next().expect("a row").click();
    harness.run_steps(2);
    // 18 per cent reflect 10^-0.745.
    enter(&mut harness, "Known reflectance of the patch, per cent", "18");
    let layout = series(&harness).layout.clone().expect("a layout");
    assert!((layout.gaps.across - 0.15).abs() < 1e-9 && (layout.gaps.margin_down - 0.10).abs() < 1e-9);
    assert!((layout.patches[1].density.expect("known") - 0.745).abs() < 0.001);
    until(&mut harness, "the check", |harness| says(harness, "From the known density of brick"));
}

#[test]
fn the_grid_is_corrected_on_the_candidates_print_and_follows_again() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    harness.get_by_role_and_label(Role::RadioButton, "Tool: Patch grid").click();
    harness.run_steps(2);
    until(&mut harness, "the grid", |harness| says(harness, "Patch grid of Plover 640: upper left corner"));
    harness.get_by_label("Patch grid of Plover 640: upper left corner").focus();
    harness.run_steps(1);
    harness.key_press(Key::ArrowRight);
    harness.run_steps(2);
    let own = |harness: &Harness<'_, App>| {
        let print = series(harness).candidates().next().and_then(|film| film.print.clone());
        print.expect("a print").grid
    };
    assert!(own(&harness).is_some(), "the candidate has a grid of its own");
    harness.get_by_role_and_label(Role::Button, "Follow the reference's grid again").click();
    harness.run_steps(2);
    assert!(own(&harness).is_none());
}

#[test]
fn the_tester_chooses_the_model_of_the_registration() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    until(&mut harness, "the registration", |harness| says(harness, "Model: similarity"));
    harness.get_by_role_and_label(Role::RadioButton, "Model: Homography").click();
    harness.run_steps(2);
    until(&mut harness, "the registration", |harness| says(harness, "Model: homography"));
}

#[test]
fn what_is_read_of_a_patch_is_chosen_named_and_undone() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    harness.get_by_role_and_label(Role::RadioButton, "Tool: Patch grid").click();
    harness.run_steps(2);
    until(&mut harness, "the patches", |harness| says(harness, "Density of brick: 0"));
    let grid = |harness: &Harness<'_, App>| {
        let print = series(harness).reference_film().and_then(|film| film.print.clone());
        print.and_then(|print| print.grid).expect("a grid")
    };
    let undo = |harness: &Harness<'_, App>| harness.state().session().undo_label().map(str::to_owned);
    enter(&mut harness, "Share of the patch, per cent", "40");
    assert!((grid(&harness).inner - 0.4).abs() < 1e-9);
    assert_eq!(undo(&harness).as_deref(), Some("set the share of the patches that is read"));
    harness.get_by_label("Aperture on the patches: share of the patch").click();
    harness.run_steps(3);
    harness.get_by_label("circle").click();
    harness.run_steps(3);
    assert_eq!(grid(&harness).aperture, Aperture::Circle(3.0));
    assert_eq!(undo(&harness).as_deref(), Some("set the aperture on the patches"));
    enter(&mut harness, "Size of the aperture on the patches in mm", "2");
    assert_eq!(grid(&harness).aperture, Aperture::Circle(2.0));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    harness.get_by_label("Follow the borders of patches").click();
    harness.run_steps(2);
    assert!(series(&harness).layout.as_ref().expect("a layout").fixed);
    assert_eq!(undo(&harness).as_deref(), Some("keep patches in the grid's place"));
}
