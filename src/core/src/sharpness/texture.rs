//! The grain of the uniform areas beside the edge by frequency: whether a filter of the scanner raised it.

use super::field::Field;
use super::locate::Located;
use crate::numeric::math;

/// Side of the squares that are transformed.
const SIDE: usize = 32;
/// Fewer squares than these tell no spectrum.
const LEAST_SQUARES: usize = 8;

/// Power of relative fluctuations of light of each square, by ring of spatial frequency, steps of 1 / [`SIDE`].
#[derive(Debug, Clone)]
pub(super) struct Texture {
    squares: Vec<Vec<f64>>,
}

impl Texture {
    /// From squares half overlapping, farther than `from` pixels from the edge. `None` where there are too few.
    pub(super) fn of(field: &Field, edge: &Located, from: f64) -> Option<Self> {
        let waves: Vec<(f64, f64)> = (0..SIDE)
            .map(|k| {
                let (sin, cos) = math::sincos(2.0 * core::f64::consts::PI * k as f64 / SIDE as f64);
                (cos, sin)
            })
            .collect();
        // Hann, so that slow shading stays where it is.
        let taper: Vec<f64> = (0..SIDE)
            .map(|k| 0.5 - 0.5 * math::cos(2.0 * core::f64::consts::PI * (k as f64 + 0.5) / SIDE as f64))
            .collect();
        let mut squares = Vec::new();
        for y in (0..(field.height + 1).saturating_sub(SIDE)).step_by(SIDE / 2) {
            for x in (0..(field.width + 1).saturating_sub(SIDE)).step_by(SIDE / 2) {
                let away = |x: usize, y: usize| {
                    let at = y as f64 + 0.5;
                    (x as f64 - edge.line.x(at)) * edge.line.cosine(at)
                };
                let corners =
                    [(x, y), (x + SIDE, y), (x, y + SIDE), (x + SIDE, y + SIDE)].map(|(x, y)| away(x, y));
                if corners.iter().all(|d| *d > from) || corners.iter().all(|d| *d < -from) {
                    squares.push(rings(field, (x, y), &waves, &taper));
                }
            }
        }
        (squares.len() >= LEAST_SQUARES).then_some(Self { squares })
    }

    /// Power around `frequency` (cycles per pixel) over that at low frequencies, and its standard uncertainty. Squares that
    /// overlap by half tell about as much as two thirds of them side by side.
    pub(super) fn raised(&self, frequency: f64) -> (f64, f64) {
        let ring = ((frequency * SIDE as f64).round() as usize).clamp(3, SIDE / 2 - 2);
        let high = |rings: &[f64]| (rings[ring - 1] + rings[ring] + rings[ring + 1]) / 3.0;
        let low = |rings: &[f64]| (rings[1] + rings[2]) / 2.0;
        let n = self.squares.len() as f64;
        let (a, b) = self.squares.iter().fold((0.0, 0.0), |sum, s| (sum.0 + high(s) / n, sum.1 + low(s) / n));
        let ratio = a / b.max(1e-300);
        let off = |s: &Vec<f64>| (high(s) - ratio * low(s)).powi(2);
        let scatter = self.squares.iter().map(off).sum::<f64>() / (n - 1.0).max(1.0);
        (ratio, math::sqrt(scatter / (n / 1.5)) / b.max(1e-300))
    }
}

/// Power by ring of one square of fluctuations about its mean.
fn rings(field: &Field, (x0, y0): (usize, usize), waves: &[(f64, f64)], taper: &[f64]) -> Vec<f64> {
    let mean =
        (0..SIDE * SIDE).map(|i| field.row(y0 + i / SIDE)[x0 + i % SIDE]).sum::<f64>() / (SIDE * SIDE) as f64;
    let value = |x: usize, y: usize| (field.row(y0 + y)[x0 + x] / mean - 1.0) * taper[x] * taper[y];
    // Rows, then columns of half the plane: the other half is the same.
    let half = SIDE / 2 + 1;
    let mut rows = vec![(0.0, 0.0); half * SIDE];
    for y in 0..SIDE {
        let line: Vec<f64> = (0..SIDE).map(|x| value(x, y)).collect();
        for u in 0..half {
            let sum = line.iter().enumerate().fold((0.0, 0.0), |sum: (f64, f64), (x, v)| {
                let (cos, sin) = waves[u * x % SIDE];
                (sum.0 + v * cos, sum.1 - v * sin)
            });
            rows[u * SIDE + y] = sum;
        }
    }
    let (mut power, mut count) = (vec![0.0; SIDE], vec![0.0_f64; SIDE]);
    for u in 0..half {
        for v in 0..SIDE {
            let column = &rows[u * SIDE..(u + 1) * SIDE];
            let sum = column.iter().enumerate().fold((0.0, 0.0), |sum: (f64, f64), (y, z)| {
                let (cos, sin) = waves[v * y % SIDE];
                (sum.0 + z.0 * cos + z.1 * sin, sum.1 + z.1 * cos - z.0 * sin)
            });
            let down = if v > SIDE / 2 { SIDE - v } else { v } as f64;
            let ring = math::hypot(u as f64, down).round() as usize;
            if ring < SIDE {
                power[ring] += sum.0 * sum.0 + sum.1 * sum.1;
                count[ring] += 1.0;
            }
        }
    }
    power.iter().zip(&count).map(|(power, count)| power / count.max(1.0)).collect()
}
