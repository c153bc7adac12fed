//! Patch layouts as files of their own, to be shared between series: RON with a format version.

use serde::{Deserialize, Serialize};
use twinwedge_core::document::PatchLayout;
use twinwedge_core::patch::usable;
use twinwedge_core::problem::{Problem, Subject};

use super::format::{options, pretty};

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
    let text = options().to_string_pretty(&whole, pretty());
    text.map_or_else(|_| unreachable!("a layout is plain data"), |text| text + "\n")
}

/// Reads a layout from its text. `name` stands in problems.
///
/// # Errors
/// Empty, not RON (says line and column), no layout, a format version from the future, or a layout that cannot be laid.
pub fn parse_layout(text: &str, name: &str) -> Result<PatchLayout, Problem> {
    let file = |place: Option<String>| Subject::File { path: name.to_owned(), place };
    let remedy = "Correct the file there, or save the layout anew from a series. Nothing was changed.";
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Problem::error(file(None), "The file is empty.", "Save the layout anew from a series."));
    }
    // A head that cannot be read is no verdict: the whole is read next and says where it goes wrong.
    if let Ok(Head { format }) = options().from_str::<Head>(text)
        && format != FORMAT
    {
        return Err(Problem::error(
            file(None),
            format!("It says format {format}; this version of the program reads layouts of format {FORMAT}."),
            "Open it with the newer version of the program, or save the layout anew.",
        ));
    }
    let whole: Whole = options().from_str(text).map_err(|error| {
        let place = format!("line {}, column {}", error.span.start.line, error.span.start.col);
        Problem::error(file(Some(place)), format!("It is not a patch layout: {}.", error.code), remedy)
    })?;
    usable(&whole.layout).map_err(|cause| Problem::error(file(None), cause, remedy))?;
    Ok(whole.layout)
}
