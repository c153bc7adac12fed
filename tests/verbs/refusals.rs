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
