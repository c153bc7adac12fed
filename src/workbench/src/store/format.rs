//! Text and back.
//!
//! A format version of its own begins with each change that older programs could not read. Each step from one version to
//! the next is a module of its own under `migrate`, with saved series of that version that must still open.

use std::path::Path;

use serde::Deserialize;
use twinwedge_core::document::{FORMAT, Fault, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::migrate::from_1::Series1;
use super::said::{options, written, wrong};
use crate::disk;
use crate::words::{Remedy, Store};

/// Most bytes of a series file: what is larger is neither saved nor opened. A film with a strip of 21 typed readings takes
/// some 2 KiB.
pub const SERIES_LIMIT: u64 = 256 << 20;

/// All that is read of a series whose version is not known yet.
#[derive(Deserialize)]
#[serde(rename = "Series", default)]
struct Head {
    format: u32,
}

impl Default for Head {
    fn default() -> Self {
        Self { format: FORMAT }
    }
}

/// Reads the text of a series file.
///
/// # Errors
/// It cannot be read, is no regular file, is larger than any series, or is not UTF-8.
pub fn text(path: &Path) -> Result<String, Problem> {
    let problem = |cause: Store, remedy: Remedy| {
        Problem::error(Subject::File { path: path.display().to_string(), place: None }, cause, remedy)
    };
    let read = disk::read(path, SERIES_LIMIT)
        .map_err(|error| problem(Store::Unreadable { why: disk::cause(&error) }, Remedy::CheckPath))?;
    let bytes = read.map_err(|length| {
        let (length, most) = (length.div_ceil(1 << 20), SERIES_LIMIT >> 20);
        problem(Store::TooLarge { length, most }, Remedy::RightFile)
    })?;
    String::from_utf8(bytes).map_err(|error| crate::load::not_utf8(path, &error))
}

/// Reads a series from its text. `name` stands in problems.
///
/// # Errors
/// As [`read`], or a value that its field may not hold (says of what).
pub fn parse(text: &str, name: &str) -> Result<Series, Problem> {
    let series = read(text, name)?;
    series.check().map_err(|fault| {
        let place = Some(fault.whole_place());
        let Fault { cause, remedy, .. } = *fault;
        let subject = Subject::File { path: name.to_owned(), place };
        Problem::error(subject, cause, Remedy::NothingChanged { remedy })
    })?;
    Ok(series)
}

/// The same, whatever values its fields hold.
///
/// # Errors
/// Not RON (says line and column), no series, or a format version from the future.
pub fn read(text: &str, name: &str) -> Result<Series, Problem> {
    let file = |place: Option<String>| Subject::File { path: name.to_owned(), place };
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Problem::error(file(None), Store::Empty, Remedy::OpenCopy));
    }
    let read = options().from_str::<Series>(text);
    // A head that cannot be read is no verdict: the whole says where it goes wrong.
    let format = match &read {
        Ok(series) => series.format,
        Err(_) => options().from_str::<Head>(text).map_or(FORMAT, |head| head.format),
    };
    if format > FORMAT {
        return Err(Problem::error(
            file(None),
            Store::NewerFormat { format, reads: FORMAT },
            Remedy::NewerProgram,
        ));
    }
    if format == 0 {
        return Err(Problem::error(file(None), Store::FormatZero, Remedy::WriteFormat { format: FORMAT }));
    }
    // What an older program wrote is held to its own form.
    let read = if format == 1 { options().from_str::<Series1>(text).map(Series::from) } else { read };
    read.map_err(|error| wrong(&error, name, "a series of this program", Remedy::CorrectSeries))
}

/// Writes a series as text: stable order, one thing a line.
#[must_use]
pub fn write(series: &Series) -> String {
    written(series)
}

/// The text of a series to be saved as `name`.
///
/// # Errors
/// It would be larger than what can be opened again.
pub fn to_save(series: &Series, name: &Path) -> Result<String, Problem> {
    within(write(series), SERIES_LIMIT, name)
}

fn within(text: String, most: u64, name: &Path) -> Result<String, Problem> {
    let length = text.len() as u64;
    if length <= most {
        return Ok(text);
    }
    let subject = Subject::File { path: name.display().to_string(), place: None };
    let cause = Store::NotSavedTooLarge { length: length.div_ceil(1 << 20), most: most >> 20 };
    Err(Problem::error(subject, cause, Remedy::PartSeries))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_could_not_be_opened_again_is_not_saved() {
        let text = "x".repeat(3 << 20);
        assert!(within(text.clone(), 3 << 20, Path::new("a")).is_ok());
        let problem = within(text + "x", 3 << 20, Path::new("house.twinwedge")).unwrap_err().to_string();
        for words in ["house.twinwedge", "4 MiB", "3 MiB", "unchanged"] {
            assert!(problem.contains(words), "{problem}");
        }
    }

    #[test]
    fn what_is_wrong_with_a_series_file_is_told_apart_by_its_code() {
        // Each text is wrong by construction.
        for (text, code) in [
            ("", "Store.Empty"),
            ("Series(format: 900)", "Store.NewerFormat"),
            ("Series(format: 0)", "Store.FormatZero"),
            ("Film()", "Store.Malformed"),
        ] {
            assert_eq!(parse(text, "house.twinwedge").unwrap_err().code(), code, "{text}");
        }
    }
}
