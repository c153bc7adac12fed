//! Files that are read.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::{Changed, NotAFile, Operation, about_to};

/// How often an opening that the system interrupts is tried again.
const TRIES: usize = 8;

/// A file that is read: a regular one, as long as it was when it was opened.
#[derive(Debug)]
pub(crate) struct Input {
    file: File,
    path: PathBuf,
    stamp: Stamp,
}

/// Length of a file in bytes and when it was last changed, where the system tells: while both stay, nobody wrote into it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Stamp {
    pub(crate) length: u64,
    pub(crate) changed: Option<SystemTime>,
}

/// Opens a file for reading, whatever waits behind its name: a pipe, a device or a folder is told from a file before it is
/// opened, for opening a pipe waits until somebody writes into it.
///
/// # Errors
/// It cannot be opened, or is no regular file: then the error holds a [`NotAFile`].
pub(crate) fn open(path: &Path) -> io::Result<Input> {
    for _ in 1..TRIES {
        match open_once(path) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            other => return other,
        }
    }
    open_once(path)
}

fn open_once(path: &Path) -> io::Result<Input> {
    about_to(Operation::Open(path))?;
    NotAFile::check(&std::fs::metadata(path)?)?;
    let file = File::open(path)?;
    let meta = file.metadata()?;
    // Something else may have come to that name in between.
    NotAFile::check(&meta)?;
    Ok(Input { file, path: path.to_owned(), stamp: Stamp::of(&meta) })
}

/// Length and time of change of a file, without opening it.
///
/// # Errors
/// There is none, or it is no regular file: then the error holds a [`NotAFile`].
pub(crate) fn stamp(path: &Path) -> io::Result<Stamp> {
    let meta = std::fs::metadata(path)?;
    NotAFile::check(&meta)?;
    Ok(Stamp::of(&meta))
}

impl Stamp {
    pub(crate) fn of(meta: &std::fs::Metadata) -> Self {
        Self { length: meta.len(), changed: meta.modified().ok() }
    }
}

/// Reads a file whole if it holds at most `most` bytes; `Ok(Err(length))` tells how many it holds otherwise.
///
/// # Errors
/// As [`open`]; or it cannot be read, or its bytes find no room in memory, or it became longer or shorter meanwhile: then the
/// error holds [`Changed`].
pub(crate) fn read(path: &Path, most: u64) -> io::Result<Result<Vec<u8>, u64>> {
    let mut input = open(path)?;
    let length = input.length();
    if length > most {
        return Ok(Err(length));
    }
    let wanted = usize::try_from(length).map_err(|_| io::ErrorKind::OutOfMemory)?;
    let mut bytes = Vec::new();
    bytes.try_reserve_exact(wanted).map_err(|_| io::ErrorKind::OutOfMemory)?;
    bytes.resize(wanted, 0);
    let whole = input.read_exact(&mut bytes).map(|()| true).or_else(|error| match error.kind() {
        io::ErrorKind::UnexpectedEof => Ok(false),
        _ => Err(error),
    })?;
    if !whole || input.take(1).read_to_end(&mut Vec::new())? > 0 {
        return Err(Changed::error());
    }
    Ok(Ok(bytes))
}

impl Input {
    /// How many bytes the file held when it was opened.
    pub(crate) fn length(&self) -> u64 {
        self.stamp.length
    }

    /// The file as it was when it was opened.
    pub(crate) fn stamp(&self) -> Stamp {
        self.stamp
    }
}

impl Read for Input {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let most = about_to(Operation::Read(&self.path, buffer.len()))?.min(buffer.len());
        self.file.read(&mut buffer[..most])
    }
}

impl Seek for Input {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}
