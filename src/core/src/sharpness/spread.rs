//! The edge-spread function: light by distance from the edge, averaged over all rows in quarter-pixel bins, and what each
//! part of the edge's length did to it.

use super::field::Field;
use super::locate::Located;
use crate::numeric::robust;

/// Width of a bin in pixels.
pub(super) const BIN: f64 = 0.25;

/// Rows that hang together through their grain: what one block of the resampling holds at least.
const ROWS: usize = 16;
/// Fewest and most blocks.
const BLOCKS: (usize, usize) = (6, 24);
/// Robust standard deviations beyond which a pixel is dust.
const DUST: f64 = 6.0;

/// Light by distance from the edge.
#[derive(Debug, Clone)]
pub(super) struct Spread {
    /// Distance of the middle of the first bin.
    pub(super) first: f64,
    /// Light of each bin.
    pub(super) light: Vec<f64>,
    /// By what the grain of each block of rows moved each bin.
    pub(super) moved: Vec<Vec<f64>>,
    /// Bins that no pixel fell into, taken from their neighbours.
    pub(super) empty: usize,
    /// Share of pixels left out as dust.
    pub(super) left_out: f64,
}

impl Spread {
    /// Distance of bin `k`.
    pub(super) fn distance(&self, k: usize) -> f64 {
        self.first + k as f64 * BIN
    }

    /// Farthest distance on both sides.
    pub(super) fn reach(&self) -> f64 {
        -self.first + BIN / 2.0
    }

    /// Projects the pixels within `reach` of the edge onto its normal.
    pub(super) fn of(field: &Field, edge: &Located, reach: f64) -> Self {
        let half = (reach / BIN) as usize;
        let bins = 2 * half;
        let first = BIN / 2.0 - half as f64 * BIN;
        let mut pixels: Vec<(u32, u32, f64)> = Vec::new();
        let rows = edge.rows.clone();
        let blocks = (rows.len() / ROWS).clamp(BLOCKS.0, BLOCKS.1);
        for y in rows.clone() {
            let middle = y as f64 + 0.5;
            let (x0, cosine) = (edge.line.x(middle), edge.line.cosine(middle));
            let block = ((y - rows.start) * blocks / rows.len()) as u32;
            for (x, light) in field.row(y).iter().enumerate() {
                let place = (x as f64 + 0.5 - x0) * cosine / BIN + half as f64;
                if place >= 0.0 && place < bins as f64 {
                    pixels.push((place as u32, block, *light));
                }
            }
        }
        let (mut light, _) = means(&pixels, bins);
        let far = edge.blurred.sigma * 4.0;
        let side = |bin: u32| (f64::from(bin) - half as f64 + 0.5) * BIN;
        let spread = |left: bool, light: &[f64]| {
            let sizes: Vec<f64> = pixels
                .iter()
                .filter(|(bin, _, _)| if left { side(*bin) < -far } else { side(*bin) > far })
                .map(|(bin, _, value)| (value - light[*bin as usize]).abs())
                .collect();
            robust::MAD_TO_SIGMA * robust::median(&sizes).unwrap_or(0.0)
        };
        // Within a bin of the steepest edge light differs by less than a tenth of the step.
        let limit = DUST * spread(true, &light).max(spread(false, &light))
            + 0.1 * (edge.blurred.right - edge.blurred.left).abs();
        let count = pixels.len().max(1) as f64;
        // A bin with dust in it has a wrong mean: leave out, average, look again.
        let mut kept = pixels;
        for _ in 0..2 {
            let sound = |pixel: &(u32, u32, f64)| (pixel.2 - light[pixel.0 as usize]).abs() <= limit;
            kept.retain(sound);
            light = means(&kept, bins).0;
        }
        let (light, counts) = means(&kept, bins);
        let mut moved = vec![vec![0.0; bins]; blocks];
        for (bin, block, value) in &kept {
            let bin = *bin as usize;
            moved[*block as usize][bin] += (value - light[bin]) / counts[bin];
        }
        for block in &mut moved {
            bridge(block, &counts);
        }
        Self {
            first,
            empty: counts.iter().filter(|count| **count <= 0.0).count(),
            light,
            moved,
            left_out: 1.0 - kept.len() as f64 / count,
        }
    }
}

/// Mean of each bin, empty ones bridged, and how many fell into it.
fn means(pixels: &[(u32, u32, f64)], bins: usize) -> (Vec<f64>, Vec<f64>) {
    let (mut sums, mut counts) = (vec![0.0; bins], vec![0.0; bins]);
    for (bin, _, value) in pixels {
        sums[*bin as usize] += value;
        counts[*bin as usize] += 1.0;
    }
    let mut light: Vec<f64> =
        sums.iter().zip(&counts).map(|(sum, count)| if *count > 0.0 { sum / count } else { 0.0 }).collect();
    bridge(&mut light, &counts);
    (light, counts)
}

/// Draws a straight line over empty bins, and a level one over those at the ends.
fn bridge(values: &mut [f64], counts: &[f64]) {
    let filled: Vec<usize> = (0..values.len()).filter(|k| counts[*k] > 0.0).collect();
    let (Some(&first), Some(&last)) = (filled.first(), filled.last()) else { return };
    let (head, tail) = (values[first], values[last]);
    values[..first].fill(head);
    values[last + 1..].fill(tail);
    for pair in filled.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        for k in a + 1..b {
            values[k] = values[a] + (values[b] - values[a]) * (k - a) as f64 / (b - a) as f64;
        }
    }
}
