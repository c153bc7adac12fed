//! Patches to stops, sensitivities and filters from tables alone, against what the sample's simulator knows.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde_json::Value;
use twinwedge_workbench::store;

use crate::{sample, twinwedge};

fn truth() -> Value {
    serde_json::from_slice(&std::fs::read(sample("expected.json")).expect("the truth")).expect("JSON")
}

/// The sample's prints of Tern 160 and Plover 640 as a densitometer without errors reads them, to a thousandth.
pub(crate) fn table(folder: &Path) -> PathBuf {
    let text = std::fs::read_to_string(sample("saltmarsh.twinwedge")).expect("the series");
    let series = store::parse(&text, "saltmarsh.twinwedge").expect("a series");
    let truth = truth();
    let mut rows = String::from("patch,known,reference,candidate,u\n");
    for patch in series.layout.expect("a layout").patches {
        let print = |film: &str| truth["films"][film]["patches"][&patch.name].as_f64().expect("a density");
        let known = patch.density.map_or_else(String::new, |density| density.to_string());
        writeln!(
            rows,
            "\"{}\",{known},{:.3},{:.3},0.005",
            patch.name,
            print("Tern 160"),
            print("Plover 640")
        )
        .expect("text");
    }
    let path = folder.join("target.csv");
    std::fs::write(&path, rows).expect("a table");
    path
}

fn answer(arguments: &[&str], code: i32) -> Value {
    let output = twinwedge(arguments);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(code), "{told}");
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{error}: {told}"))
}

fn refused(arguments: &[&str], words: &str) {
    let output = twinwedge(arguments);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert!(told.contains(words), "{words}: {told}");
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is a number"))
}

#[test]
fn patches_become_the_stops_that_the_simulator_knows() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = table(folder.path()).display().to_string();
    let reflectances = sample("target/reflectances.csv").display().to_string();
    let found = answer(&["greys", &path, "--reflectances", &reflectances], 0);
    let truth = truth();
    let stops = |film: &str, patch: &Value| {
        number(&truth["films"][film]["patch_stops"][patch.as_str().expect("a name")])
    };
    let mut read = 0;
    for row in found["patches"].as_array().expect("patches") {
        if row["difference"].is_null() {
            continue;
        }
        let truth = stops("Plover 640", &row["name"]) - stops("Tern 160", &row["name"]);
        let (found, u) = (number(&row["difference"]["value"]), number(&row["difference"]["u"]));
        // Nothing but the known densities' last digit and the curve between neutrals lies between.
        assert!((found - truth).abs() < 2.0 * u, "{}: {found} for {truth}, u {u}", row["name"]);
        match row["said"].as_str() {
            Some("lighter") => assert!(truth > 0.0, "{row}"),
            Some("darker") => assert!(truth < 0.0, "{row}"),
            said => assert_eq!(said, Some("not distinguishable")),
        }
        read += 1;
    }
    assert_eq!(read, 16);
    assert!(found["families"].as_array().expect("families").len() >= 4, "{}", found["families"]);
}

#[test]
fn a_film_s_shares_lie_where_the_simulator_put_them() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = table(folder.path()).display().to_string();
    let [reflectances, light] =
        ["reflectances", "light"].map(|file| sample(&format!("target/{file}.csv")).display().to_string());
    let arguments = ["sensitivity", &path, "--reflectances", &reflectances, "--light", &light];
    let output = twinwedge(&arguments);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    let found: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let bands = found["bands"].as_array().expect("bands");
    let all_told = bands.iter().all(|band| band["told_apart"] == true);
    assert_eq!(output.status.code(), Some(if all_told { 0 } else { 1 }), "{told}");
    for (band, truth) in
        bands.iter().zip(truth()["films"]["Tern 160"]["band_shares"].as_array().expect("shares"))
    {
        let (low, high) = (number(&band["possible"]["low"]), number(&band["possible"]["high"]));
        let low = low.min(number(&band["exposure_share"]["low"]));
        let high = high.max(number(&band["exposure_share"]["high"]));
        assert!((low - 1e-3..=high + 1e-3).contains(&number(truth)), "{band} for {truth}");
    }
}

/// A film that is equally sensitive to all, under equal light: the factor is the reciprocal of the mean transmittance.
#[test]
fn factors_of_filters_are_means_of_transmittance() {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: String| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).expect("a file");
        path.display().to_string()
    };
    let rows = |value: &dyn Fn(u32) -> f64| -> String {
        (0..=30).map(|i| format!("{},{}\n", 400 + 10 * i, value(i))).collect()
    };
    let flat = write("flat.csv", rows(&|_| 1.0));
    let half = write("half.csv", rows(&|i| if i < 16 { 0.2 } else { 0.9 }));
    let found = answer(&["filters", &flat, "--light", &flat, "--filter", &half], 0);
    let mean = (16.0 * 0.2 + 15.0 * 0.9) / 31.0;
    let factor = number(&found["filters"][0]["filter_factor"]["exposure_factor"]);
    assert!((factor - 1.0 / mean).abs() < 1e-9, "{factor}");
    let all = answer(&["filters", &flat, "--light", "daylight 5500"], 0);
    assert_eq!(all["filters"].as_array().expect("filters").len(), 11);
    let percent = write("percent.csv", rows(&|i| if i < 16 { 20.0 } else { 90.0 }));
    let output = twinwedge(&["filters", &flat, "--light", &flat, "--filter", &percent]);
    assert_eq!(output.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&output.stderr).contains("in per cent; they were taken as such"));
}

#[test]
fn too_few_neutrals_and_bad_tables_are_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).expect("a file");
        path.display().to_string()
    };
    let few = write("few.csv", "patch,known,density\ngrey card,0.74,0.75\nwhite,0.06,0.1\nbrick,,1.0\n");
    let found = answer(&["greys", &few], 1);
    assert_eq!(found["by"], "not corrected for contrast");
    assert_eq!(found["patches"][2]["is"], "not corrected for contrast");
    let told = String::from_utf8_lossy(&twinwedge(&["greys", &few]).stderr).into_owned();
    assert!(told.contains("only 2 neutral patches of different known density"), "{told}");
    refused(&["greys", &write("no.csv", "patch,density\nbrick,1.0\n")], "No patch is called 'grey card'");
    refused(&["greys", &write("none.csv", "a,b\n1,2\n")], "no table of patches");
    let light = write("gap.csv", "400,1\n410,1\n420,1\n470,1\n");
    refused(&["filters", &light, "--light", "daylight 5500"], "no row between 420 and 470 nm");
    let flat = write("flat.csv", "400,1\n420,1\n440,1\n460,1\n480,1\n500,1\n");
    refused(&["filters", &flat, "--light", "daylight 300"], "--light");
}
