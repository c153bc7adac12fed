//! Scanned frames of brackets: what speaks against them stands in the problems and in the report.

use std::path::Path;

use twinwedge_core::document::{
    Bracket, BracketFrame, FilmId, ScanId, ScanKind, Series, ShadowDensity, TypedReading,
};
use twinwedge_core::figures::FigureId;
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::problem::Severity;
use twinwedge_workbench::engine::ask::FiguresOf;
use twinwedge_workbench::export::report_html;
use twinwedge_workbench::session::{Edit, Session};

use crate::support::{entry, session, typed_series, write_tiff};

/// A scene of random tones with a plain square of 40 pixels at (100, 80).
fn write_frame(path: &Path, scene: u32, (dx, dy): (u32, u32), code: u16) {
    write_tiff(path, 260, 200, |x, y| {
        let (x, y) = (x + dx, y + dy);
        if (100..140).contains(&x) && (80..120).contains(&y) {
            return code;
        }
        let mut mixed = (x / 5) ^ (y / 5).wrapping_mul(0x9E37_79B9) ^ scene.wrapping_mul(0x85EB_CA6B);
        for _ in 0..3 {
            mixed ^= mixed >> 16;
            mixed = mixed.wrapping_mul(0x7FEB_352D);
        }
        10_000 + (mixed >> 17) as u16
    });
}

fn bracketed(folder: &Path) -> Series {
    let mut series = typed_series(2);
    let mut frames = Vec::new();
    for (name, scene, shift, code) in [
        ("1", 0, (0, 0), 30_000),
        ("2", 0, (6, 4), 24_000),
        ("3", 0, (3, 7), u16::MAX),
        ("4", 5, (0, 0), 20_000),
    ] {
        let file = format!("frame {name}.tif");
        write_frame(&folder.join(&file), scene, shift, code);
        let scan = ScanId(file.clone());
        series.scans.insert(scan.clone(), entry(folder, &file, ScanKind::Film));
        let index = 100.0 * f64::from(frames.len() as u32 + 1);
        frames.push(BracketFrame { scan: Some(scan), ..BracketFrame::typed(name, index, 0.0) });
    }
    series.films[0].bracket = Some(Bracket { frames, u: None });
    series
}

fn about_frames(session: &Session) -> Vec<(Severity, String)> {
    let problems = session.check().into_iter().filter(|problem| problem.cause.contains("shadow patch"));
    problems.map(|problem| (problem.severity, problem.cause.to_string())).collect()
}

#[test]
fn doubts_and_failures_of_shadow_patches_are_problems() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(bracketed(folder.path()), folder.path());
    let told = about_frames(&session);
    assert_eq!(told.len(), 1, "one sentence for all frames: {told:?}");
    assert_eq!(told[0].0, Severity::Note);
    assert!(told[0].1.contains("4 of its frames are not read"), "{told:?}");
    let lay = Edit::new("lay the shadow patch", |series: &mut Series| {
        let quad = Quad::upright(Rect::between(Point::new(102.0, 82.0), Point::new(138.0, 118.0)));
        series.films[0].bracket.as_mut().unwrap().frames[0].patch = Some(quad);
    });
    session.apply(lay).unwrap();
    let told = about_frames(&session);
    let holds = |severity, words: &[&str]| {
        told.iter().any(|(s, cause)| *s == severity && words.iter().all(|word| cause.contains(word)))
    };
    assert!(holds(Severity::Doubt, &["frame 3", "clipped"]), "{told:?}");
    assert!(holds(Severity::Error, &["could not be found by frame 1 of Tern 160"]), "{told:?}");
    assert!(!told.iter().any(|(_, cause)| cause.contains("frame 2")), "nothing speaks against it: {told:?}");
    let html = report_html(&session, None).unwrap();
    assert!(html.contains("The shadow patch of frame 3 is in doubt"), "the report tells it");
    assert!(html.contains("could not be found by frame 1 of Tern 160"));
    for file in 1..=4 {
        assert!(html.contains(&format!("<td>frame {file}.tif</td>")), "frames are among its scans");
    }
}

/// Analytic: a tenth of density from frame to frame; net densities are alike where the candidate's frame is as much denser as its
/// base+fog is, by 0.06: six tenths of the way from the frame of index 400 to that of 320.
#[test]
fn net_shadows_are_matched_by_base_fog_that_was_read_without_any_curve() {
    let mut series = typed_series(2);
    series.films[0].box_speed = Some(160.0);
    let bracket = |frames: &[(f64, f64)]| {
        let frame = |(index, density): &(f64, f64)| BracketFrame::typed(index.to_string(), *index, *density);
        Some(Bracket { frames: frames.iter().map(frame).collect(), u: Some(0.002) })
    };
    series.films[0].bracket = bracket(&[(125.0, 0.42), (160.0, 0.36), (200.0, 0.31)]);
    series.films[1].bracket = bracket(&[(320.0, 0.46), (400.0, 0.36), (500.0, 0.26)]);
    series.settings.shadow_match = ShadowDensity::Net;
    for (film, density) in series.films.iter_mut().zip([0.20, 0.26]) {
        film.strips.clear();
        film.base_fog = Some(TypedReading { u: Some(0.003), ..TypedReading::new(density) });
    }
    let mut session = session(series, Path::new(""));
    let figures = |session: &Session| session.wait(&FiguresOf { film: FilmId::from("Plover 1") }).unwrap();
    let found = figures(&session);
    let index = found.figures[&FigureId::ShadowMatchIndex].known().copied().unwrap();
    assert!((index.value - 400.0 * (320.0_f64 / 400.0).powf(0.6)).abs() < 0.5, "{index:?}");
    assert!((found.figures[&FigureId::BaseFog].known().unwrap().value - 0.26).abs() < 1e-12);
    assert!(found.figures[&FigureId::SpeedPoint].known().is_none(), "there is no curve");
    // JCGM 100:2008, 5.1: errors of both base+fog are those of the density to be matched.
    let slope = 0.1 / ((400.0_f64 / 320.0).ln() * index.value);
    let u = 0.003_f64.hypot(0.003).hypot(0.002).hypot(0.002) / slope;
    assert!((0.6..1.6).contains(&(index.u / u)), "{} for about {u}", index.u);
    let forget = Edit::new("forget base+fog", |series: &mut Series| series.films[1].base_fog = None);
    session.apply(forget).unwrap();
    assert!(figures(&session).figures[&FigureId::ShadowMatchIndex].known().is_none());
}
