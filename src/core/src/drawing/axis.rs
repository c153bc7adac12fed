//! Axes that follow what is drawn.

use super::{Axis, Layer};

/// An axis that holds everything drawn, by steps of `step`.
pub(super) fn value_axis(label: String, layers: &[Layer], step: f64) -> Axis {
    let mut values: Vec<f64> = Vec::new();
    for layer in layers {
        match layer {
            Layer::Line { points, .. } | Layer::Marks { points, .. } => {
                values.extend(points.iter().map(|at| at[1]));
            }
            Layer::Band { points, .. } => values.extend(points.iter().flat_map(|at| [at[1], at[2]])),
            Layer::Level { y, .. } => values.push(*y),
            Layer::Note { .. } | Layer::Segment { .. } | Layer::Upright { .. } => {}
        }
    }
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
    let range = (((low - 0.2 * step) / step).floor() * step, ((high + 0.2 * step) / step).ceil() * step);
    let mut major = step;
    while (range.1 - range.0) / major > 9.0 {
        major *= 2.0;
    }
    Axis { label, range, major, minor: major / 5.0 }
}
