//! The area in half blocks, and the first pass over its pixels: slow shading, and where dust lies.

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::{LG_E, QUICK, SIDES, SpectrumSettings};
use crate::geometry::{Point, Rect};
use crate::grain::preview::{Preview, PreviewArea, preview};
use crate::grain::surface::{Moments, POWERS, Surface};
use crate::numeric::math;
use crate::numeric::wide::wide;
use crate::problem::{Problem, Subject};
use crate::scan::{Plane, ToneTable};
use crate::words::{self, Sentence};

/// Side of the cells that the shading is fitted to, in pixels.
pub(super) const CELL: usize = 16;
/// Pixels of half blocks beside each other that are looked up in one go.
const RUN: usize = 4096;
/// Width of the small squares in which dust is looked for, in micrometres: a third of the usual aperture.
const DUST_UM: f64 = 16.0;
/// Small squares further out than this many of their robust standard deviations are no grain.
const OUT: f64 = 7.0;

/// Where the blocks lie. They begin at whole half blocks from the corner.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    pub(super) side: usize,
    /// Column and row of each block, in half blocks.
    pub(super) blocks: Vec<(usize, usize)>,
    /// Not all blocks that fit are in the list.
    pub(super) thinned: bool,
    /// The area in whole pixels: corner and size.
    corner: (usize, usize),
    size: (usize, usize),
    pub(super) pitch: f64,
    quick: bool,
}

impl Grid {
    pub(super) fn new(
        plane: Plane<'_>,
        table: &ToneTable,
        area: Rect,
        settings: SpectrumSettings,
    ) -> Result<Self, Problem> {
        let refuse = |cause: Sentence, remedy: Sentence| Err(Problem::error(Subject::Series, cause, remedy));
        let pitch = settings.pitch.0;
        if !(pitch > 0.0 && pitch.is_finite()) {
            return refuse(words::Spectrum::BadPitch { pitch }.into(), words::Remedy::GiveResolution.into());
        }
        if table.light.len() != plane.levels() {
            return refuse(
                words::Scan::OtherCodes { codes: table.light.len(), scan: plane.levels() }.into(),
                words::Remedy::CalibrateAtDepth.into(),
            );
        }
        let (x0, y0) = (area.min.x.round(), area.min.y.round());
        let (x1, y1) = (area.max.x.round(), area.max.y.round());
        let (wide, high) = (plane.width() as f64, plane.height() as f64);
        if !(x0 >= 0.0 && y0 >= 0.0 && x1 <= wide && y1 <= high && x0 < x1 && y0 < y1) {
            return refuse(
                words::Spectrum::AreaOutside { x0, y0, x1, y1, wide, high }.into(),
                words::Remedy::MarkInside.into(),
            );
        }
        let (corner, size) = ((x0 as usize, y0 as usize), ((x1 - x0) as usize, (y1 - y0) as usize));
        let small = size.0.min(size.1);
        let least = SIDES[SIDES.len() - 1];
        let side = match settings.block {
            Some(side) if SIDES.contains(&side) => side,
            Some(side) => {
                return refuse(
                    words::Spectrum::NoSuchBlocks { side }.into(),
                    words::Remedy::ChooseBlocks.into(),
                );
            }
            None => SIDES.into_iter().find(|side| small >= 2 * side).unwrap_or(least),
        };
        if small < side + side / 2 {
            let needed = side + side / 2;
            return refuse(
                words::Spectrum::AreaTooSmall { width: size.0, height: size.1 }.into(),
                words::Remedy::MarkForSpectrum { needed }.into(),
            );
        }
        Ok(Self::of(side, corner, size, pitch, settings.quick))
    }

    fn of(side: usize, corner: (usize, usize), size: (usize, usize), pitch: f64, quick: bool) -> Self {
        let half = side / 2;
        let (across, down) = (size.0 / half - 1, size.1 / half - 1);
        let all = across * down;
        let count = if quick { all.min(QUICK) } else { all };
        let place = |k: usize| {
            let index = (2 * k + 1) * all / (2 * count);
            (index % across, index / across)
        };
        let blocks = (0..count).map(place).collect();
        Self { side, blocks, thinned: count < all, corner, size, pitch, quick }
    }

    /// The same area in blocks of half the side.
    pub(super) fn finer(&self) -> Option<Self> {
        let side = self.side / 2;
        (side >= 64).then(|| Self::of(side, self.corner, self.size, self.pitch, self.quick))
    }

    /// The area in whole pixels.
    pub(super) fn area(&self) -> Rect {
        let at = |x: usize, y: usize| Point::new(x as f64, y as f64);
        Rect {
            min: at(self.corner.0, self.corner.1),
            max: at(self.corner.0 + self.size.0, self.corner.1 + self.size.1),
        }
    }

    /// Pixels of the area to the left of and above the first half block.
    fn margin(&self) -> (usize, usize) {
        let half = self.side / 2;
        ((self.size.0 % half) / 2, (self.size.1 % half) / 2)
    }

    /// The upper left pixel of a half block, in the scan.
    pub(super) fn pixel(&self, (column, row): (usize, usize)) -> (usize, usize) {
        let (half, margin) = (self.side / 2, self.margin());
        (self.corner.0 + margin.0 + column * half, self.corner.1 + margin.1 + row * half)
    }

    /// The place of a pixel of the scan in the area, -1..=1 along both axes.
    fn place(&self, x: f64, y: f64) -> (f64, f64) {
        let of = |at: f64, from: usize, size: usize| 2.0 * (at - from as f64) / size as f64 - 1.0;
        (of(x, self.corner.0, self.size.0), of(y, self.corner.1, self.size.1))
    }

    /// How much the shading may bend: it must leave the lowest frequencies that are measured alone.
    fn degree(&self) -> usize {
        match self.size.0.min(self.size.1) / self.side {
            0 | 1 => 1,
            2 | 3 => 2,
            4..8 => 3,
            _ => 4,
        }
    }
}

/// What the first pass found.
#[derive(Debug, Clone)]
pub(super) struct Ground {
    /// Blocks without dust.
    pub(super) blocks: Vec<(usize, usize)>,
    pub(super) first: Preview,
    /// The fitted shading, in density over the level.
    pub(super) surface: Surface,
    /// Light by code over the level.
    pub(super) light: Vec<f32>,
    /// Mean light of the half blocks without dust, over the level.
    mean: f64,
}

/// One half block.
struct Half {
    moments: Moments,
    light: f64,
    dusty: bool,
}

impl Ground {
    /// `None` if stopped.
    pub(super) fn of(
        grid: &Grid,
        plane: Plane<'_>,
        table: &ToneTable,
        stop: &(dyn Fn() -> bool + Sync),
    ) -> Option<Self> {
        let step = ((DUST_UM / grid.pitch / 2.0).round() as usize).clamp(2, CELL / 2);
        let look = PreviewArea {
            x0: grid.corner.0,
            y0: grid.corner.1,
            width: grid.size.0,
            height: grid.size.1,
            side: 2 * step,
        };
        let first = preview(plane, table, look, grid.degree());
        let light: Vec<f32> = table.light.iter().map(|light| (light / first.level) as f32).collect();
        let touched: BTreeSet<(usize, usize)> = grid.blocks.iter().flat_map(|at| quarters(*at)).collect();
        let mut touched: Vec<(usize, usize)> = touched.into_iter().collect();
        touched.sort_by_key(|(column, row)| (*row, *column));
        // As runs of half blocks beside each other, of some length: their rows of pixels are looked up in one go.
        let runs: Vec<&[(usize, usize)]> = touched
            .chunk_by(|a, b| a.1 == b.1 && a.0 + 1 == b.0)
            .flat_map(|run| run.chunks((RUN / (grid.side / 2)).max(1)))
            .collect();
        let one = |run: &&[(usize, usize)]| {
            (!stop()).then(|| halves(grid, plane, &light, &first, step, run[0], run.len()))
        };
        let runs: Vec<Vec<Half>> = runs.par_iter().map(one).collect::<Option<_>>()?;
        let halves: Vec<Half> = runs.into_iter().flatten().collect();
        let clean: BTreeSet<(usize, usize)> =
            touched.iter().zip(&halves).filter(|(_, half)| !half.dusty).map(|(at, _)| *at).collect();
        let mut moments = Moments::default();
        let (mut sum, mut count) = (0.0, 0.0);
        for half in &halves {
            moments.join(&half.moments);
            if !half.dusty {
                sum += half.light;
                count += 1.0;
            }
        }
        let correction = moments.solve(first.surface.degree).map(|(correction, _)| correction);
        let surface = correction.map_or(first.surface, |correction| first.surface.plus(&correction));
        let blocks = grid
            .blocks
            .iter()
            .copied()
            .filter(|at| quarters(*at).iter().all(|q| clean.contains(q)))
            .collect();
        let mean = if count > 0.0 { sum / count } else { 1.0 };
        Some(Self { blocks, surface, light, mean, first })
    }

    /// Density of the mean light.
    pub(super) fn mean_density(&self) -> f64 {
        -math::log10(self.first.level) - math::log10(self.mean.max(f64::MIN_POSITIVE))
    }

    /// Pixels that the used blocks cover, about.
    pub(super) fn used_area(&self, grid: &Grid) -> f64 {
        let covered: BTreeSet<(usize, usize)> = self.blocks.iter().flat_map(|at| quarters(*at)).collect();
        (covered.len() * grid.side * grid.side / 4) as f64
    }

    /// What relative light is multiplied with to be freed of the shading: at nodes [`CELL`] pixels apart, so many along the
    /// rows and down from a pixel on.
    pub(super) fn factors(
        &self,
        grid: &Grid,
        (x, y): (usize, usize),
        (nodes, rows): (usize, usize),
    ) -> Vec<f32> {
        let value = |k: usize| {
            let at = |k: usize, from: usize| (from + k * CELL) as f64;
            let (u, v) = grid.place(at(k % nodes, x), at(k / nodes, y));
            factor(self.surface.at(u, v))
        };
        (0..nodes * rows).map(value).collect()
    }
}

/// The four half blocks of a block.
fn quarters((column, row): (usize, usize)) -> [(usize, usize); 4] {
    [(column, row), (column + 1, row), (column, row + 1), (column + 1, row + 1)]
}

/// Half blocks beside each other, from one on.
fn halves(
    grid: &Grid,
    plane: Plane<'_>,
    light: &[f32],
    first: &Preview,
    step: usize,
    (column, row): (usize, usize),
    count: usize,
) -> Vec<Half> {
    let size = grid.side / 2;
    let (x0, y0) = grid.pixel((column, row));
    let across = size / step;
    let cells = size / CELL;
    // Sums of light over squares of `step` pixels; what does not fill one at the right and below is looked at with its cell.
    let mut small = vec![vec![0.0_f32; across * across]; count];
    let mut coarse = vec![vec![0.0_f32; cells * cells]; count];
    let mut line = vec![0.0_f32; count * size];
    // Rows are added up first: that goes many pixels at a time.
    let (mut few, mut many) = (vec![0.0_f32; count * size], vec![0.0_f32; count * size]);
    for y in 0..size {
        plane.look_up(light, y0 + y, x0, &mut line);
        wide(
            #[inline(always)]
            || {
                for ((few, many), light) in few.iter_mut().zip(&mut many).zip(&line) {
                    *few += light;
                    *many += light;
                }
            },
        );
        if (y + 1) % step == 0 {
            fold(&mut few, size, step, y / step * across, &mut small);
        }
        if (y + 1) % CELL == 0 {
            fold(&mut many, size, CELL, y / CELL * cells, &mut coarse);
        }
    }
    let one = |(k, (small, coarse)): (usize, (&Vec<f32>, &Vec<f32>))| {
        conclude(grid, first, step, (column + k, row), small, coarse)
    };
    small.iter().zip(&coarse).enumerate().map(one).collect()
}

/// Adds sums of single columns up to sums over so many of them, for each half block, and begins anew.
fn fold(columns: &mut [f32], size: usize, width: usize, at: usize, out: &mut [Vec<f32>]) {
    for (half, out) in columns.chunks_exact(size).zip(out) {
        for (out, part) in out[at..].iter_mut().zip(half.chunks_exact(width)) {
            *out = part.iter().sum();
        }
    }
    columns.fill(0.0);
}

/// From the sums of one half block to what is told of it.
fn conclude(
    grid: &Grid,
    first: &Preview,
    step: usize,
    at: (usize, usize),
    small: &[f32],
    coarse: &[f32],
) -> Half {
    let size = grid.side / 2;
    let (x0, y0) = grid.pixel(at);
    let (across, cells) = (size / step, size / CELL);
    let place = |cell: usize, from: usize| (from + cell * CELL) as f64 + CELL as f64 / 2.0;
    let shading: Vec<f32> = (0..cells * cells)
        .map(|k| {
            let (u, v) = grid.place(place(k % cells, x0), place(k / cells, y0));
            factor(first.surface.at(u, v))
        })
        .collect();
    let marks = marked(small, across, step, cells, &shading, first);
    let mut moments = Moments::default();
    for (row, sums) in coarse.chunks_exact(cells).enumerate() {
        let point = |(column, sum): (usize, &f32)| {
            let k = row * cells + column;
            let mean = f64::from(sum * shading[k]) / (CELL * CELL) as f64;
            let u = grid.place(place(column, x0), 0.0).0;
            (u, LG_E * (1.0 - mean), if marks[k] { 0.0 } else { 1.0 })
        };
        moments.add_points(grid.place(0.0, place(row, y0)).1, sums.iter().enumerate().map(point));
    }
    const { assert!(POWERS == 5) };
    let light = coarse.iter().map(|sum| f64::from(*sum)).sum::<f64>() / (size * size) as f64;
    Half { moments, light, dusty: marks.contains(&true) }
}

/// What light is multiplied with where the shading adds so much density.
fn factor(density: f64) -> f32 {
    math::exp(core::f64::consts::LN_10 * density) as f32
}

/// Which cells hold a square of twice the step, at every step, that is too dark or too light for grain.
fn marked(
    small: &[f32],
    across: usize,
    step: usize,
    cells: usize,
    shading: &[f32],
    first: &Preview,
) -> Vec<bool> {
    let area = (4 * step * step) as f64;
    let dark = (area * math::pow(10.0, -OUT * first.spread.darker)) as f32;
    let pale = (area * math::pow(10.0, OUT * first.spread.lighter)) as f32;
    let mut marks = vec![false; cells * cells];
    for y in 0..across - 1 {
        let (above, below) = (&small[y * across..][..across], &small[(y + 1) * across..][..across]);
        for x in 0..across - 1 {
            let cell = |k: usize| ((k + 1) * step / CELL).min(cells - 1);
            let k = cell(y) * cells + cell(x);
            let sum = (above[x] + above[x + 1] + below[x] + below[x + 1]) * shading[k];
            if sum < dark || sum > pale {
                marks[k] = true;
            }
        }
    }
    marks
}
