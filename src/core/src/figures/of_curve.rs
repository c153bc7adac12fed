//! The figures that follow from a characteristic curve, each with what the resamplings say about it.

use rayon::prelude::*;

use super::draws::{Draws, measured_by_draws};
use super::numbers::{LONG_RANGE, Numbers, SPEEDS, StartOf};
use super::reach::{self, End, LEVEL, Reach, Reached};
use super::shape::Shape;
use super::speed::{self, CONTRAST_RANGE, SPEED_NET_DENSITY};
use super::straight::{self, Departure, STOP_WIDTH};
use super::{FigureId, Figures, criteria, foot};
use crate::curve::{Curve, Resampling, Spline};
use crate::document::Settings;
use crate::measured::{Flags, Measured, Value};
use crate::numeric::{math, robust};
use crate::units::Stops;
use crate::words::{self, HalfStops, Sentence};

/// The figures of a curve, and what its resamplings say of them.
#[derive(Debug, Clone, PartialEq)]
pub struct OfCurve {
    /// Each known or with the reason why not.
    pub figures: Figures,
    /// The draws of those that are known.
    pub draws: Draws,
    /// Whether the test reached toe and shoulder.
    pub reach: Reach,
}

/// All figures that follow from a curve, each known or with the reason why not. Log exposures and speeds include the
/// uncertainty of the light itself. Not among them: what comes from brackets and grain.
///
/// ```
/// # use twinwedge_core::curve::{fit, FitSettings, Reading, Readings, Sources};
/// # use twinwedge_core::document::Settings;
/// # use twinwedge_core::figures::{of_curve, FigureId};
/// # use twinwedge_core::measured::Flags;
/// # let point = |i: u32| Reading {
/// #     strip: 0, step: i + 1, log_h: 0.15 * f64::from(i), log_h_u: 0.0, density: 0.15 + 0.09 * f64::from(i),
/// #     density_u: 0.01, set_aside: false, flags: Flags::empty(),
/// # };
/// # let readings = Readings {
/// #     points: (0..21).map(point).collect(), absolute: false, log_h_shared_u: 0.0, sources: Sources::default(), base_fog: None, flags: Flags::empty(),
/// # };
/// let curve = fit(readings, FitSettings { resamplings: 100, seed: 1 }).unwrap();
/// let figures = of_curve(&curve, &Settings::default()).figures;
/// // A straight line without a toe: its speed point is bounded alone, and it has a gamma.
/// let point = figures[&FigureId::SpeedPoint].known().unwrap();
/// assert!(point.flags.contains(Flags::UPPER_BOUND | Flags::TOE_NOT_REACHED));
/// assert!((figures[&FigureId::Gamma].known().unwrap().value - 0.6).abs() < 1e-6);
/// ```
#[must_use]
pub fn of_curve(curve: &Curve, settings: &Settings) -> OfCurve {
    let line = straight::of_spline(&curve.best);
    let departure = line.and_then(|line| Departure::furthest(curve, &line));
    let base_fog = BaseFog::of(curve);
    let absolute = curve.readings.absolute;
    let drawn = |resampling: &Resampling| {
        let spline = &resampling.spline;
        let steepest = spline.steepest(STOP_WIDTH);
        let line = straight::of_spline(spline);
        let base_fog = base_fog.drawn_or_bound(resampling);
        let mut numbers = Numbers::of(&StartOf { spline, base_fog, steepest, line, absolute }, settings);
        let departure = departure.as_ref().and_then(|departure| departure.along(spline));
        numbers.set(FigureId::StraightDeparture, departure);
        numbers.moved(resampling.log_h_shift)
    };
    let spline = &curve.best;
    let start = StartOf {
        spline,
        base_fog: Some(base_fog.best()),
        steepest: spline.steepest(STOP_WIDTH),
        line,
        absolute,
    };
    let mut best = Numbers::of(&start, settings);
    best.set(FigureId::StraightDeparture, departure.as_ref().map(|departure| departure.value));
    let draws: Vec<Numbers> = curve.resampled.par_iter().with_min_len(32).map(drawn).collect();
    let gammas: Vec<Option<f64>> = draws.iter().map(|numbers| numbers.get(FigureId::Gamma)).collect();
    let reach = reach::reach(curve, best.get(FigureId::SpeedPoint), line.map(|line| line.gamma), &gammas);
    let summary =
        Summary { curve, settings, base_fog, best, draws, reach, flags: curve.readings.all_flags() };
    let figures = summary.figures();
    let draws = summary.draws_of(&figures);
    OfCurve { figures, draws, reach: summary.reach }
}

/// Where base+fog comes from.
#[derive(Debug, Clone, Copy)]
pub(crate) enum BaseFog {
    /// Read on an unexposed area.
    Read(f64),
    /// From the foot of the curve, which is level: see [`foot`]; and the uncertainty of a reading there.
    LowEnd(f64, f64),
    /// The low end of the curve, which still rises there: base+fog is no more than that.
    AtMost(f64),
}

impl BaseFog {
    pub(crate) fn of(curve: &Curve) -> Self {
        if let Some((density, _)) = curve.readings.base_fog {
            return Self::Read(density);
        }
        match curve.best.rise(curve.best.from, STOP_WIDTH) {
            Some(gained) if gained <= LEVEL => Self::LowEnd(foot::base_fog(&curve.best), lowest_u(curve)),
            _ => Self::AtMost(curve.best.lowest()),
        }
    }

    /// Base+fog, or what it is no more than.
    fn best(self) -> f64 {
        match self {
            Self::Read(density) | Self::LowEnd(density, _) | Self::AtMost(density) => density,
        }
    }

    /// Base+fog where it was measured.
    pub(crate) fn known(self) -> Option<f64> {
        match self {
            Self::Read(density) | Self::LowEnd(density, _) => Some(density),
            Self::AtMost(_) => None,
        }
    }

    /// Why it was not measured; nothing where it was.
    pub(crate) fn why(self) -> Sentence {
        match self {
            Self::Read(_) | Self::LowEnd(..) => Sentence::default(),
            Self::AtMost(density) => words::Figure::FootNotReached { density }.into(),
        }
    }

    /// As it might have been: read anew, or from the foot of another draw with another steepness.
    pub(crate) fn drawn(self, resampling: &Resampling) -> Option<f64> {
        let spline = &resampling.spline;
        match self {
            Self::Read(_) => resampling.base_fog,
            Self::LowEnd(_, u) => Some(foot::base_fog_drawn(spline, u, resampling.uniform)),
            Self::AtMost(_) => None,
        }
    }

    /// The same, and the low end where base+fog is no more than that.
    fn drawn_or_bound(self, resampling: &Resampling) -> Option<f64> {
        match self {
            Self::AtMost(_) => Some(resampling.spline.lowest()),
            Self::Read(_) | Self::LowEnd(..) => self.drawn(resampling),
        }
    }
}

/// How closely a foot is taken to follow its power of exposure, density: a smooth curve through few readings follows it no closer,
/// however sure each of them is. Set where intervals of base+fog and speed point from scans are as wide as their errors are, of films and
/// of pairs of films (`cargo dev study`).
const LEAST_FOOT_U: f64 = 3e-3;

/// Standard uncertainty of the lowest reading, no less than what the foot is taken to follow.
fn lowest_u(curve: &Curve) -> f64 {
    let lowest = curve.readings.points.iter().find(|point| !point.set_aside);
    lowest.map_or(LEAST_FOOT_U, |point| curve.error_scale * point.density_u.max(LEAST_FOOT_U))
}

/// What the figures are made from.
struct Summary<'a> {
    curve: &'a Curve,
    settings: &'a Settings,
    base_fog: BaseFog,
    best: Numbers,
    draws: Vec<Numbers>,
    reach: Reach,
    flags: Flags,
}

impl Summary<'_> {
    fn figures(&self) -> Figures {
        use FigureId as Id;
        let point = Flags::UPPER_BOUND;
        let speed = Flags::LOWER_BOUND;
        let range = self.settings.gradient_range;
        Figures::from([
            (Id::IsoSpeed, self.iso_speed()),
            (Id::FixedDensitySpeed, self.speed(|| self.bounded_speed_point(Id::FixedDensitySpeed, speed))),
            (Id::FractionalGradientSpeed, self.speed(|| self.fraction(Id::FractionalGradientSpeed, speed))),
            (Id::DeltaXSpeed, self.speed(|| self.gain(Id::DeltaXSpeed, CONTRAST_RANGE))),
            (Id::SpeedPoint, self.place(self.bounded_speed_point(Id::SpeedPoint, point))),
            (Id::FractionalGradientPoint, self.place(self.fraction(Id::FractionalGradientPoint, point))),
            (Id::DeltaXPoint, self.place(self.gain(Id::DeltaXPoint, CONTRAST_RANGE))),
            (Id::BaseFog, self.base_fog()),
            (Id::SpeedPointGradient, self.gain(Id::SpeedPointGradient, 0.0)),
            (Id::ToeLength, self.toe(Id::ToeLength)),
            (Id::ToeCurvature, self.toe(Id::ToeCurvature)),
            (Id::IsoContrast, self.gain(Id::IsoContrast, CONTRAST_RANGE)),
            (Id::AverageGradient130, self.gain(Id::AverageGradient130, CONTRAST_RANGE)),
            (Id::AverageGradient150, self.gain(Id::AverageGradient150, LONG_RANGE)),
            (Id::AverageGradient, self.gain(Id::AverageGradient, range)),
            (Id::ContrastIndex, self.contrast_index()),
            (Id::Gamma, self.of_line(Id::Gamma)),
            (Id::MaximumGradient, self.steepest_stop()),
            (Id::StraightFrom, self.place(self.straight_begin())),
            (Id::StraightTo, self.place(self.straight_end(Id::StraightTo))),
            (Id::StraightLength, self.straight_end(Id::StraightLength)),
            (Id::StraightDeparture, self.of_line(Id::StraightDeparture)),
            (Id::DMax, self.d_max()),
            (Id::ShoulderLength, self.shoulder(Id::ShoulderLength)),
            (Id::ShoulderCurvature, self.shoulder(Id::ShoulderCurvature)),
            (Id::Headroom, self.headroom()),
            (Id::UsableFrom, self.place(self.usable(Id::UsableFrom))),
            (Id::UsableTo, self.place(self.usable(Id::UsableTo))),
            (Id::UsableRange, self.usable(Id::UsableRange)),
            (Id::TestedRange, self.tested_range()),
        ])
    }

    /// The number of every draw.
    fn column(&self, id: FigureId) -> impl Iterator<Item = f64> {
        self.draws.iter().map(move |numbers| numbers.get(id).unwrap_or(f64::NAN))
    }

    /// The draws of those of `figures` that are known and were drawn.
    fn draws_of(&self, figures: &Figures) -> Draws {
        let mut draws = Draws::default();
        for (id, value) in figures {
            if value.known().is_some() && self.best.get(*id).is_some() {
                draws.insert(*id, self.column(*id).collect());
            }
        }
        draws
    }

    /// Value, spread and interval of one figure, or `missing` where the best curve has none.
    fn measured(&self, id: FigureId, missing: impl FnOnce() -> Sentence) -> Value {
        let Some(value) = self.best.get(id) else { return Value::Undefined(missing()) };
        // Errors of a speed are errors of a log exposure: even on that scale.
        let measured = if SPEEDS.contains(&id) {
            measured_by_draws(math::log10(value), self.column(id).map(math::log10)).map(|log| {
                let speed = |log: f64| math::pow(10.0, log);
                let u = value * core::f64::consts::LN_10 * log.u;
                Measured::with_interval(value, u, speed(log.low), speed(log.high))
            })
        } else {
            measured_by_draws(value, self.column(id))
        };
        match measured {
            Ok(measured) => Value::Known(measured.flagged(self.flags)),
            Err(share) => Value::Undefined(unsettled(share)),
        }
    }

    /// The steepest of several stops is as a rule one that errors made steeper: each draw's is steeper than the best fit's by as
    /// much again, and by so much the interval lies lower (B. Efron, J. Am. Stat. Assoc. 82 (1987), on intervals of biased
    /// estimates).
    fn steepest_stop(&self) -> Value {
        let value = self.measured(FigureId::MaximumGradient, || words::Figure::ShorterThanStop.into());
        let Value::Known(measured) = value else { return value };
        let draws: Vec<f64> =
            self.column(FigureId::MaximumGradient).filter(|draw| draw.is_finite()).collect();
        let bias = robust::median(&draws).map_or(0.0, |median| median - measured.value);
        let (low, high) = (measured.low - bias, measured.high - bias);
        Value::Known(Measured { low: low.min(measured.value), high: high.max(measured.value), ..measured })
    }

    /// A log exposure: flagged where it means something only beside other films'.
    fn place(&self, value: Value) -> Value {
        let relative = if self.curve.readings.absolute { Flags::empty() } else { Flags::RELATIVE_EXPOSURE };
        flagged(value, relative | self.curve.readings.flags & Flags::LIGHT_NOT_SAID)
    }

    /// A speed, which needs light in lux seconds.
    fn speed(&self, of: impl FnOnce() -> Value) -> Value {
        if self.curve.readings.absolute {
            of()
        } else {
            Value::Undefined(words::Figure::RelativeExposure.into())
        }
    }

    /// Why and with which advice the toe is missing.
    fn no_toe(&self) -> Sentence {
        told(&self.reach.toe)
    }

    fn no_shoulder(&self) -> Sentence {
        told(&self.reach.shoulder)
    }

    fn base_fog(&self) -> Value {
        let value = self.measured(FigureId::BaseFog, Sentence::default);
        match self.base_fog {
            BaseFog::AtMost(_) => flagged(value, Flags::UPPER_BOUND | Flags::TOE_NOT_REACHED),
            BaseFog::Read(_) | BaseFog::LowEnd(..) => value,
        }
    }

    fn d_max(&self) -> Value {
        let value = self.measured(FigureId::DMax, Sentence::default);
        let mut flags = Flags::empty();
        flags.set(Flags::LOWER_BOUND, self.reach.shoulder.reached != Reached::Whole);
        flags.set(Flags::SHOULDER_NOT_REACHED, self.reach.shoulder.reached == Reached::Not);
        flagged(value, flags)
    }

    /// Whether the speed point lies somewhere below what stands for it.
    fn speed_point_is_bound(&self) -> bool {
        let best = &self.curve.best;
        let base = self.base_fog.best();
        matches!(self.base_fog, BaseFog::AtMost(_)) || best.lowest() > base + SPEED_NET_DENSITY
    }

    /// The speed point, or what follows from it alone.
    fn bounded_speed_point(&self, id: FigureId, bound: Flags) -> Value {
        let value = self.measured(id, || words::Figure::NoSpeedPoint.into());
        if self.speed_point_is_bound() { flagged(value, bound | Flags::TOE_NOT_REACHED) } else { value }
    }

    fn iso_speed(&self) -> Value {
        let window = self.settings.iso_window;
        let of = || match self.gain(FigureId::IsoContrast, CONTRAST_RANGE) {
            Value::Undefined(reason) => Value::Undefined(reason),
            Value::Known(gain) if !speed::meets_contrast_condition(gain.value, window) => {
                let longer = gain.value < speed::CONTRAST_DENSITY;
                Value::Undefined(words::Figure::ContrastMissed { gain: gain.value, window, longer }.into())
            }
            Value::Known(_) => self.measured(FigureId::IsoSpeed, || words::Figure::NoSpeedPoint.into()),
        };
        self.speed(of)
    }

    /// What is taken over a range of log H from the speed point.
    fn gain(&self, id: FigureId, width: f64) -> Value {
        if self.speed_point_is_bound() {
            return Value::Undefined(words::Figure::FromSpeedPoint { why: self.no_toe() }.into());
        }
        self.measured(id, || {
            if self.best.get(FigureId::SpeedPoint).is_none() {
                words::Figure::NoSpeedPoint.into()
            } else {
                self.too_short(width)
            }
        })
    }

    fn too_short(&self, width: f64) -> Sentence {
        let end = self.best.get(FigureId::SpeedPoint).unwrap_or(self.curve.best.from) + width;
        let stops = HalfStops::up(Stops::from_log_exposure(end - self.curve.best.to).0);
        words::Figure::TabletEnds { width, stops }.into()
    }

    fn contrast_index(&self) -> Value {
        if matches!(self.base_fog, BaseFog::AtMost(_)) {
            return Value::Undefined(words::Figure::FromBaseFog { why: self.no_toe() }.into());
        }
        self.measured(FigureId::ContrastIndex, || words::Figure::ArcsNotReached.into())
    }

    /// The fractional-gradient point or speed. Where more than one draw in forty begins above the criterion, the point may lie
    /// anywhere below: then it is a bound, and its limit is that of the draws.
    fn fraction(&self, id: FigureId, bound: Flags) -> Value {
        let value = self.measured(id, || words::Figure::FractionTooShort.into());
        let before = |spline: &Spline, base: Option<f64>| {
            let reached = base.and_then(|base| criteria::fraction_of(spline, base));
            matches!(reached, Some(criteria::Reached::Before(_)))
        };
        let draws = &self.curve.resampled;
        let open =
            draws.iter().filter(|draw| before(&draw.spline, self.base_fog.drawn_or_bound(draw))).count();
        let Value::Known(measured) = value else { return value };
        if open * 40 <= draws.len() && !before(&self.curve.best, Some(self.base_fog.best())) {
            return value;
        }
        let sorted = robust::sorted(&self.column(id).filter(|draw| draw.is_finite()).collect::<Vec<_>>());
        let end = |p: f64, own: f64| robust::quantile_of_sorted(&sorted, p).unwrap_or(own);
        let limited = Measured {
            low: measured.low.min(end(0.025, measured.low)),
            high: measured.high.max(end(0.975, measured.high)),
            ..measured
        };
        Value::Known(limited.flagged(bound | Flags::TOE_NOT_REACHED))
    }

    fn of_line(&self, id: FigureId) -> Value {
        self.measured(id, || words::Figure::NoStraightLine.into())
    }

    /// A line that begins at the first reading may begin before.
    fn straight_begin(&self) -> Value {
        let value = self.of_line(FigureId::StraightFrom);
        if self.line_is_open().0 {
            flagged(value, Flags::UPPER_BOUND | Flags::TOE_NOT_REACHED)
        } else {
            value
        }
    }

    /// Whether the straight line may begin before the first reading and end after the last: it does so in the best curve, or in more
    /// than one draw in forty.
    fn line_is_open(&self) -> (bool, bool) {
        const NEAR: f64 = 1e-6;
        let open = |numbers: &Numbers, spline: &Spline, shift: f64| {
            let place = |id| numbers.get(id).map(|place| place - shift);
            (
                place(FigureId::StraightFrom).is_some_and(|from| from <= spline.from + NEAR),
                place(FigureId::StraightTo).is_some_and(|to| to >= spline.to - NEAR),
            )
        };
        let (below, above) = open(&self.best, &self.curve.best, 0.0);
        let resampled = self.draws.iter().zip(&self.curve.resampled);
        let drawn: Vec<(bool, bool)> =
            resampled.map(|(numbers, draw)| open(numbers, &draw.spline, draw.log_h_shift)).collect();
        let often =
            |end: fn(&(bool, bool)) -> bool| 40 * drawn.iter().filter(|draw| end(draw)).count() > drawn.len();
        (below || often(|draw| draw.0), above || often(|draw| draw.1))
    }

    /// A line that goes on to the last reading may go on beyond.
    fn straight_end(&self, id: FigureId) -> Value {
        let value = self.of_line(id);
        let (below, above) = self.line_is_open();
        let mut flags = Flags::empty();
        flags.set(Flags::SHOULDER_NOT_REACHED, above);
        flags.set(Flags::TOE_NOT_REACHED, below && id == FigureId::StraightLength);
        flags.set(Flags::LOWER_BOUND, above || below && id == FigureId::StraightLength);
        flagged(value, flags)
    }

    fn headroom(&self) -> Value {
        if self.speed_point_is_bound() {
            return Value::Undefined(words::Figure::FromSpeedPoint { why: self.no_toe() }.into());
        }
        self.straight_end(FigureId::Headroom)
    }

    fn toe(&self, id: FigureId) -> Value {
        let value = self.measured(id, || self.no_toe());
        let open = || Some(Shape::of(&self.curve.best, self.steepest())?.toe()?.open_below);
        match id {
            FigureId::ToeLength if open() == Some(true) => {
                flagged(value, Flags::LOWER_BOUND | Flags::TOE_NOT_REACHED)
            }
            _ if self.reach.toe.reached == Reached::Not => flagged(value, Flags::TOE_NOT_REACHED),
            _ => value,
        }
    }

    fn shoulder(&self, id: FigureId) -> Value {
        if self.reach.shoulder.reached == Reached::Not {
            return Value::Undefined(self.no_shoulder());
        }
        let value = self.measured(id, || self.no_shoulder());
        let open = || Some(Shape::of(&self.curve.best, self.steepest())?.shoulder()?.open_above);
        match id {
            FigureId::ShoulderLength if open() == Some(true) => flagged(value, Flags::LOWER_BOUND),
            _ => value,
        }
    }

    fn steepest(&self) -> Option<(f64, f64)> {
        self.curve.best.steepest(STOP_WIDTH)
    }

    fn usable(&self, id: FigureId) -> Value {
        let Settings { usable_toe_gradient: lower, usable_shoulder_gradient: upper, .. } = *self.settings;
        let value = self.measured(id, || words::Figure::FlatterThanLimits { lower, upper }.into());
        let found = Shape::of(&self.curve.best, self.steepest()).and_then(|shape| shape.usable(lower, upper));
        let (below, above) = found.map_or((false, false), |found| (found.open_below, found.open_above));
        let mut flags = Flags::empty();
        flags.set(Flags::TOE_NOT_REACHED, below && id != FigureId::UsableTo);
        flags.set(Flags::SHOULDER_NOT_REACHED, above && id != FigureId::UsableFrom);
        flags.set(Flags::UPPER_BOUND, below && id == FigureId::UsableFrom);
        flags.set(
            Flags::LOWER_BOUND,
            match id {
                FigureId::UsableTo => above,
                FigureId::UsableRange => below || above,
                _ => false,
            },
        );
        flagged(value, flags)
    }

    fn tested_range(&self) -> Value {
        let mut fitted = self.curve.readings.points.iter().filter(|point| !point.set_aside);
        let ends = fitted.next().zip(fitted.next_back());
        let u = ends.map_or(0.0, |(first, last)| math::hypot(first.log_h_u, last.log_h_u));
        let (from, to) = self.curve.range();
        Value::Known(Measured::normal(to - from, u).flagged(self.flags))
    }
}

/// Why an end is missing, and what to expose to see it.
fn told(end: &End) -> Sentence {
    let reason = end.reason.clone();
    match &end.advice {
        Some(advice) => words::Figure::WithAdvice { why: reason, advice: advice.clone() }.into(),
        None => reason,
    }
}

fn flagged(value: Value, flags: Flags) -> Value {
    match value {
        Value::Known(measured) => Value::Known(measured.flagged(flags)),
        Value::Undefined(_) => value,
    }
}

fn unsettled(share: f64) -> Sentence {
    words::Figure::Unsettled { percent: 100.0 * share }.into()
}
