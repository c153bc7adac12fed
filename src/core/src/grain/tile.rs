//! The pass over the pixels, tile by tile: light averaged through the aperture, density, what stands out left out, sums.
//!
//! A tile is small enough for the processor's cache. Its results depend on nothing but its place, and tiles are summed
//! in their order, so the number of processors changes no bit.

use super::aperture::Column;
use super::preview::Spread;
use super::rows::{self, Averages, LANES, Strip};
use super::surface::{Moments, Surface, row_sums};
use crate::numeric::math;
use crate::scan::Plane;

/// What a tile needs to know of the whole.
#[derive(Debug, Clone, Copy)]
pub(super) struct Job<'a> {
    pub(super) plane: Plane<'a>,
    /// Light by code, over the level of the area.
    pub(super) light: &'a [f32],
    pub(super) columns: &'a [Column],
    pub(super) surface: &'a Surface,
    pub(super) spread: Spread,
    /// Upper left pixel of the area, and its size in pixels.
    pub(super) x0: usize,
    pub(super) y0: usize,
    pub(super) width: usize,
    pub(super) height: usize,
    /// Pixels from one row of apertures to the next. Along a row there is one at every pixel.
    pub(super) step: usize,
    /// Side of the small squares in which dust is looked for.
    pub(super) side: usize,
    /// Apertures from one to the next of those kept for the correlation, along and across.
    pub(super) lattice: (usize, usize),
}

/// A rectangle of apertures, `x` in pixels and `y` in rows of apertures.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tile {
    pub(super) x: (usize, usize),
    pub(super) y: (usize, usize),
    /// Whether its residuals are kept for the correlation.
    pub(super) keep: bool,
}

/// The sums of one tile.
#[derive(Debug, Clone, Default)]
pub(super) struct Sums {
    pub(super) moments: Moments,
    /// Sum of light, over the level.
    pub(super) light: f64,
    pub(super) squares: f64,
    pub(super) fourths: f64,
    pub(super) left_out: usize,
    /// Residual densities on the lattice, zero where left out.
    pub(super) kept: Option<Patch>,
}

/// A rectangle of numbers.
#[derive(Debug, Clone, Default)]
pub(super) struct Patch {
    pub(super) width: usize,
    pub(super) values: Vec<f32>,
}

impl Job<'_> {
    fn reach(&self) -> usize {
        self.columns.len() - 1
    }

    /// Apertures along a row, and rows of them.
    pub(super) fn size(&self) -> (usize, usize) {
        let span = 2 * self.reach();
        (self.width - span, (self.height - span - 1) / self.step + 1)
    }

    /// The place of a pixel's centre in the area, -1..=1.
    fn place(index: usize, size: usize) -> f64 {
        (2 * index + 1) as f64 / size as f64 - 1.0
    }

    fn u(&self, x: usize) -> f64 {
        Self::place(x, self.width)
    }

    fn v(&self, y: usize) -> f64 {
        Self::place(y, self.height)
    }

    /// Measures one tile; `light` is room for its pixels.
    pub(super) fn run(&self, tile: &Tile, light: &mut Vec<f32>) -> Sums {
        let reach = self.reach();
        let (columns, rows) = (tile.x.1 - tile.x.0, tile.y.1 - tile.y.0);
        let across = columns + 2 * reach;
        let top = tile.y.0 * self.step;
        let down = (rows - 1) * self.step + 1 + 2 * reach;
        let stride = across.next_multiple_of(LANES);
        light.resize(stride * down, 0.0);
        for (y, row) in light.chunks_exact_mut(stride).enumerate() {
            self.plane.look_up(self.light, self.y0 + top + y, self.x0 + tile.x.0, &mut row[..across]);
        }
        let mask = self.mask(light, across, tile);
        let u: Vec<f64> = (tile.x.0..tile.x.1).map(|x| self.u(x + reach)).collect();
        let mut narrow_u = rows::row(columns, 0.0);
        for (narrow, u) in narrow_u.iter_mut().zip(&u) {
            *narrow = *u as f32;
        }
        let mut averages = Averages::new(stride, reach + 1);
        let (mut mean, mut residual) = (rows::row(columns, 1.0), rows::row(columns, 0.0));
        let mut strip = Strip::new(columns);
        let mut sums = Sums { kept: tile.keep.then(|| self.patch(columns)), ..Sums::default() };
        // Rows are summed in strips before their moments are taken: within one the shading that the first look left
        // over does not change, and the moments cost next to nothing.
        let height = (2 * reach / self.step).max(self.height / (128 * self.step)).clamp(1, 16);
        for start in (0..rows).step_by(height) {
            let end = (start + height).min(rows);
            strip.clear();
            for row in start..end {
                averages.take(&light[row * self.step * stride..], self.columns, &mut mean);
                let surface = self.surface.row(self.v(top + row * self.step + reach)).map(|c| c as f32);
                rows::residuals(&mean, &narrow_u, surface, &mut residual);
                if let Some(mask) = &mask {
                    let mask = &mask[row * columns..(row + 1) * columns];
                    for (((used, mean), residual), mask) in
                        strip.used.iter_mut().zip(&mut mean).zip(&mut residual).zip(mask)
                    {
                        *used += mask;
                        *mean *= mask;
                        *residual *= mask;
                    }
                    sums.left_out += mask.iter().filter(|w| **w < 0.5).count();
                }
                strip.add(&mean, &residual);
                self.keep(&mut sums, &residual[..columns], row);
            }
            if mask.is_none() {
                strip.used.fill((end - start) as f32);
            }
            let [light, squares, fourths] = strip.totals(columns);
            sums.light += light;
            sums.squares += squares;
            sums.fourths += fourths;
            let (weights, values) = row_sums(&u, &strip.used, &strip.residual);
            let middle = top + (start + end - 1) * self.step / 2 + reach;
            sums.moments.add_row(self.v(middle), &weights, &values);
        }
        sums
    }

    fn patch(&self, columns: usize) -> Patch {
        Patch { width: columns.div_ceil(self.lattice.0), values: Vec::new() }
    }

    fn keep(&self, sums: &mut Sums, residual: &[f32], row: usize) {
        if let Some(patch) = sums.kept.as_mut().filter(|_| row.is_multiple_of(self.lattice.1)) {
            patch.values.extend(residual.iter().step_by(self.lattice.0));
        }
    }

    /// 1 for the apertures to use and 0 for those near something that is no grain; `None` where all are used.
    fn mask(&self, light: &[f32], across: usize, tile: &Tile) -> Option<Vec<f32>> {
        /// Small squares further out than this many of their robust standard deviations are no grain: among the
        /// millions of a large area the largest of normal ones reaches 5.7.
        const OUT: f64 = 7.0;
        let (side, reach) = (self.side, self.reach());
        let top = tile.y.0 * self.step;
        let stride = across.next_multiple_of(LANES);
        let down = light.len() / stride;
        let span = |from: usize, count: usize, size: usize| {
            (Self::place(from, size), Self::place(from + count - 1, size))
        };
        let (lowest, highest) =
            self.surface.range(span(tile.x.0, across, self.width), span(top, down, self.height), 4);
        let area = (side * side) as f64;
        let limits = |surface: f64, slack: f64| {
            let dark = math::pow(10.0, -(surface + (OUT - slack) * self.spread.darker));
            let pale = math::pow(10.0, -(surface - (OUT - slack) * self.spread.lighter));
            (area * dark, area * pale)
        };
        // Half a standard deviation of slack, because the grid may miss the surface's very top and bottom.
        let (dark, pale) = (limits(highest, 0.5).0, limits(lowest, 0.5).1);
        let (dark, pale) = (dark as f32, pale as f32);
        let mut found: Option<Vec<bool>> = None;
        let (mut tall, mut sums) =
            (vec![0.0_f32; stride + LANES.max(side)], vec![0.0_f32; across - side + 1]);
        for y in (0..=down - side).step_by(side.div_ceil(2)) {
            let (low, high) = rows::box_sums(&light[y * stride..], stride, side, &mut tall, &mut sums);
            if low >= dark && high <= pale {
                continue;
            }
            let found = found.get_or_insert_with(|| vec![false; across * down]);
            let row = self.surface.row(self.v((top + y + side / 2).min(self.height - 1)));
            for (x, sum) in sums.iter().enumerate().filter(|(_, sum)| **sum < dark || **sum > pale) {
                let u = self.u(tile.x.0 + x + side / 2);
                let surface = row.iter().rev().fold(0.0, |value, c| value * u + c);
                let (dark, pale) = limits(surface, 0.0);
                found[(y + side / 2) * across + x + side / 2] |=
                    f64::from(*sum) < dark || f64::from(*sum) > pale;
            }
        }
        let found = found.filter(|found| found.contains(&true))?;
        Some(self.grown(&found, across, tile, reach + side))
    }

    /// Leaves out every aperture whose centre is within `grow` pixels of a mark, along both axes.
    fn grown(&self, marks: &[bool], across: usize, tile: &Tile, grow: usize) -> Vec<f32> {
        let (down, reach) = (marks.len() / across, self.reach());
        let wide = across + 1;
        // Entry (y, x): how many marks lie above row y and left of column x.
        let mut before = vec![0_u32; wide * (down + 1)];
        for y in 0..down {
            let mut row = 0;
            for x in 0..across {
                row += u32::from(marks[y * across + x]);
                before[(y + 1) * wide + x + 1] = before[y * wide + x + 1] + row;
            }
        }
        let mut mask = Vec::with_capacity((tile.x.1 - tile.x.0) * (tile.y.1 - tile.y.0));
        for row in 0..tile.y.1 - tile.y.0 {
            let y = row * self.step + reach;
            let (y0, y1) = (y.saturating_sub(grow), (y + grow + 1).min(down));
            for x in reach..across - reach {
                let (x0, x1) = (x.saturating_sub(grow), (x + grow + 1).min(across));
                let inside = before[y1 * wide + x1] + before[y0 * wide + x0]
                    - before[y0 * wide + x1]
                    - before[y1 * wide + x0];
                mask.push(if inside == 0 { 1.0 } else { 0.0 });
            }
        }
        mask
    }
}
