//! Rings of frequencies: their mean power, how they vary together, and sums over them with their uncertainty.

use std::collections::BTreeSet;

use super::transform::window;
use super::{RadialBin, mean_square};
use crate::measured::Flags;
use crate::numeric::math;

/// Cells of the transform so far apart share nothing worth counting under a Hann window.
const REACH: usize = 3;
/// Rings so far apart share nothing.
const BAND: usize = 5;
/// The first ring: below it the window mixes in frequency zero, which the fitted shading took away.
pub(super) const FIRST: usize = 2;

/// Relative covariance of the mean power of two cells by their distance along both axes, for the blocks averaged:
/// `sum over pairs of blocks |sum w(n) w(n - s) e^(2 pi i d n / N)|^2 / (sum w^2)^2 / K^2`.
#[derive(Debug, Clone)]
pub(super) struct Kernel {
    values: [[f64; REACH + 1]; REACH + 1],
}

impl Kernel {
    pub(super) fn new(side: usize, blocks: &[(usize, usize)]) -> Self {
        let window = window(side);
        let shared = [shared(&window, 0), shared(&window, side / 2)];
        let known: BTreeSet<(usize, usize)> = blocks.iter().copied().collect();
        let count = blocks.len() as f64;
        let mut values = [[0.0; REACH + 1]; REACH + 1];
        for dy in [-1_isize, 0, 1] {
            for dx in [-1_isize, 0, 1] {
                let moved = |at: &&(usize, usize)| {
                    let (x, y) = (at.0.checked_add_signed(dx), at.1.checked_add_signed(dy));
                    x.zip(y).is_some_and(|at| known.contains(&at))
                };
                let pairs = blocks.iter().filter(moved).count() as f64;
                for (y, row) in values.iter_mut().enumerate() {
                    for (x, value) in row.iter_mut().enumerate() {
                        *value += pairs / (count * count)
                            * shared[dy.unsigned_abs()][y]
                            * shared[dx.unsigned_abs()][x];
                    }
                }
            }
        }
        Self { values }
    }

    /// Relative variance of one cell.
    pub(super) fn of_cell(&self) -> f64 {
        self.values[0][0]
    }

    /// Independent blocks that the average is worth.
    pub(super) fn effective_blocks(&self) -> f64 {
        1.0 / self.of_cell()
    }

    /// Sum over all distances: what the relative variance of a mean over many cells is times their number.
    pub(super) fn sum(&self) -> f64 {
        let times = |k: usize| if k == 0 { 1.0 } else { 2.0 };
        let row = |(y, row): (usize, &[f64; REACH + 1])| {
            row.iter().enumerate().map(|(x, value)| times(x) * times(y) * value).sum::<f64>()
        };
        self.values.iter().enumerate().map(row).sum()
    }
}

/// `|sum w(n) w(n - shift) e^(2 pi i d n / N)|^2 / (sum w^2)^2` for d = 0, 1, ...
fn shared(window: &[f64], shift: usize) -> [f64; REACH + 1] {
    let total: f64 = window.iter().map(|w| w * w).sum();
    core::array::from_fn(|distance| {
        let (mut re, mut im) = (0.0, 0.0);
        for (n, (first, second)) in window[shift..].iter().zip(window).enumerate() {
            let (sine, cosine) =
                math::sincos(core::f64::consts::TAU * (distance * n) as f64 / window.len() as f64);
            re += first * second * cosine;
            im += first * second * sine;
        }
        (re * re + im * im) / (total * total)
    })
}

/// What is taken off for the scanner.
#[derive(Debug, Clone, PartialEq)]
enum Taken {
    /// The same at all frequencies, and its uncertainty.
    White(f64, f64),
    /// Ring by ring: the power, which of the noise's own rings it lies between (the lower one, and the share of the next), and
    /// what its error is multiplied with.
    Rings { power: Vec<f64>, place: Vec<(usize, f64)>, gain: Vec<f64>, noise: Box<Radial> },
}

/// The rings of a spectrum.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Radial {
    side: usize,
    pub(super) pitch: f64,
    /// Area of one cell in the plane of frequencies, per square micrometre.
    pub(super) cell: f64,
    /// Cells of each ring, over the whole plane.
    pub(super) cells: Vec<f64>,
    /// Mean distance from zero of each ring, in cells.
    pub(super) radius: Vec<f64>,
    /// Mean power as measured.
    pub(super) measured: Vec<f64>,
    /// What is taken off for the scanner.
    taken: Taken,
    /// Relative covariance of ring k and ring k + j.
    covariance: Vec<[f64; BAND + 1]>,
    /// Relative variance that all rings share, as measured.
    pub(super) common: f64,
    /// Relative standard uncertainty by the calibration's gradient of what is left.
    pub(super) gradient: f64,
    /// What the value at zero is made of: it is the sum of these times the rings' power.
    pub(super) zero: Vec<f64>,
}

/// A frequency of the transform, in cells, with its sign.
pub(super) fn signed(k: usize, side: usize) -> isize {
    if k > side / 2 { k as isize - side as isize } else { k as isize }
}

/// The ring of each cell; `u16::MAX` where it is in none.
pub(super) fn ring_of_cells(side: usize, without: &[usize]) -> Vec<u16> {
    let ring = |cell: usize| {
        let (x, y) = (signed(cell % side, side), signed(cell / side, side));
        if x.abs() <= 1 && y.abs() <= 1 {
            return u16::MAX;
        }
        math::sqrt((x * x + y * y) as f64).round() as u16
    };
    let mut rings: Vec<u16> = (0..side * side).map(ring).collect();
    for cell in without {
        rings[*cell] = u16::MAX;
    }
    rings
}

impl Radial {
    /// The rings of a plane of power, without some cells.
    pub(super) fn new(power: &[f64], side: usize, pitch: f64, kernel: &Kernel, without: &[usize]) -> Self {
        let rings = ring_of_cells(side, without);
        let count =
            rings.iter().filter(|ring| **ring != u16::MAX).max().map_or(0, |last| usize::from(*last) + 1);
        let (mut cells, mut radius, mut measured) = (vec![0.0; count], vec![0.0; count], vec![0.0; count]);
        for (cell, ring) in rings.iter().enumerate().filter(|(_, ring)| **ring != u16::MAX) {
            let ring = usize::from(*ring);
            cells[ring] += 1.0;
            let (x, y) = (signed(cell % side, side), signed(cell / side, side));
            radius[ring] += math::sqrt((x * x + y * y) as f64);
            measured[ring] += power[cell];
        }
        for ring in 0..count {
            let number = f64::max(cells[ring], 1.0);
            radius[ring] /= number;
            measured[ring] /= number;
        }
        let covariance = covariance(&rings, side, kernel, &cells);
        let step = 1.0 / (side as f64 * pitch);
        let (cell, zero) = (step * step, vec![0.0; count]);
        Self {
            side,
            pitch,
            cell,
            cells,
            radius,
            measured,
            taken: Taken::White(0.0, 0.0),
            covariance,
            common: 0.0,
            gradient: 0.0,
            zero,
        }
    }

    /// The last ring that is whole.
    pub(super) fn last(&self) -> usize {
        (self.side / 2).min(self.cells.len().saturating_sub(1))
    }

    /// Takes the scanner's white noise off every ring.
    pub(super) fn take_off(&mut self, power: f64, u: f64) {
        self.taken = Taken::White(power, u);
    }

    /// Takes measured noise off, ring by ring. Where it was measured as half the difference of two scans that lie `apart` pixels
    /// from each other it holds `2 sin^2(pi f d)` times the grain's power, by the mean over directions `1 - J0(2 pi f d)`: with it
    /// and the measured sum of grain and noise the noise alone follows.
    pub(super) fn take_off_rings(&mut self, noise: &Self, apart: f64) {
        let (mut powers, mut places, mut gains) = (Vec::new(), Vec::new(), Vec::new());
        for ring in 0..self.cells.len() {
            let radius = self.frequency(self.radius[ring]) / noise.frequency(1.0);
            let (below, share) = noise.place(radius);
            let found = noise.between(below, share);
            let turn = core::f64::consts::TAU * apart * self.radius[ring] / self.side as f64;
            let grain = 1.0 - math::j0(turn);
            let gain = 1.0 / (1.0 - grain);
            powers.push((found - grain * self.measured[ring]) * gain);
            places.push((below, share));
            gains.push(gain);
        }
        self.taken =
            Taken::Rings { power: powers, place: places, gain: gains, noise: Box::new(noise.clone()) };
    }

    /// Mean over the plane of what is taken off, and its standard uncertainty.
    pub(super) fn mean_taken(&self) -> (f64, f64) {
        let cells: f64 = self.cells.iter().sum();
        let shares: Vec<f64> = self.cells.iter().map(|count| count / cells.max(1.0)).collect();
        let mean = shares.iter().enumerate().map(|(ring, share)| share * self.taken(ring)).sum();
        (mean, self.taken_u(&shares))
    }

    /// Power of a ring, the scanner's taken off.
    pub(super) fn power(&self, ring: usize) -> f64 {
        self.measured[ring] - self.taken(ring)
    }

    /// What is taken off a ring.
    fn taken(&self, ring: usize) -> f64 {
        match &self.taken {
            Taken::White(power, _) => *power,
            Taken::Rings { power, .. } => power[ring],
        }
    }

    /// Standard uncertainty that what is taken off brings into a sum over rings.
    fn taken_u(&self, coefficients: &[f64]) -> f64 {
        match &self.taken {
            Taken::White(_, u) => coefficients.iter().sum::<f64>() * u,
            Taken::Rings { place, gain, noise, .. } => {
                let mut of_noise = vec![0.0; noise.cells.len()];
                for (coefficient, ((below, share), gain)) in coefficients.iter().zip(place.iter().zip(gain)) {
                    of_noise[*below] += (1.0 - share) * coefficient * gain;
                    of_noise[below + 1] += share * coefficient * gain;
                }
                noise.sum(&of_noise).1
            }
        }
    }

    /// What is taken off at a distance from zero in cells, between rings.
    pub(super) fn taken_at(&self, radius: f64) -> f64 {
        let (below, share) = self.place(radius);
        self.taken(below) + share * (self.taken(below + 1) - self.taken(below))
    }

    /// The ring below a distance from zero in cells and the share of the way to the next; within the rings.
    fn place(&self, radius: f64) -> (usize, f64) {
        let above = self.radius.partition_point(|at| *at < radius).clamp(FIRST + 1, self.radius.len() - 1);
        let (low, high) = (self.radius[above - 1], self.radius[above]);
        let share = if high > low { ((radius - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 };
        (above - 1, share)
    }

    fn between(&self, below: usize, share: f64) -> f64 {
        self.measured[below] + share * (self.measured[below + 1] - self.measured[below])
    }

    /// Power as measured at a distance from zero in cells, between rings.
    pub(super) fn measured_at(&self, radius: f64) -> f64 {
        let (below, share) = self.place(radius);
        self.between(below, share)
    }

    /// The weakest stretch of seven rings.
    pub(super) fn weakest(&self) -> f64 {
        let stretch = |from: usize| {
            let rings = from..(from + 7).min(self.last() + 1);
            let (power, cells) = rings.fold((0.0, 0.0), |(power, cells), k| {
                (power + self.cells[k] * self.measured[k], cells + self.cells[k])
            });
            power / f64::max(cells, 1.0)
        };
        let last = self.last();
        (FIRST..=last.saturating_sub(6).max(FIRST)).map(stretch).fold(f64::INFINITY, f64::min)
    }

    /// Area of the squared correlation in square micrometres.
    pub(super) fn square_area(&self) -> f64 {
        let (mut sum, mut squares) = (0.0, 0.0);
        for (cells, power) in self.cells.iter().zip(&self.measured) {
            sum += cells * power * self.cell;
            squares += cells * power * power * self.cell;
        }
        if sum > 0.0 { squares / (sum * sum) } else { 0.0 }
    }

    /// Relative variance of a ring's measured power.
    pub(super) fn relative_variance(&self, ring: usize) -> f64 {
        self.covariance[ring][0]
    }

    /// Frequency of a distance in cells, cycles per millimetre.
    pub(super) fn frequency(&self, cells: f64) -> f64 {
        1000.0 * cells / (self.side as f64 * self.pitch)
    }

    /// Lowest frequency of the first ring.
    pub(super) fn lowest(&self) -> f64 {
        self.frequency(FIRST as f64 - 0.5)
    }

    /// A sum over the rings' power, and its standard uncertainty.
    pub(super) fn sum(&self, coefficients: &[f64]) -> (f64, f64) {
        let part = |ring: usize| coefficients.get(ring).copied().unwrap_or(0.0) * self.measured[ring];
        let count = self.measured.len();
        let (mut value, mut variance, mut total) = (0.0, 0.0, 0.0);
        for (ring, coefficient) in
            coefficients.iter().enumerate().filter(|(_, coefficient)| **coefficient != 0.0)
        {
            let here = part(ring);
            value += coefficient * self.power(ring);
            total += here;
            variance += here * here * self.covariance[ring][0];
            for (step, shared) in self.covariance[ring].iter().enumerate().skip(1) {
                if ring + step < count {
                    variance += 2.0 * here * part(ring + step) * shared;
                }
            }
        }
        let taken = self.taken_u(coefficients);
        variance += self.common * total * total + taken * taken;
        variance += self.gradient * self.gradient * value * value;
        (value, math::sqrt(variance.max(0.0)))
    }

    /// Coefficients of the mean over half an octave around a frequency.
    pub(super) fn band(&self, frequency: f64) -> Option<Vec<f64>> {
        let at = frequency / self.frequency(1.0);
        if at < FIRST as f64 - 0.5 {
            return Some(self.zero.clone());
        }
        let last = self.last();
        if at > last as f64 + 1e-9 {
            return None;
        }
        let quarter = math::pow(2.0, 0.25);
        let nearest = (at.round() as usize).clamp(FIRST, last);
        let inside = |ring: usize| {
            let radius = self.radius[ring];
            self.cells[ring] > 0.0 && ((at / quarter..=at * quarter).contains(&radius) || ring == nearest)
        };
        let mut coefficients = vec![0.0; self.cells.len()];
        let rings: Vec<usize> = (FIRST..=last).filter(|ring| inside(*ring)).collect();
        let cells: f64 = rings.iter().map(|ring| self.cells[*ring]).sum();
        for ring in rings {
            coefficients[ring] = self.cells[ring] / cells;
        }
        Some(coefficients)
    }

    /// Coefficients of the integral over the plane of frequencies with a weight by frequency (cycles per millimetre).
    pub(super) fn integral(&self, weight: impl Fn(f64) -> f64) -> Vec<f64> {
        let step = self.frequency(1.0) / 1000.0;
        // The integral of weight times 2 pi f from one distance in cells to another.
        let stretch = |from: f64, to: f64| {
            let parts = 8;
            let width = (to - from) / f64::from(parts);
            let part = |k: i32| {
                let at = from + (f64::from(k) + 0.5) * width;
                weight(self.frequency(at)) * core::f64::consts::TAU * at
            };
            (0..parts).map(part).sum::<f64>() * width * step * step
        };
        let first = FIRST as f64 - 0.5;
        let inner: f64 = stretch(0.0, first);
        let mut coefficients: Vec<f64> = self.zero.iter().map(|part| inner * part).collect();
        let last = self.last();
        let mut held = FIRST;
        for ring in FIRST..=last {
            let at = ring as f64;
            // A ring that was left out whole lends its place to the one before.
            held = if self.cells[ring] > 0.0 { ring } else { held };
            coefficients[held] += stretch(at - 0.5, (at + 0.5).min(last as f64));
        }
        coefficients
    }

    /// The rings up to the highest frequency along the axes.
    pub(super) fn bins(&self) -> Vec<RadialBin> {
        let rings = (FIRST..=self.last()).filter(|ring| self.cells[*ring] > 0.0);
        let bin = |ring: usize| {
            let mut one = vec![0.0; ring + 1];
            one[ring] = 1.0;
            let (value, u) = self.sum(&one);
            let frequency = self.frequency(self.radius[ring]);
            RadialBin {
                frequency,
                power: mean_square(value, u, Flags::empty()),
                pixel: self.pixel(frequency),
            }
        };
        rings.map(bin).collect()
    }

    /// Squared transfer of a square pixel along an axis.
    fn pixel(&self, frequency: f64) -> f64 {
        let x = core::f64::consts::PI * frequency / 1000.0 * self.pitch;
        let sinc = if x.abs() < 1e-9 { 1.0 } else { math::sin(x) / x };
        sinc * sinc
    }
}

/// `2 / (n_k n_l) sum over cells a of k and b of l of the kernel at a - b`: twice, because the power of a real field is
/// the same at a frequency and its opposite.
fn covariance(rings: &[u16], side: usize, kernel: &Kernel, cells: &[f64]) -> Vec<[f64; BAND + 1]> {
    let mut sums = vec![[0.0; BAND + 1]; cells.len()];
    // Sides are powers of two: a mask wraps around.
    let (reach, mask) = (REACH as isize, side - 1);
    for y in 0..=side / 2 {
        // Rows below the middle mirror those above.
        let times = if y == 0 || y == side / 2 { 1.0 } else { 2.0 };
        for x in 0..side {
            let ring = rings[y * side + x];
            if ring == u16::MAX {
                continue;
            }
            for dy in -reach..=reach {
                let row = (y.wrapping_add_signed(dy) & mask) * side;
                let values = &kernel.values[dy.unsigned_abs()];
                for dx in -reach..=reach {
                    let other = rings[row + (x.wrapping_add_signed(dx) & mask)];
                    if other != u16::MAX && other >= ring && usize::from(other - ring) <= BAND {
                        sums[usize::from(ring)][usize::from(other - ring)] +=
                            times * values[dx.unsigned_abs()];
                    }
                }
            }
        }
    }
    for (ring, row) in sums.iter_mut().enumerate() {
        for (step, sum) in row.iter_mut().enumerate() {
            let other = cells.get(ring + step).copied().unwrap_or(0.0);
            let pairs = cells[ring] * other;
            *sum = if pairs > 0.0 { 2.0 * *sum / pairs } else { 0.0 };
        }
    }
    sums
}
