//! The Tones page: zones, the traced tone, choices, the paper.

use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_core::document::{FilmId, PrintMatch, ReadingsSource, Series};
use twinwedge_desktop::app::App;

use crate::typed::{self, FASTER, SLOPE, document, enter, film, page, press, said, shows, wait_for};

fn ready(series: Series) -> Harness<'static, App> {
    let mut harness = page(series, Key::Num5);
    wait_for(&mut harness, "the diagram", |harness| shows(harness, "Tone reproduction in four quadrants"));
    wait_for(&mut harness, "the zones", |harness| shows(harness, "Zones kept"));
    harness
}

/// A series whose paper was tested through the same tablet: a straight paper of gradient 2 between white and black.
fn with_paper() -> Series {
    let mut series = typed::series();
    let text: String = (0..21)
        .map(|step| {
            let log_h = -(0.05 + 0.15 * f64::from(step)) + 1.2;
            format!("{:.2}\n", 0.06 + (2.0 / (1.0 + (-4.0 * log_h).exp())))
        })
        .collect();
    let readings = twinwedge_workbench::load::readings(&text, "typed").unwrap();
    let mut test = twinwedge_core::document::PaperTest::through("tablet".into());
    test.readings = Some(ReadingsSource::Typed(readings));
    series.paper = Some(test);
    series
}

/// The first number behind `word` in a text.
fn number_after(text: &str, word: &str) -> f64 {
    let rest = text.split(word).nth(1).unwrap_or_else(|| panic!("no '{word}' in '{text}'"));
    let number = rest.trim_start().split([' ', ',', ';']).next().unwrap_or_default();
    number.replace('−', "-").replace('+', "").parse().unwrap_or_else(|_| panic!("no number in '{rest}'"))
}

// Analytic: both films are one curve, the candidate's FASTER further along; rated alike, on the straight line it is denser
// by SLOPE * FASTER, and a zone is SLOPE * lg 2 from the next. Zone V lies there on both.
#[test]
fn zones_of_both_films_stand_beside_each_other() {
    let mut harness = ready(typed::series());
    press(&mut harness, "Show: zones");
    wait_for(&mut harness, "the table", |harness| shows(harness, "Density above base+fog, zone V, Tern 160"));
    let label = said(&harness, "zone V, Plover 640 against Tern 160");
    assert!((number_after(&label, ": ") - SLOPE * FASTER).abs() < 0.02, "{label}");
    press(&mut harness, "Zone by zone: separation");
    let label = said(&harness, "Separation to the next zone, zone V, Tern 160");
    assert!((number_after(&label, "160:") - SLOPE * 2.0_f64.log10()).abs() < 0.02, "{label}");
    assert!(shows(&harness, "tied to lux seconds"), "relative exposures say what ties them");
}

#[test]
fn the_traced_tone_follows_the_keys() {
    let mut harness = ready(typed::series());
    let figure = "Tone reproduction in four quadrants";
    assert!(said(&harness, figure).contains("zone V;"), "{}", said(&harness, figure));
    harness.query_all_by_label_contains(figure).next().unwrap().focus();
    harness.run_steps(2);
    harness.key_press(Key::ArrowRight);
    harness.run_steps(2);
    assert!(said(&harness, figure).contains("zone V ⅓;"), "{}", said(&harness, figure));
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowLeft);
    harness.run_steps(2);
    assert!(said(&harness, figure).contains("zone IV ⅓;"), "{}", said(&harness, figure));
    assert!(shows(&harness, "Zone IV ⅓ followed"));
}

#[test]
fn the_exposure_index_is_entered_stepped_and_undone() {
    let mut harness = ready(typed::series());
    enter(&mut harness, "Exposure index", "400");
    assert_eq!(document(&harness).tones.exposure_index, Some(400.0));
    press(&mut harness, "Exposure index +⅓ stop");
    assert_eq!(document(&harness).tones.exposure_index, Some(504.0));
    assert_eq!(harness.state().session().undo_label(), Some("set the exposure index"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(3);
    assert_eq!(document(&harness).tones.exposure_index, None);
}

/// A drag of the films by one way moves the index by it: one step of the history.
#[test]
fn a_drag_of_the_films_changes_the_index() {
    let mut harness = ready(typed::series());
    let figure = harness.query_all_by_label_contains("Tone reproduction").next().unwrap().rect();
    let from = figure.center() + egui::vec2(figure.width() * 0.25, -figure.height() * 0.25);
    harness.hover_at(from);
    harness.run_steps(2);
    harness.drag_at(from);
    harness.run_steps(2);
    harness.hover_at(from + egui::vec2(20.0, 0.0));
    harness.run_steps(2);
    harness.hover_at(from + egui::vec2(40.0, 0.0));
    harness.run_steps(2);
    harness.drop_at(from + egui::vec2(40.0, 0.0));
    harness.run_steps(3);
    let index = document(&harness).tones.exposure_index.expect("an index");
    assert!(index < 150.0, "to the right is more exposure: {index}");
    assert_eq!(harness.state().session().undo_label(), Some("drag the exposure index"));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(3);
    assert_eq!(document(&harness).tones.exposure_index, None);
}

#[test]
fn a_third_film_stands_beside_the_two() {
    let mut series = typed::series();
    let mut pushed = film("Tern 160, pushed", -1.9 - 0.2, 160.0);
    pushed.roll_of = Some(FilmId::from("Tern 160"));
    series.films.push(pushed);
    series.tones.third = Some(FilmId::from("Tern 160, pushed"));
    let mut harness = ready(series);
    wait_for(&mut harness, "its curve", |harness| said(harness, "Tone reproduction").contains("pushed: D"));
    press(&mut harness, "Show: zones");
    wait_for(&mut harness, "its zones", |harness| {
        shows(harness, "zone VII, Tern 160, pushed against Tern 160")
    });
    let label = said(&harness, "zone VII, Tern 160, pushed against Tern 160");
    assert!((number_after(&label, ": ") - SLOPE * 0.2).abs() < 0.02, "{label}");
}

#[test]
fn densities_of_the_paper_are_typed_and_undone() {
    let mut harness = ready(typed::series());
    assert!(shows(&harness, "The left half needs the paper"));
    press(&mut harness, "Show: paper");
    press(&mut harness, "Type or paste densities");
    let text: Vec<String> = (0..21)
        .map(|step| format!("{:.2}", 2.0 / (1.0 + (0.4 * f64::from(step - 10)).exp()) + 0.06))
        .collect();
    enter(&mut harness, "Densities of the paper test", &text.join("\n"));
    press(&mut harness, "Take these densities");
    let test = document(&harness).paper.clone().expect("a paper test");
    assert!(matches!(&test.readings, Some(ReadingsSource::Typed(typed)) if typed.len() == 21));
    assert_eq!(test.tablet.0, "tablet", "the tablet of so many steps");
    wait_for(&mut harness, "its curve", |harness| shows(harness, "Curve of the paper"));
    wait_for(&mut harness, "its figures", |harness| shows(harness, "Range R = 100 (S − T): "));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(3);
    assert!(document(&harness).paper.is_none());
}

/// With base+fog and toe alike, both negatives differ by exposure alone: matched at zone V they print alike there.
#[test]
fn prints_are_matched_as_chosen() {
    let mut harness = ready(with_paper());
    wait_for(&mut harness, "the paper", |harness| shows(harness, "Print density: reference"));
    press(&mut harness, "Others by: zone V");
    assert_eq!(document(&harness).tones.print_match, PrintMatch::Zone(5.0));
    harness.run_steps(3);
    let label = said(&harness, "Print density: reference");
    assert!(number_after(&label, "difference").abs() < 1e-6, "{label}");
    assert!(shows(&harness, "Blank from density"));
    press(&mut harness, "Print exposure +⅓ stop");
    assert!(document(&harness).tones.print_stops.is_some());
}
