//! The figures that follow from a characteristic curve, each with what the resamplings say about it.

use rayon::prelude::*;

use super::speed::{self, CONTRAST_RANGE, SPEED_NET_DENSITY};
use super::straight::{self, Finder, STOP_WIDTH, StraightLine};
use super::{FigureId, Figures};
use crate::curve::{Curve, Resampling, Spline};
use crate::document::Settings;
use crate::measured::{Flags, Measured, Value};
use crate::numeric::{math, robust};
use crate::units::{LogExposure, Stops};

/// A curve that gains no more than this over its outermost stop has come to its level there. At the low end: where a toe
/// gains at least in proportion to exposure, as far as a latent image needs one quantum or more, net density at least
/// doubles from stop to stop, so that what is left above base+fog is no more than what the lowest stop gained.
const LEVEL: f64 = 0.02;
/// The gradient of the highest stop, relative to the steepest, below which a shoulder has begun.
const SHOULDER: f64 = 0.8;
/// Share of resamplings in which a figure must exist to be called measured.
const SETTLED: f64 = 0.9;

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
/// let figures = of_curve(&curve, &Settings::default());
/// // A straight line without a toe has no speed point, but a gamma.
/// assert!(figures[&FigureId::SpeedPoint].known().is_none());
/// assert!((figures[&FigureId::Gamma].known().unwrap().value - 0.6).abs() < 1e-6);
/// ```
#[must_use]
pub fn of_curve(curve: &Curve, settings: &Settings) -> Figures {
    let finder = Finder::new(curve);
    let line = finder.of_readings(curve);
    let departure = line.and_then(|line| finder.departure(curve, &line));
    let base_fog = BaseFog::of(curve);
    let drawn = |resampling: &Resampling| {
        let spline = &resampling.spline;
        let steepest = spline.steepest(STOP_WIDTH).map(|found| found.0);
        let line = steepest.and_then(|steepest| finder.longest(&resampling.readings, steepest));
        let departure = departure.as_ref().and_then(|departure| departure.of(spline));
        Numbers { departure, ..Numbers::of(spline, base_fog.drawn(resampling), steepest, line, settings) }
            .moved(resampling.log_h_shift)
    };
    let steepest = curve.best.steepest(STOP_WIDTH).map(|found| found.0);
    let best = Numbers {
        departure: departure.as_ref().map(|departure| departure.value),
        ..Numbers::of(&curve.best, base_fog.best(), steepest, line, settings)
    };
    let draws = curve.resampled.par_iter().with_min_len(32).map(drawn).collect();
    let summary = Summary { curve, settings, base_fog, best, draws, flags: curve.readings.all_flags() };
    summary.figures()
}

/// Where base+fog comes from.
#[derive(Debug, Clone)]
enum BaseFog {
    /// Read on an unexposed area.
    Read(f64),
    /// The low end of the curve, which is level.
    LowEnd(f64),
    /// Not known, and why.
    Missing(String),
}

impl BaseFog {
    fn of(curve: &Curve) -> Self {
        if let Some((density, _)) = curve.readings.base_fog {
            return Self::Read(density);
        }
        let Some(gained) = curve.best.rise(curve.best.from, STOP_WIDTH) else {
            return Self::Missing(
                "The tested range is shorter than a stop; read base+fog on an unexposed area.".into(),
            );
        };
        if gained <= LEVEL {
            return Self::LowEnd(curve.best.lowest());
        }
        // Net density at least doubles from stop to stop of the toe.
        let stops = half_stops_up(math::log2(gained / LEVEL));
        Self::Missing(format!(
            "The tablet did not reach the toe's foot: density still gains {gained:.2} over the lowest stop. Expose at least \
             {stops} less (a neutral density of {:.2}), or read base+fog on an unexposed area.",
            stops.log_exposure()
        ))
    }

    fn best(&self) -> Option<f64> {
        match self {
            Self::Read(density) | Self::LowEnd(density) => Some(*density),
            Self::Missing(_) => None,
        }
    }

    /// As it might have been: read anew, or anywhere between the low end and what may be left below it (a rectangular
    /// distribution, JCGM 100:2008, 4.3.7).
    fn drawn(&self, resampling: &Resampling) -> Option<f64> {
        match self {
            Self::Read(_) => resampling.base_fog,
            Self::LowEnd(_) => {
                let spline = &resampling.spline;
                Some(spline.lowest() - resampling.uniform * spline.rise(spline.from, STOP_WIDTH)?.min(LEVEL))
            }
            Self::Missing(_) => None,
        }
    }
}

/// A number of stops for a person to expose by: whole and half stops, and written so.
struct HalfStops(f64);

fn half_stops_up(stops: f64) -> HalfStops {
    HalfStops((2.0 * stops.max(0.5) - 1e-9).ceil() / 2.0)
}

impl HalfStops {
    fn log_exposure(&self) -> f64 {
        Stops(self.0).log_exposure().0
    }
}

impl core::fmt::Display for HalfStops {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let plural = if self.0 > 1.0 { "s" } else { "" };
        write!(f, "{} stop{plural}", self.0)
    }
}

/// All numbers of one curve, the best or a resampled one.
#[derive(Debug, Clone, Copy, Default)]
struct Numbers {
    base_fog: Option<f64>,
    d_max: Option<f64>,
    speed_point: Option<f64>,
    contrast: Option<f64>,
    average: Option<f64>,
    steepest: Option<f64>,
    gamma: Option<f64>,
    straight_from: Option<f64>,
    straight_to: Option<f64>,
    departure: Option<f64>,
}

impl Numbers {
    fn of(
        spline: &Spline,
        base_fog: Option<f64>,
        steepest: Option<f64>,
        line: Option<StraightLine>,
        settings: &Settings,
    ) -> Self {
        let speed_point = base_fog.and_then(|base| spline.log_h_at(base + SPEED_NET_DENSITY));
        let gain = |width| speed_point.and_then(|at| spline.rise(at, width));
        Self {
            base_fog,
            d_max: Some(spline.highest()),
            speed_point,
            contrast: gain(CONTRAST_RANGE),
            average: gain(settings.gradient_range).map(|gain| gain / settings.gradient_range),
            steepest,
            gamma: line.map(|line| line.gamma),
            straight_from: line.map(|line| line.from),
            straight_to: line.map(|line| line.to),
            departure: None,
        }
    }

    /// The same with all log exposures moved by an error of the light.
    fn moved(mut self, shift: f64) -> Self {
        for place in [&mut self.speed_point, &mut self.straight_from, &mut self.straight_to] {
            *place = place.map(|log_h| log_h + shift);
        }
        self
    }
}

/// What the figures are made from.
struct Summary<'a> {
    curve: &'a Curve,
    settings: &'a Settings,
    base_fog: BaseFog,
    best: Numbers,
    draws: Vec<Numbers>,
    flags: Flags,
}

impl Summary<'_> {
    fn figures(&self) -> Figures {
        Figures::from([
            (FigureId::BaseFog, self.base_fog()),
            (FigureId::DMax, self.d_max()),
            (FigureId::SpeedPoint, self.speed_point()),
            (FigureId::IsoSpeed, self.iso_speed()),
            (FigureId::FixedDensitySpeed, self.fixed_density_speed()),
            (FigureId::IsoContrast, self.gain(CONTRAST_RANGE, |numbers| numbers.contrast)),
            (FigureId::AverageGradient, self.gain(self.settings.gradient_range, |numbers| numbers.average)),
            (FigureId::Gamma, self.of_line(|numbers| numbers.gamma)),
            (FigureId::StraightFrom, self.straight_end(|numbers| numbers.straight_from)),
            (FigureId::StraightTo, self.straight_end(|numbers| numbers.straight_to)),
            (FigureId::StraightDeparture, self.of_line(|numbers| numbers.departure)),
            (FigureId::MaximumGradient, self.maximum_gradient()),
            (FigureId::TestedRange, self.tested_range()),
        ])
    }

    /// Value, spread and interval of one number, or `missing` where the best curve has none. The interval is that of the
    /// draws, moved so that their median falls on the value: noise moves the draws of extremes (steepest stop, lowest
    /// density) away from the truth once more, in the direction in which it already moved the value.
    fn measured(&self, number: impl Fn(&Numbers) -> Option<f64>, missing: impl FnOnce() -> String) -> Value {
        let Some(value) = number(&self.best) else { return Value::Undefined(missing()) };
        let draws: Vec<f64> = self.draws.iter().filter_map(number).collect();
        let share = draws.len() as f64 / self.draws.len().max(1) as f64;
        let draws = robust::sorted(&draws);
        let quantile = |p| robust::quantile_of_sorted(&draws, p);
        let ends = (quantile(0.025), quantile(0.5), quantile(0.975));
        let (Some(u), (Some(low), Some(middle), Some(high)), true) =
            (robust::standard_deviation(&draws), ends, share >= SETTLED)
        else {
            return Value::Undefined(unsettled(share));
        };
        let measured = Measured::with_interval(value, u, value + low - middle, value + high - middle);
        Value::Known(measured.flagged(self.flags))
    }

    /// A flag for log exposures that mean something only beside other films'.
    fn relative(&self) -> Flags {
        if self.curve.readings.absolute { Flags::empty() } else { Flags::RELATIVE_EXPOSURE }
    }

    fn base_fog(&self) -> Value {
        let missing = || match &self.base_fog {
            BaseFog::Missing(reason) => reason.clone(),
            BaseFog::Read(_) | BaseFog::LowEnd(_) => String::new(),
        };
        self.measured(|numbers| numbers.base_fog, missing)
    }

    fn d_max(&self) -> Value {
        let best = &self.curve.best;
        let top = best.rise((best.to - STOP_WIDTH).max(best.from), STOP_WIDTH.min(best.to - best.from));
        let rising = top.is_none_or(|gained| gained > LEVEL);
        let no_shoulder =
            top.zip(self.best.steepest).is_none_or(|(top, steepest)| top / STOP_WIDTH >= SHOULDER * steepest);
        let mut flags = Flags::empty();
        flags.set(Flags::LOWER_BOUND, rising);
        flags.set(Flags::SHOULDER_NOT_REACHED, rising && no_shoulder);
        flagged(self.measured(|numbers| numbers.d_max, String::new), flags)
    }

    fn speed_point(&self) -> Value {
        let value = self.measured(|numbers| numbers.speed_point, || self.no_speed_point());
        flagged(value, self.relative())
    }

    fn no_speed_point(&self) -> String {
        let base = match &self.base_fog {
            BaseFog::Missing(reason) => return format!("Base+fog is not known. {reason}"),
            BaseFog::Read(base) | BaseFog::LowEnd(base) => base,
        };
        let best = &self.curve.best;
        let above = best.lowest() - base - SPEED_NET_DENSITY;
        if above <= 0.0 {
            return "No reading is 0.10 above base+fog: give more exposure.".to_owned();
        }
        let width = STOP_WIDTH.min(best.to - best.from);
        let gradient = best.rise(best.from, width).map_or(0.0, |gained| gained / width).max(0.05);
        let stops = half_stops_up(LogExposure(above / gradient).stops().0);
        format!(
            "The speed point lies below the tablet's lowest exposure, where density is already {:.2} above base+fog: expose at \
             least {stops} less (a neutral density of {:.2}).",
            above + SPEED_NET_DENSITY,
            stops.log_exposure()
        )
    }

    /// The speed that follows from the speed point, with its interval.
    fn speed(&self) -> Value {
        let value = self.speed_point();
        let Value::Known(point) = value else { return value };
        let speed = speed::arithmetic_speed(point.value);
        let u = speed * core::f64::consts::LN_10 * point.u;
        let (low, high) = (speed::arithmetic_speed(point.high), speed::arithmetic_speed(point.low));
        Value::Known(Measured::with_interval(speed, u, low, high).flagged(point.flags))
    }

    fn iso_speed(&self) -> Value {
        if !self.curve.readings.absolute {
            return Value::Undefined(
                "Exposure is relative: an ISO speed needs the light in lux seconds in front of the tablet."
                    .into(),
            );
        }
        if self.best.speed_point.is_none() {
            return Value::Undefined(self.no_speed_point());
        }
        let window = self.settings.iso_window;
        match self.best.contrast {
            None => Value::Undefined(self.too_short(CONTRAST_RANGE)),
            Some(gain) if !speed::meets_contrast_condition(gain, window) => Value::Undefined(format!(
                "The contrast condition is not met: density gains {gain:.2} over 1.30 in log H from the speed point, not 0.80 \
                 within {window:.2}. {} development comes nearer.",
                if gain < speed::CONTRAST_DENSITY { "Longer" } else { "Shorter" }
            )),
            Some(_) => self.speed(),
        }
    }

    fn fixed_density_speed(&self) -> Value {
        if self.curve.readings.absolute {
            self.speed()
        } else {
            Value::Undefined(
                "Exposure is relative: a speed needs the light in lux seconds in front of the tablet.".into(),
            )
        }
    }

    fn gain(&self, width: f64, number: fn(&Numbers) -> Option<f64>) -> Value {
        self.measured(number, || {
            if self.best.speed_point.is_none() { self.no_speed_point() } else { self.too_short(width) }
        })
    }

    fn too_short(&self, width: f64) -> String {
        let end = self.best.speed_point.unwrap_or(self.curve.best.from) + width;
        let stops = half_stops_up(LogExposure(end - self.curve.best.to).stops().0);
        format!(
            "The tablet ends before {width:.2} in log H above the speed point: expose {stops} more, or on a second strip."
        )
    }

    fn of_line(&self, number: fn(&Numbers) -> Option<f64>) -> Value {
        self.measured(number, || straight::NONE.to_owned())
    }

    /// An end of the straight line is known no closer than the readings lie: half the distance to the neighbouring
    /// readings joins the spread of the draws.
    fn straight_end(&self, number: fn(&Numbers) -> Option<f64>) -> Value {
        let value = self.measured(number, || straight::NONE.to_owned());
        let Value::Known(mut measured) = value else { return value };
        let places =
            self.curve.readings.points.iter().filter(|point| !point.set_aside).map(|point| point.log_h);
        let away = places.map(|place| (place - measured.value).abs()).filter(|distance| *distance > 1e-6);
        let half = away.fold(f64::INFINITY, f64::min) / 2.0;
        measured.u = math::hypot(measured.u, half / 3.0_f64.sqrt());
        measured.low = measured.low.min(measured.value - half);
        measured.high = measured.high.max(measured.value + half);
        Value::Known(measured.flagged(self.relative()))
    }

    fn maximum_gradient(&self) -> Value {
        let missing = || "The tested range is shorter than a stop.".to_owned();
        self.measured(|numbers| numbers.steepest, missing)
    }

    fn tested_range(&self) -> Value {
        let mut fitted = self.curve.readings.points.iter().filter(|point| !point.set_aside);
        let ends = fitted.next().zip(fitted.next_back());
        let u = ends.map_or(0.0, |(first, last)| math::hypot(first.log_h_u, last.log_h_u));
        let (from, to) = self.curve.range();
        Value::Known(Measured::normal(to - from, u).flagged(self.flags))
    }
}

fn flagged(value: Value, flags: Flags) -> Value {
    match value {
        Value::Known(measured) => Value::Known(measured.flagged(flags)),
        Value::Undefined(_) => value,
    }
}

fn unsettled(share: f64) -> String {
    format!(
        "Within the errors of the readings it exists in only {:.0} of 100 cases: the data do not settle it.",
        100.0 * share
    )
}
