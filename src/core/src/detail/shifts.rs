//! What is left of a shift between the prints, block by block, from the phase of their cross-spectrum.
//!
//! A block's shift is where the weighted cross-spectrum, turned back, has its largest real part; weights are those of the
//! maximum-likelihood phase estimate (C. H. Knapp & G. C. Carter, IEEE Trans. Acoust. Speech Signal Process. 24, 1976).
//! Neighbouring blocks are joined, and what they say is weighed against the registration: true shifts are taken to spread
//! by the registration's uncertainty, or by more where the blocks say so.

use std::collections::BTreeMap;

use rayon::prelude::*;
use rustfft::num_complex::Complex;
use serde::Serialize;

use super::blocks::{FIRST, Grid, Parts, Plan};
use crate::numeric::math;

/// What a first look at a block keeps.
pub(super) struct FirstLook {
    pub(super) at: (usize, usize),
    pub(super) spectra: Vec<Parts>,
    /// Low coefficients of the cross-spectrum with each other print.
    pub(super) cross: Vec<Vec<Complex<f32>>>,
}

/// A block's shift.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shift {
    pub(super) x: f64,
    pub(super) y: f64,
    /// Variance per axis.
    pub(super) variance: f64,
}

/// The shifts of one print.
struct Sheet {
    /// Of blocks that tell theirs, by column and row of the coarse blocks, alone and joined with their neighbours.
    alone: BTreeMap<(usize, usize), Shift>,
    joined: BTreeMap<(usize, usize), Shift>,
    /// Blocks that moved otherwise than all others.
    moved: BTreeMap<(usize, usize), Shift>,
    mean: (f64, f64),
    /// Variance per axis of true shifts.
    spread: f64,
}

/// Shifts over the picture.
pub(super) struct Field {
    sheets: Vec<Sheet>,
}

/// What was left between the prints after registration, in pixels of the reference's scan.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Shifts {
    /// Blocks that told a shift.
    pub blocks: usize,
    /// Their mean shift, along and down.
    pub mean_px: (f64, f64),
    /// Root mean square per axis of the shifts that were taken out.
    pub taken_out_px: f64,
    /// Standard uncertainty per axis of what was taken out: what remains.
    pub remaining_px: f64,
}

/// Variance of a sum of neighbouring coefficients under a Hann window over that of as many independent ones:
/// (35/18)^2, by its Fourier series.
const WINDOWED: f64 = 35.0 / 18.0 * (35.0 / 18.0);
/// Shifts of less are no movement of the subject, in pixels.
const LEAST_MOVE: f64 = 0.6;
/// A shift beyond so many standard deviations is one.
const MOVE: f64 = 5.0;

/// Finds the shifts of all prints; `priors` are the registrations' standard uncertainties per axis in pixels.
pub(super) fn field(plan: &Plan, grid: &Grid, looks: &[FirstLook], priors: &[f64]) -> Field {
    let cells: Vec<(usize, i32, i32)> = plan.low_cells().collect();
    let sheets =
        priors.iter().enumerate().map(|(print, prior)| sheet(plan, grid, looks, &cells, print, *prior));
    Field { sheets: sheets.collect() }
}

/// Weights over annuli: C / (1 - C) over the cross-spectrum's size.
fn weights(plan: &Plan, looks: &[FirstLook], print: usize) -> Vec<f64> {
    (0..plan.annuli)
        .map(|annulus| {
            if annulus < FIRST {
                return 0.0;
            }
            let sum =
                |part: usize| looks.iter().map(|look| f64::from(look.spectra[annulus][part])).sum::<f64>();
            let (one, other, re, im) = (sum(0), sum(1 + print), sum(3 + 2 * print), sum(4 + 2 * print));
            let square = re * re + im * im;
            let coherence = (square / (one * other).max(1e-300)).min(0.9999);
            // Below a coherence of 1 % a few blocks say nothing.
            if coherence < 0.01 { 0.0 } else { coherence / (1.0 - coherence) / math::sqrt(square) }
        })
        .collect()
}

fn shift_of(
    plan: &Plan,
    cross: &[Complex<f32>],
    cells: &[(usize, i32, i32)],
    weights: &[f64],
) -> Option<Shift> {
    let unit = core::f64::consts::TAU / plan.side as f64;
    let half = plan.side as i32 / 2;
    let (mut x, mut y) = (0.0_f64, 0.0_f64);
    let mut settled = None;
    for _ in 0..6 {
        let (along, down) = plan.turns((x, y));
        let (mut gx, mut gy, mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let (mut vxx, mut vxy, mut vyy) = (0.0, 0.0, 0.0);
        for (value, (annulus, kx, ky)) in cross.iter().zip(cells) {
            let weight = weights[*annulus];
            if weight <= 0.0 {
                continue;
            }
            let turned = value * (along[(kx + half) as usize] * down[*ky as usize]);
            let (re, im) = (weight * f64::from(turned.re), weight * f64::from(turned.im));
            let (kx, ky) = (unit * f64::from(*kx), unit * f64::from(*ky));
            gx -= kx * im;
            gy -= ky * im;
            xx += kx * kx * re;
            xy += kx * ky * re;
            yy += ky * ky * re;
            vxx += kx * kx * im * im;
            vxy += kx * ky * im * im;
            vyy += ky * ky * im * im;
        }
        let determinant = xx * yy - xy * xy;
        if !(xx > 0.0 && yy > 0.0 && determinant > 1e-6 * xx * yy) {
            return None;
        }
        let [a, b, c] = [yy / determinant, -xy / determinant, xx / determinant];
        let (sx, sy) = (a * gx + b * gy, b * gx + c * gy);
        let length = math::hypot(sx, sy);
        let cut = if length > 1.5 { 1.5 / length } else { 1.0 };
        x += cut * sx;
        y += cut * sy;
        if length < 0.01 {
            // Rows of inverse times middle times inverse, their diagonal.
            let along = a * a * vxx + 2.0 * a * b * vxy + b * b * vyy;
            let down = b * b * vxx + 2.0 * b * c * vxy + c * c * vyy;
            settled = Some(WINDOWED * 0.5 * (along + down));
            break;
        }
    }
    let variance = settled?;
    (variance.is_finite() && variance < 4.0).then_some(Shift { x, y, variance: variance.max(1e-8) })
}

fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    let (_, median, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    *median
}

fn sheet(
    plan: &Plan,
    grid: &Grid,
    looks: &[FirstLook],
    cells: &[(usize, i32, i32)],
    print: usize,
    prior: f64,
) -> Sheet {
    let weights = weights(plan, looks, print);
    let place = |(column, row): (usize, usize)| (column / 2, row / 2);
    let found =
        |look: &FirstLook| Some((place(look.at), shift_of(plan, &look.cross[print], cells, &weights)?));
    let all: BTreeMap<(usize, usize), Shift> = looks.par_iter().filter_map(found).collect();
    let good = || all.values().filter(|shift| shift.variance < 0.25);
    let mean = (median(good().map(|s| s.x).collect()), median(good().map(|s| s.y).collect()));
    let away = |shift: &Shift| [shift.x - mean.0, shift.y - mean.1];
    let deviation = 1.4826 * median(good().flat_map(away).map(f64::abs).collect());
    let noise = median(good().map(|shift| shift.variance).collect());
    let spread = (deviation * deviation - noise).max(prior * prior);
    let far = |shift: &Shift| {
        let [x, y] = away(shift);
        let distance = math::hypot(x, y);
        distance > LEAST_MOVE && distance > MOVE * math::sqrt(spread + shift.variance)
    };
    let (moved, alone): (BTreeMap<_, _>, BTreeMap<_, _>) = all.into_iter().partition(|(_, shift)| far(shift));
    let mut joined = BTreeMap::new();
    for row in 0..grid.rows.div_ceil(2) {
        for column in 0..grid.columns.div_ceil(2) {
            let near = |at: usize| at.saturating_sub(1)..=at + 1;
            let (mut weight, mut x, mut y) = (0.0, 0.0, 0.0);
            for shift in
                near(row).flat_map(|r| near(column).map(move |c| (c, r))).filter_map(|at| alone.get(&at))
            {
                weight += 1.0 / shift.variance;
                x += shift.x / shift.variance;
                y += shift.y / shift.variance;
            }
            if weight > 0.0 {
                let variance = 1.0 / weight;
                let trust = spread / (spread + variance);
                let x = mean.0 + trust * (x / weight - mean.0);
                let y = mean.1 + trust * (y / weight - mean.1);
                joined.insert((column, row), Shift { x, y, variance: trust * variance });
            }
        }
    }
    Sheet { alone, joined, moved, mean, spread }
}

impl Field {
    /// The shifts of second and third print in a block.
    pub(super) fn at(&self, (column, row): (usize, usize)) -> [(f64, f64); 2] {
        let of = |print: usize| {
            let Some(sheet) = self.sheets.get(print) else { return (0.0, 0.0) };
            sheet.joined.get(&(column / 2, row / 2)).map_or(sheet.mean, |shift| (shift.x, shift.y))
        };
        [of(0), of(1)]
    }

    /// Mean variance per axis of what remains of the shift, of the second and third print.
    pub(super) fn remaining(&self) -> [f64; 2] {
        let of = |print: usize| {
            let Some(sheet) = self.sheets.get(print) else { return 0.0 };
            let count = sheet.joined.len();
            if count == 0 {
                return sheet.spread;
            }
            sheet.joined.values().map(|shift| shift.variance).sum::<f64>() / count as f64
        };
        [of(0), of(1)]
    }

    /// Coarse blocks of a print that moved otherwise than all others, with their shift against these.
    pub(super) fn moved(&self, print: usize) -> Vec<((usize, usize), (f64, f64))> {
        let Some(sheet) = self.sheets.get(print) else { return Vec::new() };
        sheet
            .moved
            .iter()
            .map(|(at, shift)| (*at, (shift.x - sheet.mean.0, shift.y - sheet.mean.1)))
            .collect()
    }

    /// What is told of the candidate's shifts; `scale` is the side of a pixel in pixels of the scan.
    pub(super) fn told(&self, scale: f64) -> Shifts {
        let Some(sheet) = self.sheets.first() else {
            return Shifts { blocks: 0, mean_px: (0.0, 0.0), taken_out_px: 0.0, remaining_px: 0.0 };
        };
        let count = sheet.joined.len().max(1) as f64;
        let squares: f64 = sheet.joined.values().map(|shift| shift.x * shift.x + shift.y * shift.y).sum();
        Shifts {
            blocks: sheet.alone.len(),
            mean_px: (scale * sheet.mean.0, scale * sheet.mean.1),
            taken_out_px: scale * math::sqrt(squares / count / 2.0),
            remaining_px: scale * math::sqrt(self.remaining()[0]),
        }
    }
}
