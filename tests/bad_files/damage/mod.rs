//! Files that were damaged in known ways after a general library wrote them: none may be measured.

pub(crate) mod jpeg;
mod jpegs;
mod pngs;
mod random;
mod tiffs;

use std::path::Path;

use twinwedge_core::problem::Problem;
use twinwedge_core::scan::Scan;
use twinwedge_workbench::load::{self, Limits};

use crate::messages::clear;

/// Reads bytes as a file of that name; a problem is checked to be a clear one.
pub(crate) fn read(folder: &Path, name: &str, bytes: &[u8]) -> Result<Scan, Problem> {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    load::scan(&path, Limits::default(), &|_| true).inspect_err(|problem| clear(problem, &path, &[]))
}

/// Numbers that look random and are the same every time.
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub(crate) fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit.max(1)
    }

    pub(crate) fn bytes(&mut self, count: usize) -> Vec<u8> {
        (0..count).map(|_| self.below(256) as u8).collect()
    }
}

/// Asserts that each of these files is refused as damaged or truncated, and tells all that are not.
fn all_refused(files: Vec<(String, Vec<u8>)>, extension: &str) {
    let folder = tempfile::tempdir().unwrap();
    let mut passed = Vec::new();
    let count = files.len();
    for (name, bytes) in files {
        match read(folder.path(), &format!("{}.{extension}", name.replace(' ', "-")), &bytes) {
            Ok(_) => passed.push(name),
            Err(problem) => {
                let told = ["damaged", "truncated", "not supported", "The limit is"]
                    .iter()
                    .any(|word| problem.cause.contains(word));
                assert!(told, "{name}: {problem}");
            }
        }
    }
    println!("{count} damaged files");
    assert!(passed.is_empty(), "{} of {count} passed as sound: {passed:#?}", passed.len());
}
