//! What densities that were read through one calibration err in common.
//!
//! The fitted densities of a calibration are a linear function of its steps' own errors, which are independent of each other, and
//! of the error that all steps of its tablet share. So is every density that is read through it, and so is its gradient, by which
//! fluctuations are read. Kept as one part for each of these errors, two densities have the sum of the products of their parts as
//! covariance: two steps of one strip, the same step of two films, a patch and the grey card beside it. What they differ by errs by
//! the difference of their parts, and that is little where they lie near each other on the scale.

use serde::Serialize;

use crate::numeric::math;

/// An error that was read into a number through a calibration: the standard deviations of independent parts, with their signs, in
/// density or relative to a gradient. Nothing is known of a table without calibration, and nothing is shared then.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct SharedError {
    /// Tells calibrations apart; films that were scanned through the same fit share the parts. Fits of several channels of one
    /// scan count as several.
    pub calibration: u64,
    /// One for each step of the tablet that was used, and one for what all its steps share.
    pub parts: Vec<f64>,
}

impl SharedError {
    /// Standard uncertainty of all its parts together, in density.
    #[must_use]
    pub fn u(&self) -> f64 {
        math::sqrt(self.parts.iter().map(|part| part * part).sum())
    }

    /// Covariance with another; zero between calibrations.
    #[must_use]
    pub fn common(&self, other: &Self) -> f64 {
        if self.calibration != other.calibration {
            return 0.0;
        }
        self.parts.iter().zip(&other.parts).map(|(a, b)| a * b).sum()
    }

    /// Of a sum of two, each weighted by its part in it. Of two calibrations nothing is kept as shared.
    #[must_use]
    pub fn mixed(&self, weight: f64, other: &Self, other_weight: f64) -> Self {
        if self.calibration != other.calibration {
            return Self::default();
        }
        let part = |(a, b): (&f64, &f64)| weight * a + other_weight * b;
        Self { calibration: self.calibration, parts: self.parts.iter().zip(&other.parts).map(part).collect() }
    }
}

/// The errors of a density scale: what a calibration errs at each of its densities.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct ScaleErrors {
    calibration: u64,
    /// Densities, rising, and the parts of the error there.
    at: Vec<(f64, Vec<f64>)>,
}

impl ScaleErrors {
    /// Of a calibration whose fitted densities have these parts.
    pub(super) fn of_steps(calibration: u64, fitted: &[f64], parts: &[Vec<f64>]) -> Self {
        let mut at: Vec<(f64, Vec<f64>)> = fitted.iter().copied().zip(parts.iter().cloned()).collect();
        at.sort_by(|a, b| a.0.total_cmp(&b.0));
        at.dedup_by(|a, b| a.0.total_cmp(&b.0).is_eq());
        Self { calibration, at }
    }

    /// Of densities that were read, each with its error: those of one calibration, the first's. What is read between them errs as
    /// they do.
    #[must_use]
    pub fn of_densities<'a>(read: impl IntoIterator<Item = (f64, &'a SharedError)>) -> Self {
        let mut at: Vec<(f64, &SharedError)> = read.into_iter().collect();
        let Some(calibration) = at.first().map(|(_, error)| error.calibration) else {
            return Self::default();
        };
        let wide = at.first().map_or(0, |(_, error)| error.parts.len());
        at.retain(|(_, error)| error.calibration == calibration && error.parts.len() == wide && wide > 0);
        at.sort_by(|a, b| a.0.total_cmp(&b.0));
        at.dedup_by(|a, b| a.0.total_cmp(&b.0).is_eq());
        Self {
            calibration,
            at: at.into_iter().map(|(density, error)| (density, error.parts.clone())).collect(),
        }
    }

    /// With an error of standard uncertainty `u` that all its densities have alike.
    #[must_use]
    pub fn with_shared(mut self, u: f64) -> Self {
        self.at.iter_mut().for_each(|(_, parts)| parts.push(u));
        self
    }

    /// Tells calibrations apart, as [`SharedError::calibration`].
    #[must_use]
    pub fn calibration(&self) -> u64 {
        self.calibration
    }

    /// Number of its parts.
    #[must_use]
    pub fn parts(&self) -> usize {
        self.at.first().map_or(0, |(_, parts)| parts.len())
    }

    /// The error of a density: between two places of the scale a straight mix of both, beyond its ends as at them.
    #[must_use]
    pub fn density(&self, density: f64) -> SharedError {
        let whole = |parts: &[f64]| SharedError { calibration: self.calibration, parts: parts.to_vec() };
        let above = self.at.partition_point(|(at, _)| *at < density);
        let Some((high, high_parts)) = self.at.get(above) else {
            return self.at.last().map_or_else(SharedError::default, |(_, parts)| whole(parts));
        };
        let Some((low, low_parts)) = above.checked_sub(1).map(|below| &self.at[below]) else {
            return whole(high_parts);
        };
        let share = (density - low) / (high - low);
        whole(low_parts).mixed(1.0 - share, &whole(high_parts), share)
    }

    /// The relative error of a small difference of density around `density`. Between two places its parts go over from one to
    /// the other, and so does its size.
    #[must_use]
    pub fn gradient(&self, density: f64) -> SharedError {
        let pairs = self.at.windows(2);
        let slopes: Vec<(f64, SharedError)> = pairs
            .map(|pair| {
                let ((low, low_parts), (high, high_parts)) = (&pair[0], &pair[1]);
                let part = |(a, b): (&f64, &f64)| (b - a) / (high - low);
                let parts = low_parts.iter().zip(high_parts).map(part).collect();
                (0.5 * (low + high), SharedError { calibration: self.calibration, parts })
            })
            .collect();
        let above = slopes.partition_point(|(at, _)| *at < density);
        let Some((high, of_high)) = slopes.get(above) else {
            return slopes.last().map_or_else(SharedError::default, |(_, error)| error.clone());
        };
        let Some((low, of_low)) = above.checked_sub(1).map(|below| &slopes[below]) else {
            return of_high.clone();
        };
        let share = (density - low) / (high - low);
        let mut found = of_low.mixed(1.0 - share, of_high, share);
        let (size, u) = (found.u(), (1.0 - share) * of_low.u() + share * of_high.u());
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
        let parts = [vec![1.0, 0.0, 0.0], vec![0.0, 1.0, 0.0], vec![0.0, 0.0, 1.0]];
        let scale = ScaleErrors::of_steps(7, &[0.0, 10.0, 20.0], &parts);
        let (low, high) = (scale.gradient(5.0), scale.gradient(15.0));
        assert!((low.u() - 0.02_f64.sqrt()).abs() < 1e-12 && (high.u() - low.u()).abs() < 1e-12);
        assert!((low.common(&high) + 0.01).abs() < 1e-12);
        assert!((low.common(&scale.gradient(0.0)) - 0.02).abs() < 1e-12, "beyond the ends as at them");
        // Half-way the size is kept and half of each is shared.
        let middle = scale.gradient(10.0);
        assert!((middle.u() - low.u()).abs() < 1e-12);
        assert!((middle.common(&low) - middle.common(&high)).abs() < 1e-12);
        let other = ScaleErrors::of_steps(8, &[0.0, 10.0, 20.0], &parts).gradient(5.0);
        assert!(low.common(&other).abs() < 1e-12);
        assert!(ScaleErrors::default().gradient(1.0).u().abs() < 1e-12);
    }

    /// Source: by hand. Half-way between two independent errors of 1 the mean of both errs by the root of a half; a common error
    /// is whole in every density and in no difference.
    #[test]
    fn densities_share_what_their_steps_err() {
        let parts = [vec![1.0, 0.0], vec![0.0, 1.0]];
        let scale = ScaleErrors::of_steps(7, &[0.0, 1.0], &parts);
        assert!(
            (scale.density(0.0).u() - 1.0).abs() < 1e-12 && (scale.density(-3.0).u() - 1.0).abs() < 1e-12
        );
        assert!((scale.density(0.5).u() - 0.5_f64.sqrt()).abs() < 1e-12);
        assert!((scale.density(0.5).common(&scale.density(1.0)) - 0.5).abs() < 1e-12);
        let scale = scale.with_shared(2.0);
        let (one, other) = (scale.density(0.2), scale.density(0.2));
        assert!((one.u() - (0.64 + 0.04 + 4.0_f64).sqrt()).abs() < 1e-12);
        assert!(one.mixed(1.0, &other, -1.0).u().abs() < 1e-12);
        assert!((scale.gradient(0.5).u() - 2.0_f64.sqrt()).abs() < 1e-12, "a common error tilts nothing");
    }

    #[test]
    fn densities_that_were_read_make_a_scale() {
        let error = |calibration, part: f64| SharedError { calibration, parts: vec![part, 1.0] };
        let (a, b, c) = (error(3, 0.1), error(3, 0.3), error(4, 9.0));
        let scale = ScaleErrors::of_densities([(2.0, &b), (1.0, &a), (1.5, &c)]);
        assert_eq!((scale.calibration(), scale.parts()), (3, 2));
        assert!((scale.density(1.5).parts[0] - 0.2).abs() < 1e-12);
        let none = SharedError::default();
        assert_eq!(ScaleErrors::of_densities([(1.0, &none)]).parts(), 0);
    }
}
