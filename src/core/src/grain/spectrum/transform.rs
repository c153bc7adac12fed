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
use crate::scan::Plane;

/// Pairs of blocks below each other that one task transforms at least; the tasks are added up in their order.
const TASK: usize = 16;
/// Most tasks, about: each keeps a plane of sums.
const TASKS: usize = 64;
/// Pairs that are added up in single precision.
const TOGETHER: usize = 8;

/// A pair of neighbouring blocks, or one of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Pair {
    /// Of its first block, in half blocks.
    column: usize,
    /// One or two blocks.
    count: usize,
    row: usize,
}

/// The blocks as pairs, column of pairs after column, downwards in each.
fn pairs(blocks: &[(usize, usize)]) -> Vec<Vec<Pair>> {
    let mut columns: BTreeMap<usize, BTreeMap<usize, Pair>> = BTreeMap::new();
    for (column, row) in blocks {
        let entry = columns.entry(column / 2).or_default().entry(*row);
        let pair = entry.or_insert(Pair { column: *column, count: 0, row: *row });
        pair.column = pair.column.min(*column);
        pair.count += 1;
    }
    columns.into_values().map(|rows| rows.into_values().collect()).collect()
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
    let columns = pairs(&ground.blocks);
    let task = columns.iter().map(Vec::len).sum::<usize>().div_ceil(TASKS).max(TASK);
    let tasks: Vec<&[Pair]> = columns.iter().flat_map(|column| column.chunks(task)).collect();
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

/// The rows of half a block, transformed along.
struct Rows {
    /// What they are of: with the row of the half block.
    of: Option<Pair>,
    data: Vec<Complex<f32>>,
}

impl Job<'_> {
    fn run(&self, pairs: &[Pair], stop: &(dyn Fn() -> bool + Sync)) -> Option<Part> {
        let cells = self.grid.side * self.grid.side;
        let zero = Complex::new(0.0, 0.0);
        let rows = || Rows { of: None, data: vec![zero; cells / 2] };
        let mut part = Part { power: vec![0.0; cells], moments: [0.0; 4] };
        let mut halves = [rows(), rows()];
        let mut turned = vec![zero; cells];
        let mut scratch = vec![zero; self.fft.get_inplace_scratch_len()];
        let mut power = vec![0.0_f32; cells];
        for few in pairs.chunks(TOGETHER) {
            power.fill(0.0);
            for pair in few {
                if stop() {
                    return None;
                }
                let below = Pair { row: pair.row + 1, ..*pair };
                // The lower half of the block above is the upper half of this one.
                if halves[0].of != Some(*pair) {
                    halves.swap(0, 1);
                }
                for (half, of) in halves.iter_mut().zip([*pair, below]) {
                    if half.of != Some(of) {
                        self.along(of, &mut half.data, &mut scratch, &mut part.moments);
                        half.of = Some(of);
                    }
                }
                self.turn(&halves, &mut turned);
                self.fft.process_with_scratch(&mut turned, &mut scratch);
                for (sum, value) in power.iter_mut().zip(&turned) {
                    *sum += value.norm_sqr();
                }
            }
            // Single precision within a few blocks, double beyond.
            for (sum, more) in part.power.iter_mut().zip(&power) {
                *sum += f64::from(*more);
            }
        }
        Some(part)
    }

    /// Looks up the rows of half a pair, under the window along, and transforms them along.
    fn along(
        &self,
        half: Pair,
        out: &mut [Complex<f32>],
        scratch: &mut [Complex<f32>],
        moments: &mut [f64; 4],
    ) {
        let side = self.grid.side;
        let (width, values) = self.values(half, moments);
        for (row, out) in values.chunks_exact(width).zip(out.chunks_exact_mut(side)) {
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
        }
        self.fft.process_with_scratch(out, scratch);
    }

    /// Both halves under the window down, rows becoming columns, square by square: columns lie whole powers of two apart, which
    /// share few places of the cache, so each is written in one go.
    fn turn(&self, halves: &[Rows; 2], to: &mut [Complex<f32>]) {
        const SQUARE: usize = 16;
        let side = self.grid.side;
        let half = side / 2;
        let mut square = [[Complex::new(0.0, 0.0); SQUARE]; SQUARE];
        for top in (0..side).step_by(SQUARE) {
            let from = &halves[top / half].data;
            for left in (0..side).step_by(SQUARE) {
                for (y, weight) in self.window[top..top + SQUARE].iter().enumerate() {
                    let row = &from[(top % half + y) * side + left..][..SQUARE];
                    for (column, value) in square.iter_mut().zip(row) {
                        column[y] = value * weight;
                    }
                }
                for (x, column) in square.iter().enumerate() {
                    to[(left + x) * side + top..][..SQUARE].copy_from_slice(column);
                }
            }
        }
    }

    /// The fluctuation in half a pair: light against the shading, in density, row by row, and the length of its rows.
    fn values(&self, half: Pair, moments: &mut [f64; 4]) -> (usize, Vec<f32>) {
        let rows = self.grid.side / 2;
        let width = (half.count + 1) * rows;
        let nodes = width / CELL + 1;
        let (x0, y0) = self.grid.pixel((half.column, half.row));
        let factors = self.ground.factors(self.grid, (x0, y0), (nodes, rows / CELL + 1));
        let mut values = vec![0.0_f32; width * rows];
        let lg_e = LG_E as f32;
        let mut between = vec![0.0_f32; nodes];
        for (y, row) in values.chunks_exact_mut(width).enumerate() {
            self.plane.look_up(&self.ground.light, y0 + y, x0, row);
            let (upper, share) = (y / CELL * nodes, ((y % CELL) as f32 + 0.5) / CELL as f32);
            for (k, between) in between.iter_mut().enumerate() {
                let (above, below) = (factors[upper + k], factors[upper + nodes + k]);
                *between = above + share * (below - above);
            }
            let mut sums = [[0.0_f32; CELL]; 3];
            for (k, cell) in row.as_chunks_mut::<CELL>().0.iter_mut().enumerate() {
                let (from, to) = (between[k], between[k + 1]);
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
            moments[0] += width as f64;
            for (sum, lanes) in moments[1..].iter_mut().zip(sums) {
                *sum += lanes.iter().map(|lane| f64::from(*lane)).sum::<f64>();
            }
        }
        (width, values)
    }
}
