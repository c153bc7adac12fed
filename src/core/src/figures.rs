//! Figures of merit of one film: what they are called, defined and measured as. Tables, reports, verbs and the window
//! all go through this registry; a new figure is one entry here and one function that computes it.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::citation::Citation;
use crate::curve::Curve;
use crate::document::Settings;
use crate::measured::Value;

/// A figure of merit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FigureId {
    /// Density of the unexposed, developed film.
    BaseFog,
    /// Highest density reached.
    DMax,
    /// lg H where density is 0.10 above base+fog.
    SpeedPoint,
    /// ISO 6 speed, arithmetic.
    IsoSpeed,
    /// Speed by the fixed density of 0.10 alone, no claim of ISO.
    FixedDensitySpeed,
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
    /// Highest local gradient.
    MaximumGradient,
    /// Log exposure range of the data.
    TestedRange,
    /// Index by shadow match from the bracket.
    ShadowMatchIndex,
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

/// All figures, in the order of tables.
#[must_use]
pub fn registry() -> &'static [FigureSpec] {
    todo!()
}

/// The entry of one figure.
#[must_use]
pub fn spec(id: FigureId) -> &'static FigureSpec {
    todo!("{id:?}")
}

/// The figures of one film.
pub type Figures = BTreeMap<FigureId, Value>;

/// All figures that follow from a curve, each known or with the reason why not.
#[must_use]
pub fn of_curve(curve: &Curve, settings: &Settings) -> Figures {
    todo!("{curve:?} {settings:?}")
}

/// The straight line found on a curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StraightLine {
    /// Where it begins, lg H.
    pub from: f64,
    /// Where it ends, lg H.
    pub to: f64,
    /// Density of the line at lg H = 0 (extrapolated, to draw it).
    pub intercept: f64,
    /// Its slope.
    pub gamma: f64,
}

/// The straight line of a curve, or the reason why there is none.
///
/// # Errors
/// The reason, in one sentence.
pub fn straight_line(curve: &Curve) -> Result<StraightLine, String> {
    todo!("{curve:?}")
}
