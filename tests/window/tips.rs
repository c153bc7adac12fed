//! A tip on every control: what it does, and why, where the pointer rests on it.

use egui::accesskit::{Action, NodeId};
use egui::{Id, Key, Modifiers, Order, Rect, Role, Tooltip};
use egui_kittest::Harness;
use egui_kittest::kittest::{AccessKitNode, NodeT as _, Queryable};
use twinwedge_desktop::app::App;

use crate::bench::{go, sample, settled, window};

const PAGES: [&str; 10] =
    ["Films", "Tablets", "Curves", "Times", "Tones", "Frames", "Prints", "Greys", "Grain", "Report"];

fn is_control(node: &AccessKitNode<'_>) -> bool {
    let fields = [Role::TextInput, Role::MultilineTextInput, Role::Slider, Role::SpinButton];
    let pressed =
        [Role::Button, Role::CheckBox, Role::RadioButton, Role::ComboBox, Role::Tab, Role::ListItem];
    let role = node.role();
    fields.contains(&role) || (pressed.contains(&role) && node.data().supports_action(Action::Click))
}

/// All enabled controls with their names.
fn controls(harness: &Harness<'_, App>) -> Vec<(NodeId, String)> {
    let all = harness.query_all(
        egui_kittest::kittest::By::new().predicate(|node| is_control(node) && !node.is_disabled()),
    );
    all.map(|node| node.accesskit_node())
        .map(|node| (node.locate().0, format!("{:?} {}", node.role(), node.label().unwrap_or_default())))
        .collect()
}

/// Rests the pointer on a control and tells whether its own tip shows; none where it has gone or cannot be brought into sight.
fn tells(harness: &mut Harness<'_, App>, id: NodeId) -> Option<bool> {
    let screen = Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(1280.0, 800.0));
    let found = |harness: &Harness<'_, App>| -> Option<Rect> {
        let mut all =
            harness.query_all(egui_kittest::kittest::By::new().predicate(move |node| node.locate().0 == id));
        Some(all.next()?.rect())
    };
    let own = |harness: &Harness<'_, App>| -> Vec<Id> {
        let under = harness.ctx.interaction_snapshot(|seen| seen.hovered.iter().copied().collect::<Vec<_>>());
        under.into_iter().filter(|under| under.accesskit_id() == id).collect()
    };
    let mut all =
        harness.query_all(egui_kittest::kittest::By::new().predicate(move |node| node.locate().0 == id));
    // What gets the keyboard comes into sight, whatever it is scrolled away in.
    all.next()?.focus();
    drop(all);
    harness.run_steps(6);
    let place = found(harness)?.intersect(screen);
    // Parts of a control may lie under something else: its middle, and near its left end.
    for at in [place.center(), place.left_center() + egui::vec2(6.0, 0.0)] {
        harness.hover_at(at);
        for _ in 0..8 {
            harness.run_steps(1);
            if own(harness).iter().any(|id| Tooltip::was_tooltip_open_last_frame(&harness.ctx, *id)) {
                return Some(true);
            }
        }
        if !own(harness).is_empty() {
            return Some(false);
        }
    }
    None
}

/// Controls in sight whose tip does not show.
fn untold(
    harness: &mut Harness<'_, App>,
    place: &str,
    done: &mut Vec<(NodeId, String)>,
) -> (usize, Vec<String>) {
    let (mut told, mut faults) = (0, Vec::new());
    for (id, name) in controls(harness) {
        if done.contains(&(id, name.clone())) {
            continue;
        }
        match tells(harness, id) {
            Some(true) => {
                told += 1;
                done.push((id, name));
            }
            Some(false) => faults.push(format!("{place}: no tip: {name}")),
            None => faults.push(format!("{place}: not under the pointer: {name}")),
        }
    }
    (told, faults)
}

#[test]
fn every_control_of_every_page_says_what_it_does_where_the_pointer_rests() {
    let mut harness = window(sample());
    let (mut faults, mut done) = (Vec::new(), Vec::new());
    for page in PAGES {
        go(&mut harness, page);
        settled(&mut harness);
        let (told, found) = untold(&mut harness, page, &mut done);
        println!("{page}: {told} tips");
        assert!(told > 0, "{page}");
        faults.extend(found);
    }
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn every_control_of_the_sheets_says_what_it_does_where_the_pointer_rests() {
    let mut faults = Vec::new();
    for (sheet, modifiers, key) in [
        ("Settings", Modifiers::COMMAND, Key::Comma),
        ("New", Modifiers::COMMAND, Key::N),
        ("Search", Modifiers::COMMAND, Key::K),
        ("Keys", Modifiers::NONE, Key::F1),
    ] {
        let mut harness = window(sample());
        settled(&mut harness);
        let before = controls(&harness);
        harness.key_press_modifiers(modifiers, key);
        harness.run_steps(4);
        let mut done = before;
        let (told, found) = untold(&mut harness, sheet, &mut done);
        println!("{sheet}: {told} tips");
        assert!(told > 0, "{sheet} is open");
        faults.extend(found);
    }
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

/// The test itself: a tip is told from none.
#[test]
fn a_control_without_a_tip_is_found() {
    let mut harness = Harness::new_ui(|ui| {
        let _ = ui.button("told").on_hover_text("It says so.");
        let _ = ui.button("silent");
    });
    harness.run_steps(2);
    for (name, tip) in [("told", true), ("silent", false)] {
        let place = harness.get_by_label(name).rect();
        harness.hover_at(place.center());
        harness.run_steps(6);
        let under = harness.ctx.interaction_snapshot(|seen| seen.hovered.iter().copied().collect::<Vec<_>>());
        let open = under.iter().any(|id| Tooltip::was_tooltip_open_last_frame(&harness.ctx, *id));
        assert_eq!(open, tip, "{name}");
    }
    let shown = harness.ctx.memory(|memory| {
        memory.areas().visible_layer_ids().into_iter().any(|layer| layer.order == Order::Tooltip)
    });
    assert!(!shown);
}
