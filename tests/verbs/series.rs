//! The verbs on a series.

use std::process::{Command, Stdio};

use crate::{json, number, sample, truth, twinwedge};

#[test]
fn figures_of_the_sample() {
    let figures = json(&["figures", "sample"]);
    let films = figures["films"].as_array().expect("films");
    assert_eq!(films.len(), 6, "three films, and three further rolls of the first");
    for film in films {
        let label = film["label"].as_str().expect("a label");
        let truth = truth();
        let truth = truth["films"].get(label).unwrap_or(&truth["rolls"][label]);
        let point = number(&film["figures"]["speed_point"]["value"]);
        assert!((point - number(&truth["speed_point"])).abs() < 0.03, "{label}: {point}");
        let gradient = number(&film["figures"]["average_gradient"]["value"]);
        let expected = number(&truth["average_gradient"]);
        assert!((gradient / expected - 1.0).abs() < 0.02, "{label}: {gradient} for {expected}");
        for (key, figure) in film["figures"].as_object().expect("figures") {
            let undefined = figure["value"].is_null();
            let reason = figure["reason"].as_str().is_some_and(|reason| !reason.is_empty());
            assert_eq!(undefined, reason, "{label}, {key}: null and only null has a reason");
        }
    }
}

#[test]
fn a_series_from_a_list_measures_as_the_sample_does() {
    let folder = tempfile::tempdir().expect("a folder");
    let made = folder.path().join("made.twinwedge").display().to_string();
    let output = twinwedge(&["gather", &sample("list.csv").display().to_string(), "--out", &made]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let (made, sample) = (json(&["figures", &made]), json(&["figures", "sample"]));
    for (a, b) in
        made["films"].as_array().expect("films").iter().zip(sample["films"].as_array().expect("films"))
    {
        assert_eq!(a["label"], b["label"]);
        assert_eq!(a["figures"]["granularity"], b["figures"]["granularity"]);
        // The list is of scans; the sample's fast film has an additional strip whose readings were typed.
        if b["curve"]["levels"].as_array().is_some_and(|levels| !levels.is_empty()) {
            continue;
        }
        // The tablet is called otherwise here, and errors are drawn by their tablet's name: the number is the same, its
        // uncertainty from 400 draws the same to a few of their 3.5 % (1 / sqrt(2 * 400)).
        let (a_gamma, b_gamma) = (&a["figures"]["gamma"], &b["figures"]["gamma"]);
        assert_eq!(a_gamma["value"], b_gamma["value"], "the same scans give the same numbers");
        let ratio = number(&a_gamma["u"]) / number(&b_gamma["u"]);
        assert!((ratio - 1.0).abs() < 0.2, "{a_gamma} and {b_gamma}");
    }
}

/// Three films of the sample have a uniform area: Tern, Plover and Dunlin.
#[test]
fn a_contact_sheet_holds_the_grain_of_every_film_at_one_scale() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("grain.svg");
    let output = twinwedge(&["report", "sample", "--out", &path.display().to_string()]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let sheet = std::fs::read_to_string(&path).expect("the sheet");
    assert_eq!(sheet.matches("<image").count(), 3);
    for film in ["Tern 160", "Plover 640", "Dunlin 40"] {
        assert!(sheet.contains(&format!(">{film}</text>")), "{film}");
    }
    let sides: std::collections::BTreeSet<&str> =
        sheet.split("viewBox=\"0 0 ").skip(2).filter_map(|rest| rest.split('"').next()).collect();
    assert_eq!(sides.len(), 1, "one side on film for all: {sides:?}");
}

#[test]
fn the_report_in_all_its_forms() {
    let folder = tempfile::tempdir().expect("a folder");
    for (ending, begins) in [("html", "<!DOCTYPE html>"), ("json", "{"), ("csv", "film,")] {
        let path = folder.path().join(format!("report.{ending}"));
        let path_text = path.display().to_string();
        let output = twinwedge(&["report", "sample", "--film", "Plover 640", "--out", &path_text]);
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), path_text, "stdout names the file");
        let text = std::fs::read_to_string(&path).expect("the file is there");
        assert!(text.to_lowercase().starts_with(&begins.to_lowercase()), "{ending} begins {:?}", &text[..40]);
        assert!(text.contains("Plover 640"), "{ending} speaks of the film");
    }
}

#[test]
fn check_says_what_is_missing() {
    let folder = tempfile::tempdir().expect("a folder");
    let list = folder.path().join("list.csv");
    let readings = sample("readings/tern-160.csv");
    std::fs::copy(&readings, folder.path().join("tern.csv")).expect("a copy");
    std::fs::write(&list, "file,kind,film,role,tablet\ntern.csv,readings,Tern 160,reference,nominal 21\n")
        .expect("a list");
    let series = folder.path().join("thin.twinwedge").display().to_string();
    assert_eq!(twinwedge(&["gather", &list.display().to_string(), "--out", &series]).status.code(), Some(0));
    let output = twinwedge(&["check", &series]);
    let said = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "a nominal tablet is worth a note, no doubt: {said}");
    assert!(said.contains("note: tablet nominal 21"), "{said}");

    let scans = folder.path().join("scans.csv");
    let head = "file,kind,film,role,tablet,place";
    std::fs::copy(sample("scans/tern-160-strip.tif"), folder.path().join("strip.tif")).expect("a copy");
    let row = "strip.tif,strip,Tern 160,reference,nominal 21,\"54,57 1712,84 1710,241 52,216\"";
    std::fs::write(&scans, format!("{head}\n{row}\n")).expect("a list");
    let series = folder.path().join("bare.twinwedge").display().to_string();
    assert_eq!(twinwedge(&["gather", &scans.display().to_string(), "--out", &series]).status.code(), Some(0));
    assert_eq!(
        twinwedge(&["check", &series]).status.code(),
        Some(1),
        "an uncalibrated scan is worth a doubt"
    );
    std::fs::remove_file(folder.path().join("strip.tif")).expect("it was there");
    let output = twinwedge(&["check", &series]);
    let said = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("strip.tif"), "the missing scan is named: {said}");
}

#[test]
fn development_of_the_sample() {
    let output = twinwedge(&["development", "sample", "--film", "Plover 640"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let text = String::from_utf8_lossy(&output.stdout);
    for words in ["Wear gloves", "assumed", "Expose two more rolls", "prediction: Plover 640 as if developed"]
    {
        assert!(text.contains(words), "'{words}' in {text}");
    }
    let found = json(&["development", "sample", "--film", "Tern 160", "--json"])["films"][0].take();
    let rolls = found["rolls"].as_array().expect("rolls");
    let used: Vec<(f64, f64)> = rolls
        .iter()
        .filter(|roll| roll["left_out_because"].is_null())
        .map(|roll| (number(&roll["developed_minutes"]), number(&roll["gradient"]["value"])))
        .collect();
    assert!(used.len() >= 3, "{found}");
    // Wanted is its own gradient: the law gives its own time.
    let own = rolls.iter().find(|roll| roll["film"] == "Tern 160").expect("itself");
    let (minutes, low, high) = (&found["time"]["minutes"], "low", "high");
    let held = number(&minutes[low]) - 0.5..=number(&minutes[high]) + 0.5;
    assert!(held.contains(&number(&own["developed_minutes"])), "{minutes} for {}", own["developed_minutes"]);
    assert!(
        number(&found["law"]["limit_gradient"]["value"]) > used.iter().map(|(_, g)| *g).fold(0.0, f64::max)
    );
    assert!(found["caution"].as_str().is_some_and(|words| words.contains("safety data sheets")));
}

#[test]
fn a_list_may_name_rolls_and_records() {
    let folder = tempfile::tempdir().expect("a folder");
    let readings: String = (0..21).map(|i| format!("{:.2}\n", 2.0 - 0.08 * f64::from(i))).collect();
    std::fs::write(folder.path().join("a.csv"), &readings).expect("written");
    let list = folder.path().join("list.csv");
    let rows = "file,kind,film,role,tablet,roll_of,light_source,seconds,developer,temperature,minutes\n\
                a.csv,readings,Tern 160,reference,nominal 21,,tungsten,0.5,Samphire,20,9\n\
                a.csv,readings,\"Tern 160, 12 min\",,nominal 21,Tern 160,tungsten,0.5,Samphire,20,12\n";
    std::fs::write(&list, rows).expect("written");
    let made = folder.path().join("made.twinwedge");
    let output = twinwedge(&["gather", &list.display().to_string(), "--out", &made.display().to_string()]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let text = std::fs::read_to_string(&made).expect("made");
    for words in ["roll_of: \"Tern 160\"", "light_source: \"tungsten\"", "Samphire", "minutes: 12.0"] {
        assert!(text.contains(words), "'{words}' in {text}");
    }
    let wrong = rows.replace(",20,12", ",68,12");
    std::fs::write(&list, wrong).expect("written");
    let output = twinwedge(&["gather", &list.display().to_string(), "--out", "never.twinwedge"]);
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("line 3, column 'temperature'"), "{said}");
}

#[test]
fn a_reader_that_stops_reading_ends_nothing_with_a_panic() {
    let home = tempfile::tempdir().expect("a folder");
    let mut child = Command::new(env!("CARGO_BIN_EXE_twinwedge"))
        .args(["figures", "sample"])
        .env("XDG_DATA_HOME", home.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    // Long before there is anything to print.
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.code() == Some(0) && !said.contains("panicked"), "{:?}: {said}", output.status);
}
