//! JPEG: coefficients of 8 x 8 blocks that stand on the teeth of a comb (ITU-T T.81: the forward transform of A.3.3, the
//! quantisation of A.3.4).

use super::tiles::Tiles;
use super::{Fault, Test};
use crate::numeric::math;
use crate::words;

/// How far coefficients must stand on the teeth: mean cosine of their phase between teeth.
const COMB: f64 = 0.5;
/// Share of blocks of one code throughout from which blocks are seen, where others that begin elsewhere are not so.
const EVEN: f64 = 0.1;
/// Fewer coefficients off zero say nothing.
const LEAST_COEFFICIENTS: f64 = 24.0;
/// Steps of quantisation that are looked for, in 8-bit codes. A step of one is that of rounding to whole codes.
const STEPS: core::ops::RangeInclusive<u32> = 2..=60;

/// Frequencies that are looked at: low ones, where coefficients are large and not all zero.
const FREQUENCIES: [(usize, usize); 12] =
    [(0, 1), (1, 0), (1, 1), (2, 0), (0, 2), (2, 1), (1, 2), (3, 0), (0, 3), (2, 2), (3, 1), (1, 3)];

/// The test; blocks may begin anywhere if the picture was cut after it was compressed.
pub(super) fn jpeg(tiles: &Tiles, eight_bits: bool) -> Test {
    let scale = if eight_bits { 1.0 } else { 257.0 };
    let basis = basis();
    let mut best: Option<(f64, u32, usize)> = None;
    let mut seen = 0.0_f64;
    for phase in phases(tiles) {
        let coefficients = coefficients(tiles, phase, scale, &basis);
        let (mut combed, mut strongest) = (0, (0.0, 0));
        for values in &coefficients {
            let found = comb(values);
            seen = seen.max(found.2);
            if found.0 > COMB {
                combed += 1;
            }
            if found.0 > strongest.0 {
                strongest = (found.0, found.1);
            }
        }
        if best.is_none_or(|(value, _, count)| (combed, strongest.0) > (count, value)) {
            best = Some((strongest.0, strongest.1, combed));
        }
    }
    if let Some(share) = phases(tiles).into_iter().find_map(|phase| even_blocks(tiles, phase)) {
        let sentence = words::Examined::EvenBlocks { percent: words::Percent(share) }.into();
        return Test::new(Fault::JpegBlocks, true, share, EVEN, sentence);
    }
    let Some((value, step, combed)) = best.filter(|_| seen >= LEAST_COEFFICIENTS) else {
        return Test::not_testable(Fault::JpegBlocks, COMB, words::Examined::TooFaint.into());
    };
    let recognised = combed >= 2;
    let sentence = if recognised {
        words::Examined::OnSteps { share: words::Number(value, 2), step }.into()
    } else {
        words::Examined::OnNoSteps { share: words::Number(value.max(0.0), 2) }.into()
    };
    Test::new(Fault::JpegBlocks, recognised, value, COMB, sentence)
}

/// Share of the blocks that begin at `phase` and are of one code throughout, where there are many of them and far fewer begin
/// four pixels further: what is left of plain noise where all its coefficients became zero.
fn even_blocks(tiles: &Tiles, phase: (usize, usize)) -> Option<f64> {
    let share = |(left, top): (usize, usize)| {
        let (mut even, mut all) = (0.0, 0.0);
        for tile in &tiles.tiles {
            for y in (top..(tile.height + 1).saturating_sub(8)).step_by(8) {
                for x in (left..(tile.width + 1).saturating_sub(8)).step_by(8) {
                    let first = tile.row(y)[x];
                    let same = (y..y + 8)
                        .all(|y| tile.row(y)[x..x + 8].iter().all(|code| (code - first).abs() < 0.5));
                    even += f64::from(u8::from(same));
                    all += 1.0;
                }
            }
        }
        even / f64::max(all, 1.0)
    };
    let here = share(phase);
    let elsewhere = share(((phase.0 + 4) % 8, (phase.1 + 4) % 8));
    (here > EVEN && here > 3.0 * elsewhere).then_some(here)
}

/// Where blocks may begin: at the corner, and where differences between neighbouring pixels are largest.
fn phases(tiles: &Tiles) -> Vec<(usize, usize)> {
    let (mut across, mut down) = ([0.0_f64; 8], [0.0_f64; 8]);
    let (mut wide, mut high) = ([1e-9_f64; 8], [1e-9_f64; 8]);
    for tile in &tiles.tiles {
        for y in 1..tile.height {
            let (row, above) = (tile.row(y), tile.row(y - 1));
            for x in 1..tile.width {
                // Square roots, so that edges of the picture do not drown those of blocks.
                across[x % 8] += f64::from((row[x] - row[x - 1]).abs().sqrt());
                wide[x % 8] += 1.0;
                down[y % 8] += f64::from((row[x] - above[x]).abs().sqrt());
                high[y % 8] += 1.0;
            }
        }
    }
    let best = |sums: [f64; 8], counts: [f64; 8]| {
        (0..8).max_by(|a, b| (sums[*a] / counts[*a]).total_cmp(&(sums[*b] / counts[*b]))).unwrap_or(0)
    };
    let found = (best(across, wide), best(down, high));
    if found == (0, 0) { vec![(0, 0)] } else { vec![(0, 0), found] }
}

/// The transform's rows: `c(u)/2 cos((2x+1) u pi/16)`.
fn basis() -> [[f64; 8]; 8] {
    let mut basis = [[0.0; 8]; 8];
    for (u, row) in basis.iter_mut().enumerate() {
        let norm = if u == 0 { math::sqrt(0.125) } else { 0.5 };
        for (x, value) in row.iter_mut().enumerate() {
            let (_, cos) = math::sincos((2 * x + 1) as f64 * u as f64 * core::f64::consts::PI / 16.0);
            *value = norm * cos;
        }
    }
    basis
}

/// For each frequency its coefficients in all blocks.
fn coefficients(tiles: &Tiles, phase: (usize, usize), scale: f64, basis: &[[f64; 8]; 8]) -> Vec<Vec<f64>> {
    let mut found = vec![Vec::new(); FREQUENCIES.len()];
    let step = if tiles.tiles.len() > 16 { 16 } else { 8 };
    for tile in &tiles.tiles {
        for y in (phase.1..(tile.height + 1).saturating_sub(8)).step_by(step) {
            for x in (phase.0..(tile.width + 1).saturating_sub(8)).step_by(step) {
                // Along rows for the four lowest frequencies, then down.
                let mut rows = [[0.0; 4]; 8];
                for (j, row) in rows.iter_mut().enumerate() {
                    let codes = &tile.row(y + j)[x..x + 8];
                    for (u, value) in row.iter_mut().enumerate() {
                        *value = codes.iter().zip(&basis[u]).map(|(code, b)| f64::from(*code) * b).sum();
                    }
                }
                for (slot, (u, v)) in found.iter_mut().zip(FREQUENCIES) {
                    let value: f64 = rows.iter().zip(&basis[v]).map(|(row, b)| row[u] * b).sum();
                    slot.push(value / scale);
                }
            }
        }
    }
    found
}

/// The step on whose teeth the coefficients off zero stand best: mean cosine, step, number of such coefficients. Of the
/// first teeth and of those beyond the worse counts: along an edge many coefficients are alike, on one tooth of any step.
fn comb(values: &[f64]) -> (f64, u32, f64) {
    let (mut best, mut most) = ((0.0, 0), 0.0_f64);
    for step in STEPS {
        let q = f64::from(step);
        let (mut sums, mut counts) = ([0.0_f64; 2], [0.0_f64; 2]);
        for value in values.iter().filter(|value| value.abs() > 0.6 * q) {
            let tooth = usize::from(value.abs() > 1.5 * q);
            sums[tooth] += math::sincos(core::f64::consts::TAU * value / q).1;
            counts[tooth] += 1.0;
        }
        let count = counts[0].min(counts[1]);
        most = most.max(count);
        let value = (sums[0] / counts[0]).min(sums[1] / counts[1]);
        if count >= LEAST_COEFFICIENTS && value > best.0 {
            best = (value, step);
        }
    }
    (best.0, best.1, most)
}
