//! What the tester chose about development: which gradient is followed, what is wanted, and what comparisons use.

use serde::{Deserialize, Serialize};

/// Choices about development, for the whole series.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DevelopmentChoices {
    /// Which curves comparisons use.
    pub compare_as: CompareAs,
    /// The gradient that is followed over time.
    pub follow: FollowedGradient,
    /// The gradient wanted; none means the reference film's.
    pub wanted: Option<f64>,
    /// The time before development begins to show.
    pub induction: Induction,
    /// How many times faster development runs per 10 °C, where the tester knows it; at least 1.
    pub temperature_coefficient: Option<f64>,
}

impl DevelopmentChoices {
    /// Whether nothing was chosen: then nothing is saved.
    #[must_use]
    pub fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// Which curves comparisons use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum CompareAs {
    /// The curves that were measured.
    #[default]
    AsDeveloped,
    /// Every candidate as if developed to the reference's contrast: predicted curves.
    MatchedContrast,
}

/// The gradient that is followed over development time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum FollowedGradient {
    /// The average gradient over the series' range above the speed point.
    #[default]
    Average,
    /// The slope of the straight line, for which the law of development was found.
    Gamma,
    /// Density gained over 1.30 in log H from the speed point, divided by 1.30: the contrast of ISO 6.
    IsoContrast,
}

/// The time before development begins to show.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub enum Induction {
    /// None: the law begins at time zero.
    #[default]
    None,
    /// Known, in minutes.
    Minutes(f64),
    /// Found by the fit, where there are four rolls or more.
    Fitted,
}
