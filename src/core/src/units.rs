//! Units that a measured quantity carries with it: density, stops, micrometres.
//!
//! [`Measured`](crate::measured::Measured) says by its type which of them it is in. Plain densities and log exposures (lg H) are
//! numbers without a unit and are told apart by their names.

use serde::{Deserialize, Serialize};

use crate::numeric::math;

/// lg 2: one stop in log exposure.
pub const STOP: f64 = core::f64::consts::LOG10_2;

/// A number with a unit of its own, so that [`crate::measured::Measured`] can carry it.
pub trait Quantity: Copy + From<f64> + Into<f64> {
    /// The unit as it is printed behind the number; empty for plain ratios and logarithms.
    const UNIT: &'static str;
}

impl Quantity for f64 {
    const UNIT: &'static str = "";
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl From<f64> for $name {
            fn from(value: f64) -> Self {
                Self(value)
            }
        }
        impl From<$name> for f64 {
            fn from(value: $name) -> Self {
                value.0
            }
        }
        impl Quantity for $name {
            const UNIT: &'static str = $unit;
        }
    };
}

quantity!(
    /// Optical density, -lg of transmittance or reflectance (ISO 5-1:2009), or a difference of two densities.
    Density,
    ""
);
quantity!(
    /// Factors of two in exposure.
    Stops,
    "stops"
);
quantity!(
    /// Lengths on film or print, in micrometres.
    Micrometres,
    "µm"
);

impl Density {
    /// The density of a transmittance or reflectance factor, `-lg t` (ISO 5-1:2009). `t` > 0; zero gives infinity.
    ///
    /// ```
    /// # use twinwedge_core::units::Density;
    /// assert!((Density::from_light(0.18).0 - 0.744727).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn from_light(t: f64) -> Self {
        Self(-math::log10(t))
    }

    /// The transmittance or reflectance factor, `10^-D`.
    ///
    /// ```
    /// # use twinwedge_core::units::Density;
    /// assert!((Density(2.0).light() - 0.01).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn light(self) -> f64 {
        math::pow(10.0, -self.0)
    }
}

impl Stops {
    /// A difference of log exposures, lg H, in stops: divided by lg 2.
    ///
    /// ```
    /// # use twinwedge_core::units::Stops;
    /// assert!((Stops::from_log_exposure(1.0).0 - 3.321928).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn from_log_exposure(difference: f64) -> Self {
        Self(difference / STOP)
    }

    /// Stops as a difference of log exposures, lg H: times lg 2.
    ///
    /// ```
    /// # use twinwedge_core::units::Stops;
    /// assert!((Stops(1.0 / 3.0).log_exposure() - 0.100343).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn log_exposure(self) -> f64 {
        self.0 * STOP
    }
}

impl Micrometres {
    /// The distance between samples at a resolution in dots per inch; one inch is 25 400 µm.
    ///
    /// ```
    /// # use twinwedge_core::units::Micrometres;
    /// assert!((Micrometres::per_sample(4000.0).0 - 6.35).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn per_sample(dpi: f64) -> Self {
        Self(25_400.0 / dpi)
    }
}
