//! The Times page: rolls over time, choices, the prediction that other pages show, cautions.

use egui_kittest::kittest::{NodeT, Queryable};
use twinwedge_core::document::{CompareAs, FilmId, FollowedGradient, ReadingsSource, Series};

use crate::typed::{self, document, enter, page, press, shows, wait_for};

/// The candidate with two further rolls, all densities above base+fog in proportion.
fn family() -> Series {
    let mut series = typed::series();
    let plover = FilmId::from("Plover 640");
    for (minutes, factor) in [(10.0, 1.0), (6.0, 0.72), (14.0, 1.2)] {
        let mut film = typed::film(&format!("Plover 640, {minutes} min"), -2.35, 640.0);
        if let ReadingsSource::Typed(readings) = &mut film.strips[0].readings {
            for reading in readings {
                reading.density = 0.2 + factor * (reading.density - 0.2);
            }
        }
        film.process.minutes = Some(minutes);
        film.process.temperature_c = Some(20.0);
        if (minutes - 10.0_f64).abs() < 1e-9 {
            series.films[1] =
                twinwedge_core::document::Film { id: plover.clone(), label: "Plover 640".into(), ..film };
        } else {
            film.roll_of = Some(plover.clone());
            series.films.push(film);
        }
    }
    series
}

#[test]
fn the_time_stands_beside_its_cautions() {
    let mut harness = page(family(), egui::Key::Num4);
    wait_for(&mut harness, "the time", |harness| shows(harness, "Time at 20 °C: "));
    assert!(shows(&harness, "Wear gloves and eye protection"));
    assert!(shows(&harness, "fitted to 3 rolls"));
    assert!(shows(&harness, "Average gradient over development time of Plover 640"));
    assert!(shows(&harness, "24 °C: "));
    // Gradients equal the reference's at the candidate's own ten minutes, by construction.
    let label = harness
        .query_all_by_label_contains("Time at 20 °C: ")
        .next()
        .and_then(|node| node.accesskit_node().value().or_else(|| node.accesskit_node().label()));
    let label = label.expect("the time has a label");
    let minutes = label
        .trim_start_matches("Time at 20 °C: ")
        .split(' ')
        .next()
        .and_then(|text| text.parse::<f64>().ok());
    assert!(minutes.is_some_and(|minutes| (minutes - 10.0).abs() < 0.1), "ten minutes in '{label}'");
}

#[test]
fn choices_are_named_steps_that_are_undone() {
    let mut harness = page(family(), egui::Key::Num4);
    press(&mut harness, "Follow: gamma");
    assert_eq!(document(&harness).development.follow, FollowedGradient::Gamma);
    enter(&mut harness, "Wanted", "0,65");
    assert_eq!(document(&harness).development.wanted, Some(0.65));
    enter(&mut harness, "Wanted", "7");
    assert_eq!(document(&harness).development.wanted, Some(0.65), "a gradient of 7 is refused");
    enter(&mut harness, "Per 10 °C", "2.2");
    assert_eq!(document(&harness).development.temperature_coefficient, Some(2.2));
    assert_eq!(harness.state().session().undo_label(), Some("change the speed per 10 °C"));
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run_steps(3);
    assert_eq!(document(&harness).development.temperature_coefficient, None);
}

#[test]
fn a_predicted_comparison_says_so_on_every_page_and_is_left_again() {
    let mut harness = page(family(), egui::Key::Num4);
    press(&mut harness, "Compare: at the reference's contrast");
    assert_eq!(document(&harness).development.compare_as, CompareAs::MatchedContrast);
    for key in [egui::Key::Num1, egui::Key::Num3, egui::Key::Num6] {
        harness.key_press_modifiers(egui::Modifiers::ALT, key);
        harness.run_steps(3);
        assert!(shows(&harness, "Predicted, not measured"), "{key:?}");
    }
    press(&mut harness, "compared: as developed");
    assert!(!shows(&harness, "Predicted, not measured"));
}
