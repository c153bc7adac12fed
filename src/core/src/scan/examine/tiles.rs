//! Squares of a scan, spread over it, that the tests on neighbouring pixels look at: enough of them, and no more.

use crate::scan::Plane;

/// Side of a tile in pixels; a multiple of eight.
pub(super) const SIDE: usize = 128;
const _: () = assert!(SIDE.is_multiple_of(8));
/// Tiles along each side of the scan.
const ALONG: usize = 8;

/// One square of codes, row by row.
#[derive(Debug, Clone)]
pub(super) struct Tile {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) codes: Vec<f32>,
}

impl Tile {
    pub(super) fn row(&self, y: usize) -> &[f32] {
        &self.codes[y * self.width..][..self.width]
    }
}

/// Tiles that begin at multiples of eight pixels.
#[derive(Debug, Clone)]
pub(super) struct Tiles {
    pub(super) tiles: Vec<Tile>,
    /// The highest code that occurs.
    pub(super) top: f64,
}

impl Tiles {
    pub(super) fn of(plane: Plane<'_>) -> Self {
        let numbers: Vec<f32> = (0..plane.levels()).map(|code| code as f32).collect();
        let (columns, rows) = (starts(plane.width()), starts(plane.height()));
        let tile = |x: usize, y: usize| {
            let (width, height) = (SIDE.min(plane.width() - x), SIDE.min(plane.height() - y));
            let mut codes = vec![0.0; width * height];
            for (line, row) in codes.chunks_mut(width).enumerate() {
                plane.look_up(&numbers, y + line, x, row);
            }
            Tile { width, height, codes }
        };
        let tiles = rows.iter().flat_map(|y| columns.iter().map(|x| tile(*x, *y))).collect();
        Self { tiles, top: (plane.levels() - 1) as f64 }
    }
}

/// Where tiles begin along a side: no overlap.
fn starts(length: usize) -> Vec<usize> {
    let fitting = (length / SIDE).max(usize::from(length > 0));
    let count = fitting.min(ALONG);
    let room = length.saturating_sub(SIDE);
    (0..count).map(|k| if count == 1 { room / 2 } else { room * k / (count - 1) } / 8 * 8).collect()
}
