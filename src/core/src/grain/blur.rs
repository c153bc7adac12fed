//! What the pixels of a uniform area say of the scan: how far neighbours hang together, hence what a blur of the scanner may
//! have taken from the grain, and whether the scan was sharpened.
//!
//! Independent grain seen through a Gaussian blur of standard deviation s has the correlation `exp(-h^2 / (4 s^2))`. The
//! ratio of two of its values gives s whatever white noise the scanner added, which is in the first value of the
//! correlation alone. Grain that hangs together by itself looks the same: the loss is the most that a blur can have
//! taken, not what it took.

use rayon::prelude::*;
use serde::Serialize;

use crate::geometry::Rect;
use crate::numeric::tilt::Tilt;
use crate::numeric::wide::dot;
use crate::numeric::{math, robust};
use crate::scan::{Plane, ToneTable};
use crate::units::Micrometres;

/// Side of a block of pixels, and most of them.
const SIDE: usize = 64;
const MOST_BLOCKS: usize = 48;
/// Fewer blocks than these tell no correlation.
const LEAST_BLOCKS: usize = 4;
/// Lags that are looked at.
const LAGS: usize = 6;
/// A correlation below this is no grain's: sharpening digs such a trough around every pixel.
pub(super) const TROUGH: f64 = -0.03;

/// What the pixels of an area say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Texture {
    /// Correlation of pixels 1, 2, ... apart, mean of both directions.
    pub correlation: [f64; LAGS],
    /// Standard uncertainty of each.
    pub correlation_u: f64,
    /// Standard deviation of the Gaussian blur that would make independent grain hang together so; `None` where pixels are
    /// independent.
    pub blur: Option<Micrometres>,
    /// Whether neighbours differ more than independent ones would.
    pub sharpened: bool,
}

/// Looks at the pixels of an area. `None` where it holds fewer than four blocks of 64 x 64 pixels, or no fluctuation.
pub(super) fn texture(
    plane: Plane<'_>,
    table: &ToneTable,
    area: Rect,
    pitch: Micrometres,
) -> Option<Texture> {
    let light: Vec<f32> = table.light.iter().map(|light| *light as f32).collect();
    let (x0, y0) = (area.min.x.max(0.0) as usize, area.min.y.max(0.0) as usize);
    let (width, height) = (area.width() as usize, area.height() as usize);
    let (nx, ny) = (width / SIDE, height / SIDE);
    if nx * ny < LEAST_BLOCKS || x0 + width > plane.width() || y0 + height > plane.height() {
        return None;
    }
    let stride = (nx * ny).div_ceil(MOST_BLOCKS);
    let blocks: Vec<Block> = (0..(nx * ny).div_ceil(stride))
        .into_par_iter()
        .map(|k| k * stride)
        .map(|k| Block::of(plane, &light, x0 + k % nx * SIDE, y0 + k / nx * SIDE))
        .collect();
    // Dust makes a block uneven: only those that are much like the others count.
    let variances: Vec<f64> = blocks.iter().map(|block| block.sums[0]).collect();
    let middle = robust::median(&variances)?;
    let kept: Vec<&Block> = blocks.iter().filter(|b| b.sums[0] > 0.0 && b.sums[0] < 1.6 * middle).collect();
    let variance: f64 = kept.iter().map(|block| block.sums[0]).sum();
    if kept.is_empty() || variance <= 0.0 {
        return None;
    }
    let mut correlation = [0.0; LAGS];
    for (lag, found) in correlation.iter_mut().enumerate() {
        *found = kept.iter().map(|block| block.sums[lag + 1]).sum::<f64>() / variance;
    }
    // Pixels of both directions; correlated ones are worth fewer (M. S. Bartlett, 1955).
    let worth = 1.0 + 2.0 * correlation.iter().map(|rho| rho * rho).sum::<f64>();
    let correlation_u = worth / math::sqrt((kept.len() * SIDE * SIDE) as f64);
    let lowest = correlation.iter().copied().fold(0.0, f64::min);
    Some(Texture {
        blur: blur(&correlation, correlation_u).map(|pixels| Micrometres(pixels * pitch.0)),
        sharpened: lowest < TROUGH && lowest < -5.0 * correlation_u,
        correlation,
        correlation_u,
    })
}

/// The blur in pixels.
fn blur(correlation: &[f64; LAGS], u: f64) -> Option<f64> {
    let [first, second, ..] = *correlation;
    if first < 3.0 * u {
        return None;
    }
    // exp(-1 / 4s^2) over exp(-4 / 4s^2); where the second is lost in its noise the first alone tells.
    let square = if second > 5.0 * u && second < first {
        0.75 / math::ln(first / second)
    } else {
        -0.25 / math::ln(first.min(0.95))
    };
    Some(math::sqrt(square))
}

/// Sums over one block: variance, then covariances of pixels apart.
struct Block {
    sums: [f64; LAGS + 1],
}

impl Block {
    fn of(plane: Plane<'_>, light: &[f32], x: usize, y: usize) -> Self {
        let mut values = vec![0.0_f32; SIDE * SIDE];
        for (row, values) in values.chunks_exact_mut(SIDE).enumerate() {
            plane.look_up(light, y + row, x, values);
        }
        let tilt = Tilt::of(&values, SIDE);
        tilt.take_off(&mut values, SIDE);
        let scale = (1.0 / tilt.mean.max(f64::MIN_POSITIVE)) as f32;
        for value in &mut values {
            *value *= scale;
        }
        let count = (SIDE * SIDE) as f64;
        let mut sums = [0.0; LAGS + 1];
        for (lag, sum) in sums.iter_mut().enumerate() {
            let pairs = count * (SIDE - lag) as f64 / SIDE as f64;
            let across =
                values.chunks_exact(SIDE).map(|row| dot(&row[..SIDE - lag], &row[lag..])).sum::<f64>();
            let rows = values.chunks_exact(SIDE);
            let down = rows.clone().zip(rows.skip(lag)).map(|(row, below)| dot(row, below)).sum::<f64>();
            *sum = (across + down) / (2.0 * pairs);
        }
        Self { sums }
    }
}

/// Share of the granularity of independent grain that is left behind a Gaussian blur: the root of
/// `Int g(h) h / (2 s^2) exp(-h^2 / (4 s^2)) dh`, with `g` the overlap of the aperture with itself at distance h. The same as
/// the integral of |A|^2 |M|^2 over frequencies, by Parseval's theorem.
///
/// ```
/// # use twinwedge_core::{grain::left_by_blur, units::Micrometres};
/// let left = left_by_blur(Micrometres(5.0), Micrometres(48.0));
/// assert!((left - 0.87608).abs() < 1e-3);
/// ```
#[must_use]
pub fn left_by_blur(blur: Micrometres, aperture: Micrometres) -> f64 {
    let (s, d) = (blur.0, aperture.0);
    if s <= 0.0 {
        return 1.0;
    }
    // Beyond ten standard deviations of the Gaussian nothing is left.
    let end = d.min(10.0 * core::f64::consts::SQRT_2 * s);
    let steps = 2_000;
    let width = end / f64::from(steps);
    let term = |k: i32| {
        let h = (f64::from(k) + 0.5) * width;
        let share = h / d;
        let rim = math::sqrt(1.0 - share * share);
        let overlap = core::f64::consts::FRAC_2_PI * (math::atan2(rim, share) - share * rim);
        overlap * h / (2.0 * s * s) * math::exp(-h * h / (4.0 * s * s)) * width
    };
    math::sqrt((0..steps).map(term).sum())
}
