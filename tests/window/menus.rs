//! What the menus offer beside the pages: series that were open before, and what the program says of itself.

use egui::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_desktop::app::App;
use twinwedge_desktop::settings::Settings;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store;

use crate::bench::{folder, says, settings};
use crate::typed;

fn menu(harness: &mut Harness<'_, App>, word: &str) {
    harness.get_by_role_and_label(Role::Button, word).click();
    harness.run_steps(3);
}

#[test]
fn a_series_that_was_open_before_is_opened_from_the_menu_and_leads_the_list() {
    let folder = folder();
    let paths = ["spring", "autumn"].map(|name| folder.path().join(format!("{name}.twinwedge")));
    for path in &paths {
        let mut series = typed::series();
        series.title = path.file_stem().unwrap().display().to_string();
        store::save(path, store::write(&series).as_bytes()).unwrap();
    }
    let file = folder.path().join("settings.ron");
    let [spring, autumn] = paths;
    let settings =
        Settings { file: Some(file.clone()), recent: vec![autumn.clone(), spring.clone()], ..settings() };
    let mut session = Session::open(&autumn).unwrap();
    session.set_recovery_folder(None);
    let mut harness = Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .build_eframe(move |cc| App::new(&cc.egui_ctx, session, settings));
    harness.run_steps(2);
    menu(&mut harness, "Series");
    menu(&mut harness, "Open recent");
    assert!(!harness.query_all_by_role_and_label(Role::Button, "autumn").any(|_| true), "it is open already");
    menu(&mut harness, "spring");
    harness.run_steps(3);
    assert_eq!(harness.state().session().path(), Some(spring.as_path()));
    // The list is kept when the next setting changes, as when the program ends.
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Plus);
    harness.run_steps(2);
    assert_eq!(Settings::from_file(file).recent, [spring, autumn]);
}

#[test]
fn the_program_tells_its_version_licences_and_cautions() {
    let mut harness = typed::window(typed::series());
    harness.run_steps(2);
    menu(&mut harness, "Help");
    menu(&mut harness, "About Twinwedge");
    assert!(says(&harness, concat!("Twinwedge ", env!("CARGO_PKG_VERSION"))));
    assert!(says(&harness, "MIT or Apache-2.0"));
    assert!(says(&harness, "Wear gloves and eye protection"));
    menu(&mut harness, "Close");
    assert!(!says(&harness, "MIT or Apache-2.0"));
}

#[test]
fn what_was_said_before_is_listed_and_a_step_taken_back_is_told_as_that() {
    let mut harness = typed::window(typed::series());
    harness.run_steps(2);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::J);
    harness.run_steps(3);
    assert!(says(&harness, "Done: add"));
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run_steps(3);
    assert!(!says(&harness, "Done: add"));
    let last = harness.query_all_by_label_contains("Undone: add").next().expect("the last message");
    last.click();
    harness.run_steps(3);
    assert!(says(&harness, "Messages, the last one first"));
    assert!(says(&harness, "Done: add"));
}

#[test]
fn a_page_is_presented_alone_with_its_films_and_larger_text_and_left_by_escape() {
    let mut harness = typed::window(typed::series());
    harness.run_steps(2);
    let stations = |harness: &Harness<'_, App>| harness.query_all_by_role(Role::Tab).count();
    assert!(stations(&harness) > 0);
    harness.key_press(egui::Key::F11);
    harness.run_steps(3);
    assert_eq!(stations(&harness), 0);
    assert!(says(&harness, "Tern 160") && says(&harness, "Plover 640"));
    assert!((harness.ctx.zoom_factor() - 1.25).abs() < 1e-6);
    harness.key_press(egui::Key::Escape);
    harness.run_steps(3);
    assert!(stations(&harness) > 0);
    assert!((harness.ctx.zoom_factor() - 1.0).abs() < 1e-6);
}
