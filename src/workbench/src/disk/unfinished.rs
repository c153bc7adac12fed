//! The files that are being written, so that none is left behind when the process ends while others write.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use tempfile::NamedTempFile;

static UNFINISHED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

fn unfinished() -> MutexGuard<'static, Vec<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A file among those that are being written, until this is dropped.
#[derive(Debug)]
pub(super) struct Entry(PathBuf);

impl Drop for Entry {
    fn drop(&mut self) {
        unfinished().retain(|path| *path != self.0);
    }
}

/// Begins a file.
pub(super) fn begin(make: impl FnOnce() -> io::Result<NamedTempFile>) -> io::Result<(NamedTempFile, Entry)> {
    let mut unfinished = unfinished();
    let file = make()?;
    unfinished.push(file.path().to_owned());
    let entry = Entry(file.path().to_owned());
    Ok((file, entry))
}

/// Gives a file its name; no process ends halfway.
pub(super) fn finish<T>(entry: Entry, name: impl FnOnce() -> T) -> T {
    let turn = unfinished();
    let done = name();
    drop(turn);
    drop(entry);
    done
}

/// Removes all files that are being written, and lets none be begun or get its name from now on: for a process that ends
/// at once, whatever its other threads are at.
pub fn abandon() {
    let turn = unfinished();
    for path in &*turn {
        let _ = std::fs::remove_file::<&Path>(path);
    }
    std::mem::forget(turn);
}
