//! Base+fog of a film of which no unexposed area was read, from the level foot of its curve.
//!
//! The least exposures that give density give it in proportion to exposure, or to a higher power of it where more than one
//! quantum makes a grain developable (L. Silberstein, Phil. Mag. 44 (1922); recalled): net density grows
//! as 10 to the power of `steepness` times log H, with a steepness of 1 or more. Over the foot, as far as it is that small,
//! base+fog is therefore where the straight line of density against that power begins.

use crate::curve::Spline;
use crate::numeric::math;

/// How far the foot rises above the low end of the curve: as long as net density follows a power of exposure.
const FOOT: f64 = 0.08;
/// Steepnesses that are tried: even in their inverse. What lies above them is level for all that readings can tell.
const STEEPNESSES: [f64; 5] = [1.0, 1.2, 1.5, 2.0, 3.0];
/// Places in each cell of a spline at which the foot is looked at.
const PER_CELL: f64 = 4.0;

/// Base+fog from the foot of a curve, by the steepness that fits it best.
///
/// ```
/// # use twinwedge_core::curve::Spline;
/// # use twinwedge_core::figures::foot::base_fog;
/// // A level curve is its own base+fog.
/// let level = Spline { from: -3.0, to: 0.0, coefficients: vec![0.25; 13] };
/// assert!((base_fog(&level) - 0.25).abs() < 1e-12);
/// ```
#[must_use]
pub fn base_fog(spline: &Spline) -> f64 {
    let lines = lines(spline);
    let best = lines.iter().min_by(|a, b| a.squares.total_cmp(&b.squares));
    best.map_or(f64::NAN, |line| line.begins)
}

/// The same of a draw: by a steepness drawn from all by how likely each makes the foot, where readings have an uncertainty of
/// `u` and lie a cell apart. `uniform`, 0 to 1, decides.
pub(crate) fn base_fog_drawn(spline: &Spline, u: f64, uniform: f64) -> f64 {
    let lines = lines(spline);
    let least = lines.iter().map(|line| line.squares).fold(f64::INFINITY, f64::min);
    let weight = |line: &Line| math::exp((least - line.squares) / (2.0 * PER_CELL * u * u));
    let mut left = uniform * lines.iter().map(weight).sum::<f64>();
    let drawn = lines.iter().find(|line| {
        left -= weight(line);
        left < 0.0
    });
    drawn.unwrap_or(&lines[lines.len() - 1]).begins
}

/// The foot by one steepness.
#[derive(Debug, Clone, Copy)]
struct Line {
    /// Base+fog by it.
    begins: f64,
    /// Sum of squares that it leaves.
    squares: f64,
}

fn lines(spline: &Spline) -> [Line; STEEPNESSES.len()] {
    let lowest = spline.lowest();
    let end = spline.log_h_at(lowest + FOOT).unwrap_or(spline.to);
    let places = ((end - spline.from) / spline.cell_width() * PER_CELL).ceil().max(4.0);
    let step = (end - spline.from) / places;
    // From the end down; the last place must not fall below the curve by rounding.
    let place = |i: usize| (end - step * i as f64).max(spline.from);
    let density = |i: usize| spline.density(place(i)).unwrap_or(lowest) - lowest;
    let densities: Vec<f64> = (0..=places as usize).map(density).collect();
    STEEPNESSES.map(|steepness| {
        let (intercept, squares) = regression(&densities, math::pow(10.0, -steepness * step));
        Line { begins: lowest + intercept, squares }
    })
}

/// The regression line of values over powers, 1 for the first value and each lower by `factor`: where it begins, and the sum of
/// squares that it leaves.
fn regression(values: &[f64], factor: f64) -> (f64, f64) {
    let (mut power, mut sums) = (1.0, [0.0; 5]);
    for value in values {
        let terms = [power, *value, power * power, power * value, value * value];
        sums.iter_mut().zip(terms).for_each(|(sum, term)| *sum += term);
        power *= factor;
    }
    let n = values.len() as f64;
    let [t, d, tt, td, dd] = sums;
    let covariance = td - t * d / n;
    let slope = covariance / (tt - t * t / n);
    ((d - slope * t) / n, dd - d * d / n - slope * covariance)
}
