//! Files that are read.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use super::{NotAFile, Operation, about_to};

/// A file that is read: a regular one, as long as it was when it was opened.
#[derive(Debug)]
pub(crate) struct Input {
    file: File,
    path: PathBuf,
    length: u64,
}

/// Opens a file for reading, whatever waits behind its name: a pipe, a device or a folder is told from a file before it is
/// opened, for opening a pipe waits until somebody writes into it.
///
/// # Errors
/// It cannot be opened, or is no regular file: then the error holds a [`NotAFile`].
pub(crate) fn open(path: &Path) -> io::Result<Input> {
    about_to(Operation::Open(path))?;
    NotAFile::check(&std::fs::metadata(path)?)?;
    let file = File::open(path)?;
    let meta = file.metadata()?;
    // Something else may have come to that name in between.
    NotAFile::check(&meta)?;
    Ok(Input { file, path: path.to_owned(), length: meta.len() })
}

/// Reads a file whole if it holds at most `most` bytes; `Ok(Err(length))` tells how many it holds otherwise.
///
/// # Errors
/// As [`open`]; or it cannot be read, or its bytes find no room in memory, or it ends before its length
/// ([`io::ErrorKind::UnexpectedEof`]).
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
    input.read_exact(&mut bytes)?;
    Ok(Ok(bytes))
}

impl Input {
    /// How many bytes the file held when it was opened.
    pub(crate) fn length(&self) -> u64 {
        self.length
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
