//! Two at one series, what a crash left behind, and files in the way: nothing is lost or replaced in silence.

use std::path::Path;

use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_desktop::app::App;
use twinwedge_workbench::session::{Edit, OnDisk, Session};
use twinwedge_workbench::store;

use crate::bench::{folder, says, settings, take_path, until};
use crate::typed;

/// A window on a session.
fn window(session: Session) -> Harness<'static, App> {
    Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .with_max_steps(32)
        .build_eframe(|cc| App::new(&cc.egui_ctx, session, settings()))
}

/// A series that is saved at `path`.
fn saved(path: &Path) {
    let mut session = Session::of(typed::series(), path.parent().expect("a folder").to_path_buf());
    session.set_recovery_folder(None);
    session.save_as(path).expect("it is saved");
}

fn open(path: &Path, recoveries: Option<&Path>) -> Session {
    let mut session = Session::open(path).expect("it opens");
    session.set_recovery_folder(recoveries.map(Path::to_path_buf));
    session
}

/// Somebody else names the series anew and saves it.
fn saved_by_another(path: &Path, title: &'static str) {
    let mut other = open(path, None);
    other.apply(Edit::new("rename", move |series| series.title = title.to_owned())).expect("an edit");
    other.save().expect("it is saved");
}

fn title_in(path: &Path) -> String {
    let text = std::fs::read_to_string(path).expect("the file");
    store::parse(&text, "").expect("a series").title
}

fn press(harness: &mut Harness<'_, App>, button: &str) {
    harness.get_by_role_and_label(egui::Role::Button, button).click();
    harness.run_steps(3);
}

fn save(harness: &mut Harness<'_, App>) {
    harness.key_press_modifiers(Modifiers::COMMAND, Key::S);
    harness.run_steps(3);
}

/// A window with a change that is not saved, on a file that somebody else has saved meanwhile.
fn overtaken(path: &Path) -> Harness<'static, App> {
    saved(path);
    let mut harness = window(open(path, None));
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::J);
    harness.run_steps(2);
    saved_by_another(path, "Theirs");
    save(&mut harness);
    assert!(says(&harness, "Somebody else has saved this series meanwhile"));
    assert!(says(&harness, "Theirs"), "what they changed is said");
    assert_eq!(title_in(path), "Theirs", "nothing is replaced unasked");
    harness
}

#[test]
fn both_are_kept_where_two_changed_one_series() {
    let folder = folder();
    let path = folder.path().join("house.twinwedge");
    let mut harness = overtaken(&path);
    press(&mut harness, "Keep both");
    assert_eq!(title_in(&path), "Theirs");
    let copy = folder.path().join("house (copy).twinwedge");
    assert_eq!(title_in(&copy), "Saltmarsh test");
    assert_eq!(harness.state().session().path(), Some(copy.as_path()));
    assert!(!harness.state().session().unsaved());
}

#[test]
fn theirs_is_taken_in_and_undo_gives_mine_back() {
    let folder = folder();
    let path = folder.path().join("house.twinwedge");
    let mut harness = overtaken(&path);
    let mine = harness.state().session().series().films.len();
    press(&mut harness, "Take theirs in");
    assert_eq!(harness.state().session().series().title, "Theirs");
    assert!(!harness.state().session().unsaved());
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(harness.state().session().series().films.len(), mine);
}

#[test]
fn a_question_about_the_file_stands_alone() {
    let folder = folder();
    let path = folder.path().join("house.twinwedge");
    let mut harness = overtaken(&path);
    until(&mut harness, "the change of the file", |harness| {
        harness.state().session().changed_on_disk() == OnDisk::Changed
    });
    assert_eq!(harness.query_all_by_role_and_label(egui::Role::Button, "Take theirs in").count(), 1);
    press(&mut harness, "Stay");
    assert!(says(&harness, "Somebody else has saved this series."));
    press(&mut harness, "Take theirs in");
    assert_eq!(harness.state().session().series().title, "Theirs");
}

#[test]
fn mine_replaces_theirs_only_when_that_is_said() {
    let folder = folder();
    let path = folder.path().join("house.twinwedge");
    let mut harness = overtaken(&path);
    press(&mut harness, "Replace theirs");
    assert_eq!(title_in(&path), "Saltmarsh test");
    assert!(!harness.state().session().unsaved());
}

#[test]
fn a_file_that_changes_is_noticed_while_it_is_open() {
    let folder = folder();
    let path = folder.path().join("house.twinwedge");
    saved(&path);
    let mut harness = window(open(&path, None));
    harness.run_steps(2);
    assert!(!says(&harness, "Somebody else"));
    saved_by_another(&path, "Theirs");
    until(&mut harness, "the change of the file", |harness| {
        says(harness, "Somebody else has saved this series.")
    });
    press(&mut harness, "Compare");
    assert!(says(&harness, "What is different in their file"));
    press(&mut harness, "Stay");
    press(&mut harness, "Take theirs in");
    assert_eq!(harness.state().session().series().title, "Theirs");
    until(&mut harness, "the line to go", |harness| !says(harness, "Somebody else has saved this series."));
    std::fs::remove_file(&path).expect("it is removed");
    until(&mut harness, "that the file is gone", |harness| says(harness, "not there any more"));
}

/// The file under its name is another one with the same contents, as after a copy from elsewhere.
fn copied_anew(path: &Path) {
    let beside = path.with_extension("arriving");
    std::fs::copy(path, &beside).expect("it is copied");
    std::fs::rename(&beside, path).expect("it takes the place");
}

#[test]
fn an_own_save_is_never_taken_for_somebody_elses() {
    let folder = folder();
    let path = folder.path().join("house.twinwedge");
    saved(&path);
    let mut harness = window(open(&path, None));
    harness.run_steps(2);
    for round in 0..4 {
        harness.key_press_modifiers(Modifiers::COMMAND, Key::J);
        harness.run_steps(2);
        save(&mut harness);
        assert!(!harness.state().session().unsaved(), "round {round}");
        // What synchronises a folder writes the same contents again.
        if round % 2 == 1 {
            copied_anew(&path);
        }
        // Several looks at the file fall into this time.
        let begun = std::time::Instant::now();
        while begun.elapsed() < std::time::Duration::from_millis(3500) {
            harness.step();
            assert_eq!(harness.state().session().changed_on_disk(), OnDisk::Same, "round {round}");
            assert!(!says(&harness, "Somebody else"), "round {round}");
            std::thread::sleep(std::time::Duration::from_millis(50));
        }
    }
    assert_eq!(open(&path, None).series().films.len(), typed::series().films.len() + 4);
    // Somebody else's save is told as before.
    saved_by_another(&path, "Theirs");
    until(&mut harness, "the change of the file", |harness| {
        says(harness, "Somebody else has saved this series.")
    });
}

#[test]
fn what_was_never_saved_is_offered_at_the_next_start() {
    let folder = folder();
    let recoveries = folder.path().join("recovery");
    for title in ["First evening", "Second evening"] {
        let mut session = Session::empty();
        session.set_recovery_folder(Some(recoveries.clone()));
        session.apply(Edit::new("name it", move |series| series.title = title.to_owned())).expect("an edit");
        // The program ends without saving.
        session.keep_now().expect("it is kept");
    }
    let mut session = Session::empty();
    session.set_recovery_folder(Some(recoveries.clone()));
    let mut harness = window(session);
    harness.run_steps(3);
    assert!(says(&harness, "Several series were not saved before the program ended"));
    assert!(says(&harness, "First evening") && says(&harness, "Second evening"));
    assert!(says(&harness, "It was never saved."));
    press(&mut harness, "Do without First evening");
    assert!(!says(&harness, "First evening") && says(&harness, "Second evening"));
    press(&mut harness, "Take up Second evening");
    assert_eq!(harness.state().session().series().title, "Second evening");
    assert!(harness.state().session().unsaved());
    drop(harness);
    // Taken up and not saved, it is offered again; the other was declined.
    let mut session = Session::empty();
    session.set_recovery_folder(Some(recoveries));
    let titles: Vec<_> = session.recoveries().into_iter().map(|offer| offer.recovery.series.title).collect();
    assert_eq!(titles, ["Second evening"]);
}

#[test]
fn a_report_goes_over_no_file_of_another_kind_unasked() {
    let folder = folder();
    let path = folder.path().join("house.twinwedge");
    saved(&path);
    let notes = folder.path().join("notes.csv");
    std::fs::write(&notes, "an evening's own notes\n").expect("a file");
    let mut harness = window(open(&path, None));
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::E);
    harness.run_steps(2);
    take_path(&mut harness, &notes, "Save");
    until(&mut harness, "the question", |harness| says(harness, "There is already a file of this name"));
    assert!(says(&harness, "a file of text"));
    press(&mut harness, "Stay");
    assert_eq!(std::fs::read_to_string(&notes).expect("it is there"), "an evening's own notes\n");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::E);
    harness.run_steps(2);
    take_path(&mut harness, &notes, "Save");
    until(&mut harness, "the question", |harness| says(harness, "There is already a file of this name"));
    press(&mut harness, "Replace it");
    until(&mut harness, "the table", |harness| says(harness, "Written: "));
    assert!(std::fs::read_to_string(&notes).expect("it is there").contains("Plover 640"));
}
