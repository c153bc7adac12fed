//! The verb on slanted edges, with the sample's scans and truths.

use serde_json::Value;

use crate::{json, number, sample, truth, twinwedge};

/// Source: `expected.json`. Without calibration the codes pass for sRGB, which they are not; with it and the tablet's readings
/// the edge is measured in exposure.
#[test]
fn an_edge_is_measured_in_exposure() {
    let folder = tempfile::tempdir().expect("a folder");
    let calibration = folder.path().join("scanner.ron");
    let path = |file: &str| sample(file).display().to_string();
    let text = format!(
        "(scan: {:?}, tablet: {:?}, corners: ((51.47, 80.42), (1710.73, 60.42), (1711.32, 218.41), (53.65, 238.18)))",
        path("scans/film-scanner-tablet.tif"),
        path("step-tablet.csv")
    );
    std::fs::write(&calibration, text).expect("written");
    let calibration = calibration.display().to_string();
    let found = json(&[
        "edge",
        &path("scans/tern-160-edge.tif"),
        "--area",
        "8,8 312,412",
        "--calibration",
        &calibration,
        "--readings",
        &path("readings/tern-160.csv"),
        "--tablet",
        &path("step-tablet.csv"),
    ]);
    let truth = &truth()["films"]["Tern 160"]["edge"];
    assert_eq!(found["space"], "exposure");
    let mtf = &found["mtf50"];
    let expected = number(&truth["mtf50"]);
    assert!((number(&mtf["value"]) / expected - 1.0).abs() < 0.08, "{mtf} for {expected}");
    assert!(number(&mtf["low"]) <= expected && expected <= number(&mtf["high"]), "{mtf} for {expected}");
    assert_eq!(mtf["unit"], "cycles/mm");
    assert!((number(&found["angle_degrees"]) - number(&truth["degrees"])).abs() < 0.05);
    for (side, truth) in
        [("thin_density", 0), ("dense_density", 1)].map(|(side, b)| (side, &truth["densities"][b]))
    {
        let found = &found["sides"][side];
        assert!((number(found) - number(truth)).abs() < 0.02, "{found} for {truth}");
    }
    assert_eq!(found["overshoot"]["cause"], "none_seen", "{}", found["overshoot"]);
    assert!(found["mtf"].as_array().is_some_and(|points| points.len() > 20));
    let notes: Vec<&str> =
        found["notes"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    assert!(notes.iter().any(|note| note.starts_with("Film with scanner")), "{notes:?}");
}

#[test]
fn what_is_no_edge_is_refused_with_cause_and_remedy() {
    let path = sample("scans/tern-160-grain.tif").display().to_string();
    let output = twinwedge(&["edge", &path, "--area", "100,100 500,500"]);
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(said.contains("edge") && (said.contains("--area") || said.contains("Choose")), "{said}");
}
