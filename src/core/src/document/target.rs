//! What the tester knows of the printed target's colours: spectra of its patches, and the light that fell on it.

use serde::{Deserialize, Serialize};

use super::ranges;
use crate::spectra::light::{self, Standard};
use crate::spectra::spectrum::{Carries, Fault, Spectrum};

/// A spectrum as it is kept: values at evenly spaced wavelengths.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EnteredSpectrum {
    /// First wavelength in nanometres.
    pub from_nm: f64,
    /// From one wavelength to the next, in nanometres.
    pub step_nm: f64,
    /// Value at each: a share of light from 0 to 1, or of a light its power in any unit.
    pub values: Vec<f64>,
}

/// Distance of wavelengths that rows of uneven distance are brought to.
const EVEN: f64 = 10.0;
/// Wavelengths that lie so near to even ones are even.
const NEARLY: f64 = 1e-6;

impl EnteredSpectrum {
    /// A spectrum as it is kept: its own rows where they are evenly spaced and neither too many nor too far
    /// apart for a series, else read from them every 10 nm.
    ///
    /// ```
    /// # use twinwedge_core::document::EnteredSpectrum;
    /// # use twinwedge_core::greys::spectrum::{Carries, Spectrum};
    /// let uneven = Spectrum::new(Carries::Light, vec![400.0, 405.0, 412.0, 420.0], vec![1.0, 1.0, 1.0, 3.0]).unwrap();
    /// assert_eq!(EnteredSpectrum::of(&uneven).values, [1.0, 1.0, 3.0]);
    /// ```
    #[must_use]
    pub fn of(spectrum: &Spectrum) -> Self {
        let rows: Vec<(f64, f64)> = spectrum.rows().collect();
        let (first, last) = spectrum.range();
        let step = (last - first) / (rows.len() - 1) as f64;
        let even =
            rows.iter().enumerate().all(|(i, (nm, _))| (nm - first - step * i as f64).abs() < NEARLY * step);
        if even && ranges::WAVELENGTH_STEP.holds(step) && ranges::SPECTRUM.check(rows.len()).is_ok() {
            return Self {
                from_nm: first,
                step_nm: step,
                values: rows.into_iter().map(|(_, value)| value).collect(),
            };
        }
        // Two rows a hair apart still make two wavelengths that a series can hold.
        let from = first.min(ranges::WAVELENGTH.highest - ranges::WAVELENGTH_STEP.lowest);
        let step = (last - first).clamp(ranges::WAVELENGTH_STEP.lowest, EVEN);
        let count = (((last - from) / step + NEARLY).floor() as usize).max(1);
        let values = (0..=count).map(|i| spectrum.nearest(from + step * i as f64)).collect();
        Self { from_nm: from, step_nm: step, values }
    }

    /// The spectrum of these values.
    ///
    /// # Errors
    /// What is wrong with them.
    pub fn spectrum(&self, carries: Carries) -> Result<Spectrum, Fault> {
        Spectrum::regular(carries, self.from_nm, self.step_nm, self.values.clone())
    }
}

/// The light that fell on the target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum SubjectLight {
    /// Daylight of a correlated colour temperature in kelvin.
    Daylight(f64),
    /// Incandescent light of a temperature in kelvin.
    Incandescent(f64),
    /// A light of ISO 7589.
    Standard(Standard),
    /// As it was measured.
    Measured(EnteredSpectrum),
}

impl SubjectLight {
    /// Its spectrum; `None` for a temperature or values that give none.
    #[must_use]
    pub fn spectrum(&self) -> Option<Spectrum> {
        match self {
            Self::Daylight(kelvin) => light::daylight(*kelvin),
            Self::Incandescent(kelvin) => light::incandescent(*kelvin),
            Self::Standard(standard) => light::Light::Standard(*standard).spectrum(),
            Self::Measured(entered) => entered.spectrum(Carries::Light).ok(),
        }
    }

    /// The light as a reader is told it.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Daylight(kelvin) => format!("daylight of {kelvin} K"),
            Self::Incandescent(kelvin) => format!("incandescent light of {kelvin} K"),
            Self::Standard(standard) => standard.words().to_owned(),
            Self::Measured(_) => "the light as measured".to_owned(),
        }
    }
}

/// What is known of the target's colours beyond its patches.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TargetChoices {
    /// The light that fell on it; none where nobody said.
    pub light: Option<SubjectLight>,
    /// Standard uncertainty of the known densities and reflectances of its patches, in density.
    pub known_u: f64,
}

impl Default for TargetChoices {
    fn default() -> Self {
        Self { light: None, known_u: 0.01 }
    }
}

impl TargetChoices {
    /// Whether nothing was chosen yet; then nothing is written to the file.
    #[must_use]
    pub fn is_default(&self) -> bool {
        *self == Self::default()
    }
}
