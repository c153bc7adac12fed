//! What the fit might as well have been: draws from everything that is not known for sure.
//!
//! Each resampling draws errors of the readings, a stiffness by its likelihood, and what the penalty's prior leaves open
//! between the readings, then solves again, never falling. Without the monotone bound that is an exact draw from the
//! posterior of the smoothing spline (G. Papandreou and A. L. Yuille, "Gaussian sampling by local perturbations", NIPS
//! 2010), whose spread covers noise and smoothing bias together: G. Wahba, "Bayesian confidence intervals for the
//! cross-validated smoothing spline", J. R. Statist. Soc. B 45 (1983); D. Nychka, J. Am. Stat. Assoc. 83 (1988). A plain
//! bootstrap of residuals (B. Efron, Ann. Statist. 7 (1979)) leaves out the bias.

use rayon::prelude::*;
use serde::Serialize;

use super::fit::{DIFFERENCE, Solution, Stiffness, right_side};
use super::{FitSettings, Readings, Spline};
use crate::numeric::monotone::{self, Workspace};
use crate::numeric::random::Stream;

/// One resampling.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Resampling {
    /// Its curve, on the same log exposures as the best fit.
    pub spline: Spline,
    /// Fitted densities with fresh errors, for the points that are fitted, in their order: for what is found on readings.
    pub readings: Vec<f64>,
    /// Error of the light itself: this is to be added to log exposures read off `spline`.
    pub log_h_shift: f64,
    /// Base+fog as it might have been read, where it was read.
    pub base_fog: Option<f64>,
    /// A number between 0 and 1 for what is only known to lie between two bounds.
    pub uniform: f64,
}

/// Draws them all. Each has a stream of its own, so that order and threads do not matter.
pub(super) fn resample(solution: &Solution, readings: &Readings, settings: FitSettings) -> Vec<Resampling> {
    let draw = |(work, right): &mut (Workspace, Vec<f64>), number: u32| {
        one(solution, readings, &mut Stream::new(settings.seed, u64::from(number)), work, right)
    };
    let space = || (Workspace::default(), vec![0.0; solution.coefficients.len()]);
    (0..settings.resamplings.max(50)).into_par_iter().with_min_len(32).map_init(space, draw).collect()
}

fn one(
    solution: &Solution,
    readings: &Readings,
    stream: &mut Stream,
    work: &mut Workspace,
    right: &mut [f64],
) -> Resampling {
    let uniform = stream.uniform();
    let log_h_shift = readings.log_h_shared_u * stream.normal();
    let base_fog = readings.base_fog.map(|(density, u)| density + u * stream.normal());
    let errors: Vec<f64> = solution.rows.iter().map(|row| row.u * stream.normal()).collect();
    let stiffness = pick(&solution.stiffnesses, stream.uniform());
    let values = solution.rows.iter().zip(&errors).map(|(row, error)| row.density + error);
    right_side(&solution.rows, values, right);
    let root = stiffness.lambda.sqrt();
    for start in 0..right.len() - 2 {
        let innovation = root * stream.normal();
        for (slot, difference) in right[start..].iter_mut().zip(DIFFERENCE) {
            *slot += difference * innovation;
        }
    }
    let mut coefficients = Vec::with_capacity(right.len());
    monotone::solve(&stiffness.matrix, &stiffness.factor, right, &mut coefficients, work);
    let readings =
        solution.rows.iter().zip(&errors).map(|(row, error)| solution.fitted(row) + error).collect();
    let spline = Spline { from: solution.from, to: solution.to, coefficients };
    Resampling { spline, readings, log_h_shift, base_fog, uniform }
}

/// The stiffness at the share `at` of all likelihood.
fn pick(stiffnesses: &[Stiffness], at: f64) -> &Stiffness {
    let mut sum = 0.0;
    let found = stiffnesses.iter().find(|candidate| {
        sum += candidate.share;
        sum > at
    });
    found.unwrap_or(&stiffnesses[stiffnesses.len() - 1])
}

#[cfg(test)]
mod tests {
    use super::super::{Curve, FitSettings, Reading, Readings, fit};
    use crate::measured::Flags;

    #[test]
    fn the_number_of_threads_does_not_matter() {
        let point = |i: u32| Reading {
            step: i,
            log_h: 0.15 * f64::from(i),
            log_h_u: 0.01,
            density: 0.2 + 0.02 * f64::from(i * i).min(100.0),
            density_u: 0.01,
            set_aside: false,
            flags: Flags::empty(),
        };
        let readings = Readings {
            points: (0..15).map(point).collect(),
            absolute: true,
            log_h_shared_u: 0.01,
            base_fog: Some((0.2, 0.01)),
            flags: Flags::empty(),
        };
        let with = |threads: usize| -> Curve {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| fit(readings.clone(), FitSettings { resamplings: 300, seed: 5 }).unwrap())
        };
        assert_eq!(with(1), with(3));
    }
}
