//! A series of one's own, from nothing: films, readings typed, readings dropped.

use egui::{Key, Modifiers, Role};
use egui_kittest::kittest::Queryable;
use twinwedge_workbench::session::Session;

use crate::bench::{folder, go, says, take_path, until, window};

/// Readings of a film with a toe and a straight line, invented for this test, as a densitometer would give them.
fn readings() -> String {
    let density = |step: u32| {
        let log_h = -0.15 * f64::from(step);
        0.25 + 0.3 * (1.0 + 10.0_f64.powf(2.0 * (log_h + 2.2))).log10()
    };
    (0..21).map(|step| format!("{}\t{:.2}\n", step + 1, density(step))).collect()
}

fn empty() -> Session {
    let mut session = Session::empty();
    session.set_recovery_folder(None);
    session
}

#[test]
fn an_empty_series_says_on_every_page_what_goes_there() {
    let mut harness = window(empty());
    for page in ["Films", "Tablets", "Curves", "Frames", "Prints", "Greys", "Grain", "Report"] {
        go(&mut harness, page);
    }
    go(&mut harness, "Prints");
    assert!(says(&harness, "No film yet"));
}

#[test]
fn readings_are_typed_refused_with_their_line_and_taken() {
    let mut harness = window(empty());
    harness.key_press_modifiers(Modifiers::COMMAND, Key::J);
    harness.run_steps(3);
    go(&mut harness, "Tablets");
    harness.get_by_role_and_label(Role::Button, "Type or paste readings").click();
    harness.run_steps(2);
    let field = "Readings of New film";
    harness.get_by_role_and_label(Role::MultilineTextInput, field).set_text_value_accesskit("1 0.30\n2 dark");
    harness.run_steps(2);
    harness.get_by_role_and_label(Role::Button, "Take these readings").click();
    harness.run_steps(2);
    assert!(says(&harness, "line 2"), "the line that is wrong is named");
    harness.get_by_role_and_label(Role::MultilineTextInput, field).set_text_value_accesskit(&readings());
    harness.run_steps(2);
    harness.get_by_role_and_label(Role::Button, "Take these readings").click();
    harness.run_steps(3);
    assert!(says(&harness, "21 typed readings"));
    until(&mut harness, "the readings of the curve", |harness| {
        says(harness, "Density of step 21 of New film")
    });
}

#[test]
fn a_dropped_table_with_the_films_name_becomes_its_readings() {
    let mut harness = window(empty());
    harness.key_press_modifiers(Modifiers::COMMAND, Key::J);
    harness.run_steps(3);
    let folder = folder();
    let path = folder.path().join("new-film.csv");
    std::fs::write(&path, readings()).expect("the table is written");
    harness.input_mut().dropped_files.push(std::sync::Arc::new(Dropped(path)));
    harness.run_steps(1);
    until(&mut harness, "the readings", |harness| says(harness, "Done: enter 21 readings of New film"));
}

#[test]
fn a_dropped_scan_of_unknown_kind_is_asked_about() {
    let mut harness = window(empty());
    harness.key_press_modifiers(Modifiers::COMMAND, Key::J);
    harness.run_steps(3);
    harness.input_mut().dropped_files.push(std::sync::Arc::new(Dropped("/nowhere/scan0001.tif".into())));
    harness.run_steps(2);
    assert!(says(&harness, "What is scan0001.tif?"));
    harness.get_by_role_and_label(Role::Button, "Leave it").click();
    harness.run_steps(2);
    assert!(!says(&harness, "What is scan0001.tif?"));
}

#[derive(Debug)]
struct Dropped(std::path::PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &std::path::Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}

#[test]
fn unsaved_changes_are_asked_about_saved_and_opened_again() {
    let mut harness = window(empty());
    harness.key_press_modifiers(Modifiers::COMMAND, Key::J);
    harness.run_steps(3);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::N);
    harness.run_steps(2);
    assert!(says(&harness, "The series has changes that are not saved"));
    harness.get_by_role_and_label(Role::Button, "Save").click();
    harness.run_steps(5);
    let folder = folder();
    let path = folder.path().join("own.twinwedge");
    take_path(&mut harness, &path, "Save");
    harness.run_steps(3);
    assert!(path.is_file(), "the series is saved");
    assert!(
        harness.state().session().series().films.is_empty(),
        "and the empty one that was asked for is there"
    );
    harness.key_press_modifiers(Modifiers::COMMAND, Key::O);
    harness.run_steps(2);
    take_path(&mut harness, &path, "Open");
    until(&mut harness, "the series", |harness| harness.state().session().series().films.len() == 1);
}
