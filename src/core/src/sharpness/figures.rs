//! What is said of an edge: frequencies, the transfer function, its width, its profile.

use super::locate::RISE;
use super::resample::{Blocks, Curve, Frequency, Signal, smooth, smooth_lobes};
use super::spread::{BIN, Spread};
use super::transfer::{HIGHEST, STEP, Window};
use super::{MtfPoint, SpreadPoint};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;
use crate::words;

/// A frequency of the curve as a figure in cycles per millimetre.
pub(super) fn frequency(found: Option<Frequency>, per_mm: f64, quantile: f64, level: f64) -> Value {
    let Some(found) = found else {
        return Value::Undefined(words::Edge::StaysAbove { percent: 100.0 * level }.into());
    };
    let value = found.value * per_mm;
    let low = found.low * per_mm;
    let (high, flags) = match found.high {
        Some(high) => (high * per_mm, Flags::empty()),
        None => (HIGHEST * per_mm, Flags::LOWER_BOUND),
    };
    Value::Known(Measured::with_interval(value, (high - low) / (2.0 * quantile), low, high).flagged(flags))
}

/// The transfer function as far as it means something: at most half as far again as it comes down to 10 %.
pub(super) fn points(
    curve: &Curve,
    scanner: &dyn Fn(f64) -> Option<(f64, f64)>,
    per_mm: f64,
) -> Vec<MtfPoint> {
    let tenth = curve.frequency(0.1, scanner).map_or(HIGHEST, |found| found.value);
    let mut points = Vec::new();
    for (k, point) in curve.points.iter().enumerate() {
        let f = k as f64 * STEP;
        let Some((own, own_u)) = scanner(f) else { break };
        let (value, low, high) = point.modulus(own, own_u, curve.quantile);
        let noisy = high - low > 0.6;
        // Below 10 % only as far as something is left that is not grain.
        if f > tenth && (point.square() <= 0.0 || high - low > 0.25) {
            break;
        }
        if f > (1.5 * tenth).max(20.0 * STEP) || (noisy && k > 4) {
            break;
        }
        points.push(MtfPoint { frequency: f * per_mm, value, low, high });
    }
    points
}

/// Distance from 10 to 90 % of the step.
pub(super) fn width(
    spread: &Spread,
    blocks: &Blocks,
    (window, sigma): (Window, f64),
    (signal, drawn): (Signal<'_>, &[Signal<'_>]),
    pitch: f64,
) -> Value {
    let kernel = (0.3 * sigma).max(0.2);
    let by = |light: &[f64], signal: Signal<'_>| {
        let values: Vec<f64> = smooth(light, kernel).iter().map(|light| signal(*light)).collect();
        let far = |left: bool| {
            let part: Vec<f64> = (0..values.len())
                .filter(|k| {
                    if left { spread.distance(*k) < -window.flat } else { spread.distance(*k) > window.flat }
                })
                .map(|k| values[k])
                .collect();
            part.iter().sum::<f64>() / part.len().max(1) as f64
        };
        let (left, right) = (far(true), far(false));
        let share = |k: usize| (values[k] - left) / (right - left);
        let half = values.len() / 2;
        let middle = (0..half - 1)
            .flat_map(|k| [half - k, half + k])
            .find(|k| share(*k - 1) < 0.5 && share(*k) >= 0.5)?;
        let low = (1..middle).rev().find(|k| share(*k) < 0.1)?;
        let high = (middle..values.len()).find(|k| share(*k) > 0.9)?;
        let at = |k: usize, level: f64| k as f64 + (level - share(k)) / (share(k + 1) - share(k));
        let seen = (at(high - 1, 0.9) - at(low, 0.1)) * BIN;
        // What the averaging over the bins widened it by.
        let own = RISE * kernel;
        (seen > own).then(|| math::sqrt(seen * seen - own * own) * pitch)
    };
    let figure = |light: &[f64]| by(light, signal);
    match (figure(&spread.light), blocks.uncertainty(spread, &figure)) {
        (Some(value), Some(of_grain)) => {
            let off = |drawn: &Signal<'_>| Some(by(&spread.light, drawn)? - value);
            let off: Vec<f64> = drawn.iter().filter_map(off).collect();
            let of_curve = off.iter().map(|off| off * off).sum::<f64>() / off.len().max(1) as f64;
            let u = math::sqrt(of_grain * of_grain + of_curve);
            let half = blocks.quantile * u;
            Value::Known(Measured::with_interval(value, u, (value - half).max(0.0), value + half))
        }
        _ => Value::Undefined(words::Edge::NotInOnePiece.into()),
    }
}

/// The edge-spread function in density for the eye, averaged a little.
pub(super) fn profile(
    spread: &Spread,
    blocks: &Blocks,
    window: Window,
    sigma: f64,
    pitch: f64,
) -> Vec<SpreadPoint> {
    let kernel = (0.25 * RISE * sigma).max(0.4);
    let shown = smooth_lobes(&spread.light, kernel);
    let moved: Vec<Vec<f64>> = spread.moved.iter().map(|block| smooth_lobes(block, kernel)).collect();
    let dense_left = shown[0] < shown[shown.len() - 1];
    let end = (1.3 * window.end).min(spread.reach());
    let every = ((end / BIN / 120.0) as usize).max(1);
    let mut points: Vec<SpreadPoint> = (0..shown.len())
        .step_by(every)
        .filter(|k| spread.distance(*k).abs() <= end)
        .map(|k| {
            let u = math::sqrt(blocks.scale * moved.iter().map(|block| block[k] * block[k]).sum::<f64>());
            let density = |light: f64| -math::log10(light.max(1e-9));
            let half = blocks.quantile * u;
            let sign = if dense_left { -1.0 } else { 1.0 };
            SpreadPoint {
                distance: sign * spread.distance(k) * pitch,
                density: density(shown[k]),
                low: density(shown[k] + half),
                high: density((shown[k] - half).max(0.3 * shown[k])),
            }
        })
        .collect();
    points.sort_by(|a, b| a.distance.total_cmp(&b.distance));
    points
}
