//! Granularity over density and aperture, and uniform areas that come, move and go.

use egui::{Key, Modifiers, Role};
use egui_kittest::kittest::Queryable;

use twinwedge_workbench::session::Edit;

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
    // The sample's calibration was scanned at another resolution.
    assert!(says(&harness, "Scanner noise: left in"));
    until(&mut harness, "the table", |harness| says(harness, "Net density 1.0: reference"));
    for row in ["As measured: reference", "Print density 0.75: reference", "Zone V of the subject: reference"]
    {
        assert!(says(&harness, row), "{row}");
    }
}

#[test]
fn uniform_areas_are_added_chosen_and_removed_step_by_step() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    let areas = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        let series = harness.state().session().series();
        series.films[0].uniform_areas.len()
    };
    let before = areas(&harness);
    assert!(before >= 4, "the sample has areas of several densities");
    harness.get_by_role_and_label(Role::RadioButton, "Uniform area 2 of Tern 160").click();
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
    harness.get_by_role_and_label(Role::RadioButton, "Uniform area 2 of Tern 160").click();
    harness.run_steps(2);
    change(&mut harness, "Remove this area");
    harness.run_steps(3);
    assert_eq!(areas(&harness), before - 1);
    harness.get_by_role_and_label(Role::Button, "Edit").click();
    harness.run_steps(2);
    assert!(says(&harness, "Undo: remove uniform area 2 of Tern 160"));
}

/// A film's own edge stands in for a knife edge here: what is told counts, not its number.
#[test]
fn the_scanners_edge_tells_what_its_blur_took() {
    let mut session = sample();
    let lay = Edit::new("lay the scanner's own edge", |series| {
        series.sharpness.scanner_edge = series.films[0].edges.first().cloned();
    });
    session.apply(lay).unwrap();
    let mut harness = window(session);
    go(&mut harness, "Grain");
    until(&mut harness, "the loss", |harness| {
        says(harness, "Without the scanner's blur") && says(harness, "by the scanner's own edge")
    });
    let session = harness.state().session();
    let candidate = session.series().films.last().unwrap().id.clone();
    let html = twinwedge_workbench::export::report_html(session, Some(&candidate)).unwrap();
    assert!(html.contains("is what it would be without the scanner"));
}

#[test]
fn a_series_without_scans_says_what_goes_where() {
    let mut session = twinwedge_workbench::session::Session::empty();
    session.set_recovery_folder(None);
    let mut harness = window(session);
    for _ in 0..2 {
        harness.key_press_modifiers(Modifiers::COMMAND, Key::J);
        harness.run_steps(3);
    }
    go(&mut harness, "Grain");
    for part in ["crops", "granularity", "spectrum"] {
        harness.get_by_role_and_label(Role::RadioButton, &format!("Show: {part}")).click();
        harness.run_steps(3);
        let opens = harness.query_all_by_role_and_label(Role::Button, "Open a film scan ...").count();
        assert_eq!(opens, 2, "{part}: one for each film");
    }
}
