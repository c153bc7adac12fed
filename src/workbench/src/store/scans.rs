//! Taking scan files into a series.

use std::fs::File;
use std::path::Path;

use twinwedge_core::document::{FileDigest, ScanEntry, ScanKind};
use twinwedge_core::problem::{Problem, Subject};

use super::paths;

/// The entry of a scan file that is taken into a series kept in `folder`: its relative path, size and digest.
///
/// # Errors
/// The file cannot be read.
pub fn scan_entry(path: &Path, kind: ScanKind, folder: &Path) -> Result<ScanEntry, Problem> {
    Ok(ScanEntry::new(paths::relative(folder, path), Some(digest(path)?), kind))
}

/// Size and digest of a file; read piece by piece.
///
/// # Errors
/// The file cannot be read.
pub fn digest(path: &Path) -> Result<FileDigest, Problem> {
    let read = || -> std::io::Result<FileDigest> {
        let file = File::open(path)?;
        if !file.metadata()?.is_file() {
            return Err(std::io::Error::other("it is not a file"));
        }
        let mut hasher = blake3::Hasher::new();
        hasher.update_reader(file)?;
        Ok(FileDigest { bytes: hasher.count(), blake3: hasher.finalize().to_hex().to_string() })
    };
    read().map_err(|error| {
        Problem::error(
            Subject::File { path: path.display().to_string(), place: None },
            format!("It cannot be read: {error}."),
            "Check the path and whether you may read the file.",
        )
    })
}
