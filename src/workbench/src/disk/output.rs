//! Files that are written: under a name of their own, until they are whole.

use std::ffi::OsStr;
use std::fs;
use std::io::{self, ErrorKind, Write};
use std::path::Path;

use tempfile::{NamedTempFile, TempDir};

use super::unfinished::{self, Entry};
use super::{Operation, about_to};

/// A file that is being written, under a name that is removed again unless it is kept.
#[derive(Debug)]
pub(crate) struct Output {
    file: NamedTempFile,
    entry: Option<Entry>,
}

impl Output {
    /// Begins a file in `folder` whose name begins and ends as said; with the permissions of any new file.
    pub(crate) fn begin(folder: &Path, prefix: &OsStr, suffix: &str) -> io::Result<Self> {
        about_to(Operation::Create(folder))?;
        let mut builder = tempfile::Builder::new();
        builder.prefix(prefix).suffix(suffix);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // The user's mask takes away what it takes away.
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        let (file, entry) =
            unfinished::begin(|| builder.tempfile_in(folder), |file| Some(file.path().to_owned()))?;
        Ok(Self { file, entry })
    }

    /// The file itself, to set its owner and permissions.
    pub(crate) fn dress(&self, how: impl FnOnce(&fs::File) -> io::Result<()>) -> io::Result<()> {
        about_to(Operation::Dress(self.file.path()))?;
        how(self.file.as_file())
    }

    /// Size and times, as they will be under its name.
    pub(crate) fn metadata(&self) -> io::Result<fs::Metadata> {
        self.file.as_file().metadata()
    }

    /// Makes what was written last.
    pub(crate) fn flush_to_disk(&self) -> io::Result<()> {
        about_to(Operation::Flush(self.file.path()))?;
        self.file.as_file().sync_all()
    }

    /// Gives the file its name, in place of what has that name.
    pub(crate) fn replace(self, target: &Path) -> io::Result<()> {
        about_to(Operation::Rename(self.file.path(), target))?;
        let Self { file, entry } = self;
        unfinished::finish(entry, || file.persist(target)).map(drop).map_err(|error| error.error)
    }

    /// Gives the file its name, which nothing may have yet.
    ///
    /// # Errors
    /// [`io::ErrorKind::AlreadyExists`] where something has.
    pub(crate) fn name_new(self, target: &Path) -> io::Result<()> {
        about_to(Operation::Link(self.file.path(), target))?;
        let Self { file, entry } = self;
        unfinished::finish(entry, || {
            let Err(refused) = file.persist_noclobber(target) else { return Ok(()) };
            // Some drives know neither further names for a file nor a renaming that replaces nothing: there, looking first has
            // to do.
            let unable = matches!(refused.error.kind(), ErrorKind::Unsupported | ErrorKind::PermissionDenied);
            let free = fs::symlink_metadata(target).is_err_and(|error| error.kind() == ErrorKind::NotFound);
            if unable && free {
                return refused.file.persist(target).map(drop).map_err(|error| error.error);
            }
            Err(refused.error)
        })
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let most = about_to(Operation::Write(self.file.path(), bytes))?.min(bytes.len());
        self.file.as_file_mut().write(&bytes[..most])
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.as_file_mut().flush()
    }
}

/// A folder that is being filled, under a name that is removed again with all that is in it unless it is kept.
#[derive(Debug)]
pub(crate) struct OutputFolder {
    folder: TempDir,
    entry: Option<Entry>,
}

impl OutputFolder {
    /// Begins a folder in `folder` whose name begins and ends as said; with the permissions of any new folder.
    pub(crate) fn begin(folder: &Path, prefix: &str, suffix: &str) -> io::Result<Self> {
        about_to(Operation::MakeFolder(folder))?;
        let mut builder = tempfile::Builder::new();
        builder.prefix(prefix).suffix(suffix);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // The user's mask takes away what it takes away.
            builder.permissions(fs::Permissions::from_mode(0o777));
        }
        let (folder, entry) =
            unfinished::begin(|| builder.tempdir_in(folder), |folder| Some(folder.path().to_owned()))?;
        Ok(Self { folder, entry })
    }

    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Gives the folder its name, which nothing may have yet.
    pub(crate) fn name(self, target: &Path) -> io::Result<()> {
        let Self { folder, entry } = self;
        unfinished::finish(entry, || {
            super::rename(folder.path(), target)?;
            // It has left its old name: there is nothing to remove.
            let _ = folder.keep();
            Ok(())
        })
    }
}
