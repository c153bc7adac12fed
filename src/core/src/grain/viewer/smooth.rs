//! A spectrum in print density, evened out, at close frequencies: what thresholds are searched in.

use super::Side;
use crate::numeric::math;
use crate::scan::SharedError;

/// Frequencies per octave.
const PER_OCTAVE: f64 = 8.0;

/// Power and its standard uncertainty over the logarithm of the frequency.
#[derive(Debug, Clone)]
pub(super) struct Smooth {
    /// Lowest frequency, cycles per millimetre; below it the first value holds.
    lowest: f64,
    values: Vec<(f64, f64)>,
    /// The calibration's part in the error of its root.
    gradient: SharedError,
}

impl Smooth {
    pub(super) fn of(side: &Side<'_>) -> Self {
        let lowest = 0.5 * side.spectrum.lowest();
        let octaves = math::log2(side.spectrum.highest() / lowest);
        let count = (octaves * PER_OCTAVE).floor() as usize;
        let square = side.gradient * side.gradient;
        let at = |k: usize| {
            let frequency = lowest * math::pow(2.0, k as f64 / PER_OCTAVE);
            side.spectrum.around(frequency).map(|power| (square * power.value, square * power.u))
        };
        let gradient = side.spectrum.gradient.clone();
        Self { lowest, values: (0..=count).map_while(at).collect(), gradient }
    }

    /// Between two of the frequencies; `None` beyond the highest.
    fn values_at(&self, frequency: f64) -> Option<(f64, f64)> {
        let place = PER_OCTAVE * math::log2(frequency / self.lowest).max(0.0);
        let (at, share) = (place as usize, place.fract());
        let (a, b) = (self.values.get(at)?, self.values.get(at + 1)?);
        Some((a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1)))
    }

    /// Power at a frequency, shifted by so many standard uncertainties; `None` beyond the highest.
    pub(super) fn at(&self, frequency: f64, shift: f64) -> Option<f64> {
        self.values_at(frequency).map(|(value, u)| value + shift * u)
    }

    /// The size of the difference of two spectra, wherever it is beyond chance; elsewhere zero.
    pub(super) fn less(&self, other: &Self) -> Self {
        let lowest = self.lowest.min(other.lowest);
        let highest = |of: &Self| of.lowest * math::pow(2.0, of.values.len() as f64 / PER_OCTAVE);
        let octaves = math::log2(highest(self).min(highest(other)) / lowest).max(0.0);
        let between = |k: usize| {
            let frequency = lowest * math::pow(2.0, k as f64 / PER_OCTAVE);
            let (a, b) = (self.values_at(frequency)?, other.values_at(frequency)?);
            // Power is wrong by twice the relative error of its root.
            let common = 4.0 * a.0 * b.0 * self.gradient.common(&other.gradient);
            let variance = a.1 * a.1 + b.1 * b.1 - 2.0 * common;
            let (size, u) = ((a.0 - b.0).abs(), math::sqrt(variance.max(0.0)));
            Some(if size > crate::measured::Z95 * u { (size, u) } else { (0.0, 0.0) })
        };
        let count = (octaves * PER_OCTAVE) as usize;
        let gradient = SharedError::default();
        Self { lowest, values: (0..=count).map_while(between).collect(), gradient }
    }
}
