//! Two scans of the same film: what they share is the film, what differs is the scanner.
//!
//! The covariance of both scans' aperture densities is the grain's variance, and what the variance of one has beyond it is
//! the scanner's noise: half the variance of the difference, where nothing moved. A small shift between the scans would
//! make the difference look like noise, so the covariance is taken at its peak over shifts.

use super::rows::{self, Averages, LANES};
use super::{GrainSettings, aperture_weights, precision};
use crate::geometry::Rect;
use crate::numeric::tilt::Tilt;
use crate::numeric::{math, robust};
use crate::problem::{Problem, Subject};
use crate::scan::{Plane, ToneTable};
use crate::words::{self, Sentence};

/// Shifts up to this many pixels are looked for.
const FAR: isize = 4;
/// Side of a block in diameters of the aperture, and most blocks.
const DIAMETERS: f64 = 12.0;
const MOST_BLOCKS: usize = 48;
/// Less correlation between the two scans is no common grain.
const ALIKE: f64 = 0.1;

/// What two scans of the same come to, through the aperture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeat {
    /// Variance of density by the scanner in one scan.
    pub noise: f64,
    /// Standard uncertainty of that.
    pub noise_u: f64,
    /// Variance of density that both share.
    pub shared: f64,
    /// Where the second scan lies against the first, in pixels.
    pub shift: (f64, f64),
}

/// Densities through the aperture over a square, less the plane through them.
struct Field {
    side: usize,
    values: Vec<f32>,
}

/// A scan and its table.
type Side<'a> = (Plane<'a>, &'a ToneTable);

/// Compares an area of a scan with the same area of a second scan of the same film.
///
/// # Errors
/// The scans differ in size, the area is too small, or they show no common grain.
pub fn repeat(
    first: Side<'_>,
    second: Side<'_>,
    area: Rect,
    settings: GrainSettings,
    stop: &dyn Fn() -> bool,
) -> Result<Repeat, Problem> {
    let refuse = |cause: Sentence, remedy: Sentence| Err(Problem::error(Subject::Series, cause, remedy));
    if (first.0.width(), first.0.height()) != (second.0.width(), second.0.height()) {
        return refuse(words::Grain::OtherSize.into(), words::Remedy::ScanTwiceAlike.into());
    }
    let diameter = settings.aperture.0 / settings.pitch.0;
    if diameter > super::MOST_PIXELS_ACROSS {
        return refuse(
            words::Grain::ApertureTooWideAtAll.into(),
            words::Remedy::CheckResolutionOrAperture.into(),
        );
    }
    let weights = aperture_weights(diameter);
    let (columns, reach) = (weights.columns(), weights.reach());
    let margin = FAR as usize;
    let (width, height) = (area.width() as usize, area.height() as usize);
    let around = 2 * (reach + margin);
    let side = ((DIAMETERS * diameter) as usize).max(64).min(width.min(height).saturating_sub(around));
    if side < (4.0 * diameter) as usize || side < 2 * margin + 8 {
        return refuse(words::Grain::TooSmallToCompare.into(), words::Remedy::MarkLarger.into());
    }
    let (x0, y0) = (area.min.x as usize, area.min.y as usize);
    let (nx, ny) = ((width - around) / side, (height - around) / side);
    let stride = (nx * ny).div_ceil(MOST_BLOCKS);
    let mut pairs = Vec::new();
    for k in (0..nx * ny).step_by(stride) {
        if stop() {
            return refuse(words::Stopped::TwoScans.into(), words::Remedy::AskAgain.into());
        }
        let (x, y) = (x0 + k % nx * side, y0 + k / nx * side);
        let field = |(plane, table): Side<'_>| Field::of(plane, table, (x, y), side + 2 * margin, &columns);
        pairs.push((field(first), field(second)));
    }
    settle(&mut pairs, margin, (side, diameter)).ok_or_else(|| {
        Problem::error(Subject::Series, words::Grain::NoSharedGrain, words::Remedy::ScanTwiceUnmoved)
    })
}

/// From the fields of both scans to what they share.
fn settle(pairs: &mut Vec<(Field, Field)>, margin: usize, (side, diameter): (usize, f64)) -> Option<Repeat> {
    // Dust makes a block uneven.
    let variances: Vec<f64> = pairs.iter().map(|(a, _)| covariance(a, a, margin, 0, 0)).collect();
    let middle = robust::median(&variances)?;
    let mut kept = variances.iter().map(|variance| *variance < 2.0 * middle);
    pairs.retain(|_| kept.next().unwrap_or(false));
    let count = pairs.len() as f64;
    let mean = |of: &dyn Fn(&(Field, Field)) -> f64| pairs.iter().map(of).sum::<f64>() / count;
    let both = mean(&|(a, b)| 0.5 * (covariance(a, a, margin, 0, 0) + covariance(b, b, margin, 0, 0)));
    let shared = |dx: isize, dy: isize| mean(&|(a, b)| covariance(a, b, margin, dx, dy));
    let shifts = (-FAR..=FAR).flat_map(|dy| (-FAR..=FAR).map(move |dx| (dx, dy)));
    let (best, at) = shifts.map(|(dx, dy)| (shared(dx, dy), (dx, dy))).max_by(|a, b| a.0.total_cmp(&b.0))?;
    if pairs.is_empty() || best < ALIKE * both || at.0.abs() == FAR || at.1.abs() == FAR {
        return None;
    }
    // The vertex of the parabola through three values, along each axis.
    let vertex = |before: f64, after: f64| {
        let bend = 2.0 * best - before - after;
        let slope = after - before;
        if bend > 0.0 { (0.5 * slope / bend, slope * slope / (8.0 * bend)) } else { (0.0, 0.0) }
    };
    let along = vertex(shared(at.0 - 1, at.1), shared(at.0 + 1, at.1));
    let down = vertex(shared(at.0, at.1 - 1), shared(at.0, at.1 + 1));
    let raised = along.1 + down.1;
    let peak = best + raised;
    let noise = (both - peak).max(0.0);
    let apertures = (side * side) as f64 * count / precision::each(diameter);
    // What the parabola added is known to about a third.
    let noise_u = math::hypot(noise * math::sqrt(2.0 / apertures.max(2.0)), raised / 3.0);
    Some(Repeat { noise, noise_u, shared: peak, shift: (at.0 as f64 + along.0, at.1 as f64 + down.0) })
}

impl Field {
    fn of(
        plane: Plane<'_>,
        table: &ToneTable,
        (x, y): (usize, usize),
        side: usize,
        columns: &[super::aperture::Column],
    ) -> Self {
        let reach = columns.len() - 1;
        let across = side + 2 * reach;
        let table: Vec<f32> = table.light.iter().map(|light| *light as f32).collect();
        let stride = across.next_multiple_of(LANES);
        let mut light = vec![0.0_f32; stride * across];
        for (row, light) in light.chunks_exact_mut(stride).enumerate() {
            plane.look_up(&table, y + row, x, &mut light[..across]);
        }
        let mut averages = Averages::new(stride, reach + 1);
        let (mut values, mut means) = (vec![0.0_f32; side * side], rows::row(side, 0.0));
        for (row, out) in values.chunks_exact_mut(side).enumerate() {
            averages.take(&light[row * stride..], columns, &mut means);
            out.copy_from_slice(&means[..side]);
            for value in out {
                *value = -super::log::log10(value.max(f32::MIN_POSITIVE));
            }
        }
        Tilt::of(&values, side).take_off(&mut values, side);
        Self { side, values }
    }
}

/// Mean product of the inner part of one field with the other, shifted.
fn covariance(a: &Field, b: &Field, margin: usize, dx: isize, dy: isize) -> f64 {
    let inner = a.side - 2 * margin;
    let mut sum = 0.0;
    for y in margin..margin + inner {
        let other = (y as isize + dy) as usize * b.side + (margin as isize + dx) as usize;
        let (one, other) = (&a.values[y * a.side + margin..][..inner], &b.values[other..][..inner]);
        sum += one.iter().zip(other).map(|(a, b)| f64::from(a * b)).sum::<f64>();
    }
    sum / (inner * inner) as f64
}
