//! What goes wrong with files, in words that a person can act on.

use std::fs::Metadata;
use std::io::{self, ErrorKind};

/// Why something that has a name in a folder is no file that can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum NotAFile {
    Folder,
    Pipe,
    Device,
    Socket,
    Other,
}

impl NotAFile {
    /// Fails where `meta` is not that of a regular file.
    pub(crate) fn check(meta: &Metadata) -> io::Result<()> {
        if meta.is_file() {
            return Ok(());
        }
        let kind = if meta.is_dir() { ErrorKind::IsADirectory } else { ErrorKind::InvalidInput };
        Err(io::Error::new(kind, Self::of(meta)))
    }

    /// Which of them an error tells of, if any.
    pub(crate) fn told_by(error: &io::Error) -> Option<Self> {
        error.get_ref()?.downcast_ref::<Self>().copied()
    }

    fn of(meta: &Metadata) -> Self {
        #[cfg(unix)]
        {
            use std::os::unix::fs::FileTypeExt;
            let kind = meta.file_type();
            if kind.is_fifo() {
                return Self::Pipe;
            }
            if kind.is_block_device() || kind.is_char_device() {
                return Self::Device;
            }
            if kind.is_socket() {
                return Self::Socket;
            }
        }
        if meta.is_dir() { Self::Folder } else { Self::Other }
    }
}

impl std::fmt::Display for NotAFile {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Folder => "it is a folder, not a file",
            Self::Pipe => "it is a pipe between programs, not a file",
            Self::Device => "it is a device, not a file",
            Self::Socket => "it is a connection between programs, not a file",
            Self::Other => "it is not a file",
        })
    }
}

impl std::error::Error for NotAFile {}

/// Another program wrote into a file while it was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Changed;

impl Changed {
    pub(crate) fn error() -> io::Error {
        io::Error::new(ErrorKind::InvalidData, Self)
    }

    /// Whether an error tells of it.
    pub(crate) fn told_by(error: &io::Error) -> bool {
        error.get_ref().and_then(|inner| inner.downcast_ref::<Self>()).is_some()
    }
}

impl std::fmt::Display for Changed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("another program changed the file while it was read")
    }
}

impl std::error::Error for Changed {}

/// What went wrong, as the end of a sentence: without numbers of the system and without names of functions.
#[must_use]
pub fn cause(error: &io::Error) -> String {
    if let Some(not) = NotAFile::told_by(error) {
        return not.to_string();
    }
    if Changed::told_by(error) {
        return Changed.to_string();
    }
    let words = match error.kind() {
        ErrorKind::NotFound => "there is no such file or folder",
        ErrorKind::PermissionDenied => "you have no permission for it",
        ErrorKind::AlreadyExists => "something of this name is there already",
        ErrorKind::IsADirectory => "it is a folder, not a file",
        ErrorKind::NotADirectory => "a part of the path is a file, not a folder",
        ErrorKind::StorageFull => "the disk is full",
        ErrorKind::QuotaExceeded => "your share of the disk is used up",
        ErrorKind::ReadOnlyFilesystem => "the disk can only be read, not written",
        ErrorKind::FileTooLarge => "the file would be larger than the disk allows",
        ErrorKind::InvalidFilename => "the disk does not allow this name, or it is too long",
        ErrorKind::UnexpectedEof => "the file ended before all of it was read",
        ErrorKind::OutOfMemory => "there is not enough free memory",
        ErrorKind::Interrupted => "the system interrupted it",
        ErrorKind::TimedOut | ErrorKind::StaleNetworkFileHandle | ErrorKind::HostUnreachable => {
            "the network drive does not answer"
        }
        ErrorKind::ResourceBusy | ErrorKind::ExecutableFileBusy => "another program is using it",
        ErrorKind::TooManyLinks => "there are too many links to it",
        ErrorKind::Unsupported => "the disk cannot do this",
        ErrorKind::BrokenPipe => "nobody reads any more",
        _ => return of_the_system(error),
    };
    words.to_owned()
}

/// Kinds without a name: the system's own words without its number.
fn of_the_system(error: &io::Error) -> String {
    // 5 is EIO on every Unix.
    if cfg!(unix) && error.raw_os_error() == Some(5) {
        return "the disk or the connection to it failed".to_owned();
    }
    let words = error.to_string();
    let words = words.split(" (os error").next().unwrap_or_default().trim_end_matches('.');
    let mut letters = words.chars();
    letters.next().map_or_else(
        || "the system does not say why".to_owned(),
        |first| first.to_lowercase().chain(letters).collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cause_holds_a_number_of_the_system() {
        for code in 1..134 {
            let words = cause(&io::Error::from_raw_os_error(code));
            assert!(!words.contains("os error") && !words.is_empty(), "{code}: {words}");
            assert!(!words.ends_with('.'), "{words}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_pipe_is_told_from_a_file_without_waiting() {
        let folder = tempfile::tempdir().unwrap();
        let pipe = folder.path().join("pipe");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status().unwrap();
        assert!(made.success());
        let error = super::super::open(&pipe).unwrap_err();
        assert_eq!(NotAFile::told_by(&error), Some(NotAFile::Pipe));
        let error = super::super::open(std::path::Path::new("/dev/zero")).unwrap_err();
        assert_eq!(NotAFile::told_by(&error), Some(NotAFile::Device));
        let error = super::super::open(folder.path()).unwrap_err();
        assert_eq!(NotAFile::told_by(&error), Some(NotAFile::Folder));
    }
}
