//! Quantiles of the distributions that intervals and tests are made from.
//!
//! Degrees of freedom are positive and 0 < p < 1; anything else gives NaN.

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// The quantile `p` of the chi-square distribution.
///
/// ```
/// # use twinwedge_core::numeric::quantiles::chi_square;
/// // A. Hald, "Statistical Tables and Formulas" (1952), as in any chi-square table: 10 degrees of freedom, 95 %.
/// assert!((chi_square(0.95, 10.0) - 18.307).abs() < 5e-4);
/// ```
#[must_use]
pub fn chi_square(p: f64, degrees: f64) -> f64 {
    within(p).and_then(|p| ChiSquared::new(degrees).ok().map(|d| d.inverse_cdf(p))).unwrap_or(f64::NAN)
}

/// Probability of a chi-square above `value` with so many degrees of freedom.
///
/// ```
/// # use twinwedge_core::numeric::quantiles::chi_square_tail;
/// // The same table: 10 degrees of freedom, 18.307 is exceeded in 5 %.
/// assert!((chi_square_tail(18.307, 10.0) - 0.05).abs() < 1e-5);
/// ```
#[must_use]
pub fn chi_square_tail(value: f64, degrees: f64) -> f64 {
    ChiSquared::new(degrees).map_or(f64::NAN, |distribution| distribution.sf(value))
}

/// The quantile `p` of Student's t distribution.
///
/// ```
/// # use twinwedge_core::numeric::quantiles::student_t;
/// // Any table of t: 10 degrees of freedom, two-sided 95 %.
/// assert!((student_t(0.975, 10.0) - 2.228).abs() < 5e-4);
/// ```
#[must_use]
pub fn student_t(p: f64, degrees: f64) -> f64 {
    within(p)
        .and_then(|p| StudentsT::new(0.0, 1.0, degrees).ok().map(|d| d.inverse_cdf(p)))
        .unwrap_or(f64::NAN)
}

/// Probability that Student's t with so many degrees of freedom exceeds `value`.
///
/// ```
/// # use twinwedge_core::numeric::quantiles::student_t_tail;
/// // The same table: 10 degrees of freedom, 2.228 is exceeded in 2.5 %.
/// assert!((student_t_tail(2.228, 10.0) - 0.025).abs() < 1e-4);
/// ```
#[must_use]
pub fn student_t_tail(value: f64, degrees: f64) -> f64 {
    StudentsT::new(0.0, 1.0, degrees).map_or(f64::NAN, |distribution| distribution.sf(value))
}

/// The quantile `p` of the F distribution.
///
/// ```
/// # use twinwedge_core::numeric::quantiles::f_ratio;
/// // Any table of F: 5 and 10 degrees of freedom, 95 %.
/// assert!((f_ratio(0.95, 5.0, 10.0) - 3.326).abs() < 5e-4);
/// ```
#[must_use]
pub fn f_ratio(p: f64, numerator: f64, denominator: f64) -> f64 {
    within(p)
        .and_then(|p| FisherSnedecor::new(numerator, denominator).ok().map(|d| d.inverse_cdf(p)))
        .unwrap_or(f64::NAN)
}

/// The quantile `p` of the standard normal distribution.
///
/// ```
/// # use twinwedge_core::numeric::quantiles::normal;
/// assert!((normal(0.975) - 1.959964).abs() < 1e-6);
/// ```
#[must_use]
pub fn normal(p: f64) -> f64 {
    within(p).map_or(f64::NAN, |p| Normal::standard().inverse_cdf(p))
}

/// The interval of confidence `level` (0.95, say) for a standard deviation that was found to be `s` from `n`
/// independent normal values: `s sqrt((n-1)/chi2)`. NaN for n < 2.
///
/// ```
/// # use twinwedge_core::numeric::quantiles::deviation_interval;
/// let (low, high) = deviation_interval(0.010, 20.0, 0.95);
/// assert!((low - 0.007605).abs() < 1e-6 && (high - 0.014606).abs() < 1e-6);
/// ```
#[must_use]
pub fn deviation_interval(s: f64, n: f64, level: f64) -> (f64, f64) {
    let tail = (1.0 - level) / 2.0;
    let end = |p| s * ((n - 1.0) / chi_square(p, n - 1.0)).sqrt();
    (end(1.0 - tail), end(tail))
}

fn within(p: f64) -> Option<f64> {
    (p > 0.0 && p < 1.0).then_some(p)
}
