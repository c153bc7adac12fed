//! Crops of grain: side by side, in place, all films; from negatives and prints; at true size.

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::Series;
use twinwedge_desktop::app::App;
use twinwedge_workbench::session::Edit;

use crate::bench::{go, sample, says, until, window};
use crate::typed::enter;

fn choose(harness: &mut Harness<'_, App>, option: &str) {
    harness.get_by_role_and_label(Role::RadioButton, option).click();
    harness.run_steps(2);
}

#[test]
fn films_come_to_one_place_and_the_reference_beside_them() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    choose(&mut harness, "Lay out: in place");
    until(&mut harness, "the candidate", |harness| says(harness, "Crop of Plover 640"));
    assert!(!says(&harness, "Crop of Tern 160"));
    harness.key_press(Key::PageDown);
    until(&mut harness, "the next candidate", |harness| says(harness, "Crop of Dunlin 40"));
    harness.key_press(Key::X);
    until(&mut harness, "the reference", |harness| says(harness, "Crop of Tern 160"));
    assert!(!says(&harness, "Crop of Dunlin 40"));
}

#[test]
fn a_contact_sheet_shows_every_film_and_lays_one_on_the_bench() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    harness.key_press(Key::V);
    harness.key_press(Key::V);
    for film in ["Tern 160", "Plover 640", "Dunlin 40"] {
        until(&mut harness, film, |harness| says(harness, &format!("Crop of {film}")));
    }
    choose(&mut harness, "From: prints");
    until(&mut harness, "the prints", |harness| {
        ["Tern 160", "Plover 640", "Dunlin 40"].iter().all(|film| says(harness, &format!("Crop of {film}")))
    });
    choose(&mut harness, "Lay out: side by side");
    until(&mut harness, "both prints", |harness| {
        says(harness, "Crop of Tern 160") && says(harness, "Crop of Plover 640")
    });
}

#[test]
fn rows_of_a_contact_sheet_lie_below_each_other() {
    let mut session = sample();
    let grain = session.series().reference_film().and_then(|film| film.uniform_areas.first().cloned());
    let copy = Edit::new("copy the grain area", move |series: &mut Series| {
        for film in &mut series.films {
            if film.uniform_areas.is_empty() {
                film.uniform_areas.extend(grain.clone());
            }
        }
    });
    session.apply(copy).expect("an edit");
    let labels: Vec<String> = session.series().films.iter().map(|film| film.label.clone()).collect();
    let mut harness = window(session);
    go(&mut harness, "Grain");
    choose(&mut harness, "Lay out: all films");
    for label in &labels {
        until(&mut harness, label, |harness| harness.query_by_label(&format!("Crop of {label}")).is_some());
    }
    let places: Vec<egui::Rect> =
        labels.iter().map(|label| harness.get_by_label(&format!("Crop of {label}")).rect()).collect();
    assert_eq!(places.len(), 6);
    for (i, one) in places.iter().enumerate() {
        for other in &places[i + 1..] {
            assert!(!one.shrink(1.0).intersects(*other), "{one:?} and {other:?}");
        }
    }
}

/// By arithmetic: 96 dots per inch are 264.6 µm a dot; a print of 8 times seen from 25 cm, on a screen 50 cm away, is shown
/// 16 times as large as the film.
#[test]
fn true_size_asks_for_the_screen_once() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    until(&mut harness, "the crops", |harness| says(harness, "Crop of Tern 160"));
    harness.get_by_role_and_label(Role::Button, "True size").click();
    harness.run_steps(2);
    enter(&mut harness, "Dots per inch of the screen", "96");
    enter(&mut harness, "Distance of the eye from the screen in cm", "50");
    harness.get_by_role_and_label(Role::Button, "Done").click();
    harness.run_steps(2);
    harness.get_by_role_and_label(Role::Button, "True size").click();
    until(&mut harness, "the size in words", |harness| says(harness, "as on a print of 8 × at 25 cm"));
    assert!(!says(&harness, "Dots per inch of the screen"));
}

#[test]
fn the_print_that_is_imagined_is_a_step_of_the_history() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    harness.get_by_role_and_label(Role::ComboBox, "Enlargement of the print: 8 ×").click();
    harness.run_steps(3);
    harness.get_by_label("15 ×").click();
    harness.run_steps(3);
    let viewing = harness.state().session().series().viewing;
    assert_eq!(format!("{} {}", viewing.enlargement, viewing.distance_mm), "15 250");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(harness.state().session().undo_label(), None);
}
