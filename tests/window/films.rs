//! The Films page: the table and the records.

use egui_kittest::kittest::Queryable;
use twinwedge_core::document::FilmId;
use twinwedge_desktop::app::App;
use twinwedge_desktop::settings::Settings;
use twinwedge_workbench::session::Session;

use crate::bench::folder;
use crate::typed::{self, document, enter, film, page, press, said, shows, wait_for};

#[test]
fn the_table_shows_every_film_and_its_speed() {
    let mut harness = page(typed::series(), egui::Key::Num1);
    // Analytic: the candidate is faster by 0.45 in log H, 1.49 stops (one stop is lg 2).
    wait_for(&mut harness, "the speed of the candidate", |harness| {
        shows(harness, "Speed of Plover 640 against the reference: +1.")
    });
    assert!(shows(&harness, "reference Tern 160"));
    assert!(shows(&harness, "Average gradient of Tern 160: 0.5"));
    assert!(shows(&harness, "Box speed of Plover 640: 640"));
}

#[test]
fn fifty_films_scroll_filter_and_sort() {
    let mut series = typed::series();
    for number in 0..48 {
        series.films.push(film(&format!("Knot {number}"), -1.9, 50.0 + f64::from(number)));
    }
    let mut harness = page(series, egui::Key::Num1);
    harness.run_steps(2);
    assert!(shows(&harness, "50 films"));
    let row = |harness: &egui_kittest::Harness<'_, _>, label: &str| {
        harness.query_by_label(&format!("Box speed of {label}")).map(|node| node.rect().top());
        harness
            .query_all_by_label_contains(&format!("Box speed of {label}:"))
            .next()
            .map(|node| node.rect().top())
    };
    assert!(row(&harness, "Knot 47").is_none(), "what is out of sight is not built");
    press(&mut harness, "Sort by Box");
    press(&mut harness, "Sort by Box");
    let (fast, slow) = (row(&harness, "Plover 640").unwrap(), row(&harness, "Tern 160").unwrap());
    assert!(fast < slow, "largest first");
    enter(&mut harness, "Filter the films", "knot 47");
    assert!(shows(&harness, "1 of 50 films"));
    assert!(row(&harness, "Knot 47").is_some());
}

/// The films of one shape lie 0.12 apart in log H, 0.40 stop: from the third on they are faster than one stop.
#[test]
fn conditions_on_numbers_filter_the_films() {
    let mut series = typed::series();
    for number in 1..6 {
        let label = format!("Knot {number}");
        series.films.push(film(&label, -1.9 - 0.12 * f64::from(number), 50.0 * f64::from(number)));
    }
    let mut harness = page(series, egui::Key::Num1);
    let speed = "Speed of Knot 5 against the reference: +";
    wait_for(&mut harness, "the speeds", |harness| shows(harness, speed));
    enter(&mut harness, "Filter the films", "knot and speed > 1");
    wait_for(&mut harness, "three films", |harness| shows(harness, "3 of 7 films"));
    assert!(shows(&harness, "Box speed of Knot 3") && shows(&harness, "Box speed of Knot 5"));
    enter(&mut harness, "Filter the films", "box <= 100");
    assert!(shows(&harness, "2 of 7 films"));
    assert!(shows(&harness, "Box speed of Knot 1") && shows(&harness, "Box speed of Knot 2"));
    // What is half typed hides nothing.
    enter(&mut harness, "Filter the films", "box <");
    assert!(shows(&harness, "7 films") && shows(&harness, "A number is missing after \"box <\"."));
}

/// What is chosen is kept in the settings, of which the second window has a copy.
#[test]
fn the_columns_of_the_table_are_chosen_and_kept() {
    let folder = folder();
    let file = folder.path().join("settings.ron");
    let open = |size: f32| {
        let (file, size) = (file.clone(), egui::vec2(size, 900.0));
        egui_kittest::Harness::builder().with_size(size).build_eframe(move |cc| {
            let mut session = Session::of(typed::series(), std::path::PathBuf::new());
            session.set_recovery_folder(None);
            App::new(&cc.egui_ctx, session, Settings::from_file(file))
        })
    };
    let mut harness = open(2400.0);
    harness.run_steps(2);
    harness.key_press_modifiers(egui::Modifiers::ALT, egui::Key::Num1);
    harness.run_steps(3);
    assert!(
        shows(&harness, "Exposure index by shadow match of Tern 160")
            && !shows(&harness, "Speed point of Tern 160")
    );
    press(&mut harness, "Columns");
    press(&mut harness, "Speed point");
    press(&mut harness, "Exposure index by shadow match");
    assert!(
        shows(&harness, "Speed point of Tern 160")
            && !shows(&harness, "Exposure index by shadow match of Tern 160")
    );
    let mut again = open(2400.0);
    again.run_steps(2);
    again.key_press_modifiers(egui::Modifiers::ALT, egui::Key::Num1);
    again.run_steps(3);
    assert!(
        shows(&again, "Speed point of Tern 160")
            && !shows(&again, "Exposure index by shadow match of Tern 160")
    );
}

#[test]
fn curves_of_all_films_stand_side_by_side_and_lead_to_the_bench() {
    let mut series = typed::series();
    for number in 0..48 {
        series.films.push(film(&format!("Knot {number}"), -1.9, 50.0));
    }
    let mut harness = page(series, egui::Key::Num1);
    press(&mut harness, "Show as: curves");
    wait_for(&mut harness, "the speed of the candidate", |harness| {
        shows(harness, "Curve of Plover 640, +1.")
    });
    assert!(shows(&harness, "Curve of Tern 160, the reference"));
    assert!(shows(&harness, "The solid line is Tern 160, the reference."));
    assert!(
        harness.query_by_label_contains("Curve of Knot 47").is_none(),
        "what is out of sight is not built"
    );
    wait_for(&mut harness, "another film's curve", |harness| shows(harness, "Curve of Knot 1, "));
    let picture = said(&harness, "Curve of Knot 1, ");
    press(&mut harness, &picture);
    assert!(shows(&harness, "50 films"));
    assert!(shows(&harness, "Candidate: Knot 1"), "it lies on the bench");
    enter(&mut harness, "Filter the films", "knot 47");
    wait_for(&mut harness, "the film that was looked for", |harness| shows(harness, "Curve of Knot 47"));
    assert!(!shows(&harness, "Curve of Knot 1,"));
}

#[test]
fn records_are_edited_as_named_steps() {
    let mut harness = page(typed::series(), egui::Key::Num1);
    harness.run_steps(2);
    enter(&mut harness, "Developer", "Samphire");
    let plover = FilmId::from("Plover 640");
    assert_eq!(document(&harness).film(&plover).unwrap().process.developer, "Samphire");
    assert_eq!(harness.state().session().undo_label(), Some("change developer of Plover 640"));
    enter(&mut harness, "Temperature", "20,5");
    assert_eq!(document(&harness).film(&plover).unwrap().process.temperature_c, Some(20.5));
    enter(&mut harness, "Time", "soon");
    assert_eq!(
        document(&harness).film(&plover).unwrap().process.minutes,
        None,
        "text that is no number is refused"
    );
    press(&mut harness, "Make reference");
    assert_eq!(document(&harness).reference, Some(plover));
}

#[test]
fn a_film_is_removed_and_brought_back() {
    let mut harness = page(typed::series(), egui::Key::Num1);
    harness.run_steps(2);
    press(&mut harness, "Remove film");
    assert_eq!(document(&harness).films.len(), 1);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run_steps(3);
    assert_eq!(document(&harness).films.len(), 2);
}

#[test]
fn conditions_of_the_series_are_edited() {
    let mut harness = page(typed::series(), egui::Key::Num1);
    press(&mut harness, "Record of: the series");
    enter(&mut harness, "Paper", "Marram gloss, grade 3");
    assert_eq!(document(&harness).conditions.paper, "Marram gloss, grade 3");
    enter(&mut harness, "Gradient over", "9");
    let usual = twinwedge_core::document::Settings::default().gradient_range;
    assert!((document(&harness).settings.gradient_range - usual).abs() < 1e-12, "out of range is refused");
}

#[test]
fn implausible_records_are_refused() {
    let mut harness = page(typed::series(), egui::Key::Num1);
    harness.run_steps(2);
    let plover = FilmId::from("Plover 640");
    enter(&mut harness, "Temperature", "68");
    assert_eq!(document(&harness).film(&plover).unwrap().process.temperature_c, None, "that is Fahrenheit");
    assert!(shows(&harness, "68 degrees Fahrenheit are 20"));
    enter(&mut harness, "Time", "-3");
    assert_eq!(document(&harness).film(&plover).unwrap().process.minutes, None, "no negative time");
    enter(&mut harness, "Exposure time", "0.5");
    enter(&mut harness, "Light source", "tungsten, 2856 K");
    let exposed = document(&harness).film(&plover).unwrap().tablet_exposure.clone().unwrap();
    assert_eq!((exposed.seconds, exposed.light_source.as_str()), (Some(0.5), "tungsten, 2856 K"));
}

#[test]
fn another_roll_stands_under_its_film() {
    let mut harness = page(typed::series(), egui::Key::Num1);
    harness.run_steps(2);
    enter(&mut harness, "Time", "9");
    press(&mut harness, "Another roll of this film");
    let roll = document(&harness).film(&FilmId::from("Plover 640, roll 2")).unwrap().clone();
    assert_eq!(roll.roll_of, Some(FilmId::from("Plover 640")));
    assert_eq!(roll.process.minutes, Some(9.0), "the process is copied");
    assert!(roll.strips.is_empty(), "what was measured is not");
    assert!(shows(&harness, "roll Plover 640, roll 2"));
    press(&mut harness, "Group: format");
    assert!(shows(&harness, "not on record, 3 films"));
}

#[test]
fn similarity_to_the_reference_is_measured() {
    // The candidate is the reference moved along log H: the same curve but for rounding, so not distinguishable.
    let mut harness = page(typed::series(), egui::Key::Num1);
    wait_for(&mut harness, "the similarity", |harness| {
        shows(harness, "Similarity of Plover 640 to the reference: 0.0")
    });
}
