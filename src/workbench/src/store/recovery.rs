//! What a crash would lose, kept beside the program's own data.
//!
//! Recovery files are written by themselves soon after each change, apart from the series file, which only saving
//! touches. The last [`KEPT`] of each series stay. They hold what the series file would, and where that is.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use ron::extensions::Extensions;
use serde::{Deserialize, Serialize};
use twinwedge_core::document::Series;
use twinwedge_core::problem::{Problem, Subject};

use super::{format, whole};

/// How many recovery files stay for each series.
pub const KEPT: usize = 5;

/// The folder for recovery files within the program's own data; `None` where the platform names none.
#[must_use]
pub fn default_folder() -> Option<PathBuf> {
    Some(super::folders::data()?.join("recovery"))
}

/// What a recovery file says before the series itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct About {
    /// Where the series is saved, if it ever was.
    original: Option<PathBuf>,
    /// What its scan paths are relative to.
    folder: PathBuf,
}

/// A series as it was before the program ended without saving it.
#[derive(Debug, Clone)]
pub struct Recovery {
    /// The recovery file.
    pub file: PathBuf,
    /// Where the series is saved, if it ever was.
    pub original: Option<PathBuf>,
    /// What its scan paths are relative to.
    pub folder: PathBuf,
    /// When it was written.
    pub written: SystemTime,
    /// The series.
    pub series: Series,
}

/// The name that all recovery files of one series share.
fn stem(original: Option<&Path>) -> String {
    let name = original.map_or_else(|| "new series".into(), |path| path.to_string_lossy().into_owned());
    blake3::hash(name.as_bytes()).to_hex().to_string()[..16].to_owned()
}

/// Writes a recovery file and drops the oldest beyond [`KEPT`].
///
/// # Errors
/// The folder cannot be made or written.
pub fn keep(
    recoveries: &Path,
    original: Option<&Path>,
    folder: &Path,
    series: &Series,
) -> Result<PathBuf, Problem> {
    fs::create_dir_all(recoveries).map_err(|error| {
        Problem::doubt(
            Subject::File { path: recoveries.display().to_string(), place: None },
            format!("The folder for recovery files cannot be made: {error}."),
            "Save often: a crash would lose what was changed since.",
        )
    })?;
    let about = About { original: original.map(Path::to_owned), folder: folder.to_owned() };
    let head = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME).to_string(&about);
    let head = head.unwrap_or_default();
    let now = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |time| time.as_nanos());
    let file = recoveries.join(format!("{}-{now:020}.{}", stem(original), super::EXTENSION));
    whole::save(&file, format!("// {head}\n{}", format::write(series)).as_bytes())?;
    for old in files(recoveries, original).into_iter().skip(KEPT) {
        let _ = fs::remove_file(old);
    }
    Ok(file)
}

/// The recovery files of a series, newest first.
fn files(recoveries: &Path, original: Option<&Path>) -> Vec<PathBuf> {
    let stem = stem(original);
    let entries = fs::read_dir(recoveries).into_iter().flatten().flatten().map(|entry| entry.path());
    let named = |path: &PathBuf| {
        path.file_name().is_some_and(|name| name.to_string_lossy().starts_with(&format!("{stem}-")))
            && path.extension().is_some_and(|ending| ending == super::EXTENSION)
    };
    let mut files: Vec<PathBuf> = entries.filter(named).collect();
    files.sort_unstable_by(|a, b| b.cmp(a));
    files
}

/// Reads a recovery file.
///
/// # Errors
/// It cannot be read or is none.
pub fn read(file: &Path) -> Result<Recovery, Problem> {
    let name = file.display().to_string();
    let unreadable = |cause: String| {
        let subject = Subject::File { path: name.clone(), place: None };
        Problem::error(subject, cause, "Open the saved series instead; an older recovery file may be whole.")
    };
    let text =
        fs::read_to_string(file).map_err(|error| unreadable(format!("It cannot be read: {error}.")))?;
    let written = fs::metadata(file).and_then(|meta| meta.modified()).unwrap_or(UNIX_EPOCH);
    let (head, series) = text.split_once('\n').unwrap_or_default();
    let options = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME);
    let about: About = options
        .from_str(head.trim_start_matches("// "))
        .map_err(|error| unreadable(format!("It is no recovery file: {error}.")))?;
    let series = format::parse(series, &name)?;
    Ok(Recovery { file: file.to_owned(), original: about.original, folder: about.folder, written, series })
}

/// What can be recovered of the series saved at `path` (or, with none, of a series never saved): the newest recovery file
/// that is newer than the saved file and says something else.
#[must_use]
pub fn recovery_in(recoveries: &Path, path: Option<&Path>) -> Option<Recovery> {
    let recovery = files(recoveries, path).iter().find_map(|file| read(file).ok())?;
    let Some(path) = path else { return Some(recovery) };
    let saved = fs::metadata(path).and_then(|meta| meta.modified()).unwrap_or(UNIX_EPOCH);
    let same = fs::read_to_string(path).ok().and_then(|text| format::parse(&text, "").ok());
    // File systems tell times by ticks: a change right after saving may carry the same one.
    (recovery.written >= saved && same.as_ref() != Some(&recovery.series)).then_some(recovery)
}

/// [`recovery_in`] the program's own folder, for the series saved at `path`.
#[must_use]
pub fn recovery_for(path: &Path) -> Option<Recovery> {
    recovery_in(&default_folder()?, Some(&whole_path(path)))
}

/// [`recovery_in`] the program's own folder, for a series that was never saved.
#[must_use]
pub fn recovery_of_new() -> Option<Recovery> {
    recovery_in(&default_folder()?, None)
}

/// Drops all recovery files of a series: it was saved, or they were declined.
pub fn discard(recoveries: &Path, original: Option<&Path>) {
    for file in files(recoveries, original) {
        let _ = fs::remove_file(file);
    }
}

/// One spelling for one place, so that a series is found again however it was opened.
pub(crate) fn whole_path(path: &Path) -> PathBuf {
    fs::canonicalize(path).or_else(|_| std::path::absolute(path)).unwrap_or_else(|_| path.to_owned())
}
