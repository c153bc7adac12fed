//! Contrast sensitivity of the eye by spatial frequency in cycles per degree.

use serde::Serialize;

use crate::numeric::math;

/// A published contrast sensitivity function.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub enum Csf {
    /// P. G. J. Barten, *Contrast Sensitivity of the Human Eye and Its Effects on Image Quality* (SPIE, 1999): absolute
    /// sensitivity to gratings.
    Barten(Eye),
    /// J. L. Mannos and D. J. Sakrison, *IEEE Trans. Inf. Theory* IT-20 (1974), coefficients from memory: relative, its
    /// peak near 1.
    MannosSakrison,
}

/// What Barten's formula takes of the observer and of what is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Eye {
    /// Diameter of the pupil, millimetres.
    pub pupil_mm: f64,
    /// Retinal illuminance, trolands.
    pub trolands: f64,
}

/// Angular size of the field in degrees, as published; larger fields change nothing.
const FIELD: f64 = 60.0;
/// Largest area over which the eye adds up, degrees across.
const AREA: f64 = 12.0;
/// Most cycles over which it adds up.
const CYCLES: f64 = 15.0;
/// Signal-to-noise ratio at threshold.
const K: f64 = 3.0;
/// Integration time, seconds.
const TIME: f64 = 0.1;
/// The eye's quantum efficiency: the share of light quanta that it makes use of.
const EFFICIENCY: f64 = 0.03;
/// Photons per second, square degree and troland.
const PHOTONS: f64 = 1.2274e6;
/// Spectral density of neural noise, seconds times square degrees.
const NEURAL: f64 = 3e-8;
/// Frequency up to which lateral inhibition takes low frequencies away, cycles per degree.
const INHIBITION: f64 = 7.0;
/// Spread of the optics at a small pupil, and its growth per millimetre of pupil; degrees.
const SPREAD: (f64, f64) = (0.5 / 60.0, 0.08 / 60.0);

impl Eye {
    /// The eye at a luminance in candelas per square metre: pupil after Le Grand with the field's size, retinal illuminance
    /// with the Stiles-Crawford effect, both as Barten has them.
    #[must_use]
    pub fn at(luminance: f64) -> Self {
        let pupil = 5.0 - 3.0 * math::tanh(0.4 * math::log10(luminance * FIELD * FIELD / 1600.0));
        Self::with_pupil(luminance, pupil)
    }

    /// The eye at a luminance with a pupil of known diameter in millimetres.
    #[must_use]
    pub fn with_pupil(luminance: f64, pupil_mm: f64) -> Self {
        let (a, b) = (pupil_mm / 9.7, pupil_mm / 12.4);
        let directed = 1.0 - a * a + b * b * b * b;
        let trolands = core::f64::consts::FRAC_PI_4 * pupil_mm * pupil_mm * luminance * directed;
        Self { pupil_mm, trolands }
    }

    /// `1 / X^2`: the reciprocal of the area over which the eye adds up, per square degree.
    #[must_use]
    pub fn per_area(frequency: f64) -> f64 {
        1.0 / (FIELD * FIELD) + 1.0 / (AREA * AREA) + frequency * frequency / (CYCLES * CYCLES)
    }

    /// One over the modulation of a grating at its threshold, seen with both eyes.
    fn sensitivity(&self, frequency: f64) -> f64 {
        let pi = core::f64::consts::PI;
        let spread = math::hypot(SPREAD.0, SPREAD.1 * self.pupil_mm);
        let optics = math::exp(-2.0 * pi * pi * spread * spread * frequency * frequency);
        let share = frequency / INHIBITION;
        let neural = NEURAL / -math::expm1(-share * share);
        let photons = 1.0 / (EFFICIENCY * PHOTONS * self.trolands);
        optics / K / math::sqrt(2.0 / TIME * Self::per_area(frequency) * (photons + neural))
    }
}

impl Csf {
    /// Sensitivity at a frequency in cycles per degree.
    #[must_use]
    pub fn at(&self, frequency: f64) -> f64 {
        match self {
            Self::Barten(eye) => eye.sensitivity(frequency.max(1e-6)),
            Self::MannosSakrison => {
                let share = 0.114 * frequency.max(0.0);
                2.6 * (0.0192 + share) * math::exp(-math::pow(share, 1.1))
            }
        }
    }

    /// Frequency and height of the peak.
    #[must_use]
    pub fn peak(&self) -> (f64, f64) {
        // Ternary search on a function with one peak; over the logarithm of the frequency.
        let (mut low, mut high) = (math::ln(0.05), math::ln(60.0));
        for _ in 0..100 {
            let third = (high - low) / 3.0;
            if self.at(math::exp(low + third)) < self.at(math::exp(high - third)) {
                low += third;
            } else {
                high -= third;
            }
        }
        let at = math::exp((low + high) / 2.0);
        (at, self.at(at))
    }
}

/// Cycles per degree of a frequency on the film (cycles per millimetre) in a print of that linear enlargement looked at
/// from that distance: `f / m * d tan 1 deg`.
#[must_use]
pub fn cycles_per_degree(frequency: f64, enlargement: f64, distance_mm: f64) -> f64 {
    frequency / enlargement * per_degree(distance_mm)
}

/// Millimetres that one degree spans at a distance.
pub(super) fn per_degree(distance_mm: f64) -> f64 {
    distance_mm * math::tan(core::f64::consts::PI / 180.0)
}
