//! The Curves page: alignment, readout, setting points aside.

use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{FilmId, ReadingsSource, Series};

use crate::typed::{self, FASTER, SLOPE, document, press, said, shows, wait_for, window, window_of};

fn ready() -> egui_kittest::Harness<'static, twinwedge_desktop::app::App> {
    let mut harness = window(typed::series());
    wait_for(&mut harness, "both curves", |harness| shows(harness, "Gamma: reference 0."));
    harness
}

/// The number after a word in the label of the readout's line of density.
fn difference(harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>) -> f64 {
    let label = said(harness, "Density: reference");
    let text = label.split("difference ").nth(1).unwrap_or_default();
    let number = text.split([' ', ',']).next().unwrap_or_default().replace('−', "-").replace('+', "");
    number.parse().unwrap_or_else(|_| panic!("no number in '{label}'"))
}

// Analytic: the candidate's curve is the reference's, moved by FASTER; on the straight line it is denser by
// SLOPE * FASTER as exposed, and not at all when the speed points lie over each other.
#[test]
fn alignment_moves_the_candidate_onto_the_reference() {
    let mut harness = ready();
    let plot = harness.get_by_label("Characteristic curves").rect();
    let place = plot.left_center() + egui::vec2(plot.width() * 0.62, 0.0);
    harness.hover_at(place);
    harness.run_steps(3);
    let as_exposed = difference(&harness);
    assert!((as_exposed - SLOPE * FASTER).abs() < 0.03, "as exposed: {as_exposed}");
    press(&mut harness, "Alignment: as exposed");
    press(&mut harness, "Aligned: speed point");
    harness.hover_at(place);
    harness.run_steps(3);
    let aligned = difference(&harness);
    assert!(aligned.abs() < 0.03, "at the speed point: {aligned}");
    assert!(shows(&harness, "not distinguishable"));
}

#[test]
fn axes_and_the_lower_plot_change() {
    let mut harness = ready();
    assert!(shows(&harness, "Local gradient"));
    press(&mut harness, "Below: departure");
    assert!(shows(&harness, "Departure from the straight line"));
    press(&mut harness, "Exposure in: stops");
    let plot = harness.get_by_label("Characteristic curves").rect();
    harness.hover_at(plot.center());
    harness.run_steps(3);
    assert!(shows(&harness, " stops"), "the place under the pointer is told in stops");
}

#[test]
fn a_step_is_set_aside_and_taken_back() {
    // High enough for the readings to be in sight under the figures.
    let mut harness = window_of(typed::series(), egui::vec2(1600.0, 4000.0));
    wait_for(&mut harness, "readings", |harness| shows(harness, "Use step 3 of Plover 640"));
    let aside = |series: &Series| match series.film(&FilmId::from("Plover 640")).unwrap().strip_readings(0) {
        Some(ReadingsSource::Typed(readings)) => readings.iter().filter(|reading| reading.set_aside).count(),
        _ => panic!("typed readings"),
    };
    press(&mut harness, "Use step 3 of Plover 640");
    assert_eq!(aside(document(&harness)), 1);
    assert_eq!(harness.state().session().undo_label(), Some("set aside step 3 of Plover 640"));
    wait_for(&mut harness, "the curve without it", |harness| shows(harness, "1 set aside"));
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run_steps(3);
    assert_eq!(aside(document(&harness)), 0);
}

/// A press on a point in the plot does the same as its switch.
#[test]
fn a_point_of_the_plot_is_set_aside_by_a_press() {
    let mut harness = ready();
    press(&mut harness, "Free axes");
    harness.run_steps(3);
    // With free axes the range of the data fills the plot: a press along the bottom line meets a point of the toe.
    let plot = harness.get_by_label("Characteristic curves").rect();
    let mut x = plot.left() + 4.0;
    while harness.state().session().undo_label().is_none() && x < plot.right() {
        let mut y = plot.bottom() - 4.0;
        while harness.state().session().undo_label().is_none() && y > plot.center().y {
            harness.hover_at(egui::pos2(x, y));
            harness.drag_at(egui::pos2(x, y));
            harness.drop_at(egui::pos2(x, y));
            harness.run_steps(1);
            y -= 8.0;
        }
        x += 16.0;
    }
    let label = harness.state().session().undo_label().unwrap_or_default().to_owned();
    assert!(label.starts_with("set aside step "), "{label}");
}

#[test]
fn an_empty_series_asks_for_its_three_files() {
    let mut harness = window(Series::default());
    harness.run_steps(3);
    for button in ["Tablet densities", "Reference readings", "Candidate readings"] {
        assert!(harness.query_by_label(button).is_some(), "{button}");
    }
    press(&mut harness, "Reference readings");
    let series = document(&harness);
    assert_eq!(series.reference.as_ref(), series.films.first().map(|film| &film.id));
    assert_eq!(series.films.len(), 1);
}
