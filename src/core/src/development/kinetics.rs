//! The first-order law of development, `gamma(t) = g_inf (1 - exp(-k (t - t0)))`, and its fit to rolls of one film.
//!
//! S. E. Sheppard and C. E. K. Mees, "Investigations on the Theory of the Photographic Process" (1907); A. H. Nietz, "The
//! Theory of Development" (1922). The law was found for gamma; following average gradients by it is an empirical convenience
//! (common practice, no source).
//!
//! It is fitted in the form `g = s τ (1 - exp(-k τ)) / (k τ)` with `s = g_inf k`, the gradient's growth at the beginning:
//! where the gradients still grow as fast as time itself, `k` tends to zero and `g_inf` is not determined, but `s` is, and so
//! is what lies between the rolls. Weighted least squares by damped Gauss-Newton steps (D. W. Marquardt, J. Soc. Indust. Appl.
//! Math. 11 (1963)).

use nalgebra::{Matrix4, Vector4};
use serde::Serialize;

use crate::numeric::{math, quantiles};
use crate::words::{self, Sentence};

/// The law: gradient after `t` minutes with limit `g_inf` and rate `k` per minute, from time zero.
///
/// ```
/// # use twinwedge_core::development::kinetics::gradient;
/// assert!((gradient(1.0, 0.1, 8.0) - 0.550671).abs() < 1e-6);
/// ```
#[must_use]
pub fn gradient(g_inf: f64, k: f64, t: f64) -> f64 {
    -g_inf * math::expm1(-k * t)
}

/// The time for a gradient: `-ln(1 - g/g_inf)/k`; `None` where it is not below the limit.
///
/// ```
/// # use twinwedge_core::development::kinetics::time_for;
/// assert!((time_for(1.0, 0.1, 0.8 / 1.3).unwrap() - 9.55511).abs() < 1e-4);
/// assert_eq!(time_for(1.0, 0.1, 1.0), None);
/// ```
#[must_use]
pub fn time_for(g_inf: f64, k: f64, gradient: f64) -> Option<f64> {
    (gradient < g_inf && gradient > 0.0 && k > 0.0).then(|| -math::log1p(-gradient / g_inf) / k)
}

/// Rate and limit from the gradients at times `t` and `2 t`: `k = ln(g1/(g2 - g1))/t`, `g_inf = g1²/(2 g1 - g2)`. `None` where
/// the second gradient is not larger than the first, or not less than twice as large. Ill-conditioned near twice.
///
/// ```
/// # use twinwedge_core::development::kinetics::two_point;
/// let (k, g_inf) = two_point(4.0, 0.32967995, 0.55067104).unwrap();
/// assert!((k - 0.1).abs() < 1e-6 && (g_inf - 1.0).abs() < 1e-6);
/// ```
#[must_use]
pub fn two_point(t: f64, g1: f64, g2: f64) -> Option<(f64, f64)> {
    let grows = g1 > 0.0 && g2 > g1 && g2 < 2.0 * g1 && t > 0.0;
    grows.then(|| (math::ln(g1 / (g2 - g1)) / t, g1 * g1 / (2.0 * g1 - g2)))
}

/// One roll as the fit sees it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Point {
    /// Development time in minutes.
    pub minutes: f64,
    /// Temperature in °C.
    pub celsius: f64,
    /// The gradient that was measured.
    pub gradient: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// The law with its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Law {
    /// Growth of the gradient at the beginning, per minute, at `reference_c`: `g_inf k`.
    pub initial: f64,
    /// Rate `k` per minute at `reference_c`; 0 where the gradient grows as fast as time itself.
    pub rate: f64,
    /// Minutes before development begins to show.
    pub induction: f64,
    /// How many times faster per 10 °C.
    pub coefficient: f64,
    /// The temperature that initial growth and rate belong to, °C.
    pub reference_c: f64,
}

impl Law {
    /// The limit gradient; infinite where the rate is 0.
    #[must_use]
    pub fn limit(&self) -> f64 {
        if self.rate > 0.0 { self.initial / self.rate } else { f64::INFINITY }
    }

    /// By what the rate at `celsius` exceeds that at the reference temperature.
    #[must_use]
    pub fn speed_up(&self, celsius: f64) -> f64 {
        math::exp(math::ln(self.coefficient) * (celsius - self.reference_c) / 10.0)
    }

    /// Gradient after `minutes` at `celsius`; 0 before development shows.
    ///
    /// ```
    /// # use twinwedge_core::development::kinetics::Law;
    /// let law = Law { initial: 0.1, rate: 0.1, induction: 0.0, coefficient: 2.5, reference_c: 20.0 };
    /// assert!((law.gradient(8.0, 20.0) - 0.550671).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn gradient(&self, minutes: f64, celsius: f64) -> f64 {
        let effective = self.speed_up(celsius) * (minutes - self.induction).max(0.0);
        self.initial * effective * shape(self.rate * effective)
    }

    /// Minutes at `celsius` for a gradient; `None` where it is not below the limit, or not above zero.
    ///
    /// ```
    /// # use twinwedge_core::development::kinetics::Law;
    /// let law = Law { initial: 0.1, rate: 0.0, induction: 1.0, coefficient: 2.5, reference_c: 20.0 };
    /// assert!((law.minutes(0.5, 20.0).unwrap() - 6.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn minutes(&self, gradient: f64, celsius: f64) -> Option<f64> {
        if gradient <= 0.0 || self.initial <= 0.0 {
            return None;
        }
        let share = gradient / self.initial;
        // Below the smallest rates the logarithm has nothing left to say but its first terms.
        let effective = if self.rate * share < 1e-9 {
            share * (1.0 + self.rate * share / 2.0)
        } else {
            time_for(self.limit(), self.rate, gradient)?
        };
        Some(self.induction + effective / self.speed_up(celsius))
    }
}

/// `(1 - exp(-z)) / z`.
fn shape(z: f64) -> f64 {
    if z.abs() < 1e-6 { 1.0 - z / 2.0 } else { -math::expm1(-z) / z }
}

/// The derivative of the shape by its argument.
fn shape_slope(z: f64) -> f64 {
    if z.abs() < 1e-3 { -0.5 + z / 3.0 - z * z / 8.0 } else { (math::exp(-z) * (1.0 + z) - 1.0) / (z * z) }
}

/// What of the law is fitted besides growth and rate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Model {
    /// The time before development shows, in minutes: known, or `None` to be fitted.
    pub induction: Option<f64>,
    /// How many times faster per 10 °C: known, or `None` to be fitted.
    pub coefficient: Option<f64>,
    /// Temperature that growth and rate shall belong to, °C.
    pub reference_c: f64,
}

impl Model {
    /// Number of numbers that are fitted.
    #[must_use]
    pub fn size(&self) -> usize {
        2 + usize::from(self.induction.is_none()) + usize::from(self.coefficient.is_none())
    }
}

/// A fitted law.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fit {
    /// The law that fits best.
    pub law: Law,
    /// Covariance of limit, rate and, where fitted, induction and the natural logarithm of the coefficient, in this order:
    /// of the stated uncertainties, not scaled. `None` where a number lies at its bound, or they are as many as rolls and
    /// the rolls do not determine them.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Sum of squares of residuals over their uncertainties.
    pub chi_square: f64,
    /// Rolls less fitted numbers.
    pub freedom: usize,
    /// By what stated uncertainties are multiplied because the residuals contradict them (chi-square above its 95 % quantile;
    /// R. T. Birge, Phys. Rev. 40 (1932)); 1 where they do not.
    pub error_scale: f64,
    /// The rate came to its lower bound: the gradients grow as fast as time itself, and the limit is not determined.
    pub at_bound: bool,
}

/// Least uncertainty with which a roll counts.
const LEAST_U: f64 = 1e-6;
/// Steps of the fit, and when it has settled.
const STEPS: usize = 60;
const SETTLED: f64 = 1e-14;

/// Fits the law by weighted least squares.
///
/// # Errors
/// Fewer rolls than numbers to be fitted, times or gradients that are not above zero, one time alone.
pub fn fit(points: &[Point], model: Model) -> Result<Fit, Sentence> {
    check(points, model)?;
    let law = descend(points, model, start(points, model));
    let chi_square = chi_square(points, &law);
    let freedom = points.len() - model.size();
    let contradicted = freedom >= 1 && chi_square > quantiles::chi_square(0.95, freedom as f64);
    let error_scale = if contradicted { (chi_square / freedom as f64).sqrt() } else { 1.0 };
    let at_bound = law.rate <= 0.0;
    let covariance = if at_bound { None } else { covariance(points, model, &law) };
    Ok(Fit { law, covariance, chi_square, freedom, error_scale, at_bound })
}

/// The law alone, from a guess near it: for resamplings.
pub(super) fn refit(points: &[Point], model: Model, guess: Law) -> Law {
    let near = descend(points, model, guess);
    // A guess at the bound may hold a resampling there although it has a minimum of its own.
    if near.rate > 0.0 || guess.rate <= 0.0 { near } else { descend(points, model, start(points, model)) }
}

fn check(points: &[Point], model: Model) -> Result<(), Sentence> {
    if points.len() < model.size() {
        let (have, need) = (points.len(), model.size());
        return Err(words::Rolls::TooFew { have, need }.into());
    }
    let sound = |point: &Point| {
        let numbers = [point.minutes, point.celsius, point.gradient, point.u];
        numbers.iter().all(|number| number.is_finite()) && point.minutes > 0.0 && point.gradient > 0.0
    };
    if !points.iter().all(sound) {
        return Err(words::Rolls::NotPositive.into());
    }
    let first = points[0];
    let alike = |point: &Point| {
        (point.minutes - first.minutes).abs() < 1e-9 && (point.celsius - first.celsius).abs() < 1e-9
    };
    if points.iter().all(alike) {
        return Err(words::Rolls::AllAlike.into());
    }
    Ok(())
}

fn residual(point: &Point, law: &Law) -> f64 {
    (point.gradient - law.gradient(point.minutes, point.celsius)) / point.u.max(LEAST_U)
}

fn chi_square(points: &[Point], law: &Law) -> f64 {
    points.iter().map(|point| residual(point, law)).map(|z| z * z).sum()
}

/// The best of many rates, each with the growth that fits it best.
fn start(points: &[Point], model: Model) -> Law {
    let longest = points.iter().map(|point| point.minutes).fold(0.0, f64::max);
    let with = |rate: f64| {
        let mut law = Law {
            initial: 1.0,
            rate,
            induction: model.induction.unwrap_or(0.0),
            coefficient: model.coefficient.unwrap_or(2.5),
            reference_c: model.reference_c,
        };
        let (mut above, mut below) = (0.0, 0.0);
        for point in points {
            let unit = law.gradient(point.minutes, point.celsius);
            let weight = 1.0 / (point.u.max(LEAST_U) * point.u.max(LEAST_U));
            above += weight * unit * point.gradient;
            below += weight * unit * unit;
        }
        law.initial = if below > 0.0 { above / below } else { 1.0 };
        law
    };
    let rates = (0..28_u32).map(|i| 0.02 / longest * math::pow(1.35, f64::from(i)));
    let laws = rates.map(with);
    let better = |best: Law, next: Law| {
        if chi_square(points, &next) < chi_square(points, &best) { next } else { best }
    };
    laws.fold(with(0.0), better)
}

/// Derivatives of a gradient by growth, rate, induction and ln coefficient; 0 for what is not fitted.
fn slopes(point: &Point, model: Model, law: &Law) -> Vector4<f64> {
    let speed_up = law.speed_up(point.celsius);
    let effective = speed_up * (point.minutes - law.induction).max(0.0);
    let z = law.rate * effective;
    let by_effective = law.initial * math::exp(-z);
    let induction = if model.induction.is_none() { -by_effective * speed_up } else { 0.0 };
    let warmer = (point.celsius - law.reference_c) / 10.0;
    let coefficient = if model.coefficient.is_none() { by_effective * effective * warmer } else { 0.0 };
    let rate = law.initial * effective * effective * shape_slope(z);
    Vector4::new(effective * shape(z), rate, induction, coefficient)
}

/// `J' W J` and `J' W r`; 1 on the diagonal for what is not fitted, so that it stays.
fn normal_equations(points: &[Point], model: Model, law: &Law) -> (Matrix4<f64>, Vector4<f64>) {
    let (mut matrix, mut right) = (Matrix4::zeros(), Vector4::zeros());
    for point in points {
        let row = slopes(point, model, law) / point.u.max(LEAST_U);
        matrix += row * row.transpose();
        right += row * residual(point, law);
    }
    for (i, known) in [(2, model.induction), (3, model.coefficient)] {
        if known.is_some() {
            matrix[(i, i)] = 1.0;
        }
    }
    (matrix, right)
}

/// The law moved by a step, within its bounds.
fn moved(law: &Law, model: Model, step: &Vector4<f64>, shortest: f64) -> Law {
    let mut next = *law;
    next.initial = (law.initial + step[0]).max(law.initial / 10.0);
    next.rate = (law.rate + step[1]).clamp(0.0, 30.0 / shortest);
    if model.induction.is_none() {
        next.induction = (law.induction + step[2]).clamp(0.0, 0.9 * shortest);
    }
    if model.coefficient.is_none() {
        next.coefficient = (law.coefficient * math::exp(step[3])).clamp(1.0, 10.0);
    }
    next
}

fn descend(points: &[Point], model: Model, mut law: Law) -> Law {
    let shortest = points.iter().map(|point| point.minutes).fold(f64::INFINITY, f64::min);
    let (mut best, mut damping) = (chi_square(points, &law), 1e-4);
    for _ in 0..STEPS {
        let (matrix, right) = normal_equations(points, model, &law);
        let mut damped = matrix;
        for i in 0..4 {
            damped[(i, i)] += damping * matrix[(i, i)].max(1e-300);
        }
        let Some(step) = damped.cholesky().map(|factor| factor.solve(&right)) else {
            damping *= 10.0;
            continue;
        };
        let next = moved(&law, model, &step, shortest);
        let reached = chi_square(points, &next);
        if reached <= best {
            let gained = best - reached;
            (law, best) = (next, reached);
            damping = (damping / 8.0).max(1e-12);
            if gained <= SETTLED * (1.0 + best) {
                break;
            }
        } else {
            damping *= 6.0;
            if damping > 1e9 {
                break;
            }
        }
    }
    law
}

/// `(J' W J)^-1` of what is fitted, carried from growth and rate to limit and rate.
fn covariance(points: &[Point], model: Model, law: &Law) -> Option<Vec<Vec<f64>>> {
    let (matrix, _) = normal_equations(points, model, law);
    let mut carry = Matrix4::identity();
    carry[(0, 0)] = 1.0 / law.rate;
    carry[(0, 1)] = -law.initial / (law.rate * law.rate);
    let of = carry * matrix.try_inverse()? * carry.transpose();
    let fitted: Vec<usize> = [true, true, model.induction.is_none(), model.coefficient.is_none()]
        .iter()
        .enumerate()
        .filter_map(|(i, fitted)| fitted.then_some(i))
        .collect();
    let sound = of.iter().all(|element| element.is_finite()) && fitted.iter().all(|i| of[(*i, *i)] >= 0.0);
    sound.then(|| fitted.iter().map(|i| fitted.iter().map(|j| of[(*i, *j)]).collect()).collect())
}
