//! Text and back.
//!
//! A format version of its own begins with the first change that old programs could not read. Each step from one version
//! to the next is then a module of its own under `migrate`, with a saved series of that version that must still open.

use ron::extensions::Extensions;
use ron::ser::PrettyConfig;
use serde::Deserialize;
use twinwedge_core::document::{FORMAT, Series};
use twinwedge_core::problem::{Problem, Subject};

/// Lists and records nested deeper than this stand on one line: a reading, the corners of a strip.
const DEPTH: usize = 4;

pub(super) fn options() -> ron::Options {
    ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME)
}

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

/// Reads a series from its text. `name` stands in problems.
///
/// # Errors
/// Not RON (says line and column), no series, or a format version from the future.
pub fn parse(text: &str, name: &str) -> Result<Series, Problem> {
    let file = |place: Option<String>| Subject::File { path: name.to_owned(), place };
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Problem::error(file(None), "The file is empty.", "Open another copy of the series."));
    }
    // A head that cannot be read is no verdict: the whole is read next and says where it goes wrong.
    if let Ok(Head { format }) = options().from_str::<Head>(text) {
        if format > FORMAT {
            return Err(Problem::error(
                file(None),
                format!("It was saved in format {format}; this version of the program reads up to {FORMAT}."),
                "Open it with the newer version of the program. The file was not changed.",
            ));
        }
        if format == 0 {
            return Err(Problem::error(
                file(None),
                "It says format 0, which no version of the program writes.",
                format!("If the file was written by hand, write format: {FORMAT}."),
            ));
        }
    }
    options().from_str(text).map_err(|error| {
        let place = format!("line {}, column {}", error.span.start.line, error.span.start.col);
        Problem::error(
            file(Some(place)),
            format!("It is not a series of this program: {}.", error.code),
            "Correct the file there, or open another copy. The file was not changed.",
        )
    })
}

/// How text is laid out.
pub(super) fn pretty() -> PrettyConfig {
    PrettyConfig::new()
        .struct_names(true)
        .depth_limit(DEPTH)
        .indentor("  ")
        .new_line("\n")
        .extensions(Extensions::IMPLICIT_SOME)
}

/// Writes a series as text: stable order, one thing a line.
#[must_use]
pub fn write(series: &Series) -> String {
    let text = options().to_string_pretty(series, pretty());
    // A document is plain data that RON can always write; see the round trip in the tests.
    text.map_or_else(|_| unreachable!("a series is plain data"), |text| text + "\n")
}
