//! Step tablets on scans: where the steps lie, and what each reads.

use serde::Serialize;

use crate::document::StripShape;
use crate::geometry::{Point, Quad};
use crate::measured::{Flags, Measured};
use crate::problem::Problem;
use crate::scan::{Plane, ToneTable};
use crate::units::Density;

/// One sampled step.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepSample {
    /// Step number, from 1.
    pub step: u32,
    /// The sampled inner area, in the scan's pixels.
    pub area: Quad,
    /// Its density: -lg of the mean light. `u` is the standard error of the mean joined with the table's uncertainty.
    pub density: Measured<Density>,
    /// Mean code and its standard error.
    pub code: Measured,
    /// Spread (standard deviation) of the light over the area, relative to its mean.
    pub relative_spread: f64,
    /// Pixels used.
    pub used: usize,
    /// Pixels left out as dust or scratches.
    pub left_out: usize,
}

impl StepSample {
    /// The flags of the step.
    #[must_use]
    pub fn flags(&self) -> Flags {
        self.density.flags
    }
}

/// The inner area of each step of a strip, first to last, in the scan's pixels. The strip is mapped by the homography of
/// its corners, so it may be turned or in perspective.
#[must_use]
pub fn step_areas(shape: &StripShape) -> Vec<Quad> {
    todo!("{shape:?}")
}

/// Samples every step of a strip: mean light over the inner area, dust and scratches left out robustly, density of the
/// mean (a densitometer averages light), standard error from blocks so that correlated grain does not fool it.
///
/// # Errors
/// The strip lies outside the scan, its corners are not those of a convex quadrilateral, or steps are too small to hold
/// enough pixels.
pub fn sample_strip(
    plane: Plane<'_>,
    table: &ToneTable,
    shape: &StripShape,
) -> Result<Vec<StepSample>, Problem> {
    todo!("{} {} {shape:?}", plane.width(), table.light.len())
}

/// What a pointer at `at` would read: mean density over a disc of `radius` pixels.
///
/// # Errors
/// The disc lies outside the scan or holds no pixel.
pub fn sample_disc(
    plane: Plane<'_>,
    table: &ToneTable,
    at: Point,
    radius: f64,
) -> Result<StepSample, Problem> {
    todo!("{} {} {at:?} {radius}", plane.width(), table.light.len())
}

/// Samples one quadrilateral as [`sample_strip`] samples a step.
///
/// # Errors
/// As [`sample_strip`].
pub fn sample_quad(plane: Plane<'_>, table: &ToneTable, area: &Quad) -> Result<StepSample, Problem> {
    todo!("{} {} {area:?}", plane.width(), table.light.len())
}
