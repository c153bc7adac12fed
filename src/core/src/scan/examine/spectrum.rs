//! The noise of the plainest places of a scan: its power by spatial frequency, and what differs from pixel to pixel.

use rustfft::FftPlanner;
use rustfft::num_complex::Complex;

use super::quiet::Quiet;
use super::tiles::{Tile, Tiles};
use crate::numeric::{math, robust};

/// Side of a block in pixels.
pub(super) const SIDE: usize = 32;
/// Blocks begin so many pixels apart.
const STRIDE: usize = 16;
/// Share of the blocks that is taken as plain.
const PLAIN: f64 = 0.25;
/// Fewer plain blocks say nothing.
const LEAST_BLOCKS: usize = 8;
/// Frequencies from this many cycles per pixel on along both axes are the corner of the spectrum.
const CORNER: f64 = 0.36;

/// One plain block.
#[derive(Debug, Clone)]
pub(super) struct Block {
    /// The mean code of the block.
    pub(super) mean: f64,
    /// Variance of its codes.
    pub(super) variance: f64,
    /// Variance of what differs from pixel to pixel: of (a - b - c + d) / 2 over squares of four, without outliers.
    pub(super) white: f64,
    /// Power in the corner of its spectrum: what of its noise a lens cannot have let through, in squared codes.
    pub(super) corner: f64,
    /// Share of neighbours along rows that are equal, and the share that their spread lets expect.
    pub(super) equal: (f64, f64),
}

/// Plain blocks and their mean spectrum.
#[derive(Debug, Clone)]
pub(super) struct Spectrum {
    pub(super) blocks: Vec<Block>,
    /// Median over blocks of the power in the corner of the spectrum, in squared codes.
    pub(super) corner: f64,
    /// Power in the outermost corner over that further in: 1 for white noise.
    pub(super) fall: f64,
    /// Power along the axes, in squared codes: median over blocks, by frequency in 32nds.
    pub(super) axis: Vec<f64>,
    /// What differs from pixel to pixel by how quiet it is around; `None` where nothing differs.
    pub(super) quiet: Option<Quiet>,
}

/// A block before it is known whether it is plain.
pub(super) struct Candidate<'a> {
    pub(super) tile: &'a Tile,
    pub(super) x: usize,
    pub(super) y: usize,
    pub(super) coarse: f64,
}

impl Spectrum {
    /// `None` where the scan, whose codes lie `unit` apart, holds no plain places with noise in them.
    pub(super) fn of(tiles: &Tiles, unit: f64) -> Option<Self> {
        let mut candidates: Vec<Candidate<'_>> =
            tiles.tiles.iter().flat_map(|tile| candidates(tile, tiles.top)).collect();
        candidates.sort_by(|a, b| a.coarse.total_cmp(&b.coarse));
        let count = ((candidates.len() as f64 * PLAIN) as usize).max(LEAST_BLOCKS).min(candidates.len());
        candidates.truncate(count);
        // A place with structure of its own is no plain one, however few there are.
        candidates.retain(|candidate| candidate.coarse < 0.5);
        if candidates.len() < LEAST_BLOCKS {
            return None;
        }
        let powers = powers(&candidates);
        let corner_of = |power: &Vec<f64>| corner(power, CORNER, 0.51);
        let blocks: Vec<Block> =
            candidates.iter().zip(&powers).map(|(at, power)| block(at, corner_of(power))).collect();
        let corners = |from: f64, to: f64| {
            let of: Vec<f64> = powers.iter().map(|power| corner(power, from, to)).collect();
            robust::median(&of).unwrap_or(0.0)
        };
        let fall = corners(0.44, 0.51) / corners(0.29, 0.38).max(f64::MIN_POSITIVE);
        let axis = (0..=SIDE / 2)
            .map(|k| {
                let of = |power: &Vec<f64>| (power[k] + power[k * SIDE]) / 2.0;
                robust::median(&powers.iter().map(of).collect::<Vec<f64>>()).unwrap_or(0.0)
            })
            .collect();
        let quiet = Quiet::of(&candidates, unit);
        Some(Self { corner: corners(CORNER, 0.51), fall, axis, quiet, blocks })
    }

    /// Standard deviation of what differs from pixel to pixel, in codes: the median over blocks.
    pub(super) fn noise(&self) -> f64 {
        let white: Vec<f64> = self.blocks.iter().map(|block| block.white).collect();
        math::sqrt(robust::median(&white).unwrap_or(0.0))
    }

    /// Median variance of the blocks.
    pub(super) fn variance(&self) -> f64 {
        let all: Vec<f64> = self.blocks.iter().map(|block| block.variance).collect();
        robust::median(&all).unwrap_or(0.0)
    }
}

pub(super) fn at(tile: &Tile, x: usize, y: usize) -> f64 {
    f64::from(tile.codes[y * tile.width + x])
}

/// All blocks of a tile that have noise and are not cut off.
fn candidates(tile: &Tile, top: f64) -> Vec<Candidate<'_>> {
    let starts = |length: usize| (0..(length + 1).saturating_sub(SIDE)).step_by(STRIDE);
    let mut found = Vec::new();
    for y in starts(tile.height) {
        for x in starts(tile.width) {
            if let Some(coarse) = coarse(tile, x, y, top) {
                found.push(Candidate { tile, x, y, coarse });
            }
        }
    }
    found
}

/// Share of the variance that lies in means of 8 x 8 pixels; `None` without variance or with clipped pixels.
fn coarse(tile: &Tile, x: usize, y: usize, top: f64) -> Option<f64> {
    const CELL: usize = 8;
    let along = SIDE / CELL;
    let mut cells = vec![0.0; along * along];
    let (mut sum, mut square) = (0.0, 0.0);
    for j in 0..SIDE {
        for i in 0..SIDE {
            let code = at(tile, x + i, y + j);
            if code <= 0.0 || code >= top {
                return None;
            }
            cells[j / CELL * along + i / CELL] += code;
            sum += code;
            square += code * code;
        }
    }
    let n = (SIDE * SIDE) as f64;
    let mean = sum / n;
    let variance = square / n - mean * mean;
    let per_cell = (CELL * CELL) as f64;
    let of_cells = cells.iter().map(|cell| (cell / per_cell - mean) * (cell / per_cell - mean)).sum::<f64>();
    (variance > 0.05).then(|| of_cells / cells.len() as f64 / variance)
}

fn block(of: &Candidate<'_>, corner: f64) -> Block {
    let n = (SIDE * SIDE) as f64;
    let (mut sum, mut square, mut equal) = (0.0, 0.0, 0.0);
    let mut across = Vec::with_capacity(SIDE * SIDE);
    let mut checkers = Vec::with_capacity(SIDE * SIDE / 4);
    for j in 0..SIDE {
        for i in 0..SIDE {
            let code = at(of.tile, of.x + i, of.y + j);
            sum += code;
            square += code * code;
            if i + 1 < SIDE {
                let step = at(of.tile, of.x + i + 1, of.y + j) - code;
                equal += f64::from(u8::from(step == 0.0));
                across.push(step.abs());
            }
            if i % 2 == 0 && j % 2 == 0 {
                let next = |dx, dy| at(of.tile, of.x + i + dx, of.y + j + dy);
                checkers.push((code - next(1, 0) - next(0, 1) + next(1, 1)) / 2.0);
            }
        }
    }
    let mean = sum / n;
    let white = white_of(&checkers);
    let sorted = robust::sorted(&across);
    let spread = robust::quantile_of_sorted(&sorted, 0.9).unwrap_or(0.0) / 1.645;
    // A normal difference of that spread, rounded to whole codes, is zero so often.
    let expected = if spread > 0.4 { 1.0 / (spread * math::sqrt(core::f64::consts::TAU)) } else { 1.0 };
    let pairs = across.len() as f64;
    Block {
        mean,
        variance: square / n - mean * mean,
        white,
        corner,
        equal: (equal / pairs, expected.min(1.0)),
    }
}

/// Variance of differences without those beyond five robust sigma.
pub(crate) fn white_of(checkers: &[f64]) -> f64 {
    let sizes = robust::sorted(&checkers.iter().map(|d| d.abs()).collect::<Vec<f64>>());
    let quantile = |p| robust::quantile_of_sorted(&sizes, p).unwrap_or(0.0);
    let limit = 5.0 * (quantile(0.5) * robust::MAD_TO_SIGMA).max(quantile(0.9) / 1.645);
    let (mut sum, mut count) = (0.0, 0.0);
    for size in sizes.iter().take_while(|size| **size <= limit) {
        sum += size * size;
        count += 1.0;
    }
    sum / f64::max(count, 1.0)
}

/// Power of each block by frequency along x and y, in squared codes: white noise of variance v gives v everywhere.
fn powers(blocks: &[Candidate<'_>]) -> Vec<Vec<f64>> {
    let transform = FftPlanner::<f64>::new().plan_fft_forward(SIDE);
    let window: Vec<f64> = (0..SIDE)
        .map(|i| {
            let (sin, _) = math::sincos(core::f64::consts::PI * (i as f64 + 0.5) / SIDE as f64);
            sin * sin
        })
        .collect();
    let weight: f64 = window.iter().map(|w| w * w).sum();
    let power = |block: &Candidate<'_>| {
        let mut mean = 0.0;
        for j in 0..SIDE {
            for i in 0..SIDE {
                mean += at(block.tile, block.x + i, block.y + j);
            }
        }
        mean /= (SIDE * SIDE) as f64;
        let mut data: Vec<Complex<f64>> = (0..SIDE * SIDE)
            .map(|k| {
                let (i, j) = (k % SIDE, k / SIDE);
                let value = at(block.tile, block.x + i, block.y + j) - mean;
                Complex::new(value * window[i] * window[j], 0.0)
            })
            .collect();
        transform.process(&mut data);
        let mut turned: Vec<Complex<f64>> =
            (0..SIDE * SIDE).map(|k| data[(k % SIDE) * SIDE + k / SIDE]).collect();
        transform.process(&mut turned);
        turned.iter().map(|value| value.norm_sqr() / (weight * weight)).collect()
    };
    blocks.iter().map(power).collect()
}

/// A frequency of the transform in cycles per pixel, without its sign.
fn frequency(k: usize) -> f64 {
    k.min(SIDE - k) as f64 / SIDE as f64
}

/// Power where the frequencies along both axes lie between two bounds.
fn corner(power: &[f64], from: f64, to: f64) -> f64 {
    let within = |k: usize| (from..to).contains(&frequency(k));
    let mut values = Vec::new();
    for (k, value) in power.iter().enumerate() {
        if within(k % SIDE) && within(k / SIDE) {
            values.push(*value);
        }
    }
    // The median of an exponential distribution is ln 2 of its mean; a median is not moved by a speck of dust.
    robust::median(&values).unwrap_or(0.0) / core::f64::consts::LN_2
}
