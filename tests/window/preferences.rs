//! Settings in one sheet, keys that are changed and refused, the help, and the check of the screen.

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use twinwedge_core::compare::Question;
use twinwedge_core::document::FilmId;
use twinwedge_core::figures::spec;
use twinwedge_desktop::app::App;
use twinwedge_desktop::settings::{Habits, PaperSize, Settings};
use twinwedge_desktop::shell::help;
use twinwedge_workbench::engine::ask::FiguresOf;

use crate::bench::{folder, says, settings};
use crate::typed;

/// The same by the keyboard: it may be out of sight.
fn key(harness: &mut Harness<'_, App>, label: &str) {
    harness.get_by_role_and_label(Role::Button, label).focus();
    harness.run_steps(3);
    harness.key_press(Key::Enter);
    harness.run_steps(3);
}

fn press(harness: &mut Harness<'_, App>, role: Role, label: &str) {
    harness.get_by_role_and_label(role, label).click();
    harness.run_steps(3);
}

#[test]
fn settings_are_changed_in_one_sheet_and_kept() {
    let folder = folder();
    let file = folder.path().join("settings.ron");
    let settings = Settings { file: Some(file.clone()), ..settings() };
    let session = twinwedge_workbench::session::Session::of(typed::series(), ".".into());
    let mut harness = Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .build_eframe(move |cc| App::new(&cc.egui_ctx, session, settings));
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Comma);
    harness.run_steps(3);
    let ground = |harness: &Harness<'_, App>| harness.ctx.global_style().visuals.panel_fill;
    press(&mut harness, Role::RadioButton, "Surfaces: dark");
    let before = ground(&harness);
    press(&mut harness, Role::CheckBox, "High contrast");
    assert_ne!(ground(&harness), before);
    press(&mut harness, Role::CheckBox, "Reduced motion");
    press(&mut harness, Role::CheckBox, "The wheel zooms plots");
    press(&mut harness, Role::CheckBox, "Decimal comma");
    press(&mut harness, Role::RadioButton, "Paper: Letter");
    let kept = Settings::from_file(file.clone());
    let habits = kept.habits;
    assert!(habits.high_contrast && habits.reduced_motion && habits.wheel_zooms && habits.decimal_comma);
    assert_eq!(kept.paper, PaperSize::Letter);
    // A key that another action has is told and not taken.
    key(&mut harness, "Change the key of Undo");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::S);
    harness.run_steps(3);
    assert!(says(&harness, "Ctrl+S is the key of 'Save' already"));
    assert!(Settings::from_file(file.clone()).keys.is_empty());
    key(&mut harness, "Change the key of Undo");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::U);
    harness.run_steps(3);
    assert_eq!(Settings::from_file(file.clone()).keys.get("undo").map(String::as_str), Some("Ctrl+U"));
    press(&mut harness, Role::Button, "Close");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::J);
    harness.run_steps(3);
    assert_eq!(typed::document(&harness).films.len(), 3);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::U);
    harness.run_steps(3);
    assert_eq!(typed::document(&harness).films.len(), 2, "the new key undoes");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Comma);
    harness.run_steps(3);
    key(&mut harness, "Usual key of Undo");
    assert!(Settings::from_file(file).keys.is_empty());
}

/// All text that is painted, piece by piece.
fn painted(harness: &Harness<'_, App>) -> Vec<String> {
    fn of(shape: &egui::Shape, texts: &mut Vec<String>) {
        match shape {
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| of(shape, texts)),
            egui::Shape::Text(text) => texts.push(text.galley.job.text.clone()),
            _ => {}
        }
    }
    let mut texts = Vec::new();
    harness.output().shapes.iter().for_each(|clipped| of(&clipped.shape, &mut texts));
    texts
}

/// Whether a text holds a number with this sign: figures on both sides, or figures behind it alone.
fn holds(text: &str, sign: char) -> bool {
    text.split(|char: char| !(char.is_ascii_digit() || char == sign)).any(|run| {
        let mut parts = run.split(sign);
        let figures = |part: Option<&str>| part.is_some_and(|part| !part.is_empty());
        parts.next().is_some() && figures(parts.next()) && parts.next().is_none()
    })
}

#[test]
fn all_numbers_that_are_shown_have_the_decimal_sign_of_the_settings() {
    for comma in [false, true] {
        let habits = Habits { decimal_comma: comma, ..Habits::default() };
        let settings = Settings { habits, ..settings() };
        let session = twinwedge_workbench::session::Session::of(typed::series(), ".".into());
        let mut harness = Harness::builder()
            .with_size(egui::vec2(1280.0, 800.0))
            .build_eframe(move |cc| App::new(&cc.egui_ctx, session, settings));
        for (page, words) in [("Films", "Average gradient of Tern 160: 0"), ("Curves", "Gamma: reference 0")]
        {
            crate::bench::go(&mut harness, page);
            crate::bench::settled(&mut harness);
            crate::bench::until(&mut harness, words, |harness| says(harness, words));
            let (own, other) = if comma { (',', '.') } else { ('.', ',') };
            let texts = painted(&harness);
            let with = |sign: char| texts.iter().filter(|text| holds(text, sign)).collect::<Vec<_>>();
            assert!(with(own).len() > 10, "{page:?}: {texts:?}");
            assert!(with(other).is_empty(), "{page:?}: {:?}", with(other));
            assert!(says(&harness, &format!("{words}{own}")), "{page:?}: a screen reader is told the same");
        }
    }
}

#[test]
fn the_help_holds_a_tour_the_questions_every_formula_and_cautions() {
    let mut harness = typed::window(typed::series());
    harness.run_steps(2);
    let open = |harness: &mut Harness<'_, App>| {
        press(harness, Role::Button, "Help");
        harness
            .query_all_by_role(Role::Button)
            .find(|node| {
                use egui_kittest::kittest::NodeT as _;
                node.accesskit_node().label().is_some_and(|label| label == "Help" && node.rect().top() > 40.0)
            })
            .expect("the entry")
            .click();
        harness.run_steps(3);
    };
    open(&mut harness);
    for page in
        ["Films", "Tablets", "Curves", "Times", "Tones", "Frames", "Prints", "Greys", "Grain", "Report"]
    {
        assert!(says(&harness, &format!("Go to {page}")), "{page}");
    }
    press(&mut harness, Role::RadioButton, "Help: questions");
    for question in Question::ALL {
        assert!(says(&harness, question.text()), "{}", question.text());
    }
    press(&mut harness, Role::RadioButton, "Help: formulas");
    let session = harness.state().session();
    let figures = session.wait(&FiguresOf { film: FilmId::from("Tern 160") }).unwrap();
    let known: Vec<_> = figures.figures.keys().copied().collect();
    assert!(
        known.len() > 20 && known.iter().all(|id| help::figures().contains(id)),
        "every one is explained"
    );
    for id in help::figures() {
        assert!(says(&harness, spec(*id).definition), "{id:?}");
        assert!(says(&harness, spec(*id).source.text.trim_end_matches('.')), "{id:?}");
    }
    press(&mut harness, Role::RadioButton, "Help: cautions");
    assert!(says(&harness, "Wear gloves and"));
    press(&mut harness, Role::RadioButton, "Help: tour");
    key(&mut harness, "Go to Grain");
    assert!(!says(&harness, "Go to Films"), "the help is closed");
}

#[test]
fn the_screen_is_checked_before_prints_are_judged() {
    let mut harness = typed::window(typed::series());
    harness.run_steps(2);
    press(&mut harness, Role::Button, "Help");
    harness.get_by_label_contains("Check the screen").click();
    harness.run_steps(3);
    assert!(says(&harness, "Near black: patches of the codes 2, 4, 6, 8, 12, 16, 20, 24 on 0"));
    assert!(says(&harness, "Near white: patches of the codes 253, 251"));
    assert!(says(&harness, "Grey ladder of 11 steps from black to white"));
    press(&mut harness, Role::Button, "Close");
    assert!(!says(&harness, "Grey ladder"));
}
