//! The one door to the disk: every opening, reading, writing, flushing, renaming and removing of a file passes here, so that
//! tests can let each of them fail in turn (feature `faults`), and so that nothing is read that never ends.

#[cfg(feature = "faults")]
pub mod faults;
mod input;
mod output;
mod unfinished;
mod words;

use std::fs::{self, File};
use std::io;
use std::path::Path;

pub(crate) use input::{Input, open, read};
pub(crate) use output::Output;
pub use unfinished::abandon;
pub(crate) use words::NotAFile;
pub use words::cause;

/// What is about to be done, as a watcher of the disk sees it.
#[derive(Debug, Clone, Copy)]
pub enum Operation<'a> {
    /// A file is opened for reading.
    Open(&'a Path),
    /// Up to so many bytes of a file are read.
    Read(&'a Path, usize),
    /// A new file is made.
    Create(&'a Path),
    /// Bytes are written to the end of a file.
    Write(&'a Path, &'a [u8]),
    /// Permissions or owner of a file are set.
    Dress(&'a Path),
    /// The contents of a file are made to last.
    Flush(&'a Path),
    /// A file gets the name of another, which it replaces.
    Rename(&'a Path, &'a Path),
    /// A file gets a further name, which nothing may have yet.
    Link(&'a Path, &'a Path),
    /// A file is removed.
    Remove(&'a Path),
    /// A folder, with those above it that are missing, is made.
    MakeFolder(&'a Path),
    /// The names in a folder are made to last.
    FlushFolder(&'a Path),
}

/// Tells the watcher, if there is one, what is about to be done: an error in its place, or how much of it to do at most.
#[cfg(feature = "faults")]
fn about_to(operation: Operation<'_>) -> io::Result<usize> {
    faults::about_to(operation)
}

#[cfg(not(feature = "faults"))]
#[expect(clippy::unnecessary_wraps, reason = "with the feature it fails where a test wants it to")]
#[inline]
fn about_to(_operation: Operation<'_>) -> io::Result<usize> {
    Ok(usize::MAX)
}

/// Removes a file.
pub(crate) fn remove(path: &Path) -> io::Result<()> {
    about_to(Operation::Remove(path))?;
    fs::remove_file(path)
}

/// Makes a folder, with those above it that are missing.
pub(crate) fn make_folder(path: &Path) -> io::Result<()> {
    about_to(Operation::MakeFolder(path))?;
    fs::create_dir_all(path)
}

/// Makes the names in a folder last. Some file systems cannot flush a folder and say so in many ways: only a full or failing
/// disk is an error.
pub(crate) fn flush_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) {
        let flushed = about_to(Operation::FlushFolder(folder))
            .and_then(|_| File::open(folder))
            .and_then(|folder| folder.sync_all());
        // 5 is EIO on every Unix.
        return flushed.or_else(|error| {
            let serious = error.kind() == io::ErrorKind::StorageFull || error.raw_os_error() == Some(5);
            if serious { Err(error) } else { Ok(()) }
        });
    }
    Ok(())
}
