//! Without a pointer and without eyes: Tab reaches every control of every page and what it reaches is in sight; every control
//! has a name, every plot says what it shows, the focus mark is seen.

use std::collections::BTreeMap;

use egui::accesskit::{Action, NodeId};
use egui::{Key, Modifiers, Rect, Role, Shape};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable};
use twinwedge_desktop::app::App;
use twinwedge_desktop::settings::{Habits, Settings};

use crate::bench::{go, sample, settings, settled, window};

const PAGES: [&str; 10] =
    ["Films", "Tablets", "Curves", "Times", "Tones", "Frames", "Prints", "Greys", "Grain", "Report"];
/// More presses than any page has controls.
const MOST: usize = 900;

/// What has the keyboard, and its place.
fn focused(harness: &Harness<'_, App>) -> Option<(egui::Id, Rect)> {
    let id = harness.ctx.memory(egui::Memory::focused)?;
    Some((id, harness.ctx.read_response(id)?.interact_rect))
}

/// All enabled controls that the page builds, with their names.
fn controls(harness: &Harness<'_, App>) -> BTreeMap<NodeId, String> {
    let roles = [
        Role::Button,
        Role::CheckBox,
        Role::RadioButton,
        Role::ComboBox,
        Role::TextInput,
        Role::MultilineTextInput,
        Role::Slider,
        Role::SpinButton,
        Role::Tab,
        Role::Row,
        Role::ListItem,
    ];
    let nodes = roles.into_iter().flat_map(|role| harness.query_all_by_role(role));
    nodes
        .map(|node| node.accesskit_node())
        // Rows of tables that are only read are no controls.
        .filter(|node| !node.is_disabled() && node.data().supports_action(Action::Click))
        .map(|node| (node.locate().0, format!("{:?} {}", node.role(), node.label().unwrap_or_default())))
        .collect()
}

/// Presses Tab until it comes round; gives what was reached in its order, with the name and whether any of it was out of
/// sight, and all controls that stood there meanwhile.
fn walk(harness: &mut Harness<'_, App>) -> (Vec<(NodeId, Rect)>, BTreeMap<NodeId, String>) {
    let mut reached: Vec<(NodeId, Rect)> = Vec::new();
    let mut wanted = controls(harness);
    for _ in 0..MOST {
        harness.key_press(Key::Tab);
        harness.run_steps(6);
        let Some((id, place)) = focused(harness) else { continue };
        let id = id.accesskit_id();
        if reached.first().is_some_and(|(first, _)| *first == id) {
            // What has gone meanwhile, like a row that was scrolled away, could not be reached any more.
            let now = controls(harness);
            wanted.retain(|id, _| now.contains_key(id));
            return (reached, wanted);
        }
        wanted.extend(controls(harness));
        reached.push((id, place));
    }
    panic!("Tab does not come round: {} stops", reached.len());
}

#[test]
fn tab_reaches_every_control_of_every_page_and_what_it_reaches_is_in_sight() {
    let mut harness = window(sample());
    let screen = Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(1280.0, 800.0));
    let mut faults = Vec::new();
    for page in PAGES {
        go(&mut harness, page);
        settled(&mut harness);
        harness.hover_at(egui::pos2(640.0, 799.0));
        harness.run_steps(2);
        let (reached, wanted) = walk(&mut harness);
        println!("{page}: {} stops of Tab, {} controls", reached.len(), wanted.len());
        for (id, place) in &reached {
            let seen = place.intersect(screen);
            if seen.width() < 2.0 || seen.height() < 2.0 {
                faults.push(format!("{page}: out of sight: {:?} at {place:?}", wanted.get(id)));
            }
        }
        for (id, name) in &wanted {
            if !reached.iter().any(|(stop, _)| stop == id) {
                let last: Vec<_> = reached.iter().rev().take(3).map(|(id, _)| wanted.get(id)).collect();
                faults.push(format!("{page}: not reached: {name}; the last stops were {last:?}"));
            }
        }
        assert!(reached.len() > 20, "{page}: {} stops", reached.len());
    }
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn every_control_has_a_name_and_every_plot_says_what_it_shows() {
    let mut harness = window(sample());
    let mut figures = 0;
    for page in PAGES {
        let before = figures;
        go(&mut harness, page);
        settled(&mut harness);
        let nameless = controls(&harness).into_values().find(|name| name.ends_with(' '));
        assert_eq!(nameless, None, "{page}: a control has no name");
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
        println!("{page}: {} plots", figures - before);
    }
    // Curves two, Times three, Tones and Frames one each.
    assert_eq!(figures, 7, "plots");
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
