//! Searches for inputs that do harm, by libFuzzer. `cargo dev fuzz` starts it, with the target's name and a folder of its own
//! in the environment.
#![no_main]

#[path = "../../tries/mod.rs"]
mod tries;

use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::PathBuf;
use std::sync::OnceLock;

use libfuzzer_sys::fuzz_target;
use tries::{TARGETS, Target};

static TARGET: OnceLock<&'static Target> = OnceLock::new();

fn folder() -> PathBuf {
    PathBuf::from(std::env::var_os("TWINWEDGE_FUZZ_FOLDER").expect("a folder in TWINWEDGE_FUZZ_FOLDER"))
}

/// Lays out seeds and words before libFuzzer reads them.
fn begin() {
    let name = std::env::var("TWINWEDGE_FUZZ").expect("a target in TWINWEDGE_FUZZ");
    let target = TARGETS.iter().find(|target| target.name == name).expect("a target of that name");
    let target = TARGET.get_or_init(|| target);
    for part in ["corpus", "found", "seeds"] {
        std::fs::create_dir_all(folder().join(part)).expect("a folder");
    }
    for (number, seed) in target.seeds().iter().enumerate() {
        std::fs::write(folder().join(format!("seeds/{number}")), seed).expect("a seed");
    }
    let word = |word: &Vec<u8>| format!("\"{}\"\n", word.iter().map(|byte| format!("\\x{byte:02X}")).collect::<String>());
    std::fs::write(folder().join("words"), (target.words)().iter().map(word).collect::<String>()).expect("words");
}

/// Keeps an input that does harm in a way that none before it did, and goes on.
fn keep(bytes: &[u8], finding: &str) {
    let mut hasher = DefaultHasher::new();
    kind(finding).hash(&mut hasher);
    let file = folder().join(format!("found/{:016x}", hasher.finish()));
    if !file.exists() {
        std::fs::write(&file, bytes).expect("a finding");
        std::fs::write(file.with_extension("txt"), finding).expect("a finding");
        eprintln!("found: {finding}");
    }
}

/// A finding without what differs from input to input: numbers, paths, and what stands in quotation marks.
fn kind(finding: &str) -> String {
    let outside: String = finding.split('\'').step_by(2).collect();
    let words = outside.split_whitespace().filter(|word| !word.contains(|letter: char| letter == '/' || letter == '\\' || letter.is_ascii_digit()));
    words.take(12).collect::<Vec<_>>().join(" ")
}

fuzz_target!(
    init: begin(),
    |bytes: &[u8]| {
        let target = TARGET.get().expect("a target");
        if bytes.len() <= target.longest && let Err(finding) = target.examine(bytes) {
            keep(bytes, &finding);
        }
    }
);
