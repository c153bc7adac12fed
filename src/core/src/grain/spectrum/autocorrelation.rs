//! Correlation of the fluctuation over distance: the inverse transform of its spectrum.

use rayon::prelude::*;
use rustfft::FftPlanner;
use rustfft::num_complex::Complex;
use serde::Serialize;

use super::radial::{Radial, signed};
use super::transform::window;
use crate::measured::{Flags, Measured, Value, Z95};
use crate::numeric::math;
use crate::words;

/// Most distances that are told.
const MOST_DISTANCES: usize = 48;

/// Correlation at a distance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Lag {
    /// Mean distance on the film, micrometres.
    pub distance: f64,
    /// Correlation, mean over directions.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// Correlation over distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Autocorrelation {
    /// From distance zero, where it is 1, outwards; what the scanner adds from pixel to pixel is not in it.
    pub lags: Vec<Lag>,
    /// Correlation length in micrometres: the distance at which correlation, mean over directions, has fallen to 1/e.
    pub length: Value,
}

/// From the mean power over the plane. What belongs to lines is replaced by its ring, and so are the cells around zero.
pub(super) fn autocorrelation(power: &[f64], rings: &Radial, without: &[usize]) -> Autocorrelation {
    let side = window_side(power);
    let zero: f64 = rings.zero.iter().enumerate().map(|(ring, part)| part * rings.power(ring)).sum();
    let radius =
        |cell: usize| math::hypot(signed(cell % side, side) as f64, signed(cell / side, side) as f64);
    let left = |(cell, power): (usize, &f64)| Complex::new(power - rings.taken_at(radius(cell)), 0.0);
    let mut data: Vec<Complex<f64>> = power.iter().enumerate().map(left).collect();
    for cell in without {
        data[*cell].re = rings.measured_at(radius(*cell)) - rings.taken_at(radius(*cell));
    }
    for y in [0, 1, side - 1] {
        for x in [0, 1, side - 1] {
            data[y * side + x].re = zero;
        }
    }
    turn(&mut data, side);
    let reach = (side / 4).min(MOST_DISTANCES);
    let overlap = overlap(side, reach);
    let total = data[0].re;
    if total <= 0.0 {
        return Autocorrelation { lags: Vec::new(), length: Value::Undefined(words::Spectrum::Still.into()) };
    }
    let (mut sums, mut distances, mut counts) =
        (vec![0.0; reach + 1], vec![0.0; reach + 1], vec![0.0; reach + 1]);
    for y in 0..=reach {
        for x in 0..=reach {
            let distance = math::hypot(x as f64, y as f64);
            let ring = distance.round() as usize;
            if ring > reach {
                continue;
            }
            // Both diagonals count; the axes once.
            let other = data[y * side + (side - x) % side].re;
            let value = 0.5 * (data[y * side + x].re + other) / (overlap[x] * overlap[y]);
            sums[ring] += value;
            distances[ring] += distance;
            counts[ring] += 1.0;
        }
    }
    let whole = rings.sum(&rings.integral(|_| 1.0)).0;
    let mut lags: Vec<Lag> = (0..=reach)
        .into_par_iter()
        .map(|ring| {
            let (distance, value) = (distances[ring] / counts[ring], sums[ring] / counts[ring] / total);
            Lag { distance: distance * rings.pitch, value, u: uncertainty(rings, whole, distance, value) }
        })
        .collect();
    if let Some(first) = lags.first_mut() {
        first.u = 0.0;
    }
    let length = length(&lags, rings.pitch);
    Autocorrelation { lags, length }
}

fn window_side(power: &[f64]) -> usize {
    math::sqrt(power.len() as f64).round() as usize
}

/// The inverse transform but for its scale.
fn turn(data: &mut Vec<Complex<f64>>, side: usize) {
    let fft = FftPlanner::<f64>::new().plan_fft_inverse(side);
    for _ in 0..2 {
        fft.process(data);
        *data = (0..side * side).map(|k| data[(k % side) * side + k / side]).collect();
    }
}

/// What the window leaves of a correlation at a distance along an axis.
fn overlap(side: usize, reach: usize) -> Vec<f64> {
    let window = window(side);
    let total: f64 = window.iter().map(|w| w * w).sum();
    let at = |lag: usize| window[lag..].iter().zip(&window).map(|(a, b)| a * b).sum::<f64>() / total;
    (0..=reach).map(at).collect()
}

/// Of a correlation: the ratio of two integrals over the spectrum, whose errors are those of the rings; `whole` is the second.
fn uncertainty(rings: &Radial, whole: f64, distance: f64, value: f64) -> f64 {
    let along =
        |frequency: f64| math::j0(core::f64::consts::TAU * frequency / 1000.0 * distance * rings.pitch);
    let (_, u) = rings.sum(&rings.integral(|frequency| along(frequency) - value));
    if whole > 0.0 { u / whole } else { 0.0 }
}

/// The first distance at which the correlation is 1/e; between two, its logarithm is taken as straight over the squared
/// distance, as a Gaussian's is.
fn length(lags: &[Lag], pitch: f64) -> Value {
    let level = math::exp(-1.0);
    let Some(beyond) = lags.iter().position(|lag| lag.value < level).filter(|at| *at > 0) else {
        return Value::Undefined(words::Spectrum::NoFall.into());
    };
    if beyond == 1 {
        let bound = Measured::with_interval(pitch, pitch / 2.0, 0.0, pitch);
        return Value::Known(bound.flagged(Flags::UPPER_BOUND));
    }
    let (a, b) = (lags[beyond - 1], lags[beyond]);
    let (x, y) = (a.distance * a.distance, b.distance * b.distance);
    let (u, v) = (math::ln(a.value), math::ln(b.value.max(1e-3)));
    let share = (u + 1.0) / (u - v);
    let found = math::sqrt(x + share * (y - x));
    // Slope of the correlation there.
    let slope = level * 2.0 * found * (u - v) / (y - x);
    let error = (a.u + share * (b.u - a.u)) / slope;
    Value::Known(Measured::with_interval(found, error, (found - Z95 * error).max(0.0), found + Z95 * error))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the Hann window's own correlation, `(1 - t)(2 + cos 2 pi t) / 3 + sin(2 pi t) / (2 pi)` at a share t of its
    /// length, by integration.
    #[test]
    fn overlap_is_the_windows_own_correlation() {
        let side = 256;
        for (lag, value) in overlap(side, 64).into_iter().enumerate() {
            let t = lag as f64 / side as f64;
            let angle = core::f64::consts::TAU * t;
            let exact =
                (1.0 - t) * (2.0 + math::cos(angle)) / 3.0 + math::sin(angle) / core::f64::consts::TAU;
            assert!((value - exact).abs() < 1e-3, "{lag}: {value} {exact}");
        }
    }
}
