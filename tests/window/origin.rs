//! From a number to the place where it was measured, and back.

use egui::{Key, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable};
use twinwedge_desktop::app::App;

use crate::bench::{sample, says, settled, until, window};
use crate::typed;

fn shown(harness: &Harness<'_, App>, page: &str) -> bool {
    harness.get_by_role_and_label(Role::Tab, page).accesskit_node().toggled()
        == Some(egui::accesskit::Toggled::True)
}

fn press(harness: &mut Harness<'_, App>, begins: &str) {
    until(harness, begins, |harness| harness.query_all_by_label_contains(begins).next().is_some());
    // What comes in after it may move it, and it would lose the keyboard.
    settled(harness);
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
fn figures_of_frames_and_grain_lead_to_their_frames_and_areas() {
    let mut harness = window(sample());
    for (page, part, figure, place, to) in [
        (Key::Num6, None, "Exposure index, net density: reference", "Show the frames", "Frames"),
        (Key::Num9, Some("Show: granularity"), ": reference", "Show the areas", "Grain"),
    ] {
        harness.key_press_modifiers(egui::Modifiers::ALT, page);
        harness.run_steps(4);
        if let Some(part) = part {
            harness.get_by_role_and_label(Role::RadioButton, part).click();
            harness.run_steps(3);
        }
        press(&mut harness, figure);
        assert!(says(&harness, "Measured on"), "{figure}");
        // Once the dialog has come to rest.
        typed::press(&mut harness, place);
        assert!(shown(&harness, to) && !says(&harness, "Measured on"), "{figure}");
    }
}
