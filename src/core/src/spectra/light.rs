//! Lights by formula and by standard.

use serde::{Deserialize, Serialize};

use super::spectrum::{Carries, Spectrum};
use super::tables;
use crate::numeric::math;

/// The light on the subject.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Light {
    /// Daylight of a correlated colour temperature in kelvin, 4000 to 25 000.
    Daylight(f64),
    /// An incandescent body of this temperature in kelvin, 1000 to 10 000.
    Incandescent(f64),
    /// A light of ISO 7589.
    Standard(Standard),
    /// The tester's own spectrum.
    Own(Spectrum),
}

/// Lights of ISO 7589. Through a lens: as it falls on the film, the standard's camera lens included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standard {
    /// Sensitometric daylight: through a lens.
    SensitometricDaylight,
    /// Sensitometric studio tungsten: through a lens.
    SensitometricTungsten,
    /// Photographic daylight on the subject.
    PhotographicDaylight,
    /// Studio tungsten on the subject.
    StudioTungsten,
}

impl Standard {
    /// All of them.
    pub const ALL: [Self; 4] = [
        Self::PhotographicDaylight,
        Self::StudioTungsten,
        Self::SensitometricDaylight,
        Self::SensitometricTungsten,
    ];

    /// The light and its standard, as a reader is told them.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::SensitometricDaylight => "sensitometric daylight of ISO 7589",
            Self::SensitometricTungsten => "sensitometric tungsten light of ISO 7589",
            Self::PhotographicDaylight => "photographic daylight of ISO 7589",
            Self::StudioTungsten => "studio tungsten light of ISO 7589",
        }
    }
}

impl Light {
    /// Its spectrum; `None` for a temperature outside the range of its formula.
    #[must_use]
    pub fn spectrum(&self) -> Option<Spectrum> {
        match self {
            Self::Daylight(kelvin) => daylight(*kelvin),
            Self::Incandescent(kelvin) => incandescent(*kelvin),
            Self::Standard(standard) => {
                let table = match standard {
                    Standard::SensitometricDaylight => &tables::SENSITOMETRIC_DAYLIGHT,
                    Standard::SensitometricTungsten => &tables::SENSITOMETRIC_TUNGSTEN,
                    Standard::PhotographicDaylight => &tables::PHOTOGRAPHIC_DAYLIGHT,
                    Standard::StudioTungsten => &tables::TUNGSTEN,
                };
                by_ten(table.to_vec())
            }
            Self::Own(spectrum) => Some(spectrum.clone()),
        }
    }
}

fn by_ten(values: Vec<f64>) -> Option<Spectrum> {
    Spectrum::regular(Carries::Light, tables::LIGHT_FROM, 10.0, values).ok()
}

/// Daylight by the formula of the CIE (CIE 15:2004, 3.1): chromaticity from the correlated colour temperature, and from it the
/// weights of three components; 350 to 780 nm, 100 at 560 nm. `None` outside 4000 to 25 000 K.
///
/// ```
/// # use twinwedge_core::greys::light::daylight;
/// // D65, whose nominal 6500 K are 6504 K by today's constant: 117.008 at 450 nm (CIE 15:2004, table T.1).
/// let d65 = daylight(6_500.0 * 1.4388 / 1.4380).unwrap();
/// assert!((d65.at(450.0).unwrap() - 117.008).abs() < 0.02);
/// ```
#[must_use]
pub fn daylight(kelvin: f64) -> Option<Spectrum> {
    if !(4_000.0..=25_000.0).contains(&kelvin) {
        return None;
    }
    let t = 1e3 / kelvin;
    let x = if kelvin <= 7_000.0 {
        ((-4.6070 * t + 2.9678) * t + 0.09911) * t + 0.244_063
    } else {
        ((-2.0064 * t + 1.9018) * t + 0.24748) * t + 0.237_040
    };
    let y = (-3.000 * x + 2.870) * x - 0.275;
    let scale = 0.0241 + 0.2562 * x - 0.7341 * y;
    // The standard rounds both to three places.
    let rounded = |value: f64| (value * 1e3).round() / 1e3;
    let first = rounded((-1.3515 - 1.7703 * x + 5.9114 * y) / scale);
    let second = rounded((0.0300 - 31.4424 * x + 30.0717 * y) / scale);
    by_ten(tables::DAYLIGHT.iter().map(|[s0, s1, s2]| (s0 + first * s1 + second * s2).max(0.0)).collect())
}

/// The light of an incandescent body by Planck's law, 350 to 780 nm, 100 at 560 nm; `None` outside 1000 to 10 000 K. The second
/// radiation constant is 1.4388 cm K.
///
/// ```
/// # use twinwedge_core::greys::light::incandescent;
/// // Illuminant A: 2848 K by the constant of its time (1.4350), 9.7951 at 380 nm (CIE 15:2004, table T.1).
/// let a = incandescent(2_848.0 * 1.4388 / 1.4350).unwrap();
/// assert!((a.at(380.0).unwrap() - 9.7951).abs() < 0.002);
/// ```
#[must_use]
pub fn incandescent(kelvin: f64) -> Option<Spectrum> {
    if !(1_000.0..=10_000.0).contains(&kelvin) {
        return None;
    }
    let power = |i: usize| planck(1.4388e7, kelvin, tables::LIGHT_FROM + 10.0 * i as f64);
    by_ten((0..tables::DAYLIGHT.len()).map(power).collect())
}

/// Illuminant A of the CIE at a wavelength in nanometres, 100 at 560 nm (CIE 15:2004, 3.1).
pub(super) fn illuminant_a(nm: f64) -> f64 {
    planck(1.435e7, 2_848.0, nm)
}

/// Planck's law at a wavelength in nanometres, 100 at 560 nm. `second` is the second radiation constant in nm K.
fn planck(second: f64, kelvin: f64, nm: f64) -> f64 {
    let power = |nm: f64| math::pow(nm / 560.0, -5.0) / math::expm1(second / (nm * kelvin));
    100.0 / power(560.0) * power(nm)
}
