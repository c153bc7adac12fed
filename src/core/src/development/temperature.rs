//! How temperature changes the rate of development.
//!
//! Two forms are in use, and over the few degrees of a darkroom they are the same: Arrhenius' law with an activation energy,
//! and a coefficient per 10 °C (W. B. Ferguson and B. F. Howard, Phot. J. 45 (1905) in exponential form). Both depend on the
//! developing agent: measured on a film where it can be, typed where it is known, else assumed and marked so.

use serde::Serialize;

use crate::measured::{Flags, Measured};
use crate::numeric::math;

/// The molar gas constant, J/(mol K), exact since 2019 (SI brochure, 9th edition).
const GAS: f64 = 8.314_462_618;
/// 0 °C in kelvin.
const ZERO_C: f64 = 273.15;

/// Temperatures within which a coefficient may be used, °C. Common practice, no source: below, some agents nearly stop;
/// above, emulsions swell and fog grows.
pub const USUAL_RANGE: (f64, f64) = (18.0, 24.0);
/// Temperature taken where none is on record, °C. Common practice, no source.
pub const USUAL_C: f64 = 20.0;
/// Coefficients per 10 °C between which common agents lie: reported after S. E. Sheppard and C. E. K. Mees, "Investigations on
/// the Theory of the Photographic Process" (1907), in a textbook page.
pub const USUAL_COEFFICIENT: (f64, f64) = (2.0, 3.0);

/// By what a time at `from_c` is multiplied to give the same development at `to_c` (°C), with activation energy `energy` in
/// J/mol: `exp(Ea/R (1/T2 - 1/T1))`.
///
/// ```
/// # use twinwedge_core::development::temperature::arrhenius_time_factor;
/// assert!((arrhenius_time_factor(60_000.0, 20.0, 24.0) - 0.71794045).abs() < 1e-5);
/// ```
#[must_use]
pub fn arrhenius_time_factor(energy: f64, from_c: f64, to_c: f64) -> f64 {
    math::exp(energy / GAS * (1.0 / (to_c + ZERO_C) - 1.0 / (from_c + ZERO_C)))
}

/// The same with a coefficient per 10 °C and a difference of temperature in °C: `q^(-dT/10)`.
///
/// ```
/// # use twinwedge_core::development::temperature::coefficient_time_factor;
/// assert!((coefficient_time_factor(2.5, 4.0) - 0.69314484).abs() < 1e-6);
/// ```
#[must_use]
pub fn coefficient_time_factor(coefficient: f64, degrees: f64) -> f64 {
    math::exp(-math::ln(coefficient) * degrees / 10.0)
}

/// The coefficient between `at_c` and 10 °C above it that belongs to an activation energy in J/mol.
///
/// ```
/// # use twinwedge_core::development::temperature::coefficient_of_energy;
/// assert!((coefficient_of_energy(60_000.0, 20.0) - 2.2524654).abs() < 1e-5);
/// ```
#[must_use]
pub fn coefficient_of_energy(energy: f64, at_c: f64) -> f64 {
    1.0 / arrhenius_time_factor(energy, at_c, at_c + 10.0)
}

/// The activation energy in J/mol that belongs to a coefficient between `at_c` and 10 °C above it.
///
/// ```
/// # use twinwedge_core::development::temperature::{coefficient_of_energy, energy_of_coefficient};
/// assert!((energy_of_coefficient(coefficient_of_energy(60_000.0, 20.0), 20.0) - 60_000.0).abs() < 1e-6);
/// ```
#[must_use]
pub fn energy_of_coefficient(coefficient: f64, at_c: f64) -> f64 {
    let (cold, warm) = (at_c + ZERO_C, at_c + 10.0 + ZERO_C);
    math::ln(coefficient) * GAS / (1.0 / cold - 1.0 / warm)
}

/// Where a temperature coefficient comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum CoefficientBasis {
    /// Fitted to rolls of this film at several temperatures.
    Fitted,
    /// Typed by the tester.
    Typed,
    /// Typical of common agents.
    Assumed,
}

/// The coefficient per 10 °C that is assumed where nothing is known: the middle of [`USUAL_COEFFICIENT`], as likely anywhere
/// between its ends (a rectangular distribution, JCGM 100:2008, 4.3.7).
#[must_use]
pub fn assumed_coefficient() -> Measured {
    let (low, high) = USUAL_COEFFICIENT;
    let margin = 0.025 * (high - low);
    let u = (high - low) / 12.0_f64.sqrt();
    Measured::with_interval((low + high) / 2.0, u, low + margin, high - margin).flagged(Flags::ASSUMED)
}
