//! Step densities of scanned tablets, and prints moved by fractions of a pixel, beside `OpenCV`, scikit-image and scipy on the
//! same files, which `scans.py` simulates.

use std::time::Instant;

use serde_json::{Value, json};
use twinwedge_core::document::Channel;
use twinwedge_core::geometry::Point;
use twinwedge_core::register::register;
use twinwedge_core::scan::ToneTable;
use twinwedge_core::tablet::find::{Order, Wanted, find_strip};
use twinwedge_core::tablet::sample_strip;
use twinwedge_workbench::load::{self, Limits};

use crate::registration::{picture, tell};
use crate::{numbers, peer};

/// Errors of a strip's densities; infinite where it was not read.
fn errors(read: &[f64], truth: &[f64]) -> Vec<f64> {
    if read.len() != truth.len() {
        return vec![f64::INFINITY; truth.len()];
    }
    read.iter().zip(truth).map(|(read, truth)| (read - truth).abs()).collect()
}

/// Ours must find the strips first; the others are given their true corners. As near in the middle and at 95 of 100 steps as
/// the best of them, and 95 of 100 within 0.01.
#[test]
fn steps_are_read_as_well_as_by_opencv_and_scikit_image() {
    const STRIPS: usize = 16;
    let folder = tempfile::tempdir().expect("a folder");
    let strips = peer("strips", &json!({ "folder": folder.path(), "count": STRIPS }))["strips"].clone();
    let strips = strips.as_array().expect("strips");
    let truth = |strip: &Value| numbers(&strip["densities"]);
    println!(
        "{:<34} {:>3} {:>10} {:>8} {:>8} {:>8} {:>10}",
        "steps of 16 strips", "all", "under 0.01", "median", "95 %", "worst", "median s"
    );
    let (mut ours, mut seconds) = (Vec::new(), Vec::new());
    for strip in strips {
        let start = Instant::now();
        let path = std::path::Path::new(strip["path"].as_str().expect("a path"));
        let scan = load::scan(path, Limits::default(), &|_| true).expect("a scan");
        let table = ToneTable::uncalibrated(&scan);
        let plane = scan.plane(Channel::default());
        let steps = strip["steps"].as_u64().and_then(|steps| u32::try_from(steps).ok());
        let found = find_strip(plane, &table, &Wanted { steps, order: Order::Rising }, &|| false);
        let read = found.ok().and_then(|found| sample_strip(plane, &table, &found.value.shape).ok());
        let read: Vec<f64> = read.into_iter().flatten().map(|step| step.density.number()).collect();
        seconds.push(start.elapsed().as_secs_f64());
        ours.extend(errors(&read, &truth(strip)));
    }
    let ours = tell("ours, found by itself", ours, seconds, 0.01);
    assert!(ours.most < 0.01, "95 of 100 steps lie within {}", ours.most);
    for method in [
        "OpenCV, warp and mean",
        "OpenCV, warp, median blur, mean",
        "OpenCV, warp, bilateral, mean",
        "scikit-image, warp, median, mean",
        "OpenCV, warp; scipy, trimmed mean",
    ] {
        let answer = peer("strip_densities", &json!({ "strips": strips, "method": method }));
        let read = answer["densities"].as_array().expect("densities");
        let theirs = read.iter().zip(strips).flat_map(|(read, strip)| errors(&numbers(read), &truth(strip)));
        let theirs = tell(method, theirs.collect(), numbers(&answer["each"]), 0.01);
        assert!(ours.median <= theirs.median, "{method} has a median of {}", theirs.median);
        assert!(ours.most <= theirs.most, "{method} has {} at 95 of 100", theirs.most);
    }
}

/// Ten photographs as two prints each, moved by up to nine pixels and a fraction: no larger a median than any correlation.
#[test]
fn shifts_are_found_as_well_as_by_phase_correlation() {
    let folder = tempfile::tempdir().expect("a folder");
    let pairs = peer("shifted", &json!({ "folder": folder.path(), "each": 1 }))["pairs"].clone();
    let pairs = pairs.as_array().expect("pairs");
    println!(
        "{:<34} {:>3} {:>10} {:>8} {:>8} {:>8} {:>10}",
        "moved photographs", "all", "under 0.3", "median", "95 %", "worst", "median s"
    );
    let middle = Point::new(220.0, 200.0);
    let (mut ours, mut seconds) = (Vec::new(), Vec::new());
    for pair in pairs {
        let (a, b) = (picture(&pair["first"]), picture(&pair["second"]));
        let start = Instant::now();
        let found = register(&a, &b, None, &|| false);
        seconds.push(start.elapsed().as_secs_f64());
        let shift = numbers(&pair["shift"]);
        ours.push(found.map_or(f64::INFINITY, |found| {
            let at = found.transform.map(middle);
            (at.x - middle.x - shift[0]).hypot(at.y - middle.y - shift[1])
        }));
    }
    let ours = tell("ours, any turn and size", ours, seconds, 0.3);
    for method in
        ["scikit-image, phase correlation", "scikit-image, cross-correlation", "OpenCV, phase correlation"]
    {
        let answer = peer("find_shifts", &json!({ "pairs": pairs, "method": method }));
        let theirs = answer["shifts"].as_array().expect("shifts").iter().zip(pairs).map(|(found, pair)| {
            let (found, shift) = (numbers(found), numbers(&pair["shift"]));
            (found[0] - shift[0]).hypot(found[1] - shift[1])
        });
        let theirs = tell(method, theirs.collect(), numbers(&answer["each"]), 0.3);
        assert!(ours.median <= theirs.median, "{method} has a median of {}", theirs.median);
    }
}
