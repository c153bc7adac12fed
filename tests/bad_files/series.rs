//! Series files that cannot be opened.

use twinwedge_core::document::Series;
use twinwedge_core::patch::default_layout;
use twinwedge_workbench::load;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store;

use crate::clear;

#[test]
fn each_bad_series_gives_one_clear_problem_and_stays_as_it_was() {
    let folder = tempfile::tempdir().expect("a folder");
    let sound = store::write(&Series::default());
    let future = sound.replacen("format: 2", "format: 99", 1);
    assert_ne!(sound, future, "the format stands in the file");
    let unclosed = sound.trim_end().trim_end_matches(')').to_owned();
    let bad: &[(&str, Vec<u8>, &[&str])] = &[
        ("empty.twinwedge", Vec::new(), &["empty"]),
        ("future.twinwedge", future.into_bytes(), &["format 99", "newer version"]),
        ("format-zero.twinwedge", b"Series(format: 0)".to_vec(), &["format 0"]),
        ("unclosed.twinwedge", unclosed.into_bytes(), &["line", "not a series"]),
        ("json.twinwedge", b"{\"format\": 2}".to_vec(), &["line 1", "not a series"]),
        ("number.twinwedge", b"Series(format: one)".to_vec(), &["line 1", "not a series"]),
        ("latin1.twinwedge", b"Series(format: 1, label: \"K\xFCste\")".to_vec(), &["UTF-8", "byte 28"]),
        ("picture.twinwedge", crate::make::grey8(), &["UTF-8"]),
    ];
    for (name, bytes, words) in bad {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).expect("written");
        match Session::open(&path) {
            Err(problem) => clear(&problem, &path, words),
            Ok(_) => panic!("{name} was opened"),
        }
        assert_eq!(&std::fs::read(&path).expect("still there"), bytes, "{name} is as it was");
    }
}

#[test]
fn a_missing_series_and_a_folder() {
    let folder = tempfile::tempdir().expect("a folder");
    let missing = folder.path().join("not-there.twinwedge");
    clear(&Session::open(&missing).map(|_| ()).expect_err("no file"), &missing, &["no such file"]);
    clear(&Session::open(folder.path()).map(|_| ()).expect_err("a folder"), folder.path(), &["folder"]);
}

#[test]
fn each_bad_layout_gives_one_clear_problem() {
    let folder = tempfile::tempdir().expect("a folder");
    let sound = store::write_layout(&default_layout());
    let path = folder.path().join("sound.patches");
    assert_eq!(
        store::parse_layout(&sound, &path.display().to_string()),
        Ok(default_layout()),
        "there and back"
    );
    let with = |from: &str, to: &str| {
        assert!(sound.contains(from), "'{from}' stands in the file");
        sound.replacen(from, to, 1).into_bytes()
    };
    let gaps = "gaps: (across: -0.5)";
    let bad: &[(&str, Vec<u8>, &[&str])] = &[
        ("empty.patches", Vec::new(), &["empty"]),
        ("future.patches", with("format: 1", "format: 7"), &["format 7", "newer version"]),
        (
            "unclosed.patches",
            sound.trim_end().trim_end_matches(')').as_bytes().to_vec(),
            &["line", "not a patch layout"],
        ),
        ("series.patches", store::write(&Series::default()).into_bytes(), &["line 1", "not a patch layout"]),
        ("role.patches", with("role: White", "role: Pink"), &["line", "not a patch layout"]),
        ("short.patches", with("rows: 4", "rows: 5"), &["5 rows of 6", "30 patches", "24 patches"]),
        ("none.patches", with("rows: 4", "rows: 0"), &["value of 0", "number of rows", "1 to 100"]),
        ("huge.patches", with("rows: 4", "rows: 4000000000"), &["4000000000", "number of rows", "1 to 100"]),
        ("gap.patches", with("columns: 6,", &format!("columns: 6, {gaps},")), &["gaps", "-0.5", "0 to 10"]),
        ("dense.patches", with("role: White", "role: White, density: 18"), &["'white'", "18", "-0.1 to 6"]),
        ("unknown.patches", with("columns: 6,", "columns: 6, colour: 3,"), &["line", "colour"]),
        ("picture.patches", crate::make::grey8(), &["UTF-8"]),
    ];
    for (name, bytes, words) in bad {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).expect("written");
        let shown = path.display().to_string();
        let problem = load::text(&path).and_then(|text| store::parse_layout(&text, &shown)).expect_err(name);
        clear(&problem, &path, words);
    }
}
