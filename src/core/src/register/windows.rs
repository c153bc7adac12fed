//! Refining a map by small windows: where each lies in the other picture, to a small part of a pixel.
//!
//! Each window is matched by Gauss-Newton with brightness and contrast of its own (B. D. Lucas & T. Kanade, IJCAI 1981;
//! S. Baker & I. Matthews, Int. J. Comput. Vision 56, 2004), so a print's tone curve enters only by its bend within one
//! window. A window counts by its gradients over its residual: the fit over all windows then equals one joint fit of all
//! their pixels, and still each window can be doubted by itself.

use nalgebra::{Matrix4, Vector4};
use rayon::prelude::*;

use super::layer::{Layer, Line};
use super::settle::{Lie, Stage, settle};
use crate::geometry::{Model, Point, Transform};
use crate::numeric::math;

/// How one layer is refined.
#[derive(Debug, Clone, Copy)]
pub(super) struct Effort {
    /// Side of a window in pixels of the layer.
    pub(super) side: usize,
    /// Most windows along the longer side.
    pub(super) most: usize,
    /// Whole pixels around the guess that are searched before Gauss-Newton.
    pub(super) search: usize,
}

/// One window that was looked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Match {
    /// Its middle in the first scan.
    pub(super) from: Point,
    /// Where that lies in the second.
    pub(super) to: Point,
    /// Inverse covariance of `to`: xx, xy, yy.
    pub(super) information: [f64; 3],
    /// Of its tones with what lies there.
    pub(super) correlation: f64,
    /// Whether the search ended, on something alike.
    pub(super) found: bool,
}

/// Least correlation of a window that may speak.
const LEAST_CORRELATION: f64 = 0.25;
/// Pixels around a window: two for smoothing, one for the gradient.
const MARGIN: usize = 3;
/// A window has detail where its smoothed tones vary by so many times what grain alone would leave.
const DETAIL: f64 = 1.25;
/// Standard deviation that the smoothing leaves of white noise: 70/256 along each axis.
const SMOOTHED_NOISE: f64 = 70.0 / 256.0;

/// Refines `start` on one pair of layers. `None` where too few windows lie in the overlap or agree.
pub(super) fn refine(
    a: &Layer<'_>,
    b: &Layer<'_>,
    start: &Transform,
    effort: Effort,
    wanted: Option<Model>,
) -> Option<Stage> {
    let (centres, pitch) = centres(a, b, start, effort);
    let plain = DETAIL * SMOOTHED_NOISE * a.noise();
    let matches: Vec<Match> =
        centres.par_iter().filter_map(|centre| match_window(a, b, start, *centre, effort, plain)).collect();
    // Windows that overlap share pixels, so they are worth fewer.
    let share = (pitch as f64 / effort.side as f64).min(1.0);
    let lie = Lie { pitch: pitch as f64 * a.scale, share: share * share };
    settle(&matches, start, b.scale, lie, wanted)
}

/// Window centres on a grid over the first picture whose windows lie in both, in pixels of its layer, and their distance.
fn centres(a: &Layer<'_>, b: &Layer<'_>, start: &Transform, effort: Effort) -> (Vec<(usize, usize)>, usize) {
    let half = effort.side / 2 + MARGIN + 1;
    let (Some(width), Some(height)) = (a.width.checked_sub(2 * half), a.height.checked_sub(2 * half)) else {
        return (Vec::new(), effort.side);
    };
    // Only the part of the first picture that the second shows is worth a grid.
    let back = start.inverse();
    let (right, bottom) = (b.width as f64 * b.scale, b.height as f64 * b.scale);
    let corners = [(0.0, 0.0), (right, 0.0), (0.0, bottom), (right, bottom)];
    let corners = corners.map(|(x, y)| a.of_scan(back.map(Point::new(x, y))));
    let ends = |values: [f64; 4], size: usize| {
        let clamp = |v: f64| v.clamp(half as f64, (half + size) as f64) as usize;
        let fold = |f: fn(f64, f64) -> f64| values.iter().copied().reduce(f).unwrap_or(0.0);
        (clamp(fold(f64::min)), clamp(fold(f64::max)))
    };
    let (x, y) = (ends(corners.map(|p| p.x), width), ends(corners.map(|p| p.y), height));
    let longest = (x.1 - x.0).max(y.1 - y.0);
    let pitch = (longest / effort.most.max(1)).max(effort.side / 2).max(1);
    let along = |(from, to): (usize, usize)| {
        let count = (to - from) / pitch;
        let rest = (to - from - count * pitch) / 2;
        (0..=count).map(move |k| from + rest + k * pitch)
    };
    // The corners of a window turn with it. What a search looks at may lie outside.
    let half = (effort.side / 2 + 2) as f64 * a.scale / b.scale;
    let inside = |(x, y): &(usize, usize)| {
        let at = a.to_scan(Point::new(*x as f64, *y as f64));
        let reach = start.slopes(at).map(|[along, across]| half * (along.abs() + across.abs()));
        b.holds(b.of_scan(start.map(at)), reach[0].max(reach[1]))
    };
    (along(y).flat_map(|y| along(x).map(move |x| (x, y))).filter(inside).collect(), pitch)
}

/// A window of the first picture, smoothed, with its gradient.
struct Template {
    tones: Vec<f32>,
    along: Vec<f32>,
    across: Vec<f32>,
    normal: Matrix4<f64>,
    variance: f64,
}

impl Template {
    fn of(a: &Layer<'_>, centre: (usize, usize), side: usize) -> Self {
        let outer = side + 2 * MARGIN;
        let (x0, y0) = (centre.0 - side / 2 - MARGIN, centre.1 - side / 2 - MARGIN);
        let mut raw = Vec::with_capacity(outer * outer);
        for y in y0..y0 + outer {
            raw.extend_from_slice(&a.tones[y * a.width + x0..][..outer]);
        }
        let smooth = smoothed(&raw, outer);
        let wide = outer - 4;
        let count = side * side;
        let (mut tones, mut along, mut across) =
            (Vec::with_capacity(count), Vec::with_capacity(count), Vec::with_capacity(count));
        for y in 1..=side {
            for x in 1..=side {
                let at = y * wide + x;
                tones.push(smooth[at]);
                along.push(0.5 * (smooth[at + 1] - smooth[at - 1]));
                across.push(0.5 * (smooth[at + wide] - smooth[at - wide]));
            }
        }
        let mean = tones.iter().sum::<f32>() / count as f32;
        tones.iter_mut().for_each(|t| *t -= mean);
        let columns: [&[f32]; 3] = [&tones, &along, &across];
        let mut normal = Matrix4::zeros();
        for (i, one) in columns.iter().enumerate() {
            for (j, other) in columns.iter().enumerate() {
                normal[(i, j)] = dot(one, other);
            }
            normal[(i, 3)] = one.iter().map(|v| f64::from(*v)).sum();
            normal[(3, i)] = normal[(i, 3)];
        }
        normal[(3, 3)] = count as f64;
        let variance = normal[(0, 0)] / count as f64;
        Self { tones, along, across, normal, variance }
    }
}

fn dot(a: &[f32], b: &[f32]) -> f64 {
    const LANES: usize = 8;
    let mut lanes = [0.0_f32; LANES];
    let (a, a_rest) = a.as_chunks::<LANES>();
    let (b, b_rest) = b.as_chunks::<LANES>();
    for (a, b) in a.iter().zip(b) {
        for lane in 0..LANES {
            lanes[lane] += a[lane] * b[lane];
        }
    }
    let rest = a_rest.iter().zip(b_rest).map(|(a, b)| f64::from(a * b)).sum::<f64>();
    rest + lanes.iter().map(|lane| f64::from(*lane)).sum::<f64>()
}

/// Binomial smoothing with 1 4 6 4 1 along both axes (a standard deviation of one pixel), two pixels smaller all round.
fn smoothed(raw: &[f32], wide: usize) -> Vec<f32> {
    let (inner, high) = (wide - 4, raw.len() / wide);
    let five = |v: [f32; 5]| (v[0] + v[4] + 4.0 * (v[1] + v[3]) + 6.0 * v[2]) / 16.0;
    let mut narrow = Vec::with_capacity(inner * high);
    for row in raw.chunks_exact(wide) {
        narrow.extend((0..inner).map(|x| five([row[x], row[x + 1], row[x + 2], row[x + 3], row[x + 4]])));
    }
    let mut out = Vec::with_capacity(inner * (high - 4));
    for y in 0..high - 4 {
        let row = |k: usize| &narrow[(y + k) * inner..(y + k + 1) * inner];
        let (r0, r1, r2, r3, r4) = (row(0), row(1), row(2), row(3), row(4));
        out.extend((0..inner).map(|x| five([r0[x], r1[x], r2[x], r3[x], r4[x]])));
    }
    out
}

/// The second picture as the map brings it into a window of the first, `extra` pixels wider all round, smoothed.
fn brought(
    a: &Layer<'_>,
    b: &Layer<'_>,
    transform: &Transform,
    corner: Point,
    side: usize,
    extra: usize,
) -> Vec<f32> {
    let outer = side + 2 * (extra + 2);
    let out_by = (extra + 2) as f64;
    let place = |x: f64, y: f64| {
        let at = Point::new(corner.x - out_by + x, corner.y - out_by + y);
        b.of_scan(transform.map(a.to_scan(at)))
    };
    let end = (outer - 1) as f64;
    let mut raw = vec![0.0_f32; outer * outer];
    for (y, row) in raw.chunks_exact_mut(outer).enumerate() {
        let y = y as f64;
        b.line(&Line::through(place(0.0, y), place(end / 2.0, y), place(end, y), end), row);
    }
    smoothed(&raw, outer)
}

/// Correlation of a window with the second picture over whole shifts; the best one.
fn searched(template: &Template, wider: &[f32], side: usize, search: usize) -> (f64, f64) {
    let wide = side + 2 * search;
    let count = (side * side) as f64;
    let mut best = (f64::NEG_INFINITY, (0.0, 0.0));
    for dy in 0..=2 * search {
        for dx in 0..=2 * search {
            let (mut both, mut sum, mut squares) = (0.0, 0.0, 0.0);
            for (y, tones) in template.tones.chunks_exact(side).enumerate() {
                let row = &wider[(y + dy) * wide + dx..][..side];
                both += dot(tones, row);
                squares += dot(row, row);
                sum += f64::from(row.iter().sum::<f32>());
            }
            let variance = (squares - sum * sum / count).max(1e-30);
            let correlation = both / math::sqrt(variance);
            if correlation > best.0 {
                best = (correlation, (dx as f64 - search as f64, dy as f64 - search as f64));
            }
        }
    }
    best.1
}

fn match_window(
    a: &Layer<'_>,
    b: &Layer<'_>,
    start: &Transform,
    centre: (usize, usize),
    effort: Effort,
    plain: f64,
) -> Option<Match> {
    const ROUNDS: usize = 6;
    let side = effort.side;
    let template = Template::of(a, centre, side);
    if template.variance <= (plain * plain).max(1e-14) {
        return None;
    }
    let corner = Point::new((centre.0 - side / 2) as f64, (centre.1 - side / 2) as f64);
    let inverse = template.normal.try_inverse()?;
    let mut shift = (0.0, 0.0);
    if effort.search > 0 {
        let wider = brought(a, b, start, corner, side, effort.search);
        shift = searched(&template, &wider, side, effort.search);
    }
    let limit = effort.search as f64 + 1.5;
    let mut last = (0.0, 0.0, false);
    for _ in 0..ROUNDS {
        let at = Point::new(corner.x + shift.0, corner.y + shift.1);
        let patch = brought(a, b, start, at, side, 0);
        let right = Vector4::new(
            dot(&template.tones, &patch),
            dot(&template.along, &patch),
            dot(&template.across, &patch),
            patch.iter().map(|v| f64::from(*v)).sum(),
        );
        let solved = inverse * right;
        let (gain, count) = (solved[0], patch.len() as f64);
        let square = dot(&patch, &patch);
        let variance = (square - right[3] * right[3] / count).max(1e-30);
        let correlation = right[0] / math::sqrt(variance * template.variance * count);
        let noise = ((square - solved.dot(&right)) / count).max(1e-6 * variance / count);
        last = (correlation, gain * gain / noise, last.2);
        if gain <= 0.0 || !gain.is_finite() {
            break;
        }
        let step = (-solved[1] / gain, -solved[2] / gain);
        let length = math::hypot(step.0, step.1);
        let cut = if length > 1.0 { 1.0 / length } else { 1.0 };
        shift = (shift.0 + cut * step.0, shift.1 + cut * step.1);
        if math::hypot(shift.0, shift.1) > limit * core::f64::consts::SQRT_2 {
            break;
        }
        // The error shrinks with the square of the step: the next would be a few thousandths.
        if length < 0.03 {
            last.2 = true;
            break;
        }
    }
    let (correlation, weight, settled) = last;
    let middle = side as f64 / 2.0 - 0.5;
    let from = Point::new(corner.x + middle, corner.y + middle);
    let to = start.map(a.to_scan(Point::new(from.x + shift.0, from.y + shift.1)));
    let (xx, xy, yy) = (template.normal[(1, 1)], template.normal[(1, 2)], template.normal[(2, 2)]);
    Some(Match {
        from: a.to_scan(from),
        to,
        information: carried(
            [xx * weight, xy * weight, yy * weight],
            start.slopes(a.to_scan(from)),
            a.scale,
        )?,
        correlation,
        found: settled && correlation >= LEAST_CORRELATION,
    })
}

/// Information about a shift in pixels of the first layer, as information about a place in the second scan.
fn carried([xx, xy, yy]: [f64; 3], slopes: [[f64; 2]; 2], scale: f64) -> Option<[f64; 3]> {
    let [[a, b], [c, d]] = slopes.map(|row| row.map(|value| value * scale));
    let determinant = a * d - b * c;
    if determinant.abs() <= 1e-12 {
        return None;
    }
    // Of the step back: rows of the inverse.
    let [p, q, r, s] = [d, -b, -c, a].map(|value| value / determinant);
    Some([
        p * p * xx + 2.0 * p * r * xy + r * r * yy,
        p * q * xx + (p * s + q * r) * xy + r * s * yy,
        q * q * xx + 2.0 * q * s * xy + s * s * yy,
    ])
}
