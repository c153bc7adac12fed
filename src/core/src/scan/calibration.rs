//! From a tablet of known densities to a tone table.

use super::ToneTable;
use crate::measured::Flags;
use crate::problem::Problem;

/// One step of the calibration tablet as the scanner saw it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CalibrationPoint {
    /// Step number on the tablet, from 1.
    pub step: u32,
    /// Mean code over the step.
    pub code: f64,
    /// Standard error of that mean.
    pub code_u: f64,
    /// Known density.
    pub density: f64,
    /// Its standard uncertainty.
    pub density_u: f64,
    /// Clipped or not; clipped steps are not used.
    pub flags: Flags,
}

/// A fitted calibration with what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrationFit {
    /// The table.
    pub table: ToneTable,
    /// The steps.
    pub points: Vec<CalibrationPoint>,
    /// Density by the table minus known density, step by step; `None` where the step was not used.
    pub residuals: Vec<Option<f64>>,
    /// Root mean square of the residuals.
    pub rms: f64,
    /// Things worth telling: steps left out and why.
    pub notes: Vec<String>,
}

/// Fits a monotone table from code to density through the steps of a tablet.
///
/// `levels` is 256 or 65536. Codes may rise or fall with density; steps that are clipped, out of order or
/// indistinguishable are left out with a note. No trust beyond the darkest and lightest usable step.
///
/// # Errors
/// Fewer than four usable steps, or codes that do not follow the densities.
pub fn calibrate(points: &[CalibrationPoint], levels: usize, name: &str) -> Result<CalibrationFit, Problem> {
    todo!("{} {levels} {name}", points.len())
}
