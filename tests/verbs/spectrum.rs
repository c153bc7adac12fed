//! The verb 'spectrum' on the sample's uniform areas, whose granularity its simulator states.

use crate::files::{FILM_SCANNER, calibration};
use crate::{doubtful_json, json, number, sample, truth};

#[test]
fn two_plain_fields_and_how_their_grain_is_seen() {
    let truth = truth();
    let folder = tempfile::tempdir().expect("a folder");
    let scanner =
        calibration(folder.path(), "scans/film-scanner-tablet.tif", "step-tablet.csv", FILM_SCANNER);
    let path = |file: &str| sample(file).display().to_string();
    let ask = |enlargement: &str| {
        json(&[
            "spectrum",
            &path("scans/tern-160-grain.tif"),
            "--against",
            &path("scans/plover-640-grain.tif"),
            "--calibration",
            &scanner.display().to_string(),
            "--enlargement",
            enlargement,
        ])
    };
    let found = ask("8");
    for (key, film) in [("spectrum", "Tern 160"), ("against", "Plover 640")] {
        let spectrum = &found[key];
        let through = &spectrum["granularity_48_um"];
        let expected = number(&truth["films"][film]["granularity"]);
        let got = number(&through["value"]);
        assert!(
            (got - expected).abs() < 3.0 * number(&through["u"]) + 0.02 * expected,
            "{film}: {got} for {expected}"
        );
        let density = number(&spectrum["density"]["value"]);
        assert!((density - number(&truth["films"][film]["granularity_density"])).abs() < 0.02, "{density}");
        let sum =
            number(&spectrum["density_variance_over_frequencies"]) / number(&spectrum["density_variance"]);
        assert!((sum - 1.0).abs() < 0.03, "{film}: {sum}");
        // The simulated grain hangs together without direction.
        assert_eq!(spectrum["lines"].as_array().expect("lines").len(), 0, "{spectrum}");
        assert!(spectrum["rings"].as_array().expect("rings").len() > 40);
    }
    let viewed = &found["viewed"];
    let visible = |film: &str| number(&viewed[film]["visible_granularity"]["value"]);
    assert!(
        (visible("candidate") / visible("reference") / number(&viewed["ratio"]["value"]) - 1.0).abs() < 1e-9
    );
    assert!(visible("candidate") > visible("reference"), "the faster film is grainier");
    let from = |film: &str| number(&viewed[film]["seen_from_enlargement"]["value"]);
    assert!(from("candidate") < from("reference"));
    // At its own threshold a film's grain is neither plainly seen nor plainly not.
    let there = ask(&format!("{:.3}", from("reference")));
    let modulation = number(&there["viewed"]["reference"]["modulation_over_threshold"]["value"]);
    assert!((modulation - 1.0).abs() < 0.02, "{modulation}");
}

/// The sample's field with a blank area marked in the scan itself, far from its density: refused in words; and the verb's own
/// choices.
#[test]
fn where_the_scanners_noise_is_known_from_is_said() {
    let path = sample("scans/tern-160-grain.tif").display().to_string();
    let reason = |arguments: &[&str]| {
        let found = doubtful_json(&[&["spectrum", path.as_str(), "--encoding", "srgb"], arguments].concat());
        found["spectrum"]["scanner_noise"].clone()
    };
    let plain = reason(&["--area", "0,0 300,300"]);
    assert!(plain["reason"].as_str().is_some_and(|why| why.contains("calibration")), "{plain}");
    let blank = reason(&["--area", "0,0 300,300", "--blank-area", "320,320 560,560"]);
    assert_eq!(blank["by"], "blank", "{blank}");
    assert!(number(&blank["variance_ratio"]) > 0.9, "the same film is all noise to itself: {blank}");
    let repeat = reason(&["--area", "0,0 300,300", "--repeat", path.as_str()]);
    assert!(repeat["by"] == "repeat" && number(&repeat["variance_ratio"]) < 1e-6, "{repeat}");
}
