//! The one door to the disk: every opening, reading, writing, flushing, renaming and removing of a file passes here, so that
//! tests can let each of them fail in turn (feature `faults`), and so that nothing is read that never ends.

#[cfg(feature = "faults")]
pub mod faults;
mod input;
mod lock;
mod output;
mod unfinished;
mod words;

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

pub(crate) use input::{Input, Stamp, open, read, stamp};
pub(crate) use lock::Lock;
pub(crate) use output::{Output, OutputFolder};
pub use unfinished::abandon;
pub use words::cause;
pub(crate) use words::{Changed, NotAFile};

/// More links than this, one leading to the next, lead nowhere.
const MOST_LINKS: usize = 40;

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
    /// The lock whose file this is is taken.
    Lock(&'a Path),
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

/// Whether two names lead to one file, through links or by another spelling.
pub(crate) fn same_file(a: &Path, b: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let id = |path| fs::metadata(path).map(|meta: fs::Metadata| (meta.dev(), meta.ino()));
        matches!((id(a), id(b)), (Ok(a), Ok(b)) if a == b)
    }
    #[cfg(not(unix))]
    matches!((fs::canonicalize(a), fs::canonicalize(b)), (Ok(a), Ok(b)) if a == b)
}

/// Where a name leads once all links are followed, also to where nothing is yet.
///
/// # Errors
/// The links lead round in a circle, or cannot be read.
pub(crate) fn followed(path: &Path) -> io::Result<PathBuf> {
    let mut place = path.to_owned();
    for _ in 0..MOST_LINKS {
        match fs::symlink_metadata(&place) {
            Ok(meta) if meta.is_symlink() => {
                let next = fs::read_link(&place)?;
                place = place.parent().map_or_else(|| next.clone(), |folder| folder.join(&next));
            }
            Ok(_) => return Ok(place),
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(place),
            Err(error) => return Err(error),
        }
    }
    Err(io::Error::other("its links lead round in a circle"))
}

/// Gives a file another name, which replaces what has that name.
pub(crate) fn rename(from: &Path, to: &Path) -> io::Result<()> {
    about_to(Operation::Rename(from, to))?;
    fs::rename(from, to)
}

/// Removes a file.
pub(crate) fn remove(path: &Path) -> io::Result<()> {
    about_to(Operation::Remove(path))?;
    fs::remove_file(path)
}

/// Removes a folder in which nothing is left.
pub(crate) fn remove_empty_folder(path: &Path) -> io::Result<()> {
    about_to(Operation::Remove(path))?;
    fs::remove_dir(path)
}

/// Makes a folder, with those above it that are missing.
pub(crate) fn make_folder(path: &Path) -> io::Result<()> {
    about_to(Operation::MakeFolder(path))?;
    fs::create_dir_all(path)
}

/// Makes the names in a folder last. Some file systems cannot flush a folder and say so in many ways: only a disk that is full,
/// failing or not to be written is an error.
pub(crate) fn flush_folder(folder: &Path) -> io::Result<()> {
    if !cfg!(unix) {
        return Ok(());
    }
    loop {
        let flushed = about_to(Operation::FlushFolder(folder))
            .and_then(|_| File::open(folder))
            .and_then(|folder| folder.sync_all());
        let Err(error) = flushed else { return Ok(()) };
        let serious = matches!(
            error.kind(),
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::ReadOnlyFilesystem
        );
        // 5 is EIO on every Unix.
        if serious || error.raw_os_error() == Some(5) {
            return Err(error);
        }
        if error.kind() != io::ErrorKind::Interrupted {
            return Ok(());
        }
    }
}
