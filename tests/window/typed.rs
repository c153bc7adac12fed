//! A window on a small series of typed readings whose truth is known: all curves are one curve, moved along log H.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use crate::bench::until;
use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use twinwedge_core::document::{
    Exposure, Film, FilmId, ReadingsSource, Series, Tablet, TabletExposure, TabletId, TypedReading,
};
use twinwedge_desktop::app::App;
use twinwedge_desktop::settings::Settings;
use twinwedge_workbench::session::Session;

/// The candidate reaches every density at this much less log exposure: it is faster by this.
pub(crate) const FASTER: f64 = 0.45;
/// Slope of both films' straight lines.
pub(crate) const SLOPE: f64 = 0.6;

/// Density over lg H: base+fog, a toe that ends about `toe`, then a straight line (analytic, no shoulder).
fn density(log_h: f64, toe: f64) -> f64 {
    let sharpness = 2.5;
    0.20 + SLOPE / sharpness * (1.0 + 10.0_f64.powf(sharpness * (log_h - toe))).log10()
}

/// A film of typed readings through the 21-step tablet, three decimals.
pub(crate) fn film(label: &str, toe: f64, box_speed: f64) -> Film {
    let tablet = Tablet::nominal(21).unwrap();
    let reading = |step: f64| TypedReading {
        density: (density(-step, toe) * 1000.0).round() / 1000.0,
        u: Some(0.004),
        set_aside: false,
        missing: false,
    };
    let mut film = Film::named(FilmId::from(label), label);
    film.box_speed = Some(box_speed);
    let readings = tablet.steps.iter().map(|step| reading(step.density)).collect();
    film.strips.push(ReadingsSource::Typed(readings).into());
    let exposure = Exposure::Relative { stops_less: 0.0 };
    film.tablet_exposure = Some(TabletExposure::new(TabletId::from("tablet"), exposure));
    film
}

/// Reference and one candidate.
pub(crate) fn series() -> Series {
    let mut series = Series { title: "Saltmarsh test".to_owned(), ..Series::default() };
    series.about = "Invented data of the Saltmarsh Darkroom Cooperative.".to_owned();
    series.settings.resamplings = 60;
    series.tablets.insert(TabletId::from("tablet"), Tablet::nominal(21).unwrap());
    series.films = vec![film("Tern 160", -1.9, 160.0), film("Plover 640", -1.9 - FASTER, 640.0)];
    series.reference = Some(FilmId::from("Tern 160"));
    series
}

/// A window on a series, as small as it must work.
pub(crate) fn window(series: Series) -> Harness<'static, App> {
    window_of(series, egui::vec2(1280.0, 800.0))
}

/// A window of a size.
pub(crate) fn window_of(series: Series, size: egui::Vec2) -> Harness<'static, App> {
    window_in(series, PathBuf::from("."), size)
}

/// A window on a series whose files lie in a folder.
pub(crate) fn window_in(series: Series, folder: PathBuf, size: egui::Vec2) -> Harness<'static, App> {
    Harness::builder().with_size(size).build_eframe(move |cc| {
        let mut session = Session::of(series, folder);
        session.set_recovery_folder(None);
        App::new(&cc.egui_ctx, session, Settings::default())
    })
}

/// The same on one page.
pub(crate) fn page(series: Series, key: Key) -> Harness<'static, App> {
    let mut harness = window(series);
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::ALT, key);
    harness.run_steps(3);
    harness
}

/// Steps until `there` holds; results come from background threads.
pub(crate) fn wait_for(
    harness: &mut Harness<'_, App>,
    what: &str,
    there: impl Fn(&Harness<'_, App>) -> bool,
) {
    let begin = Instant::now();
    loop {
        harness.step();
        if there(harness) {
            return;
        }
        assert!(begin.elapsed() < Duration::from_secs(60), "waited for {what}");
        std::thread::sleep(Duration::from_millis(10));
    }
}

/// Presses what has this label.
pub(crate) fn press(harness: &mut Harness<'_, App>, label: &str) {
    rest(harness, label);
    harness.get_by_label(label).click();
    harness.run_steps(3);
}

/// Takes the pointer away, so that no hover text lies over what has this label, and waits until it has stayed where it is for a
/// few frames: numbers that come in may move it.
fn rest(harness: &mut Harness<'_, App>, label: &str) {
    harness.hover_at(egui::Pos2::ZERO);
    let mut still = 0;
    let mut place = harness.get_by_label(label).rect();
    for _ in 0..200 {
        std::thread::sleep(Duration::from_millis(5));
        harness.run_steps(1);
        let now = harness.get_by_label(label).rect();
        still = if now == place { still + 1 } else { 0 };
        place = now;
        if still == 4 {
            return;
        }
    }
}

/// Whether something with a label that holds this text is shown.
pub(crate) fn shows(harness: &Harness<'_, App>, text: &str) -> bool {
    harness.query_all_by_label_contains(text).next().is_some()
}

/// Types into the field of this name and leaves it.
pub(crate) fn enter(harness: &mut Harness<'_, App>, name: &str, text: &str) {
    let field = |role: Role| matches!(role, Role::TextInput | Role::MultilineTextInput);
    // A field may stand below a result that is still being made: a person waits for it.
    until(harness, name, |harness| {
        let there = harness.query_all_by_label(name).find(|node| field(node.accesskit_node().role()));
        if let Some(node) = &there {
            node.focus();
        }
        there.is_some()
    });
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run_steps(2);
    harness.event(egui::Event::Text(text.to_owned()));
    harness.run_steps(2);
    harness.key_press(Key::Tab);
    harness.run_steps(4);
}

/// What the first node whose label holds `text` says of itself.
pub(crate) fn said(harness: &Harness<'_, App>, text: &str) -> String {
    let node =
        harness.query_all_by_label_contains(text).next().unwrap_or_else(|| panic!("nothing says '{text}'"));
    let node = node.accesskit_node();
    node.label().or_else(|| node.value()).unwrap_or_default()
}

/// The document as it stands.
pub(crate) fn document<'a>(harness: &'a Harness<'_, App>) -> &'a Series {
    harness.state().session().series()
}
