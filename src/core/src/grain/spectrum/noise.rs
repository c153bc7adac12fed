//! The scanner's own noise, taken off a spectrum: white by a calibration's model, or frequency by frequency as it was measured in
//! a blank area or in what two scans of the same film differ by.

use serde::Serialize;

use super::radial::Radial;
use super::{LG_E, Spectrum, SpectrumSettings, spectrum};
use crate::geometry::{Point, Rect};
use crate::grain::noise::alike;
use crate::grain::{GrainSettings, repeat};
use crate::measured::Flags;
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::scan::{NoiseModel, NoiseSource, Plane, Samples, Scan, ScanMeta, ToneSource, ToneTable};
use crate::words::{self, Sentence};

/// Two scans whose pixels lie further apart than this, in pixels, differ by too much of the grain at high frequencies.
const FAR: f64 = 0.34;

/// What the scanner's noise was known from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoiseBy {
    /// The calibration's noise model: the same power at all frequencies.
    Calibration(NoiseSource),
    /// A blank area: its own spectrum.
    Blank,
    /// A second scan of the same film: the spectrum of the difference.
    Repeat,
}

impl NoiseBy {
    /// In words, behind 'from'.
    #[must_use]
    pub fn words(self) -> Sentence {
        match self {
            Self::Calibration(NoiseSource::OneScan) => words::Noise::CalibrationSteps,
            Self::Calibration(NoiseSource::TwoScans) => words::Noise::CalibrationTwice,
            Self::Blank => words::Noise::Blank,
            Self::Repeat => words::Noise::SecondScanKept,
        }
        .into()
    }
}

/// What was taken off as the scanner's noise.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScannerNoise {
    /// Density squared times square micrometres, mean over the plane of frequencies: its variance times the area of a pixel.
    pub power: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// What the noise was known from.
    pub by: NoiseBy,
    /// The same power was taken off at all frequencies.
    pub white: bool,
    /// The model said more than the weakest part of the measured spectrum, and that was taken.
    pub limited: bool,
}

/// A measured spectrum of the scanner's noise.
#[derive(Debug, Clone)]
pub struct NoiseSpectrum {
    rings: Radial,
    by: NoiseBy,
    /// Mean density of a blank area.
    density: Option<f64>,
    /// Distance between the two scans' pixels, in pixels.
    apart: f64,
}

/// What the scanner's noise is known from.
#[derive(Debug, Clone, Copy)]
pub enum Noise<'a> {
    /// The calibration's noise model.
    Model(&'a NoiseModel),
    /// A measured spectrum of noise.
    Measured(&'a NoiseSpectrum),
}

/// A scan and its table.
type Side<'a> = (Plane<'a>, &'a ToneTable);

impl NoiseSpectrum {
    /// From the spectrum of an area without grain, its noise left in.
    #[must_use]
    pub fn of_blank(blank: &Spectrum) -> Self {
        let density = Some(blank.mean_density.number());
        let mut rings = blank.rings.clone();
        // The calibration's gradient scales film and noise alike; it is counted once, in what is left.
        rings.gradient = 0.0;
        Self { rings, by: NoiseBy::Blank, density, apart: 0.0 }
    }

    /// From a second scan of the same film: half the spectrum of what both differ by. The second is moved by whole pixels to lie
    /// on the first; what is left of the distance, up to a third of a pixel, makes the difference hold grain of the power
    /// `2 sin^2(pi f d)` times its own, which is reckoned out where the noise is taken off.
    ///
    /// # Errors
    /// The scans differ in size, share no grain or lie too far from each other, the area is too small, or `stop` said so.
    pub fn of_repeat(
        first: Side<'_>,
        second: Side<'_>,
        area: Rect,
        settings: SpectrumSettings,
        aperture: crate::units::Micrometres,
        stop: &(dyn Fn() -> bool + Sync),
    ) -> Result<Self, Problem> {
        let through = GrainSettings { pitch: settings.pitch, aperture };
        let found = repeat(first, second, area, through, &|| stop())?;
        let whole = (found.shift.0.round(), found.shift.1.round());
        let apart = math::hypot(found.shift.0 - whole.0, found.shift.1 - whole.1);
        if apart > FAR {
            return Err(Problem::error(
                Subject::Series,
                words::Spectrum::ScansApart { apart },
                words::Remedy::ScanTwiceOrBlank,
            ));
        }
        let (scan, table) = difference(first, second, area, (whole.0 as isize, whole.1 as isize));
        let all = Rect::between(Point::default(), Point::new(scan.width as f64, scan.height as f64));
        let plane = scan.plane(crate::document::Channel::Green);
        let noise = spectrum(plane, &table, all, settings, Err(Sentence::default()), stop)?;
        Ok(Self { rings: noise.rings, by: NoiseBy::Repeat, density: None, apart })
    }
}

/// Half the difference of two scans' relative light over the part of the area that both hold, as a scan around light 1.
fn difference(first: Side<'_>, second: Side<'_>, area: Rect, shift: (isize, isize)) -> (Scan, ToneTable) {
    const MIDDLE: f64 = 32_768.0;
    let (width, height) = (first.0.width() as isize, first.0.height() as isize);
    let x0 = (area.min.x as isize).max(-shift.0).max(0);
    let y0 = (area.min.y as isize).max(-shift.1).max(0);
    let x1 = (area.max.x as isize).min(width).min(width - shift.0).max(x0);
    let y1 = (area.max.y as isize).min(height).min(height - shift.1).max(y0);
    let (across, down) = ((x1 - x0) as usize, (y1 - y0) as usize);
    let light = |(plane, table): Side<'_>, by: (isize, isize)| -> Vec<f64> {
        let mut values = vec![0.0; across * down];
        for (row, values) in values.chunks_exact_mut(across.max(1)).enumerate() {
            plane.look_up(&table.light, (y0 + by.1) as usize + row, (x0 + by.0) as usize, values);
        }
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        values.iter_mut().for_each(|value| *value /= mean);
        values
    };
    let (one, other) = (light(first, (0, 0)), light(second, shift));
    let half: Vec<f64> =
        one.iter().zip(&other).map(|(a, b)| (a - b) * core::f64::consts::FRAC_1_SQRT_2).collect();
    let square = half.iter().map(|value| value * value).sum::<f64>() / half.len().max(1) as f64;
    // Ten standard deviations to either side; light stays above zero.
    let range = (10.0 * math::sqrt(square)).clamp(1e-4, 0.95);
    let codes = half
        .iter()
        .map(|value| (MIDDLE + value / range * (MIDDLE - 1.0)).round().clamp(0.0, 65_535.0) as u16)
        .collect();
    let light: Vec<f64> =
        (0..65_536).map(|code| 1.0 + (f64::from(code) - MIDDLE) / (MIDDLE - 1.0) * range).collect();
    let table = ToneTable {
        density: light.iter().map(|light| -math::log10(*light)).collect(),
        density_u: vec![0.0; light.len()],
        errors: crate::scan::ScaleErrors::default(),
        light,
        trusted: (f64::NEG_INFINITY, f64::INFINITY),
        source: ToneSource::Calibration("exact".to_owned()),
        flags: Flags::empty(),
    };
    let scan = Scan {
        width: across,
        height: down,
        channels: 1,
        samples: Samples::U16(codes),
        meta: ScanMeta::default(),
    };
    (scan, table)
}

impl Noise<'_> {
    /// Takes the noise off the rings, for an area of that mean density.
    pub(super) fn take_off(self, rings: &mut Radial, density: f64) -> Result<ScannerNoise, Sentence> {
        match self {
            Self::Model(model) => of_model(model, density, rings),
            Self::Measured(noise) => {
                if let Some(blank) = noise.density {
                    alike(blank, density)?;
                }
                rings.take_off_rings(&noise.rings, noise.apart);
                let (power, u) = rings.mean_taken();
                Ok(ScannerNoise { power, u, by: noise.by, white: false, limited: false })
            }
        }
    }
}

/// The white part that the scanner adds, by its noise model at the area's light.
fn of_model(model: &NoiseModel, density: f64, rings: &mut Radial) -> Result<ScannerNoise, Sentence> {
    let light = math::pow(10.0, -density);
    if !model.reaches(light) {
        return Err(words::Spectrum::NoiseNotKnown.into());
    }
    let slope = LG_E / light;
    let modelled = slope * slope * model.variance(light).max(0.0) * rings.pitch * rings.pitch;
    let least = rings.weakest();
    let power = modelled.min(least);
    let u = power * model.relative_u;
    rings.take_off(power, u);
    let by = NoiseBy::Calibration(model.source);
    Ok(ScannerNoise { power, u, by, white: true, limited: modelled > least })
}
