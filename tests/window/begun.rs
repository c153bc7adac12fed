//! A series of one's own from three files, two prints and two brackets to a saved report, by the tree of a screen reader, every
//! click counted.

use std::path::{Path, PathBuf};

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable};
use twinwedge_core::document::{Exposure, ReadingsSource};
use twinwedge_desktop::app::App;
use twinwedge_workbench::session::Session;

use crate::bench::{folder, says, take_path, until, window};
use crate::typed;

/// A person at the window, whose clicks are counted.
struct Person {
    harness: Harness<'static, App>,
    clicks: u32,
}

impl Person {
    fn new() -> Self {
        let mut session = Session::empty();
        session.set_recovery_folder(None);
        let mut harness = window(session);
        harness.run_steps(2);
        Self { harness, clicks: 0 }
    }

    fn click(&mut self, role: Role, label: &str) {
        until(&mut self.harness, label, |harness| harness.query_by_role_and_label(role, label).is_some());
        self.harness.get_by_role_and_label(role, label).click();
        self.harness.run_steps(3);
        self.clicks += 1;
    }

    /// An entry of a menu, which shows its key beside it.
    fn menu(&mut self, menu: &str, entry: &str) {
        self.click(Role::Button, menu);
        self.harness.get_by_label_contains(entry).click();
        self.harness.run_steps(3);
        self.clicks += 1;
    }

    /// Presses what asks for a file, types the path and takes it.
    fn file(&mut self, button: &str, path: &Path, verb: &str) {
        self.click(Role::Button, button);
        take_path(&mut self.harness, path, verb);
        self.clicks += 1;
    }

    /// Goes into a field by a click and types.
    fn enter(&mut self, field: &str, text: &str) {
        typed::enter(&mut self.harness, field, text);
        self.clicks += 1;
    }

    fn says(&self, words: &str) -> bool {
        says(&self.harness, words)
    }
}

fn sample(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-projects/saltmarsh").join(file)
}

/// A film of a toe and a straight line (analytic), step 1 with the most light, read through 21 steps.
fn readings(folder: &Path, name: &str, toe: f64) -> PathBuf {
    let density =
        |step: u32| 0.25 + 0.3 * (1.0 + 10.0_f64.powf(2.0 * (-0.15 * f64::from(step) - toe))).log10();
    let lines: String = (0..21).map(|step| format!("{}\t{:.3}\n", step + 1, density(step))).collect();
    let path = folder.join(name);
    std::fs::write(&path, lines).unwrap();
    path
}

#[test]
fn from_three_files_two_prints_and_a_bracket_to_a_report() {
    let folder = folder();
    let mut person = Person::new();
    person.menu("Series", "New ...");
    assert!(person.says("Begin a series"));
    let reference = readings(folder.path(), "Tern 160 readings.csv", -2.0);
    // Faster by 0.45 in log H, 1.5 stops.
    let candidate = readings(folder.path(), "plover-640_densities.csv", -2.45);
    person.file("Choose the reference film", &reference, "Open");
    until(&mut person.harness, "the name", |harness| says(harness, "Reference: Tern 160"));
    person.file("Choose the candidate film", &candidate, "Open");
    person.file("Choose the tablet's densities", &sample("step-tablet.csv"), "Open");
    until(&mut person.harness, "the names", |harness| says(harness, "Candidate: Plover 640"));
    // What is read of the tablet moves what stands below it.
    until(&mut person.harness, "its steps", |harness| harness.query_by_label("21 steps").is_some());
    person.click(Role::RadioButton, "Light: the same on both");
    person.click(Role::Button, "Begin the series");
    until(&mut person.harness, "both films", |harness| {
        harness.state().session().undo_label() == Some("begin with Tern 160 and Plover 640")
    });
    let series = person.harness.state().session().series();
    for (film, speed) in series.films.iter().zip([160.0, 640.0]) {
        assert_eq!(film.box_speed, Some(speed), "it stands in the name of its file");
        let exposed = film.tablet_exposure.as_ref().unwrap();
        assert_eq!(exposed.exposure, Exposure::Relative { stops_less: 0.0 });
        assert!(matches!(&film.strips[0].readings, ReadingsSource::Typed(typed) if typed.len() == 21));
    }
    // The page with both curves is in sight.
    until(&mut person.harness, "the curves", |harness| says(harness, "Speed point: reference"));
    let shown = person.harness.get_by_role_and_label(Role::Tab, "Curves");
    assert_eq!(shown.accesskit_node().toggled(), Some(egui::accesskit::Toggled::True));

    person.click(Role::Tab, "Prints");
    person.file("Open the print of Tern 160 ...", &sample("scans/tern-160-print.tif"), "Open");
    person.file("Open the print of Plover 640 ...", &sample("scans/plover-640-print.tif"), "Open");
    until(&mut person.harness, "both prints", |harness| {
        harness.state().session().series().films.iter().all(|film| film.print.is_some())
    });
    person.click(Role::Tab, "Frames");
    for (film, first) in [("Tern 160", "125"), ("Plover 640", "320")] {
        person.click(Role::Button, &format!("Index series of {film}"));
        person.enter(&format!("First exposure index of {film}"), first);
        person.enter(&format!("Number of frames of {film}"), "3");
        person.click(Role::Button, &format!("Fill in the indices of {film}"));
        for (frame, density) in [(1, "0,44"), (2, "0,40"), (3, "0,36")] {
            person.enter(&format!("Shadow density of frame {frame} of {film}"), density);
        }
    }
    let series = person.harness.state().session().series();
    let indices = |film: usize| -> Vec<f64> {
        let frames = &series.films[film].bracket.as_ref().unwrap().frames;
        frames.iter().filter_map(|frame| frame.exposure_index).collect()
    };
    // Settings of a meter in thirds of a stop (ISO 2720:1974, 3.3).
    assert_eq!((indices(0), indices(1)), (vec![125.0, 160.0, 200.0], vec![320.0, 400.0, 500.0]));

    person.click(Role::Tab, "Report");
    let report = folder.path().join("report.html");
    person.file("This candidate …", &report, "Save");
    person.menu("Series", "Save as ...");
    let path = folder.path().join("own.twinwedge");
    take_path(&mut person.harness, &path, "Save");
    person.clicks += 1;
    until(&mut person.harness, "the report", |_| report.is_file());
    assert!(path.is_file(), "the series is saved");
    let html = std::fs::read_to_string(&report).unwrap();
    assert!(html.contains("Plover 640") && html.contains("Tern 160"));
    println!("clicks: {}", person.clicks);
    assert!(person.clicks < 40, "{} clicks", person.clicks);
}

#[test]
fn what_was_entered_waits_behind_a_page_and_a_click_beside_a_dialog_loses_nothing() {
    let folder = folder();
    let mut person = Person::new();
    person.menu("Series", "New ...");
    let reference = readings(folder.path(), "Tern 160.csv", -2.0);
    person.file("Choose the reference film", &reference, "Open");
    until(&mut person.harness, "the name", |harness| says(harness, "Reference: Tern 160"));
    person.click(Role::Tab, "Grain");
    assert!(!person.says("Begin a series"));
    person.click(Role::Button, "The new series waits");
    assert!(person.says("Reference: Tern 160"), "it is as it was left");
    person.click(Role::Button, "Choose the candidate film");
    let field = |harness: &Harness<'_, App>| {
        harness.query_by_role_and_label(Role::TextInput, "Path").map(|node| node.accesskit_node().value())
    };
    // The folder of the last file is where the next is looked for.
    let before = field(&person.harness).expect("the dialog").unwrap();
    assert!(before.starts_with(&folder.path().display().to_string()), "{before}");
    let beside = egui::pos2(4.0, 796.0);
    person.harness.hover_at(beside);
    person.harness.drag_at(beside);
    person.harness.run_steps(1);
    person.harness.drop_at(beside);
    person.harness.run_steps(3);
    assert_eq!(field(&person.harness).flatten(), Some(before), "a click beside it leaves it there");
    person.harness.key_press(Key::Escape);
    person.harness.run_steps(3);
    assert!(field(&person.harness).is_none() && person.says("Reference: Tern 160"));
}

#[test]
fn a_file_that_is_no_table_and_a_tablet_of_too_few_steps_are_told_before_anything_is_taken() {
    let folder = folder();
    let mut person = Person::new();
    person.menu("Series", "New ...");
    let dark = folder.path().join("Tern 160.csv");
    std::fs::write(&dark, "1 0.30\n2 dark").unwrap();
    person.file("Choose the reference film", &dark, "Open");
    until(&mut person.harness, "what is wrong", |harness| says(harness, "Not taken"));
    let good = readings(folder.path(), "Tern 160 again.csv", -2.0);
    let other = readings(folder.path(), "Plover 640.csv", -2.45);
    person.file("Choose the reference film", &good, "Open");
    person.file("Choose the candidate film", &other, "Open");
    let few = folder.path().join("tablet.csv");
    let lines: String =
        (0..11).map(|step| format!("{}\t{:.2}\n", step + 1, 0.05 + 0.3 * f64::from(step))).collect();
    std::fs::write(&few, lines).unwrap();
    person.file("Choose the tablet's densities", &few, "Open");
    until(&mut person.harness, "the mismatch", |harness| {
        says(harness, "The tablet has 11 steps and a film 21 readings")
    });
    assert!(person.harness.state().session().series().films.is_empty());
    person.harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    person.harness.run_steps(2);
    assert!(person.says("Begin a series"));
}
