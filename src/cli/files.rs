//! The two small files that verbs on scans read: a calibration, and a patch layout. Both are RON.

use std::path::Path;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use twinwedge_workbench::core::document::{Gaps, GridShape, PatchLayout, PatchName, PatchRole};
use twinwedge_workbench::core::geometry::{Point, Quad};
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::load;

/// Four corners in pixels, along the strip or the first row, then back.
type Corners = ((f64, f64), (f64, f64), (f64, f64), (f64, f64));

/// A scan of a tablet of known densities.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CalibrationFile {
    /// The scan, relative to this file.
    pub(super) scan: String,
    /// The tablet's densities: a CSV relative to this file, or `nominal 21`.
    pub(super) tablet: String,
    corners: Corners,
}

impl CalibrationFile {
    /// Where the tablet lies.
    pub(super) fn quad(&self) -> Quad {
        quad(self.corners)
    }
}

/// A patch grid on the first of two prints.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LayoutFile {
    rows: u32,
    columns: u32,
    corners: Corners,
    patches: Vec<String>,
}

impl LayoutFile {
    /// Layout and grid as the series document has them. `path` stands in the problem.
    ///
    /// # Errors
    /// There are not as many names as rows times columns.
    pub(super) fn grid(&self, path: &Path) -> Result<(PatchLayout, GridShape), Problem> {
        let (rows, columns, names) = (self.rows, self.columns, self.patches.len());
        let wanted = u64::from(rows) * u64::from(columns);
        if wanted == 0 || names as u64 != wanted {
            let cause = format!("{rows} rows of {columns} patches need {wanted} names, not {names}.");
            return Err(wrong(path, None, cause, "Give one name for each patch, row by row."));
        }
        let patch = |name: &String| PatchName::new(name, PatchRole::Grey);
        let patches = self.patches.iter().map(patch).collect();
        Ok((
            PatchLayout { rows, columns, patches, gaps: Gaps::default(), fixed: false },
            GridShape::new(quad(self.corners)),
        ))
    }
}

fn quad((a, b, c, d): Corners) -> Quad {
    Quad { corners: [a, b, c, d].map(|(x, y)| Point::new(x, y)) }
}

/// Reads one of these files.
///
/// # Errors
/// It cannot be read or has another form; says line and column.
pub(super) fn read<T: DeserializeOwned>(path: &Path) -> Result<T, Problem> {
    let text = load::text(path)?;
    ron::from_str(&text).map_err(|error| {
        let place = format!("line {}, column {}", error.span.start.line, error.span.start.col);
        let cause = format!("it cannot be read: {}.", error.code);
        wrong(path, Some(place), cause, "The verb's --help shows the form of the file.")
    })
}

fn wrong(path: &Path, place: Option<String>, cause: String, remedy: &str) -> Problem {
    Problem::error(Subject::File { path: path.display().to_string(), place }, cause, remedy)
}
