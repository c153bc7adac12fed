//! Contrast from place to place: films render colours and tones differently, so one piece of the subject has more contrast on
//! the candidate, another less. What a frequency is made of changes with frequency, and would pass for a change of
//! modulation; so each block is brought to one contrast first.

use super::Blocks;
use super::blocks::{FIRST, Grid, Parts};
use super::coherence::SegmentCounts;
use crate::numeric::math;

/// Contrast is taken where the prints as a whole share so much.
const SHARED: f64 = 0.6;
/// Of a block and its neighbours.
const AROUND: usize = 1;

/// Brings every block of second and third print to the mean contrast against the first, as far as blocks differ by more than
/// chance. Tells by how much they do: the largest standard deviation of the logarithm of contrast.
pub(super) fn even(
    blocks: &mut Blocks,
    used: &[bool],
    grid: &Grid,
    worth: &SegmentCounts,
    others: usize,
) -> f64 {
    let mut most = 0.0_f64;
    for print in 0..others {
        let Some((gains, spread)) = gains(blocks, used, grid, worth, print) else { continue };
        most = most.max(spread);
        let annuli = blocks.annuli;
        for (gain, parts) in gains.iter().zip(blocks.spectra.chunks_exact_mut(annuli)) {
            let by = (1.0 / gain) as f32;
            parts.iter_mut().for_each(|parts| scale(parts, print, by));
        }
    }
    most
}

fn scale(parts: &mut Parts, print: usize, by: f32) {
    parts[1 + print] *= by * by;
    for part in [3 + 2 * print, 4 + 2 * print, 7, 8] {
        parts[part] *= by;
    }
}

/// Each block's contrast over the mean, and how its logarithm spreads; `None` where the prints share too little to tell.
fn gains(
    blocks: &Blocks,
    used: &[bool],
    grid: &Grid,
    worth: &SegmentCounts,
    print: usize,
) -> Option<(Vec<f64>, f64)> {
    let count = blocks.at.len();
    let sum = |annulus: usize, part: usize| -> f64 {
        (0..count)
            .filter(|block| used[*block])
            .map(|block| f64::from(blocks.parts(block)[annulus][part]))
            .sum()
    };
    let (cross, power) = (3 + 2 * print, 1 + print);
    let shared = |annulus: &usize| {
        let (re, im) = (sum(*annulus, cross), sum(*annulus, cross + 1));
        (re * re + im * im) / (sum(*annulus, 0) * sum(*annulus, power)).max(1e-300) > SHARED
    };
    // Low enough that blur is not taken for contrast.
    let most = (FIRST + (grid.side / 16).max(3)).min(blocks.annuli);
    let end = (FIRST..most).take_while(shared).last()? + 1;
    // Annuli count alike.
    let weights: Vec<f64> = (FIRST..end).map(|annulus| 1.0 / sum(annulus, 0).max(1e-300)).collect();
    let own: Vec<[f64; 3]> = (0..count)
        .map(|block| {
            let mut sums = [0.0; 3];
            for (parts, weight) in blocks.parts(block)[FIRST..end].iter().zip(&weights) {
                sums[0] += weight * f64::from(parts[0]);
                sums[1] += weight * f64::from(parts[power]);
                sums[2] += weight * f64::from(parts[cross]);
            }
            sums
        })
        .collect();
    let mut index = vec![None; grid.columns * grid.rows];
    for (block, (column, row)) in blocks.at.iter().enumerate().filter(|(block, _)| used[*block]) {
        index[row * grid.columns + column] = Some(block);
    }
    let segments: f64 = (FIRST..end).map(|annulus| worth.alone(annulus)).sum();
    // ln of contrast and its variance.
    let told: Vec<Option<(f64, f64)>> = blocks
        .at
        .iter()
        .map(|(column, row)| {
            let (mut sums, mut held) = ([0.0; 3], 0.0_f64);
            for r in row.saturating_sub(AROUND)..(row + AROUND + 1).min(grid.rows) {
                for c in column.saturating_sub(AROUND)..(column + AROUND + 1).min(grid.columns) {
                    let Some(block) = index[r * grid.columns + c] else { continue };
                    (0..3).for_each(|n| sums[n] += own[block][n]);
                    held += 1.0;
                }
            }
            let coherence = sums[2] * sums[2] / (sums[0] * sums[1]).max(1e-300);
            if !(sums[2] > 0.0 && coherence > 0.3) {
                return None;
            }
            let independent = segments * (0.5 * held).max(1.0);
            Some((math::ln(sums[2] / sums[0]), (1.0 - coherence).max(1e-3) / (2.0 * coherence * independent)))
        })
        .collect();
    // Blocks with most of the scene's power matter most.
    let (mut all, mut mean, mut square, mut noise) = (0.0, 0.0, 0.0, 0.0);
    for (told, own) in told.iter().zip(&own) {
        let Some((gain, variance)) = told else { continue };
        all += own[0];
        mean += own[0] * gain;
        square += own[0] * gain * gain;
        noise += own[0] * variance;
    }
    if all <= 0.0 {
        return None;
    }
    let mean = mean / all;
    // Chance alone spreads by its own variance; half as much again is no evidence yet.
    let spread = square / all - mean * mean - 1.5 * noise / all;
    if spread <= 0.0 {
        return None;
    }
    let gain = |told: &Option<(f64, f64)>| {
        told.map_or(1.0, |(gain, variance)| math::exp(spread / (spread + variance) * (gain - mean)))
    };
    Some((told.iter().map(gain).collect(), math::sqrt(spread)))
}
