//! A folder without a list: what each file is told to be, what is doubtful, and a series that measures.

use crate::{json, sample, twinwedge};

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
        "plain area for grain\tPlover 640\tPlover 640 grain.tif",
        "tablet scanned as film\t-\tfilm scanner tablet.tif",
        "densities of a tablet\t-\tfilm tablet.csv",
        "left out\t-\thalf.tif",
    ] {
        assert!(said.lines().any(|said| said == line), "{line}: {said}");
    }
    assert!(told.contains("doubt: half.tif:") && told.contains("doubt: something 7.tif:"), "{told}");
    assert!(!told.contains("doubt: Plover 640"), "what is sure is not doubted: {told}");
    let figures = json(&["figures", &out]);
    let films = figures["films"].as_array().expect("films");
    let labels: Vec<&str> = films.iter().filter_map(|film| film["label"].as_str()).collect();
    assert!(labels.contains(&"Tern 160") && labels.contains(&"Plover 640"), "{labels:?}");
    assert_eq!(figures["reference"], "Tern 160", "its name says so");
    let again = twinwedge(&["gather", &scans.display().to_string(), "--out", &out]);
    assert_eq!(again.status.code(), Some(2), "a series that is there is kept");
}
