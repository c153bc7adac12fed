//! The scanner's own sharpness, from a knife edge that was scanned like the film.

use super::{EdgeMeasure, MtfPoint, Overshoot};

/// Modulation of the scanner below which the film's cannot be had by division (common practice, no source).
const LEAST_MODULATION: f64 = 0.2;

/// The scanner's own edge.
#[derive(Debug, Clone, PartialEq)]
pub struct ScannerEdge {
    mtf: Vec<MtfPoint>,
    /// The overshoot of the scanner's own edge.
    pub(super) overshoot: Overshoot,
    /// Micrometres between its samples.
    pub(super) pitch: f64,
}

impl ScannerEdge {
    /// From its measurement.
    #[must_use]
    pub fn of(edge: &EdgeMeasure) -> Self {
        Self { mtf: edge.mtf.clone(), overshoot: edge.overshoot.clone(), pitch: edge.method.pitch }
    }

    /// Its modulation transfer function.
    pub(crate) fn points(&self) -> &[MtfPoint] {
        &self.mtf
    }

    /// Its modulation at `f` cycles per millimetre and its standard uncertainty; `None` where it is below [`LEAST_MODULATION`] or not known.
    pub(super) fn at(&self, f: f64) -> Option<(f64, f64)> {
        let above = self.mtf.partition_point(|point| point.frequency < f);
        let (a, b) = match above {
            0 => (self.mtf.first()?, self.mtf.first()?),
            _ => (&self.mtf[above - 1], self.mtf.get(above)?),
        };
        let span = b.frequency - a.frequency;
        let share = if span > 0.0 { (f - a.frequency) / span } else { 0.0 };
        let between = |of: fn(&MtfPoint) -> f64| of(a) + share * (of(b) - of(a));
        let value = between(|point| point.value);
        (value >= LEAST_MODULATION)
            .then(|| (value, between(|point| (point.high - point.low) / (2.0 * crate::measured::Z95))))
    }
}
