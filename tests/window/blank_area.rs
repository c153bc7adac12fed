//! A blank area beside a plain one: boxed, moved, taken away, and what it does to granularity and spectrum.

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use rand::SeedableRng;
use rand_pcg::Pcg64Mcg;
use twinwedge_core::document::{Film, FilmId, GrainArea, GrainNoise, ScanId, ScanKind, Series};
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_desktop::app::App;
use twinwedge_workbench::engine::ask::GrainOf;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store;

use crate::bench::{folder, go, says, until, window};
use crate::shared::chance::normal;

const SIDE: usize = 420;
/// Mean code, and the standard deviation of grain and of the scanner's noise in codes.
const CODES: [f64; 3] = [30_000.0, 1_200.0, 1_500.0];

/// Grain and noise on the left, noise alone on the right.
fn scan(path: &std::path::Path) {
    let mut rng = Pcg64Mcg::seed_from_u64(3);
    let mut normal = || normal(&mut rng);
    let [mean, grain, noise] = CODES;
    let code = |k: usize| {
        let own = if k % SIDE < 260 { grain } else { 0.0 };
        (mean + own * normal() + noise * normal()).round() as u16
    };
    let pixels: Vec<u16> = (0..SIDE * SIDE).map(code).collect();
    let picture = image::ImageBuffer::<image::Luma<u16>, _>::from_raw(SIDE as u32, SIDE as u32, pixels);
    picture.unwrap().save(path).unwrap();
}

fn session(folder: &std::path::Path) -> Session {
    let path = folder.join("field.png");
    scan(&path);
    let mut series = Series::default();
    let mut entry = store::scan_entry(&path, ScanKind::Film, folder).unwrap();
    entry.dpi = Some(4000.0);
    let id = ScanId::from("field");
    series.scans.insert(id.clone(), entry);
    let mut film = Film::named(FilmId::from("Tern 160"), "Tern 160");
    film.uniform_areas =
        vec![GrainArea::new(id, Rect::between(Point::new(10.0, 10.0), Point::new(250.0, 410.0)))];
    series.reference = Some(film.id.clone());
    series.films.push(film);
    Session::of(series, folder.to_path_buf())
}

fn noise(harness: &Harness<'_, App>) -> GrainNoise {
    harness.state().session().series().films[0].uniform_areas[0].noise.clone()
}

fn box_of(harness: &Harness<'_, App>) -> Option<Rect> {
    match noise(harness) {
        GrainNoise::Blank { area, .. } => Some(area),
        _ => None,
    }
}

fn granularity(harness: &Harness<'_, App>) -> (f64, f64) {
    let ask = GrainOf { film: FilmId::from("Tern 160"), area: 0 };
    let found = harness.state().session().wait(&ask).unwrap();
    (found.rms.value, found.noise.as_ref().map_or(0.0, |taken| taken.noise.rms))
}

fn choose(harness: &mut Harness<'_, App>, what: &str) {
    harness.get_by_role_and_label(Role::Button, "Change").click();
    harness.run_steps(3);
    harness.get_by_role_and_label(Role::RadioButton, what).click();
    harness.run_steps(3);
}

/// Independent noise through the aperture by Selwyn's law: sigma of density times the pixel over the root of the aperture's area;
/// density over code by the slope of the sRGB curve (IEC 61966-2-1) at the mean code.
fn expected() -> f64 {
    let light = |code: f64| ((code / 65_535.0 + 0.055) / 1.055).powf(2.4);
    let slope = (light(CODES[0] + 50.0).log10() - light(CODES[0] - 50.0).log10()) / 100.0;
    let area = std::f64::consts::PI * 24.0 * 24.0;
    1000.0 * CODES[2] * slope * (25_400.0 / 4000.0) / area.sqrt()
}

#[test]
fn a_blank_area_is_boxed_moved_and_taken_away() {
    let folder = folder();
    let mut harness = window(session(folder.path()));
    go(&mut harness, "Grain");
    until(&mut harness, "the uniform area", |harness| {
        says(harness, "Grain area of Tern 160: the whole area")
    });
    let (before, _) = granularity(&harness);
    choose(&mut harness, "by a blank area");
    let first = box_of(&harness).expect("a box");
    assert!(first.min.x >= 260.0 && first.max.x <= SIDE as f64, "beside the uniform area: {first:?}");
    assert_eq!(harness.state().session().undo_label(), Some("mark a blank area for Tern 160"));
    until(&mut harness, "what it says", |harness| {
        says(harness, "The scanner's noise is known from a blank area")
            && says(harness, "Blank area of Tern 160: the whole area")
    });
    let (after, taken) = granularity(&harness);
    let want = expected();
    println!("before {before:.2}, after {after:.2}, taken {taken:.2} for {want:.2}");
    assert!((taken / want - 1.0).abs() < 0.1, "{taken} for {want}");
    assert!((after - (before * before - taken * taken).sqrt()).abs() < 1e-6);

    harness.get_by_label("Blank area of Tern 160: the whole area").focus();
    harness.run_steps(2);
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowUp);
    harness.run_steps(2);
    let moved = box_of(&harness).expect("a box");
    assert_eq!((moved.min.x, moved.min.y), (first.min.x, first.min.y - 10.0));
    assert_eq!(harness.state().session().undo_label(), Some("move the blank area of Tern 160"));
    let (_, elsewhere) = granularity(&harness);
    assert!(
        (elsewhere - taken).abs() > 1e-6 && (elsewhere / want - 1.0).abs() < 0.1,
        "{elsewhere} for {want}"
    );
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(box_of(&harness), Some(first));

    harness.get_by_role_and_label(Role::RadioButton, "Show: spectrum").click();
    until(&mut harness, "the spectrum", |harness| says(harness, "frequency by frequency"));
    harness.get_by_role_and_label(Role::RadioButton, "Show: crops").click();
    harness.run_steps(3);

    choose(&mut harness, "left in");
    assert_eq!(noise(&harness), GrainNoise::LeftIn);
    assert_eq!(harness.state().session().undo_label(), Some("take the blank area of Tern 160 away"));
    assert!(!says(&harness, "Blank area of Tern 160: the whole area"));
    assert!((granularity(&harness).0 - before).abs() < 1e-9);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run_steps(2);
    assert_eq!(box_of(&harness), Some(first));
}
