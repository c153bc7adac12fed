//! The rules of the house that a machine can hold: who may use whom, what stands at the top, how long a file may be.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Rust sources below `folder`, with their text.
fn sources(folder: &str) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    let mut folders = vec![top().join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("a folder of the project") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let text = std::fs::read_to_string(&path).expect("a source file");
                found.push((path, text));
            }
        }
    }
    assert!(!found.is_empty(), "{folder} holds sources");
    found
}

/// Direct dependencies (not those of tests) of each package of the workspace.
fn dependencies() -> BTreeMap<String, Vec<String>> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--no-deps", "--offline", "--format-version", "1"])
        .current_dir(top())
        .output()
        .expect("cargo metadata runs");
    let metadata: Value = serde_json::from_slice(&output.stdout).expect("cargo metadata prints JSON");
    let name = |value: &Value| value["name"].as_str().expect("a name").to_owned();
    let packages = metadata["packages"].as_array().expect("packages");
    let of = |package: &Value| {
        let listed = package["dependencies"].as_array().expect("dependencies");
        listed.iter().filter(|dependency| dependency["kind"] != "dev").map(name).collect()
    };
    packages.iter().map(|package| (name(package), of(package))).collect()
}

#[test]
fn edges_between_crates_run_one_way() {
    let dependencies = dependencies();
    let own = |package: &str| {
        let mut own: Vec<String> =
            dependencies[package].iter().filter(|name| name.starts_with("twinwedge")).cloned().collect();
        own.sort();
        own
    };
    assert!(own("twinwedge-core").is_empty(), "the core uses none of the other rooms");
    assert_eq!(own("twinwedge-workbench"), ["twinwedge-core"]);
    assert_eq!(own("twinwedge-desktop"), ["twinwedge-workbench"]);
    assert_eq!(own("twinwedge"), ["twinwedge-desktop", "twinwedge-workbench"]);
}

#[test]
fn the_core_depends_on_numeric_crates_alone() {
    let allowed = [
        "bitflags", "libm", "nalgebra", "pulp", "rand", "rand_pcg", "rayon", "realfft", "rustfft", "serde",
        "statrs",
    ];
    for name in &dependencies()["twinwedge-core"] {
        assert!(allowed.contains(&name.as_str()), "{name} is not among the numeric crates of the core");
    }
}

#[test]
fn the_core_touches_no_file_clock_thread_or_terminal() {
    let banned =
        ["std::fs", "std::io", "std::net", "std::env", "std::thread", "std::time", "println!", "eprintln!"];
    for (path, text) in sources("src/core/src") {
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        for word in banned {
            assert!(!code.contains(word), "{} uses {word}", path.display());
        }
    }
}

#[test]
fn only_the_desktop_names_the_window_toolkit() {
    for folder in ["src/core", "src/workbench", "src/cli", "src/dev"] {
        for (path, text) in sources(folder) {
            assert!(!text.contains("egui"), "{} names the window toolkit", path.display());
        }
    }
}

#[test]
fn no_edit_of_the_document_stands_in_the_window() {
    let parts = [
        "Series",
        "Film",
        "ScanEntry",
        "Calibration",
        "PaperTest",
        "Strip",
        "Bracket",
        "BracketFrame",
        "PrintChoice",
        "GrainArea",
        "EdgeArea",
        "PatchLayout",
    ];
    let ways = ["film_mut(", ".strips.get_mut(", ".uniform_areas.get_mut(", "Edit::new(", "preview_with("];
    let banned = parts.iter().map(|part| format!("&mut {part}")).chain(ways.map(str::to_owned));
    let banned: Vec<String> = banned.chain(["session::Edit".to_owned(), ".edit(".to_owned()]).collect();
    for (path, text) in sources("src/desktop/src") {
        for word in &banned {
            assert!(
                !text.contains(word),
                "{} holds {word}: what changes the document is an operation of the workbench",
                path.display()
            );
        }
    }
}

#[test]
fn colours_stand_in_the_appearance_room_alone() {
    let literals =
        ["Color32::from_rgb", "Color32::from_gray", "Color32::from_rgba", "Color32::WHITE", "Color32::BLACK"];
    for (path, text) in sources("src/desktop/src") {
        if path.components().any(|part| part.as_os_str() == "appearance") {
            continue;
        }
        for literal in literals {
            assert!(!text.contains(literal), "{} holds the colour {literal}", path.display());
        }
    }
}

#[test]
fn no_file_is_two_things() {
    for folder in ["src", "tests"] {
        for (path, text) in sources(folder) {
            let lines = text.lines().count();
            assert!(lines <= 800, "{} has {lines} lines; at 800 a file is two things", path.display());
        }
    }
    let main = std::fs::read_to_string(top().join("src/main.rs")).expect("src/main.rs");
    assert!(main.lines().count() < 100, "src/main.rs stays under 100 lines");
}

#[test]
fn no_struct_has_more_than_fifteen_fields() {
    for (path, text) in sources("src") {
        // Documents aside, those of older formats too.
        if path.components().any(|part| part.as_os_str() == "document" || part.as_os_str() == "migrate") {
            continue;
        }
        let mut fields: Option<(String, usize)> = None;
        for line in text.lines() {
            let code = line.trim();
            if let Some((name, count)) = &mut fields {
                if line.starts_with('}') {
                    assert!(*count <= 15, "{} in {} has {count} fields", name, path.display());
                    fields = None;
                } else if line.starts_with("    ") && !line.starts_with("     ") && code.contains(": ") {
                    *count += usize::from(!code.starts_with("//") && !code.starts_with('#'));
                }
            } else if code.contains("struct ") && line.ends_with('{') && !line.starts_with(' ') {
                fields = Some((code.to_owned(), 0));
            }
        }
    }
}

#[test]
fn nothing_is_left_to_do_in_silence() {
    for (path, text) in sources("src") {
        for word in ["todo!(", "unimplemented!(", "FIXME", "XXX"] {
            assert!(!text.contains(word), "{} still says {word}", path.display());
        }
    }
}

#[test]
fn the_top_level_holds_the_agreed_names() {
    let agreed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE-MIT",
        "LICENSE-APACHE",
        "src",
        "tests",
        "sample-projects",
        "icons",
        // Made by building and testing, not kept.
        "target",
        "artefacts",
    ];
    for entry in std::fs::read_dir(top()).expect("the top folder") {
        let name = entry.expect("an entry").file_name().to_string_lossy().into_owned();
        assert!(name.starts_with('.') || agreed.contains(&name.as_str()), "{name} stands at the top level");
    }
    for name in ["Cargo.toml", "README.md", "DEVELOPERS.md", "src", "tests", "sample-projects", "icons"] {
        assert!(top().join(name).exists(), "{name} is missing at the top level");
    }
}

#[test]
fn every_dependency_is_pinned_in_one_table() {
    for manifest in
        ["Cargo.toml", "src/core/Cargo.toml", "src/workbench/Cargo.toml", "src/desktop/Cargo.toml"]
    {
        let text = std::fs::read_to_string(top().join(manifest)).expect("a manifest");
        let mut inside = false;
        for line in text.lines() {
            if line.starts_with('[') {
                inside = line == "[dependencies]" || line == "[dev-dependencies]";
            } else if inside && line.contains('=') {
                assert!(line.contains("workspace = true"), "{manifest}: '{line}' has a version of its own");
            }
        }
    }
}
