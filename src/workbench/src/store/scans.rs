//! Taking scan files into a series.

use std::io::Read as _;
use std::path::Path;

use twinwedge_core::document::{FileDigest, ScanEntry, ScanKind};
use twinwedge_core::problem::{Problem, Subject};

use super::paths;
use crate::disk::{self, cause};
use crate::words::{Remedy, Store};

/// Bytes read at once.
const PIECE: usize = 1 << 20;
/// Larger files are read piece by piece, and are no text of this program.
const TEXT: u64 = super::SERIES_LIMIT;

/// The entry of a scan file that is taken into a series kept in `folder`: its relative path, size and digest.
///
/// # Errors
/// The file cannot be read.
pub fn scan_entry(path: &Path, kind: ScanKind, folder: &Path) -> Result<ScanEntry, Problem> {
    Ok(entry_of(path, digest(path)?, kind, folder))
}

/// The same of a file whose digest is known.
pub(crate) fn entry_of(path: &Path, digest: FileDigest, kind: ScanKind, folder: &Path) -> ScanEntry {
    ScanEntry::new(paths::relative(folder, path), Some(digest), kind)
}

/// Size and digest of a file; read piece by piece.
///
/// # Errors
/// The file cannot be read.
pub fn digest(path: &Path) -> Result<FileDigest, Problem> {
    digest_while(path, &mut |_| true)
}

/// The same; `go_on` is told the bytes of each piece that was read, and answers whether to go on.
///
/// # Errors
/// The file cannot be read, or `go_on` said no.
pub fn digest_while(path: &Path, go_on: &mut dyn FnMut(u64) -> bool) -> Result<FileDigest, Problem> {
    let problem = |cause: Store, remedy: Remedy| {
        Problem::error(Subject::File { path: path.display().to_string(), place: None }, cause, remedy)
    };
    let unreadable = |error: std::io::Error| {
        let cause = Store::Unreadable { why: cause(&error) };
        problem(cause, Remedy::CheckPathAndRight)
    };
    let mut file = disk::open(path).map_err(unreadable)?;
    let mut hasher = blake3::Hasher::new();
    let mut piece = vec![0; PIECE];
    loop {
        match file.read(&mut piece) {
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(error) => return Err(unreadable(error)),
            Ok(0) => break,
            Ok(read) => {
                hasher.update(&piece[..read]);
                if !go_on(read as u64) {
                    return Err(problem(Store::Cancelled, Remedy::BeginAgain));
                }
            }
        }
    }
    Ok(FileDigest { bytes: hasher.count(), blake3: hasher.finalize().to_hex().to_string() })
}

/// Size and digest of the text of a file; a byte order mark is no part of it.
///
/// # Errors
/// It cannot be read.
pub(crate) fn digest_of_text_file(path: &Path) -> std::io::Result<FileDigest> {
    match disk::read(path, TEXT)? {
        Ok(bytes) => Ok(digest_of_text(&bytes)),
        // The reasons are those of reading, which it has just been through.
        Err(_) => digest(path).map_err(|_| std::io::ErrorKind::UnexpectedEof.into()),
    }
}

/// Size and digest of a text; a byte order mark is no part of it.
pub(crate) fn digest_of_text(text: &[u8]) -> FileDigest {
    let text = text.strip_prefix("\u{feff}".as_bytes()).unwrap_or(text);
    FileDigest { bytes: text.len() as u64, blake3: blake3::hash(text).to_hex().to_string() }
}
