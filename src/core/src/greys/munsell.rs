//! The ladder of greys: Munsell value, luminance, density and lightness.

use serde::Serialize;

use crate::numeric::{math, roots};
use crate::units::Density;

/// Luminance factor in per cent of a Munsell value, 0 to 10, by the polynomial of ASTM D1535, value 10 being Y 100.
///
/// ```
/// # use twinwedge_core::greys::munsell::luminance;
/// assert!((luminance(5.0) - 19.2718).abs() < 1e-4);
/// ```
#[must_use]
pub fn luminance(value: f64) -> f64 {
    ((((0.000_819_39 * value - 0.020_484) * value + 0.233_52) * value - 0.225_33) * value + 1.191_4) * value
}

/// Munsell value of a luminance factor in per cent; `None` outside 0 to 100.
///
/// ```
/// # use twinwedge_core::greys::munsell::value;
/// assert!((value(18.0).unwrap() - 4.8519).abs() < 1e-4);
/// ```
#[must_use]
pub fn value(luminance_factor: f64) -> Option<f64> {
    let found = roots::bracketed(|value| luminance(value) - luminance_factor, 0.0, 10.0, 1e-9);
    found.or_else(|| ((luminance_factor - 100.0).abs() < 1e-9).then_some(10.0))
}

/// CIE lightness of a luminance factor in per cent (CIE 15:2004, 8.2.1).
///
/// ```
/// # use twinwedge_core::greys::munsell::lightness;
/// assert!((lightness(18.0) - 49.496).abs() < 1e-3);
/// ```
#[must_use]
pub fn lightness(luminance_factor: f64) -> f64 {
    super::colour::lab_of_xyz([luminance_factor; 3], [100.0; 3]).l
}

/// A grey of the ladder.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rung {
    /// Munsell value, 0 black to 10 white (ASTM D1535).
    pub value: f64,
    /// Luminance factor in per cent.
    pub luminance: f64,
    /// Reflectance density, -lg of the luminance factor.
    pub density: f64,
    /// CIE 1976 lightness L*, 0 to 100.
    pub lightness: f64,
}

impl Rung {
    /// The grey of a Munsell value.
    #[must_use]
    pub fn of_value(value: f64) -> Self {
        let y = luminance(value);
        Self { value, luminance: y, density: Density::from_light(y / 100.0).0, lightness: lightness(y) }
    }

    /// The grey of a density; `None` for one lighter than white (below 0).
    #[must_use]
    pub fn of_density(density: f64) -> Option<Self> {
        let y = 100.0 * math::pow(10.0, -density);
        Some(Self { value: value(y)?, luminance: y, density, lightness: lightness(y) })
    }
}

/// The ladder by half steps of value from 9.5 down to 1, light to dark.
#[must_use]
pub fn ladder() -> Vec<Rung> {
    (2..=19).rev().map(|half| Rung::of_value(0.5 * f64::from(half))).collect()
}
