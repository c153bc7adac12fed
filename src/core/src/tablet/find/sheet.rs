//! A smaller copy of the scan to look for the strip in, and the same turned so that the strip lies level.

use rayon::prelude::*;

use crate::geometry::Point;
use crate::numeric::math;
use crate::scan::{Plane, ToneTable};

/// Longer side of the smaller copy, in pixels.
const SIDE: usize = 1000;
/// Rows of a block that are read for one row of the copy.
const ROWS: usize = 4;
/// Most density between neighbouring codes: below it a few codes of noise would count as many steps.
const CODE_STEP: f64 = 0.06;

/// The tone of each code: its density, with the coarse last codes of a dark scan drawn together.
pub(super) fn tones(table: &ToneTable) -> Vec<f32> {
    let count = table.density.len();
    let at = |rank: usize| if table.rises_with_light() { count - 1 - rank } else { rank };
    let mut tones = vec![0.0; count];
    let mut tone = table.density.get(at(0)).copied().unwrap_or(0.0);
    let mut before = tone;
    for rank in 0..count {
        let density = table.density[at(rank)];
        tone += (density - before).clamp(0.0, CODE_STEP);
        before = density;
        tones[at(rank)] = tone as f32;
    }
    tones
}

/// The smaller copy, in tones.
pub(super) struct Sheet {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Scan pixels along the side of one of its pixels.
    pub(super) scale: f64,
    tones: Vec<f32>,
}

impl Sheet {
    /// Means of whole blocks; `None` when stopped.
    pub(super) fn of(plane: Plane<'_>, tones: &[f32], stop: &(dyn Fn() -> bool + Sync)) -> Option<Self> {
        let factor = plane.width().max(plane.height()).div_ceil(SIDE).max(1);
        let (width, height) = (plane.width() / factor, plane.height() / factor);
        let mut small = vec![0.0_f32; width * height];
        let rows = factor.min(ROWS);
        small
            .par_chunks_mut(width.max(1))
            .enumerate()
            .try_for_each(|(y, out)| {
                if stop() {
                    return None;
                }
                let mut line = vec![0.0_f32; width * factor];
                for row in 0..rows {
                    plane.look_up(tones, y * factor + row * factor / rows, 0, &mut line);
                    for (out, block) in out.iter_mut().zip(line.chunks_exact(factor)) {
                        *out += block.iter().sum::<f32>();
                    }
                }
                let share = 1.0 / (rows * factor) as f32;
                out.iter_mut().for_each(|value| *value *= share);
                Some(())
            })
            .map(|()| Self { width, height, scale: factor as f64, tones: small })
    }

    pub(super) fn tone(&self, x: usize, y: usize) -> f64 {
        f64::from(self.tones[y * self.width + x])
    }

    /// Between pixel centres; NaN outside.
    fn between(&self, x: f64, y: f64) -> f64 {
        let (x, y) = (x - 0.5, y - 0.5);
        if x < -0.5 || y < -0.5 || x > self.width as f64 - 0.5 || y > self.height as f64 - 0.5 {
            return f64::NAN;
        }
        let (x, y) = (x.clamp(0.0, (self.width - 1) as f64), y.clamp(0.0, (self.height - 1) as f64));
        let (i, j) = ((x as usize).min(self.width.max(2) - 2), (y as usize).min(self.height.max(2) - 2));
        let (p, q) = (x - i as f64, y - j as f64);
        let right = (i + 1).min(self.width - 1);
        let below = (j + 1).min(self.height - 1);
        let upper = self.tone(i, j) * (1.0 - p) + self.tone(right, j) * p;
        let lower = self.tone(i, below) * (1.0 - p) + self.tone(right, below) * p;
        upper * (1.0 - q) + lower * q
    }
}

/// The sheet turned so that a direction lies level.
pub(super) struct Turned {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Row by row; NaN where the sheet does not reach.
    tones: Vec<f64>,
    sin: f64,
    cos: f64,
    centre: (f64, f64),
    scale: f64,
}

impl Turned {
    /// Turned so that what runs at `angle` (radians, from x towards y) runs to the right.
    pub(super) fn of(sheet: &Sheet, angle: f64) -> Self {
        let (sin, cos) = math::sincos(angle);
        let (w, h) = (sheet.width as f64, sheet.height as f64);
        let width = (w * cos.abs() + h * sin.abs()).ceil() as usize;
        let height = (w * sin.abs() + h * cos.abs()).ceil() as usize;
        let mut turned = Self {
            width,
            height,
            tones: Vec::new(),
            sin,
            cos,
            centre: (0.5 * w, 0.5 * h),
            scale: sheet.scale,
        };
        let mut tones = vec![f64::NAN; width * height];
        tones.par_chunks_mut(width.max(1)).enumerate().for_each(|(y, row)| {
            for (x, out) in row.iter_mut().enumerate() {
                let (sx, sy) = turned.on_sheet(x as f64 + 0.5, y as f64 + 0.5);
                *out = sheet.between(sx, sy);
            }
        });
        turned.tones = tones;
        turned
    }

    fn on_sheet(&self, x: f64, y: f64) -> (f64, f64) {
        let (x, y) = (x - 0.5 * self.width as f64, y - 0.5 * self.height as f64);
        (self.centre.0 + self.cos * x - self.sin * y, self.centre.1 + self.sin * x + self.cos * y)
    }

    /// A place of it in the scan's pixels.
    pub(super) fn in_scan(&self, x: f64, y: f64) -> Point {
        let (x, y) = self.on_sheet(x, y);
        Point::new(x * self.scale, y * self.scale)
    }

    pub(super) fn row(&self, y: usize) -> &[f64] {
        &self.tones[y * self.width..(y + 1) * self.width]
    }

    pub(super) fn tone(&self, x: usize, y: usize) -> f64 {
        self.tones[y * self.width + x]
    }
}
