//! Where in the picture the candidate carries the reference's detail.

use serde::Serialize;

use super::blocks::FIRST;
use super::coherence::{SegmentCounts, bias};
use super::films::Films;
use super::{Blocks, Work};
use crate::geometry::Point;

/// A value for each block of the picture, row by row.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Map {
    /// How many blocks lie side by side.
    pub columns: usize,
    /// How many rows of blocks there are.
    pub rows: usize,
    /// Middle of the first block, in pixels of the reference's scan.
    pub first: Point,
    /// Distance of blocks in pixels of the reference's scan.
    pub step_px: f64,
    /// Lowest and highest frequency that it is taken from, cycles per millimetre.
    pub band: (f64, f64),
    /// Share of the reference's detail that the candidate carries too, 0..=1; none where the reference shows no detail above
    /// its grain, or where the block was left out.
    pub share: Vec<Option<f32>>,
}

impl Map {
    /// The mean over all blocks that have a share.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        let count = self.share.iter().flatten().count();
        (count > 0)
            .then(|| self.share.iter().flatten().map(|share| f64::from(*share)).sum::<f64>() / count as f64)
    }
}

/// Blocks around one that are taken with it.
const AROUND: usize = 1;
/// Less of the reference's power from the scene is no detail.
const LEAST_SCENE: f64 = 0.5;

/// The share over each block and its neighbours, in the middle third of the frequencies that the reference carries.
pub(super) fn map(
    blocks: &Blocks,
    used: &[bool],
    work: &Work<'_>,
    worth: &SegmentCounts,
    films: &Films,
) -> Map {
    let grid = work.frame.grid;
    let annuli = blocks.annuli;
    let carried = |annulus: &usize| {
        films.rows[annulus - FIRST].coherence.value > 0.1
            || films.apart[*annulus].as_ref().is_some_and(|(best, _)| best.share[0] > 0.5)
    };
    let end = (FIRST..annuli).take_while(carried).last().unwrap_or(FIRST) + 1;
    let band = FIRST + (end - FIRST) / 3..(FIRST + 2 * (end - FIRST) / 3).max(FIRST + (end - FIRST) / 3 + 1);
    // Annuli count alike. What of the reference's power there is grain is taken to be the same everywhere.
    let mut weights = Vec::new();
    let mut grain = 0.0;
    let count = used.iter().filter(|used| **used).count().max(1) as f64;
    for annulus in band.clone() {
        let all = |part: usize| {
            let these = (0..blocks.at.len()).filter(|block| used[*block]);
            these.map(|block| f64::from(blocks.parts(block)[annulus][part])).sum::<f64>() / count
        };
        let (one, two) = (all(0).max(1e-300), all(1).max(1e-300));
        weights.push((1.0 / one, 1.0 / two));
        if let Some((best, _)) = &films.apart[annulus] {
            grain += (1.0 - best.share[0]).clamp(0.0, 1.0);
        }
    }
    let sums: Vec<[f64; 4]> = (0..blocks.at.len())
        .map(|block| {
            let mut sums = [0.0; 4];
            for (annulus, (one, two)) in band.clone().zip(&weights) {
                let parts = blocks.parts(block)[annulus].map(f64::from);
                let both = (one * two).sqrt();
                sums[0] += parts[0] * one;
                sums[1] += parts[1] * two;
                sums[2] += parts[3] * both;
                sums[3] += parts[4] * both;
            }
            sums
        })
        .collect();
    let mut index = vec![None; grid.columns * grid.rows];
    for (block, (column, row)) in blocks.at.iter().enumerate() {
        if used[block] {
            index[row * grid.columns + column] = Some(block);
        }
    }
    let segments: f64 = band.clone().map(|annulus| worth.alone(annulus)).sum();
    let share_at = |column: usize, row: usize| -> Option<f32> {
        let own = index[row * grid.columns + column];
        own?;
        let (mut all, mut held) = ([0.0; 4], 0.0_f64);
        for r in row.saturating_sub(AROUND)..(row + AROUND + 1).min(grid.rows) {
            for c in column.saturating_sub(AROUND)..(column + AROUND + 1).min(grid.columns) {
                let Some(block) = index[r * grid.columns + c] else { continue };
                all.iter_mut().zip(&sums[block]).for_each(|(sum, part)| *sum += part);
                held += 1.0;
            }
        }
        let raw = ((all[2] * all[2] + all[3] * all[3]) / (all[0] * all[1]).max(1e-300)).min(1.0);
        // Neighbours overlap: nine of them are worth some four.
        let independent = segments * (0.5 * held).max(1.0);
        let coherence = (raw - bias(raw, independent)).max(0.0);
        let scene = 1.0 - grain * held / all[0].max(1e-300);
        (scene >= LEAST_SCENE).then_some((coherence / scene).clamp(0.0, 1.0) as f32)
    };
    let every = (0..grid.rows).flat_map(|row| (0..grid.columns).map(move |column| (column, row)));
    let mut share: Vec<Option<f32>> = every.map(|(column, row)| share_at(column, row)).collect();
    if work.asked.quick {
        spread(&mut share, &blocks.at, grid.columns);
    }
    let (x, y) = grid.corner((0, 0));
    let corner = work.to_scan((x, y));
    let scale = work.reference.picture.scale;
    let half = grid.side as f64 * scale / 2.0;
    let frequency = |annulus: usize| films.rows[annulus - FIRST].frequency;
    Map {
        columns: grid.columns,
        rows: grid.rows,
        first: Point::new(corner.x + half, corner.y + half),
        step_px: half,
        band: (frequency(band.start), frequency(band.end - 1)),
        share,
    }
}

/// Blocks that a quick look passed over take the nearest before them in their row.
fn spread(share: &mut [Option<f32>], looked: &[(usize, usize)], columns: usize) {
    let mut seen = vec![false; share.len()];
    looked.iter().for_each(|(column, row)| seen[row * columns + column] = true);
    for at in 1..share.len() {
        if !seen[at] && at % columns != 0 {
            share[at] = share[at - 1];
        }
    }
    for at in columns..share.len() {
        if !seen[at] && share[at].is_none() {
            share[at] = share[at - columns];
        }
    }
}
