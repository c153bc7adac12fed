//! Windowed, half-overlapped blocks of all prints and their spectra, summed over annuli of spatial frequency.
//!
//! Each block has its plane taken off and a Hann window laid on, as P. D. Welch's averaged periodograms do (IEEE Trans.
//! Audio Electroacoust. 15, 1967). Two prints share one complex transform.

use std::sync::Arc;

use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};

use super::sampling::Source;
use crate::geometry::Point;
use crate::numeric::math;
use crate::numeric::tilt::Tilt;
use crate::numeric::wide::wide;

/// Sums of one annulus of one block: three powers, then three cross-spectra (12, 13, 23) as real and imaginary part.
pub(super) const PARTS: usize = 9;
/// What one annulus of one block holds.
pub(super) type Parts = [f32; PARTS];
/// Fourier coefficients below this many cycles per pixel tell a block's shift.
const SHIFT_BAND: f64 = 0.2;
/// The first annulus that is used; below it the window and the plane that is taken off rule.
pub(super) const FIRST: usize = 2;
/// Highest frequency, in cycles per pixel of the coarser print: beyond, pixels and kernel rule.
const HIGHEST: f64 = 0.42;

/// Where blocks lie in the reference's picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grid {
    pub(super) side: usize,
    pub(super) x0: usize,
    pub(super) y0: usize,
    pub(super) columns: usize,
    pub(super) rows: usize,
}

impl Grid {
    /// As many blocks as fit into a rectangle of the picture, in its middle.
    pub(super) fn within((x0, y0): (usize, usize), (width, height): (usize, usize), side: usize) -> Self {
        let step = side / 2;
        let count = |length: usize| if length < side { 0 } else { (length - side) / step + 1 };
        let (columns, rows) = (count(width), count(height));
        let rest = |length: usize, count: usize| length.saturating_sub((count + 1) * step) / 2;
        Self { side, x0: x0 + rest(width, columns), y0: y0 + rest(height, rows), columns, rows }
    }

    /// Upper left pixel of a block.
    pub(super) fn corner(&self, (column, row): (usize, usize)) -> (usize, usize) {
        (self.x0 + column * self.side / 2, self.y0 + row * self.side / 2)
    }
}

/// One pair of opposite Fourier coefficients.
#[derive(Debug, Clone, Copy)]
struct Cell {
    at: usize,
    against: usize,
    annulus: usize,
    kx: i32,
    ky: i32,
    /// One over the amplitude that sampling leaves, for second and third print.
    amplitude: [f32; 2],
    /// One over the power.
    power: [f32; 2],
}

/// What is the same for all blocks of a size.
pub(super) struct Plan {
    pub(super) side: usize,
    /// Annuli, those below [`FIRST`] included.
    pub(super) annuli: usize,
    /// Mean frequency of each annulus in cycles per pixel of the reference's picture.
    pub(super) frequency: Vec<f64>,
    /// Pairs of opposite coefficients in each annulus.
    pub(super) count: Vec<usize>,
    window: Vec<f32>,
    fft: Arc<dyn Fft<f32>>,
    cells: Vec<Cell>,
    /// Of them, those that tell shifts stand first.
    low: usize,
}

/// Working memory of one thread.
pub(super) struct Room {
    pair: Vec<Complex<f32>>,
    third: Vec<Complex<f32>>,
    other: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    /// Pixels of the prints.
    pub(super) pixels: [Vec<f32>; 3],
}

impl Plan {
    /// For blocks of `side` pixels (even) sampled from `sources`, with their response near `middle`.
    pub(super) fn new(side: usize, sources: &[Source<'_>], middle: Point) -> Self {
        let coarser = sources.iter().map(|source| source.scale_at(middle)).fold(1.0, f64::min);
        let annuli = ((HIGHEST * coarser * side as f64) as usize).max(FIRST + 1) + 1;
        let half = (side / 2) as i32;
        let index = |k: i32| k.rem_euclid(side as i32) as usize;
        let mut cells = Vec::new();
        let (mut sum, mut count) = (vec![0.0; annuli], vec![0_usize; annuli]);
        for ky in 0..half {
            for kx in 1 - half..half {
                if ky == 0 && kx <= 0 {
                    continue;
                }
                let radius = math::hypot(f64::from(kx), f64::from(ky));
                let annulus = radius.round() as usize;
                if annulus >= annuli {
                    continue;
                }
                sum[annulus] += radius / side as f64;
                count[annulus] += 1;
                let f = (f64::from(kx) / side as f64, f64::from(ky) / side as f64);
                let (mut amplitude, mut power) = ([1.0; 2], [1.0; 2]);
                for (n, source) in sources.iter().enumerate() {
                    let response = source.response(middle, f);
                    (amplitude[n], power[n]) = ((1.0 / response.0) as f32, (1.0 / response.1) as f32);
                }
                cells.push(Cell {
                    at: index(ky) * side + index(kx),
                    against: index(-ky) * side + index(-kx),
                    annulus,
                    kx,
                    ky,
                    amplitude,
                    power,
                });
            }
        }
        let edge = SHIFT_BAND * side as f64;
        let is_low = |cell: &Cell| cell.annulus >= FIRST && (cell.annulus as f64) < edge;
        cells.sort_by_key(|cell| (!is_low(cell), cell.at));
        let low = cells.iter().filter(|cell| is_low(cell)).count();
        let wave = |n: usize| math::sin(core::f64::consts::PI * (n as f64 + 0.5) / side as f64);
        let window = (0..side).map(|n| (wave(n) * wave(n)) as f32).collect();
        let frequency = sum.iter().zip(&count).map(|(sum, count)| sum / (*count).max(1) as f64).collect();
        let fft = FftPlanner::new().plan_fft_forward(side);
        Self { side, annuli, frequency, count, window, fft, cells, low }
    }

    /// Memory for one thread.
    pub(super) fn room(&self) -> Room {
        let empty = || vec![Complex::default(); self.side * self.side];
        Room {
            pair: empty(),
            third: empty(),
            other: empty(),
            scratch: vec![Complex::default(); self.fft.get_inplace_scratch_len()],
            pixels: core::array::from_fn(|_| vec![0.0; self.side * self.side]),
        }
    }

    /// Coefficients of the block whose pixels lie in `room`, `prints` of them.
    pub(super) fn transform(&self, room: &mut Room, prints: usize) {
        for pixels in room.pixels.iter_mut().take(prints) {
            self.flatten(pixels);
        }
        let [one, two, three] = &room.pixels;
        for ((pair, one), two) in room.pair.iter_mut().zip(one).zip(two) {
            *pair = Complex::new(*one, *two);
        }
        self.both_ways(&mut room.pair, &mut room.other, &mut room.scratch);
        if prints > 2 {
            for (out, three) in room.third.iter_mut().zip(three) {
                *out = Complex::new(*three, 0.0);
            }
            self.both_ways(&mut room.third, &mut room.other, &mut room.scratch);
        }
    }

    /// Takes the plane of least squares off and lays the window on.
    fn flatten(&self, pixels: &mut [f32]) {
        let side = self.side;
        let tilt = Tilt::of(pixels, side);
        let middle = (side as f32 - 1.0) / 2.0;
        let (mean, along, down) = (tilt.mean as f32, tilt.along as f32, tilt.down as f32);
        wide(
            #[inline(always)]
            || {
                for (y, row) in pixels.chunks_exact_mut(side).enumerate() {
                    let level = mean + down * (y as f32 - middle) - along * middle;
                    let across = self.window[y];
                    for (x, (value, window)) in row.iter_mut().zip(&self.window).enumerate() {
                        *value = (*value - level - along * x as f32) * (window * across);
                    }
                }
            },
        );
    }

    fn both_ways(&self, data: &mut [Complex<f32>], other: &mut [Complex<f32>], scratch: &mut [Complex<f32>]) {
        self.fft.process_with_scratch(data, scratch);
        turned(data, other, self.side);
        self.fft.process_with_scratch(other, scratch);
        turned(other, data, self.side);
    }

    /// Sums over annuli, the second and third print moved back by `shifts` (in pixels of the reference).
    pub(super) fn annular(&self, room: &Room, shifts: [(f64, f64); 2], prints: usize, out: &mut [Parts]) {
        let turns = shifts.map(|shift| self.turns(shift));
        let turn = |n: usize, cell: &Cell| {
            let (x, y) = &turns[n];
            x[(cell.kx + self.side as i32 / 2) as usize] * y[cell.ky as usize]
        };
        for cell in &self.cells {
            let (a, b) = split(room.pair[cell.at], room.pair[cell.against]);
            let b = b * turn(0, cell);
            let sums = &mut out[cell.annulus];
            let cross = a.conj() * b * cell.amplitude[0];
            sums[0] += a.norm_sqr();
            sums[1] += b.norm_sqr() * cell.power[0];
            sums[3] += cross.re;
            sums[4] += cross.im;
            if prints > 2 {
                let c = room.third[cell.at] * turn(1, cell);
                let (with_a, with_b) = (
                    a.conj() * c * cell.amplitude[1],
                    b.conj() * c * (cell.amplitude[0] * cell.amplitude[1]),
                );
                sums[2] += c.norm_sqr() * cell.power[1];
                sums[5] += with_a.re;
                sums[6] += with_a.im;
                sums[7] += with_b.re;
                sums[8] += with_b.im;
            }
        }
    }

    /// `exp(2 pi i k d / side)` along and down.
    pub(super) fn turns(&self, (dx, dy): (f64, f64)) -> (Vec<Complex<f32>>, Vec<Complex<f32>>) {
        let unit = core::f64::consts::TAU / self.side as f64;
        let of = |angle: f64| {
            let (sin, cos) = math::sincos(angle);
            Complex::new(cos as f32, sin as f32)
        };
        let half = self.side as i32 / 2;
        let along = (-half..half).map(|k| of(unit * f64::from(k) * dx)).collect();
        let down = (0..half).map(|k| of(unit * f64::from(k) * dy)).collect();
        (along, down)
    }

    /// Cross-spectrum of reference and another print (0 the second, 1 the third) where it tells the block's shift.
    pub(super) fn low_cross(&self, room: &Room, print: usize) -> Vec<Complex<f32>> {
        let product = |cell: &Cell| {
            let (a, b) = split(room.pair[cell.at], room.pair[cell.against]);
            a.conj() * if print == 0 { b } else { room.third[cell.at] }
        };
        self.cells[..self.low].iter().map(product).collect()
    }

    /// The coefficients of [`Plan::low_cross`]: annulus, and whole cycles per block along and down.
    pub(super) fn low_cells(&self) -> impl Iterator<Item = (usize, i32, i32)> {
        self.cells[..self.low].iter().map(|cell| (cell.annulus, cell.kx, cell.ky))
    }

    /// All coefficients of an annulus, both halves, by their whole numbers of cycles per block.
    pub(super) fn members(&self, annulus: usize) -> Vec<(i32, i32)> {
        let these = self.cells.iter().filter(|cell| cell.annulus == annulus);
        these.flat_map(|cell| [(cell.kx, cell.ky), (-cell.kx, -cell.ky)]).collect()
    }

    /// Overlap of the window with itself half a block further on (`half`) or in place, at `lag` cycles per block: the
    /// square of what two such coefficients of white noise have in common.
    pub(super) fn window_overlap(&self, half: bool, lag: i32) -> f64 {
        let by = if half { self.side / 2 } else { 0 };
        let (mut re, mut im, mut all) = (0.0, 0.0, 0.0);
        for (n, w) in self.window.iter().enumerate() {
            all += f64::from(*w) * f64::from(*w);
            let Some(next) = self.window.get(n + by) else { continue };
            let (sin, cos) =
                math::sincos(core::f64::consts::TAU * f64::from(lag) * n as f64 / self.side as f64);
            let product = f64::from(*w) * f64::from(*next);
            re += product * cos;
            im += product * sin;
        }
        (re * re + im * im) / (all * all)
    }
}

/// The coefficients of two real pictures from those of one as real part and the other as imaginary part.
fn split(at: Complex<f32>, against: Complex<f32>) -> (Complex<f32>, Complex<f32>) {
    let against = against.conj();
    let difference = (at - against) * 0.5;
    ((at + against) * 0.5, Complex::new(difference.im, -difference.re))
}

/// Rows become columns, in squares that fit the processor's nearest memory.
fn turned(from: &[Complex<f32>], to: &mut [Complex<f32>], side: usize) {
    const PIECE: usize = 8;
    for y0 in (0..side).step_by(PIECE) {
        for x0 in (0..side).step_by(PIECE) {
            for y in y0..(y0 + PIECE).min(side) {
                for x in x0..(x0 + PIECE).min(side) {
                    to[x * side + y] = from[y * side + x];
                }
            }
        }
    }
}
