//! Edges on the Grain page: their numbers, their boxes by key and by pointer, adding and taking away.

use std::time::Instant;

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::Film;
use twinwedge_desktop::app::App;

use crate::bench::{go, sample, says, until, window};

fn edges() -> Harness<'static, App> {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    harness.get_by_role_and_label(Role::RadioButton, "Show: edges").click();
    until(&mut harness, "the sharpness", |harness| {
        says(harness, "50 % modulation at: reference ") && !says(harness, "candidate –")
    });
    harness
}

fn reference<'a>(harness: &'a Harness<'_, App>) -> &'a Film {
    harness.state().session().series().reference_film().expect("a reference")
}

#[test]
fn both_films_stand_over_each_other_with_their_difference() {
    let mut harness = edges();
    for words in ["10 % modulation at", "10 to 90 % of the edge", "Overshoot, dense side"] {
        assert!(says(&harness, words), "{words}");
    }
    for plot in ["Modulation transfer", "Edge-spread function"] {
        assert!(says(&harness, plot), "{plot}");
    }
    assert!(says(&harness, "Measured in: exposure, by the film's curve"));
    until(&mut harness, "the full answer", |harness| !says(harness, "A first answer"));
}

const CORNER: &str = "Edge of Tern 160: upper left corner";

#[test]
fn a_box_is_dragged_with_an_answer_on_the_way() {
    let mut harness = edges();
    // Both films' boxes hold as many rows; the dragged one's changes.
    let rows = |harness: &Harness<'_, App>| {
        harness.query_all_by_label_contains("Rows along the edge: 404 at").count()
    };
    until(&mut harness, "the full answers", |harness| rows(harness) == 2);
    let before = reference(&harness).edges[0].area;
    let at = harness.get_by_label(CORNER).rect().center();
    harness.hover_at(at);
    harness.step();
    harness.drag_at(at);
    harness.step();
    let begun = Instant::now();
    harness.hover_at(at + egui::vec2(20.0, 12.0));
    until(&mut harness, "an answer", |harness| rows(harness) == 1);
    println!("an answer after {} ms of a build for tests", begun.elapsed().as_millis());
    harness.drop_at(at + egui::vec2(20.0, 12.0));
    harness.run_steps(2);
    assert_ne!(reference(&harness).edges[0].area, before);
    assert_eq!(harness.state().session().undo_label(), Some("move an edge of Tern 160"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(reference(&harness).edges[0].area, before);
}

#[test]
fn edges_are_added_and_taken_away_by_named_steps() {
    let mut harness = edges();
    let press = |harness: &mut Harness<'_, App>, name: &str| {
        harness.query_all_by_role_and_label(Role::Button, name).next().expect("a button").click();
        harness.run_steps(3);
    };
    press(&mut harness, "Add an edge");
    assert_eq!(reference(&harness).edges.len(), 2);
    assert_eq!(harness.state().session().undo_label(), Some("add an edge to Tern 160"));
    until(&mut harness, "the average", |harness| says(harness, "2 of 2 edges are averaged"));
    press(&mut harness, "Remove");
    press(&mut harness, "Remove");
    assert!(reference(&harness).edges.is_empty());
    until(&mut harness, "the empty place", |harness| says(harness, "A scan of a slanted edge goes here"));
    for _ in 0..3 {
        harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        harness.run_steps(2);
    }
    assert_eq!(reference(&harness).edges.len(), 1);
}

#[test]
fn the_space_is_a_choice_of_the_series() {
    let mut harness = edges();
    harness.get_by_role_and_label(Role::RadioButton, "Measure in: light").click();
    harness.run_steps(2);
    until(&mut harness, "light", |harness| says(harness, "Measured in: light as scanned"));
    assert!(says(&harness, "Measured in light over a step of D 0.5"));
    assert_eq!(harness.state().session().undo_label(), Some("measure edges in light"));
}
