//! The series file: RON with a format version, saved whole or not at all.

use std::path::Path;

use twinwedge_core::document::{ScanEntry, ScanKind, Series};
use twinwedge_core::problem::Problem;

/// Ending of series files.
pub const EXTENSION: &str = "twinwedge";

/// Reads a series from its text. `name` stands in problems.
///
/// # Errors
/// Not RON (says line and column), no series, or a format version from the future.
pub fn parse(text: &str, name: &str) -> Result<Series, Problem> {
    todo!("{text} {name}")
}

/// Writes a series as text: stable order, one thing a line.
#[must_use]
pub fn write(series: &Series) -> String {
    todo!("{series:?}")
}

/// Saves bytes so that a crash at any moment leaves the old or the new file whole: written beside, flushed, renamed.
///
/// # Errors
/// The folder cannot be written; the old file is whole.
pub fn save(path: &Path, bytes: &[u8]) -> Result<(), Problem> {
    todo!("{path:?} {}", bytes.len())
}

/// The entry of a scan file that is taken into a series kept in `folder`: its relative path, size and digest.
///
/// # Errors
/// The file cannot be read.
pub fn scan_entry(path: &Path, kind: ScanKind, folder: &Path) -> Result<ScanEntry, Problem> {
    todo!("{path:?} {kind:?} {folder:?}")
}
