//! The Frames page: brackets typed and pasted, and what follows from them.

use twinwedge_core::document::{Bracket, BracketFrame, FilmId, ShadowDensity, TypedReading};

use crate::typed::{self, document, enter, page, press, shows, wait_for};

#[test]
fn pasted_frames_give_the_matched_index() {
    let mut series = typed::series();
    let frame = |name: &str, exposure_index: f64, shadow_density: f64| BracketFrame {
        name: name.to_owned(),
        exposure_index,
        shadow_density,
    };
    series.films[0].bracket =
        Some(Bracket { frames: vec![frame("1", 125.0, 0.44), frame("2", 160.0, 0.40)], u: Some(0.005) });
    let mut harness = page(series, egui::Key::Num4);
    harness.run_steps(2);
    press(&mut harness, "Shadow density: gross density");
    assert_eq!(document(&harness).settings.shadow_match, ShadowDensity::Gross);
    press(&mut harness, "Paste frames of Plover 640");
    enter(&mut harness, "Frames of Plover 640 as text", "a; 320; 0,50\nb; 1280; 0,30");
    press(&mut harness, "Take these frames");
    let frames =
        &document(&harness).film(&FilmId::from("Plover 640")).unwrap().bracket.as_ref().unwrap().frames;
    assert_eq!(frames.len(), 2);
    assert_eq!(harness.state().session().undo_label(), Some("enter 2 frames of Plover 640"));
    // Analytic: 0.40 lies half way between 0.50 and 0.30, so half way between 320 and 1280 in stops: 640.
    wait_for(&mut harness, "the matched index", |harness| {
        shows(harness, "Exposure index, gross density: reference 160") && shows(harness, "candidate 640")
    });
}

// ISO 5-1: transmittance is 10^-D; a base+fog denser by 0.30 takes 10^0.30 = 1.995 times the light.
#[test]
fn print_exposure_follows_from_base_fog() {
    let mut series = typed::series();
    for (film, density) in series.films.iter_mut().zip([0.20, 0.50]) {
        film.base_fog = Some(TypedReading { density, u: Some(0.001), set_aside: false });
    }
    let mut harness = page(series, egui::Key::Num4);
    wait_for(&mut harness, "the print exposure", |harness| shows(harness, "Candidate's exposure: × 2.00"));
}

#[test]
fn frames_are_added_changed_and_removed() {
    let mut harness = page(typed::series(), egui::Key::Num4);
    harness.run_steps(2);
    press(&mut harness, "Add frame of Tern 160");
    let bracket = |harness: &egui_kittest::Harness<'_, twinwedge_desktop::app::App>| {
        document(harness).films[0].bracket.clone().unwrap_or_default().frames
    };
    assert_eq!(bracket(&harness).len(), 1);
    enter(&mut harness, "Shadow density of frame 1 of Tern 160", "0,36");
    assert!((bracket(&harness)[0].shadow_density - 0.36).abs() < 1e-12);
    enter(&mut harness, "Exposure index of frame 1 of Tern 160", "-4");
    assert!(bracket(&harness)[0].exposure_index > 0.0, "refused");
    press(&mut harness, "Remove of frame 1 of Tern 160");
    assert!(bracket(&harness).is_empty());
}
