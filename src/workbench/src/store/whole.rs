//! Files that are written whole or not at all.
//!
//! A file is written under a name of its own beside its place, made to last, and then given its name. From looking at what is
//! there to giving the name, a lock keeps other processes of this program out: `.NAME.lock` beside the file (see
//! [`crate::disk`]). What is looked at is looked at again right before the renaming. So of two that save at once,
//! one is second and sees what the first one wrote. Where a network drive does not carry locks, what remains is the moment between
//! that last look and the renaming; a file that was not there is even then never replaced, where the drive can name a file
//! without replacing another.

use std::ffi::{OsStr, OsString};
use std::fs::{self, Metadata};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use twinwedge_core::problem::{Problem, Subject};

use super::written::NotWritten;
use crate::disk::{self, Lock, Output, Stamp, cause};
use crate::words::{Remedy, Store};

/// How long another process that is writing the same file is waited for.
const PATIENCE: Duration = Duration::from_secs(10);
/// Ending of files that are being written.
const PART: &str = ".part";
/// Random letters in their names.
const RANDOM: usize = 6;
/// Most bytes of a name that goes whole into the names beside it; a file system takes 255 in all.
const LONGEST: usize = 200;

/// What is at the place that is written to, and may be replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum There {
    Nothing,
    File,
}

/// Writes the contents of a file.
pub(crate) type Writer<'a> = &'a mut dyn FnMut(&mut dyn Write) -> io::Result<()>;

/// Saves bytes in place of whatever file is there, so that a crash at any moment leaves the old or the new file whole.
///
/// # Errors
/// What went wrong, and whether the old file is unchanged.
pub fn save(path: &Path, bytes: &[u8]) -> Result<(), Problem> {
    put(path, bytes, &mut |place| there(place).map(|(there, _)| there)).map(drop).map_err(NotWritten::problem)
}

/// Writes a file where `agree`, which is asked about its place with all links followed, says what is there and may be
/// replaced. It is asked twice: before anything is written, and right before the file gets its name.
///
/// A link stays a link; permissions, owner and group stay as far as the system lets them. Where the old file has further hard
/// links, those keep the old contents.
///
/// # Errors
/// What `agree` found; or what went wrong, and whether the old file is unchanged.
pub(crate) fn put(
    path: &Path,
    bytes: &[u8],
    agree: &mut dyn FnMut(&Path) -> Result<There, NotWritten>,
) -> Result<Stamp, NotWritten> {
    put_by(path, &mut |out| out.write_all(bytes), agree)
}

/// The same of what `write` writes; where another process was faster, it is asked once more.
///
/// # Errors
/// As [`put`].
pub(crate) fn put_by(
    path: &Path,
    write: Writer<'_>,
    agree: &mut dyn FnMut(&Path) -> Result<There, NotWritten>,
) -> Result<Stamp, NotWritten> {
    let failed = |error: &io::Error| not_saved(path, error);
    let place = disk::followed(path).map_err(|error| failed(&error))?;
    // A lock could not be made beside what is no file: what is wrong is said first.
    agree(&place)?;
    let beside = Beside::of(&place);
    let lock = match Lock::take(&beside.lock(), PATIENCE) {
        Ok(Some(lock)) => lock,
        Ok(None) => return Err(NotWritten::Failed(busy(path))),
        Err(error) => return Err(failed(&error)),
    };
    if lock.holds() {
        beside.tidy();
    }
    let output = write_beside(&beside, &place, write).map_err(|error| failed(&error))?;
    let stamp = output.metadata().map(|meta| Stamp::of(&meta)).map_err(|error| failed(&error))?;
    let named = match agree(&place)? {
        There::File => output.replace(&place),
        There::Nothing => output.name_new(&place),
    };
    match named {
        Ok(()) => {}
        // It came into being after the look.
        Err(error) if error.kind() == ErrorKind::AlreadyExists => {
            drop(lock);
            return put_by(path, write, agree);
        }
        Err(error) => return Err(failed(&error)),
    }
    disk::flush_folder(&beside.folder).map_err(|error| NotWritten::Unsure(unsure(path, &error)))?;
    Ok(stamp)
}

fn write_beside(beside: &Beside, place: &Path, write: Writer<'_>) -> io::Result<Output> {
    let mut output = Output::begin(&beside.folder, &beside.prefix, PART)?;
    if let Ok(old) = fs::metadata(place) {
        output.dress(|file| dress(file, &old))?;
    }
    write(&mut output)?;
    output.flush_to_disk()?;
    Ok(output)
}

/// What is at a place, if it is nothing or a file.
///
/// # Errors
/// It is something else, or cannot be looked at.
pub(crate) fn there(place: &Path) -> Result<(There, Option<Metadata>), NotWritten> {
    match fs::metadata(place) {
        Ok(meta) => match disk::NotAFile::check(&meta) {
            Ok(()) => Ok((There::File, Some(meta))),
            Err(error) => Err(NotWritten::Failed(Problem::error(
                subject(place),
                Store::NoPlace { why: cause(&error) },
                Remedy::OtherName,
            ))),
        },
        Err(error) if error.kind() == ErrorKind::NotFound => Ok((There::Nothing, None)),
        Err(error) => Err(not_saved(place, &error)),
    }
}

/// Gives a new file the owner, group and permissions of the one that it replaces. Only the administrator can give files away:
/// for others it stays theirs, with the old file's group if they are in it.
fn dress(file: &fs::File, old: &Metadata) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::{MetadataExt, fchown};
        let new = file.metadata()?;
        if (new.uid(), new.gid()) != (old.uid(), old.gid()) {
            let _ = fchown(file, Some(old.uid()), Some(old.gid()))
                .or_else(|_| fchown(file, None, Some(old.gid())));
        }
    }
    // Last: changing the owner takes permissions away.
    file.set_permissions(old.permissions())
}

/// The names that belong to a file while it is written.
#[derive(Debug)]
struct Beside {
    folder: PathBuf,
    prefix: OsString,
}

impl Beside {
    fn of(place: &Path) -> Self {
        let folder = place.parent().filter(|folder| !folder.as_os_str().is_empty());
        let name = place.file_name().unwrap_or_default();
        let mut prefix = OsString::from(".");
        if name.len() <= LONGEST {
            prefix.push(name);
        } else {
            let digest = blake3::hash(super::paths::to_text(Path::new(name)).as_bytes()).to_hex();
            prefix.push(format!("long-{}", &digest[..16]));
        }
        prefix.push(".");
        Self { folder: folder.map_or_else(|| PathBuf::from("."), Path::to_owned), prefix }
    }

    fn lock(&self) -> PathBuf {
        let mut name = self.prefix.clone();
        name.push("lock");
        self.folder.join(name)
    }

    /// Removes what crashes left while this file was written. Whoever writes it holds the lock, so nobody is at it now.
    fn tidy(&self) {
        for entry in fs::read_dir(&self.folder).into_iter().flatten().flatten() {
            let is_file = entry.file_type().is_ok_and(|kind| kind.is_file());
            if is_file && self.is_part(&entry.file_name()) {
                let _ = disk::remove(&entry.path());
            }
        }
    }

    /// Whether a name is one that this file is written under: its prefix, random letters, the ending.
    fn is_part(&self, name: &OsStr) -> bool {
        let (name, prefix) = (name.as_encoded_bytes(), self.prefix.as_encoded_bytes());
        name.strip_prefix(prefix)
            .and_then(|rest| rest.strip_suffix(PART.as_bytes()))
            .is_some_and(|random| random.len() == RANDOM && random.iter().all(u8::is_ascii_alphanumeric))
    }
}

fn subject(path: &Path) -> Subject {
    Subject::File { path: path.display().to_string(), place: None }
}

/// Why nothing was saved at `path`.
pub(crate) fn not_saved(path: &Path, error: &io::Error) -> NotWritten {
    let remedy = match fs::metadata(path) {
        Ok(_) => Remedy::MakeRoom,
        Err(_) => Remedy::CheckFolder,
    };
    let cause = Store::NotSaved { why: cause(error) };
    NotWritten::Failed(Problem::error(subject(path), cause, remedy))
}

fn busy(path: &Path) -> Problem {
    Problem::error(subject(path), Store::Busy, Remedy::SaveInAMoment)
}

fn unsure(path: &Path, error: &io::Error) -> Problem {
    Problem::error(subject(path), Store::NotConfirmed { why: cause(error) }, Remedy::SaveOnOtherDisk)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_its_own_are_removed() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("a.twinwedge");
        let own = [".a.twinwedge.AbC123.part", ".a.twinwedge.000000.part"];
        let others = [
            ".a.twinwedge.AbC1234.part",
            ".a.twinwedge.b.AbC123.part",
            ".b.twinwedge.AbC123.part",
            ".a.twinwedge.AbC-23.part",
            "a.twinwedge.AbC123.part",
            ".a.twinwedge.AbC123.part~",
        ];
        for name in own.iter().chain(&others) {
            fs::write(folder.path().join(name), "half").unwrap();
        }
        save(&place, b"whole").unwrap();
        let mut left: Vec<String> = fs::read_dir(folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        left.sort_unstable();
        let mut expected: Vec<&str> = others.into_iter().chain(["a.twinwedge"]).collect();
        expected.sort_unstable();
        assert_eq!(left, expected);
    }
}
