//! A film's characteristic curve as edges use it: from light back to exposure.

use crate::curve::{Curve, Spline};
use crate::numeric::math;

/// Log exposure by density, rising, and how it might be otherwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Response {
    points: Vec<(f64, f64)>,
    draws: Vec<Self>,
}

/// Draws of a curve that are taken: a standard deviation of so many is known to a tenth.
const DRAWS: usize = 50;

/// Places at which the curve is taken.
const PLACES: usize = 240;
/// Gradient below which a density says nothing of exposure.
const LEAST_GRADIENT: f64 = 0.1;

impl Response {
    /// Of a film's curve with what its draws leave open.
    #[must_use]
    pub fn of_curve(curve: &Curve) -> Option<Self> {
        let draws = curve.resampled.iter().take(DRAWS).filter_map(|draw| Self::of(&draw.spline)).collect();
        Some(Self { draws, ..Self::of(&curve.best)? })
    }

    /// Of a fitted curve, over the densities at which its gradient is at least 0.1. `None` where that is no range of 0.1.
    #[must_use]
    pub fn of(curve: &Spline) -> Option<Self> {
        let at = |k: usize| curve.from + (curve.to - curve.from) * k as f64 / (PLACES - 1) as f64;
        let mut points: Vec<(f64, f64)> = Vec::new();
        for log_h in (0..PLACES).map(at) {
            let (Some(density), Some(gradient)) = (curve.density(log_h), curve.gradient(log_h)) else {
                continue;
            };
            if gradient >= LEAST_GRADIENT && points.last().is_none_or(|last| density > last.0) {
                points.push((density, log_h));
            }
        }
        Self::of_points(points)
    }

    /// Of densities and log exposures, both rising.
    #[must_use]
    pub fn of_points(points: Vec<(f64, f64)>) -> Option<Self> {
        let (first, last) = (points.first()?, points.last()?);
        (points.len() > 2 && last.0 - first.0 >= 0.1).then_some(Self { points, draws: Vec::new() })
    }

    /// Whether light of these amounts lies on the curve.
    pub(super) fn holds(&self, light: [f64; 2]) -> bool {
        let (from, to) = (self.points[0].0, self.points[self.points.len() - 1].0);
        light.iter().all(|light| (from..=to).contains(&-math::log10(*light)))
    }

    /// The same curve as it might be.
    pub(super) fn draws(&self) -> &[Self] {
        &self.draws
    }

    /// Exposure that gave a density of this light, over any constant; continued straight beyond the ends.
    pub(super) fn exposure(&self, light: f64) -> f64 {
        let density = -math::log10(light.max(1e-9));
        let above = self.points.partition_point(|(at, _)| *at < density).clamp(1, self.points.len() - 1);
        let ((d0, h0), (d1, h1)) = (self.points[above - 1], self.points[above]);
        math::pow(10.0, h0 + (h1 - h0) * (density - d0) / (d1 - d0))
    }
}
