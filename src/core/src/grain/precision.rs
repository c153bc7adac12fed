//! How large an area must be for a wanted precision, told before anything is measured; and what a given area will come to.
//!
//! A standard deviation from N independent values has a 95 % interval of about `± 1.96 / sqrt(2 (N - 1))` of itself
//! (chi-square). Apertures at every place of an area tell more than those side by side: on independent grain each is worth
//! the integral of its squared correlation, about half an aperture's area. Grain that hangs together over more than that,
//! and shading that is removed, need more.

use serde::Serialize;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::correlation::disc_square;
use super::{GrainSettings, aperture_weights, math};
use crate::geometry::Rect;
use crate::measured::Z95;

/// What an area must be at least.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LeastArea {
    /// Half of the 95 % interval over the value.
    pub precision: f64,
    /// Independent apertures that it takes.
    pub apertures: f64,
    /// Side of a square area on the film, in millimetres.
    pub side_mm: f64,
    /// The same in pixels of the scan.
    pub side_px: usize,
}

/// What an area will come to if its grain is independent: grain that hangs together makes the interval wider.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ExpectedInterval {
    /// How many independent apertures the area holds.
    pub apertures: f64,
    /// Ends of the 95 % interval over the value.
    pub low: f64,
    /// The upper one.
    pub high: f64,
}

/// Independent values of which a standard deviation has a 95 % interval of that half-width, as a share of it.
///
/// ```
/// # use twinwedge_core::grain::values_for;
/// assert_eq!([0.02, 0.05, 0.10].map(values_for), [4803.0, 770.0, 194.0]);
/// ```
#[must_use]
pub fn values_for(precision: f64) -> f64 {
    (1.0 + Z95 * Z95 / (2.0 * precision * precision)).ceil()
}

/// Area in square pixels that one independent aperture takes on independent grain.
pub(super) fn each(diameter: f64) -> f64 {
    core::f64::consts::FRAC_PI_4 * diameter * diameter * disc_square()
}

/// The least square area for a precision, e.g. 0.05 for ± 5 %; `None` for sizes that cannot be.
#[must_use]
pub fn least_area(precision: f64, settings: GrainSettings) -> Option<LeastArea> {
    let (pitch, diameter) = (settings.pitch.0, settings.aperture.0 / settings.pitch.0);
    let sound = pitch > 0.0 && (super::LEAST_PIXELS_ACROSS..=super::MOST_PIXELS_ACROSS).contains(&diameter);
    if !sound || precision <= 0.0 || !precision.is_finite() {
        return None;
    }
    let apertures = values_for(precision);
    let margin = (2 * aperture_weights(diameter).reach()) as f64;
    // Rounded up to tens, as one marks an area by hand.
    let side = 10.0 * ((math::sqrt(apertures * each(diameter)) + margin) / 10.0).ceil();
    Some(LeastArea { precision, apertures, side_mm: side * pitch / 1000.0, side_px: side as usize })
}

/// What an area, in pixels, will come to; `None` where it holds fewer than two independent apertures.
#[must_use]
pub fn expected_interval(area: Rect, settings: GrainSettings) -> Option<ExpectedInterval> {
    let diameter = settings.aperture.0 / settings.pitch.0;
    if !(super::LEAST_PIXELS_ACROSS..=super::MOST_PIXELS_ACROSS).contains(&diameter) {
        return None;
    }
    let margin = (2 * aperture_weights(diameter).reach()) as f64;
    let (width, height) = (area.width().round() - margin, area.height().round() - margin);
    let apertures = width.max(0.0) * height.max(0.0) / each(diameter);
    let freedom = apertures - 1.0;
    let chi = (freedom >= 1.0).then(|| ChiSquared::new(freedom).ok()).flatten()?;
    let end = |p: f64| math::sqrt(freedom / chi.inverse_cdf(p));
    Some(ExpectedInterval { apertures, low: end(0.975), high: end(0.025) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use crate::units::Micrometres;

    /// Source: `stat.chi2_ci`, 1000 values: 0.009580 to 0.010459 of 0.010. The area that is worth so many is sought first.
    #[test]
    fn an_area_comes_to_the_interval_of_its_apertures() {
        let settings = GrainSettings { pitch: Micrometres(6.35), aperture: Micrometres(48.0) };
        let of = |side: f64| {
            let area = Rect::between(Point::default(), Point::new(side, side));
            expected_interval(area, settings)
        };
        let side = (100..400).find(|side| of(f64::from(*side)).unwrap().apertures >= 1000.0).unwrap();
        let found = of(f64::from(side)).unwrap();
        assert!((found.low - 0.9580).abs() < 2e-3 && (found.high - 1.0459).abs() < 2e-3, "{found:?}");
        assert!(of(9.0).is_none());
        let least = least_area(0.05, settings).unwrap();
        let found = of(least.side_px as f64).unwrap();
        assert!(found.high - found.low < 0.105, "{found:?}");
        assert!((least.side_mm - 0.00635 * least.side_px as f64).abs() < 1e-12);
    }
}
