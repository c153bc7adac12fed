//! Characteristic curves: density over log exposure, fitted smooth and monotone, with an uncertainty band.
//!
//! - [`Readings`] are what is known about one film: densities, exposures and how sure they are.
//! - [`fit()`] makes a [`Curve`] of them: the best [`Spline`], and one for each resampling.
//! - Several strips of one roll are joined into one curve, each at the level that it is said or found to have.
//! - A [`ModelFit`] stands beside it: toe, straight line and shoulder in few parameters.
//! - `figures` reads speeds and gradients off it.

mod check;
mod fit;
mod join;
mod misread;
pub mod model;
mod parametric;
mod readings;
mod resample;
mod spline;

pub use fit::{fit, fit_as_given};
pub use join::LevelFound;
pub use parametric::{Goodness, ModelFit, Parameter, Shape};
pub use readings::{ErrorKey, Reading, Readings, Sources, Strip, last_digit, rounding_u};
pub use resample::Resampling;
pub(crate) use resample::step_error;
pub use spline::Spline;
pub(crate) use spline::value_weights;

use serde::Serialize;

use crate::numeric::robust;

/// How to fit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FitSettings {
    /// Resamplings for uncertainties, at least 50.
    pub resamplings: u32,
    /// The seed of the random numbers: the same gives the same intervals.
    pub seed: u64,
}

/// A fitted curve. Defined from its lowest to its highest fitted log exposure, never beyond.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Curve {
    /// What it was fitted to, in order of log exposure.
    pub readings: Readings,
    /// Fitted density minus reading, in the order of `readings`, also for points set aside; `None` for a point set aside
    /// that lies outside the fitted range.
    pub residuals: Vec<Option<f64>>,
    /// Root of chi-square over its degrees of freedom, of the fitted points; near 1 when errors are as stated.
    pub misfit: f64,
    /// By what the stated errors were multiplied because the residuals contradict them (chi-square above its 99 %
    /// quantile); 1 when they do not.
    pub error_scale: f64,
    /// Readings that the others contradict: set aside by the fit, unless the tester keeps them.
    pub outliers: Vec<Outlier>,
    /// How well the spline holds the readings.
    pub goodness: Goodness,
    /// The curve of few parameters beside it; `None` where the readings do not determine one.
    pub model: Option<ModelFit>,
    /// Where the levels of the additional strips were found, in their order; empty for one strip.
    pub levels: Vec<LevelFound>,
    /// The spline of the best fit.
    pub best: Spline,
    /// What the fit might as well have been.
    pub resampled: Vec<Resampling>,
}

/// A reading that the others contradict.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Outlier {
    /// Strip that it was read on.
    pub strip: usize,
    /// Step of the tablet.
    pub step: u32,
    /// Its density minus that of the curve through the others.
    pub departure: f64,
    /// The same in units of what its error and the curve through the others allow.
    pub sigmas: f64,
    /// What became of it.
    pub standing: Standing,
}

/// What became of a reading that the others contradict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Standing {
    /// It is set aside and takes no part in the fit.
    SetAside,
    /// Set aside together with another: one of the two is wrong, and the others do not tell which.
    OneOfTwo {
        /// The other's strip and step.
        other: (usize, u32),
    },
    /// Set aside together with a neighbour: exchanged, both would agree with the others.
    Exchanged {
        /// The other's strip and step.
        other: (usize, u32),
    },
    /// Fitted, because the tester keeps it.
    Kept,
}

/// A point of the 95 % band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BandPoint {
    /// Where the band is told, lg H.
    pub log_h: f64,
    /// Density of the best fit.
    pub density: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
}

impl Curve {
    /// Lowest and highest log exposure of the fitted data.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        (self.best.from, self.best.to)
    }

    /// Density and its standard uncertainty at `log_h`; `None` outside the range. The uncertainty of the light itself,
    /// which moves the curve as a whole, is not in it.
    #[must_use]
    pub fn density(&self, log_h: f64) -> Option<(f64, f64)> {
        self.with_uncertainty(|spline| spline.density(log_h))
    }

    /// Local gradient and its standard uncertainty at `log_h`; `None` outside the range.
    #[must_use]
    pub fn gradient(&self, log_h: f64) -> Option<(f64, f64)> {
        self.with_uncertainty(|spline| spline.gradient(log_h))
    }

    /// The lowest log exposure at which `density` is reached, and its standard uncertainty without that of the light
    /// itself; `None` where it is not reached, or not in nine out of ten resamplings.
    #[must_use]
    pub fn log_h_at(&self, density: f64) -> Option<(f64, f64)> {
        self.with_uncertainty(|spline| spline.log_h_at(density))
    }

    /// The 95 % band of density at `count` evenly spaced log exposures over the whole range, at least two.
    #[must_use]
    pub fn band(&self, count: usize) -> Vec<BandPoint> {
        let (from, to) = self.range();
        let last = count.max(2) - 1;
        let point = |i: usize| {
            let log_h = (from + (to - from) * i as f64 / last as f64).min(to);
            let density = self.best.density(log_h)?;
            let draws: Vec<f64> = self.resampled.iter().filter_map(|r| r.spline.density(log_h)).collect();
            let draws = robust::sorted(&draws);
            let low = robust::quantile_of_sorted(&draws, 0.025).unwrap_or(density).min(density);
            let high = robust::quantile_of_sorted(&draws, 0.975).unwrap_or(density).max(density);
            Some(BandPoint { log_h, density, low, high })
        };
        (0..=last).filter_map(point).collect()
    }

    /// The best fit alone, a hundredth as large: to be drawn without its band.
    #[must_use]
    pub fn without_resamplings(&self) -> Self {
        Self {
            readings: self.readings.clone(),
            residuals: self.residuals.clone(),
            misfit: self.misfit,
            error_scale: self.error_scale,
            outliers: self.outliers.clone(),
            goodness: self.goodness,
            model: self.model.clone(),
            levels: self.levels.clone(),
            best: self.best.clone(),
            resampled: Vec::new(),
        }
    }

    fn with_uncertainty(&self, of: impl Fn(&Spline) -> Option<f64>) -> Option<(f64, f64)> {
        let best = of(&self.best)?;
        let draws: Vec<f64> = self.resampled.iter().filter_map(|r| of(&r.spline)).collect();
        let enough = draws.len() * 10 >= self.resampled.len() * 9;
        Some((best, robust::standard_deviation(&draws).filter(|_| enough)?))
    }
}
