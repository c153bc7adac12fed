//! The stations on the left and the bench line above: where the pages are, what each holds, which films are compared.

use egui::{Key, Role};
use egui_kittest::kittest::{NodeT as _, Queryable};
use egui_kittest::{Harness, Node};
use twinwedge_core::document::{Bracket, BracketFrame, FilmId};
use twinwedge_desktop::app::App;

use crate::bench::{sample, says, window};
use crate::typed::{self, document, film, press, shows, window_of};

const ORDER: [&str; 10] =
    ["Films", "Tablets", "Curves", "Times", "Tones", "Frames", "Prints", "Greys", "Grain", "Report"];

fn stations<'a>(harness: &'a Harness<'_, App>) -> Vec<Node<'a>> {
    ORDER.iter().map(|word| harness.get_by_role_and_label(Role::Tab, word)).collect()
}

/// What a station holds, as a screen reader is told.
fn state(harness: &Harness<'_, App>, word: &str) -> String {
    let station = harness.get_by_role_and_label(Role::Tab, word);
    station.accesskit_node().description().unwrap_or_default()
}

#[test]
fn all_stations_are_in_reach_at_the_smallest_size_in_the_order_of_the_job() {
    let mut harness = window_of(typed::series(), egui::vec2(960.0, 600.0));
    harness.run_steps(2);
    let tops: Vec<f32> = stations(&harness)
        .iter()
        .map(|station| {
            let rect = station.rect();
            assert!(rect.left() >= 0.0 && rect.right() < 200.0 && rect.bottom() < 560.0, "{rect:?}");
            rect.top()
        })
        .collect();
    assert!(tops.is_sorted(), "{tops:?}");
    assert_eq!(harness.query_all_by_role(Role::Tab).count(), ORDER.len());
}

#[test]
fn keys_of_the_stations_follow_their_order() {
    let keys =
        [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5, Key::Num6, Key::Num7, Key::Num8, Key::Num9];
    let mut harness = window(sample());
    for (word, key) in ORDER.iter().zip(keys.into_iter().chain([Key::Num0])) {
        harness.key_press_modifiers(egui::Modifiers::ALT, key);
        harness.run_steps(2);
        let shown = harness.get_by_role_and_label(Role::Tab, word).accesskit_node().toggled();
        assert_eq!(shown, Some(egui::accesskit::Toggled::True), "{word}");
    }
}

#[test]
fn a_station_tells_what_it_holds_for_the_two_films_on_the_bench() {
    let mut series = typed::series();
    let frame = BracketFrame::typed("1", 160.0, 0.45);
    series.films[0].bracket = Some(Bracket { frames: vec![frame], u: None });
    series.films.push(film("Dunlin 40", -1.0, 40.0));
    series.films[2].strips.clear();
    let mut harness = typed::window(series);
    harness.run_steps(2);
    assert_eq!(state(&harness, "Curves"), "both films");
    assert_eq!(state(&harness, "Frames"), "Tern 160 only");
    assert_eq!(state(&harness, "Prints"), "nothing yet");
    harness.key_press(Key::PageDown);
    harness.run_steps(2);
    assert!(says(&harness, "Candidate: Dunlin 40"));
    assert_eq!(state(&harness, "Curves"), "Tern 160 only");
}

#[test]
fn a_station_tells_of_doubts() {
    let mut series = typed::series();
    let frame = BracketFrame::typed("1", 160.0, 0.45);
    series.films[0].bracket = Some(Bracket { frames: vec![frame], u: None });
    // A scan that is nowhere.
    let scan = twinwedge_core::document::ScanId::from("lost print");
    let entry = twinwedge_core::document::ScanEntry::new(
        "nowhere.tif".to_owned(),
        None,
        twinwedge_core::document::ScanKind::Print,
    );
    series.scans.insert(scan.clone(), entry);
    series.films[0].print = Some(twinwedge_core::document::PrintChoice::new(scan));
    let mut harness = typed::window(series);
    typed::wait_for(&mut harness, "the missing scan", |harness| state(harness, "Prints").contains("doubt"));
    assert_eq!(state(&harness, "Frames"), "Tern 160 only");
}

#[test]
fn stations_fold_to_their_marks_and_back() {
    let mut harness = typed::window(typed::series());
    harness.run_steps(2);
    let width = |harness: &Harness<'_, App>| stations(harness)[0].rect().width();
    let wide = width(&harness);
    harness.key_press(Key::F8);
    harness.run_steps(3);
    assert!(width(&harness) < wide / 2.0);
    press(&mut harness, "Fold the stations");
    harness.run_steps(2);
    assert!((width(&harness) - wide).abs() < 1.0);
}

#[test]
fn the_list_opens_from_the_bench_filters_and_is_kept_beside_the_page() {
    let mut series = typed::series();
    for number in 0..30 {
        series.films.push(film(&format!("Knot {number}"), -1.9, 50.0));
    }
    let mut harness = typed::window(series);
    harness.run_steps(2);
    let row = |harness: &Harness<'_, App>, words: &str| {
        harness
            .query_all_by_role(Role::ListItem)
            .any(|node| node.accesskit_node().label().is_some_and(|label| label.contains(words)))
    };
    assert!(!row(&harness, "Knot 1"));
    harness.get_by_role_and_label(Role::ComboBox, "Candidate: Plover 640").click();
    harness.run_steps(3);
    assert!(row(&harness, "Knot 1"));
    typed::enter(&mut harness, "Films with these words", "knot 27");
    harness.run_steps(3);
    assert!(row(&harness, "Knot 27") && !row(&harness, "Knot 1,") && !row(&harness, "Plover"));
    assert!(shows(&harness, "1 of 32"));
    harness
        .query_all_by_role(Role::ListItem)
        .find(|node| node.accesskit_node().label().is_some_and(|label| label.contains("Knot 27")))
        .expect("the film's row")
        .click();
    harness.run_steps(3);
    assert!(says(&harness, "Candidate: Knot 27"));
    assert!(!row(&harness, "Knot 27"), "choosing a film closes the list");
    harness.key_press(Key::F9);
    harness.run_steps(3);
    assert!(row(&harness, "Knot 27"), "the list is kept beside the page");
    assert_eq!(document(&harness).reference, Some(FilmId::from("Tern 160")));
}
