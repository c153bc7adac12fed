//! Brackets of scanned negatives: a scene that is a formula, photographed on two films at several exposures, each frame shifted
//! and turned a little as frames in a scanner are. The shadow patch is laid on one frame and read on all.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::path::Path;
use twinwedge_core::document::{
    Bracket, BracketFrame, Film, FilmId, ScanId, ScanKind, Series, ShadowDensity,
};
use twinwedge_core::figures::FigureId;
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_workbench::engine::ask::{BracketOf, FiguresOf, ShadowOf};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store;

use crate::shared::chance::normal;
use crate::shared::scans::write_grey16;

const SIZE: (u32, u32) = (420, 300);
/// Where the shadow patch lies in the scene, and lg of its light against the grey card's.
const SHADOW: Rect = Rect { min: Point { x: 250.0, y: 160.0 }, max: Point { x: 300.0, y: 210.0 } };
const SHADOW_LIGHT: f64 = -0.9;

/// lg of the scene's light at a place.
fn scene(p: Point, waves: &[[f64; 4]]) -> f64 {
    if (SHADOW.min.x..SHADOW.max.x).contains(&p.x) && (SHADOW.min.y..SHADOW.max.y).contains(&p.y) {
        return SHADOW_LIGHT;
    }
    waves.iter().map(|[u, v, w, s]| s * (u * p.x + v * p.y + w).cos()).sum()
}

/// Density of a film, `B + g/2 lg(1 + 10^(2 x))`, x the log exposure above its foot.
fn density(base: f64, x: f64) -> f64 {
    base + 0.62 / 2.0 * (1.0 + 10_f64.powf(2.0 * x)).log10()
}

/// The 16-bit code of a density by the curve of sRGB (IEC 61966-2-1), which stands in where a file has no profile.
fn code(density: f64) -> u16 {
    let light = 10_f64.powf(-density).clamp(0.0, 1.0);
    let v = if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    (v * 65_535.0).round() as u16
}

struct Shot<'a> {
    film: &'a str,
    base: f64,
    /// The index at which the film's shadow lies at its foot.
    foot: f64,
    indices: &'a [f64],
    grain: f64,
}

/// Photographs the scene; answers the film and each frame's true patch.
fn shoot(folder: &Path, shot: &Shot<'_>, series: &mut Series, rng: &mut Pcg64Mcg) -> Vec<(Quad, f64)> {
    let mut waves: Vec<[f64; 4]> = Vec::new();
    // The same scene for all films: a stream of its own.
    let mut of_scene = Pcg64Mcg::seed_from_u64(5);
    for k in 0..30 {
        let period = 8.0 * 40.0_f64.powf((f64::from(k) + of_scene.random::<f64>()) / 30.0);
        let (f, a) = (std::f64::consts::TAU / period, std::f64::consts::TAU * of_scene.random::<f64>());
        waves.push([f * a.cos(), f * a.sin(), std::f64::consts::TAU * of_scene.random::<f64>(), 0.09]);
    }
    let mut film = Film::named(FilmId::from(shot.film), shot.film);
    let mut truths = Vec::new();
    let mut frames = Vec::new();
    for (number, index) in shot.indices.iter().enumerate() {
        let angle = 0.02 * normal(rng);
        let (dx, dy) = (6.0 * normal(rng), 6.0 * normal(rng));
        // From the scan to the scene: a turn about the middle and a shift.
        let (sin, cos) = angle.sin_cos();
        let to_scene = |x: f64, y: f64| {
            let (x, y) = (x - 210.0, y - 150.0);
            Point::new(cos * x - sin * y + 210.0 + dx, sin * x + cos * y + 150.0 + dy)
        };
        let to_scan = |p: Point| {
            let (x, y) = (p.x - 210.0 - dx, p.y - 150.0 - dy);
            Point::new(cos * x + sin * y + 210.0, -sin * x + cos * y + 150.0)
        };
        let more = (shot.foot / index).log10();
        let pixels: Vec<u16> = (0..SIZE.1)
            .flat_map(|y| (0..SIZE.0).map(move |x| (x, y)))
            .map(|(x, y)| {
                let light = scene(to_scene(f64::from(x) + 0.5, f64::from(y) + 0.5), &waves);
                code(density(shot.base, light - SHADOW_LIGHT + more) + shot.grain * normal(rng))
            })
            .collect();
        let name = format!("{} frame {number}.tif", shot.film);
        write_grey16(&folder.join(&name), SIZE.0, SIZE.1, &pixels);
        let scan = ScanId(name.clone());
        let entry = store::scan_entry(&folder.join(&name), ScanKind::Film, folder).unwrap();
        series.scans.insert(scan.clone(), entry);
        frames
            .push(BracketFrame { scan: Some(scan), ..BracketFrame::typed(number.to_string(), *index, 0.0) });
        let quad = Quad { corners: Quad::upright(SHADOW).corners.map(to_scan) };
        truths.push((quad, density(shot.base, more)));
    }
    film.bracket = Some(Bracket { frames, u: None });
    series.films.push(film);
    truths
}

#[test]
fn a_patch_laid_on_one_frame_is_found_and_read_on_all() {
    let folder = tempfile::tempdir().unwrap();
    let mut series = Series::default();
    let mut rng = Pcg64Mcg::seed_from_u64(11);
    let tern = Shot {
        film: "Tern 160",
        base: 0.25,
        foot: 200.0,
        indices: &[100.0, 125.0, 160.0, 200.0],
        grain: 0.02,
    };
    let godwit = Shot {
        film: "Godwit 1000",
        base: 0.25,
        foot: 800.0,
        indices: &[250.0, 320.0, 400.0, 500.0, 640.0, 800.0, 1000.0],
        grain: 0.04,
    };
    let truths = [&tern, &godwit].map(|shot| shoot(folder.path(), shot, &mut series, &mut rng));
    series.reference = Some(FilmId::from("Tern 160"));
    series.films[0].box_speed = Some(160.0);
    series.settings.shadow_match = ShadowDensity::Gross;
    // Laid on one frame of the reference alone.
    if let Some(bracket) = &mut series.films[0].bracket {
        bracket.frames[2].patch = Some(truths[0][2].0);
    }
    let mut session = Session::of(series, folder.path().to_path_buf());
    session.set_recovery_folder(None);
    for (shot, truths) in [&tern, &godwit].into_iter().zip(&truths) {
        let id = FilmId::from(shot.film);
        let measured = session.wait(&BracketOf { film: id.clone() }).unwrap();
        for (frame, ((quad, density), found)) in truths.iter().zip(measured.iter()).enumerate() {
            let shadow = session.wait(&ShadowOf { film: id.clone(), frame }).unwrap();
            let away = quad.corners.iter().zip(&shadow.patch.value.corners);
            let away = away.map(|(a, b)| (a.x - b.x).hypot(a.y - b.y)).fold(0.0, f64::max);
            let found = found.as_ref().unwrap();
            println!(
                "{} frame {frame}: {away:.2} px, density {:+.4} ± {:.4}, {:?}",
                shot.film,
                found.density - density,
                found.u,
                shadow.patch.doubts
            );
            assert!(away < 2.0, "frame {frame} of {}: {away} px", shot.film);
            // Grain averages out over 30 x 30 pixels; a mean of light lies below that of density by ln 10 / 2 of its variance.
            let of_grain = -std::f64::consts::LN_10 / 2.0 * shot.grain * shot.grain;
            assert!(
                (found.density - density - of_grain).abs() < 4.0 * found.u,
                "frame {frame} of {}",
                shot.film
            );
            assert!(found.u < 2.0 * shot.grain / 30.0, "{}", found.u);
        }
    }
    // The films are alike but for their speed: shadows are alike at 160 / 200 of 800.
    let figures = session.wait(&FiguresOf { film: FilmId::from("Godwit 1000") }).unwrap();
    let index = figures.figures[&FigureId::ShadowMatchIndex].known().unwrap();
    assert!(index.low < 640.0 && 640.0 < index.high, "{index:?}");
    assert!((index.value / 640.0).log2().abs() < 0.1, "{index:?}");
}
