//! The examples of the help and of the README, run as they stand in a folder that holds files of their names.

use std::path::Path;
use std::process::Command;

use crate::files::{FILM_SCANNER, calibration};
use crate::{sample, twinwedge};

/// A folder with the files that examples speak of, all of the sample.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let copy = |from: &str, to: &str| {
        let to = folder.path().join(to);
        std::fs::create_dir_all(to.parent().expect("a folder")).expect("a folder");
        std::fs::copy(sample(from), to).expect("copied");
    };
    for (from, to) in [
        ("readings/tern-160.csv", "tern.csv"),
        ("step-tablet.csv", "tablet.csv"),
        ("scans/tern-160-strip.tif", "tern.tif"),
        ("scans/film-scanner-tablet.tif", "tablet.tif"),
        ("scans/tern-160-print.tif", "tern-print.tif"),
        ("scans/plover-640-print.tif", "plover-print.tif"),
        ("scans/dunlin-40-print.tif", "dunlin-print.tif"),
        ("scans/tern-160-grain.tif", "field.tif"),
        ("scans/plover-640-grain.tif", "plover-field.tif"),
        ("scans/plover-640-fields.tif", "fields.tif"),
        ("scans/tern-160-edge.tif", "edge.tif"),
        ("readings/tern-160.csv", "scans/tern 160 readings reference.csv"),
        ("step-tablet.csv", "scans/film tablet.csv"),
    ] {
        copy(from, to);
    }
    let list = "file,kind,film,role,tablet\nfilm tablet.csv,tablet,,,\n\
                tern 160 readings reference.csv,readings,Tern 160,reference,film tablet.csv\n";
    std::fs::write(folder.path().join("scans/list.csv"), list).expect("a list");
    std::fs::write(
        folder.path().join("target.ron"),
        "(rows: 1, columns: 2, corners: ((716.43, 65.93), (1123.44, 74.79), (1119.38, 345.37), (711.12, 336.96)), \
         patches: [\"light\", \"grey card\"])",
    )
    .expect("a layout");
    crate::greys::table(folder.path());
    let level: String = (400..=700).step_by(10).map(|nm| format!("{nm},1\n")).collect();
    std::fs::write(folder.path().join("tern-sensitivity.csv"), level).expect("a sensitivity");
    for spectrum in ["reflectances", "light"] {
        copy(&format!("target/{spectrum}.csv"), &format!("{spectrum}.csv"));
    }
    calibration(folder.path(), "scans/film-scanner-tablet.tif", "step-tablet.csv", FILM_SCANNER);
    folder
}

/// Runs a line of a shell in the folder, with `twinwedge` being this program.
fn run(folder: &Path, line: &str) {
    let home = tempfile::tempdir().expect("a folder");
    let program = Path::new(env!("CARGO_BIN_EXE_twinwedge"));
    let paths = std::env::join_paths(
        program
            .parent()
            .into_iter()
            .map(Path::to_path_buf)
            .chain(std::env::var_os("PATH").iter().flat_map(std::env::split_paths)),
    )
    .expect("a path");
    let output = Command::new("bash")
        .args(["-c", line])
        .current_dir(folder)
        .env("PATH", paths)
        .env("XDG_DATA_HOME", home.path())
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .output()
        .expect("a shell");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{line}: {said}");
    assert!(!said.contains("usage") && !said.contains("Usage"), "{line}: {said}");
}

/// The help of a verb on one line: a terminal breaks lines where it likes.
fn help(verb: &str) -> String {
    let help = String::from_utf8(twinwedge(&[verb, "--help"]).stdout).expect("text");
    help.split("\n\n")
        .map(|part| part.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect::<Vec<_>>()
        .join("\n")
}

/// The examples of a verb's help: what stands after 'Example:' or 'Examples:'.
fn examples(verb: &str) -> Vec<String> {
    let help = help(verb);
    let lines =
        help.lines().filter_map(|line| line.strip_prefix("Examples:").or(line.strip_prefix("Example:")));
    lines.flat_map(|line| line.split(" twinwedge ").skip(1)).map(|rest| format!("twinwedge {rest}")).collect()
}

fn verbs() -> Vec<String> {
    let folder = tempfile::tempdir().expect("a folder");
    let mut verbs: Vec<String> =
        crate::every::calls(folder.path()).iter().map(|call| call.verb().to_owned()).collect();
    verbs.dedup();
    verbs
}

#[test]
fn each_verb_shows_an_example_that_runs_as_it_stands() {
    for verb in verbs() {
        let examples = examples(&verb);
        assert!(!examples.is_empty(), "{verb} has no example");
        for line in examples {
            assert!(line.starts_with(&format!("twinwedge {verb}")), "{line}");
            let folder = folder();
            // What it writes is not there yet.
            let writes = line.split_once("--out ").and_then(|(_, rest)| rest.split(' ').next());
            writes.map(|file| std::fs::remove_file(folder.path().join(file)));
            run(folder.path(), &line);
        }
    }
}

/// Help that takes or tells places says where pixels count from.
#[test]
fn help_says_where_pixels_count_from_and_what_an_answer_holds() {
    for verb in verbs() {
        let help = help(&verb);
        if help.contains("x,y") && verb != "gather" {
            assert!(help.contains("outer corner of its upper left pixel"), "{verb}");
        }
        if !["report", "graph", "slides", "layout", "manual", "schema"].contains(&verb.as_str()) {
            assert!(help.contains("Answer"), "{verb}");
        }
    }
}

/// The README's examples: blocks of the shell, and spans of code that give a verb its arguments.
#[test]
fn the_examples_of_the_readme_run_as_they_stand() {
    let readme =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).expect("the README");
    let blocks = readme.split("```sh\n").skip(1).filter_map(|rest| rest.split("```").next());
    let lines = blocks.flat_map(str::lines).map(|line| line.split("  #").next().unwrap_or_default().trim());
    let joined = readme.replace('\n', " ");
    let spans = joined.split('`').skip(1).step_by(2).filter(|span| span.split(' ').count() > 2);
    let all = lines.map(str::to_owned).chain(spans.map(str::to_owned));
    let own: Vec<String> = all.filter(|line| line.starts_with("twinwedge ")).collect();
    assert!(own.len() >= 6, "{own:?}");
    let folder = folder();
    for line in own {
        run(folder.path(), &line);
    }
}
