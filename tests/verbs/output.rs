//! What verbs write over: nothing that they read, and nothing of another kind, unless they are told to.

use std::path::Path;
use std::process::{Command, Output, Stdio};

use crate::{sample, twinwedge};

/// A list of one film whose readings lie beside it; its path.
fn list(folder: &Path) -> String {
    std::fs::copy(sample("readings/tern-160.csv"), folder.join("tern.csv")).expect("a copy");
    let list = folder.join("list.csv");
    let text = "file,kind,film,role,tablet\ntern.csv,readings,Tern 160,reference,nominal 21\n";
    std::fs::write(&list, text).expect("a list");
    list.display().to_string()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn a_series_is_gathered_again_only_when_that_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let list = list(folder.path());
    let out = folder.path().join("a.twinwedge").display().to_string();
    assert_eq!(twinwedge(&["gather", &list, "--out", &out]).status.code(), Some(0));
    let first = std::fs::read(&out).expect("a series");
    std::fs::write(&list, std::fs::read_to_string(&list).expect("the list").replace("Tern 160", "Tern 161"))
        .expect("a list");
    let again = twinwedge(&["gather", &list, "--out", &out]);
    assert_eq!(again.status.code(), Some(2));
    assert!(said(&again).contains("--force to replace a series of 1 film"), "{}", said(&again));
    assert_eq!(std::fs::read(&out).expect("the series"), first);
    let forced = twinwedge(&["gather", &list, "--out", &out, "--force"]);
    assert_eq!(forced.status.code(), Some(0), "{}", said(&forced));
    assert!(said(&forced).contains("which was a series of 1 film"), "{}", said(&forced));
    assert!(std::fs::read_to_string(&out).expect("the series").contains("Tern 161"));
    // The list itself is no place for the series, by whichever name.
    let other = folder.path().join(".").join("list.csv").display().to_string();
    let over = twinwedge(&["gather", &list, "--out", &other]);
    assert_eq!(over.status.code(), Some(2));
    assert!(said(&over).contains("the list that is read"), "{}", said(&over));
}

#[test]
fn of_several_programs_that_gather_to_one_name_one_wins() {
    let folder = tempfile::tempdir().expect("a folder");
    let list = list(folder.path());
    let out = folder.path().join("a.twinwedge").display().to_string();
    for round in 0..3 {
        let programs: Vec<_> = (0..6)
            .map(|_| {
                Command::new(env!("CARGO_BIN_EXE_twinwedge"))
                    .args(["gather", &list, "--out", &out])
                    .env("XDG_DATA_HOME", folder.path())
                    .stdout(Stdio::null())
                    .stderr(Stdio::piped())
                    .spawn()
                    .expect("the program runs")
            })
            .collect();
        let outputs: Vec<Output> =
            programs.into_iter().map(|program| program.wait_with_output().expect("it ends")).collect();
        let codes: Vec<Option<i32>> = outputs.iter().map(|output| output.status.code()).collect();
        assert_eq!(codes.iter().filter(|code| **code == Some(0)).count(), 1, "round {round}: {codes:?}");
        for output in outputs.iter().filter(|output| output.status.code() != Some(0)) {
            assert!(said(output).contains("already, which was kept"), "{}", said(output));
        }
        std::fs::remove_file(&out).expect("one series");
    }
}

#[test]
fn layouts_and_reports_go_over_no_series() {
    let folder = tempfile::tempdir().expect("a folder");
    let list = list(folder.path());
    let out = folder.path().join("a.twinwedge").display().to_string();
    let patches = folder.path().join("a.patches").display().to_string();
    assert_eq!(twinwedge(&["gather", &list, "--out", &out]).status.code(), Some(0));
    let before = std::fs::read(&out).expect("a series");
    assert_eq!(twinwedge(&["layout", "sample", "--save", &patches]).status.code(), Some(0));
    assert_eq!(twinwedge(&["layout", &out, "--load", &patches]).status.code(), Some(0));
    let laid = std::fs::read(&out).expect("a series");
    assert_ne!(laid, before);
    let over = twinwedge(&["layout", &out, "--save", &out]);
    assert_eq!(over.status.code(), Some(2));
    assert!(said(&over).contains("It is the series that is read, and was kept"), "{}", said(&over));
    assert_eq!(std::fs::read(&out).expect("the series"), laid);
    assert_eq!(
        twinwedge(&["layout", &out, "--save", &patches]).status.code(),
        Some(2),
        "a layout is asked for, too"
    );
    assert_eq!(twinwedge(&["layout", &out, "--save", &patches, "--force"]).status.code(), Some(0));
}
