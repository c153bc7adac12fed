//! Files that are written whole or not at all.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use twinwedge_core::problem::{Problem, Subject};

/// Saves bytes so that a crash at any moment leaves the old or the new file whole: written beside, flushed, renamed.
///
/// # Errors
/// The folder cannot be written; the old file is whole.
pub fn save(path: &Path, bytes: &[u8]) -> Result<(), Problem> {
    save_by(path, |file| file.write_all(bytes))
}

/// Saves what `write` writes, whole or not at all.
///
/// # Errors
/// `write` failed or the folder cannot be written; the old file is whole.
pub fn save_by(path: &Path, write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Problem> {
    replace(path, write).map_err(|error| {
        Problem::error(
            Subject::File { path: path.display().to_string(), place: None },
            format!("It could not be saved: {error}."),
            "What was there before is unchanged. Make room or choose another folder, and save again.",
        )
    })
}

fn replace(path: &Path, write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> io::Result<()> {
    // A link stays a link: what it points at is replaced.
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    if target.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "there is a folder of this name"));
    }
    let folder = target.parent().filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.map_or_else(|| PathBuf::from("."), Path::to_owned);
    let mut builder = tempfile::Builder::new();
    let prefix = target.file_name().map(|name| format!(".{}.", name.to_string_lossy())).unwrap_or_default();
    builder.prefix(&prefix).suffix(".part");
    let old = fs::metadata(&target).ok().map(|meta| meta.permissions());
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file: the user's mask takes away what it takes away.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(&folder)?;
    write(&mut file)?;
    if let Some(permissions) = old {
        file.as_file().set_permissions(permissions)?;
    }
    file.as_file().sync_all()?;
    file.persist(&target).map_err(|error| error.error)?;
    sync_folder(&folder)
}

/// Makes the renaming itself last. Some file systems cannot flush a folder; the file is whole either way.
fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) {
        match File::open(folder).and_then(|folder| folder.sync_all()) {
            Err(error) if error.kind() == io::ErrorKind::StorageFull => return Err(error),
            Ok(()) | Err(_) => {}
        }
    }
    Ok(())
}
