//! Patch layouts as files of their own, to be shared between series: RON with a format version.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use twinwedge_core::document::{Fault, PatchLayout, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::said::{options, written, wrong};
use super::{LAYOUT, NotWritten, Replace, Source, Writing, write_file};
use crate::words::{Remedy, Store};

/// Ending of layout files.
pub const LAYOUT_EXTENSION: &str = "patches";
/// The format version that is written.
const FORMAT: u32 = 1;

#[derive(Serialize, Deserialize)]
#[serde(rename = "Patches", deny_unknown_fields)]
struct Whole {
    format: u32,
    layout: PatchLayout,
}

#[derive(Deserialize)]
#[serde(rename = "Patches")]
struct Head {
    format: u32,
}

/// A layout as text: stable order, one patch a line.
#[must_use]
pub fn write_layout(layout: &PatchLayout) -> String {
    let whole = Whole { format: FORMAT, layout: layout.clone() };
    written(&whole)
}

/// Writes the patch layout of a series to a file of its own, with the ending of one where it has none: the path.
///
/// # Errors
/// The series has none, or the file is not written.
pub fn save_layout(
    path: &Path,
    series: &Series,
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<PathBuf, NotWritten> {
    let path = match path.extension() {
        None => path.with_extension(LAYOUT_EXTENSION),
        Some(_) => path.to_path_buf(),
    };
    let layout = series.layout.as_ref().ok_or_else(|| {
        let cause = Store::NoLayout;
        NotWritten::Failed(Problem::error(Subject::Series, cause, Remedy::LayGridFirst))
    })?;
    let writing = Writing { sort: &LAYOUT, sources, replace };
    write_file(&path, write_layout(layout).as_bytes(), writing)?;
    Ok(path)
}

/// Reads a layout from its text. `name` stands in problems.
///
/// # Errors
/// Empty, not RON (says line and column), no layout, a format version from the future, or a layout that cannot be laid.
pub fn parse_layout(text: &str, name: &str) -> Result<PatchLayout, Problem> {
    let file = |place: Option<String>| Subject::File { path: name.to_owned(), place };
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Problem::error(file(None), Store::Empty, Remedy::SaveLayout));
    }
    // A head that cannot be read is no verdict: the whole is read next and says where it goes wrong.
    if let Ok(Head { format }) = options().from_str::<Head>(text)
        && format != FORMAT
    {
        return Err(Problem::error(
            file(None),
            Store::OtherLayoutFormat { format, reads: FORMAT },
            Remedy::NewerProgramOrSaveLayout,
        ));
    }
    let whole: Whole = options()
        .from_str(text)
        .map_err(|error| wrong(&error, name, "a patch layout", Remedy::CorrectLayout))?;
    whole.layout.check().map_err(|fault| {
        let Fault { place, cause, .. } = *fault;
        Problem::error(file(Some(place)), cause, Remedy::CorrectLayout)
    })?;
    Ok(whole.layout)
}
