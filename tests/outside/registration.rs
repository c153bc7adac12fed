//! Registration of prints made of real photographs, beside `OpenCV` and scikit-image on the same files. The pairs and their
//! true maps are made by `registration.py`; what each method answers is compared with these.

use std::time::Instant;

use serde_json::{Value, json};
use twinwedge_core::document::Channel;
use twinwedge_core::geometry::{Model, Point, Transform};
use twinwedge_core::register::{Picture, register};
use twinwedge_core::scan::ToneTable;
use twinwedge_workbench::load::{self, Limits};

use crate::peer;

#[allow(dead_code, reason = "the study of many pairs uses more of it")]
#[path = "../simulated/prints/pair.rs"]
mod pair;
#[allow(dead_code, reason = "the study of many pairs uses more of it")]
#[path = "../simulated/prints/scene.rs"]
mod scene;

pub(crate) fn picture(path: &Value) -> Picture {
    let path = std::path::Path::new(path.as_str().expect("a path"));
    let scan = load::scan(path, Limits::default(), &|_| true).expect("a scan");
    let table = ToneTable::uncalibrated(&scan);
    let density: Vec<f32> = table.density.iter().map(|density| *density as f32).collect();
    let plane = scan.plane(Channel::default());
    let mut tones = vec![0.0; plane.width() * plane.height()];
    for (y, row) in tones.chunks_mut(plane.width()).enumerate() {
        plane.look_up(&density, y, 0, row);
    }
    Picture { width: plane.width(), height: plane.height(), tones, scale: 1.0 }
}

fn transform(rows: &Value) -> Option<Transform> {
    let row = |i: usize| Some([rows[i][0].as_f64()?, rows[i][1].as_f64()?, rows[i][2].as_f64()?]);
    Transform::from_rows(Model::Homography, [row(0)?, row(1)?, row(2)?])
}

/// Root mean square distance over the true overlap of two prints of these sizes.
fn error(found: &Transform, truth: &Transform, first: (f64, f64), second: (f64, f64)) -> f64 {
    const SIDE: usize = 20;
    let share = |k: usize| (k as f64 + 0.5) / SIDE as f64;
    let places = (0..SIDE * SIDE).map(|k| Point::new(share(k % SIDE) * first.0, share(k / SIDE) * first.1));
    let squares: Vec<f64> = places
        .filter(|p| {
            let at = truth.map(*p);
            (0.0..second.0).contains(&at.x) && (0.0..second.1).contains(&at.y)
        })
        .map(|p| {
            let (f, t) = (found.map(p), truth.map(p));
            (f.x - t.x).powi(2) + (f.y - t.y).powi(2)
        })
        .collect();
    (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}

pub(crate) struct Told {
    pub(crate) errors: Vec<f64>,
    pub(crate) median: f64,
    /// That of 95 in 100.
    pub(crate) most: f64,
}

/// One line of the table: how many errors lie below `good`.
pub(crate) fn tell(name: &str, mut errors: Vec<f64>, mut seconds: Vec<f64>, good: f64) -> Told {
    errors.sort_by(f64::total_cmp);
    seconds.sort_by(f64::total_cmp);
    let at = |share: f64| errors[((share * errors.len() as f64).ceil() as usize).max(1) - 1];
    let under = errors.iter().filter(|error| **error < good).count();
    println!(
        "{name:<34} {:>3} {under:>10} {:>8.4} {:>8.4} {:>8.4} {:>10.3}",
        errors.len(),
        at(0.5),
        at(0.95),
        at(1.0),
        seconds[seconds.len() / 2]
    );
    Told { median: at(0.5), most: at(0.95), errors }
}

/// Ten photographs, two pairs each: as many within 0.3 pixels as any other method reaches, and no larger a median. Seconds
/// are shown and not asserted: `cargo dev bench` compares them.
#[test]
fn photographs_are_registered_as_well_as_by_opencv_and_scikit_image() {
    let folder = tempfile::tempdir().expect("a folder");
    let pairs = peer("photographs", &json!({ "folder": folder.path(), "each": 2 }))["pairs"].clone();
    let pairs = pairs.as_array().expect("pairs");
    compare(
        pairs,
        &[
            ("OpenCV, ORB and RANSAC", pairs.len()),
            ("OpenCV, SIFT and RANSAC", pairs.len()),
            ("OpenCV, ECC coarse to fine", pairs.len()),
            // Slow: some of the pairs say as much.
            ("OpenCV, SIFT, RANSAC and ECC", 10),
            ("scikit-image, ORB, RANSAC, phase", 6),
        ],
    );
}

/// The same on prints of scenes that are formulas: those of `tests/simulated/prints`.
#[test]
fn simulated_prints_are_registered_as_well_as_by_opencv() {
    let folder = tempfile::tempdir().expect("a folder");
    let pairs: Vec<Value> = (0..10)
        .map(|number| {
            let pair = pair::Pair::new(3 * number + 1);
            let paths = [("first", &pair.first), ("second", &pair.second)].map(|(side, print)| {
                let path = folder.path().join(format!("{number}-{side}.tif"));
                write(print, &path);
                path
            });
            let truth = pair.truth.0;
            json!({ "name": format!("scene {number}"), "first": paths[0], "second": paths[1], "truth": truth })
        })
        .collect();
    let few = [("OpenCV, SIFT and RANSAC", pairs.len()), ("OpenCV, ECC coarse to fine", pairs.len())];
    compare(&pairs, &few);
}

/// A print as a scan of 16 bits: codes of its light by the curve of sRGB (IEC 61966-2-1).
fn write(print: &Picture, path: &std::path::Path) {
    let code = |density: &f32| {
        let light = 10_f64.powf(-f64::from(*density)).clamp(0.0, 1.0);
        let v = if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
        (v * 65_535.0).round() as u16
    };
    let (width, height) = (print.width as u32, print.height as u32);
    let codes: Vec<u16> = print.tones.iter().map(code).collect();
    let picture = image::ImageBuffer::<image::Luma<u16>, _>::from_raw(width, height, codes);
    picture.expect("as many codes as pixels").save(path).expect("a file");
}

fn compare(pairs: &[Value], methods: &[(&str, usize)]) {
    println!(
        "{:<34} {:>3} {:>10} {:>8} {:>8} {:>8} {:>10}",
        "method", "all", "under 0.3", "median", "95 %", "worst", "median s"
    );
    let (mut errors, mut seconds, mut sizes) = (Vec::new(), Vec::new(), Vec::new());
    for pair in pairs {
        let (a, b) = (picture(&pair["first"]), picture(&pair["second"]));
        let start = Instant::now();
        let found = register(&a, &b, None, &|| false);
        seconds.push(start.elapsed().as_secs_f64());
        let truth = transform(&pair["truth"]).expect("a truth");
        let size = [&a, &b].map(|picture| (picture.width as f64, picture.height as f64));
        let away =
            found.as_ref().map_or(f64::INFINITY, |found| error(&found.transform, &truth, size[0], size[1]));
        sizes.push(size);
        let sure = found.as_ref().is_ok_and(twinwedge_core::register::Registration::is_sure);
        assert!(!sure || away < 0.3, "{} is called sure and lies {away} px off", pair["name"]);
        if away > 0.3 {
            let doubts = found.map(|found| found.doubts).map_err(|problem| problem.cause);
            println!("{}: {away:.3} px, {doubts:?}", pair["name"]);
        }
        errors.push(away);
    }
    let ours = tell("ours", errors, seconds, 0.3);
    for (method, count) in methods {
        let some = &pairs[..*count];
        let answer = peer("register_pairs", &json!({ "pairs": some, "method": method }));
        let matrices = answer["matrices"].as_array().expect("matrices");
        let errors = matrices.iter().zip(some).zip(&sizes).map(|((found, pair), size)| {
            let truth = transform(&pair["truth"]).expect("a truth");
            transform(found).map_or(f64::INFINITY, |found| error(&found, &truth, size[0], size[1]))
        });
        let theirs = tell(method, errors.collect(), crate::numbers(&answer["each"]), 0.3);
        assert!(ours.median <= theirs.median, "{method} has a median of {}", theirs.median);
        let share = |told: &Told| {
            told.errors.iter().filter(|error| **error < 0.3).count() as f64 / told.errors.len() as f64
        };
        assert!(share(&ours) >= share(&theirs), "{method} finds more");
    }
}
