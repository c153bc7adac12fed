//! The part 'detail' of the Grain page.

use egui::{Key, Role};
use egui_kittest::kittest::Queryable;

use crate::bench::{go, sample, says, until, window};

#[test]
fn detail_is_told_and_a_box_is_drawn_moved_and_taken_away() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    harness.get_by_role_and_label(Role::RadioButton, "Show: detail").click();
    harness.run_steps(2);
    until(&mut harness, "the statement", |harness| says(harness, "Plover 640: detail is lost to grain."));
    assert!(says(&harness, "Told apart by the print of Dunlin 40."));
    assert!(says(&harness, "Coherence of the prints over spatial frequency"));
    assert!(says(&harness, "Signal-to-grain over spatial frequency"));

    harness.get_by_role_and_label(Role::Button, "Draw a box").click();
    harness.run_steps(2);
    let area = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        harness.state().session().series().detail_area
    };
    let before = area(&harness).expect("a box");
    harness.get_by_label("Box for detail: the whole box").focus();
    harness.run_steps(1);
    harness.key_press(Key::ArrowRight);
    harness.run_steps(2);
    assert!((area(&harness).expect("a box").min.x - before.min.x - 1.0).abs() < 1e-9);
    assert_eq!(harness.state().session().undo_label(), Some("move the box for detail"));
    until(&mut harness, "the answer for the box", |harness| {
        says(harness, "Both prints by spatial frequency")
    });

    harness.get_by_role_and_label(Role::RadioButton, "Over the print: nothing").click();
    harness.get_by_role_and_label(Role::Button, "Whole print").click();
    harness.run_steps(2);
    assert!(area(&harness).is_none());
}
