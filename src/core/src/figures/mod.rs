//! Figures of merit of one film: what they are called, defined and measured as. Tables, reports, verbs and the window
//! all go through this registry; a new figure is one entry there and one function that computes it.
//!
//! - `registry`: names, units, definitions and sources.
//! - [`of_curve()`]: all figures that follow from a characteristic curve, and the same of each of its resamplings.
//! - [`Draws`]: what the resamplings say, from which intervals and the intervals of differences are taken.
//! - [`speed`]: speeds, their standard series, the shadow match of a bracket.
//! - [`straight`]: the straight line and the criterion by which it is found.
//! - [`departures()`]: peaks and valleys along it, and where two films are opposed.
//! - [`criteria`]: other published speed and contrast criteria.
//! - [`foot`]: base+fog where it was not read.
//! - [`reach`]: whether the test reached toe and shoulder, why, and what to expose where it did not.

pub mod criteria;
mod departures;
mod draws;
pub mod foot;
mod numbers;
mod of_curve;
pub mod reach;
mod registry;
mod shape;
pub mod speed;
pub mod straight;

pub use departures::{Departures, Extreme, Opposed, departures, opposed};
pub use draws::{Draws, measured_by_draws};
pub(crate) use of_curve::BaseFog;
pub use of_curve::{OfCurve, of_curve};
pub use reach::{End, Reach, Reached};
pub use registry::{registry, spec};
pub use shape::{shoulder_ends, toe_ends};
pub use speed::{MatchTarget, against_box, shadow_match, shadow_match_draws};
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
    /// Speed where the gradient is 0.3 of the mean over the next 1.5 in log H.
    FractionalGradientSpeed,
    /// Speed by the relation between fixed density and fractional gradient.
    DeltaXSpeed,
    /// Index by shadow match from the bracket, as the series chose: by net or by gross density.
    ShadowMatchIndex,
    /// The same by the density that the series did not choose.
    ShadowMatchOther,
    /// Speed at 0.10 above base+fog against the speed on the box, in stops.
    BoxDistance,
    /// Index by shadow match against the speed on the box, in stops.
    IndexBoxDistance,
    /// lg H where density is 0.10 above base+fog.
    SpeedPoint,
    /// lg H where the gradient is 0.3 of the mean over the next 1.5.
    FractionalGradientPoint,
    /// lg H that the delta-X relation takes for it.
    DeltaXPoint,
    /// Density of the unexposed, developed film.
    BaseFog,
    /// Local gradient at the speed point.
    SpeedPointGradient,
    /// Length of the toe in stops.
    ToeLength,
    /// How quickly the gradient rises in the toe.
    ToeCurvature,
    /// Density gained over 1.30 in log H from the speed point: the ISO 6 contrast condition.
    IsoContrast,
    /// Average gradient over 1.30 in log H from the speed point.
    AverageGradient130,
    /// Average gradient over 1.50 in log H from the speed point.
    AverageGradient150,
    /// Average gradient over the series' range above the speed point.
    AverageGradient,
    /// Contrast index: slope of the ray from the base+fog line that meets the curve at distances 0.2 and 2.2.
    ContrastIndex,
    /// Slope of the straight line.
    Gamma,
    /// Highest gradient over any one stop.
    MaximumGradient,
    /// Where the straight line begins, lg H.
    StraightFrom,
    /// Where the straight line ends, lg H.
    StraightTo,
    /// Length of the straight line in stops.
    StraightLength,
    /// Largest departure from the straight line within it, density, with its sign.
    StraightDeparture,
    /// Highest density reached.
    DMax,
    /// Length of the shoulder in stops.
    ShoulderLength,
    /// How quickly the gradient falls in the shoulder.
    ShoulderCurvature,
    /// From the speed point to the end of the straight line, stops.
    Headroom,
    /// Where the usable exposure range begins, lg H.
    UsableFrom,
    /// Where the usable exposure range ends, lg H.
    UsableTo,
    /// Usable exposure range in stops.
    UsableRange,
    /// Log exposure range of the data.
    TestedRange,
    /// RMS granularity, 1000 sigma(D).
    Granularity,
    /// Mean density at which granularity was measured.
    GranularityDensity,
    /// RMS granularity referred to net density 1.0.
    GranularityNetOne,
    /// Cycles per millimetre at which the modulation of an edge is 50 %.
    Mtf50,
    /// Cycles per millimetre at which the modulation of an edge is 10 %.
    Mtf10,
}

/// What a figure speaks of: the parts of the long table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum FigureGroup {
    /// Speeds, indices and the places they are taken at.
    Speed,
    /// Base+fog and toe.
    Shadows,
    /// Gradients and what follows from them.
    Contrast,
    /// The straight line.
    Middle,
    /// Shoulder and range.
    Highlights,
    /// Granularity of uniform areas.
    Grain,
    /// Sharpness of slanted edges.
    Detail,
}

impl FigureGroup {
    /// All groups, in the order of tables.
    pub const ALL: [Self; 7] = [
        Self::Speed,
        Self::Shadows,
        Self::Contrast,
        Self::Middle,
        Self::Highlights,
        Self::Grain,
        Self::Detail,
    ];

    /// The heading over its rows in tables.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Speed => "Speed",
            Self::Shadows => "Shadows",
            Self::Contrast => "Contrast",
            Self::Middle => "Middle",
            Self::Highlights => "Highlights and range",
            Self::Grain => "Grain",
            Self::Detail => "Detail",
        }
    }

    /// The group of a figure.
    ///
    /// ```
    /// # use twinwedge_core::figures::{FigureGroup, FigureId};
    /// assert_eq!(FigureGroup::of(FigureId::Gamma), FigureGroup::Contrast);
    /// ```
    #[must_use]
    pub fn of(id: FigureId) -> Self {
        match id {
            _ if id <= FigureId::DeltaXPoint => Self::Speed,
            _ if id <= FigureId::ToeCurvature => Self::Shadows,
            _ if id <= FigureId::MaximumGradient => Self::Contrast,
            _ if id <= FigureId::StraightDeparture => Self::Middle,
            _ if id <= FigureId::TestedRange => Self::Highlights,
            _ if id <= FigureId::GranularityNetOne => Self::Grain,
            _ => Self::Detail,
        }
    }
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
    /// The figure that this row defines.
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
