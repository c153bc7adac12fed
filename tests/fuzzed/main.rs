//! Inputs that once did harm, and those that the search begins with, through the same tries as the search.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "what a test prepares itself is there")]

mod tries;

use std::path::Path;

use tries::{TARGETS, Target};

/// Tries what is kept for a target, then what its search begins with.
fn replay(target: &Target) {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzzed/kept").join(target.name);
    let mut found = Vec::new();
    let mut files: Vec<_> = std::fs::read_dir(&kept)
        .map(|folder| folder.flatten().map(|entry| entry.path()).collect())
        .unwrap_or_default();
    files.sort();
    for path in files {
        if let Err(finding) = target.examine(&std::fs::read(&path).unwrap()) {
            found.push(format!("{}: {finding}", path.display()));
        }
    }
    for (number, bytes) in target.seeds().iter().enumerate() {
        if let Err(finding) = target.examine(bytes) {
            found.push(format!("seed {number}: {finding}"));
        }
    }
    tries::clear_away();
    assert!(found.is_empty(), "{}:\n{}", target.name, found.join("\n"));
}

fn target(name: &str) -> &'static Target {
    TARGETS.iter().find(|target| target.name == name).expect("a target")
}

macro_rules! replays {
    ($($name:ident: $target:literal,)*) => {
        $(
            #[test]
            fn $name() {
                replay(target($target));
            }
        )*

        #[test]
        fn every_target_is_replayed_and_every_kept_input_belongs_to_one() {
            let names = [$($target),*];
            assert_eq!(TARGETS.map(|target| target.name), names);
            let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzzed/kept");
            for entry in std::fs::read_dir(kept).unwrap().flatten().filter(|entry| entry.path().is_dir()) {
                let name = entry.file_name().to_string_lossy().into_owned();
                assert!(names.contains(&name.as_str()), "{name} is no target");
            }
        }
    };
}

replays! {
    tiff: "tiff",
    png: "png",
    jpeg: "jpeg",
    readings: "readings",
    tablet: "tablet",
    spectra: "spectra",
    patches: "patches",
    list: "list",
    layout: "layout",
    layout_of_a_verb: "verbs-layout",
    calibration_of_a_verb: "verbs-calibration",
    series: "series",
    recovery: "recovery",
    numbers: "numbers",
    strip: "strip",
}
