//! What cannot be done says so in one line, with file, cause and remedy, and exit code 2; what was there is kept.

use crate::{sample, twinwedge};

/// Runs the program, which must refuse with words that hold all of `said`.
fn refuses(arguments: &[&str], said: &[&str]) {
    let output = twinwedge(arguments);
    let text = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {text}");
    assert!(output.stdout.is_empty(), "{arguments:?} prints no result");
    for word in said {
        assert!(text.contains(word), "{arguments:?} says '{word}': {text}");
    }
    assert!(!text.contains("panicked"), "{text}");
}

#[test]
fn files_that_are_not_there() {
    refuses(&["figures", "no-such.twinwedge"], &["no-such.twinwedge"]);
    refuses(&["grain", "no-such.tif", "--dpi", "4000"], &["no-such.tif"]);
    refuses(&["curve", "no-such.csv", "--tablet", "nominal 21"], &["no-such.csv"]);
}

#[test]
fn arguments_that_do_not_fit() {
    let strip = sample("scans/tern-160-strip.tif").display().to_string();
    refuses(&["strip", &strip, "--corners", "1,2 3,4", "--steps", "21"], &["--corners", "2 points"]);
    let readings = sample("readings/tern-160.csv").display().to_string();
    refuses(&["curve", &readings, "--tablet", "nominal 22"], &["nominal 22", "11, 21, 31 or 41"]);
    refuses(
        &["curve", &readings, "--tablet", "nominal 21", "--exposure", "bright"],
        &["--exposure", "bright"],
    );
    refuses(&["report", "sample", "--film", "Curlew", "--out", "x.html"], &["Curlew", "Plover 640"]);
    refuses(&["report", "sample", "--out", "report.docx"], &["docx"]);
}

#[test]
fn lists_that_are_wrong() {
    let folder = tempfile::tempdir().expect("a folder");
    let list = folder.path().join("list.csv");
    let out = folder.path().join("out.twinwedge");
    let (list_text, out_text) = (list.display().to_string(), out.display().to_string());
    for (text, said) in [
        ("file,kind,brand\na.tif,strip,x\n", vec!["line 1", "brand"]),
        ("file,film\na.tif,x\n", vec!["line 1", "kind"]),
        ("file,kind\na.tif,picture\n", vec!["line 2", "picture"]),
        ("file,kind,film\na.tif,strip,\n", vec!["line 2", "film"]),
        ("file,kind,film,tablet\na.csv,readings,Tern 160,nominal 21\n", vec!["a.csv"]),
        ("file,kind\n", vec!["no rows"]),
        ("file,kind,film\na.tif,strip\n", vec!["line 2"]),
    ] {
        std::fs::write(&list, text).expect("a list");
        refuses(&["gather", &list_text, "--out", &out_text], &said);
        assert!(!out.exists(), "nothing is written");
    }
    std::fs::write(&out, "mine").expect("a file");
    refuses(
        &["gather", &sample("list.csv").display().to_string(), "--out", &out_text],
        &["already", "kept", "--force"],
    );
    assert_eq!(std::fs::read_to_string(&out).expect("the file"), "mine", "what was there is kept");
}

#[test]
fn options_hold_to_the_ranges_of_a_series() {
    let scan = sample("scans/tern-160-grain.tif").display().to_string();
    let readings = sample("readings/tern-160.csv").display().to_string();
    let grain: &[&str] = &["grain", &scan];
    let spectrum: &[&str] = &["spectrum", &scan];
    let edge: &[&str] = &["edge", &scan];
    let detail: &[&str] = &["detail", &scan, &scan];
    let look: &[&str] = &["scan", &scan];
    let strip: &[&str] = &["strip", &scan];
    let curve: &[&str] = &["curve", &readings, "--tablet", "nominal 21"];
    let tones: &[&str] = &["tones", "sample"];
    let options: &[(&[&str], &[&str])] = &[
        (grain, &["dpi", "aperture", "base-fog"]),
        (spectrum, &["dpi", "enlargement", "distance", "print-density"]),
        (edge, &["dpi", "enlargement"]),
        (detail, &["dpi", "enlargement"]),
        (look, &["border"]),
        (strip, &["dpi", "steps"]),
        (curve, &["points"]),
        (tones, &["index"]),
    ];
    for (verb, names) in options {
        for name in *names {
            for value in ["-1", "1e7", "4e9", "1e300", "inf", "NaN", "", "many"] {
                let option = format!("--{name}={value}");
                let arguments: Vec<&str> = verb.iter().copied().chain([option.as_str()]).collect();
                refuses(&arguments, &[&format!("--{name}")]);
            }
        }
    }
    let words: &[(&[&str], &str, &str)] = &[
        (curve, "--exposure=absolute 1e300", "-10 to 10"),
        (curve, "--exposure=less inf", "-40 to 40"),
        (curve, "--base-fog=NaN", "-0.5 to 6"),
        (curve, "--base-fog=0.2 -1", "0 to 1"),
        (strip, "--aperture=circle 1e9", "0.01 to 100 mm"),
        (look, "--known=1,1 9,9 18", "-0.5 to 6"),
        (look, "--known=1,1 9e99,9 0.2", "-1000000 to 1000000 px"),
        (grain, "--area=NaN,1 9,9", "-1000000 to 1000000 px"),
    ];
    for (verb, option, range) in words {
        let arguments: Vec<&str> = verb.iter().copied().chain([*option]).collect();
        refuses(&arguments, &[option.split('=').next().expect("a name"), range]);
    }
}

/// What a person or a file gave does not steer the terminal (ECMA-48), nor turn the direction of what stands there.
#[test]
fn what_was_given_is_shown_and_not_obeyed() {
    let hidden = |text: &str| {
        text.chars().any(|c| c != '\n' && (c.is_control() || ('\u{202a}'..='\u{202e}').contains(&c)))
    };
    let nasty = "no\u{1b}[2J\u{9b}31m\u{202e}such\u{7}";
    for arguments in [
        vec!["figures", nasty],
        vec!["grain", nasty, "--dpi", "4000"],
        vec!["tones", "sample", "--film", nasty],
        vec!["curve", nasty, "--tablet", nasty],
        vec![nasty, nasty],
        vec!["grain", "x.tif", "--dpi", nasty],
        vec!["report", "sample", "--out", nasty],
    ] {
        let output = twinwedge(&arguments);
        let said = [&output.stderr[..], &output.stdout[..]].concat();
        let said = String::from_utf8_lossy(&said).into_owned();
        // Complaints about options come without sequences that steer a terminal.
        let named = said.contains("[U+001B][2J") || said.contains("[U+202E]such");
        assert!(named, "{arguments:?} names it: {said:?}");
        assert!(!hidden(&said), "{arguments:?}: {said:?}");
    }
}

#[test]
fn small_files_hold_to_the_ranges_of_a_series() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("target.ron");
    let path = file.display().to_string();
    let scan = sample("scans/tern-160-print.tif").display().to_string();
    let whole = "corners: ((0, 0), (9, 0), (9, 9), (0, 9))";
    for (text, said) in [
        (
            format!("(rows: 4294967295, columns: 1, {whole}, patches: [])"),
            "number of rows must be from 1 to 100",
        ),
        (format!("(rows: 1, columns: 2, {whole}, patches: [\"one\"])"), "need 2 patches"),
        (whole.replace("(9, 9)", "(1e300, 9)"), "'corners' stands where '(' belongs"),
        (
            format!("(rows: 1, columns: 1, {}, patches: [\"one\"])", whole.replace("(9, 9)", "(1e300, 9)")),
            "coordinate",
        ),
        (format!("(rows: 1, {whole}, patches: [\"one\"])"), "the field 'columns' is missing"),
        (format!("(rows: one, columns: 1, {whole}, patches: [\"one\"])"), "a whole number belongs there"),
    ] {
        std::fs::write(&file, &text).expect("a file");
        refuses(&["patches", &scan, &scan, "--layout", &path], &[&path, said]);
    }
}
