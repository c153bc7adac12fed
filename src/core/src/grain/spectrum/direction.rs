//! Direction: lines of one frequency, streaks along rows or columns, and power that differs between directions.

use rayon::prelude::*;
use serde::Serialize;

use super::radial::{FIRST, Kernel, Radial, ring_of_cells};
use crate::measured::{Measured, Z95};
use crate::numeric::{math, quantiles, robust};

/// Probability of calling any line in a field without lines.
const CHANCE: f64 = 1e-3;
/// Most lines that are told.
const MOST_LINES: usize = 12;
/// Sectors of orientation.
const SECTORS: usize = 12;
/// Least amplitude of anisotropy that is called one.
const LEAST_AMPLITUDE: f64 = 0.03;
/// Share of the strongest ring's power below which nothing is looked for: what a window leaks from strong frequencies, and
/// what rounding leaves, has directions of its own.
const FLOOR: f64 = 1e-4;
/// Least share of the variance that makes a line worth telling.
const TOLD: f64 = 1e-4;

/// A pattern of one frequency.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Line {
    /// Cycles per millimetre on the film.
    pub frequency: f64,
    /// Direction in which it repeats, degrees from the rows towards the columns, 0..180: at 0 its lines stand upright, at 90
    /// they lie along the rows.
    pub degrees: f64,
    /// Its standard deviation, density.
    pub rms: f64,
    /// Its share of the variance.
    pub share: f64,
    /// Its power over that around it.
    pub over: f64,
}

/// Power at all frequencies along one axis: rows (or columns) whose level differs from the next one's.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Streaks {
    /// They run down the columns; else along the rows.
    pub upright: bool,
    /// Power on the axis over that beside it.
    pub over: f64,
    /// Their share of the variance.
    pub share: f64,
}

/// Mean power of a sector of orientation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sector {
    /// Its middle, degrees from the rows towards the columns.
    pub degrees: f64,
    /// Power over that of all directions at the same frequencies.
    pub ratio: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// What differs between directions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Direction {
    /// Power by orientation.
    pub sectors: Vec<Sector>,
    /// Amplitude of the part that goes as the cosine of twice the angle: 0.1 is 10 % more power than the mean in one
    /// direction and 10 % less across it.
    pub anisotropy: Measured,
    /// The direction of most power, degrees from the rows towards the columns.
    pub towards: f64,
    /// The anisotropy is beyond chance (one field without direction in a thousand is) and above 3 %.
    pub directed: bool,
    /// Lines, the strongest first.
    pub lines: Vec<Line>,
    /// Streaks along rows or columns.
    pub streaks: Vec<Streaks>,
}

/// Looks at the plane of power; says also which cells belong to lines and streaks.
pub(super) fn find(power: &[f64], rings: &Radial, kernel: &Kernel) -> (Direction, Vec<usize>) {
    let side = math::sqrt(power.len() as f64).round() as usize;
    let medians = medians(power, side);
    let floor = FLOOR * medians.iter().skip(FIRST).copied().fold(0.0, f64::max);
    let plane = Plane { power, side, rings, medians, floor, freedom: 2.0 / kernel.of_cell() };
    let total: f64 = power.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let streaks: Vec<Streaks> =
        [true, false].into_iter().filter_map(|upright| plane.streaks(upright, kernel, total)).collect();
    let mut without: Vec<usize> = Vec::new();
    for streak in &streaks {
        without.extend(plane.axis(streak.upright));
    }
    let lines = plane.lines(&streaks, total, &mut without);
    without.sort_unstable();
    without.dedup();
    let cells = ring_of_cells(side, &without);
    let (sectors, anisotropy, towards, directed) = plane.orientation(&cells, kernel);
    (Direction { sectors, anisotropy, towards, directed, lines, streaks }, without)
}

struct Plane<'a> {
    power: &'a [f64],
    side: usize,
    rings: &'a Radial,
    /// Median power of each ring.
    medians: Vec<f64>,
    /// Power below which nothing is looked for.
    floor: f64,
    /// Degrees of freedom of one cell's power.
    freedom: f64,
}

/// Median power of each ring.
fn medians(power: &[f64], side: usize) -> Vec<f64> {
    let rings = ring_of_cells(side, &[]);
    let mut members: Vec<Vec<f64>> = Vec::new();
    for (ring, power) in rings.iter().zip(power).filter(|(ring, _)| **ring != u16::MAX) {
        let ring = usize::from(*ring);
        if members.len() <= ring {
            members.resize(ring + 1, Vec::new());
        }
        members[ring].push(*power);
    }
    members.par_iter().map(|members| robust::median(members).unwrap_or(0.0)).collect()
}

impl Plane<'_> {
    fn at(&self, x: isize, y: isize) -> f64 {
        self.power[self.cell(x, y)]
    }

    fn cell(&self, x: isize, y: isize) -> usize {
        // The side is a power of two: a mask wraps around.
        let wrap = |k: isize| 0_usize.wrapping_add_signed(k) & (self.side - 1);
        wrap(y) * self.side + wrap(x)
    }

    /// Median of a mean of so many exponentials over its mean (E. B. Wilson and M. M. Hilferty, 1931).
    fn median_over_mean(&self) -> f64 {
        let root = 1.0 - 2.0 / (9.0 * self.freedom);
        root * root * root
    }

    /// Power that is to be expected at a cell: the median of its surroundings, or of its ring where that is more.
    fn expected(&self, x: isize, y: isize, along: Option<bool>) -> f64 {
        let ring = math::hypot(x as f64, y as f64).round() as usize;
        let mut around = Vec::new();
        for dy in -5..=5_isize {
            for dx in -5..=5_isize {
                // On an axis with streaks the axis is its own measure.
                let inside = match along {
                    Some(true) => dy == 0 && dx.abs() > 2,
                    Some(false) => dx == 0 && dy.abs() > 2,
                    None => dx.abs() > 2 || dy.abs() > 2,
                };
                let (x, y) = (x + dx, y + dy);
                if inside && (x.abs() > 1 || y.abs() > 1) {
                    around.push(self.at(x, y));
                }
            }
        }
        let local = robust::median(&around).unwrap_or(0.0);
        let ring = self.medians.get(ring).copied().unwrap_or(0.0);
        local.max(ring) / self.median_over_mean()
    }

    /// Cells on an axis, beyond the lowest frequencies. Upright streaks change along the rows: their power lies at
    /// frequencies along x.
    fn axis(&self, upright: bool) -> Vec<usize> {
        let half = (self.side / 2) as isize;
        let mut cells = Vec::new();
        for k in (-half..half).filter(|k| k.abs() >= FIRST as isize) {
            for beside in -1..=1 {
                cells.push(if upright { self.cell(k, beside) } else { self.cell(beside, k) });
            }
        }
        cells
    }

    fn streaks(&self, upright: bool, kernel: &Kernel, total: f64) -> Option<Streaks> {
        let half = (self.side / 2) as isize;
        let beside = [-8, -7, -6, -5, -4, 4, 5, 6, 7, 8_isize];
        let value = |k: isize, off: isize| if upright { self.at(k, off) } else { self.at(off, k) };
        let first = (2 * FIRST as isize).max(self.side as isize / 16);
        let (mut ratios, mut excess) = (Vec::new(), 0.0);
        for k in first..half {
            // Beside the axis, brought to the axis by how the rings fall.
            let on_axis = self.rings.measured_at(k as f64);
            let brought = |off: &isize| {
                let ring = self.rings.measured_at(math::hypot(k as f64, *off as f64));
                if ring > 0.0 { value(k, *off) * on_axis / ring } else { 0.0 }
            };
            let level = beside.iter().map(brought).sum::<f64>() / beside.len() as f64;
            if level > self.floor {
                ratios.push(value(k, 0) / level);
                excess += 2.0 * (-1..=1).map(|off| value(k, off) - level).sum::<f64>();
            }
        }
        // Every other cell of the axis is independent of the last but one; the median is not moved by single lines.
        let count = ratios.len() as f64 / 1.94;
        let over = robust::median(&ratios)? / self.median_over_mean();
        let u = math::sqrt(
            (kernel.of_cell() * 1.57 + kernel.of_cell() * 1.94 / beside.len() as f64) / count.max(1.0),
        );
        (over > 1.2 && over - 1.0 > 5.0 * u).then(|| Streaks {
            upright,
            over,
            share: (excess / total).clamp(0.0, 1.0),
        })
    }

    fn lines(&self, streaks: &[Streaks], total: f64, without: &mut Vec<usize>) -> Vec<Line> {
        let half = (self.side / 2) as isize;
        let cells = (self.side * self.side / 2) as f64;
        let factor = quantiles::chi_square(1.0 - CHANCE / cells, self.freedom) / self.freedom;
        let mut found: Vec<(f64, f64, isize, isize)> = Vec::new();
        for y in 0..half {
            for x in 1 - half..half {
                if (y == 0 && x <= 0) || x * x + y * y < 9 {
                    continue;
                }
                let power = self.at(x, y);
                let ring = math::sqrt((x * x + y * y) as f64).round() as usize;
                // The ring first: it costs nothing.
                if power < self.floor || power < factor * self.medians.get(ring).copied().unwrap_or(0.0) {
                    continue;
                }
                let on = |upright: bool| streaks.iter().any(|streak| streak.upright == upright);
                let along = if y.abs() <= 1 && on(true) {
                    Some(true)
                } else if x.abs() <= 1 && on(false) {
                    Some(false)
                } else {
                    None
                };
                let expected = self.expected(x, y, along);
                if expected > 0.0 && power > factor * expected {
                    found.push((power, expected, x, y));
                }
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut lines: Vec<(Line, f64, isize, isize)> = Vec::new();
        for (power, expected, x, y) in found {
            // Skirts of a line that stands already, on either side of the plane.
            let skirt = lines.iter().any(|(_, stronger, a, b)| {
                let near = |x: isize, y: isize| (x - a) * (x - a) + (y - b) * (y - b);
                let distance = near(x, y).min(near(-x, -y));
                distance <= 9 || (distance <= 400 && power < 0.02 * stronger)
            });
            if !skirt && lines.len() < MOST_LINES {
                lines.push((self.line(x, y, expected, total), power, x, y));
            }
        }
        for (_, _, x, y) in &lines {
            for sign in [-1, 1] {
                for dy in -2..=2 {
                    for dx in -2..=2 {
                        without.push(self.cell(sign * x + dx, sign * y + dy));
                    }
                }
            }
        }
        lines.into_iter().map(|(line, ..)| line).filter(|line| line.share >= TOLD).collect()
    }

    /// A line at a cell. Its place between cells follows from how its amplitude falls to either side, which for a Hann window
    /// is exact: the larger neighbour over the peak is `(1 + d) / (2 - d)` at a distance d.
    fn line(&self, x: isize, y: isize, expected: f64, total: f64) -> Line {
        let excess = |dx: isize, dy: isize| self.at(x + dx, y + dy) - expected;
        let between = |of: &dyn Fn(isize) -> f64| {
            let amplitude = |k| math::sqrt(of(k).max(0.0));
            let (before, peak, after) = (amplitude(-1), amplitude(0), amplitude(1));
            let share = |neighbour: f64| ((2.0 * neighbour - peak) / (neighbour + peak)).clamp(0.0, 0.5);
            if peak <= 0.0 {
                0.0
            } else if after >= before {
                share(after)
            } else {
                -share(before)
            }
        };
        let all: f64 =
            (-2..=2).flat_map(|dy| (-2..=2).map(move |dx| (dx, dy))).map(|(dx, dy)| excess(dx, dy)).sum();
        let fx = x as f64 + between(&|k| excess(k, 0));
        let fy = y as f64 + between(&|k| excess(0, k));
        let degrees = math::atan2(fy, fx).to_degrees().rem_euclid(180.0);
        // Both halves of the plane hold it.
        let variance = 2.0 * all.max(0.0) * self.rings.cell;
        Line {
            frequency: self.rings.frequency(math::hypot(fx, fy)),
            degrees,
            rms: math::sqrt(variance),
            share: (2.0 * all / total).clamp(0.0, 1.0),
            over: self.at(x, y) / expected,
        }
    }

    /// Power by orientation, each cell over the mean of its ring.
    fn orientation(&self, cells: &[u16], kernel: &Kernel) -> (Vec<Sector>, Measured, f64, bool) {
        let half = (self.side / 2) as isize;
        let width = core::f64::consts::PI / SECTORS as f64;
        let (mut sums, mut counts) = ([0.0; SECTORS], [0.0; SECTORS]);
        let (mut real, mut imaginary, mut count) = (0.0, 0.0, 0.0);
        for y in 0..half {
            for x in 1 - half..half {
                let distance = math::sqrt((x * x + y * y) as f64);
                let inside = distance >= 2.0 * FIRST as f64 && distance < half as f64;
                if !inside || (y == 0 && x < 0) || cells[self.cell(x, y)] == u16::MAX {
                    continue;
                }
                let mean = self.rings.measured_at(distance);
                if mean <= self.floor {
                    continue;
                }
                let ratio = self.at(x, y) / mean;
                let angle = math::atan2(y as f64, x as f64);
                let sector = ((angle / width + 0.5) as usize) % SECTORS;
                sums[sector] += ratio;
                counts[sector] += 1.0;
                // Cosine and sine of twice the angle.
                let square = distance * distance;
                real += (ratio - 1.0) * (x * x - y * y) as f64 / square;
                imaginary += (ratio - 1.0) * (2 * x * y) as f64 / square;
                count += 1.0;
            }
        }
        let count: f64 = f64::max(count, 1.0);
        let spread = |count: f64| math::sqrt(kernel.sum() / count.max(1.0));
        let sectors = (0..SECTORS)
            .map(|k| Sector {
                degrees: (k as f64 * width).to_degrees(),
                ratio: sums[k] / f64::max(counts[k], 1.0),
                u: spread(counts[k]),
            })
            .collect();
        let amplitude = 2.0 * math::hypot(real, imaginary) / count;
        // Of each of its two parts.
        let u = math::sqrt(2.0) * spread(count);
        let chance = math::exp(-amplitude * amplitude / (2.0 * u * u));
        let measured =
            Measured::with_interval(amplitude, u, (amplitude - Z95 * u).max(0.0), amplitude + Z95 * u);
        let towards = (math::atan2(imaginary, real) / 2.0).to_degrees().rem_euclid(180.0);
        (sectors, measured, towards, chance < CHANCE && amplitude > LEAST_AMPLITUDE)
    }
}
