//! The second pass: blocks under a window, transformed, their power added up.
//!
//! Two blocks go through one complex transform, as its real and its imaginary part: the sum of their powers is
//! `(|C(k)|^2 + |C(-k)|^2) / 2`, so the squares of all pairs are added up first and made symmetric once, at the end.
//! Blocks below each other share half of their rows: these are looked up and transformed along once, for the window is a
//! product of one along and one down.

use std::collections::BTreeMap;

use rayon::prelude::*;
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};

use super::LG_E;
use super::area::{CELL, Grid, Ground};
use super::radial::Radial;
use crate::numeric::math;
use crate::numeric::wide::wide;
use crate::scan::Plane;

/// Columns of pairs that one task transforms together: their rows of pixels are looked up in one go.
const COLUMNS_TOGETHER: usize = 4;
/// Rows of pairs that one task transforms at least; the tasks are added up in their order.
const ROWS: usize = 16;
/// Most tasks, about: each keeps a plane of sums.
const TASKS: usize = 64;
/// Pairs that are added up in single precision.
const TOGETHER: usize = 8;
/// Columns that are transformed together; their rows of a block lie in the nearest cache.
const SQUARE: usize = 16;

/// A pair of neighbouring blocks, or one of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Pair {
    /// Of its first block, in half blocks.
    column: usize,
    /// One or two blocks.
    count: usize,
    row: usize,
}

impl Pair {
    /// Which of the columns of pairs of a task it is in.
    fn lane(&self) -> usize {
        self.column / 2 % COLUMNS_TOGETHER
    }
}

/// The blocks as pairs, in tasks of [`COLUMNS_TOGETHER`] columns of pairs, row by row.
fn tasks(blocks: &[(usize, usize)]) -> Vec<Vec<Pair>> {
    let mut groups: BTreeMap<usize, BTreeMap<(usize, usize), Pair>> = BTreeMap::new();
    for (column, row) in blocks {
        let (column, row) = (*column, *row);
        let entry = groups.entry(column / 2 / COLUMNS_TOGETHER).or_default().entry((row, column / 2));
        let pair = entry.or_insert(Pair { column, count: 0, row });
        pair.column = pair.column.min(column);
        pair.count += 1;
    }
    let groups: Vec<Vec<Pair>> = groups.into_values().map(|pairs| pairs.into_values().collect()).collect();
    let least = groups.iter().map(Vec::len).sum::<usize>().div_ceil(TASKS);
    let most = least.max(ROWS * COLUMNS_TOGETHER);
    groups.iter().flat_map(|group| group.chunks(most).map(<[Pair]>::to_vec)).collect()
}

/// What all blocks gave.
#[derive(Debug, Clone)]
pub(super) struct Sums {
    /// Mean power by cell, `row * side + column`, in density squared times square micrometres.
    pub(super) power: Vec<f64>,
    /// Pixels looked up, and sums of the first, second and fourth power of their fluctuation. Pixels that blocks share
    /// count as often as they were looked up.
    moments: [f64; 4],
}

impl Sums {
    /// Variance of the fluctuation, pixel by pixel.
    pub(super) fn variance(&self) -> f64 {
        let [pixels, first, second, _] = self.moments;
        let mean = first / pixels;
        second / pixels - mean * mean
    }

    /// Relative variance that heavy tails add to every part of the spectrum alike: excess kurtosis over the number of
    /// independent fluctuations in so many pixels, which each take the area of the squared correlation.
    pub(super) fn tails(&self, rings: &Radial, pixels: f64) -> f64 {
        let variance = self.variance();
        let fourth = self.moments[3] / self.moments[0];
        if variance <= 0.0 {
            return 0.0;
        }
        let kurtosis = (fourth / (variance * variance) - 3.0).max(0.0);
        kurtosis * rings.square_area() / (pixels * rings.pitch * rings.pitch)
    }
}

/// The Hann window at the middles of the pixels.
pub(super) fn window(side: usize) -> Vec<f64> {
    let value = |k: usize| {
        let sine = math::sin(core::f64::consts::PI * (k as f64 + 0.5) / side as f64);
        sine * sine
    };
    (0..side).map(value).collect()
}

/// Transforms all blocks. `None` if stopped.
pub(super) fn powers(
    grid: &Grid,
    ground: &Ground,
    plane: Plane<'_>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Sums> {
    let side = grid.side;
    let exact = window(side);
    let narrow: Vec<f32> = exact.iter().map(|w| *w as f32).collect();
    let fft = FftPlanner::<f32>::new().plan_fft_forward(side);
    let job = Job { grid, ground, plane, window: &narrow, fft: &*fft };
    let tasks = tasks(&ground.blocks);
    let parts: Vec<Part> = tasks.par_iter().map(|pairs| job.run(pairs, stop)).collect::<Option<_>>()?;
    let (mut sum, mut moments) = (vec![0.0; side * side], [0.0; 4]);
    for part in &parts {
        for (sum, more) in sum.iter_mut().zip(&part.power) {
            *sum += more;
        }
        for (sum, more) in moments.iter_mut().zip(part.moments) {
            *sum += more;
        }
    }
    let pitch = grid.pitch;
    let weight: f64 = exact.iter().map(|w| w * w).sum();
    let count = ground.blocks.len() as f64;
    let scale = pitch * pitch / (count * weight * weight);
    // The sums lie transposed; both the mirror image and the turn back happen here.
    let mirrored = |k: usize| (side - k) % side;
    let power = (0..side * side)
        .map(|k| {
            let (row, column) = (k / side, k % side);
            let there = sum[column * side + row] + sum[mirrored(column) * side + mirrored(row)];
            0.5 * scale * there
        })
        .collect();
    Some(Sums { power, moments })
}

struct Part {
    power: Vec<f64>,
    moments: [f64; 4],
}

struct Job<'a> {
    grid: &'a Grid,
    ground: &'a Ground,
    plane: Plane<'a>,
    window: &'a [f32],
    fft: &'a dyn Fft<f32>,
}

/// The rows of half a pair, transformed along.
struct Rows {
    /// What they are of: with the row of the half block.
    of: Option<Pair>,
    data: Vec<Complex<f32>>,
}

/// The fluctuation in a row of half blocks: light against the shading, in density, row by row of pixels.
struct Strip {
    row: Option<usize>,
    /// The first half block.
    column: usize,
    /// The width of a block in pixels.
    width: usize,
    values: Vec<f32>,
}

impl Job<'_> {
    fn run(&self, pairs: &[Pair], stop: &(dyn Fn() -> bool + Sync)) -> Option<Part> {
        let cells = self.grid.side * self.grid.side;
        let zero = Complex::new(0.0, 0.0);
        let rows = || Rows { of: None, data: vec![zero; cells / 2] };
        let mut part = Part { power: vec![0.0; cells], moments: [0.0; 4] };
        let mut lanes: [[Rows; 2]; COLUMNS_TOGETHER] = core::array::from_fn(|_| [rows(), rows()]);
        let strip = || Strip { row: None, column: 0, width: 0, values: Vec::new() };
        // Even and odd rows: the first pairs of a task need two beside each other.
        let mut strips = [strip(), strip()];
        let mut turned = vec![zero; SQUARE * self.grid.side];
        let mut scratch = vec![zero; self.fft.get_inplace_scratch_len()];
        let mut power = vec![0.0_f32; cells];
        for few in pairs.chunks(TOGETHER) {
            power.fill(0.0);
            for pair in few {
                if stop() {
                    return None;
                }
                let below = Pair { row: pair.row + 1, ..*pair };
                let halves = &mut lanes[pair.lane()];
                // The lower half of the block above is the upper half of this one.
                if halves[0].of != Some(*pair) {
                    halves.swap(0, 1);
                }
                for (half, of) in halves.iter_mut().zip([*pair, below]) {
                    if half.of != Some(of) {
                        let strip = &mut strips[of.row % 2];
                        self.look(of.row, pairs, strip, &mut part.moments);
                        self.along(of, strip, &mut half.data, &mut scratch);
                        half.of = Some(of);
                    }
                }
                self.down(halves, &mut turned, &mut scratch, &mut power);
            }
            // Single precision within a few blocks, double beyond.
            for (sum, more) in part.power.iter_mut().zip(&power) {
                *sum += f64::from(*more);
            }
        }
        Some(part)
    }

    /// Looks up the rows of half a block for all pairs that they are part of, unless `strip` holds them already.
    fn look(&self, row: usize, pairs: &[Pair], strip: &mut Strip, moments: &mut [f64; 4]) {
        if strip.row == Some(row) {
            return;
        }
        let parts = pairs.iter().filter(|pair| pair.row == row || pair.row + 1 == row);
        let (first, end) = parts.fold((usize::MAX, 0), |(first, end), pair| {
            (first.min(pair.column), end.max(pair.column + pair.count + 1))
        });
        let half = self.grid.side / 2;
        strip.row = Some(row);
        strip.column = first;
        strip.width = (end - first) * half;
        strip.values.resize(strip.width * half, 0.0);
        let nodes = strip.width / CELL + 1;
        let (x0, y0) = self.grid.pixel((first, row));
        let factors = self.ground.factors(self.grid, (x0, y0), (nodes, half / CELL + 1));
        let mut between = vec![0.0_f32; nodes];
        for (y, line) in strip.values.chunks_exact_mut(strip.width).enumerate() {
            self.plane.look_up(&self.ground.light, y0 + y, x0, line);
            let (upper, share) = (y / CELL * nodes, ((y % CELL) as f32 + 0.5) / CELL as f32);
            for (k, between) in between.iter_mut().enumerate() {
                let (above, below) = (factors[upper + k], factors[upper + nodes + k]);
                *between = above + share * (below - above);
            }
            let sums = fluctuation(line, &between);
            moments[0] += line.len() as f64;
            for (sum, more) in moments[1..].iter_mut().zip(sums) {
                *sum += more;
            }
        }
    }

    /// The rows of half a pair under the window along, transformed along.
    fn along(&self, half: Pair, strip: &Strip, out: &mut [Complex<f32>], scratch: &mut [Complex<f32>]) {
        let side = self.grid.side;
        let start = (half.column - strip.column) * side / 2;
        for (row, out) in strip.values.chunks_exact(strip.width).zip(out.chunks_exact_mut(side)) {
            let row = &row[start..start + (half.count + 1) * side / 2];
            wide(
                #[inline(always)]
                || {
                    let first = out.iter_mut().zip(row).zip(self.window);
                    if half.count == 2 {
                        for (((out, first), weight), other) in first.zip(&row[side / 2..]) {
                            *out = Complex::new(first * weight, other * weight);
                        }
                    } else {
                        for ((out, first), weight) in first {
                            *out = Complex::new(first * weight, 0.0);
                        }
                    }
                },
            );
        }
        self.fft.process_with_scratch(out, scratch);
    }

    /// Both halves of a pair under the window down, transformed down, their power added to `power`, which lies column by column.
    /// Few columns at a time: rows become columns square by square, for columns lie whole powers of two apart, which share few
    /// places of the cache.
    fn down(
        &self,
        halves: &[Rows; 2],
        turned: &mut [Complex<f32>],
        scratch: &mut [Complex<f32>],
        power: &mut [f32],
    ) {
        let side = self.grid.side;
        for (left, power) in (0..side).step_by(SQUARE).zip(power.chunks_exact_mut(SQUARE * side)) {
            self.turn(halves, left, turned);
            self.fft.process_with_scratch(turned, scratch);
            wide(
                #[inline(always)]
                || {
                    for (sum, value) in power.iter_mut().zip(&*turned) {
                        *sum += value.norm_sqr();
                    }
                },
            );
        }
    }

    /// Columns from `left` on under the window down, as rows.
    fn turn(&self, halves: &[Rows; 2], left: usize, to: &mut [Complex<f32>]) {
        wide(
            #[inline(always)]
            || {
                let side = self.grid.side;
                let half = side / 2;
                let mut square = [[Complex::new(0.0, 0.0); SQUARE]; SQUARE];
                for top in (0..side).step_by(SQUARE) {
                    let from = &halves[top / half].data;
                    for (y, weight) in self.window[top..top + SQUARE].iter().enumerate() {
                        let row = &from[(top % half + y) * side + left..][..SQUARE];
                        for (column, value) in square.iter_mut().zip(row) {
                            column[y] = value * weight;
                        }
                    }
                    for (x, column) in square.iter().enumerate() {
                        to[x * side + top..][..SQUARE].copy_from_slice(column);
                    }
                }
            },
        );
    }
}

/// Turns light into fluctuation, given what a row of it is multiplied with at the ends of its cells; the sums of its first,
/// second and fourth power.
fn fluctuation(row: &mut [f32], factors: &[f32]) -> [f64; 3] {
    let lg_e = LG_E as f32;
    wide(
        #[inline(always)]
        || {
            let mut sums = [[0.0_f32; CELL]; 3];
            for (k, cell) in row.as_chunks_mut::<CELL>().0.iter_mut().enumerate() {
                let (from, to) = (factors[k], factors[k + 1]);
                let step = (to - from) / CELL as f32;
                for x in 0..CELL {
                    let value = lg_e * (1.0 - cell[x] * (from + step * (x as f32 + 0.5)));
                    let square = value * value;
                    sums[0][x] += value;
                    sums[1][x] += square;
                    sums[2][x] += square * square;
                    cell[x] = value;
                }
            }
            sums.map(|lanes| lanes.iter().map(|lane| f64::from(*lane)).sum())
        },
    )
}
