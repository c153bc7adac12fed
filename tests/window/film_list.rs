//! The bench line on every page, and the list of films beside it: it follows the candidate, is put into another order, says what
//! is doubtful, and is hidden.

use egui::{Key, Modifiers, Rect, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable};
use twinwedge_core::document::{PrintChoice, ScanEntry, ScanId, ScanKind, Series};
use twinwedge_desktop::app::App;

use crate::bench::{go, says, until};
use crate::typed::{self, document, film, press};

const PAGES: [&str; 10] =
    ["Films", "Tablets", "Curves", "Times", "Tones", "Frames", "Prints", "Greys", "Grain", "Report"];

/// Two films and as many further ones.
fn series(further: usize) -> Series {
    let mut series = typed::series();
    series.films.extend((0..further).map(|number| film(&format!("Knot {number}"), -1.9, 50.0)));
    series
}

/// The rows of the list that are in sight: what each says, and its place.
fn rows(harness: &Harness<'_, App>) -> Vec<(String, Rect)> {
    let rows = harness.query_all_by_role(Role::ListItem);
    rows.map(|row| (row.accesskit_node().label().unwrap_or_default(), row.rect())).collect()
}

fn place(harness: &Harness<'_, App>, words: &str) -> Option<Rect> {
    rows(harness).into_iter().find(|(label, _)| label.contains(words)).map(|(_, place)| place)
}

fn order(harness: &Harness<'_, App>) -> Vec<String> {
    document(harness).films.iter().map(|film| film.label.clone()).collect()
}

/// A window with the list kept beside the page.
fn listed(series: Series) -> Harness<'static, App> {
    let mut harness = typed::window(series);
    harness.run_steps(2);
    harness.key_press(Key::F9);
    harness.run_steps(3);
    harness
}

#[test]
fn pair_alignment_and_whether_it_is_predicted_stand_in_one_place_on_every_page() {
    let mut harness = typed::window(series(1));
    harness.run_steps(2);
    press(&mut harness, "compared: as if matched");
    press(&mut harness, "Alignment: as exposed");
    press(&mut harness, "Aligned: at a density");
    let mut seen: Option<Vec<Rect>> = None;
    for page in PAGES {
        go(&mut harness, page);
        harness.run_steps(3);
        let places: Vec<Rect> = [
            (Role::ComboBox, "Candidate: Plover 640"),
            (Role::RadioButton, "compared: as if matched"),
            (Role::ComboBox, "Alignment: at a density"),
            (Role::TextInput, "Density above base+fog"),
            (Role::Button, "Next candidate"),
        ]
        .into_iter()
        .map(|(role, name)| harness.get_by_role_and_label(role, name).rect())
        .collect();
        assert!(says(&harness, "Predicted, not measured"), "{page}");
        assert_eq!(*seen.get_or_insert(places.clone()), places, "{page}");
    }
    // Another candidate keeps all of it.
    harness.key_press(Key::PageDown);
    harness.run_steps(3);
    assert!(says(&harness, "Candidate: Knot 0") && says(&harness, "Alignment: at a density"));
}

#[test]
fn the_list_follows_the_candidate_and_is_hidden_again() {
    let mut harness = listed(series(40));
    assert!(place(&harness, "Plover 640").is_some());
    harness.key_press(Key::PageUp);
    harness.run_steps(4);
    // The last candidate, far below, is in sight whole.
    let last = place(&harness, "Knot 39").expect("the row of the candidate");
    assert!(last.top() > 0.0 && last.bottom() < 760.0, "{last:?}");
    assert!(place(&harness, "Plover 640").is_none());
    harness.key_press(Key::F9);
    harness.run_steps(3);
    assert!(rows(&harness).is_empty());
}

#[test]
fn a_film_is_dragged_or_moved_by_key_to_another_place_as_one_step() {
    let mut harness = listed(series(3));
    let begin = place(&harness, "Knot 2").expect("its row").center();
    let end = place(&harness, "Plover 640").expect("its row");
    harness.drag_at(begin);
    harness.run_steps(2);
    for part in 1..=6 {
        harness.hover_at(begin + (end.center_top() + egui::vec2(0.0, 8.0) - begin) * (part as f32 / 6.0));
        harness.run_steps(1);
    }
    harness.drop_at(end.center_top() + egui::vec2(0.0, 8.0));
    harness.run_steps(3);
    let dragged = ["Tern 160", "Knot 2", "Plover 640", "Knot 0", "Knot 1"];
    assert_eq!(order(&harness), dragged);
    assert_eq!(harness.state().session().undo_label(), Some("put Knot 2 before Plover 640"));
    assert!(place(&harness, "Knot 2").unwrap().top() < place(&harness, "Plover 640").unwrap().top());
    let row = |harness: &Harness<'_, App>, words: &str| {
        let mut rows = harness.query_all_by_role(Role::ListItem);
        rows.find(|row| row.accesskit_node().label().is_some_and(|label| label.contains(words)))
            .expect("the row")
            .focus();
    };
    row(&harness, "Knot 0");
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::ALT, Key::ArrowDown);
    harness.run_steps(3);
    assert_eq!(order(&harness), ["Tern 160", "Knot 2", "Plover 640", "Knot 1", "Knot 0"]);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(order(&harness), ["Tern 160", "Plover 640", "Knot 0", "Knot 1", "Knot 2"]);
}

#[test]
fn the_list_says_which_film_is_doubtful_and_what_it_lacks() {
    let mut doubtful = series(1);
    let scan = ScanId::from("lost print");
    doubtful.scans.insert(scan.clone(), ScanEntry::new("nowhere.tif".to_owned(), None, ScanKind::Print));
    doubtful.films[1].print = Some(PrintChoice::new(scan));
    let mut harness = listed(doubtful);
    until(&mut harness, "the doubt", |harness| {
        rows(harness).iter().any(|(label, _)| label.contains("Plover 640") && label.contains("doubt"))
    });
    let (label, _) = rows(&harness).into_iter().find(|(label, _)| label.contains("Knot 0")).unwrap();
    assert!(!label.contains("doubt") && label.contains("no print, grain area"), "{label}");
}
