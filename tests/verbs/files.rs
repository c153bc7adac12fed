//! The verbs on files alone.

use std::fmt::Write as _;

use serde_json::Value;

use crate::{json, number, sample, truth, twinwedge};

/// `x,y x,y x,y x,y` of a strip's true corners.
fn corners(of: &Value) -> String {
    let corners = of["strip_corners"].as_array().expect("corners");
    let words: Vec<String> = corners.iter().map(|point| format!("{},{}", point[0], point[1])).collect();
    words.join(" ")
}

/// A calibration file for the sample's film scanner, beside a copy of nothing: its paths are absolute.
pub(crate) fn calibration(
    folder: &std::path::Path,
    scan: &str,
    tablet: &str,
    corners: &str,
) -> std::path::PathBuf {
    let points: Vec<String> = corners.split(' ').map(|point| format!("({point})")).collect();
    let text = format!(
        "(scan: {:?}, tablet: {:?}, corners: ({}))",
        sample(scan).display().to_string(),
        sample(tablet).display().to_string(),
        points.join(", ")
    );
    let path = folder.join("scanner.ron");
    std::fs::write(&path, text).expect("a file");
    path
}

/// As the tester marked it (list.csv of the sample).
pub(crate) const FILM_SCANNER: &str = "51.47,80.42 1710.73,60.42 1711.32,218.41 53.65,238.18";
const PRINT_SCANNER: &str = "54.46,52.85 1711.91,88.69 1710.07,245.27 50.39,210.32";

/// Source: check value fixture.tablet21 (constructed from its stated formula): an ISO 100 film read without noise through
/// a 21-step tablet; its speed point is lg H = -2.09691, and 0.01 is allowed for the tablet's coarseness.
#[test]
fn readings_of_an_iso_100_film() {
    let checks: Value = serde_json::from_str(include_str!("../published/check-values.json")).expect("JSON");
    let checks = checks["checks"].as_array().expect("a list");
    let fixture = checks.iter().find(|check| check["id"] == "fixture.tablet21").expect("the fixture");
    let folder = tempfile::tempdir().expect("a folder");
    let column = |values: &Value| {
        let mut text = String::from("step;density\n");
        for (step, value) in values.as_array().expect("numbers").iter().enumerate() {
            // The decimal comma of half the world, and semicolons with it.
            writeln!(text, "{};{}", step + 1, value.to_string().replace('.', ",")).expect("text");
        }
        text
    };
    let (readings, tablet) = (folder.path().join("readings.csv"), folder.path().join("tablet.csv"));
    std::fs::write(&readings, column(&fixture["expected"]["D"])).expect("a file");
    std::fs::write(&tablet, column(&fixture["inputs"]["tablet_D"])).expect("a file");
    let film = json(&[
        "curve",
        &readings.display().to_string(),
        "--tablet",
        &tablet.display().to_string(),
        "--exposure",
        "absolute 0.50",
        "--base-fog",
        "0.20 0.002",
    ]);
    let figure = |key: &str| number(&film["figures"][key]["value"]);
    assert!((figure("speed_point") - -2.09691).abs() < 0.01, "{}", film["figures"]["speed_point"]);
    assert!((figure("iso_speed") - 100.0).abs() < 2.5, "{}", film["figures"]["iso_speed"]);
    assert!((figure("iso_contrast") - 0.80).abs() < 0.01, "{}", film["figures"]["iso_contrast"]);
    assert!((figure("average_gradient") - 0.62657).abs() < 0.01, "{}", film["figures"]["average_gradient"]);
}

#[test]
fn a_strip_with_its_calibration() {
    let truth = &truth()["films"]["Tern 160"];
    let folder = tempfile::tempdir().expect("a folder");
    let calibration =
        calibration(folder.path(), "scans/film-scanner-tablet.tif", "step-tablet.csv", FILM_SCANNER);
    let scan = sample("scans/tern-160-strip.tif").display().to_string();
    let calibration = calibration.display().to_string();
    let corners = corners(truth);
    let strip =
        json(&["strip", &scan, "--corners", &corners, "--steps", "21", "--calibration", &calibration]);
    let steps = strip["steps"].as_array().expect("steps");
    assert_eq!(steps.len(), 21);
    for (step, expected) in steps.iter().zip(truth["strip_densities"].as_array().expect("densities")) {
        let density = number(&step["density"]["value"]);
        assert!((density - number(expected)).abs() < 0.02, "step {}: {density} for {expected}", step["step"]);
    }
    let bare = json(&["strip", &scan, "--corners", &corners, "--steps", "21", "--encoding", "srgb"]);
    let flags = bare["steps"][0]["density"]["flags"].to_string();
    assert!(flags.contains("uncalibrated"), "without a calibration it says so: {flags}");
}

/// The tablet is found in its scan; the file that is written reads the strip as the simulator made it, from wherever the program
/// is started. Source: `expected.json`.
#[test]
fn a_calibration_made_from_a_scan_and_its_densities() {
    let truth = &truth()["films"]["Tern 160"];
    let folder = tempfile::tempdir().expect("a folder");
    let (tablet, file) = (folder.path().join("tablet.csv"), folder.path().join("scanner.ron"));
    let scan = folder.path().join("tablet.tif");
    std::fs::copy(sample("step-tablet.csv"), &tablet).expect("a tablet");
    std::fs::copy(sample("scans/film-scanner-tablet.tif"), &scan).expect("a scan");
    let shown = |path: &std::path::Path| path.display().to_string();
    let made = json(&["calibrate", &shown(&scan), "--tablet", &shown(&tablet), "--out", &shown(&file)]);
    assert!(number(&made["residual_rms"]) < 0.01, "{}", made["residual_rms"]);
    assert_eq!(made["found"]["sure"], true, "{}", made["found"]["doubts"]);
    let written = std::fs::read_to_string(&file).expect("a calibration file");
    assert!(
        written.contains("\"tablet.tif\"") && written.contains("\"tablet.csv\""),
        "relative paths: {written}"
    );
    let strip = sample("scans/tern-160-strip.tif");
    let strip = json(&["strip", &shown(&strip), "--steps", "21", "--calibration", &shown(&file)]);
    let steps = strip["steps"].as_array().expect("steps");
    for (step, expected) in steps.iter().zip(truth["strip_densities"].as_array().expect("densities")) {
        let density = number(&step["density"]["value"]);
        assert!((density - number(expected)).abs() < 0.02, "step {}: {density} for {expected}", step["step"]);
    }
    // Its corners may have been measured by hand: once more only where that is said, and never over the tablet that is read.
    let again = ["calibrate", &shown(&scan), "--tablet", &shown(&tablet), "--out", &shown(&file)];
    std::fs::write(&file, written.replace("corners", " corners")).expect("changed by hand");
    assert_eq!(twinwedge(&again).status.code(), Some(2));
    assert!(std::fs::read_to_string(&file).expect("kept").contains(" corners"));
    json(&again.iter().copied().chain(["--force"]).collect::<Vec<_>>());
    assert_eq!(std::fs::read_to_string(&file).expect("written anew"), written);
    let refused =
        twinwedge(&["calibrate", &shown(&scan), "--tablet", &shown(&tablet), "--out", &shown(&tablet)]);
    assert_eq!(refused.status.code(), Some(2));
    assert_eq!(
        std::fs::read(&tablet).expect("kept"),
        std::fs::read(sample("step-tablet.csv")).expect("a tablet")
    );
}

#[test]
fn two_prints_and_a_layout() {
    let truth = truth();
    let folder = tempfile::tempdir().expect("a folder");
    let layout = folder.path().join("target.ron");
    let names: Vec<String> = (1..=24).map(|number| format!("\"patch {number}\"")).collect();
    let text = format!(
        "(rows: 4, columns: 6, corners: ((716.43,65.93), (1123.44,74.79), (1119.38,345.37), (711.12,336.96)), \
         patches: [{}])",
        names.join(", ")
    );
    std::fs::write(&layout, text).expect("a file");
    let calibration =
        calibration(folder.path(), "scans/print-scanner-tablet.tif", "reflection-tablet.csv", PRINT_SCANNER);
    let result = json(&[
        "patches",
        &sample("scans/tern-160-print.tif").display().to_string(),
        &sample("scans/plover-640-print.tif").display().to_string(),
        "--layout",
        &layout.display().to_string(),
        "--calibration",
        &calibration.display().to_string(),
    ]);
    let transform = &result["registration"]["transform"];
    let expected = &truth["films"]["Plover 640"]["print_from_reference"];
    // At the far corner of the print, a turn or size that is wrong moves a point by as much as the tolerance.
    assert!((number(&transform["scale"]) - number(&expected["scale"])).abs() < 0.3 / 1500.0, "{transform}");
    assert!(
        (number(&transform["angle_degrees"]).to_radians() - number(&expected["angle"])).abs() < 0.3 / 1500.0,
        "{transform}"
    );
    for (film, key) in [("Tern 160", "reference"), ("Plover 640", "candidate")] {
        let films = result["films"].as_array().expect("films");
        let of = films.iter().find(|film| film["role"] == key).expect("the film");
        let patches = of["patches"].as_array().expect("patches");
        let expected = truth["films"][film]["patches"].as_object().expect("densities");
        assert_eq!(patches.len(), expected.len());
        for (patch, (name, density)) in patches.iter().zip(expected) {
            let got = number(&patch["density"]["value"]);
            assert!((got - number(density)).abs() < 0.02, "{film}, {name}: {got} for {density}");
        }
    }
}

#[test]
fn a_plain_field() {
    let truth = &truth()["films"]["Tern 160"];
    let folder = tempfile::tempdir().expect("a folder");
    let calibration =
        calibration(folder.path(), "scans/film-scanner-tablet.tif", "step-tablet.csv", FILM_SCANNER);
    let grain = json(&[
        "grain",
        &sample("scans/tern-160-grain.tif").display().to_string(),
        "--calibration",
        &calibration.display().to_string(),
    ]);
    let grain = &grain["areas"][0];
    let rms = &grain["granularity"];
    let expected = number(&truth["granularity"]);
    assert!(number(&rms["low"]) <= expected && expected <= number(&rms["high"]), "{expected} lies in {rms}");
    let density = number(&grain["density"]["value"]);
    assert!((density - number(&truth["granularity_density"])).abs() < 0.02, "{density}");
}

/// The same two prints by themselves: each model on request, and two prints of different subjects refused.
#[test]
fn two_prints_are_registered_with_the_model_that_is_asked_for() {
    let expected = &truth()["films"]["Plover 640"]["print_from_reference"];
    let (first, second) = (sample("scans/tern-160-print.tif"), sample("scans/plover-640-print.tif"));
    let (first, second) = (first.display().to_string(), second.display().to_string());
    let found = json(&["register", &first, &second]);
    assert_eq!(found["model_chosen_by"], "windows");
    assert_eq!(
        found["transform"]["model"], "similarity",
        "the sample's prints are turned, sized and shifted: {found}"
    );
    assert_eq!(found["sure"], true, "{found}");
    for model in ["similarity", "affine", "homography"] {
        let found = json(&["register", &first, &second, "--model", model]);
        assert_eq!(
            (&found["transform"]["model"], &found["model_chosen_by"]),
            (&model.into(), &"tester".into())
        );
        let scale = number(&found["transform"]["scale"]);
        assert!((scale - number(&expected["scale"])).abs() < 0.3 / 1500.0, "{model}: {scale}");
        assert!(number(&found["u_px"]) < 0.1 && number(&found["residual_px"]) < 0.5, "{found}");
    }
}

/// A layout leaves one series as a file and enters another; laid by its corners it gives the densities that the simulator
/// knows, and a bad one is refused with its place.
#[test]
fn a_layout_goes_from_series_to_file_and_back() {
    let truth = truth();
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("target.patches");
    let shown = file.display().to_string();
    let saved = twinwedge(&["layout", "sample", "--save", &shown]);
    assert!(saved.status.success(), "{}", String::from_utf8_lossy(&saved.stderr));
    let own = folder.path().join("own.twinwedge");
    std::fs::write(&own, "Series(format: 1)").expect("a file");
    let series = own.display().to_string();
    let loaded = twinwedge(&["layout", &series, "--load", &shown]);
    assert!(loaded.status.success(), "{}", String::from_utf8_lossy(&loaded.stderr));
    let text = std::fs::read_to_string(&own).expect("the series");
    assert!(text.contains("grey card") && text.contains("columns: 6"), "{text}");
    let calibration =
        calibration(folder.path(), "scans/print-scanner-tablet.tif", "reflection-tablet.csv", PRINT_SCANNER);
    let corners = "716.43,65.93 1123.44,74.79 1119.38,345.37 711.12,336.96";
    let result = json(&[
        "patches",
        &sample("scans/tern-160-print.tif").display().to_string(),
        &sample("scans/plover-640-print.tif").display().to_string(),
        "--layout",
        &shown,
        "--corners",
        corners,
        "--calibration",
        &calibration.display().to_string(),
    ]);
    let expected = truth["films"]["Plover 640"]["patches"].as_object().expect("densities");
    for patch in result["films"][1]["patches"].as_array().expect("patches") {
        let density = number(&expected[patch["name"].as_str().expect("a name")]);
        let got = number(&patch["density"]["value"]);
        assert!((got - density).abs() < 0.02, "{}: {got} for {density}", patch["name"]);
    }
}
