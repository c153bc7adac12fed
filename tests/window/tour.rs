//! The whole way once: every page, the other candidate, a spot, the alignment, undo, an exported report.

use egui::{Key, Modifiers, Role};
use egui_kittest::Node;
use egui_kittest::kittest::{NodeT as _, Queryable};

use crate::bench::{folder, go, sample, says, take_path, until, window};

/// Whether a screen reader is told that this one is chosen.
fn chosen(node: &Node<'_>) -> bool {
    node.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True)
}

#[test]
fn every_page_opens_and_names_itself() {
    let mut harness = window(sample());
    for page in
        ["Films", "Tablets", "Curves", "Times", "Tones", "Frames", "Prints", "Greys", "Grain", "Report"]
    {
        go(&mut harness, page);
        assert!(chosen(&harness.get_by_role_and_label(Role::Tab, page)), "{page} is shown");
    }
}

#[test]
fn a_key_lays_the_other_candidate_on_the_bench_and_keeps_the_page() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    assert!(says(&harness, "Candidate: Plover 640"));
    harness.key_press(Key::PageDown);
    harness.run_steps(2);
    assert!(says(&harness, "Candidate: Dunlin 40"));
    until(&mut harness, "the other crop", |harness| says(harness, "Crop of Dunlin 40"));
    assert!(chosen(&harness.get_by_role_and_label(Role::Tab, "Grain")));
    harness.key_press(Key::PageUp);
    harness.run_steps(2);
    assert!(says(&harness, "Candidate: Plover 640"));
}

#[test]
fn a_click_on_a_print_samples_both_and_the_spot_is_kept_and_undone() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    until(&mut harness, "the registration", |harness| says(harness, "Correlation:"));
    let print = harness.get_by_role_and_label(Role::Image, "Print: Tern 160").rect();
    harness.hover_at(print.center());
    harness.step();
    harness.drag_at(print.center());
    harness.drop_at(print.center());
    harness.run_steps(2);
    until(&mut harness, "the difference", |harness| says(harness, "Difference: "));
    harness.get_by_role_and_label(Role::Button, "Keep this spot").click();
    harness.run_steps(3);
    assert!(says(&harness, "Done: keep spot"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    harness.get_by_role_and_label(Role::Button, "Edit").click();
    harness.run_steps(2);
    assert!(says(&harness, "Redo: keep spot"));
}

#[test]
fn a_report_is_exported_through_the_typed_path() {
    let mut harness = window(sample());
    let folder = folder();
    let path = folder.path().join("plover.html");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::E);
    harness.run_steps(2);
    take_path(&mut harness, &path, "Save");
    until(&mut harness, "the report", |harness| says(harness, "Written: "));
    let html = std::fs::read_to_string(&path).expect("the report is there");
    assert!(html.contains("Plover 640") && html.contains("Tern 160"));
}

#[test]
fn appearance_is_light_and_dark() {
    let mut harness = window(sample());
    let dark = |harness: &egui_kittest::Harness<'_, _>| harness.ctx.global_style().visuals.dark_mode;
    let before = dark(&harness);
    harness.get_by_role_and_label(Role::Button, "View").click();
    harness.run_steps(2);
    harness.get_by_label_contains("Light or dark").click();
    harness.run_steps(2);
    assert_ne!(dark(&harness), before);
}

#[test]
fn the_page_of_keys_lists_every_action() {
    let mut harness = window(sample());
    harness.key_press(Key::F1);
    harness.run_steps(2);
    for spec in twinwedge_desktop::actions::ACTIONS {
        assert!(says(&harness, spec.name), "{} is listed", spec.name);
    }
}
