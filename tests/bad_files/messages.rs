//! What problems with files say: plain sentences, whatever the damage.

use std::path::Path;

use twinwedge_core::problem::Problem;
use twinwedge_workbench::load::{self, Limits};

use crate::damage::Dice;
use crate::damage::jpeg::{FORMS, encoded};
use crate::make;

/// What no sentence for people holds: other libraries' words, places in sources, numbers of the system, names of types.
const NEVER: [&str; 16] = [
    "os error", "src/", ".rs", "Error", "{", "}", "\\", "::", "Some(", "None", "Err(", "panicked", "unwrap",
    "IDAT", "IFD", "0x",
];

/// Asserts that a problem is told in plain words. Its path stands in its subject alone.
pub(crate) fn plain(problem: &Problem, path: &str) {
    let told = format!("{} {}", problem.cause, problem.remedy);
    for never in NEVER {
        assert!(!told.contains(never), "'{never}' in: {told}");
    }
    assert!(!told.contains(path), "the path once more: {told}");
    assert_eq!(problem.to_string().matches(path).count(), 1, "the path once: {problem}");
    for word in told.split(|c: char| !c.is_alphanumeric()) {
        let inner = word.chars().skip(1).any(char::is_uppercase) && word.chars().any(char::is_lowercase);
        // Names that are written so.
        assert!(!inner || ["YCbCr", "GIF", "WebP", "MiB", "kB", "mL"].contains(&word), "'{word}' in: {told}");
    }
    for sentence in [problem.cause.to_string(), problem.remedy.to_string()] {
        assert!(
            sentence.ends_with('.') && !sentence.contains("..") && !sentence.contains("  "),
            "{sentence}"
        );
        assert!(
            sentence.starts_with(|c: char| c.is_uppercase() || c.is_ascii_digit() || c == '\''),
            "{sentence}"
        );
    }
}

/// As [`crate::clear`], and in plain words.
pub(crate) fn clear(problem: &Problem, path: &Path, words: &[&str]) {
    crate::clear(problem, path, words);
    plain(problem, &path.display().to_string());
}

#[test]
fn randomly_damaged_files_are_told_in_plain_words() {
    let folder = tempfile::tempdir().unwrap();
    let mut files = vec![
        make::grey16(),
        make::grey8(),
        make::png(40, 30, png::ColorType::Rgb, png::BitDepth::Eight, &make::ramp8(3600)),
        make::interlaced_png(21, 13, &make::ramp8(21 * 13)),
    ];
    files.extend([FORMS[0], FORMS[5], FORMS[7], FORMS[12]].map(encoded));
    let mut causes = std::collections::BTreeSet::new();
    for (i, sound) in files.iter().enumerate() {
        let path = folder.path().join("a-file");
        let mut dice = Dice::new(i as u64 + 99);
        for round in 0..250 {
            let mut bytes = sound.clone();
            for _ in 0..=round % 4 {
                // Headers are short: every second change goes there.
                let reach = if dice.below(2) == 0 { bytes.len() } else { bytes.len().min(300) };
                let at = dice.below(reach);
                // So are directories at the end of a TIFF.
                let back = if i < 2 && dice.below(2) == 0 { dice.below(150) } else { 0 };
                let end = bytes.len().saturating_sub(back).max(1);
                match dice.below(4) {
                    0 => bytes[at] = dice.below(256) as u8,
                    1 => bytes[end - 1] ^= 1 << dice.below(8),
                    2 => bytes.truncate(at.max(4)),
                    _ => bytes.insert(at.max(4), dice.below(256) as u8),
                }
            }
            std::fs::write(&path, &bytes).unwrap();
            if let Err(problem) = load::scan(&path, Limits::default(), &|_| true) {
                plain(&problem, &path.display().to_string());
                causes.insert(
                    problem.cause.to_string().chars().filter(|c| !c.is_ascii_digit()).collect::<String>(),
                );
            }
        }
    }
    println!("{causes:#?}");
    assert!(causes.len() > 12, "{} sorts of problems", causes.len());
}
