//! What is being written, and the locks that are held, so that nothing of it is left behind when the process ends while others
//! are at it.

use std::fs;
use std::io;
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};

static UNFINISHED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

fn unfinished() -> MutexGuard<'static, Vec<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A file or folder among those that are unfinished, until this is dropped.
#[derive(Debug)]
pub(super) struct Entry(PathBuf);

impl Drop for Entry {
    fn drop(&mut self) {
        let mut unfinished = unfinished();
        if let Some(at) = unfinished.iter().position(|path| *path == self.0) {
            unfinished.swap_remove(at);
        }
    }
}

/// Makes something at a place that it has then, if it is made.
pub(super) fn begin<T>(
    make: impl FnOnce() -> io::Result<T>,
    place: impl FnOnce(&T) -> Option<PathBuf>,
) -> io::Result<(T, Option<Entry>)> {
    let mut unfinished = unfinished();
    let made = make()?;
    let entry = place(&made).map(|path| {
        unfinished.push(path.clone());
        Entry(path)
    });
    Ok((made, entry))
}

/// Gives something its name; no process ends halfway.
pub(super) fn finish<T>(entry: Option<Entry>, name: impl FnOnce() -> T) -> T {
    let turn = unfinished();
    let done = name();
    drop(turn);
    drop(entry);
    done
}

/// Removes everything that is unfinished, and lets nothing be begun or get its name from now on: for a process that ends at
/// once, whatever its other threads are at.
pub fn abandon() {
    let turn = unfinished();
    for path in &*turn {
        let _ = if path.is_dir() { fs::remove_dir_all(path) } else { fs::remove_file(path) };
    }
    std::mem::forget(turn);
}
