//! The scanner's own noise, taken off a measured granularity: `sigma_grain^2 = sigma_measured^2 - sigma_scanner^2`.

use serde::Serialize;

use super::repeat::Repeat;
use super::{Granularity, math};
use crate::measured::{Flags, Measured};
use crate::scan::{NoiseModel, NoiseSource};
use crate::words::{self, Sentence};

/// More than this share of the variance taken off is flagged.
const MOST_SHARE: f64 = 0.5;
/// A blank area may differ so much in density: noise changes with light.
const ALIKE: f64 = 0.3;

/// The scanner's noise through the aperture.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScannerNoise {
    /// 1000 times its standard deviation in density.
    pub rms: f64,
    /// Standard uncertainty of that.
    pub u: f64,
    /// Where it is known from, in words.
    pub from: Sentence,
    /// What it supposes or leaves in, where there is something to say.
    pub caution: Option<Sentence>,
}

/// What was taken off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoiseTaken {
    /// The noise of the scanner, and where it is known from.
    pub noise: ScannerNoise,
    /// Its share of the variance.
    pub share: f64,
    /// The granularity with the noise in it.
    pub before: Measured,
}

/// Whether the noise of a blank area of one density is that of film of another.
pub(super) fn alike(blank: f64, density: f64) -> Result<(), Sentence> {
    if (blank - density).abs() > ALIKE {
        return Err(words::Grain::BlankUnlike { blank, density }.into());
    }
    Ok(())
}

impl ScannerNoise {
    /// From the noise model of a calibration, made at the same pitch: noise of pixels is taken as independent from pixel to
    /// pixel, so its variance falls with the area of the aperture in pixels.
    ///
    /// # Errors
    /// The model does not reach the light of the area, in a sentence.
    pub fn of_model(model: &NoiseModel, found: &Granularity) -> Result<Self, Sentence> {
        let light = math::pow(10.0, -found.mean_density.number());
        if !model.reaches(light) {
            return Err(words::Grain::ModelOutOfReach { density: found.mean_density.number() }.into());
        }
        let diameter = found.aperture.0 / found.pitch.0;
        let pixels = core::f64::consts::FRAC_PI_4 * diameter * diameter;
        let relative = math::sqrt(model.variance(light) / pixels) / light;
        let rms = 1000.0 * relative * core::f64::consts::LOG10_E;
        let caution = match model.source {
            NoiseSource::OneScan => words::Grain::ModelOfOneScan,
            NoiseSource::TwoScans => words::Grain::AlikeInEvery,
        };
        // The root halves the model's relative uncertainty.
        let u = 0.5 * model.relative_u * rms;
        Ok(Self { rms, u, from: words::Noise::Model.into(), caution: Some(caution.into()) })
    }

    /// From a second scan of the same.
    #[must_use]
    pub fn of_repeat(repeat: &Repeat) -> Self {
        let rms = 1000.0 * math::sqrt(repeat.noise.max(0.0));
        let u = if rms > 0.0 { 0.5e6 * repeat.noise_u / rms } else { 1000.0 * math::sqrt(repeat.noise_u) };
        let (x, y) = repeat.shift;
        Self {
            rms,
            u,
            from: words::Noise::SecondScan.into(),
            caution: Some(words::Grain::AlikeInBoth { apart: math::hypot(x, y) }.into()),
        }
    }

    /// From an area without grain, measured through the same aperture.
    ///
    /// # Errors
    /// Its density is too far from that of the film, in a sentence.
    pub fn of_blank(blank: &Granularity, found: &Granularity) -> Result<Self, Sentence> {
        alike(blank.mean_density.number(), found.mean_density.number())?;
        Ok(Self { rms: blank.rms.number(), u: blank.rms.u, from: words::Noise::Blank.into(), caution: None })
    }
}

impl Granularity {
    /// Takes the noise off. The interval is that of a difference of two estimates of variance, each with its own (G. Y. Zou
    /// and A. Donner, Stat. Med. 27, 2008). The calibration's gradient scales fluctuation and noise alike: its part is as large,
    /// relative to what is left, as it was before.
    ///
    /// # Errors
    /// The noise is as large as the whole fluctuation, in a sentence; the granularity is then left as it was, an upper bound.
    pub fn take_off(&mut self, noise: ScannerNoise) -> Result<(), Sentence> {
        let before = self.rms;
        let square = |value: f64| value * value;
        let (whole, part) = (square(before.value), square(noise.rms));
        if whole <= 0.0 {
            return Ok(());
        }
        let share = part / whole;
        if part >= whole {
            self.rms = before.flagged(Flags::UPPER_BOUND);
            return Err(words::Grain::NoiseIsAll {
                by: noise.from.clone(),
                noise: noise.rms,
                whole: before.value,
            }
            .into());
        }
        let left = whole - part;
        let z = crate::measured::Z95;
        let of_table = self.gradient.u() * self.gradient.u();
        let chance = before.with_variance(-of_table * whole);
        let (part_low, part_high) =
            (square((noise.rms - z * noise.u).max(0.0)), square(noise.rms + z * noise.u));
        let low = left - math::hypot(whole - square(chance.low.max(0.0)), part_high - part);
        let high = left + math::hypot(square(chance.high) - whole, part - part_low);
        let value = math::sqrt(left);
        let u = math::hypot(chance.value * chance.u, noise.rms * noise.u) / value;
        let (low, high) = (math::sqrt(low.max(0.0)), math::sqrt(high));
        self.rms =
            Measured::with_interval(value, u, low, high).flagged(before.flags).with_variance(of_table * left);
        self.rms.low = self.rms.low.max(0.0);
        if share > MOST_SHARE {
            self.rms = self.rms.flagged(Flags::MOSTLY_NOISE);
            self.notes.push(words::Grain::MostlyNoise { percent: 100.0 * share }.into());
        }
        self.notes.extend(noise.caution.clone());
        self.noise = Some(NoiseTaken { noise, share, before });
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Point, Rect};
    use crate::scan::SharedError;
    use crate::units::{Density, Micrometres};

    fn found(rms: Measured) -> Granularity {
        Granularity {
            rms,
            gradient: SharedError::default(),
            mean_density: Measured::normal(Density(1.0), 0.01),
            aperture: Micrometres(48.0),
            pitch: Micrometres(6.0),
            independent_apertures: 1000.0,
            shading: 0.0,
            left_out: 0.0,
            area: Rect::between(Point::default(), Point::new(400.0, 400.0)),
            noise: None,
            texture: None,
            loss: None,
            notes: Vec::new(),
        }
    }

    fn noise(rms: f64, u: f64) -> ScannerNoise {
        ScannerNoise { rms, u, from: words::Noise::Blank.into(), caution: None }
    }

    /// Source: `grain.noise_subtract`, 0.020 and 0.012 leave 0.016; variances add in the interval.
    #[test]
    fn noise_comes_off_in_squares_and_widens_the_interval() {
        let mut sure = found(Measured::with_interval(20.0, 0.5, 19.0, 21.1));
        sure.take_off(noise(12.0, 0.0)).unwrap();
        assert!((sure.rms.value - 16.0).abs() < 1e-12);
        // Alone: the ends of the variance less that of the noise.
        assert!((sure.rms.low - (19.0_f64.powi(2) - 144.0).sqrt()).abs() < 1e-9);
        let mut unsure = found(Measured::with_interval(20.0, 0.5, 19.0, 21.1));
        unsure.take_off(noise(12.0, 0.6)).unwrap();
        assert!(
            unsure.rms.low < sure.rms.low && unsure.rms.high > sure.rms.high && unsure.rms.u > sure.rms.u
        );
        assert!(!unsure.rms.flags.contains(Flags::MOSTLY_NOISE));
    }

    #[test]
    fn much_noise_is_flagged_and_nothing_but_noise_refused() {
        let mut much = found(Measured::with_interval(20.0, 0.5, 19.0, 21.1));
        much.take_off(noise(15.0, 0.1)).unwrap();
        assert!(much.rms.flags.contains(Flags::MOSTLY_NOISE) && much.notes.len() == 1);
        let mut all = found(Measured::with_interval(20.0, 0.5, 19.0, 21.1));
        assert!(all.take_off(noise(20.5, 0.1)).is_err());
        assert!(all.rms.flags.contains(Flags::UPPER_BOUND) && all.rms.value > 19.9);
    }

    /// Source: photons alone, variance of light 1e-6 times light; at density 1 through 64 pi / 4 pixels, straight from the
    /// definition.
    #[test]
    fn a_noise_model_through_an_aperture() {
        let point = |step: u32| crate::scan::NoisePoint {
            step,
            light: 1.0 / f64::from(1 << step),
            variance: 1e-6 / f64::from(1 << step),
            count: 4000.0,
        };
        let model = NoiseModel::fit(&(0..6).map(point).collect::<Vec<_>>(), NoiseSource::TwoScans).unwrap();
        let noise = ScannerNoise::of_model(&model, &found(Measured::normal(10.0, 0.1))).unwrap();
        let pixels = core::f64::consts::PI * 16.0;
        let want = 1000.0 * (1e-7 / pixels).sqrt() / 0.1 / core::f64::consts::LN_10;
        assert!((noise.rms / want - 1.0).abs() < 1e-3, "{} for {want}", noise.rms);
        let mut dark = found(Measured::normal(10.0, 0.1));
        dark.mean_density.value = Density(3.0);
        assert!(ScannerNoise::of_model(&model, &dark).is_err());
    }
}
