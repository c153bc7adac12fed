//! The pass over the pixels, tile by tile: light averaged through the aperture, density, what stands out left out, sums.
//!
//! A tile is small enough for the processor's cache. Its results depend on nothing but its place, and tiles are summed
//! in their order, so the number of processors changes no bit.

use super::aperture::Column;
use super::log::log10;
use super::preview::Spread;
use super::surface::{DEGREE, Moments, POWERS, Surface, row_sums};
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

    /// Measures one tile.
    pub(super) fn run(&self, tile: &Tile) -> Sums {
        let reach = self.reach();
        let (columns, rows) = (tile.x.1 - tile.x.0, tile.y.1 - tile.y.0);
        let across = columns + 2 * reach;
        let top = tile.y.0 * self.step;
        let down = (rows - 1) * self.step + 1 + 2 * reach;
        let mut light = vec![0.0_f32; across * down];
        for (y, row) in light.chunks_exact_mut(across).enumerate() {
            self.plane.look_up(self.light, self.y0 + top + y, self.x0 + tile.x.0, row);
        }
        let mask = self.mask(&light, across, tile);
        let u: Vec<f64> = (tile.x.0..tile.x.1).map(|x| self.u(x + reach)).collect();
        let narrow_u: Vec<f32> = u.iter().map(|u| *u as f32).collect();
        let mut scratch = Scratch::new(across, reach + 1);
        let (mut mean, mut residual) = (vec![0.0_f32; columns], vec![0.0_f32; columns]);
        let (mut strip, mut count) = (vec![0.0_f32; columns], vec![0.0_f32; columns]);
        let mut sums = Sums { kept: tile.keep.then(|| self.patch(columns)), ..Sums::default() };
        // Rows are summed in strips before their moments are taken: within one the shading that the first look left
        // over does not change, and the moments cost next to nothing.
        let height = (2 * reach / self.step).clamp(1, 16);
        for start in (0..rows).step_by(height) {
            let end = (start + height).min(rows);
            strip.fill(0.0);
            count.fill(0.0);
            for row in start..end {
                scratch.average(&light[row * self.step * across..], across, self.columns, &mut mean);
                let v = self.v(top + row * self.step + reach);
                self.residuals(&mean, &narrow_u, v, &mut residual);
                if let Some(mask) = &mask {
                    let mask = &mask[row * columns..(row + 1) * columns];
                    for ((r, m), w) in residual.iter_mut().zip(&mut mean).zip(mask) {
                        *r *= w;
                        *m *= w;
                    }
                    add(&mut count, mask);
                    sums.left_out += mask.iter().filter(|w| **w < 0.5).count();
                }
                add(&mut strip, &residual);
                let [light, squares, fourths] = power_sums(&mean, &residual);
                sums.light += light;
                sums.squares += squares;
                sums.fourths += fourths;
                self.keep(&mut sums, &residual, row);
            }
            if mask.is_none() {
                count.fill((end - start) as f32);
            }
            let (weights, values) = row_sums(&u, &count, &strip);
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

    /// Density of each mean over the level, less the surface.
    fn residuals(&self, mean: &[f32], u: &[f32], v: f64, out: &mut [f32]) {
        let c = self.surface.row(v).map(|c| c as f32);
        const { assert!(POWERS == DEGREE + 1 && DEGREE == 4) };
        for ((out, mean), u) in out.iter_mut().zip(mean).zip(u) {
            let surface = (((c[4] * u + c[3]) * u + c[2]) * u + c[1]) * u + c[0];
            *out = -log10(*mean) - surface;
        }
    }

    /// 1 for the apertures to use and 0 for those near something that is no grain; `None` where all are used.
    fn mask(&self, light: &[f32], across: usize, tile: &Tile) -> Option<Vec<f32>> {
        /// Small squares further out than this many of their robust standard deviations are no grain: among the
        /// millions of a large area the largest of normal ones reaches 5.7.
        const OUT: f64 = 7.0;
        let (side, reach) = (self.side, self.reach());
        let top = tile.y.0 * self.step;
        let down = light.len() / across;
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
        let (mut tall, mut sums) = (vec![0.0_f32; across], vec![0.0_f32; across - side + 1]);
        for y in (0..=down - side).step_by(side.div_ceil(2)) {
            box_sums(&light[y * across..], across, side, &mut tall, &mut sums);
            let (low, high) = extremes(&sums);
            if low >= dark && high <= pale {
                continue;
            }
            let found = found.get_or_insert_with(|| vec![false; light.len()]);
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

/// Room for one row of sums by column of the disc.
pub(super) struct Scratch {
    pair: Vec<f32>,
    whole: Vec<f32>,
    columns: Vec<Vec<f32>>,
}

impl Scratch {
    pub(super) fn new(across: usize, columns: usize) -> Self {
        Self { pair: vec![0.0; across], whole: vec![0.0; across], columns: vec![vec![0.0; across]; columns] }
    }

    /// Mean light through the aperture along one row; `light` begins at the first row that the disc touches.
    ///
    /// The disc is symmetric, so the rows `+d` and `-d` are added once for all its columns; columns share the running
    /// sum of their whole pixels and differ in the few on the rim. The work grows with the diameter, not the area.
    pub(super) fn average(&mut self, light: &[f32], across: usize, columns: &[Column], out: &mut [f32]) {
        let reach = columns.len() - 1;
        self.whole.fill(0.0);
        for distance in 0..=reach {
            let row = |y: usize| &light[y * across..(y + 1) * across];
            if distance == 0 {
                self.pair.copy_from_slice(row(reach));
            } else {
                for ((pair, up), down) in
                    self.pair.iter_mut().zip(row(reach - distance)).zip(row(reach + distance))
                {
                    *pair = up + down;
                }
            }
            if columns[0].whole > distance {
                add(&mut self.whole, &self.pair);
            }
            for (column, sums) in columns.iter().zip(&mut self.columns) {
                if column.whole == distance + 1 {
                    sums.copy_from_slice(&self.whole);
                } else if column.whole == 0 && distance == 0 {
                    sums.fill(0.0);
                }
                for (_, weight) in column.rim.iter().filter(|(at, _)| *at == distance) {
                    for (sum, pair) in sums.iter_mut().zip(&self.pair) {
                        *sum += weight * pair;
                    }
                }
            }
        }
        let count = out.len();
        out.copy_from_slice(&self.columns[0][reach..reach + count]);
        for (distance, sums) in self.columns.iter().enumerate().skip(1) {
            let (left, right) = (&sums[reach - distance..], &sums[reach + distance..]);
            for ((out, left), right) in out.iter_mut().zip(left).zip(right) {
                *out += left + right;
            }
        }
        let scale = columns[0].scale;
        for out in out {
            *out *= scale;
        }
    }
}

/// Sums over squares whose upper edge is the first row of `light`.
fn box_sums(light: &[f32], across: usize, side: usize, tall: &mut [f32], out: &mut [f32]) {
    tall.copy_from_slice(&light[..across]);
    for y in 1..side {
        add(tall, &light[y * across..(y + 1) * across]);
    }
    out.copy_from_slice(&tall[..out.len()]);
    for x in 1..side {
        let count = out.len();
        add(out, &tall[x..x + count]);
    }
}

fn add(sum: &mut [f32], more: &[f32]) {
    for (sum, more) in sum.iter_mut().zip(more) {
        *sum += more;
    }
}

const LANES: usize = 8;

fn extremes(values: &[f32]) -> (f32, f32) {
    let (mut low, mut high) = ([f32::INFINITY; LANES], [f32::NEG_INFINITY; LANES]);
    let (chunks, rest) = values.as_chunks::<LANES>();
    for chunk in chunks {
        for lane in 0..LANES {
            low[lane] = if chunk[lane] < low[lane] { chunk[lane] } else { low[lane] };
            high[lane] = if chunk[lane] > high[lane] { chunk[lane] } else { high[lane] };
        }
    }
    let low = low.iter().chain(rest).copied().fold(f32::INFINITY, f32::min);
    (low, high.iter().chain(rest).copied().fold(f32::NEG_INFINITY, f32::max))
}

/// Sum of the means, and of second and fourth powers of the residuals. Single precision within a row of some hundred,
/// double beyond.
fn power_sums(mean: &[f32], residual: &[f32]) -> [f64; 3] {
    let mut lanes = [[0.0_f32; LANES]; 3];
    let mut total = [0.0; 3];
    let (means, mean_rest) = mean.as_chunks::<LANES>();
    let (residuals, residual_rest) = residual.as_chunks::<LANES>();
    for (mean, residual) in means.iter().zip(residuals) {
        for lane in 0..LANES {
            let square = residual[lane] * residual[lane];
            lanes[0][lane] += mean[lane];
            lanes[1][lane] += square;
            lanes[2][lane] += square * square;
        }
    }
    for (mean, residual) in mean_rest.iter().zip(residual_rest) {
        let square = f64::from(residual * residual);
        for (total, more) in total.iter_mut().zip([f64::from(*mean), square, square * square]) {
            *total += more;
        }
    }
    for (total, lanes) in total.iter_mut().zip(&lanes) {
        *total += lanes.iter().map(|lane| f64::from(*lane)).sum::<f64>();
    }
    total
}
