//! The patch grid of a printed target.

use serde::Serialize;

use crate::document::{GridShape, PatchLayout};
use crate::geometry::{Quad, Similarity};
use crate::problem::Problem;
use crate::scan::{Plane, ToneTable};
use crate::tablet::StepSample;

/// One sampled patch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PatchSample {
    /// Its name in the layout.
    pub name: String,
    /// The reading; its `step` is the patch number from 1, row by row.
    pub sample: StepSample,
}

/// The layout offered for a new series: grey scale, white, colours and skin tones of our own making.
#[must_use]
pub fn default_layout() -> PatchLayout {
    todo!()
}

/// The inner area of each patch, row by row, in the scan's pixels.
#[must_use]
pub fn patch_areas(layout: &PatchLayout, shape: &GridShape) -> Vec<Quad> {
    todo!("{layout:?} {shape:?}")
}

/// The grid of one print carried to another by their registration.
#[must_use]
pub fn carry_grid(shape: &GridShape, to: &Similarity) -> GridShape {
    todo!("{shape:?} {to:?}")
}

/// Samples every patch of a grid.
///
/// # Errors
/// The grid lies outside the scan, or patches are too small to hold enough pixels.
pub fn sample_patches(
    plane: Plane<'_>,
    table: &ToneTable,
    layout: &PatchLayout,
    shape: &GridShape,
) -> Result<Vec<PatchSample>, Problem> {
    todo!("{} {} {layout:?} {shape:?}", plane.width(), table.light.len())
}
