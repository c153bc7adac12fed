//! Step tablets on scans: where the steps lie, and what each reads.

mod aperture;
mod count;
mod error;
pub mod find;
mod noise;
mod reading;
mod region;
mod rejected;
mod relief;

use rayon::prelude::*;
use serde::Serialize;

use crate::document::StripShape;
use crate::geometry::{Point, Quad, Rect};
use crate::measured::{Flags, Measured};
use crate::problem::{Problem, Subject};
use crate::scan::{Plane, SharedError, ToneTable};
use crate::units::Density;
use crate::words;
use region::Region;

pub(crate) use aperture::{Spot, spots};
pub use count::steps_seen;
pub use noise::noise_model;
pub use relief::Relief;

/// Fewer pixels than this in an area are no reading.
const LEAST_PIXELS: usize = 9;

/// One sampled step.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepSample {
    /// Step number, from 1.
    pub step: u32,
    /// The sampled inner area, in the scan's pixels; of a disc the square around it.
    pub area: Quad,
    /// Whether it is a disc.
    pub round: bool,
    /// Its density: -lg of the mean light. `u` is the standard error of the mean joined with the table's uncertainty.
    pub density: Measured<Density>,
    /// The same with its own error alone, without the calibration's.
    pub own: Measured<Density>,
    /// The calibration's error in it, which it has in common with all that was read through the same calibration.
    pub shared: SharedError,
    /// How its parts differ; `None` of a disc and of a small area.
    #[serde(skip)]
    pub relief: Option<Relief>,
    /// Mean code and its standard error.
    pub code: Measured,
    /// Spread (standard deviation) of the light over the area, relative to its mean.
    pub relative_spread: f64,
    /// How many pixels were used.
    pub used: usize,
    /// Pixels left out as dust or scratches.
    pub left_out: usize,
    /// Where these are: rectangles around them, the largest ones if there are very many.
    pub rejected: Vec<Rect>,
}

impl StepSample {
    /// The flags of the step.
    #[must_use]
    pub fn flags(&self) -> Flags {
        self.density.flags
    }

    /// Its density less that of another area. What one calibration errs in both alike is not in it.
    #[must_use]
    pub fn minus(&self, other: &Self) -> Measured {
        let of = |sample: &Self| sample.own.plain().flagged(sample.flags());
        of(self).minus(&of(other)).with_variance(variance_by_calibrations(&[(1.0, self), (-1.0, other)]))
    }
}

/// The sum of measurements that are independent of each other, each with its sign.
fn signed_sum(terms: impl Iterator<Item = (f64, Measured)>) -> Measured {
    let add = |sum: Measured, (sign, term): (f64, Measured)| {
        if sign < 0.0 { sum.minus(&term) } else { sum.plus(&term) }
    };
    terms.fold(Measured::with_interval(0.0, 0.0, 0.0, 0.0), add)
}

/// What calibrations err in a sum of densities, each with its sign. What one calibration errs in all of them is summed with the signs,
/// so that it cancels where it is common to a density and to one that is taken from it.
fn variance_by_calibrations(terms: &[(f64, &StepSample)]) -> f64 {
    let mut shared: Vec<SharedError> = Vec::new();
    let mut alone = 0.0;
    for (sign, sample) in terms {
        match shared.iter_mut().find(|error| error.calibration == sample.shared.calibration) {
            _ if sample.shared.parts.is_empty() => {
                alone += (sample.density.u.powi(2) - sample.own.u.powi(2)).max(0.0);
            }
            Some(error) => *error = error.mixed(1.0, &sample.shared, *sign),
            None => shared.push(sample.shared.mixed(*sign, &sample.shared, 0.0)),
        }
    }
    alone + shared.iter().map(|error| error.common(error)).sum::<f64>()
}

/// The sum, each with its sign, of differences of areas of which both show one part of a target: `candidate - reference`. What both
/// prints show alike of how uneven the target is cancels.
#[must_use]
pub(crate) fn of_prints(pairs: &[(f64, &StepSample, &StepSample)]) -> Measured {
    let apart = |(sign, candidate, reference): &(f64, &StepSample, &StepSample)| {
        let flags = candidate.flags() | reference.flags();
        let alone = candidate.own.plain().minus(&reference.own.plain()).flagged(flags);
        let reliefs = candidate.relief.as_ref().zip(reference.relief.as_ref());
        let Some((u, half)) = reliefs.and_then(|(c, r)| c.difference_u(r)) else { return (*sign, alone) };
        let (low, high) = (alone.value - half, alone.value + half);
        (*sign, Measured { u, low, high, ..alone })
    };
    let terms: Vec<(f64, &StepSample)> = pairs
        .iter()
        .flat_map(|(sign, candidate, reference)| [(*sign, *candidate), (-sign, *reference)])
        .collect();
    signed_sum(pairs.iter().map(apart)).with_variance(variance_by_calibrations(&terms))
}

/// The inner area of each step of a strip, first to last, in the scan's pixels. The strip is mapped by the homography of
/// its corners, so it may be turned or in perspective. Empty if the corners are not those of a convex quadrilateral or
/// the inner share is not within 0..=1.
#[must_use]
pub fn step_areas(shape: &StripShape) -> Vec<Quad> {
    if !(shape.inner > 0.0 && shape.inner <= 1.0) {
        return Vec::new();
    }
    let steps = f64::from(shape.steps);
    let half = shape.inner / 2.0;
    let area = |step: u32| {
        let middle = (f64::from(step) + 0.5) / steps;
        shape.quad.part((middle - half / steps, middle + half / steps), (0.5 - half, 0.5 + half))
    };
    (0..shape.steps).filter_map(area).collect()
}

/// Samples every step of a strip: mean light over the pixels whose centres lie in its inner area, dust and scratches left
/// out robustly, density of the mean (a densitometer averages light), standard error from blocks so that correlated grain
/// does not fool it.
///
/// # Errors
/// The strip lies outside the scan, its corners are not those of a convex quadrilateral, or steps are too small to hold
/// enough pixels.
pub fn sample_strip(
    plane: Plane<'_>,
    table: &ToneTable,
    shape: &StripShape,
) -> Result<Vec<StepSample>, Problem> {
    if shape.steps == 0 {
        return Err(Problem::error(Subject::Series, words::Tablet::NoSteps, words::Remedy::GiveSteps));
    }
    let inner = step_areas(shape);
    let whole = step_areas(&StripShape { inner: 1.0, ..*shape });
    if inner.len() != shape.steps as usize || whole.len() != inner.len() {
        return Err(not_convex("strip"));
    }
    let spots = spots(shape.aperture, &whole, &inner, plane.per_mm(), "step")?;
    sample_spots(plane, table, &spots, "step")
}

/// What a pointer at `at` would read: mean density over a disc of `radius` pixels, dust left out as in
/// [`sample_strip`].
///
/// # Errors
/// The disc lies outside the scan or holds fewer than nine pixels.
pub fn sample_disc(
    plane: Plane<'_>,
    table: &ToneTable,
    at: Point,
    radius: f64,
) -> Result<StepSample, Problem> {
    sample_region(plane, table, &Spot::disc(at, radius), "spot", 1)
}

/// Samples one quadrilateral as [`sample_strip`] samples a step.
///
/// # Errors
/// As [`sample_strip`].
pub fn sample_quad(plane: Plane<'_>, table: &ToneTable, area: &Quad) -> Result<StepSample, Problem> {
    if !area.is_convex() {
        return Err(not_convex("area"));
    }
    sample_region(plane, table, &Spot::of(*area), "area", 1)
}

/// Samples several spots, numbered from 1; `what` names one of them in problems.
pub(crate) fn sample_spots(
    plane: Plane<'_>,
    table: &ToneTable,
    spots: &[Spot],
    what: &str,
) -> Result<Vec<StepSample>, Problem> {
    let numbered: Vec<(u32, &Spot)> = (1..).zip(spots).collect();
    let read = |(number, spot): &(u32, &Spot)| {
        let name = format!("{what} {number}");
        sample_region(plane, table, spot, &name, *number)
    };
    // Collected before the first problem is picked, so that the same one is told whatever finishes first.
    let read: Vec<Result<StepSample, Problem>> = numbered.par_iter().map(read).collect();
    read.into_iter().collect()
}

/// The problem of corners that cross or fold over.
pub(crate) fn not_convex(what: &str) -> Problem {
    Problem::error(
        Subject::Series,
        words::Tablet::CornersCross { what: what.to_owned() },
        words::Remedy::CornersInOrder,
    )
}

fn sample_region(
    plane: Plane<'_>,
    table: &ToneTable,
    spot: &Spot,
    what: &str,
    step: u32,
) -> Result<StepSample, Problem> {
    let region = &spot.disc.map_or_else(|| Region::quad(&spot.quad), |(at, radius)| Region::disc(at, radius));
    if table.light.len() != plane.levels() {
        return Err(Problem::error(
            Subject::Series,
            words::Scan::CalibrationCodes { codes: table.light.len(), scan: plane.levels() },
            words::Remedy::CalibrationOfBits,
        ));
    }
    if !region.fits(plane.width(), plane.height()) {
        return Err(Problem::error(
            Subject::Series,
            words::Tablet::OutsideScan {
                what: what.to_owned(),
                width: plane.width(),
                height: plane.height(),
            },
            words::Remedy::DragInside,
        ));
    }
    if region.pixels() < LEAST_PIXELS {
        return Err(Problem::error(
            Subject::Series,
            words::Tablet::TooFewPixels {
                what: what.to_owned(),
                pixels: region.pixels(),
                least_pixels: LEAST_PIXELS,
            },
            words::Remedy::MarkLargerOrFiner,
        ));
    }
    Ok(reading::read(plane, table, region, spot, step))
}
