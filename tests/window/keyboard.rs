//! Without a pointer and without eyes: every control has a name, every plot says what it shows, the focus mark is seen.

use std::collections::BTreeSet;

use egui::{Key, Modifiers, Rect, Role, Shape};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable};
use twinwedge_desktop::app::App;
use twinwedge_desktop::settings::{Habits, Settings};

use crate::bench::{go, sample, settings, until, window};

const PAGES: [&str; 10] =
    ["Films", "Tablets", "Curves", "Times", "Tones", "Frames", "Prints", "Greys", "Grain", "Report"];
fn settled(harness: &mut Harness<'_, App>) {
    // A page asks for what it shows when it is drawn.
    harness.run_steps(4);
    until(harness, "the end of all work", |harness| harness.state().session().work().is_empty());
    harness.run_steps(3);
}

/// What has the keyboard, and its place.
fn focused(harness: &Harness<'_, App>) -> Option<(egui::Id, Rect)> {
    let id = harness.ctx.memory(egui::Memory::focused)?;
    Some((id, harness.ctx.read_response(id)?.interact_rect))
}

/// Names of all controls that the page builds, in the order of the tree.
fn controls(harness: &Harness<'_, App>) -> BTreeSet<String> {
    let roles = [
        Role::Button,
        Role::CheckBox,
        Role::RadioButton,
        Role::ComboBox,
        Role::TextInput,
        Role::MultilineTextInput,
        Role::Slider,
        Role::Tab,
    ];
    let mut names = BTreeSet::new();
    for role in roles {
        for node in harness.query_all_by_role(role) {
            let node = node.accesskit_node();
            if !node.is_disabled() {
                names.insert(node.label().unwrap_or_default());
            }
        }
    }
    names
}

#[test]
fn every_control_has_a_name_and_every_plot_says_what_it_shows() {
    let mut harness = window(sample());
    let mut figures = 0;
    for page in PAGES {
        go(&mut harness, page);
        settled(&mut harness);
        assert!(!controls(&harness).contains(""), "{page}: a control has no name");
        for role in [Role::Image, Role::Table, Role::Figure] {
            for node in harness.query_all_by_role(role) {
                let node = node.accesskit_node();
                assert!(!node.label().unwrap_or_default().is_empty(), "{page}: {role:?} has no name");
                if role == Role::Figure {
                    // Its name may be the finding itself.
                    let (name, told) =
                        (node.label().unwrap_or_default(), node.description().unwrap_or_default());
                    let words = if told.is_empty() { &name } else { &told };
                    assert!(words.len() > 40, "{page}: {name:?} says '{told}'");
                    figures += 1;
                }
            }
        }
    }
    assert!(figures >= 1, "{figures} plots");
}

/// Strokes of the focus mark: two about one place, the inner one in ink.
fn marks(harness: &Harness<'_, App>, around: Rect) -> usize {
    fn count(shape: &Shape, around: Rect) -> usize {
        match shape {
            Shape::Vec(shapes) => shapes.iter().map(|shape| count(shape, around)).sum(),
            Shape::Rect(rect) if rect.stroke.width >= 2.0 => {
                let (apart, size) = (rect.rect.center().distance(around.center()), rect.rect.size());
                usize::from(apart < 1.0 && (size - around.size()).length() < 6.0)
            }
            _ => 0,
        }
    }
    harness.output().shapes.iter().map(|clipped| count(&clipped.shape, around)).sum()
}

#[test]
fn what_has_the_keyboard_is_marked_in_every_appearance() {
    for high_contrast in [false, true] {
        let habits = Habits { high_contrast, ..Habits::default() };
        let settings = Settings { habits, ..settings() };
        let mut harness = Harness::builder()
            .with_size(egui::vec2(1280.0, 800.0))
            .build_eframe(move |cc| App::new(&cc.egui_ctx, sample(), settings));
        harness.run_steps(2);
        for theme in [egui::Theme::Light, egui::Theme::Dark] {
            harness.ctx.set_theme(theme);
            harness.run_steps(2);
            for _ in 0..5 {
                harness.key_press(Key::Tab);
                harness.run_steps(3);
                let (_, place) = focused(&harness).expect("something has the keyboard");
                assert!(marks(&harness, place) >= 2, "{theme:?}, high contrast {high_contrast}: {place:?}");
            }
        }
    }
}

#[test]
fn a_menu_is_opened_and_used_without_a_pointer() {
    let mut harness = window(sample());
    harness.run_steps(2);
    harness.get_by_role_and_label(Role::Button, "Help").focus();
    harness.run_steps(2);
    harness.key_press(Key::Enter);
    harness.run_steps(4);
    let entry = harness.query_all_by_label_contains("About Twinwedge").next().expect("the menu is open");
    entry.focus();
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::NONE, Key::Enter);
    harness.run_steps(4);
    assert!(harness.query_all_by_label_contains("MIT or Apache-2.0").next().is_some());
}
