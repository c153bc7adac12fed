//! The Greys page without prints: it says what goes there and offers the way.

use crate::typed::{self, page, press, shows, wait_for};

#[test]
fn without_patches_it_leads_to_the_prints() {
    let mut harness = page(typed::series(), egui::Key::Num8);
    wait_for(&mut harness, "the comparison", |harness| shows(harness, "No patch is sampled yet"));
    assert!(shows(&harness, "not corrected for contrast"));
    press(&mut harness, "Go to Prints");
    assert!(!shows(&harness, "No patch is sampled yet"));
}
