//! Registration of prints made of photographs beside other libraries: accuracy and time on the same files, as one table.

use std::path::Path;
use std::time::Instant;

use serde_json::{Value, json};
use twinwedge_core::document::Channel;
use twinwedge_core::geometry::{Model, Point, Transform};
use twinwedge_core::register::{Picture, register};
use twinwedge_core::scan::ToneTable;
use twinwedge_workbench::load::{self, Limits};

use super::{RUNS, ours, peers};
use crate::{Failure, say};

/// Pairs of each photograph.
const EACH: u32 = 2;
/// Methods of `tests/outside/registration.py`, and how many of the pairs each is asked about: the slow ones fewer.
const METHODS: [(&str, usize); 5] = [
    ("OpenCV, ORB and RANSAC", 20),
    ("OpenCV, SIFT and RANSAC", 20),
    ("OpenCV, ECC coarse to fine", 20),
    ("OpenCV, SIFT, RANSAC and ECC", 10),
    ("scikit-image, ORB, RANSAC, phase", 6),
];
/// A pair that lies nearer than this, in pixels, is found.
const NEAR: f64 = 0.3;

/// What one method did.
struct Done {
    found: f64,
    median: f64,
    seconds: f64,
}

/// Registers all pairs: seconds of all, and the matrices.
pub(super) fn measured(folder: &Path) -> Result<(f64, Vec<Value>), Failure> {
    let (mut seconds, mut matrices) = (0.0, Vec::new());
    for pair in pairs(folder)? {
        let (a, b) = (picture(&pair["first"])?, picture(&pair["second"])?);
        let start = Instant::now();
        let found = register(&a, &b, None, &|| false);
        seconds += start.elapsed().as_secs_f64();
        matrices.push(found.map_or(Value::Null, |found| json!(found.transform.rows())));
    }
    Ok((seconds, matrices))
}

/// Prints the table.
///
/// # Errors
/// The pairs cannot be made, or a method could not run.
pub(super) fn run(top: &Path, folder: &Path) -> Result<(), Failure> {
    let made =
        peers::answer(top, "photographs", &json!({ "folder": folder.join("photographs"), "each": EACH }))?;
    std::fs::write(folder.join("pairs.json"), made["pairs"].to_string())?;
    let pairs = pairs(folder)?;
    say(format_args!(
        "\n{:<40} {:>6} {:>12} {:>10} {:>12}",
        "registration of photographs", "pairs", "within 0.3 px", "median px", "s for each"
    ));
    let tell = |name: &str, count: usize, done: &Done| {
        say(format_args!(
            "{name:<40} {count:>6} {:>11.0} % {:>10.3} {:>12.3}",
            100.0 * done.found,
            done.median,
            done.seconds
        ));
    };
    let mut best: Option<Done> = None;
    for _ in 0..RUNS {
        let done = read(&ours::answer("register", folder)?, &pairs)?;
        if best.as_ref().is_none_or(|best| done.seconds < best.seconds) {
            best = Some(done);
        }
    }
    let ours = best.ok_or("no run")?;
    tell("ours", pairs.len(), &ours);
    let mut fastest: Option<(&str, f64)> = None;
    for (method, count) in METHODS {
        let some = &pairs[..count.min(pairs.len())];
        let done =
            read(&peers::answer(top, "register_pairs", &json!({ "pairs": some, "method": method }))?, some)?;
        tell(method, some.len(), &done);
        // One that misses most of the pairs does not do the work.
        if done.found > 0.5 && fastest.is_none_or(|(_, seconds)| done.seconds < seconds) {
            fastest = Some((method, done.seconds));
        }
    }
    if let Some((method, seconds)) = fastest {
        let ratio = seconds / ours.seconds;
        let met = if ratio > 2.0 { "met" } else { "MISSED" };
        say(format_args!(
            "over 2 times as fast as {method}, the fastest that finds most pairs ({ratio:.1}): {met}"
        ));
    }
    Ok(())
}

fn read(answer: &Value, pairs: &[Value]) -> Result<Done, Failure> {
    let matrices = answer["matrices"].as_array().ok_or("no matrices")?;
    let mut errors = Vec::new();
    for (found, pair) in matrices.iter().zip(pairs) {
        let truth = transform(&pair["truth"]).ok_or("no truth")?;
        errors.push(transform(found).map_or(f64::INFINITY, |found| error(&found, &truth)));
    }
    errors.sort_by(f64::total_cmp);
    let near = errors.iter().filter(|error| **error < NEAR).count();
    let seconds = answer["seconds"].as_f64().ok_or("no seconds")?;
    let count = errors.len().max(1);
    Ok(Done {
        found: near as f64 / count as f64,
        median: errors.get(errors.len() / 2).copied().unwrap_or(f64::INFINITY),
        seconds: seconds / count as f64,
    })
}

fn pairs(folder: &Path) -> Result<Vec<Value>, Failure> {
    Ok(serde_json::from_str(&std::fs::read_to_string(folder.join("pairs.json"))?)?)
}

fn picture(path: &Value) -> Result<Picture, Failure> {
    let path = Path::new(path.as_str().ok_or("no path")?);
    let scan = load::scan(path, Limits::default(), &|_| true)?;
    let table = ToneTable::uncalibrated(&scan);
    let density: Vec<f32> = table.density.iter().map(|density| *density as f32).collect();
    let plane = scan.plane(Channel::default());
    let mut tones = vec![0.0; plane.width() * plane.height()];
    for (y, row) in tones.chunks_mut(plane.width().max(1)).enumerate() {
        plane.look_up(&density, y, 0, row);
    }
    Ok(Picture { width: plane.width(), height: plane.height(), tones, scale: 1.0 })
}

fn transform(rows: &Value) -> Option<Transform> {
    let row = |i: usize| Some([rows[i][0].as_f64()?, rows[i][1].as_f64()?, rows[i][2].as_f64()?]);
    Transform::from_rows(Model::Homography, [row(0)?, row(1)?, row(2)?])
}

/// Root mean square distance over the true overlap of two prints of 560 by 520 pixels.
fn error(found: &Transform, truth: &Transform) -> f64 {
    const SIDE: u32 = 20;
    let share = |k: u32| (f64::from(k) + 0.5) / f64::from(SIDE);
    let squares: Vec<f64> = (0..SIDE * SIDE)
        .map(|k| Point::new(share(k % SIDE) * 560.0, share(k / SIDE) * 520.0))
        .map(|p| (found.map(p), truth.map(p)))
        .filter(|(_, at)| (0.0..560.0).contains(&at.x) && (0.0..520.0).contains(&at.y))
        .map(|(f, t)| (f.x - t.x).powi(2) + (f.y - t.y).powi(2))
        .collect();
    (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt()
}
