//! From the edge-spread function to the modulation transfer function.
//!
//! Derivative by the difference of the neighbours on either side, a window that is flat over the edge and falls off by a half
//! cosine, the modulus of the Fourier transform over its value at frequency zero, and off again what difference and bins took
//! from it: `sin(2 pi f d) / (2 pi f d)` and `sin(pi f d) / (pi f d)` for bins of width d (steps of ISO 12233; the factors
//! follow from the difference and the bin).

use super::spread::BIN;
use crate::numeric::math;

/// Highest frequency looked at, cycles per pixel: the slanted edge samples finer than the scanner.
pub(super) const HIGHEST: f64 = 1.0;
/// Step of frequencies, cycles per pixel.
pub(super) const STEP: f64 = 0.005;

/// Weights over the distance from the edge: 1 up to `flat`, 0 from `end` on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Window {
    pub(super) flat: f64,
    pub(super) end: f64,
}

impl Window {
    pub(super) fn weight(&self, distance: f64) -> f64 {
        let beyond = (distance.abs() - self.flat) / (self.end - self.flat);
        match beyond {
            b if b <= 0.0 => 1.0,
            b if b >= 1.0 => 0.0,
            b => 0.5 + 0.5 * math::cos(core::f64::consts::PI * b),
        }
    }
}

/// `sin(pi x) / (pi x)`: the response of a box one unit wide at `x` cycles per unit.
///
/// ```
/// # use twinwedge_core::sharpness::box_response;
/// assert!((box_response(0.25) - 0.900316).abs() < 1e-6);
/// ```
#[must_use]
pub fn box_response(x: f64) -> f64 {
    let turn = core::f64::consts::PI * x;
    if turn.abs() < 1e-12 { 1.0 } else { math::sin(turn) / turn }
}

/// Response of the three-point difference `[-1/2, 0, 1/2]` over bins of width `d` at `f` cycles per unit of `d`.
#[must_use]
pub fn difference_response(f: f64, d: f64) -> f64 {
    box_response(2.0 * f * d)
}

/// Response of difference and bin at `f` cycles per pixel.
fn of_method(f: f64) -> f64 {
    difference_response(f, BIN) * box_response(f * BIN)
}

/// A complex number.
pub(super) type Complex = (f64, f64);

/// What is needed to transform many edge-spread functions of one window.
#[derive(Debug)]
pub(super) struct Transfer {
    /// First bin within the window, and its weights for the step and for each frequency: cosine and sine.
    from: usize,
    step: Vec<f64>,
    waves: Vec<(Vec<f64>, Vec<f64>)>,
}

impl Transfer {
    /// For bins that begin at distance `first`, as many as `count`.
    pub(super) fn new(first: f64, count: usize, window: Window) -> Self {
        let distance = |k: usize| first + k as f64 * BIN;
        let inside = |k: &usize| window.weight(distance(*k)) > 0.0;
        let from = (1..count.saturating_sub(1)).find(inside).unwrap_or(1);
        let to = (from..count.saturating_sub(1)).rfind(|k| inside(k)).map_or(from, |k| k + 1);
        // Weights of light: each bin counts in the differences of both its neighbours.
        let of_light = |of: &dyn Fn(f64) -> f64| {
            let mut weights = vec![0.0; to - from + 2];
            for k in from..to {
                let share = 0.5 * window.weight(distance(k)) * of(distance(k));
                weights[k + 1 - (from - 1)] += share;
                weights[k - 1 - (from - 1)] -= share;
            }
            weights
        };
        let steps = (HIGHEST / STEP).round() as usize;
        let waves = (0..=steps)
            .map(|k| {
                let (f, scale) = (k as f64 * STEP, 1.0 / of_method(k as f64 * STEP));
                let turn = 2.0 * core::f64::consts::PI * f;
                (of_light(&|d| scale * math::cos(turn * d)), of_light(&|d| scale * math::sin(turn * d)))
            })
            .collect();
        Self { from: from - 1, step: of_light(&|_| 1.0), waves }
    }

    /// The step from left to right (the mean beyond the window's flat part on the right less that on the left), and the
    /// transform by frequency, which is the step at frequency zero.
    pub(super) fn transform(&self, values: &[f64]) -> (f64, Vec<Complex>) {
        let part = &values[self.from..];
        let wave = |(cosine, sine): &(Vec<f64>, Vec<f64>)| (dot(cosine, part), -dot(sine, part));
        (dot(&self.step, part), self.waves.iter().map(wave).collect())
    }
}

fn dot(weights: &[f64], values: &[f64]) -> f64 {
    weights.iter().zip(values).map(|(w, v)| w * v).sum()
}

/// The lowest frequency at which values at steps of [`STEP`] have come down to `level`.
pub(super) fn crossing(values: &[f64], level: f64) -> Option<f64> {
    let below = values.iter().position(|value| *value < level)?;
    let before = below.checked_sub(1)?;
    let (a, b) = (values[before], values[below]);
    Some(STEP * (before as f64 + (a - level) / (a - b)))
}
