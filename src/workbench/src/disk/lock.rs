//! Locks between processes of this program.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::unfinished::{self, Entry};
use super::{Operation, about_to};

/// Between two tries.
const PAUSE: Duration = Duration::from_millis(4);

/// A lock of the operating system on a small file of its own. It is released and its file removed when this is dropped; after
/// a crash the system releases it, and the file that stays behind locks nothing.
///
/// It holds between all processes of this machine, and between machines where the network drive carries locks. Where
/// the drive cannot lock at all, [`Lock::holds`] is false and nobody is kept out.
#[derive(Debug)]
pub(crate) struct Lock {
    path: PathBuf,
    file: File,
    holds: bool,
    /// Its file goes where the process ends while it is held.
    #[expect(dead_code, reason = "held, not read")]
    entry: Option<Entry>,
}

impl Lock {
    /// Takes the lock whose file is `path`, which is made if it is not there; `None` where another holds it for longer than
    /// `patience`.
    ///
    /// # Errors
    /// The file can neither be made nor opened.
    pub(crate) fn take(path: &Path, patience: Duration) -> io::Result<Option<Self>> {
        about_to(Operation::Lock(path))?;
        let start = Instant::now();
        loop {
            match unfinished::begin(|| attempt(path), |taken| taken.as_ref().map(|_| path.to_owned())) {
                Ok((Some((file, holds)), entry)) => {
                    return Ok(Some(Self { path: path.to_owned(), file, holds, entry }));
                }
                Ok((None, _)) => {}
                // There, a file that is being removed cannot be opened until that is done.
                Err(error) if cfg!(windows) && error.kind() == io::ErrorKind::PermissionDenied => {}
                Err(error) => return Err(error),
            }
            if start.elapsed() >= patience {
                return Ok(None);
            }
            std::thread::sleep(PAUSE);
        }
    }

    /// Whether somebody holds the lock whose file is `path`. Leaves everything as it is.
    pub(crate) fn is_held(path: &Path) -> bool {
        let Ok(file) = File::open(path) else { return false };
        matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock))
    }

    /// Whether it keeps others out.
    pub(crate) fn holds(&self) -> bool {
        self.holds
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // First the file, then the lock: whoever takes the lock next sees that its file is gone, and makes another.
        let _ = super::remove(&self.path);
        let _ = self.file.unlock();
    }
}

/// Opens the file and locks it, if nobody else has; whether the lock keeps others out.
fn attempt(path: &Path) -> io::Result<Option<(File, bool)>> {
    loop {
        let file = open(path)?;
        match file.try_lock() {
            // Whoever held it before may have removed its file in between: then this lock is on no file that others see.
            Ok(()) if is_at(&file, path) => return Ok(Some((file, true))),
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Ok(None),
            Err(TryLockError::Error(_)) => return Ok(Some((file, false))),
        }
    }
}

fn open(path: &Path) -> io::Result<File> {
    let mut how = OpenOptions::new();
    how.read(true).write(true).create(true).truncate(false);
    how.open(path).or_else(|error| {
        // Another person's crash may have left it in a folder that several share: it can be locked all the same.
        if error.kind() == io::ErrorKind::PermissionDenied { File::open(path) } else { Err(error) }
    })
}

#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let id = |meta: fs::Metadata| (meta.dev(), meta.ino());
    matches!((file.metadata().map(id), fs::metadata(path).map(id)), (Ok(a), Ok(b)) if a == b)
}

#[cfg(not(unix))]
fn is_at(_file: &File, path: &Path) -> bool {
    fs::metadata(path).is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_holds_it_at_a_time_and_nothing_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("lock");
        assert!(!Lock::is_held(&path));
        let first = Lock::take(&path, Duration::ZERO).unwrap().unwrap();
        assert!(first.holds() && Lock::is_held(&path));
        assert!(Lock::take(&path, Duration::from_millis(20)).unwrap().is_none());
        drop(first);
        assert!(!path.exists());
        // What a crash left locks nothing.
        fs::write(&path, "").unwrap();
        assert!(!Lock::is_held(&path));
        drop(Lock::take(&path, Duration::ZERO).unwrap().unwrap());
        assert!(!path.exists());
    }

    #[test]
    fn many_threads_count_to_the_sum() {
        let folder = tempfile::tempdir().unwrap();
        let (path, count) = (folder.path().join("lock"), folder.path().join("count"));
        fs::write(&count, "0").unwrap();
        std::thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| {
                    for _ in 0..50 {
                        let _lock = Lock::take(&path, Duration::from_secs(60)).unwrap().unwrap();
                        let number: u32 = fs::read_to_string(&count).unwrap().parse().unwrap();
                        fs::write(&count, (number + 1).to_string()).unwrap();
                    }
                });
            }
        });
        assert_eq!(fs::read_to_string(&count).unwrap(), "400");
    }
}
