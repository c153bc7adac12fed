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

/// The code of a source: without comments, without test modules at its end.
fn code_of(text: &str) -> String {
    let code = text.split("#[cfg(test)]").next().unwrap_or_default();
    code.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

/// String literals of a source, with the byte at which each begins.
fn literals(code: &str) -> Vec<(usize, String)> {
    let bytes = code.as_bytes();
    let (mut at, mut found) = (0, Vec::new());
    while at < bytes.len() {
        match bytes[at] {
            b'/' if bytes.get(at + 1) == Some(&b'/') => {
                at += code[at..].find('\n').unwrap_or(code.len() - at);
            }
            // A character, not a lifetime.
            b'\'' => {
                let escaped = bytes.get(at + 1) == Some(&b'\\');
                let end = code[at + 1..].char_indices().nth(if escaped { 2 } else { 1 });
                at += match end {
                    Some((end, '\'')) => end + 2,
                    _ if escaped => code[at + 2..].find('\'').map_or(1, |end| end + 3),
                    _ => 1,
                };
            }
            b'"' => {
                let begin = at + 1;
                at = begin;
                while bytes[at] != b'"' {
                    at += if bytes[at] == b'\\' { 2 } else { 1 };
                }
                found.push((begin, code[begin..at].to_owned()));
                at += 1;
            }
            _ => at += 1,
        }
    }
    found
}

/// Rooms of the core that hold words by their nature, each with the reason.
const ROOMS_OF_WORDS: [(&str, &str); 9] = [
    ("words", "the room of sentences"),
    ("measured.rs", "the registry of flags: bit, word and meaning in one row"),
    ("figures/registry.rs", "the registry of figures: label, unit, definition and source in one row"),
    ("document/ranges.rs", "the registry of what fields may hold, each with its name, and why there"),
    ("compare/findings", "findings are sentences, made from labels and claims"),
    ("compare/greys.rs", "findings about colours"),
    ("compare/format.rs", "numbers as findings and tables write them"),
    ("drawing", "titles, axes and marks of a drawing"),
    ("citation.rs", "the bibliography"),
];

/// Texts that stand where they are defined: a name of a thing, or a definition beside what it defines.
const DEFINED_WHERE_THEY_STAND: [(&str, usize, &str); 25] = [
    ("compare/mod.rs", 12, "the questions of a comparison, and two cautions that stand beside its tables"),
    ("compare/similarity.rs", 1, "the definition"),
    ("compare/speeds.rs", 11, "names of criteria, and when each is of use"),
    ("curve/parametric.rs", 4, "names of forms and parameters"),
    ("curve/readings.rs", 1, "the name of a step of a strip"),
    ("detail/mod.rs", 2, "where frequencies are told"),
    ("development/family.rs", 1, "names of gradients"),
    ("document/check.rs", 11, "names of places in the document"),
    ("document/check_film.rs", 1, "the name of a place in a film"),
    ("document/encoding.rs", 4, "names of encodings, and how one is written"),
    ("document/mod.rs", 3, "the name of a further roll, and names of shadow densities"),
    ("document/once.rs", 1, "what is wrong with the text of a file"),
    ("document/scans.rs", 2, "names of channels and of a usual tablet"),
    ("document/target.rs", 3, "names of lights"),
    ("figures/mod.rs", 1, "names of groups"),
    ("figures/speed.rs", 1, "a speed as it is printed on a box"),
    ("figures/straight.rs", 1, "the definition"),
    ("greys/colour.rs", 1, "names of families of colour"),
    ("ranking/conclusions.rs", 10, "names of topics, each with its definition"),
    ("scan/encoding.rs", 9, "names of where a file states its encoding"),
    ("scan/examine/mod.rs", 15, "the registry of faults: word, what it spoils, remedy"),
    ("sharpness/mod.rs", 2, "the method by its standard"),
    ("sharpness/overshoot.rs", 4, "names of causes"),
    ("spectra/density.rs", 6, "names of densities"),
    ("spectra/light.rs", 4, "names of standard lights"),
];

#[test]
fn numbers_know_no_words() {
    let core = top().join("src/core/src");
    let mut beyond = Vec::new();
    for (path, text) in sources("src/core/src") {
        let place = path.strip_prefix(&core).expect("within the core").to_string_lossy().into_owned();
        let tests = place.ends_with("tests.rs");
        if tests || ROOMS_OF_WORDS.iter().any(|(room, _)| place.starts_with(room)) {
            continue;
        }
        let code = code_of(&text);
        let prose = |(at, literal): &(usize, String)| {
            // What is meant for a programmer: messages of assertions, reasons of lints.
            let before = code[..*at - 1].trim_end();
            let begun = before.rfind([';', '{', '}']).map_or("", |begin| &before[begin..]);
            let for_programmers = ["assert", "panic!", "unreachable!", "expect(", "reason ="];
            literal.matches(' ').count() >= 2 && !for_programmers.iter().any(|word| begun.contains(word))
        };
        let found: Vec<(usize, String)> = literals(&code).into_iter().filter(prose).collect();
        let known = DEFINED_WHERE_THEY_STAND.iter().find(|(known, ..)| *known == place);
        if found.len() > known.map_or(0, |(_, count, _)| *count) {
            beyond.push(format!("{place}: {found:?}"));
        }
    }
    assert!(
        beyond.is_empty(),
        "sentences of results are rows of the words room, not made where numbers are:\n{}",
        beyond.join("\n")
    );
}

/// Sentences that stand in rooms of the workbench whose problems are rows of its words, each with the reason.
const SENTENCES_OF_THE_WORKBENCH: [(&str, usize, &str); 7] = [
    ("engine/rules/development.rs", 1, "what a predicted curve is, the caption of a drawing"),
    ("store/differences.rs", 8, "how two series differ, a list within a problem"),
    ("load/from_jpeg.rs", 2, "what a file says of itself"),
    ("load/from_png.rs", 1, "what was dropped of a file"),
    ("load/profile.rs", 4, "what was made of a profile"),
    ("load/tiff/mod.rs", 5, "what was made of a file"),
    ("load/tiff/pixels.rs", 1, "what was made of its light"),
];

#[test]
fn problems_of_engine_store_and_load_are_rows() {
    let workbench = top().join("src/workbench/src");
    let mut beyond = Vec::new();
    for room in ["engine", "store", "load"] {
        for (path, text) in sources(&format!("src/workbench/src/{room}")) {
            let place = path.strip_prefix(&workbench).expect("within").to_string_lossy().into_owned();
            let whole = |(_, literal): &(usize, String)| {
                literal.matches(' ').count() >= 2
                    && literal.ends_with('.')
                    && literal.starts_with(|c: char| c.is_uppercase() || c == '{' || c == '\'')
            };
            let found: Vec<_> = literals(&code_of(&text)).into_iter().filter(whole).collect();
            let known = SENTENCES_OF_THE_WORKBENCH.iter().find(|(known, ..)| *known == place);
            if found.len() > known.map_or(0, |(_, count, _)| *count) {
                beyond.push(format!("{place}: {found:?}"));
            }
        }
    }
    assert!(
        beyond.is_empty(),
        "a problem is a row of the workbench's words, told apart by its code:\n{}",
        beyond.join("\n")
    );
}

/// Doc comments of a source: the line, the whole comment, and the item that it stands over.
fn documented(text: &str) -> Vec<(usize, String, String)> {
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let (mut at, mut found) = (0, Vec::new());
    while at < lines.len() {
        if !lines[at].starts_with("///") {
            at += 1;
            continue;
        }
        let begins = at;
        let mut comment = String::new();
        while at < lines.len() && lines[at].starts_with("///") {
            comment.push_str(lines[at][3..].trim());
            comment.push(' ');
            at += 1;
        }
        let mut item = at;
        let mut open = 0_i32;
        while item < lines.len() && (lines[item].starts_with("#[") || open > 0) {
            open += lines[item].chars().map(|c| i32::from(c == '[') - i32::from(c == ']')).sum::<i32>();
            item += 1;
        }
        found.push((begins + 1, comment, lines.get(item).copied().unwrap_or_default().to_owned()));
    }
    found
}

/// The words of a text or of a name: small letters, without the endings of plurals and verbs.
fn bare_words(text: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut small = false;
    for c in text.chars() {
        if !c.is_alphanumeric() || (c.is_uppercase() && small) {
            words.push(String::new());
        }
        if c.is_alphanumeric() {
            words.last_mut().expect("a word").extend(c.to_lowercase());
        }
        small = c.is_lowercase();
    }
    let bare = |word: &String| {
        let ending = ["ing", "ies", "es", "ed", "s"].into_iter().find(|end| word.ends_with(*end));
        let stem = ending.map_or(word.as_str(), |end| &word[..word.len() - end.len()]);
        (if stem.len() >= 3 { stem } else { word }).to_owned()
    };
    words.iter().filter(|word| !word.is_empty()).map(bare).collect()
}

/// The name of an item by its first line.
fn item_name(line: &str) -> &str {
    let seen_by = line.strip_prefix("pub(").and_then(|rest| rest.split_once(')'));
    let line = seen_by.map_or(line, |(_, item)| item);
    let mut words = line.split(|c: char| !c.is_alphanumeric() && c != '_').filter(|word| !word.is_empty());
    let before = ["pub", "const", "static", "fn", "struct", "enum", "trait", "type", "mod", "macro_rules"];
    words.find(|word| !before.contains(word)).unwrap_or_default()
}

#[test]
fn a_comment_over_an_item_says_more_than_its_name() {
    // Words that say nothing by themselves.
    let small = [
        "a", "an", "the", "of", "its", "it", "is", "that", "this", "to", "in", "on", "for", "by", "as",
        "and", "or", "one", "each", "all", "with",
    ];
    let mut bare = Vec::new();
    for (path, text) in sources("src") {
        for (line, comment, item) in documented(&text) {
            let name = bare_words(item_name(&item));
            let said = bare_words(&comment);
            let more = said
                .iter()
                .any(|word| !name.contains(word) && !small.iter().any(|s| bare_words(s)[0] == *word));
            // Three words, however they are written: `lg H of it`, `base+fog`.
            let words =
                comment.split_whitespace().filter(|word| word.contains(char::is_alphanumeric)).count();
            if words < 3 || !more {
                bare.push(format!("{}:{line}: {comment}", path.display()));
            }
        }
    }
    assert!(
        bare.is_empty(),
        "say shape, unit, errors or source of an item, or leave the comment out:\n{}",
        bare.join("\n")
    );
}

/// What the rooms of a crate name of each other: rooms are the files and folders beside its `lib.rs`.
fn rooms(folder: &str) -> BTreeMap<String, BTreeMap<String, String>> {
    let base = top().join(folder);
    let mut rooms: BTreeMap<String, BTreeMap<String, String>> = BTreeMap::new();
    let all = sources(folder);
    let room_of = |path: &Path| {
        let place = path.strip_prefix(&base).expect("within the crate");
        let first = place.components().next().expect("a name").as_os_str().to_string_lossy().into_owned();
        first.trim_end_matches(".rs").to_owned()
    };
    let names: Vec<String> = all.iter().map(|(path, _)| room_of(path)).collect();
    for ((path, text), room) in all.iter().zip(&names) {
        if ["lib", "main", "mod"].contains(&room.as_str()) || path.ends_with("tests.rs") {
            continue;
        }
        let code = code_of(text);
        let used = rooms.entry(room.clone()).or_default();
        for rest in code.split("crate::").skip(1) {
            let listed: Vec<String> = if let Some(list) = rest.strip_prefix('{') {
                let list = list.split(';').next().unwrap_or_default();
                // Names right within the outer braces.
                let mut depth = 0;
                let flat: String = list
                    .chars()
                    .filter(|c| {
                        depth += i32::from(*c == '{') - i32::from(*c == '}');
                        depth == 0 && *c != '}'
                    })
                    .collect();
                flat.split(',')
                    .map(|name| name.trim().split("::").next().unwrap_or_default().to_owned())
                    .collect()
            } else {
                let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len());
                vec![rest[..end].to_owned()]
            };
            for other in listed.into_iter().filter(|other| other != room && names.contains(other)) {
                used.entry(other).or_insert_with(|| path.display().to_string());
            }
        }
    }
    rooms
}

/// Rooms that reach each other by both ways.
fn circles(folder: &str) -> Vec<String> {
    let rooms = rooms(folder);
    let reach = |from: &String| {
        let (mut seen, mut open) = (Vec::new(), vec![from.clone()]);
        while let Some(room) = open.pop() {
            for other in rooms.get(&room).into_iter().flat_map(BTreeMap::keys) {
                if !seen.contains(other) {
                    seen.push(other.clone());
                    open.push(other.clone());
                }
            }
        }
        seen
    };
    let edges =
        rooms.iter().flat_map(|(room, used)| used.iter().map(move |(other, file)| (room, other, file)));
    edges
        .filter(|(room, other, _)| reach(other).contains(room))
        .map(|(room, other, file)| format!("{room} uses {other} in {file}"))
        .collect()
}

#[test]
fn rooms_of_a_crate_form_no_circle() {
    for folder in ["src/core/src", "src/workbench/src", "src/desktop/src", "src/cli", "src/dev/src"] {
        let found = circles(folder);
        assert!(found.is_empty(), "rooms of {folder} use each other in circles:\n{}", found.join("\n"));
    }
}
