//! Characteristic curves: density over log exposure, fitted smooth and monotone, with an uncertainty band.

use serde::Serialize;

use crate::measured::Flags;
use crate::problem::Problem;

/// One point of a curve's data.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reading {
    /// Step of the tablet, from 1.
    pub step: u32,
    /// lg H behind the step.
    pub log_h: f64,
    /// Standard uncertainty of that log H from the tablet's density; not shared between steps.
    pub log_h_u: f64,
    /// Density.
    pub density: f64,
    /// Its standard uncertainty.
    pub density_u: f64,
    /// Set aside: shown, not fitted.
    pub set_aside: bool,
    /// What must be known about it.
    pub flags: Flags,
}

/// The data of one film's curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Readings {
    /// The points, in any order.
    pub points: Vec<Reading>,
    /// lg H is absolute (lux seconds): an ISO speed may be had where its other conditions hold.
    pub absolute: bool,
    /// Standard uncertainty of the light itself, shared by all points (zero when relative).
    pub log_h_shared_u: f64,
    /// Base+fog read on an unexposed area: density and standard uncertainty.
    pub base_fog: Option<(f64, f64)>,
    /// Flags that everything from these readings carries.
    pub flags: Flags,
}

/// How to fit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FitSettings {
    /// Resamplings for uncertainties, at least 50.
    pub resamplings: u32,
    /// Their seed.
    pub seed: u64,
}

/// A fitted curve. Defined from its lowest to its highest log exposure, never beyond.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Curve {
    /// What it was fitted to, in order of log exposure.
    pub readings: Readings,
    /// Fitted density minus reading, in the order of `readings`, also for points set aside.
    pub residuals: Vec<f64>,
    /// Root mean square of residuals over reading uncertainties, of the fitted points; near 1 when errors are as stated.
    pub misfit: f64,
    /// The spline of the best fit.
    pub best: Spline,
    /// One spline for each resampling.
    pub resampled: Vec<Spline>,
}

/// A monotone smooth function of log exposure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spline {
    /// Knots, strictly rising.
    pub knots: Vec<f64>,
    /// B-spline coefficients, never falling.
    pub coefficients: Vec<f64>,
}

impl Spline {
    /// Density at `log_h`; `None` outside the knots.
    #[must_use]
    pub fn density(&self, log_h: f64) -> Option<f64> {
        todo!("{log_h}")
    }

    /// Local gradient at `log_h`; `None` outside the knots.
    #[must_use]
    pub fn gradient(&self, log_h: f64) -> Option<f64> {
        todo!("{log_h}")
    }

    /// The lowest log exposure at which the curve reaches `density`; `None` where it does not.
    #[must_use]
    pub fn log_h_at(&self, density: f64) -> Option<f64> {
        todo!("{density}")
    }
}

impl Curve {
    /// Lowest and highest log exposure of the data.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        todo!()
    }

    /// Density and its standard uncertainty at `log_h`; `None` outside the range.
    #[must_use]
    pub fn density(&self, log_h: f64) -> Option<(f64, f64)> {
        todo!("{log_h}")
    }

    /// Local gradient and its standard uncertainty at `log_h`; `None` outside the range.
    #[must_use]
    pub fn gradient(&self, log_h: f64) -> Option<(f64, f64)> {
        todo!("{log_h}")
    }
}

/// Fits a monotone smoothing spline to the readings, and once more to each resampling of them.
///
/// # Errors
/// Fewer than four fitted points, no range of exposure, densities that fall with exposure beyond their errors.
pub fn fit(readings: Readings, settings: FitSettings) -> Result<Curve, Problem> {
    todo!("{readings:?} {settings:?}")
}
