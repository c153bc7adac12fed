//! Invented reflectances, light and film sensitivities over wavelength, and the exposure that follows from them.

use twinwedge_core::document::EnteredSpectrum;
use twinwedge_core::numeric::math;

/// Wavelengths in nanometres: 400, 410 ... 700.
fn wavelengths() -> impl Iterator<Item = f64> {
    (0..=30).map(|i| 400.0 + 10.0 * f64::from(i))
}

fn bell(wavelength: f64, centre: f64, width: f64) -> f64 {
    let z = (wavelength - centre) / width;
    math::exp(-0.5 * z * z)
}

/// A reflectance: a flat floor and up to two bells on it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reflectance {
    floor: f64,
    bells: [(f64, f64, f64); 2],
}

impl Reflectance {
    /// The same at every wavelength.
    pub(super) const fn flat(floor: f64) -> Self {
        Self { floor, bells: [(0.0, 550.0, 50.0); 2] }
    }

    /// A floor and two bells of (height, centre, width).
    pub(super) const fn bells(floor: f64, bells: [(f64, f64, f64); 2]) -> Self {
        Self { floor, bells }
    }

    /// As a spectrophotometer with four decimals tells it.
    pub(super) fn told(&self) -> EnteredSpectrum {
        entered(|wavelength| (self.at(wavelength) * 1e4).round() / 1e4)
    }

    /// What it reflects without its bells.
    pub(super) fn floor(&self) -> f64 {
        self.floor
    }

    fn at(&self, wavelength: f64) -> f64 {
        let bells: f64 =
            self.bells.iter().map(|(height, centre, width)| height * bell(wavelength, *centre, *width)).sum();
        (self.floor + bells).min(0.95)
    }
}

/// The invented daylight: it rises a little from blue to green and falls again.
fn light(wavelength: f64) -> f64 {
    0.8 + 0.35 * bell(wavelength, 540.0, 110.0)
}

/// The same as a spectrometer with four decimals tells it.
pub(super) fn told_light() -> EnteredSpectrum {
    entered(|wavelength| (light(wavelength) * 1e4).round() / 1e4)
}

fn entered(value: impl Fn(f64) -> f64) -> EnteredSpectrum {
    EnteredSpectrum { from_nm: 400.0, step_nm: 10.0, values: wavelengths().map(value).collect() }
}

/// A film's spectral sensitivity: three bells of (height, centre, width).
#[derive(Debug, Clone, Copy)]
pub(super) struct Sensitivity(pub(super) [(f64, f64, f64); 3]);

impl Sensitivity {
    fn at(&self, wavelength: f64) -> f64 {
        self.0.iter().map(|(height, centre, width)| height * bell(wavelength, *centre, *width)).sum()
    }

    /// Its share of the exposure that a white gives, by bands that meet at these wavelengths: what stands there belongs to both.
    pub(super) fn shares(&self, edges: &[f64]) -> Vec<f64> {
        let ends: Vec<f64> = [400.0].into_iter().chain(edges.iter().copied()).chain([700.0]).collect();
        let weigh = |wavelength: f64| light(wavelength) * self.at(wavelength);
        let all: f64 = wavelengths().map(weigh).sum();
        let share = |pair: &[f64]| {
            let part = |wavelength: f64| {
                let within = |edge: f64| (wavelength - edge).abs() < 1e-9 && edge > 400.0 && edge < 700.0;
                if within(pair[0]) || within(pair[1]) {
                    0.5
                } else {
                    f64::from(u8::from((pair[0]..=pair[1]).contains(&wavelength)))
                }
            };
            wavelengths().map(|wavelength| part(wavelength) * weigh(wavelength)).sum::<f64>() / all
        };
        ends.windows(2).map(share).collect()
    }

    /// Exposure from a surface over exposure from a perfect white in the same light.
    pub(super) fn exposure(&self, surface: &Reflectance) -> f64 {
        let weigh = |wavelength: f64| light(wavelength) * self.at(wavelength);
        let all: f64 = wavelengths().map(weigh).sum();
        wavelengths().map(|wavelength| weigh(wavelength) * surface.at(wavelength)).sum::<f64>() / all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: a grey reflects the same share whatever the film is sensitive to.
    #[test]
    fn a_grey_gives_its_own_reflectance() {
        let film = Sensitivity([(1.0, 450.0, 30.0), (0.5, 550.0, 20.0), (2.0, 650.0, 40.0)]);
        assert!((film.exposure(&Reflectance::flat(0.18)) - 0.18).abs() < 1e-12);
    }
}
