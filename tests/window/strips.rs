//! Several strips on the Tablets page, what the Curves page tells of them, and readings that are dragged.

use egui::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{FilmId, ReadingsSource, Series, Strip, StripLevel, TypedReading};
use twinwedge_core::spectra::density::DensityKind;
use twinwedge_desktop::app::App;

use crate::bench::go;
use crate::typed::{self, document, enter, film, page, press, said, shows, wait_for, window, window_of};

fn typed_of(series: &Series, strip: usize) -> Vec<TypedReading> {
    match series.film(&FilmId::from("Plover 640")).and_then(|film| film.strip_readings(strip)) {
        Some(ReadingsSource::Typed(readings)) => readings.clone(),
        _ => panic!("typed readings"),
    }
}

/// The candidate's readings as a strip of its own with so many stops less: the same curve, moved.
fn weaker(stops: f64) -> ReadingsSource {
    film("Plover 640", -1.9 - typed::FASTER + stops * 2.0_f64.log10(), 640.0).strips.remove(0).readings
}

fn undo(harness: &mut Harness<'_, App>) {
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run_steps(3);
}

#[test]
fn an_additional_strip_is_typed_named_levelled_and_removed() {
    let mut harness = window_of(typed::series(), egui::vec2(1600.0, 1000.0));
    go(&mut harness, "Tablets");
    harness.get_all_by_role_and_label(Role::Button, "Add a strip").last().unwrap().click();
    harness.run_steps(3);
    harness.get_all_by_role_and_label(Role::Button, "Type or paste readings").last().unwrap().click();
    harness.run_steps(3);
    let ReadingsSource::Typed(readings) = weaker(2.0) else { panic!() };
    let text: Vec<String> = readings.iter().map(|reading| format!("{:.3}", reading.density)).collect();
    harness
        .get_by_role_and_label(Role::MultilineTextInput, "Readings of strip 2 of Plover 640")
        .set_text_value_accesskit(&text.join("\n"));
    harness.run_steps(2);
    press(&mut harness, "Take these readings");
    let strips = |harness: &Harness<'_, App>| {
        document(harness).film(&FilmId::from("Plover 640")).unwrap().strips.clone()
    };
    assert_eq!(strips(&harness).len(), 2);
    assert_eq!(strips(&harness)[1].level, StripLevel::FromOverlap);
    // Analytic: the strip is the first one's curve with two stops less.
    wait_for(&mut harness, "its level", |harness| {
        shows(harness, "found: 2.0") || shows(harness, "found: 1.9")
    });
    enter(&mut harness, "Name of strip 2 of Plover 640", "filtered");
    assert_eq!(strips(&harness)[1].name, "filtered");
    press(&mut harness, "Light of filtered: stops less");
    assert_eq!(strips(&harness)[1].level, StripLevel::FromOverlap, "nothing is entered that nobody said");
    assert!(shows(&harness, "not said yet"));
    enter(&mut harness, "Stops less light on filtered of Plover 640", "2");
    assert_eq!(strips(&harness)[1].level, StripLevel::StopsLess { stops: 2.0, u: 0.1 });
    undo(&mut harness);
    assert_eq!(strips(&harness)[1].level, StripLevel::FromOverlap);
    press(&mut harness, "Remove this strip");
    assert_eq!(strips(&harness).len(), 1);
    undo(&mut harness);
    assert_eq!(strips(&harness).len(), 2);
}

#[test]
fn the_curves_page_tells_strips_apart_and_sets_their_outliers_aside() {
    let mut series = typed::series();
    let mut source = weaker(2.0);
    let ReadingsSource::Typed(readings) = &mut source else { panic!() };
    readings[5].density += 0.08;
    let candidate = series.film_mut(&FilmId::from("Plover 640")).unwrap();
    candidate.strips.push(Strip {
        level: StripLevel::StopsLess { stops: 2.0, u: 0.05 },
        ..Strip::additional("filtered", source)
    });
    let mut harness = window_of(series, egui::vec2(1600.0, 3600.0));
    wait_for(&mut harness, "the outlier", |harness| shows(harness, "Keep step 6 of filtered of Plover 640"));
    assert!(said(&harness, "Plover 640, filtered").contains("stops less"));
    assert!(shows(&harness, "Drawn as upright triangles"));
    let kept = |harness: &Harness<'_, App>| -> Vec<u32> {
        document(harness).film(&FilmId::from("Plover 640")).unwrap().strips[1].steps_kept.clone()
    };
    press(&mut harness, "Keep step 6 of filtered of Plover 640");
    assert_eq!(kept(&harness), [6]);
    let first = document(&harness).film(&FilmId::from("Plover 640")).unwrap();
    assert!(first.strips[0].steps_kept.is_empty(), "the first strip's step of that number stays as it was");
    wait_for(&mut harness, "the outlier in the fit", |harness| {
        shows(harness, "Set aside step 6 of filtered of Plover 640")
    });
    undo(&mut harness);
    assert!(kept(&harness).is_empty());
    wait_for(&mut harness, "the outlier set aside", |harness| {
        shows(harness, "Keep step 6 of filtered of Plover 640")
    });
}

/// Looks for a mark of the candidate: the hover text names it.
fn find_mark(harness: &mut Harness<'_, App>) -> egui::Pos2 {
    let plot = harness.get_by_label("Characteristic curves").rect();
    let mut x = plot.left() + plot.width() * 0.5;
    while x < plot.right() {
        let mut y = plot.bottom() - 8.0;
        while y > plot.top() {
            harness.hover_at(egui::pos2(x, y));
            harness.run_steps(4);
            if shows(harness, "of Plover 640: density") {
                return egui::pos2(x, y);
            }
            y -= 10.0;
        }
        x += 14.0;
    }
    panic!("no mark of the candidate in the plot");
}

#[test]
fn a_typed_reading_is_dragged_as_one_step_and_broken_off_by_escape() {
    let mut harness = window(typed::series());
    wait_for(&mut harness, "both curves", |harness| shows(harness, "Gamma: reference 0."));
    press(&mut harness, "Free axes");
    harness.run_steps(3);
    let before = typed_of(document(&harness), 0);
    let at = find_mark(&mut harness);
    let changed = |harness: &Harness<'_, App>| {
        let now = typed_of(document(harness), 0);
        now.iter().zip(&before).filter(|(a, b)| (a.density - b.density).abs() > 1e-9).count()
    };
    harness.drag_at(at);
    harness.run_steps(1);
    for by in [4.0, 8.0, 12.0] {
        harness.hover_at(at - egui::vec2(0.0, by));
        harness.run_steps(1);
    }
    assert_eq!(changed(&harness), 1, "one reading follows the pointer while it is held");
    harness.drop_at(at - egui::vec2(0.0, 12.0));
    harness.run_steps(2);
    let label = harness.state().session().undo_label().unwrap_or_default().to_owned();
    assert!(label.starts_with("move step ") && label.ends_with("of Plover 640"), "{label}");
    // As fine as the typed readings are: three decimals.
    let now = typed_of(document(&harness), 0);
    assert!(now.iter().all(|r| (r.density * 1000.0 - (r.density * 1000.0).round()).abs() < 1e-9));
    undo(&mut harness);
    assert_eq!(changed(&harness), 0, "one undo takes the whole drag back");
    harness.drag_at(at);
    harness.run_steps(1);
    harness.hover_at(at - egui::vec2(0.0, 12.0));
    harness.run_steps(2);
    assert_eq!(changed(&harness), 1);
    harness.key_press(egui::Key::Escape);
    harness.run_steps(2);
    harness.drop_at(at - egui::vec2(0.0, 12.0));
    harness.run_steps(2);
    assert_eq!(changed(&harness), 0, "Escape breaks the drag off");
}

#[test]
fn which_densities_typed_readings_are_is_said_where_they_stand() {
    let mut series = typed::series();
    series.films[1].strips[0].density = Some(DensityKind::StatusMGreen);
    let harness = page(series, egui::Key::Num2);
    assert!(shows(&harness, "21 typed readings, status M green densities"));
    assert!(harness.query_by_label("21 typed readings").is_some(), "nothing is said of the other film's");
}
