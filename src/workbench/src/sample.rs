//! The sample series that the program carries: three films with all that can be measured, and fifty with readings and records.

use std::fs;
use std::path::{Path, PathBuf};

use include_dir::{Dir, DirEntry, include_dir};
use twinwedge_core::problem::{Problem, Subject};

use crate::{disk, store};

/// Everything of the samples, inside the program.
static SALTMARSH: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../sample-projects/saltmarsh");
static FIFTY: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../sample-projects/fifty");

/// A sample series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sample {
    /// Three films with scans of everything.
    Three,
    /// Fifty films with readings, brackets and records.
    Fifty,
}

impl Sample {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::Three, Self::Fifty];

    /// The word by which verbs know it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Three => "sample",
            Self::Fifty => "fifty",
        }
    }

    /// The sample that a word names.
    #[must_use]
    pub fn named(word: &Path) -> Option<Self> {
        Self::ALL.into_iter().find(|sample| word == Path::new(sample.word()))
    }

    /// Where it is laid out.
    #[must_use]
    pub fn place(self) -> PathBuf {
        let data = store::folders::data().unwrap_or_else(|| std::env::temp_dir().join("twinwedge"));
        data.join(self.word())
    }

    fn files(self) -> &'static Dir<'static> {
        match self {
            Self::Three => &SALTMARSH,
            Self::Fifty => &FIFTY,
        }
    }
}

/// Lays a sample series out in the program's own data folder (again, if it was changed) and gives its series file.
///
/// # Errors
/// The folder cannot be written.
pub fn lay_out(sample: Sample) -> Result<PathBuf, Problem> {
    lay_out_in(sample, &sample.place())
}

/// Lays a sample series out in `folder`; files that already hold what they should are left alone. A sample series that somebody
/// changed and saved stays beside it, under a name that says so.
///
/// # Errors
/// The folder cannot be written.
pub fn lay_out_in(sample: Sample, folder: &Path) -> Result<PathBuf, Problem> {
    let mut series = None;
    let mut folders = vec![sample.files()];
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
