//! The sample series that the program carries.

use std::fs;
use std::path::{Path, PathBuf};

use include_dir::{Dir, DirEntry, include_dir};
use twinwedge_core::problem::{Problem, Subject};

use crate::{disk, store};

/// Everything of the sample, inside the program.
static SALTMARSH: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../sample-projects/saltmarsh");

/// Lays the sample series out in the program's own data folder (again, if it was changed) and gives its series file.
///
/// # Errors
/// The folder cannot be written.
pub fn lay_out() -> Result<PathBuf, Problem> {
    lay_out_in(&place())
}

/// Where the sample is laid out.
#[must_use]
pub fn place() -> PathBuf {
    store::folders::data().unwrap_or_else(|| std::env::temp_dir().join("twinwedge")).join("sample")
}

/// Lays the sample series out in `folder`; files that already hold what they should are left alone. A sample series that somebody
/// changed and saved stays beside it, under a name that says so.
///
/// # Errors
/// The folder cannot be written.
pub fn lay_out_in(folder: &Path) -> Result<PathBuf, Problem> {
    let mut series = None;
    let mut folders = vec![&SALTMARSH];
    while let Some(dir) = folders.pop() {
        for entry in dir.entries() {
            match entry {
                DirEntry::Dir(dir) => folders.push(dir),
                DirEntry::File(file) => {
                    let path = folder.join(file.path());
                    lay_out_file(&path, file.contents())?;
                    if path.extension().is_some_and(|ending| ending == store::EXTENSION) {
                        series = Some(path);
                    }
                }
            }
        }
    }
    series.ok_or_else(|| {
        Problem::error(
            Subject::Series,
            "This build of the program carries no sample series.",
            "Open or begin a series of your own.",
        )
    })
}

fn lay_out_file(path: &Path, contents: &[u8]) -> Result<(), Problem> {
    if disk::read(path, contents.len() as u64).is_ok_and(|held| held.is_ok_and(|held| held == contents)) {
        return Ok(());
    }
    if let Some(folder) = path.parent() {
        disk::make_folder(folder).map_err(|error| {
            Problem::error(
                Subject::File { path: folder.display().to_string(), place: None },
                format!("The folder for the sample cannot be made: {}.", disk::cause(&error)),
                "Make room or check who may write there.",
            )
        })?;
    }
    if path.extension().is_some_and(|ending| ending == store::EXTENSION) {
        keep_changed(path);
    }
    store::save(path, contents)
}

/// Gives a series that is in the place of the sample's a name of its own. What is no series is nobody's work.
fn keep_changed(path: &Path) {
    let held = crate::load::text(path).ok().and_then(|text| store::parse(&text, "").ok());
    let Some(stem) =
        path.file_stem().filter(|_| held.is_some()).map(|stem| stem.to_string_lossy().into_owned())
    else {
        return;
    };
    let named = |number: u32| {
        let number = if number == 1 { String::new() } else { format!(" {number}") };
        path.with_file_name(format!("{stem} (changed{number}).{}", store::EXTENSION))
    };
    let free = (1..).map(named).find(|name| fs::symlink_metadata(name).is_err());
    if let Some(free) = free {
        // Where it cannot be renamed, laying the sample out fails, too, and says why.
        let _ = disk::rename(path, &free);
    }
}
