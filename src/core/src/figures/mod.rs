//! Figures of merit of one film: what they are called, defined and measured as. Tables, reports, verbs and the window
//! all go through this registry; a new figure is one entry there and one function that computes it.
//!
//! - `registry`: names, units, definitions and sources.
//! - [`of_curve()`]: all figures that follow from a characteristic curve, and the same of each of its resamplings.
//! - [`Draws`]: what the resamplings say, from which intervals and the intervals of differences are taken.
//! - [`speed`]: speeds, their standard series, the shadow match of a bracket.
//! - [`straight`]: the straight line and the criterion by which it is found.
//! - [`criteria`]: other published speed and contrast criteria.

pub mod criteria;
mod draws;
mod numbers;
mod of_curve;
mod registry;
pub mod speed;
pub mod straight;

pub use draws::{Draws, measured_by_draws};
pub(crate) use of_curve::BaseFog;
pub use of_curve::{OfCurve, of_curve};
pub use registry::{registry, spec};
pub use speed::shadow_match;
pub use straight::{StraightLine, straight_line};

use std::collections::BTreeMap;

use serde::Serialize;

use crate::citation::Citation;
use crate::measured::Value;

/// A figure of merit. In the order of tables, which is that of the registry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FigureId {
    /// ISO 6 speed, arithmetic.
    IsoSpeed,
    /// Speed by the fixed density of 0.10 alone, no claim of ISO.
    FixedDensitySpeed,
    /// Index by shadow match from the bracket.
    ShadowMatchIndex,
    /// lg H where density is 0.10 above base+fog.
    SpeedPoint,
    /// Density of the unexposed, developed film.
    BaseFog,
    /// Highest density reached.
    DMax,
    /// Density gained over 1.30 in log H from the speed point: the ISO 6 contrast condition.
    IsoContrast,
    /// Average gradient over the series' range above the speed point.
    AverageGradient,
    /// Slope of the straight line.
    Gamma,
    /// Where the straight line begins, lg H.
    StraightFrom,
    /// Where the straight line ends, lg H.
    StraightTo,
    /// Largest departure from the straight line within it, density, with its sign.
    StraightDeparture,
    /// Highest gradient over any one stop.
    MaximumGradient,
    /// Log exposure range of the data.
    TestedRange,
    /// RMS granularity, 1000 sigma(D).
    Granularity,
    /// Mean density at which granularity was measured.
    GranularityDensity,
}

/// How differences of a figure are taken between two films.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Difference {
    /// Candidate minus reference.
    Subtract,
    /// Base-2 logarithm of candidate over reference, in stops.
    Stops,
    /// Reference minus candidate log exposure, in stops: more speed is positive.
    SpeedStops,
    /// Candidate over reference, minus one, in per cent.
    Percent,
}

/// What a figure is.
#[derive(Debug, Clone, Copy)]
pub struct FigureSpec {
    /// The figure.
    pub id: FigureId,
    /// Name in tables, JSON and CSV: lower case with underscores.
    pub key: &'static str,
    /// Label as it is shown.
    pub label: &'static str,
    /// Unit printed behind the value.
    pub unit: &'static str,
    /// Definition in a sentence, for hover texts and reports.
    pub definition: &'static str,
    /// Decimals printed when the uncertainty does not say.
    pub decimals: usize,
    /// How two films are compared by it.
    pub difference: Difference,
    /// Where the definition comes from.
    pub source: Citation,
}

/// The figures of one film.
pub type Figures = BTreeMap<FigureId, Value>;
