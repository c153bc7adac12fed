//! Problems with a file, in the same words for every format.

use std::io;
use std::path::Path;

use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::words::Sentence;

use super::Limits;
use super::budget::human;
use crate::disk::{self, Changed, Input, NotAFile, Stamp};
use crate::words::{File, Remedy};

/// The file that is being read, and how much may be made of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Source<'a> {
    path: &'a Path,
    limits: Limits,
    stamp: Stamp,
}

impl<'a> Source<'a> {
    /// Opens the file a first time: what is read later must still be the same. The opened file comes with it.
    pub(super) fn begin(path: &'a Path, limits: Limits) -> Result<(Self, Input), Problem> {
        let file = disk::open(path).map_err(|error| unreadable(path, &error))?;
        Ok((Self { path, limits, stamp: file.stamp() }, file))
    }

    /// Opens it again.
    pub(super) fn open(&self) -> Result<Input, Problem> {
        let file = disk::open(self.path).map_err(|error| self.unreadable(&error))?;
        if file.stamp() == self.stamp { Ok(file) } else { Err(self.unreadable(&Changed::error())) }
    }

    /// Checks that nobody wrote into the file since it was opened first.
    pub(super) fn unchanged(&self) -> Result<(), Problem> {
        self.open().map(drop)
    }

    /// Reads it whole if it holds at most `most` bytes.
    pub(super) fn whole(&self, most: u64) -> Result<Vec<u8>, Problem> {
        if self.length() > most {
            return Err(self.too_long(most));
        }
        match disk::read(self.path, most) {
            Ok(Ok(bytes)) => Ok(bytes),
            Ok(Err(_)) => Err(self.unreadable(&Changed::error())),
            Err(error) => Err(self.unreadable(&error)),
        }
    }

    /// Bytes of the file when it was opened.
    pub(super) fn length(&self) -> u64 {
        self.stamp.length
    }

    pub(super) fn limits(&self) -> Limits {
        self.limits
    }

    pub(super) fn problem(&self, cause: impl Into<Sentence>, remedy: impl Into<Sentence>) -> Problem {
        problem(self.path, cause, remedy)
    }

    /// The file cannot be opened or read.
    pub(super) fn unreadable(&self, error: &io::Error) -> Problem {
        unreadable(self.path, error)
    }

    /// The file is shorter than it says.
    pub(super) fn truncated(&self) -> Problem {
        truncated(self.path)
    }

    /// The file contradicts itself.
    pub(super) fn damaged(&self, how: impl std::fmt::Display) -> Problem {
        self.problem(File::Damaged { how: how.to_string() }, Remedy::CopyAgain)
    }

    /// The file is sound but holds what cannot be measured here.
    pub(super) fn unsupported(&self, what: impl std::fmt::Display) -> Problem {
        self.problem(File::Unsupported { what: what.to_string() }, Remedy::SaveSupported)
    }

    pub(super) fn too_long(&self, most: u64) -> Problem {
        self.problem(
            File::TooLong { length: human(self.length()), most: human(most) },
            Remedy::RightFileOrAlone,
        )
    }
}

pub(super) fn problem(path: &Path, cause: impl Into<Sentence>, remedy: impl Into<Sentence>) -> Problem {
    Problem::error(Subject::File { path: path.display().to_string(), place: None }, cause, remedy)
}

fn truncated(path: &Path) -> Problem {
    problem(path, File::Truncated, Remedy::CopyAgain)
}

/// The file cannot be opened or read.
pub(super) fn unreadable(path: &Path, error: &io::Error) -> Problem {
    let is = |cause: File, remedy: Remedy| problem(path, cause, remedy);
    if Changed::told_by(error) {
        return is(File::Changed, Remedy::OpenAfterwards);
    }
    match NotAFile::told_by(error) {
        Some(NotAFile::Folder) => {
            return is(File::Folder, Remedy::FileInFolder);
        }
        Some(other) => return is(File::NotAFile { what: other.to_string() }, Remedy::ChooseFile),
        None => {}
    }
    match error.kind() {
        io::ErrorKind::NotFound => is(File::Missing, Remedy::CheckName),
        io::ErrorKind::PermissionDenied => is(File::NoPermission, Remedy::GivePermission),
        io::ErrorKind::UnexpectedEof => truncated(path),
        io::ErrorKind::OutOfMemory => is(File::NoMemory, Remedy::SmallerScan),
        _ => is(File::Unreadable { why: disk::cause(error) }, Remedy::CheckDisk),
    }
}
