//! Closed forms of characteristic curves, for planning and for checks against curves whose figures are known exactly.

use crate::numeric::math;

/// The logistic curve from `d_min` to `d_max` with the maximum slope `gamma` at `x_mid`, at lg H = `x`.
///
/// ```
/// # use twinwedge_core::curve::model::logistic;
/// assert!((logistic(0.2, 2.2, 0.8, 0.0, 0.0) - 1.2).abs() < 1e-12);
/// ```
#[must_use]
pub fn logistic(d_min: f64, d_max: f64, gamma: f64, x_mid: f64, x: f64) -> f64 {
    let range = d_max - d_min;
    d_min + range / (1.0 + math::exp(-4.0 * gamma * (x - x_mid) / range))
}

/// A toe that turns into a straight line without end: density `d_min + (gamma/m) lg(1 + 10^(m (x - x0)))`. `m` says
/// how sharply it turns.
///
/// ```
/// # use twinwedge_core::curve::model::toe_and_line;
/// // Far above the toe it is a line of slope gamma through (x0, d_min).
/// assert!((toe_and_line(0.2, 0.7, 2.0, -2.0, 3.0) - (0.2 + 0.7 * 5.0)).abs() < 1e-9);
/// ```
#[must_use]
pub fn toe_and_line(d_min: f64, gamma: f64, m: f64, x0: f64, x: f64) -> f64 {
    d_min + gamma / m * math::log10(1.0 + math::pow(10.0, m * (x - x0)))
}

/// Green's curve `D = d_s 10^-((H10/H)^n)`: `d_s` is approached at high exposure, a tenth of it reached at `h10`.
/// M. Green, Applied Spectroscopy 7 (1953) 24-34, for n = q.
///
/// ```
/// # use twinwedge_core::curve::model::green;
/// assert!((green(3.0, 1.0, 0.5, 1.0) - 0.3).abs() < 1e-12);
/// ```
#[must_use]
pub fn green(d_s: f64, h10: f64, n: f64, h: f64) -> f64 {
    d_s * math::pow(10.0, -math::pow(h10 / h, n))
}

/// Hurter and Driffield's curve `D = gamma lg[O - (O - 1) exp(-H/c)]` with opacity limit `O` and inertia `c` (1890; form
/// recalled).
///
/// ```
/// # use twinwedge_core::curve::model::hurter_driffield;
/// assert!((hurter_driffield(1.0, 100.0, 1.0, 100.0) - 2.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn hurter_driffield(gamma: f64, opacity: f64, inertia: f64, h: f64) -> f64 {
    gamma * math::log10(opacity - (opacity - 1.0) * math::exp(-h / inertia))
}
