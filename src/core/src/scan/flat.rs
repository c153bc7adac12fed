//! The falloff of light over a scan: measured, and taken out where light is averaged.
//!
//! A smooth polynomial of density over the frame, fitted so that dust, and whatever else lies on a few places, does not move
//! it. It is applied as a gain when an area is sampled: pixels stay as decoded. Densities are referred to the mean over the
//! frame, so that a calibration whose scan is corrected as well and a scan that is corrected meet at one level.

use nalgebra::{DMatrix, DVector};
use serde::Serialize;

use super::{Plane, ToneTable};
use crate::numeric::{math, robust};
use crate::problem::{Problem, Subject};
use crate::words;

/// Cells along each side of a blank scan.
const CELLS: usize = 32;
/// Highest power of the surface of a blank scan, and of one from borders alone.
const DEGREE: usize = 4;
const BORDER_DEGREE: usize = 2;
/// Between borders nothing was measured: so much of the surface's range is doubtful there.
const BETWEEN: f64 = 0.15;
/// Least standard uncertainty: no polynomial is the falloff itself.
const LEAST_U: f64 = 3e-4;
/// What remains after the surface beyond which a blank is no blank.
const NOT_BLANK: f64 = 0.02;
/// Side of the map that is shown.
pub const MAP: usize = 16;

/// A measured falloff.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FlatField {
    degree: usize,
    coefficients: Vec<f64>,
    mean: f64,
    /// Standard uncertainty of the density that is taken out.
    pub u: f64,
    /// Density of the darkest corner above the middle, before and after.
    pub corner: (f64, f64),
    /// Lowest and highest density of the surface, against its mean.
    pub range: (f64, f64),
    /// Root mean square of what remains.
    pub residual: f64,
    /// Share of the cells that were left out as dust or picture.
    pub left_out: f64,
    /// The surface against its mean, [`MAP`] x [`MAP`] places, row by row.
    pub map: Vec<f64>,
}

/// One cell: its place over the frame, -1 to 1, and its density.
#[derive(Debug, Clone, Copy)]
struct Cell {
    x: f64,
    y: f64,
    density: f64,
}

impl FlatField {
    /// The falloff of a scan of nothing, or of an even white.
    ///
    /// # Errors
    /// The scan is too small, or is no blank one.
    pub fn of_blank(plane: Plane<'_>, table: &ToneTable) -> Result<Self, Problem> {
        let (width, height) = (plane.width(), plane.height());
        let mut cells = Vec::with_capacity(CELLS * CELLS);
        for j in 0..CELLS {
            for i in 0..CELLS {
                let (x, y) = (
                    (i * width / CELLS, (i + 1) * width / CELLS),
                    (j * height / CELLS, (j + 1) * height / CELLS),
                );
                cells.extend(cell(plane, table, x, y));
            }
        }
        Self::fit(&cells, DEGREE, 0.0)
    }

    /// The falloff that the white of the paper shows, so many pixels wide along all four sides of the scan.
    ///
    /// # Errors
    /// The border is narrower than three pixels or wider than a quarter of the scan, or is not even.
    pub fn of_border(plane: Plane<'_>, table: &ToneTable, border: f64) -> Result<Self, Problem> {
        let (width, height) = (plane.width(), plane.height());
        let most = 0.25 * width.min(height) as f64;
        if !(3.0..=most).contains(&border) {
            return Err(Problem::error(
                Subject::Series,
                words::Flat::BorderWidth { border, most },
                words::Remedy::TypeBorder,
            ));
        }
        let wide = border as usize;
        let mut cells = Vec::new();
        let along = |length: usize| (length / wide).clamp(4, 64);
        for k in 0..along(width) {
            let x = (k * width / along(width), (k + 1) * width / along(width));
            cells.extend(cell(plane, table, x, (0, wide)));
            cells.extend(cell(plane, table, x, (height - wide, height)));
        }
        for k in 0..along(height) {
            let y = (k * height / along(height), (k + 1) * height / along(height));
            cells.extend(cell(plane, table, (0, wide), y));
            cells.extend(cell(plane, table, (width - wide, width), y));
        }
        Self::fit(&cells, BORDER_DEGREE, BETWEEN)
    }

    fn fit(cells: &[Cell], degree: usize, between: f64) -> Result<Self, Problem> {
        let (coefficients, trusted) = surface(cells, degree).ok_or_else(|| {
            Problem::error(Subject::Series, words::Flat::TooLittle, words::Remedy::ScanBlankFrame)
        })?;
        let mut flat = Self {
            degree,
            coefficients,
            mean: 0.0,
            u: 0.0,
            corner: (0.0, 0.0),
            range: (0.0, 0.0),
            residual: 0.0,
            left_out: 0.0,
            map: Vec::new(),
        };
        let place = |k: usize| (2 * k + 1) as f64 / MAP as f64 - 1.0;
        let map: Vec<f64> = (0..MAP * MAP).map(|k| flat.at(place(k % MAP), place(k / MAP))).collect();
        flat.mean = flat.mean_over_frame();
        flat.map = map.iter().map(|density| density - flat.mean).collect();
        let fold = |pick: fn(f64, f64) -> f64, from: f64| flat.map.iter().copied().fold(from, pick);
        flat.range = (fold(f64::min, f64::INFINITY), fold(f64::max, f64::NEG_INFINITY));
        let kept: Vec<&Cell> =
            cells.iter().zip(&trusted).filter(|(_, trust)| **trust > 0.3).map(|(cell, _)| cell).collect();
        let remains = |cell: &Cell| cell.density - flat.at(cell.x, cell.y);
        let squares: f64 = kept.iter().map(|cell| remains(cell) * remains(cell)).sum();
        flat.residual = math::sqrt(squares / kept.len().max(1) as f64);
        flat.left_out = 1.0 - kept.len() as f64 / cells.len() as f64;
        flat.u = math::hypot(flat.residual.max(LEAST_U), between * (flat.range.1 - flat.range.0));
        if flat.residual > NOT_BLANK || flat.left_out > 0.4 {
            return Err(Problem::error(
                Subject::Series,
                words::Flat::NotEven { density: flat.residual, percent: 100.0 * flat.left_out },
                words::Remedy::ChooseBlank,
            ));
        }
        flat.corner = flat.corners(&kept);
        Ok(flat)
    }

    /// Mean density of the darkest corner above that of the middle, before and after the surface is taken out. Where the
    /// middle was not measured, the surface stands for it.
    fn corners(&self, cells: &[&Cell]) -> (f64, f64) {
        let mean = |near: &dyn Fn(&Cell) -> bool, after: bool| {
            let of: Vec<f64> = cells
                .iter()
                .filter(|cell| near(cell))
                .map(|cell| cell.density - if after { self.at(cell.x, cell.y) } else { 0.0 })
                .collect();
            robust::mean(&of)
        };
        let middle = |cell: &Cell| cell.x.abs() < 0.15 && cell.y.abs() < 0.15;
        let centre =
            (mean(&middle, false).unwrap_or_else(|| self.at(0.0, 0.0)), mean(&middle, true).unwrap_or(0.0));
        let corner = |(x, y): (f64, f64)| {
            let near = move |cell: &Cell| cell.x * x > 0.85 && cell.y * y > 0.85;
            let loss = |after, centre| mean(&near, after).map_or(0.0, |density| density - centre);
            (loss(false, centre.0), loss(true, centre.1))
        };
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].map(corner);
        corners.into_iter().max_by(|a, b| a.0.abs().total_cmp(&b.0.abs())).unwrap_or_default()
    }

    /// Its mean over the frame: even powers have a mean of one over one more than the power, odd ones none.
    fn mean_over_frame(&self) -> f64 {
        let mean = |power: usize| if power.is_multiple_of(2) { 1.0 / (power + 1) as f64 } else { 0.0 };
        powers(self.degree).zip(&self.coefficients).map(|((a, b), c)| c * mean(a) * mean(b)).sum()
    }

    fn at(&self, x: f64, y: f64) -> f64 {
        powers(self.degree).zip(&self.coefficients).map(|((a, b), c)| c * power(x, a) * power(y, b)).sum()
    }

    /// Density to take off at a pixel of a scan of `width` by `height` pixels that shows the same frame.
    #[must_use]
    pub fn excess(&self, (x, y): (f64, f64), (width, height): (usize, usize)) -> f64 {
        let over = |at: f64, length: usize| (2.0 * at / length.max(1) as f64 - 1.0).clamp(-1.0, 1.0);
        self.at(over(x, width), over(y, height)) - self.mean
    }

    /// What light at a pixel is to be multiplied by.
    #[must_use]
    pub fn gain(&self, at: (f64, f64), size: (usize, usize)) -> f64 {
        math::pow(10.0, self.excess(at, size))
    }
}

/// Density of the mean light of a cell; a median over rows of means keeps dust out of it. None where it is clipped.
fn cell(
    plane: Plane<'_>,
    table: &ToneTable,
    (x0, x1): (usize, usize),
    (y0, y1): (usize, usize),
) -> Option<Cell> {
    if x1 <= x0 || y1 <= y0 {
        return None;
    }
    let top = plane.levels() - 1;
    let mut rows = Vec::with_capacity(y1 - y0);
    let mut clipped = 0;
    for y in y0..y1 {
        let mut light = 0.0;
        for code in plane.row(y, x0, x1) {
            clipped += usize::from(code == 0 || usize::from(code) == top);
            light += table.light.get(usize::from(code)).copied().unwrap_or(0.0);
        }
        rows.push(light / (x1 - x0) as f64);
    }
    let light = robust::trimmed_mean(&rows, 0.1)?;
    let over = |from: usize, to: usize, length: usize| (from + to) as f64 / length as f64 - 1.0;
    let few = clipped * 100 < (x1 - x0) * (y1 - y0);
    (few && light > 0.0).then(|| Cell {
        x: over(x0, x1, plane.width()),
        y: over(y0, y1, plane.height()),
        density: -math::log10(light),
    })
}

fn powers(degree: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..=degree).flat_map(move |a| (0..=degree - a).map(move |b| (a, b)))
}

fn power(value: f64, exponent: usize) -> f64 {
    (0..exponent).fold(1.0, |product, _| product * value)
}

/// Coefficients and how far each cell is trusted: J. W. Tukey's biweight at 4.685 robust sigma, repeated.
fn surface(cells: &[Cell], degree: usize) -> Option<(Vec<f64>, Vec<f64>)> {
    let terms: Vec<(usize, usize)> = powers(degree).collect();
    if cells.len() < 2 * terms.len() {
        return None;
    }
    let design = DMatrix::from_fn(cells.len(), terms.len(), |row, k| {
        power(cells[row].x, terms[k].0) * power(cells[row].y, terms[k].1)
    });
    let density = DVector::from_fn(cells.len(), |row, _| cells[row].density);
    // Begins from the densities that most cells are near to, so that a dark picture does not draw it along.
    let all: Vec<f64> = cells.iter().map(|cell| cell.density).collect();
    let usual = robust::median(&all)?;
    let spread = (3.0 * robust::MAD_TO_SIGMA * robust::median_absolute_deviation(&all)?).max(0.02);
    let mut trust: Vec<f64> = all.iter().map(|d| biweight((d - usual) / (4.685 * spread))).collect();
    let mut solved = None;
    for _ in 0..12 {
        let weighted = DMatrix::from_fn(cells.len(), terms.len(), |row, k| design[(row, k)] * trust[row]);
        let normal = weighted.transpose() * &design;
        let found = normal.cholesky()?.solve(&(weighted.transpose() * &density));
        let residuals = &density - &design * &found;
        let sizes: Vec<f64> =
            residuals.iter().zip(&trust).filter(|(_, t)| **t > 0.0).map(|(r, _)| r.abs()).collect();
        let sigma = (robust::median(&sizes)? * robust::MAD_TO_SIGMA).max(1e-5);
        trust = residuals.iter().map(|r| biweight(r / (4.685 * sigma))).collect();
        solved = Some(found);
    }
    Some((solved?.iter().copied().collect(), trust))
}

fn biweight(share: f64) -> f64 {
    if share.abs() < 1.0 { (1.0 - share * share) * (1.0 - share * share) } else { 0.0 }
}
