//! Tone tables: linear light and density for every code of a scan.

use super::encoding::Certainty;
use super::{ScaleErrors, Scan};
use crate::document::{Encoding, srgb_to_linear};
use crate::measured::Flags;
use crate::numeric::math;

/// Where a tone table comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum ToneSource {
    /// A calibration against a tablet.
    Calibration(String),
    /// What the codes stand for, by statement or guess.
    Encoding(Encoding, Certainty),
}

/// Light and density by code.
#[derive(Debug, Clone, PartialEq)]
pub struct ToneTable {
    /// Transmittance or reflectance factor by code, 256 or 65536 entries, above zero, never turning back: it rises or
    /// falls from the first code to the last, or stays.
    pub light: Vec<f64>,
    /// Density by code: -lg light.
    pub density: Vec<f64>,
    /// Standard uncertainty of that density by code (calibration only; zero otherwise).
    pub density_u: Vec<f64>,
    /// What its densities and its gradient err (calibration only), and what of it is common to several of them.
    pub errors: ScaleErrors,
    /// Densities within which the table may be trusted, lowest and highest; outside, results are flagged.
    pub trusted: (f64, f64),
    /// Where it comes from.
    pub source: ToneSource,
    /// Flags that everything measured through it carries.
    pub flags: Flags,
}

impl ToneTable {
    /// The table of a scan by what its file says of its encoding, and by sRGB where it says nothing: to look at it, or to find
    /// something in it. Flags it uncalibrated, and the encoding as assumed where the file does not state it.
    ///
    /// ```
    /// # use twinwedge_core::scan::{Samples, Scan, ScanMeta, ToneTable};
    /// let scan = Scan { width: 1, height: 1, channels: 1, samples: Samples::U8(vec![128]), meta: ScanMeta::default() };
    /// let table = ToneTable::uncalibrated(&scan);
    /// assert!((table.density[128] - 0.66583).abs() < 1e-5);
    /// ```
    #[must_use]
    pub fn uncalibrated(scan: &Scan) -> Self {
        let (encoding, certainty) = scan.stated().unwrap_or((Encoding::Srgb, Certainty::CannotTell));
        Self::encoded(scan, encoding, certainty)
    }

    /// The table of a scan without a calibration, by what its codes stand for. Densities count from the light that the highest
    /// code stands for. Flags it uncalibrated, and the encoding as assumed where it is a guess.
    ///
    /// A code that stands for no light at all gets half the least light that any code stands for, so that its density
    /// is finite; what is measured there is clipped anyway. A profile without a tone curve is read as sRGB.
    #[must_use]
    pub fn encoded(scan: &Scan, encoding: Encoding, certainty: Certainty) -> Self {
        let levels = scan.levels();
        let top = (levels - 1) as f64;
        let meta = &scan.meta;
        let value = |code: usize| {
            let v = code as f64 / top;
            if meta.square_root { v * v } else { v }
        };
        let curve = meta.profile_curve.as_ref().filter(|curve| curve.len() == levels);
        let light = match (encoding, curve) {
            (Encoding::Profile, Some(curve)) => never_turning_back(curve),
            (Encoding::Profile, None) => (0..levels).map(|code| srgb_to_linear(value(code))).collect(),
            (encoding, _) => (0..levels).map(|code| encoding.light(value(code)).unwrap_or(1.0)).collect(),
        };
        let mut flags = Flags::UNCALIBRATED;
        flags.set(Flags::ENCODING_ASSUMED, certainty.is_guess());
        Self::of_light(light, ToneSource::Encoding(encoding, certainty), flags)
    }

    /// What its codes are taken for and how surely, where it is no calibration's.
    #[must_use]
    pub fn encoding(&self) -> Option<(Encoding, Certainty)> {
        match self.source {
            ToneSource::Encoding(encoding, certainty) => Some((encoding, certainty)),
            ToneSource::Calibration(_) => None,
        }
    }

    /// The table with all densities `by` higher, of which `u` is the standard uncertainty.
    #[must_use]
    pub fn shifted(mut self, by: f64, u: f64) -> Self {
        self.density.iter_mut().for_each(|density| *density += by);
        self.light = self.density.iter().map(|density| math::pow(10.0, -density)).collect();
        self.density_u.iter_mut().for_each(|error| *error = math::hypot(*error, u));
        self.trusted = (self.trusted.0 + by, self.trusted.1 + by);
        self
    }

    /// The table with an error of standard uncertainty `u` that all its densities have alike: what all steps of a calibration's
    /// tablet share.
    #[must_use]
    pub fn with_shared(mut self, u: f64) -> Self {
        if u > 0.0 {
            self.density_u.iter_mut().for_each(|error| *error = math::hypot(*error, u));
            self.errors = self.errors.with_shared(u);
        }
        self
    }

    /// The table with so much light taken off, of which `u` is the standard uncertainty: light that strays over a scan. No
    /// more than nine tenths of any code's light is taken off, so that densities stay finite.
    #[must_use]
    pub fn without_stray(mut self, light: f64, u: f64) -> Self {
        let taken = |from: f64| (from - light).max(0.1 * from);
        for (value, error) in self.light.iter_mut().zip(&mut self.density_u) {
            *value = taken(*value);
            *error = math::hypot(*error, core::f64::consts::LOG10_E * u / *value);
        }
        self.density = self.light.iter().map(|light| -math::log10(*light)).collect();
        let end = |density: f64| -math::log10(taken(math::pow(10.0, -density)));
        self.trusted = (end(self.trusted.0), end(self.trusted.1));
        self
    }

    fn of_light(mut light: Vec<f64>, source: ToneSource, flags: Flags) -> Self {
        let least = light.iter().copied().filter(|v| *v > 0.0).fold(f64::INFINITY, f64::min);
        let floor = if least.is_finite() { least / 2.0 } else { f64::MIN_POSITIVE };
        for value in &mut light {
            *value = value.max(floor);
        }
        let density: Vec<f64> = light.iter().map(|v| -math::log10(*v)).collect();
        let trusted = density
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), d| (low.min(*d), high.max(*d)));
        Self {
            density_u: vec![0.0; light.len()],
            errors: ScaleErrors::default(),
            light,
            density,
            trusted,
            source,
            flags,
        }
    }

    /// Whether more light gives a higher code, as in a positive scan.
    #[must_use]
    pub fn rises_with_light(&self) -> bool {
        self.light.last() >= self.light.first()
    }
}

/// The curve as light, with places where it turns back levelled out: a table must have one density for one order of codes.
fn never_turning_back(curve: &[f32]) -> Vec<f64> {
    let rising = curve.last() >= curve.first();
    let mut reached = if rising { f64::NEG_INFINITY } else { f64::INFINITY };
    let step = |value: &f32| {
        let value = if value.is_finite() { f64::from(*value) } else { reached };
        reached = if rising { reached.max(value) } else { reached.min(value) };
        if reached.is_finite() { reached } else { 0.0 }
    };
    curve.iter().map(step).collect()
}
