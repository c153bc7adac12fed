//! How sure a calibration's gradient is, and what two densities, or two films, have of its error in common.
//!
//! Fluctuations are read by the table's gradient, so its relative error is that of every granularity. The fitted densities are a
//! linear function of the steps' own errors, which are independent of each other; so is the gradient at any density. Kept as one
//! part for each step, the errors of two gradients of one calibration have the sum of the products of their parts as covariance.

use serde::Serialize;

use crate::numeric::math;

/// The relative error of a gradient, or of what was read by it: the standard deviations of independent parts, with their signs.
/// Nothing is known of a table without calibration, and nothing is shared then.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct GradientError {
    /// Tells calibrations apart; films that were scanned through the same fit share the parts. Fits of several channels of one
    /// scan count as several.
    pub calibration: u64,
    /// One for each step of the tablet that was used.
    pub parts: Vec<f64>,
}

impl GradientError {
    /// Relative standard uncertainty.
    #[must_use]
    pub fn u(&self) -> f64 {
        math::sqrt(self.parts.iter().map(|part| part * part).sum())
    }

    /// Covariance with the relative error of another; zero between calibrations.
    #[must_use]
    pub fn common(&self, other: &Self) -> f64 {
        if self.calibration != other.calibration {
            return 0.0;
        }
        self.parts.iter().zip(&other.parts).map(|(a, b)| a * b).sum()
    }

    /// Of a sum of two, each weighted by its relative part in it. Of two calibrations nothing is kept as shared.
    #[must_use]
    pub fn mixed(&self, weight: f64, other: &Self, other_weight: f64) -> Self {
        if self.calibration != other.calibration {
            return Self::default();
        }
        let part = |(a, b): (&f64, &f64)| weight * a + other_weight * b;
        Self { calibration: self.calibration, parts: self.parts.iter().zip(&other.parts).map(part).collect() }
    }
}

/// The gradient of a table over its densities.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Gradient {
    calibration: u64,
    /// Densities, rising, and the parts of the relative error there.
    at: Vec<(f64, Vec<f64>)>,
}

impl Gradient {
    /// Between fitted steps: `parts` holds for each pair of neighbours the errors of their difference.
    pub(super) fn of_steps(calibration: u64, fitted: &[f64], parts: &[Vec<f64>]) -> Self {
        let between = |(pair, parts): (&[f64], &Vec<f64>)| {
            let step = pair[1] - pair[0];
            let relative = parts.iter().map(|part| part / step).collect();
            (step.abs() > 0.0).then(|| (0.5 * (pair[0] + pair[1]), relative))
        };
        let mut at: Vec<(f64, Vec<f64>)> = fitted.windows(2).zip(parts).filter_map(between).collect();
        at.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self { calibration, at }
    }

    /// The relative error of a small difference of density around `density`. Between two places its parts go over from one to
    /// the other, and so does its size.
    #[must_use]
    pub fn error(&self, density: f64) -> GradientError {
        let above = self.at.partition_point(|(at, _)| *at < density);
        let whole = |parts: &[f64]| GradientError { calibration: self.calibration, parts: parts.to_vec() };
        let Some((high, high_parts)) = self.at.get(above) else {
            return self.at.last().map_or_else(GradientError::default, |(_, parts)| whole(parts));
        };
        let Some((low, low_parts)) = above.checked_sub(1).map(|below| &self.at[below]) else {
            return whole(high_parts);
        };
        let share = (density - low) / (high - low);
        let (one, other) = (whole(low_parts), whole(high_parts));
        let mut found = one.mixed(1.0 - share, &other, share);
        let (size, u) = (found.u(), (1.0 - share) * one.u() + share * other.u());
        if size > 0.0 {
            found.parts.iter_mut().for_each(|part| *part *= u / size);
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: by hand. Differences of three independent values with errors of 1 share the middle one, with turned sign.
    #[test]
    fn neighbours_share_the_step_between_them() {
        let parts = [vec![-1.0, 1.0, 0.0], vec![0.0, -1.0, 1.0]];
        let gradient = Gradient::of_steps(7, &[0.0, 10.0, 20.0], &parts);
        let (low, high) = (gradient.error(5.0), gradient.error(15.0));
        assert!((low.u() - 0.02_f64.sqrt()).abs() < 1e-12 && (high.u() - low.u()).abs() < 1e-12);
        assert!((low.common(&high) + 0.01).abs() < 1e-12);
        assert!((low.common(&gradient.error(0.0)) - 0.02).abs() < 1e-12, "beyond the ends as at them");
        // Half-way the size is kept and half of each is shared.
        let middle = gradient.error(10.0);
        assert!((middle.u() - low.u()).abs() < 1e-12);
        assert!((middle.common(&low) - middle.common(&high)).abs() < 1e-12);
        let other = Gradient::of_steps(8, &[0.0, 10.0, 20.0], &parts).error(5.0);
        assert!(low.common(&other).abs() < 1e-12);
        assert!(Gradient::default().error(1.0).u().abs() < 1e-12);
    }
}
