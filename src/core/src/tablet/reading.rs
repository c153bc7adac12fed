//! One area read as a densitometer reads it: mean light, without dust, with an honest standard error.
//!
//! Dust and scratches are rejected in two passes, single pixels first and then small cells, because a speck that drowns in
//! the grain of single pixels stands out of their means. Both compare with the quartiles of the area itself, on each side
//! apart and in light as well as in density, so that neither skewed grain nor skewed scanner noise is taken for dust: what
//! is left out of plain normal noise is less than one part in a million on each side and moves the mean by nothing that
//! can be measured. Quartiles are those of F. R. Hampel, *J. Am. Stat. Assoc.* 69 (1974), 383: their distance from the
//! median is 0.6745 sigma for a normal distribution.

use super::aperture::Spot;
use super::region::{Region, Span};
use super::relief::Relief;
use super::{StepSample, error, rejected};
use crate::measured::{Flags, Measured, Z95};
use crate::numeric::{math, quantiles, robust};
use crate::scan::{Plane, SharedError, ToneTable};
use crate::units::Density;

/// Distance of a quartile from the median in a normal distribution, in sigma.
const QUARTILE: f64 = 0.674_489_750_196_081_7;
/// A pixel or cell this many sigma away is a defect.
const SEED: f64 = 5.0;
/// What touches a defect and is this many sigma away on the same side belongs to it.
const GROW: f64 = 2.0;
/// Cells along the side of an area for the second pass.
const CELLS: f64 = 24.0;
/// Cells along the side of a block, whose means tell how even the area is.
const BLOCK: usize = 4;
/// Fewer blocks than this say too little of how even the area is.
const LEAST_BLOCKS: f64 = 12.0;
/// Fewer pixels than this are flagged.
const FEW: usize = 100;
/// Blocks that spread by more than this share of the mean (0.03 in density) are flagged as uneven.
const UNEVEN: f64 = 0.07;
/// Fewer pixels than this and no cells are looked at.
const CELL_PIXELS: usize = 1024;

/// Reads a region that is known to lie in the scan, through a table with as many entries as the scan has codes.
pub(super) fn read(
    plane: Plane<'_>,
    table: &ToneTable,
    region: &Region,
    spot: &Spot,
    step: u32,
) -> StepSample {
    let mut grid = Grid::of(plane, region);
    let scale = Scale::of(&grid, table);
    let mut out = vec![false; grid.codes.len()];
    grid.leave_out_pixels(table, &scale, &mut out);
    let mut cells = Cells::of(&grid, table, plane);
    if grid.pixels >= CELL_PIXELS {
        cells.leave_out(&scale, &grid, &mut out);
    }
    let totals = cells.totals();
    let light = totals.light / totals.count;
    let error = StandardError::of(&grid, table, &cells, &totals);
    let spread = math::sqrt((totals.square / totals.count - light * light).max(0.0));
    let code = totals.code / totals.count;
    let used = totals.count as usize;
    let flat_u = plane.flat().map_or(0.0, |flat| flat.u);
    let width_u = error.width_u(scale.code_step);
    let own = own(light, &error, (width_u, flat_u));
    let rest_u = math::hypot(core::f64::consts::LOG10_E * width_u / light, flat_u);
    let relief = spot.disc.is_none().then(|| Relief::of((plane, table), &grid, &out, spot, rest_u)).flatten();
    let shared = table.errors.density(own.number());
    let density = whole(&own, table, code, &shared);
    let flags = flags(&totals, &grid, table, &density, &error);
    StepSample {
        step,
        area: spot.quad,
        round: spot.disc.is_some(),
        density: density.flagged(flags),
        own: own.flagged(flags),
        shared,
        relief,
        code: Measured::normal(code, error.code).flagged(flags - Flags::OF_TABLE),
        relative_spread: spread / light,
        used,
        left_out: grid.pixels - used,
        rejected: rejected::rectangles(&out, grid.width, grid.corner),
    }
}

/// The density with what is its own error alone: of grain and noise over the area, of the code's width, of the falloff.
fn own(light: f64, error: &StandardError, (width_u, flat_u): (f64, f64)) -> Measured<Density> {
    let value = -math::log10(light);
    let statistical = math::hypot(error.light, width_u);
    let se = core::f64::consts::LOG10_E * statistical / light;
    let half = math::hypot(error.quantile * se, Z95 * flat_u);
    Measured::with_interval(Density(value), math::hypot(se, flat_u), value - half, value + half)
}

/// The same with the table's error: what of it the density has in common with others, or, where nothing says that, all of it.
fn whole(own: &Measured<Density>, table: &ToneTable, code: f64, shared: &SharedError) -> Measured<Density> {
    let of_table = if shared.parts.is_empty() {
        table.density_u.get((code + 0.5) as usize).copied().unwrap_or(0.0)
    } else {
        shared.u()
    };
    own.with_variance(of_table * of_table)
}

fn flags(
    totals: &Totals,
    grid: &Grid,
    table: &ToneTable,
    density: &Measured<Density>,
    error: &StandardError,
) -> Flags {
    let mut flags = table.flags;
    let used = totals.count as usize;
    let tolerance = (2.0 * density.u).max(0.005);
    let value = density.value.0;
    let (low, high) = table.trusted;
    flags.set(Flags::CLIPPED, totals.clipped * 1000.0 > totals.count);
    flags.set(Flags::OUTSIDE_CALIBRATION, value < low - tolerance || value > high + tolerance);
    flags.set(Flags::FEW_SAMPLES, used < FEW);
    flags.set(Flags::DEFECTS_LEFT_OUT, used < grid.pixels);
    flags.set(Flags::UNEVEN, error.block_spread.is_some_and(|spread| spread > UNEVEN));
    flags
}

/// The codes of a region in the rectangle around it.
pub(super) struct Grid {
    width: usize,
    height: usize,
    /// Row by row; `None` outside the region or left out.
    pub(super) codes: Vec<Option<u16>>,
    /// Pixels of the region, left out or not.
    pub(super) pixels: usize,
    levels: usize,
    /// Where its upper left pixel lies in the scan.
    corner: (i64, i64),
}

impl Grid {
    fn of(plane: Plane<'_>, region: &Region) -> Self {
        let spans = region.spans();
        let left = spans.iter().map(|span| span.from).min().unwrap_or(0);
        let right = spans.iter().map(|span| span.to).max().unwrap_or(0);
        let top = spans.first().map_or(0, |span| span.y);
        let bottom = spans.last().map_or(0, |span| span.y + 1);
        let (width, height) = ((right - left) as usize, (bottom - top) as usize);
        let mut codes = vec![None; width * height];
        for Span { y, from, to } in spans {
            let start = (y - top) as usize * width + (from - left) as usize;
            let row = plane.row(*y as usize, *from as usize, *to as usize);
            for (place, code) in codes[start..].iter_mut().zip(row) {
                *place = Some(code);
            }
        }
        let corner = (left, top);
        Self { width, height, codes, pixels: region.pixels(), levels: plane.levels(), corner }
    }

    /// The middle of a pixel in the scan.
    pub(super) fn middle(&self, place: usize) -> (f64, f64) {
        let at = |corner: i64, k: usize| corner as f64 + k as f64 + 0.5;
        (at(self.corner.0, place % self.width), at(self.corner.1, place / self.width))
    }

    /// First pass: single pixels that are far from the rest, what hangs on to them, and one pixel around.
    fn leave_out_pixels(&mut self, table: &ToneTable, scale: &Scale, out: &mut [bool]) {
        let z = |code: u16| scale.away(table.light[usize::from(code)], table.density[usize::from(code)]);
        let of = |place: usize| self.codes[place].map_or(0.0, z);
        let seeds: Vec<usize> = (0..self.codes.len()).filter(|place| of(*place).abs() > SEED).collect();
        if seeds.is_empty() {
            return;
        }
        let defects = grow(seeds, self.width, self.height, of);
        for place in &defects {
            for near in neighbours(*place, self.width, self.height) {
                out[near] |= self.codes[near].take().is_some();
            }
            out[*place] |= self.codes[*place].take().is_some();
        }
    }
}

/// All places that hang together with the seeds and lie away on the same side.
fn grow(seeds: Vec<usize>, width: usize, height: usize, away: impl Fn(usize) -> f64) -> Vec<usize> {
    let mut taken = vec![false; width * height];
    for seed in &seeds {
        taken[*seed] = true;
    }
    let mut found = seeds;
    let mut next = 0;
    while let Some(place) = found.get(next).copied() {
        next += 1;
        let side = away(place).signum();
        for near in neighbours(place, width, height) {
            if !taken[near] && away(near) * side > GROW {
                taken[near] = true;
                found.push(near);
            }
        }
    }
    found
}

pub(super) fn neighbours(place: usize, width: usize, height: usize) -> impl Iterator<Item = usize> {
    let (x, y) = (place % width, place / width);
    let rows = y.saturating_sub(1)..(y + 2).min(height);
    let columns = x.saturating_sub(1)..(x + 2).min(width);
    rows.flat_map(move |row| columns.clone().map(move |column| row * width + column))
        .filter(move |near| *near != place)
}

/// What is usual in an area: median and quartiles, in light and in density.
struct Scale {
    light: Quartiles,
    density: Quartiles,
    /// Light between two neighbouring codes at the median.
    code_step: f64,
    /// The same in density.
    density_step: f64,
}

/// Median, and sigma below and above it.
#[derive(Clone, Copy)]
struct Quartiles {
    median: f64,
    below: f64,
    above: f64,
}

impl Quartiles {
    fn of(low: f64, median: f64, high: f64, least: f64) -> Self {
        let sigma = |distance: f64| (distance / QUARTILE).max(least);
        Self { median, below: sigma(median - low), above: sigma(high - median) }
    }

    fn away(&self, value: f64) -> f64 {
        let distance = value - self.median;
        distance / if distance < 0.0 { self.below } else { self.above }
    }
}

impl Scale {
    fn of(grid: &Grid, table: &ToneTable) -> Self {
        let mut counts = vec![0_u32; grid.levels];
        for code in grid.codes.iter().flatten() {
            counts[usize::from(*code)] += 1;
        }
        let quantile = |share: f64| {
            let wanted = share * grid.pixels as f64;
            let mut sum = 0.0;
            let found = counts.iter().position(|count| {
                sum += f64::from(*count);
                sum > wanted
            });
            found.unwrap_or(grid.levels - 1)
        };
        let codes = [quantile(0.25), quantile(0.5), quantile(0.75)];
        let around = (codes[1].saturating_sub(1), (codes[1] + 1).min(grid.levels - 1));
        let step =
            |values: &[f64]| (values[around.1] - values[around.0]).abs() / (around.1 - around.0) as f64;
        let quartiles = |values: &[f64], step: f64| {
            let [a, median, b] = codes.map(|code| values[code]);
            // Noise of less than a code leaves both quartiles on the median's own code.
            Quartiles::of(a.min(b), median, a.max(b), (0.75 * step).max(f64::MIN_POSITIVE))
        };
        let (code_step, density_step) = (step(&table.light), step(&table.density));
        Self {
            light: quartiles(&table.light, code_step),
            density: quartiles(&table.density, density_step),
            code_step,
            density_step,
        }
    }

    /// How many sigma a light is away, negative for less light: the smaller of both views.
    fn away(&self, light: f64, density: f64) -> f64 {
        let (by_light, by_density) = (self.light.away(light), -self.density.away(density));
        if by_light.abs() < by_density.abs() { by_light } else { by_density }
    }

    /// The same for means, of which `values` are a sample.
    fn of_means(&self, values: &[f64]) -> Option<Self> {
        if values.len() < 2 * LEAST_BLOCKS as usize {
            return None;
        }
        let sorted = robust::sorted(values);
        let [low, median, high] = [0.25, 0.5, 0.75].map(|p| robust::quantile_of_sorted(&sorted, p));
        let (low, median, high) = (low?, median?, high?);
        let [thick, middle, thin] = [low, median, high].map(|light| -math::log10(light));
        let least = |step: f64| (0.5 * step).max(f64::MIN_POSITIVE);
        Some(Self {
            light: Quartiles::of(low, median, high, least(self.code_step)),
            density: Quartiles::of(thin, middle, thick, least(self.density_step)),
            ..*self
        })
    }
}

/// Sums over pixels.
#[derive(Clone, Copy, Default)]
pub(super) struct Totals {
    pub(super) count: f64,
    pub(super) light: f64,
    square: f64,
    pub(super) code: f64,
    code_square: f64,
    clipped: f64,
}

impl Totals {
    fn add(&mut self, other: &Self) {
        self.count += other.count;
        self.light += other.light;
        self.square += other.square;
        self.code += other.code;
        self.code_square += other.code_square;
        self.clipped += other.clipped;
    }
}

/// The area in small squares.
pub(super) struct Cells {
    pub(super) across: usize,
    pub(super) down: usize,
    side: usize,
    pub(super) cells: Vec<Totals>,
}

impl Cells {
    /// Light is corrected for its falloff cell by cell: over one cell that hardly changes.
    fn of(grid: &Grid, table: &ToneTable, plane: Plane<'_>) -> Self {
        let side = ((math::sqrt(grid.pixels as f64) / CELLS + 0.5) as usize).max(2);
        let (across, down) = (grid.width.div_ceil(side), grid.height.div_ceil(side));
        let mut cells = vec![Totals::default(); across * down];
        let top = (grid.levels - 1) as u16;
        for (y, row) in grid.codes.chunks(grid.width).enumerate() {
            let line = &mut cells[y / side * across..][..across];
            for (cell, codes) in line.iter_mut().zip(row.chunks(side)) {
                for code in codes.iter().flatten() {
                    let (light, number) = (table.light[usize::from(*code)], f64::from(*code));
                    cell.count += 1.0;
                    cell.light += light;
                    cell.square += light * light;
                    cell.code += number;
                    cell.code_square += number * number;
                    cell.clipped += f64::from(u8::from(*code == 0 || *code == top));
                }
            }
        }
        if let Some(flat) = plane.flat() {
            let size = (plane.width(), plane.height());
            for (place, cell) in cells.iter_mut().enumerate() {
                let middle = |k: usize, corner: i64| corner as f64 + (k as f64 + 0.5) * side as f64;
                let at = (middle(place % across, grid.corner.0), middle(place / across, grid.corner.1));
                let gain = flat.gain(at, size);
                cell.light *= gain;
                cell.square *= gain * gain;
            }
        }
        Self { across, down, side, cells }
    }

    /// Second pass: cells whose means are far from the rest, and what hangs on to them.
    fn leave_out(&mut self, scale: &Scale, grid: &Grid, out: &mut [bool]) {
        let whole = (self.side * self.side) as f64 / 2.0;
        let means: Vec<Option<f64>> =
            self.cells.iter().map(|cell| (cell.count >= whole).then(|| cell.light / cell.count)).collect();
        let known: Vec<f64> = means.iter().flatten().copied().collect();
        let Some(scale) = scale.of_means(&known) else { return };
        let of = |place: usize| means[place].map_or(0.0, |light| scale.away(light, -math::log10(light)));
        let seeds: Vec<usize> = (0..means.len()).filter(|place| of(*place).abs() > SEED).collect();
        for place in grow(seeds, self.across, self.down, of) {
            self.cells[place] = Totals::default();
            let (x, y) = (place % self.across * self.side, place / self.across * self.side);
            for row in y..(y + self.side).min(grid.height) {
                let range = row * grid.width + x..row * grid.width + (x + self.side).min(grid.width);
                for (slot, code) in out[range.clone()].iter_mut().zip(&grid.codes[range]) {
                    *slot |= code.is_some();
                }
            }
        }
    }

    fn totals(&self) -> Totals {
        self.cells.iter().fold(Totals::default(), |mut sum, cell| {
            sum.add(cell);
            sum
        })
    }

    /// The cells joined to blocks.
    fn blocks(&self) -> Vec<Totals> {
        let (across, down) = (self.across.div_ceil(BLOCK), self.down.div_ceil(BLOCK));
        let mut blocks = vec![Totals::default(); across * down];
        for (place, cell) in self.cells.iter().enumerate() {
            let (x, y) = (place % self.across, place / self.across);
            blocks[y / BLOCK * across + x / BLOCK].add(cell);
        }
        blocks.retain(|block| block.count > 0.0);
        blocks
    }
}

/// Standard error of the mean, and what it rests on.
struct StandardError {
    light: f64,
    code: f64,
    /// Standard deviation of single codes.
    code_spread: f64,
    /// Student's quantile for two-sided 95 %.
    quantile: f64,
    /// Spread of the blocks relative to the mean, where there are enough.
    block_spread: Option<f64>,
}

impl StandardError {
    /// Without noise of half a code to dither it, a code says no more than its own width (u = width / sqrt 12).
    fn width_u(&self, code_step: f64) -> f64 {
        (1.0 - self.code_spread / 0.5).max(0.0) * code_step / math::sqrt(12.0)
    }

    fn of(grid: &Grid, table: &ToneTable, cells: &Cells, totals: &Totals) -> Self {
        let n = totals.count;
        let (light, code) = (totals.light / n, totals.code / n);
        let variance = |square: f64, mean: f64| (square / n - mean * mean).max(0.0) * n / (n - 1.0).max(1.0);
        let code_spread = math::sqrt(variance(totals.code_square, code));
        let blocks = cells.blocks();
        let effective = n * n / blocks.iter().map(|block| block.count * block.count).sum::<f64>();
        let between = |blocks: &[Totals]| {
            let deviation = |block: &Totals| block.light - light * block.count;
            let sum: f64 = blocks.iter().map(|block| deviation(block) * deviation(block)).sum();
            math::sqrt(sum * effective / (effective - 1.0)) / n
        };
        let block_spread =
            (effective >= LEAST_BLOCKS).then(|| between(&blocks) * math::sqrt(effective) / light);
        if let Some(found) = error::of_mean(cells, totals) {
            return Self {
                light: math::sqrt(found.light),
                code: math::sqrt(found.code),
                code_spread,
                quantile: student(found.freedom),
                block_spread,
            };
        }
        let independent = (n * share_independent(grid, table, light)).max(2.0);
        Self {
            light: math::sqrt(variance(totals.square, light) / independent),
            code: code_spread / math::sqrt(independent),
            code_spread,
            quantile: student(independent - 1.0),
            block_spread,
        }
    }
}

/// The share of pixels that count as independent: `(1 - r) / (1 + r)` along rows and along columns, r the correlation of
/// neighbours (G. V. Bayley and J. M. Hammersley, *J. R. Stat. Soc. Suppl.* 8 (1946), 184, for a first-order process).
fn share_independent(grid: &Grid, table: &ToneTable, mean: f64) -> f64 {
    let deviation = |place: usize| grid.codes[place].map(|code| table.light[usize::from(code)] - mean);
    let along = |step: usize, last: usize| {
        let pairs = (0..grid.codes.len()).filter(|place| place % grid.width < last);
        let both = pairs.filter_map(|place| {
            (place + step < grid.codes.len()).then(|| deviation(place).zip(deviation(place + step))).flatten()
        });
        let (product, square) = both
            .fold((0.0, 0.0), |(product, square), (a, b)| (product + a * b, square + (a * a + b * b) / 2.0));
        let r = if square > 0.0 { (product / square).clamp(0.0, 0.95) } else { 0.0 };
        robust::effective_count(1.0, r)
    };
    along(1, grid.width - 1) * along(grid.width, grid.width)
}

fn student(freedom: f64) -> f64 {
    quantiles::student_t(0.975, freedom.max(1.0))
}
