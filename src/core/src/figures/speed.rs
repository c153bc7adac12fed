//! Film speeds: from the speed point by ISO 6, their standard series, and the index that a shadow match gives.

use super::draws::{Draws, measured_by_draws};
use super::{FigureId, Figures};
use crate::bracket::Frame;
use crate::curve::{Curve, ErrorKey, FitSettings, Reading, Readings, Sources, fit_as_given};
use crate::measured::{Flags, Measured, Value, Z95};
use crate::numeric::interpolate::{MonotoneCubic, SlopeRule};
use crate::numeric::random::Stream;
use crate::numeric::{isotonic, math, roots};
use crate::words::{self, Sentence};

/// Net density of the speed point (ISO 6:1993).
pub const SPEED_NET_DENSITY: f64 = 0.10;
/// Log exposure from the speed point to the point where contrast is judged (ISO 6:1993).
pub const CONTRAST_RANGE: f64 = 1.30;
/// Density that must be gained over it (ISO 6:1993).
pub const CONTRAST_DENSITY: f64 = 0.80;
/// Lux seconds: speed is this over the exposure at the speed point (ISO 6:1993).
pub const SPEED_CONSTANT: f64 = 0.80;

/// The speed of a film whose speed point lies at `log_h` (lux seconds): `0.80 / H`. An ISO speed only where
/// [`meets_contrast_condition`] holds.
///
/// ```
/// # use twinwedge_core::figures::speed::arithmetic_speed;
/// assert!((arithmetic_speed(0.008_f64.log10()) - 100.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn arithmetic_speed(log_h: f64) -> f64 {
    SPEED_CONSTANT * math::pow(10.0, -log_h)
}

/// The logarithmic speed in degrees, unrounded: `1 + 10 lg S` (ISO 6:1993).
///
/// ```
/// # use twinwedge_core::figures::speed::degrees;
/// assert!((degrees(100.0) - 21.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn degrees(arithmetic: f64) -> f64 {
    1.0 + 10.0 * math::log10(arithmetic)
}

/// Whether a density gain over 1.30 in log H is near enough to 0.80. How near is near enough is a setting: the window of
/// the standard itself was not at hand.
///
/// ```
/// # use twinwedge_core::figures::speed::meets_contrast_condition;
/// assert!(meets_contrast_condition(0.84, 0.05) && !meets_contrast_condition(0.86, 0.05));
/// ```
#[must_use]
pub fn meets_contrast_condition(gain: f64, window: f64) -> bool {
    // Rounding must not decide at the edge of the window.
    (gain - CONTRAST_DENSITY).abs() <= window + 1e-9
}

/// Arithmetic speeds printed for 0 to 39 degrees: the table of ISO 6:1993 as widely reproduced, recalled.
const SERIES: [f64; 40] = [
    0.8, 1.0, 1.2, 1.6, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0,
    64.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 320.0, 400.0, 500.0, 640.0, 800.0, 1000.0, 1250.0, 1600.0,
    2000.0, 2500.0, 3200.0, 4000.0, 5000.0, 6400.0,
];

/// The arithmetic speed that is printed for whole degrees; `None` outside 0 to 39.
///
/// ```
/// # use twinwedge_core::figures::speed::standard_speed;
/// assert_eq!(standard_speed(22), Some(125.0));
/// ```
#[must_use]
pub fn standard_speed(degrees: i32) -> Option<f64> {
    usize::try_from(degrees).ok().and_then(|at| SERIES.get(at)).copied()
}

/// The speed as it is printed, arithmetic and degrees: rounded in degrees, the arithmetic value from the standard
/// series. `None` for speeds outside the series. Within 0.05 degrees of a limit the class is a matter of rounding: show the
/// unrounded value beside it.
///
/// ```
/// # use twinwedge_core::figures::speed::iso_rounded;
/// assert_eq!(iso_rounded(112.36), Some((125.0, 22)));
/// ```
#[must_use]
pub fn iso_rounded(arithmetic: f64) -> Option<(f64, i32)> {
    let rounded = degrees(arithmetic).round();
    (rounded.is_finite() && rounded.abs() < 1000.0)
        .then_some(rounded as i32)
        .and_then(|degrees| standard_speed(degrees).map(|speed| (speed, degrees)))
}

/// How far from the limit of a class in log H a speed's class is undecided: the table of the standard gives limits to two
/// decimals.
const UNDECIDED: f64 = 0.005;

/// The speed as it is printed on a box, `100/21°`; both classes where it lies within 0.005 in log H of the limit between
/// them. `None` outside the series.
///
/// ```
/// # use twinwedge_core::figures::speed::iso_printed;
/// assert_eq!(iso_printed(101.3).unwrap(), "100/21°");
/// assert_eq!(iso_printed(112.5).unwrap(), "100/21° or 125/22°, undecided");
/// ```
#[must_use]
pub fn iso_printed(arithmetic: f64) -> Option<String> {
    let class = |degrees: f64| {
        let degrees = degrees.is_finite().then_some(degrees as i32)?;
        Some(format!("{}/{degrees}°", standard_speed(degrees)?))
    };
    let exact = degrees(arithmetic);
    // Ten degrees are a factor of ten.
    let (low, high) = ((exact - 10.0 * UNDECIDED).round(), (exact + 10.0 * UNDECIDED).round());
    if (high - low).abs() < 0.5 {
        class(exact.round())
    } else {
        Some(format!("{} or {}, undecided", class(low)?, class(high)?))
    }
}

/// The distance of a film's speed at 0.10 and of its index by shadow match from the speed on its box, in stops, into
/// `figures` and `draws`, which hold the two.
pub fn against_box(figures: &mut Figures, draws: &mut Draws, box_speed: Option<f64>) {
    let pairs = [
        (FigureId::FixedDensitySpeed, FigureId::BoxDistance),
        (FigureId::ShadowMatchIndex, FigureId::IndexBoxDistance),
    ];
    for (from, to) in pairs {
        let (value, drawn) = box_distance(figures.get(&from), draws.get(from), box_speed);
        figures.insert(to, value);
        if let Some(drawn) = drawn {
            draws.insert(to, drawn);
        }
    }
}

/// How far a speed or index lies above the speed on the box, in stops.
pub(crate) fn box_distance(
    speed: Option<&Value>,
    draws: Option<&[f64]>,
    box_speed: Option<f64>,
) -> (Value, Option<Vec<f64>>) {
    let Some(box_speed) = box_speed.filter(|speed| *speed > 0.0) else {
        return (Value::Undefined(words::Figure::NoBoxSpeed.into()), None);
    };
    let speed = match speed {
        Some(Value::Known(speed)) => speed,
        Some(Value::Undefined(reason)) => return (Value::Undefined(reason.clone()), None),
        None => return (Value::Undefined(words::Figure::NoSuchSpeed.into()), None),
    };
    let stops = |speed: f64| math::log2(speed / box_speed);
    let value = Measured::with_interval(
        stops(speed.value),
        speed.u / speed.value / core::f64::consts::LN_2,
        stops(speed.low),
        stops(speed.high),
    );
    (
        Value::Known(value.flagged(speed.flags)),
        draws.map(|draws| draws.iter().map(|draw| stops(*draw)).collect()),
    )
}

/// The exposure index at which a bracket's shadow density equals the reference's.
///
/// Frames are (exposure index, shadow density), in any order, each with the standard uncertainty `u`. Density must fall with
/// rising index (isotonic least squares: neighbours that contradict each other beyond their errors make the result
/// undefined). A bracket of four indices or more is smoothed as a characteristic curve is, since shadow density over
/// minus the logarithm of the index is a piece of one; the index is read off it, and its uncertainty is what the
/// resamplings of the curve and of the reference's density (`reference_u`) leave open. Fewer frames are interpolated
/// monotone, with an uncertainty of first order: `u(lg EI) = u(D) / slope` (JCGM 100:2008, 5.1). Never beyond the bracket.
///
/// ```
/// # use twinwedge_core::figures::shadow_match;
/// let frames = [(100.0, 0.50), (200.0, 0.40), (400.0, 0.30)];
/// let index = shadow_match(0.40, 0.01, &frames, 0.01);
/// assert!((index.known().unwrap().value - 200.0).abs() < 0.1);
/// ```
#[must_use]
pub fn shadow_match(reference: f64, reference_u: f64, frames: &[(f64, f64)], u: f64) -> Value {
    let target = MatchTarget::of(reference, reference_u, BRACKET);
    let frame = |(exposure_index, density): &(f64, f64)| Frame {
        exposure_index: *exposure_index,
        density: *density,
        u,
    };
    let frames: Vec<Frame> = frames.iter().map(frame).collect();
    match shadow_match_draws(&target, &frames, ErrorKey::default(), BRACKET) {
        Ok((measured, _)) => Value::Known(measured),
        Err(reason) => Value::Undefined(reason),
    }
}

/// The density that a bracket is matched to, and the same in every draw.
#[derive(Debug, Clone, PartialEq)]
pub struct MatchTarget {
    /// The shadow density that is matched.
    pub density: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// As it might have been; draw `k` is the same for all films that are matched to it.
    pub draws: Vec<f64>,
}

impl MatchTarget {
    /// A density read with the standard uncertainty `u`.
    #[must_use]
    pub fn of(density: f64, u: f64, settings: FitSettings) -> Self {
        let key = ErrorKey::of("bracket", "reference").number();
        let draw = |number: u32| density + u * Stream::keyed(settings.seed, u64::from(number), key).normal();
        Self { density, u, draws: (0..settings.resamplings.max(50)).map(draw).collect() }
    }

    /// The same above base+fog: the density that another film's bracket must have, whose own base+fog adds to it what the
    /// reference's takes off. `None` where a draw is missing.
    #[must_use]
    pub fn net(&self, reference: (&Measured, &[f64]), own: (&Measured, &[f64])) -> Option<Self> {
        let same = self.draws.len() == reference.1.len() && self.draws.len() == own.1.len();
        let draws = self.draws.iter().zip(reference.1).zip(own.1);
        same.then(|| Self {
            density: self.density - reference.0.value + own.0.value,
            u: math::hypot(self.u, math::hypot(reference.0.u, own.0.u)),
            draws: draws.map(|((target, off), on)| target - off + on).collect(),
        })
    }
}

/// [`shadow_match`] with its draws, where there are any; `film` says whose the errors of the frames are.
///
/// # Errors
/// Why there is no match, in a sentence.
pub fn shadow_match_draws(
    target: &MatchTarget,
    frames: &[Frame],
    film: ErrorKey,
    settings: FitSettings,
) -> Result<(Measured, Option<Vec<f64>>), Sentence> {
    let nodes = nodes(frames)?;
    let reference = target.density;
    let weights: Vec<f64> = nodes.iter().map(|node| 1.0 / (node.u * node.u).max(LEAST_VARIANCE)).collect();
    let raw: Vec<f64> = nodes.iter().map(|node| node.density).collect();
    let x: Vec<f64> = nodes.iter().map(|node| node.at).collect();
    let u = frames.iter().map(|frame| frame.u).fold(0.0, f64::max);
    let density = isotonic::pool_adjacent_violators(&raw, &weights);
    let worst = raw.iter().zip(&density).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    if worst > (3.0 * u).max(0.02) {
        return Err(words::Bracket::NotFalling { worst }.into());
    }
    let (Some(first), Some(last)) = (x.first().zip(density.first()), x.last().zip(density.last())) else {
        return Err(too_few());
    };
    if reference < *first.1 {
        return Err(words::Bracket::AllDenser { reference, index: math::pow(10.0, -first.0) }.into());
    }
    if reference > *last.1 {
        return Err(words::Bracket::AllThinner { reference, index: math::pow(10.0, -last.0) }.into());
    }
    match smoothed(&nodes, film, settings) {
        Some(curve) => on_curve(&curve, target).map(|(measured, draws)| (measured, Some(draws))),
        None => Ok((between_frames(&nodes, &density, target)?, None)),
    }
}

/// How the curve of a bracket is resampled.
const BRACKET: FitSettings = FitSettings { resamplings: 400, seed: 1 };

/// The bracket as a curve over minus lg index; `None` where it has too few indices to be one.
fn smoothed(nodes: &[Node], film: ErrorKey, settings: FitSettings) -> Option<Curve> {
    let point = |(step, node): (u32, &Node)| Reading {
        strip: 0,
        step,
        log_h: node.at,
        log_h_u: 0.0,
        density: node.density,
        density_u: node.u,
        set_aside: false,
        flags: Flags::empty(),
    };
    let readings = Readings {
        points: (1..).zip(nodes).map(point).collect(),
        absolute: false,
        log_h_shared_u: 0.0,
        sources: Sources { film, ..Sources::default() },
        base_fog: None,
        flags: Flags::empty(),
    };
    fit_as_given(readings, settings).ok()
}

/// Where the curve of a bracket has the reference's density, and what resamplings of both make of it.
fn on_curve(curve: &Curve, target: &MatchTarget) -> Result<(Measured, Vec<f64>), Sentence> {
    let unsettled = || Sentence::from(words::Bracket::OpenEnds);
    let at = curve.best.log_h_at(target.density).ok_or_else(unsettled)?;
    let draws = target.draws.iter().zip(&curve.resampled);
    let draws: Vec<f64> =
        draws.map(|(density, draw)| draw.spline.log_h_at(*density).unwrap_or(f64::NAN)).collect();
    let place = measured_by_draws(at, draws.iter().copied()).map_err(|_| unsettled())?;
    let index = |at: f64| math::pow(10.0, -at);
    let u = index(at) * place.u * core::f64::consts::LN_10;
    let measured = Measured::with_interval(index(at), u, index(place.high), index(place.low));
    Ok((measured, draws.into_iter().map(index).collect()))
}

/// The same between the two nearest of few frames, to first order; `density` is theirs, made to rise.
fn between_frames(nodes: &[Node], density: &[f64], target: &MatchTarget) -> Result<Measured, Sentence> {
    let reference = target.density;
    let x: Vec<f64> = nodes.iter().map(|node| node.at).collect();
    let last = x.len() - 1;
    let curve = MonotoneCubic::new(&x, density, SlopeRule::FritschButland).ok_or_else(too_few)?;
    let miss = |at: f64| curve.value(at).unwrap_or(f64::NAN) - reference;
    let at = roots::bracketed(miss, x[0], x[last], 1e-9).ok_or_else(too_few)?;
    let right = x.partition_point(|node| *node <= at).clamp(1, last);
    let (near, far) = (x[right - 1], x[right]);
    // The secant tells what a frame's error does; the local slope of the interpolant would vanish at a flat frame.
    let slope = (density[right] - density[right - 1]) / (far - near);
    if slope <= 1e-6 {
        return Err(words::Bracket::AlikeFrames.into());
    }
    let share = (at - near) / (far - near);
    let frame_u = math::hypot((1.0 - share) * nodes[right - 1].u, share * nodes[right].u);
    let log_u = math::hypot(target.u, frame_u) / slope;
    let index = math::pow(10.0, -at);
    let end = |sigmas: f64| index * math::pow(10.0, sigmas * log_u);
    let u = index * log_u * core::f64::consts::LN_10;
    Ok(Measured::with_interval(index, u, end(-Z95), end(Z95)))
}

fn too_few() -> Sentence {
    words::Bracket::TooFewFrames.into()
}

/// No density is surer than a millionth.
const LEAST_VARIANCE: f64 = 1e-12;

/// All frames of one exposure index.
#[derive(Debug, Clone, Copy)]
struct Node {
    /// Minus lg index, so that density rises.
    at: f64,
    /// Mean density, weighted by their uncertainties.
    density: f64,
    /// Its standard uncertainty.
    u: f64,
}

/// The frames of each index, in rising order of exposure.
fn nodes(frames: &[Frame]) -> Result<Vec<Node>, Sentence> {
    let usable = |frame: &Frame| {
        frame.exposure_index.is_finite() && frame.exposure_index > 0.0 && frame.density.is_finite()
    };
    if !frames.iter().all(usable) {
        return Err(words::Bracket::FrameWithoutNumbers.into());
    }
    let mut sorted: Vec<(f64, &Frame)> =
        frames.iter().map(|frame| (-math::log10(frame.exposure_index), frame)).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let groups = sorted.chunk_by(|a, b| (a.0 - b.0).abs() < 1e-6);
    let nodes: Vec<Node> = groups
        .map(|group| {
            let weight = |frame: &Frame| 1.0 / (frame.u * frame.u).max(LEAST_VARIANCE);
            let sum: f64 = group.iter().map(|(_, frame)| weight(frame)).sum();
            let mean = group.iter().map(|(_, frame)| weight(frame) / sum * frame.density).sum();
            Node { at: group[0].0, density: mean, u: math::sqrt(1.0 / sum) }
        })
        .collect();
    if nodes.len() < 2 { Err(too_few()) } else { Ok(nodes) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known(value: &Value) -> Measured {
        *value.known().unwrap_or_else(|| panic!("{value:?}"))
    }

    #[test]
    fn a_shadow_match_lies_between_its_frames_and_knows_its_uncertainty() {
        // A straight bracket of slope 0.33 per lg index: first-order propagation by hand.
        let frames: Vec<(f64, f64)> = (0..7)
            .map(|i| {
                let log_index = 2.0 + 0.1 * f64::from(i);
                (math::pow(10.0, log_index), 0.60 - 0.33 * (log_index - 2.0))
            })
            .collect();
        let matched = known(&shadow_match(0.60 - 0.33 * 0.25, 0.01, &frames, 0.02));
        assert!((math::log10(matched.value) - 2.25).abs() < 1e-3);
        // Half way between frames: 0.02 / sqrt(2) each, and 0.01 of the reference, over 0.33.
        let by_hand = math::hypot(0.02 / 2.0_f64.sqrt(), 0.01) / 0.33;
        let stated = math::log10(matched.high / matched.value) / Z95;
        // Seven frames on a line know more together than two do, and no more than their mean.
        let line = math::hypot(0.02 / 7.0_f64.sqrt(), 0.01) / 0.33;
        assert!(stated < 1.05 * by_hand && stated > 0.9 * line, "{stated} between {line} and {by_hand}");
        let few = known(&shadow_match(0.60 - 0.33 * 0.25, 0.01, &frames[1..4], 0.02));
        assert!((math::log10(few.value) - 2.25).abs() < 1e-3);
        assert!((math::log10(few.high / few.value) / Z95 - by_hand).abs() < 1e-3);
    }

    #[test]
    fn says_which_frames_are_missing() {
        let frames = [(100.0, 0.5), (200.0, 0.4)];
        let reason = |reference| match shadow_match(reference, 0.01, &frames, 0.01) {
            Value::Undefined(reason) => reason,
            Value::Known(value) => panic!("{value:?}"),
        };
        assert!(reason(0.3).contains("above index 200"), "{}", reason(0.3));
        assert!(reason(0.6).contains("below index 100"), "{}", reason(0.6));
        assert!(shadow_match(0.4, 0.01, &frames[..1], 0.01).known().is_none());
        let confused = [(100.0, 0.3), (200.0, 0.5)];
        assert!(shadow_match(0.4, 0.01, &confused, 0.01).known().is_none());
    }
}
