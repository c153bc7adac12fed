//! The Greys page: without prints it leads to them; with the sample each of its parts says what it shows, by keyboard too.

use egui::{Key, Modifiers, Role};
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::SubjectLight;
use twinwedge_core::greys::light::Standard;

use crate::bench::{go, sample, says, until, window};
use crate::typed::{self, page, press, shows, wait_for};

#[test]
fn without_patches_it_leads_to_the_prints() {
    let mut harness = page(typed::series(), Key::Num8);
    wait_for(&mut harness, "the comparison", |harness| shows(harness, "No patch is sampled yet"));
    press(&mut harness, "Go to Prints");
    assert!(!shows(&harness, "No patch is sampled yet"));
}

/// What the simulator knows of the sample: Plover 640 sees more red than Tern 160.
#[test]
fn each_part_says_what_the_sample_holds() {
    let mut harness = window(sample());
    go(&mut harness, "Greys");
    until(&mut harness, "the greys", |harness| says(harness, "Difference of brick: +"));
    assert!(says(&harness, "Stops stand by the neutral patches of each print"));
    assert!(says(&harness, "Oranges and browns, lighter: +"));
    // A patch is selected by the keyboard and read at the right.
    harness.query_all_by_label_contains("brick").next().expect("a patch").focus();
    harness.step();
    harness.key_press(Key::Enter);
    harness.run_steps(3);
    until(&mut harness, "the patch", |harness| says(harness, "The candidate renders it: lighter."));

    harness.get_by_role_and_label(Role::RadioButton, "Show: sensitivity").click();
    until(&mut harness, "the shares", |harness| says(harness, "Share of red light on the candidate: "));
    assert!(says(&harness, "Under the light as measured"));

    harness.get_by_role_and_label(Role::RadioButton, "Show: filters").click();
    until(&mut harness, "the filters", |harness| says(harness, "Left with no filter: "));

    harness.get_by_role_and_label(Role::RadioButton, "Show: light").click();
    until(&mut harness, "the light", |harness| {
        says(harness, "No difference of the light on both frames is distinguishable.")
    });

    harness.get_by_role_and_label(Role::RadioButton, "Show: densities").click();
    until(&mut harness, "the densities", |harness| says(harness, "not corrected for contrast"));
}

#[test]
fn the_light_on_the_target_is_a_choice_of_the_series() {
    let mut harness = window(sample());
    go(&mut harness, "Greys");
    until(&mut harness, "the page", |harness| says(harness, "Show: sensitivity"));
    harness.get_by_role_and_label(Role::RadioButton, "Show: sensitivity").click();
    harness.run_steps(2);
    harness.get_by_role_and_label(Role::ComboBox, "Light on the target: the light as measured").click();
    harness.run_steps(3);
    harness.get_by_label("studio tungsten light of ISO 7589").click();
    harness.run_steps(3);
    let light = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        harness.state().session().series().target.light.clone()
    };
    assert_eq!(light(&harness), Some(SubjectLight::Standard(Standard::StudioTungsten)));
    until(&mut harness, "the shares", |harness| says(harness, "Under studio tungsten light of ISO 7589"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert!(matches!(light(&harness), Some(SubjectLight::Measured(_))));
}

#[test]
fn blank_and_blocked_areas_are_told_for_both_prints() {
    let mut harness = window(sample());
    go(&mut harness, "Prints");
    harness.get_by_role_and_label(Role::CheckBox, "Blank and blocked").click();
    until(&mut harness, "the shares", |harness| {
        says(harness, "Tern 160, blank: ") && says(harness, "Plover 640, blank: ")
    });
    assert!(says(&harness, "Plover 640, blocked: "));
}
