//! Granularity over density and aperture, and plain areas that come, move and go.

use egui::{Key, Modifiers, Role};
use egui_kittest::kittest::Queryable;

use crate::bench::{go, sample, says, until, window};

#[test]
fn both_films_are_drawn_and_compared_where_they_are_alike() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    harness.get_by_role_and_label(Role::RadioButton, "Show: granularity").click();
    harness.run_steps(2);
    until(&mut harness, "the plots", |harness| {
        says(harness, "RMS granularity over density")
            && says(harness, "Granularity times the root of the area over the aperture")
    });
    until(&mut harness, "the law of both", |harness| {
        says(harness, "Tern 160: ") && says(harness, "Plover 640: ") && says(harness, "slope -0.")
    });
    until(&mut harness, "the table", |harness| says(harness, "Net density 1.0: reference"));
    for row in ["As measured: reference", "Print density 0.75: reference", "Zone V of the subject: reference"]
    {
        assert!(says(&harness, row), "{row}");
    }
}

#[test]
fn plain_areas_are_added_chosen_and_removed_step_by_step() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    let areas = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        let series = harness.state().session().series();
        series.films[0].plain_areas().count()
    };
    let before = areas(&harness);
    assert!(before >= 4, "the sample has areas of several densities");
    harness.get_by_role_and_label(Role::RadioButton, "Plain area 2 of Tern 160").click();
    harness.run_steps(3);
    until(&mut harness, "its handles", |harness| says(harness, "Grain area 2 of Tern 160: the whole area"));
    let change = |harness: &mut egui_kittest::Harness<'_, twinwedge_desktop::app::App>, what: &str| {
        harness.get_all_by_role_and_label(Role::Button, "Change").next().expect("a menu").click();
        harness.run_steps(3);
        harness.get_by_role_and_label(Role::Button, what).click();
        harness.run_steps(3);
    };
    change(&mut harness, "Add an area");
    harness.run_steps(3);
    assert_eq!(areas(&harness), before + 1);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(areas(&harness), before);
    harness.get_by_role_and_label(Role::RadioButton, "Plain area 2 of Tern 160").click();
    harness.run_steps(2);
    change(&mut harness, "Remove this area");
    harness.run_steps(3);
    assert_eq!(areas(&harness), before - 1);
    harness.get_by_role_and_label(Role::Button, "Edit").click();
    harness.run_steps(2);
    assert!(says(&harness, "Undo: remove plain area 2 of Tern 160"));
}
