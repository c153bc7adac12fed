//! From a number to the place where it was measured, and back.

use egui::{Key, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable};
use twinwedge_desktop::app::App;

use crate::bench::{sample, says, until, window};
use crate::typed;

fn shown(harness: &Harness<'_, App>, page: &str) -> bool {
    harness.get_by_role_and_label(Role::Tab, page).accesskit_node().toggled()
        == Some(egui::accesskit::Toggled::True)
}

fn press(harness: &mut Harness<'_, App>, begins: &str) {
    until(harness, begins, |harness| harness.query_all_by_label_contains(begins).next().is_some());
    // By the keyboard: it may be out of sight.
    harness.query_all_by_label_contains(begins).next().expect("a figure").focus();
    harness.run_steps(3);
    harness.key_press(Key::Enter);
    harness.run_steps(4);
}

#[test]
fn a_figure_tells_its_formula_its_steps_and_what_both_films_share() {
    let mut harness = typed::page(typed::series(), Key::Num3);
    press(&mut harness, "Gamma: reference");
    assert!(says(&harness, "How 'Gamma' was got"));
    // As the registry of figures has it, from Hurter and Driffield (1890).
    assert!(says(&harness, "Source: F. Hurter and V. C. Driffield"));
    assert!(says(&harness, "21 steps, typed"));
    assert!(says(&harness, "what its steps err cancels in the difference"));
    assert!(says(&harness, "its unknown level cancels in the difference"));
    harness.get_by_role_and_label(Role::Button, "Show the steps").click();
    harness.run_steps(3);
    assert!(shown(&harness, "Tablets") && !says(&harness, "How 'Gamma' was got"));
}

#[test]
fn a_figure_is_shown_on_the_curves_and_escape_closes_its_origin() {
    let mut harness = typed::page(typed::series(), Key::Num3);
    press(&mut harness, "Speed point: reference");
    harness.get_by_role_and_label(Role::Button, "Show on the curves").click();
    harness.run_steps(3);
    assert!(shown(&harness, "Curves") && !says(&harness, "Measured on"));
    press(&mut harness, "Speed point: reference");
    assert!(says(&harness, "Measured on"));
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert!(!says(&harness, "Measured on"));
}

#[test]
fn a_figure_of_the_frames_leads_to_the_frames() {
    let mut harness = window(sample());
    harness.key_press_modifiers(egui::Modifiers::ALT, Key::Num6);
    harness.run_steps(4);
    press(&mut harness, "Exposure index, net density: reference");
    assert!(says(&harness, "Measured on"));
    harness.get_by_role_and_label(Role::Button, "Show the frames").click();
    harness.run_steps(3);
    assert!(shown(&harness, "Frames"));
}
