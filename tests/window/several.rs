//! Several films at once: one record changed for all of them, and further films over the pair.

use egui::Key;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::Exposure;

use crate::bench::{go, sample, says, until, window};
use crate::typed::{self, document, enter, film, page, press, shows};

#[test]
fn one_record_is_changed_for_all_marked_films_as_one_step() {
    let mut series = typed::series();
    for number in 0..4 {
        series.films.push(film(&format!("Knot {number}"), -1.9, 50.0));
    }
    let before = series.clone();
    let mut harness = page(series, Key::Num1);
    harness.run_steps(2);
    enter(&mut harness, "Filter the films", "knot");
    press(&mut harness, "Mark all");
    assert!(shows(&harness, "4 films at once"));
    enter(&mut harness, "Developer", "Samphire");
    assert_eq!(harness.state().session().undo_label(), Some("change developer of 4 films"));
    let changed = |harness: &egui_kittest::Harness<'_, _>| {
        let all = document(harness).films.iter();
        all.filter(|film| film.process.developer == "Samphire")
            .map(|film| film.label.clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(changed(&harness), ["Knot 0", "Knot 1", "Knot 2", "Knot 3"]);
    enter(&mut harness, "Temperature", "68");
    assert!(document(&harness).films.iter().all(|film| film.process.temperature_c.is_none()), "Fahrenheit");
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Z);
    harness.run_steps(3);
    assert_eq!(**harness.state().session().series(), before, "one undo takes all back");
}

#[test]
fn a_tick_marks_a_film_and_the_light_is_said_for_all_of_them() {
    let mut series = typed::series();
    for film in &mut series.films {
        film.tablet_exposure.as_mut().unwrap().exposure = Exposure::NotSaid;
    }
    let mut harness = page(series, Key::Num1);
    harness.run_steps(2);
    press(&mut harness, "Mark Tern 160");
    assert!(!shows(&harness, "films at once"), "one film has its own record");
    press(&mut harness, "Mark Plover 640");
    press(&mut harness, "All had the full exposure");
    let full = Exposure::Relative { stops_less: 0.0 };
    let exposed = |film: &twinwedge_core::document::Film| film.tablet_exposure.as_ref().unwrap().exposure;
    assert!(document(&harness).films.iter().all(|film| exposed(film) == full));
    assert_eq!(harness.state().session().undo_label(), Some("set the light on 2 films"));
    press(&mut harness, "Mark none");
    assert!(!shows(&harness, "films at once"));
}

#[test]
fn a_further_film_lies_over_the_pair_in_curves_prints_and_grain() {
    let mut harness = window(sample());
    harness.run_steps(2);
    harness.get_by_label("Further films over the pair: 0").click();
    harness.run_steps(3);
    harness.get_by_role_and_label(egui::Role::CheckBox, "Dunlin 40").click();
    harness.run_steps(3);
    harness.key_press(Key::Escape);
    harness.run_steps(3);
    assert!(says(&harness, "Further films over the pair: 1"));
    let told = |harness: &egui_kittest::Harness<'_, _>| {
        use egui_kittest::kittest::NodeT as _;
        let figures = harness.query_all_by_role(egui::Role::Figure);
        figures
            .filter_map(|node| node.accesskit_node().description())
            .any(|words| words.contains("Dunlin 40:"))
    };
    until(&mut harness, "its curve", told);
    go(&mut harness, "Prints");
    until(&mut harness, "its print", |harness| says(harness, "Print: Dunlin 40"));
    go(&mut harness, "Grain");
    until(&mut harness, "its crop", |harness| says(harness, "Crop of Dunlin 40"));
    harness.get_by_role_and_label(egui::Role::RadioButton, "Show: granularity").click();
    until(&mut harness, "its granularity", told);
}
