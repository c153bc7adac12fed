//! How the strip may be turned: long sides and step borders make most edges run in two directions at right angles.

use rayon::prelude::*;

use super::sheet::Sheet;
use crate::numeric::{math, robust};

/// Bins of the histogram of directions, over a quarter turn.
const BINS: usize = 180;
/// An edge counts up to this contrast: the film's own outline must not drown the steps.
const MOST_CONTRAST: f64 = 0.15;
/// Most turn from the scan's sides that is looked at, in degrees.
const REACH: f64 = 22.0;
/// Directions that are tried.
const TRIED: usize = 2;

/// Turns that are tried, in degrees to either side, and their distance.
const DEGREES: f64 = 20.0;
const STEP: f64 = 1.0;
/// About so many pixels are looked at for each turn.
const LOOKED_AT: usize = 50_000;

/// Turns at which lines across the scan run along edges, best first, in radians from x towards y: slower and surer than
/// [`by_gradients`] where noise or dirt has more edges than the strip.
pub(super) fn by_lines(sheet: &Sheet) -> Vec<f64> {
    let count = (2.0 * DEGREES / STEP) as usize + 1;
    let angle = |k: usize| (STEP * k as f64 - DEGREES).to_radians();
    let rated: Vec<f64> = (0..count).into_par_iter().map(|k| sharpness(sheet, angle(k))).collect();
    let mut peaks: Vec<usize> = (0..count)
        .filter(|k| {
            let near = &rated[k.saturating_sub(2)..(k + 3).min(count)];
            near.iter().all(|other| *other <= rated[*k])
        })
        .collect();
    peaks.sort_by(|a, b| rated[*b].total_cmp(&rated[*a]));
    let refined = peaks.into_iter().take(2).map(|k| {
        let near = [-0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75].map(|by| angle(k) + f64::to_radians(by));
        near.into_iter().max_by(|a, b| sharpness(sheet, *a).total_cmp(&sharpness(sheet, *b))).unwrap_or(0.0)
    });
    refined.collect()
}

/// How sharply mean tones along lines at an angle, and across it, differ from line to line: most where the lines run along
/// edges.
fn sharpness(sheet: &Sheet, angle: f64) -> f64 {
    let (sin, cos) = math::sincos(angle);
    let (w, h) = (sheet.width as f64, sheet.height as f64);
    let bins = math::hypot(w, h).ceil() as usize + 2;
    let stride = (sheet.width * sheet.height / LOOKED_AT).max(1);
    let mut sums = [vec![(0.0, 0.0); bins], vec![(0.0, 0.0); bins]];
    let middle = 0.5 * bins as f64;
    let mut at = 0;
    while at < sheet.width * sheet.height {
        let (x, y) = (at % sheet.width, at / sheet.width);
        let (dx, dy) = (x as f64 + 0.5 - 0.5 * w, y as f64 + 0.5 - 0.5 * h);
        let tone = sheet.tone(x, y);
        for (sums, place) in sums.iter_mut().zip([cos * dx + sin * dy, cos * dy - sin * dx]) {
            let (sum, count) = &mut sums[(place + middle) as usize];
            *sum += tone;
            *count += 1.0;
        }
        at += stride;
    }
    sums.iter().map(|sums| steepness(sums)).sum()
}

/// Sum of squared differences between means of neighbouring lines, each weighed by the shorter of the two.
fn steepness(sums: &[(f64, f64)]) -> f64 {
    let most = sums.iter().map(|(_, count)| *count).fold(0.0, f64::max);
    let pair = |pair: &[(f64, f64)]| {
        let (a, b) = (pair[0], pair[1]);
        let shorter = a.1.min(b.1);
        if shorter < 0.2 * most {
            return 0.0;
        }
        let by = b.0 / b.1 - a.0 / a.1;
        by * by * shorter
    };
    sums.windows(2).map(pair).sum()
}

/// The directions in which most edges run, best first, in radians from x towards y, each within half a quarter turn of level.
pub(super) fn by_gradients(sheet: &Sheet) -> Vec<f64> {
    let histogram = histogram(sheet);
    let smooth: Vec<f64> = (0..BINS)
        .map(|bin| {
            (0..5).map(|k| histogram[(bin + BINS + k - 2) % BINS] * [1.0, 2.0, 3.0, 2.0, 1.0][k]).sum()
        })
        .collect();
    let mut peaks: Vec<usize> = (0..BINS)
        .filter(|bin| {
            let near = |k: usize| smooth[(bin + BINS + k - 6) % BINS];
            smooth[*bin] > 0.0 && (0..13).all(|k| near(k) <= smooth[*bin])
        })
        .collect();
    peaks.sort_by(|a, b| smooth[*b].total_cmp(&smooth[*a]));
    let degrees = peaks.into_iter().map(|bin| centre(&histogram, bin));
    degrees.filter(|degrees| degrees.abs() <= REACH).take(TRIED).map(f64::to_radians).collect()
}

/// The middle of a peak, in degrees from -45 to 45.
fn centre(histogram: &[f64], bin: usize) -> f64 {
    let (mut sum, mut weight) = (0.0, 0.0);
    for k in -4..=4_i32 {
        let value = histogram[(bin as i32 + k).rem_euclid(BINS as i32) as usize];
        sum += f64::from(k) * value;
        weight += value;
    }
    let bins = bin as f64 + 0.5 + if weight > 0.0 { sum / weight } else { 0.0 };
    let degrees = bins * 90.0 / BINS as f64;
    if degrees > 45.0 { degrees - 90.0 } else { degrees }
}

fn histogram(sheet: &Sheet) -> Vec<f64> {
    let mut histogram = vec![0.0; BINS];
    if sheet.width < 8 || sheet.height < 8 {
        return histogram;
    }
    let gradient = |x: usize, y: usize| {
        let column = |x: usize| (0..5).map(|k| sheet.tone(x, y + k - 2)).sum::<f64>();
        let line = |y: usize| (0..5).map(|k| sheet.tone(x + k - 2, y)).sum::<f64>();
        let gx = column(x + 1) + column(x + 2) - column(x - 1) - column(x - 2);
        let gy = line(y + 1) + line(y + 2) - line(y - 1) - line(y - 2);
        (gx / 10.0, gy / 10.0)
    };
    let step = if sheet.width * sheet.height > 300_000 { 2 } else { 1 };
    let mut all = Vec::with_capacity(sheet.width * sheet.height / (step * step));
    for y in (2..sheet.height - 2).step_by(step) {
        for x in (2..sheet.width - 2).step_by(step) {
            all.push(gradient(x, y));
        }
    }
    let sizes: Vec<f64> = all.iter().step_by(7).map(|(x, y)| math::sqrt(x * x + y * y)).collect();
    let usual = robust::median(&sizes).unwrap_or(0.0);
    for (gx, gy) in all {
        let size = math::sqrt(gx * gx + gy * gy);
        if size > 2.5 * usual && size > 0.01 {
            let quarter = core::f64::consts::FRAC_PI_2;
            let angle = math::atan2(gy, gx).rem_euclid(quarter) / quarter;
            histogram[((angle * BINS as f64) as usize).min(BINS - 1)] += size.min(MOST_CONTRAST);
        }
    }
    histogram
}
