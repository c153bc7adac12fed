//! The second pass: blocks under a window, transformed, their power added up.
//!
//! Two blocks go through one complex transform, as its real and its imaginary part: the sum of their powers is
//! `(|C(k)|^2 + |C(-k)|^2) / 2`, so the squares of all pairs are added up first and made symmetric once, at the end.

use rayon::prelude::*;
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};

use super::LG_E;
use super::area::{CELL, Grid, Ground};
use super::radial::Radial;
use crate::numeric::math;
use crate::scan::Plane;

/// Blocks that one task transforms at least; the tasks are added up in their order.
const TASK: usize = 32;
/// Most tasks: each keeps a plane of sums.
const TASKS: usize = 64;
/// Blocks of a task that are looked up together.
const TOGETHER: usize = 8;

/// What all blocks gave.
#[derive(Debug, Clone)]
pub(super) struct Sums {
    /// Mean power by cell, `row * side + column`, in density squared times square micrometres.
    pub(super) power: Vec<f64>,
    /// Pixels looked up, and sums of the first, second and fourth power of their fluctuation. Pixels that runs of blocks
    /// share count as often as they were looked up.
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
    let task = ground.blocks.len().div_ceil(TASKS).next_multiple_of(TOGETHER).max(TASK);
    let tasks: Vec<&[(usize, usize)]> = ground.blocks.chunks(task).collect();
    let parts: Vec<Part> = tasks.par_iter().map(|blocks| job.run(blocks, stop)).collect::<Option<_>>()?;
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

/// The fluctuation of blocks side by side, pixel by pixel.
struct Run {
    width: usize,
    values: Vec<f32>,
}

impl Job<'_> {
    fn run(&self, blocks: &[(usize, usize)], stop: &(dyn Fn() -> bool + Sync)) -> Option<Part> {
        let cells = self.grid.side * self.grid.side;
        let zero = Complex::new(0.0, 0.0);
        let mut part = Part { power: vec![0.0; cells], moments: [0.0; 4] };
        let mut room = Room {
            data: vec![zero; cells],
            turned: vec![zero; cells],
            scratch: vec![zero; self.fft.get_inplace_scratch_len()],
            power: vec![0.0; cells],
        };
        // Single precision within a few blocks, double beyond.
        for few in blocks.chunks(TOGETHER) {
            if stop() {
                return None;
            }
            room.power.fill(0.0);
            self.few(few, &mut room, &mut part.moments);
            for (sum, more) in part.power.iter_mut().zip(&room.power) {
                *sum += f64::from(*more);
            }
        }
        Some(part)
    }

    fn few(&self, blocks: &[(usize, usize)], room: &mut Room, moments: &mut [f64; 4]) {
        let side = self.grid.side;
        // Neighbours in a row share half of their pixels, which are looked up once.
        let mut runs: Vec<Run> = Vec::new();
        let mut places: Vec<(usize, usize)> = Vec::with_capacity(blocks.len());
        for run in blocks.chunk_by(|a, b| a.1 == b.1 && a.0 + 1 == b.0) {
            places.extend((0..run.len()).map(|k| (runs.len(), k * side / 2)));
            runs.push(self.values(run, moments));
        }
        let rows = |place: &(usize, usize)| {
            let (run, from) = (&runs[place.0], place.1);
            run.values.chunks_exact(run.width).map(move |row| &row[from..from + side])
        };
        let (mut weights, nothing) = (vec![0.0_f32; side], vec![0.0_f32; side]);
        for pair in places.chunks(2) {
            let mut second = pair.get(1).map(rows);
            for (y, first) in rows(&pair[0]).enumerate() {
                let other = second.as_mut().and_then(Iterator::next).unwrap_or(&nothing);
                for (weight, horizontal) in weights.iter_mut().zip(self.window) {
                    *weight = horizontal * self.window[y];
                }
                let out = &mut room.data[y * side..(y + 1) * side];
                for (((out, first), other), weight) in out.iter_mut().zip(first).zip(other).zip(&weights) {
                    *out = Complex::new(first * weight, other * weight);
                }
            }
            self.fft.process_with_scratch(&mut room.data, &mut room.scratch);
            transpose(&room.data, &mut room.turned, side);
            self.fft.process_with_scratch(&mut room.turned, &mut room.scratch);
            for (sum, value) in room.power.iter_mut().zip(&room.turned) {
                *sum += value.norm_sqr();
            }
        }
    }

    /// The fluctuation of blocks that lie side by side: light against the shading, in density.
    fn values(&self, blocks: &[(usize, usize)], moments: &mut [f64; 4]) -> Run {
        let side = self.grid.side;
        let width = (blocks.len() + 1) * side / 2;
        let (x0, y0) = self.grid.pixel(blocks[0]);
        let nodes = width / CELL + 1;
        let factors = self.ground.factors(self.grid, (x0, y0), nodes);
        let mut values = vec![0.0_f32; width * side];
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
        Run { width, values }
    }
}

/// What one task works in.
struct Room {
    data: Vec<Complex<f32>>,
    turned: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    power: Vec<f32>,
}

/// Rows become columns, square by square so that both lie in the cache.
fn transpose(from: &[Complex<f32>], to: &mut [Complex<f32>], side: usize) {
    const SQUARE: usize = 16;
    for top in (0..side).step_by(SQUARE) {
        for left in (0..side).step_by(SQUARE) {
            for y in top..(top + SQUARE).min(side) {
                for x in left..(left + SQUARE).min(side) {
                    to[x * side + y] = from[y * side + x];
                }
            }
        }
    }
}
