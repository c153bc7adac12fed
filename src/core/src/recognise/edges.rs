//! Which way the edges of a picture run: those of a strip or a chart along two directions at right angles, those of a
//! photograph every way.

use super::Small;
use crate::numeric::math;

/// Pixels of a cell whose mean is taken, so that grain makes no edges.
const CELL: usize = 4;
/// Change of density from cell to cell that counts.
const LEAST_CHANGE: f64 = 0.04;
/// Bins of direction over half a turn.
const BINS: usize = 36;
/// Bins to either side of a direction that count as the same.
const NEAR: usize = 2;

/// Edges of a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edges {
    /// Share of the cells with an edge in them.
    pub(super) share: f64,
    /// Share of the edges that run neither along nor across the commonest direction.
    pub(super) oblique: f64,
}

impl Edges {
    /// As in a photograph. Of directions without order 28 of 36 bins are oblique.
    pub(super) fn pictorial(&self) -> bool {
        self.share > 0.04 && self.oblique > 0.42
    }
}

pub(super) fn edges(small: &Small) -> Edges {
    let (across, down) = (small.width / CELL, small.height / CELL);
    let mean = |x: usize, y: usize| {
        let rows = (0..CELL)
            .map(|dy| (0..CELL).map(|dx| f64::from(small.at(x * CELL + dx, y * CELL + dy))).sum::<f64>());
        rows.sum::<f64>() / (CELL * CELL) as f64
    };
    let cells: Vec<f64> =
        (0..down).flat_map(|y| (0..across).map(move |x| (x, y))).map(|(x, y)| mean(x, y)).collect();
    let mut directions = [0.0; BINS];
    let (mut edges, mut all) = (0.0, 0.0);
    for y in 1..down.saturating_sub(1) {
        for x in 1..across.saturating_sub(1) {
            let at = |x: usize, y: usize| cells[y * across + x];
            let dx = (at(x + 1, y) - at(x - 1, y)) / 2.0;
            let dy = (at(x, y + 1) - at(x, y - 1)) / 2.0;
            all += 1.0;
            if math::hypot(dx, dy) > LEAST_CHANGE {
                let turn = math::atan2(dy, dx) / core::f64::consts::PI + 1.0;
                directions[(turn * BINS as f64) as usize % BINS] += 1.0;
                edges += 1.0;
            }
        }
    }
    let near = |bin: usize| {
        let window = (0..=2 * NEAR).map(|offset| (bin + BINS + offset - NEAR) % BINS);
        window.map(|bin| directions[bin] + directions[(bin + BINS / 2) % BINS]).sum::<f64>()
    };
    let along = (0..BINS / 2).map(near).fold(0.0, f64::max);
    let share = if all > 0.0 { edges / all } else { 0.0 };
    Edges { share, oblique: if edges > 0.0 { 1.0 - along / edges } else { 0.0 } }
}
