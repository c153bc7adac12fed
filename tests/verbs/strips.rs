//! Several strips of one roll without a window.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use crate::{doubtful_json, json, number, sample, truth, twinwedge};

/// Analytic: base+fog 0.20, a toe and a straight line of slope 0.7, read to two decimals behind 21 steps of 0.15 from 0.05,
/// so many stops less than a light of lg H 1.
fn readings(folder: &Path, name: &str, stops_less: f64) -> PathBuf {
    let mut text = String::from("density\n");
    for step in 0..21 {
        let x = 1.0 - 0.05 - 0.15 * f64::from(step) - stops_less * 2.0_f64.log10();
        let density = 0.20 + 0.35 * (1.0 + 10.0_f64.powf(2.0 * (x + 2.6))).log10();
        writeln!(text, "{density:.2}").expect("text");
    }
    let path = folder.join(name);
    std::fs::write(&path, text).expect("a file");
    path
}

/// Analytic: 0.10 above base+fog.
fn speed_point() -> f64 {
    -2.6 + (10.0_f64.powf(0.2 / 0.7) - 1.0).log10() / 2.0
}

#[test]
fn additional_strips_reach_the_toe_with_their_levels_known_or_found() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str, stops| readings(folder.path(), name, stops).display().to_string();
    let (first, second, third) = (path("first.csv", 0.0), path("second.csv", 3.0), path("third.csv", 6.0));
    let alone = [&first, "--tablet", "nominal 21", "--exposure", "absolute 1"];
    let alone = doubtful_json(&[&["curve"], &alone[..]].concat());
    let point = &alone["figures"]["speed_point"];
    let bounded =
        point["flags"].as_array().is_some_and(|flags| flags.iter().any(|flag| flag == "upper bound"));
    assert!(point["value"].is_null() || bounded, "the first strip ends above the toe: {point}");
    let film = json(&[
        "curve",
        &first,
        "--tablet",
        "nominal 21",
        "--exposure",
        "absolute 1",
        "--strip",
        &format!("{second},stops=3,u=0.1"),
        "--strip",
        &third,
    ]);
    let point = &film["figures"]["speed_point"];
    let (value, u) = (number(&point["value"]), number(&point["u"]));
    assert!((value - speed_point()).abs() < 3.0 * u && u < 0.05, "{point} for {}", speed_point());
    let levels = film["curve"]["levels"].as_array().expect("levels");
    for (level, truth) in levels.iter().zip([3.0, 6.0]) {
        let (stops, u) = (number(&level["stops_less"]), number(&level["u"]));
        assert!((stops - truth).abs() < 3.0 * u && u < 0.2, "{level} for {truth}");
        assert_eq!(level["contradicted"], false);
    }
    assert!((number(&levels[0]["stated"]["u"]) - 0.1).abs() < 1e-12);
    assert!(levels[1]["stated"].is_null());
    let model = &film["curve"]["parametric"];
    assert_eq!(model["lacks"], "no shoulder: the readings do not show one");
    let gamma = model["parameters"].as_array().expect("parameters").iter().find(|p| p["name"] == "gamma");
    let gamma = gamma.expect("a gamma");
    assert!((number(&gamma["estimate"]) - 0.7).abs() < 3.0 * number(&gamma["u"]), "{gamma}");
    assert_eq!(film["curve"]["readings"].as_array().expect("readings").len(), 63);
}

#[test]
fn a_wrong_level_and_a_strip_apart_are_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str, stops| readings(folder.path(), name, stops).display().to_string();
    let (first, second) = (path("first.csv", 0.0), path("second.csv", 2.0));
    let curve = |strip: &str| {
        twinwedge(&["curve", &first, "--tablet", "nominal 21", "--exposure", "absolute 1", "--strip", strip])
    };
    let output = curve(&format!("{second},stops=1,u=0.02"));
    let film: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(film["curve"]["levels"][0]["contradicted"], true, "{}", film["curve"]["levels"][0]);
    // Base alone: nothing in common with a rising curve.
    let flat = folder.path().join("flat.csv");
    std::fs::write(&flat, "density\n0.21\n0.20\n0.20\n0.20\n").expect("a file");
    let output = curve(&flat.display().to_string());
    let film: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let reason = film["curve"]["reason"].as_str().expect("a reason");
    assert!(reason.contains("flat") && reason.contains("overlap"), "{reason}");
    for wrong in [format!("{second},u=0.1"), format!("{second},stops=much"), format!("{second},light=1")] {
        let output = curve(&wrong);
        assert_eq!(output.status.code(), Some(2), "{wrong}");
        assert!(String::from_utf8_lossy(&output.stderr).contains("--strip"), "{wrong}");
    }
}

#[test]
fn a_list_gathers_several_strips_of_a_film() {
    let folder = tempfile::tempdir().expect("a folder");
    readings(folder.path(), "first.csv", 0.0);
    readings(folder.path(), "second.csv", 3.0);
    readings(folder.path(), "third.csv", 5.0);
    let list = folder.path().join("list.csv");
    std::fs::write(
        &list,
        "file,kind,film,role,tablet,exposure\n\
         first.csv,readings,Tern 160,reference,nominal 21,absolute 1\n\
         second.csv,readings,Tern 160,,,less 3 0.1\n\
         third.csv,readings,Tern 160,,,overlap\n",
    )
    .expect("a list");
    let series = folder.path().join("made.twinwedge").display().to_string();
    let output = twinwedge(&["gather", &list.display().to_string(), "--out", &series]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let figures = json(&["figures", &series]);
    let levels = figures["films"][0]["curve"]["levels"].as_array().expect("levels").clone();
    assert_eq!(levels.len(), 2);
    assert!((number(&levels[1]["stops_less"]) - 5.0).abs() < 0.3, "{}", levels[1]);
}

/// Largest distance between corners.
fn apart(found: &serde_json::Value, known: &[[f64; 2]]) -> f64 {
    let corners = found["corners"].as_array().expect("corners");
    let distance = |(corner, known): (&serde_json::Value, &[f64; 2])| {
        (number(&corner["x"]) - known[0]).hypot(number(&corner["y"]) - known[1])
    };
    corners.iter().zip(known).map(distance).fold(0.0, f64::max)
}

/// Source: the sample's simulator laid the strips down; `expected.json` has their corners.
#[test]
fn the_strips_of_the_sample_are_found_without_corners() {
    let truth = truth();
    for (label, stem) in [("Tern 160", "tern-160"), ("Plover 640", "plover-640"), ("Dunlin 40", "dunlin-40")]
    {
        let known: Vec<[f64; 2]> =
            serde_json::from_value(truth["films"][label]["strip_corners"].clone()).expect("corners");
        let scan = sample(&format!("scans/{stem}-strip.tif")).display().to_string();
        let strip = json(&["strip", &scan, "--steps", "21", "--encoding", "srgb"]);
        let found = &strip["found"];
        assert!(apart(found, &known) < 1.5, "{label}: {found} for {known:?}");
        assert_eq!(found["step_count"], 21);
        assert_eq!(found["borders"].as_array().map(Vec::len), Some(22));
        assert_eq!(strip["steps"].as_array().map(Vec::len), Some(21));
        let doubtful = found["doubts"].as_array().is_some_and(|doubts| !doubts.is_empty());
        assert_eq!(found["sure"] == false, doubtful, "{found}");
    }
    let scan = sample("scans/film-scanner-tablet.tif").display().to_string();
    let tablet = json(&["strip", &scan, "--order", "rising", "--steps", "21", "--encoding", "srgb"]);
    assert_eq!(tablet["found"]["step_count"], 21, "{}", tablet["found"]);
    // As the tester marked it (list.csv of the sample), off by up to a pixel each way.
    let marked = [[51.47, 80.42], [1710.73, 60.42], [1711.32, 218.41], [53.65, 238.18]];
    assert!(apart(&tablet["found"], &marked) < 3.0, "{}", tablet["found"]);
}

#[test]
fn a_scan_without_a_strip_is_refused_with_the_reason() {
    let output = twinwedge(&["strip", &sample("scans/tern-160-grain.tif").display().to_string()]);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_ne!(output.status.code(), Some(0));
    assert!(said.contains("corners"), "{said}");
}
