//! Readings as people write them, and one bad step among them, through the verb on tables.

use std::path::Path;

use serde_json::Value;

use crate::twinwedge;

/// A film with toe, straight line and shoulder behind a tablet of so many even steps, in two digits: a logistic curve.
fn densities(steps: u32) -> Vec<f64> {
    let density = |step: u32| 0.22 + 1.9 / (1.0 + (-3.0 * (0.95 - 0.15 * f64::from(step))).exp());
    (0..steps).map(|step| (100.0 * density(step)).round() / 100.0).collect()
}

fn table(densities: &[f64]) -> String {
    let row = |(step, density): (usize, &f64)| format!("{};{density:.2}\n", step + 1);
    "step;density\n".to_owned() + &densities.iter().enumerate().map(row).collect::<String>()
}

/// Exit code, JSON and what was told.
fn curve(folder: &Path, text: &str, options: &[&str]) -> (i32, Value, String) {
    let path = folder.join("readings.csv");
    std::fs::write(&path, text).expect("a file");
    let path = path.display().to_string();
    let output = twinwedge(&[&["curve", path.as_str()], options].concat());
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    let json = serde_json::from_slice(&output.stdout).unwrap_or(Value::Null);
    (output.status.code().expect("a code"), json, told)
}

/// The speed point and base+fog without the bad step are those of the good film within their own uncertainty.
#[test]
fn one_bad_step_is_named_set_aside_and_may_be_kept() {
    let folder = tempfile::tempdir().expect("a folder");
    let good = densities(21);
    let nominal = ["--tablet", "nominal 21"];
    let (code, clean, told) = curve(folder.path(), &table(&good), &nominal);
    assert_eq!((code, told.contains("set aside")), (0, false), "{told}");
    let mut bad = good.clone();
    // A digit lost: 0.13 for 1.3.
    bad[8] /= 10.0;
    let (code, answer, told) = curve(folder.path(), &table(&bad), &nominal);
    assert_eq!(code, 1, "{told}");
    for word in ["Step 9 reads", "lower than the curve of the others", "set aside", "--keep 9"] {
        assert!(told.contains(word), "{told} should say {word:?}");
    }
    let outliers = answer["curve"]["outliers"].as_array().expect("a list");
    assert_eq!(outliers.len(), 1);
    assert_eq!((&outliers[0]["step"], &outliers[0]["set_aside"]), (&Value::from(9), &Value::from(true)));
    for figure in ["base_fog", "speed_point", "gamma", "average_gradient"] {
        let of = |answer: &Value, part: &str| answer["figures"][figure][part].as_f64();
        // Bounds have no uncertainty.
        if let (Some(value), Some(_)) = (of(&clean, "value"), of(&clean, "u")) {
            let found = of(&answer, "value").unwrap_or_else(|| panic!("{figure} is lost: {answer}"));
            let u = of(&answer, "u").expect("an uncertainty");
            assert!((found - value).abs() < 2.0 * u, "{figure}: {found} for {value}, u {u}");
        }
    }
    // Off by less, kept, it is fitted and still named.
    bad[8] = good[8] + 0.15;
    let keep = [&nominal[..], &["--keep", "9"]].concat();
    let (_, answer, told) = curve(folder.path(), &table(&bad), &keep);
    assert_eq!(answer["curve"]["outliers"][0]["standing"], "kept", "{told}");
    assert!(told.contains("kept in the fit by hand"), "{told}");
    // Set aside by hand, nothing is left to say.
    let aside = [&nominal[..], &["--set-aside", "9"]].concat();
    let (code, answer, told) = curve(folder.path(), &table(&bad), &aside);
    assert_eq!((code, answer["curve"]["outliers"].as_array().map(Vec::len)), (0, Some(0)), "{told}");
    let (code, _, told) = curve(folder.path(), &table(&bad), &[&nominal[..], &["--keep", "nine"]].concat());
    assert!(
        code == 2 && told.contains("--keep") && told.contains("'nine' is no step of these readings"),
        "{told}"
    );
}

#[test]
fn exchanged_rows_are_called_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut exchanged = densities(21);
    exchanged.swap(9, 10);
    let (code, answer, told) = curve(folder.path(), &table(&exchanged), &["--tablet", "nominal 21"]);
    assert_eq!(code, 1, "{told}");
    assert!(told.contains("its density and that of step 11 look exchanged"), "{told}");
    let outliers = answer["curve"]["outliers"].as_array().expect("a list");
    assert_eq!(
        outliers.iter().map(|outlier| &outlier["standing"]).collect::<Vec<_>>(),
        ["exchanged", "exchanged"]
    );
}

#[test]
fn what_a_table_says_itself_stands_for_options() {
    let folder = tempfile::tempdir().expect("a folder");
    let said = format!(
        "Film: Tern 160\r\ntablet: nominal 21\r\nexposure: absolute 0.5 0.02\r\n\r\n{}",
        table(&densities(21))
    );
    let (code, own, told) = curve(folder.path(), &said, &[]);
    assert_eq!(code, 0, "{told}");
    let options = ["--tablet", "nominal 21", "--exposure", "absolute 0.5 0.02"];
    let (_, by_options, _) = curve(folder.path(), &table(&densities(21)), &options);
    assert_eq!(own["label"], "Tern 160");
    // Reasons name the film, which is called otherwise.
    assert_eq!(own["curve"]["readings"], by_options["curve"]["readings"]);
    assert_eq!(own["figures"]["gamma"], by_options["figures"]["gamma"]);
    let wrong = said.replace("absolute 0.5", "bright");
    let (code, _, told) = curve(folder.path(), &wrong, &[]);
    assert!(code == 2 && told.contains("bright") && told.contains("--exposure"), "{told}");
    let (code, _, told) = curve(folder.path(), &table(&densities(21)), &[]);
    assert!(code == 2 && told.contains("--tablet") && told.contains("nominal 21"), "{told}");
}

#[test]
fn a_tablet_of_another_number_of_steps_is_told_with_both_numbers() {
    let folder = tempfile::tempdir().expect("a folder");
    let (code, _, told) = curve(folder.path(), &table(&densities(20)), &["--tablet", "nominal 21"]);
    assert_eq!(code, 0, "a note is no doubt: {told}");
    assert!(told.contains("densities of 20 steps") && told.contains("has 21 steps"), "{told}");
    let (_, answer, told) = curve(folder.path(), &table(&densities(22)), &["--tablet", "nominal 21"]);
    let reason = answer["curve"]["reason"].as_str().unwrap_or_default();
    assert!(reason.contains("densities of 22 steps") && reason.contains("has 21 steps"), "{answer}\n{told}");
}

/// A step that was not read is told and left out; the others keep their places behind the tablet.
#[test]
fn a_step_that_was_not_read_is_left_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = table(&densities(21));
    let gap: String =
        text.lines().filter(|line| !line.starts_with("7;")).map(|line| format!("{line}\n")).collect();
    let (_, answer, told) = curve(folder.path(), &gap, &["--tablet", "nominal 21"]);
    assert!(told.contains("Step 7 has no density"), "{told}");
    let (_, whole, _) = curve(folder.path(), &text, &["--tablet", "nominal 21"]);
    let places = |answer: &Value| -> Vec<(i64, f64)> {
        let readings = answer["curve"]["readings"].as_array().expect("readings");
        readings.iter().map(|r| (r["step"].as_i64().unwrap(), r["log_h"].as_f64().unwrap())).collect()
    };
    let wanted: Vec<(i64, f64)> = places(&whole).into_iter().filter(|(step, _)| *step != 7).collect();
    assert_eq!(places(&answer), wanted);
}

/// Readings as spectra of an even grey, in CGATS text: the densities that they were made from, by definition.
#[test]
fn densities_are_computed_from_spectra_and_it_is_said_which() {
    let folder = tempfile::tempdir().expect("a folder");
    let fields: String = (400..=700).step_by(10).map(|nm| format!(" SPECTRAL_NM_{nm}")).collect();
    let row = |(step, density): (usize, &f64)| {
        format!("{}{}\n", step + 1, format!(" {:.7}", 10f64.powf(-density)).repeat(31))
    };
    let rows: String = densities(21).iter().enumerate().map(row).collect();
    let text = format!(
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID{fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n{rows}END_DATA\n"
    );
    let plain = curve(folder.path(), &table(&densities(21)), &["--tablet", "nominal 21"]).1;
    for kind in ["visual", "status_a_green", "status_m_red"] {
        let options: &[&str] = &["--tablet", "nominal 21", "--density", kind];
        let options = if kind == "visual" { &options[..2] } else { options };
        let (code, answer, told) = curve(folder.path(), &text, options);
        assert_eq!(code, 0, "{told}");
        assert!(told.contains(&format!("{} densities were computed from spectra", words(kind))), "{told}");
        assert_eq!(answer["curve"]["strips"][0]["density_kind"], Value::from(kind));
        for figure in ["base_fog", "speed_point", "gamma"] {
            let of = |answer: &Value| answer["figures"][figure]["value"].as_f64();
            if let Some(value) = of(&plain) {
                let found = of(&answer).unwrap_or_else(|| panic!("{figure} is lost: {answer}"));
                assert!((found - value).abs() < 1e-3, "{figure} by {kind}: {found} for {value}");
            }
        }
    }
    let (code, _, told) = curve(
        folder.path(),
        &table(&densities(21)),
        &["--tablet", "nominal 21", "--density", "status_a_blue"],
    );
    assert!(code != 0 && told.contains("no spectra"), "{code}: {told}");
}

fn words(kind: &str) -> String {
    kind.replace("status_a", "status A").replace("status_m", "status M").replace('_', " ")
}
