//! The part "spectrum" of the Grain page.

use egui::{Key, Modifiers, Role};
use egui_kittest::kittest::Queryable;

use crate::bench::{go, sample, says, until, window};
use crate::typed::enter;

#[test]
fn spectra_stand_over_each_other_and_grain_is_told_as_it_is_seen() {
    let mut harness = window(sample());
    go(&mut harness, "Grain");
    harness.get_by_role_and_label(Role::RadioButton, "Show: spectrum").click();
    harness.run_steps(2);
    for words in ["Noise power spectrum", "Autocorrelation", "Plane of frequencies of Plover 640"] {
        until(&mut harness, words, |harness| says(harness, words));
    }
    for words in ["NPS at zero", "Correlation length", "Visible granularity", "Difference is seen from"] {
        until(&mut harness, words, |harness| says(harness, words));
    }
    enter(&mut harness, "Print density", "1.2");
    harness.run_steps(3);
    let density = harness.state().session().series().viewing.print_density;
    assert!((density - 1.2).abs() < 1e-12, "{density}");
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(harness.state().session().undo_label(), None);
}
