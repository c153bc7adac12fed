//! Did the test reach the toe and the shoulder? Tests on the data, each with its reason, and what to expose where not.
//!
//! *Toe.* With base+fog read on an unexposed area: by how much the lowest exposure's density lies above it. Without: by how
//! much density gains over the lowest stop. Up to 0.02 is level; it must also be no more than 0.04 at 95 % (one-sided, from
//! the resamplings). Where a toe gains at least in proportion to exposure, as far as a latent image needs one quantum or
//! more, net density at least doubles from stop to stop, so that what is left above base+fog is no more than what
//! the lowest stop gained; from that follow the stops by which exposure must at least come down.
//!
//! *Shoulder.* The gradient of the highest stop against that of the straight line (of the steepest stop where there is no
//! line): the shoulder is there where it is less than nine tenths of it, and less than all of it at 95 % (one-sided). It
//! has ended where density gains no more than 0.02 over the highest stop.

use serde::Serialize;

use super::straight::STOP_WIDTH;
use crate::curve::{Curve, Spline};
use crate::numeric::{math, robust};
use crate::units::Stops;
use crate::words::{self, HalfStops, Sentence};

/// A curve that gains no more than this over its outermost stop has come to its level there.
pub(super) const LEVEL: f64 = 0.02;
/// What the 95 % limit of that gain may be.
const LEVEL_LIMIT: f64 = 0.04;
/// The gradient of the highest stop, relative to the straight line, below which a shoulder has begun.
const SHOULDER: f64 = 0.9;
/// Log exposure above the speed point that a curve is wanted for: the range of the longer average gradient.
const WANTED: f64 = super::numbers::LONG_RANGE;

/// How much of a toe or shoulder was reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Reached {
    /// All of it: density is level at its end.
    Whole,
    /// It was entered and is not seen to its end.
    Part,
    /// Nothing of it that could be told from the straight line, or nothing below the speed point.
    Not,
}

/// What is known of one end of a curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct End {
    /// How much was reached.
    pub reached: Reached,
    /// What was tested, and its one-sided 95 % limit: of a toe the density that the lowest exposure gave above base+fog, or
    /// where that was not read the gain over the lowest stop; of a shoulder the gradient of the highest stop over the straight
    /// line's, and where it is whole the gain over that stop.
    pub found: f64,
    /// What `found` must not exceed for the end to count as reached.
    pub limit: f64,
    /// What in the data says so.
    pub reason: Sentence,
    /// What to expose to see it whole; `None` where it was.
    pub advice: Option<Sentence>,
    /// By how many stops less (toe) or more (shoulder) at least, in half stops.
    pub stops: Option<f64>,
}

/// Both ends of a curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reach {
    /// The end at low exposures.
    pub toe: End,
    /// The end at high exposures.
    pub shoulder: End,
}

/// A value and its one-sided 95 % limit above, from draws moved so that their median falls on the value.
fn with_limit(value: f64, draws: impl Iterator<Item = Option<f64>>) -> (f64, f64) {
    let sorted = robust::sorted(&draws.flatten().collect::<Vec<_>>());
    let quantile = |p| robust::quantile_of_sorted(&sorted, p);
    let above = quantile(0.95).zip(quantile(0.5)).map_or(f64::INFINITY, |(limit, middle)| limit - middle);
    (value, value + above)
}

/// Tests both ends. `speed_point` is where it lies at most; `gamma` of the straight line, of the best curve and of its
/// draws, in their order.
pub(super) fn reach(
    curve: &Curve,
    speed_point: Option<f64>,
    gamma: Option<f64>,
    gammas: &[Option<f64>],
) -> Reach {
    Reach { toe: toe(curve, speed_point), shoulder: shoulder(curve, gamma, gammas) }
}

fn lowest_stop(spline: &Spline) -> Option<f64> {
    spline.rise(spline.from, STOP_WIDTH.min(spline.to - spline.from))
}

fn highest_stop(spline: &Spline) -> Option<f64> {
    let width = STOP_WIDTH.min(spline.to - spline.from);
    Some(spline.highest() - spline.density(spline.to - width)?)
}

fn toe(curve: &Curve, speed_point: Option<f64>) -> End {
    let best = &curve.best;
    let read = curve.readings.base_fog;
    let (value, limit) = match read {
        Some((base, _)) => with_limit(
            best.lowest() - base,
            curve.resampled.iter().map(|draw| Some(draw.spline.lowest() - draw.base_fog?)),
        ),
        None => with_limit(
            lowest_stop(best).unwrap_or(f64::INFINITY),
            curve.resampled.iter().map(|draw| lowest_stop(&draw.spline)),
        ),
    };
    // Never '-0.00'.
    let (value, limit) = (value.max(0.0), limit.max(0.0));
    if value <= LEVEL && limit <= LEVEL_LIMIT {
        let reason = words::Reach::ToeReached { read: read.is_some(), found: value, limit };
        return whole(value, limit, reason.into());
    }
    let inside = match read {
        Some(_) => speed_point.is_some_and(|point| point > best.from),
        None => value <= LEVEL,
    };
    let stops = HalfStops::up(math::log2(value.max(LEVEL) / LEVEL));
    let reason =
        words::Reach::ToeOpen { entered: inside, read: read.is_some(), found: value, limit, level: LEVEL };
    End {
        reached: if inside { Reached::Part } else { Reached::Not },
        found: value,
        limit,
        reason: reason.into(),
        advice: Some(less_light(curve, speed_point, stops)),
        stops: Some(stops.number()),
    }
}

/// An end that was reached.
fn whole(found: f64, limit: f64, reason: Sentence) -> End {
    End { reached: Reached::Whole, found, limit, reason, advice: None, stops: None }
}

fn less_light(curve: &Curve, speed_point: Option<f64>, stops: HalfStops) -> Sentence {
    let best = &curve.best;
    let density = Stops(stops.number()).log_exposure();
    let long_enough = best.to - density >= speed_point.unwrap_or(best.from) + WANTED;
    let read = curve.readings.base_fog.is_some();
    words::Reach::LessLight { stops, density, wanted: WANTED, long_enough, read }.into()
}

fn shoulder(curve: &Curve, gamma: Option<f64>, gammas: &[Option<f64>]) -> End {
    let best = &curve.best;
    let width = STOP_WIDTH.min(best.to - best.from);
    let steepest = |spline: &Spline| spline.steepest(STOP_WIDTH).map(|found| found.0);
    let line = gamma.or_else(|| steepest(best));
    let gained = highest_stop(best).unwrap_or(f64::INFINITY);
    let gains = curve.resampled.iter().map(|draw| highest_stop(&draw.spline));
    let (gained, gained_limit) = with_limit(gained, gains);
    let ratio = |gain: Option<f64>, line: Option<f64>| {
        gain.zip(line).filter(|(_, line)| *line > 0.0).map(|(gain, line)| gain / width / line)
    };
    let shares = curve.resampled.iter().zip(gammas).map(|(draw, of_draw)| {
        let line = if gamma.is_some() { *of_draw } else { steepest(&draw.spline) };
        ratio(highest_stop(&draw.spline), line)
    });
    let (share, limit) = with_limit(ratio(Some(gained), line).unwrap_or(1.0), shares);
    if gained <= LEVEL && gained_limit <= LEVEL_LIMIT {
        let reason = words::Reach::ShoulderReached { gained, limit: gained_limit };
        return whole(gained, gained_limit, reason.into());
    }
    let percent = |share: f64| (100.0 * share).round();
    let entered = share < SHOULDER && limit < 1.0;
    let stops =
        if entered { HalfStops::up(math::log2(gained.max(LEVEL) / LEVEL)) } else { HalfStops::up(2.0) };
    let reason = words::Reach::ShoulderOpen {
        entered,
        of_line: gamma.is_some(),
        percent: percent(share),
        limit: percent(limit),
    };
    End {
        reached: if entered { Reached::Part } else { Reached::Not },
        found: share,
        limit,
        reason: reason.into(),
        advice: Some(more_light(best, stops, entered)),
        stops: Some(stops.number()),
    }
}

/// More light, and whether the toe has so much to spare.
fn more_light(best: &Spline, stops: HalfStops, entered: bool) -> Sentence {
    let foot = best.log_h_at(best.lowest() + LEVEL).map_or(0.0, |foot| foot - best.from);
    let spare = Stops::from_log_exposure(foot).0;
    let enough = (spare >= stops.number()).then(|| (10.0 * spare).floor() / 10.0);
    words::Reach::MoreLight { stops, entered, spare: enough }.into()
}
