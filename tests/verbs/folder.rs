//! A folder without a list: what each file is told to be, what is doubtful, and a series that measures.

use crate::{answer, json, sample, twinwedge};

#[test]
fn a_folder_is_told_and_gathered() {
    let folder = tempfile::tempdir().expect("a folder");
    let scans = folder.path().join("scans");
    std::fs::create_dir_all(&scans).expect("a folder");
    for (name, of) in [
        ("Tern 160 strip reference.tif", "scans/tern-160-strip.tif"),
        ("Plover 640 strip.tif", "scans/plover-640-strip.tif"),
        ("Plover 640 grain.tif", "scans/plover-640-grain.tif"),
        ("something 7.tif", "scans/plover-640-print.tif"),
        ("film scanner tablet.tif", "scans/film-scanner-tablet.tif"),
        ("film tablet.csv", "step-tablet.csv"),
    ] {
        std::fs::copy(sample(of), scans.join(name)).expect("copied");
    }
    std::fs::write(scans.join("half.tif"), b"II*\0").expect("written");
    let out = folder.path().join("made.twinwedge").display().to_string();
    let output = twinwedge(&["gather", &scans.display().to_string(), "--out", &out]);
    let (said, told) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert_eq!(output.status.code(), Some(1), "something is doubtful: {told}");
    for line in [
        "exposed strip\tTern 160\tTern 160 strip reference.tif",
        "uniform area for grain\tPlover 640\tPlover 640 grain.tif",
        "tablet scanned as film\t-\tfilm scanner tablet.tif",
        "densities of a tablet\t-\tfilm tablet.csv",
        "left out\t-\thalf.tif",
    ] {
        assert!(said.lines().any(|said| said == line), "{line}: {said}");
    }
    assert!(told.contains("doubt: half.tif:") && told.contains("doubt: something 7.tif:"), "{told}");
    assert!(!told.contains("doubt: Plover 640"), "what is sure is not doubted: {told}");
    let output = twinwedge(&["figures", &out]);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        output.status.code() == Some(1) && told.contains("Nothing states what its codes stand for"),
        "{told}"
    );
    let figures: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let films = figures["films"].as_array().expect("films");
    let labels: Vec<&str> = films.iter().filter_map(|film| film["label"].as_str()).collect();
    assert!(labels.contains(&"Tern 160") && labels.contains(&"Plover 640"), "{labels:?}");
    assert_eq!(figures["reference_film"], "Tern 160", "its name says so");
    let again = twinwedge(&["gather", &scans.display().to_string(), "--out", &out]);
    assert_eq!(again.status.code(), Some(2), "a series that is there is kept");
}

#[test]
fn a_question_is_asked_once_and_answered_by_its_number() {
    let folder = tempfile::tempdir().expect("a folder");
    let scans = folder.path().join("scans");
    std::fs::create_dir_all(&scans).expect("a folder");
    for (name, of) in [
        ("Tern 160 strip reference.tif", "scans/tern-160-strip.tif"),
        ("Plover 640 Streifen.tif", "scans/plover-640-strip.tif"),
        ("Tern 160 0007.tif", "scans/tern-160-print.tif"),
        ("Plover 640 0008.tif", "scans/plover-640-print.tif"),
        ("film tablet.csv", "step-tablet.csv"),
    ] {
        std::fs::copy(sample(of), scans.join(name)).expect("copied");
    }
    let out = folder.path().join("made.twinwedge").display().to_string();
    let scans = scans.display().to_string();
    let call = ["gather", &scans, "--out", &out, "--force"];
    let asked = twinwedge(&call);
    let said = String::from_utf8_lossy(&asked.stdout);
    let question = "What is it? 2 files taken for: print of the target";
    assert_eq!(asked.status.code(), Some(1), "{said}");
    assert!(said.lines().any(|line| line == format!("question 1\t{question}")), "{said}");
    let (code, told, said) = answer(&[&call[..], &["--json"]].concat());
    assert_eq!(code, Some(1), "{said}");
    let questions = told["questions"].as_array().expect("questions");
    assert_eq!(questions.len(), 1, "{told}");
    assert_eq!((&questions[0]["number"], &questions[0]["question"]), (&1.into(), &question.into()));
    assert_eq!(questions[0]["files"][1]["name"], "Tern 160 0007.tif");
    for yes in ["1", "all"] {
        let answered = twinwedge(&[&call[..], &["--yes", yes]].concat());
        let told = String::from_utf8_lossy(&answered.stderr);
        assert_eq!(answered.status.code(), Some(0), "nothing is left to ask: {told}");
    }
    let wrong = twinwedge(&[&call[..], &["--yes", "7"]].concat());
    let told = String::from_utf8_lossy(&wrong.stderr);
    assert!(wrong.status.code() == Some(2) && told.contains("There is no question '7'"), "{told}");
}

/// A list tells frames of a bracket with their exposure indices, whether it is given itself or found in its folder.
#[test]
fn frames_are_taken_in_by_a_list() {
    let folder = tempfile::tempdir().expect("a folder");
    let scans = folder.path().join("scans");
    std::fs::create_dir_all(&scans).expect("a folder");
    // Any picture serves as a frame; its shadow patch lies on the mid grey of the target.
    for film in ["tern-160", "plover-640"] {
        std::fs::copy(sample(&format!("scans/{film}-print.tif")), scans.join(format!("{film}-frame.tif")))
            .expect("copied");
    }
    let list = "file,kind,film,role,exposure_index,box_speed,encoding,place\n\
                tern-160-frame.tif,frame,Tern 160,reference,160,160,srgb,\"600,500 640,500 640,540 600,540\"\n\
                plover-640-frame.tif,frame,Plover 640,,400,640,srgb,\n";
    std::fs::write(scans.join("list.csv"), list).expect("written");
    for given in [scans.join("list.csv"), scans.clone()] {
        let out =
            scans.join(format!("{}.twinwedge", given.file_name().unwrap_or_default().to_string_lossy()));
        let out = out.display().to_string();
        twinwedge(&["gather", &given.display().to_string(), "--out", &out]);
        let figures = json(&["figures", &out]);
        let tern =
            figures["films"].as_array().expect("films").iter().find(|film| film["label"] == "Tern 160");
        let index = &tern.expect("Tern 160")["figures"]["shadow_match_index"];
        assert_eq!(
            index["value"].as_f64(),
            Some(160.0),
            "the frame at its box speed sets the density: {index}"
        );
    }
    let bad = list.replace(",400,", ",dark,");
    std::fs::write(scans.join("bad.csv"), bad).expect("written");
    let out = scans.join("bad.twinwedge").display().to_string();
    let output = twinwedge(&["gather", &scans.join("bad.csv").display().to_string(), "--out", &out]);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() == Some(2) && told.contains("exposure_index"), "{told}");
}
