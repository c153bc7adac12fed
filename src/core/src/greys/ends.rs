//! Where a print is as white as its paper, and where it is as black as it gets: areas that hold no picture.
//!
//! The print is looked at in square cells, each by its mean light, as a densitometer would see it. A cell is blank where that does
//! not differ from the paper's white by more than noise, and blocked where it does not differ from the deepest black.

use rayon::prelude::*;
use serde::Serialize;

use crate::numeric::wide::wide;
use crate::numeric::{math, quantiles};
use crate::scan::{Plane, ToneTable};
use crate::units::Density;

/// One end of the paper: the density of its white or of its deepest black.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct End {
    /// Density as measured on the paper test.
    pub density: f64,
    /// Standard uncertainty of that.
    pub u: f64,
    /// Standard deviation of the density of cells in an area of it: the noise.
    pub noise: f64,
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Asked {
    /// The paper's white, where known.
    pub white: Option<End>,
    /// The deepest black, where known.
    pub black: Option<End>,
    /// Side of a cell in pixels, at least 1.
    pub cell: usize,
}

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cell {
    /// Tones between both ends.
    #[default]
    Picture,
    /// As white as the paper.
    Blank,
    /// As black as the paper gets.
    Blocked,
}

/// The cells of a print, row by row from the upper left. Pixels that do not fill a cell at the right and lower edge are left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mask {
    /// Number of cells in a row.
    pub width: usize,
    /// Number of rows of cells.
    pub height: usize,
    /// Side of a cell in pixels.
    pub cell: usize,
    /// What each cell holds, `width` times `height`.
    pub cells: Vec<Cell>,
}

impl Mask {
    /// The share of cells that hold that; 0 where there are no cells.
    #[must_use]
    pub fn share(&self, what: Cell) -> f64 {
        self.cells.iter().filter(|cell| **cell == what).count() as f64 / self.cells.len().max(1) as f64
    }
}

/// Share of cells of an end itself that are found to be of it.
const FOUND: f64 = 0.95;

impl End {
    /// The density that cells of this end pass by chance in one of twenty: on the side of the picture.
    fn limit(&self, towards: f64) -> f64 {
        self.density + towards * quantiles::normal(FOUND) * math::hypot(self.u, self.noise)
    }
}

/// Adds each cell's pixels of one row to its sum.
fn add(sums: &mut [f64], pixels: &[f32], cell: usize) {
    wide(
        #[inline(always)]
        || {
            for (sum, part) in sums.iter_mut().zip(pixels.chunks_exact(cell)) {
                for pixel in part {
                    *sum += f64::from(*pixel);
                }
            }
        },
    );
}

/// The mask of a print, its light corrected by the plane's falloff where it has one. Rows of cells are shared out between
/// processors. No cells where the table is not one of the plane's codes.
#[must_use]
pub fn mask(plane: Plane<'_>, table: &ToneTable, asked: &Asked) -> Mask {
    let cell = asked.cell.max(1);
    let fits = usize::from(table.light.len() >= plane.levels());
    let (width, height) = (fits * plane.width() / cell, fits * plane.height() / cell);
    let light: Vec<f32> = table.light.iter().map(|light| *light as f32).collect();
    let limit = |end: Option<End>, towards: f64| end.map(|end| Density(end.limit(towards)).light());
    let blank = limit(asked.white, 1.0).unwrap_or(f64::INFINITY);
    let blocked = limit(asked.black, -1.0).unwrap_or(0.0);
    let mut cells = vec![Cell::Picture; width * height];
    let space = || (vec![0.0_f32; width * cell], vec![0.0_f64; width]);
    let rows = cells.par_chunks_mut(width.max(1)).enumerate();
    rows.for_each_init(space, |(pixels, sums), (row, out)| {
        sums.fill(0.0);
        for y in row * cell..(row + 1) * cell {
            plane.look_up(&light, y, 0, pixels);
            add(sums, pixels, cell);
        }
        let size = (plane.width(), plane.height());
        let middle = |i: usize| ((i as f64 + 0.5) * cell as f64, (row as f64 + 0.5) * cell as f64);
        for (i, (out, sum)) in out.iter_mut().zip(&*sums).enumerate() {
            let gain = plane.flat().map_or(1.0, |flat| flat.gain(middle(i), size));
            let mean = sum / (cell * cell) as f64 * gain;
            *out = if mean >= blank {
                Cell::Blank
            } else if mean <= blocked {
                Cell::Blocked
            } else {
                Cell::Picture
            };
        }
    });
    Mask { width, height, cell, cells }
}
