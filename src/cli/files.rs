//! The two small files that verbs on scans read: a calibration, and a patch layout. Both are RON.

use std::path::Path;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use twinwedge_workbench::core::document::ranges::PIXEL;
use twinwedge_workbench::core::document::{Gaps, GridShape, PatchLayout, PatchName, PatchRole};
use twinwedge_workbench::core::geometry::{Point, Quad};
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::words::Sentence;
use twinwedge_workbench::{load, store};

/// Four corners in pixels, along the strip or the first row, then back.
type Corners = ((f64, f64), (f64, f64), (f64, f64), (f64, f64));

/// A scan of a tablet of known densities.
#[derive(Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CalibrationFile {
    /// The scan, relative to this file.
    pub(super) scan: String,
    /// The tablet's densities: a CSV relative to this file, or `nominal 21`.
    pub(super) tablet: String,
    corners: Corners,
}

impl CalibrationFile {
    /// Of a tablet that lies there in its scan; paths are relative to where the file will be.
    pub(super) fn new(scan: String, tablet: String, quad: &Quad) -> Self {
        let [a, b, c, d] = quad.corners.map(|corner| (corner.x, corner.y));
        Self { scan, tablet, corners: (a, b, c, d) }
    }

    /// As a file.
    ///
    /// # Errors
    /// A name cannot be written; says why.
    pub(super) fn text(&self) -> Result<String, String> {
        ron::to_string(self)
            .map(|text| text + "\n")
            .map_err(|error| format!("It cannot be written: {error}."))
    }

    /// Where the tablet lies. `path` stands in the problem.
    ///
    /// # Errors
    /// A corner lies where no scan has pixels.
    pub(super) fn quad(&self, path: &Path) -> Result<Quad, Problem> {
        quad(path, self.corners)
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
    /// There are not as many names as rows times columns, or a value is out of range.
    pub(super) fn grid(&self, path: &Path) -> Result<(PatchLayout, GridShape), Problem> {
        let patch = |name: &String| PatchName::new(name, PatchRole::Grey);
        let patches = self.patches.iter().map(patch).collect();
        let (rows, columns) = (self.rows, self.columns);
        let layout = PatchLayout { rows, columns, patches, gaps: Gaps::default(), fixed: false };
        layout.check().map_err(|fault| {
            let remedy = "Give one name for each patch, row by row.";
            wrong(path, Some(fault.whole_place()), fault.cause, remedy)
        })?;
        Ok((layout, GridShape::new(quad(path, self.corners)?)))
    }
}

fn quad(path: &Path, (a, b, c, d): Corners) -> Result<Quad, Problem> {
    let numbers = [a, b, c, d].into_iter().flat_map(|(x, y)| [x, y]);
    numbers.map(|number| PIXEL.check(number)).collect::<Result<Vec<f64>, Sentence>>().map_err(|cause| {
        wrong(path, Some("corners".to_owned()), cause, "Give the corners in pixels of the scan.")
    })?;
    Ok(Quad { corners: [a, b, c, d].map(|(x, y)| Point::new(x, y)) })
}

/// Reads one of these files.
///
/// # Errors
/// It cannot be read or has another form; says line and column.
pub(super) fn read<T: DeserializeOwned>(path: &Path) -> Result<T, Problem> {
    let remedy = "The verb's --help shows the form of the file.";
    store::parse_small(
        &load::text(path)?,
        &path.display().to_string(),
        "a file of the form wanted here",
        remedy,
    )
}

fn wrong(path: &Path, place: Option<String>, cause: Sentence, remedy: &str) -> Problem {
    Problem::error(Subject::File { path: path.display().to_string(), place }, cause, remedy)
}
