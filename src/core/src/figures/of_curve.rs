//! The figures that follow from a characteristic curve, each with what the resamplings say about it.

use rayon::prelude::*;

use super::draws::{Draws, measured_by_draws};
use super::numbers::Numbers;
use super::speed::{self, CONTRAST_RANGE, SPEED_NET_DENSITY};
use super::straight::{self, Finder, STOP_WIDTH, StraightLine};
use super::{FigureId, Figures};
use crate::curve::{Curve, Resampling, Spline};
use crate::document::Settings;
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;
use crate::units::{LogExposure, Stops};

/// A curve that gains no more than this over its outermost stop has come to its level there. At the low end: where a toe
/// gains at least in proportion to exposure, as far as a latent image needs one quantum or more, net density at least
/// doubles from stop to stop, so that what is left above base+fog is no more than what the lowest stop gained.
const LEVEL: f64 = 0.02;
/// The gradient of the highest stop, relative to the steepest, below which a shoulder has begun.
const SHOULDER: f64 = 0.8;
/// The figures of a curve, and what its resamplings say of them.
#[derive(Debug, Clone, PartialEq)]
pub struct OfCurve {
    /// Each known or with the reason why not.
    pub figures: Figures,
    /// The draws of those that are known.
    pub draws: Draws,
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
/// // A straight line without a toe has no speed point, but a gamma.
/// assert!(figures[&FigureId::SpeedPoint].known().is_none());
/// assert!((figures[&FigureId::Gamma].known().unwrap().value - 0.6).abs() < 1e-6);
/// ```
#[must_use]
pub fn of_curve(curve: &Curve, settings: &Settings) -> OfCurve {
    let finder = Finder::new(curve);
    let line = finder.of_readings(curve);
    let departure = line.and_then(|line| finder.departure(curve, &line));
    let base_fog = BaseFog::of(curve);
    let absolute = curve.readings.absolute;
    let half_step = line.map_or((0.0, 0.0), |line| (half_step(curve, line.from), half_step(curve, line.to)));
    let drawn = |resampling: &Resampling| {
        let spline = &resampling.spline;
        let steepest = spline.steepest(STOP_WIDTH).map(|found| found.0);
        let line = steepest.and_then(|steepest| finder.longest(&resampling.readings, steepest));
        let line = line.map(|line| somewhere_near(line, half_step, resampling.uniform));
        let base_fog = base_fog.drawn(resampling);
        let mut numbers = Numbers::of(&StartOf { spline, base_fog, steepest, line, absolute }, settings);
        let departure = departure.as_ref().and_then(|departure| departure.of(spline));
        numbers.set(FigureId::StraightDeparture, departure);
        numbers.moved(resampling.log_h_shift)
    };
    let spline = &curve.best;
    let steepest = spline.steepest(STOP_WIDTH).map(|found| found.0);
    let start = StartOf { spline, base_fog: base_fog.best(), steepest, line, absolute };
    let mut best = Numbers::of(&start, settings);
    best.set(FigureId::StraightDeparture, departure.as_ref().map(|departure| departure.value));
    let draws = curve.resampled.par_iter().with_min_len(32).map(drawn).collect();
    let summary = Summary { curve, settings, base_fog, best, draws, flags: curve.readings.all_flags() };
    let figures = summary.figures();
    let draws = summary.draws_of(&figures);
    OfCurve { figures, draws }
}

/// What the numbers of a spline start from.
#[derive(Debug, Clone, Copy)]
pub(super) struct StartOf<'a> {
    pub(super) spline: &'a Spline,
    pub(super) base_fog: Option<f64>,
    /// Highest mean gradient over a stop.
    pub(super) steepest: Option<f64>,
    pub(super) line: Option<StraightLine>,
    /// Exposures are in lux seconds.
    pub(super) absolute: bool,
}

/// Half the distance from a place to the nearest other reading.
fn half_step(curve: &Curve, place: f64) -> f64 {
    let fitted = curve.readings.points.iter().filter(|point| !point.set_aside);
    let away = fitted.map(|point| (point.log_h - place).abs()).filter(|distance| *distance > 1e-6);
    let nearest = away.fold(f64::INFINITY, f64::min);
    if nearest.is_finite() { nearest / 2.0 } else { 0.0 }
}

/// An end of a straight line is known no closer than the readings lie: it may be anywhere within half their distance (a
/// rectangular distribution, JCGM 100:2008, 4.3.7). `uniform` serves for both ends by digits far apart.
fn somewhere_near(line: StraightLine, (from, to): (f64, f64), uniform: f64) -> StraightLine {
    let digits = |scale: f64| 2.0 * (uniform * scale).fract() - 1.0;
    StraightLine { from: line.from + from * digits(7919.0), to: line.to + to * digits(62_710_561.0), ..line }
}

/// Where base+fog comes from.
#[derive(Debug, Clone)]
pub(crate) enum BaseFog {
    /// Read on an unexposed area.
    Read(f64),
    /// Below the low end of the curve, which is level, by half of what may be left: see [`LEVEL`].
    LowEnd(f64),
    /// Not known, and why.
    Missing(String),
}

impl BaseFog {
    pub(crate) fn of(curve: &Curve) -> Self {
        if let Some((density, _)) = curve.readings.base_fog {
            return Self::Read(density);
        }
        let Some(gained) = curve.best.rise(curve.best.from, STOP_WIDTH) else {
            return Self::Missing(
                "The tested range is shorter than a stop; read base+fog on an unexposed area.".into(),
            );
        };
        if gained <= LEVEL {
            return Self::LowEnd(curve.best.lowest() - gained / 2.0);
        }
        // Net density at least doubles from stop to stop of the toe.
        let stops = half_stops_up(math::log2(gained / LEVEL));
        Self::Missing(format!(
            "The tablet did not reach the toe's foot: density still gains {gained:.2} over the lowest stop. Expose at least \
             {stops} less (a neutral density of {:.2}), or read base+fog on an unexposed area.",
            stops.log_exposure()
        ))
    }

    pub(crate) fn best(&self) -> Option<f64> {
        match self {
            Self::Read(density) | Self::LowEnd(density) => Some(*density),
            Self::Missing(_) => None,
        }
    }

    /// As it might have been: read anew, or anywhere between the low end and what may be left below it (a rectangular
    /// distribution, JCGM 100:2008, 4.3.7).
    pub(crate) fn drawn(&self, resampling: &Resampling) -> Option<f64> {
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
            (FigureId::IsoContrast, self.gain(FigureId::IsoContrast, CONTRAST_RANGE)),
            (FigureId::AverageGradient, self.gain(FigureId::AverageGradient, self.settings.gradient_range)),
            (FigureId::Gamma, self.of_line(FigureId::Gamma)),
            (FigureId::StraightFrom, flagged(self.of_line(FigureId::StraightFrom), self.relative())),
            (FigureId::StraightTo, flagged(self.of_line(FigureId::StraightTo), self.relative())),
            (FigureId::StraightDeparture, self.of_line(FigureId::StraightDeparture)),
            (FigureId::MaximumGradient, self.maximum_gradient()),
            (FigureId::TestedRange, self.tested_range()),
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
    fn measured(&self, id: FigureId, missing: impl FnOnce() -> String) -> Value {
        let Some(value) = self.best.get(id) else { return Value::Undefined(missing()) };
        match measured_by_draws(value, self.column(id)) {
            Ok(measured) => Value::Known(measured.flagged(self.flags)),
            Err(share) => Value::Undefined(unsettled(share)),
        }
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
        self.measured(FigureId::BaseFog, missing)
    }

    fn d_max(&self) -> Value {
        let best = &self.curve.best;
        let top = best.rise((best.to - STOP_WIDTH).max(best.from), STOP_WIDTH.min(best.to - best.from));
        let rising = top.is_none_or(|gained| gained > LEVEL);
        let no_shoulder = top
            .zip(self.best.get(FigureId::MaximumGradient))
            .is_none_or(|(top, steepest)| top / STOP_WIDTH >= SHOULDER * steepest);
        let mut flags = Flags::empty();
        flags.set(Flags::LOWER_BOUND, rising);
        flags.set(Flags::SHOULDER_NOT_REACHED, rising && no_shoulder);
        flagged(self.measured(FigureId::DMax, String::new), flags)
    }

    fn speed_point(&self) -> Value {
        let value = self.measured(FigureId::SpeedPoint, || self.no_speed_point());
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

    fn iso_speed(&self) -> Value {
        if !self.curve.readings.absolute {
            return Value::Undefined(
                "Exposure is relative: an ISO speed needs the light in lux seconds in front of the tablet."
                    .into(),
            );
        }
        if self.best.get(FigureId::SpeedPoint).is_none() {
            return Value::Undefined(self.no_speed_point());
        }
        let window = self.settings.iso_window;
        match self.best.get(FigureId::IsoContrast) {
            None => Value::Undefined(self.too_short(CONTRAST_RANGE)),
            Some(gain) if !speed::meets_contrast_condition(gain, window) => Value::Undefined(format!(
                "The contrast condition is not met: density gains {gain:.2} over 1.30 in log H from the speed point, not 0.80 \
                 within {window:.2}. {} development comes nearer.",
                if gain < speed::CONTRAST_DENSITY { "Longer" } else { "Shorter" }
            )),
            Some(_) => self.measured(FigureId::IsoSpeed, || self.no_speed_point()),
        }
    }

    fn fixed_density_speed(&self) -> Value {
        if self.curve.readings.absolute {
            self.measured(FigureId::FixedDensitySpeed, || self.no_speed_point())
        } else {
            Value::Undefined(
                "Exposure is relative: a speed needs the light in lux seconds in front of the tablet.".into(),
            )
        }
    }

    fn gain(&self, id: FigureId, width: f64) -> Value {
        self.measured(id, || {
            if self.best.get(FigureId::SpeedPoint).is_none() {
                self.no_speed_point()
            } else {
                self.too_short(width)
            }
        })
    }

    fn too_short(&self, width: f64) -> String {
        let end = self.best.get(FigureId::SpeedPoint).unwrap_or(self.curve.best.from) + width;
        let stops = half_stops_up(LogExposure(end - self.curve.best.to).stops().0);
        format!(
            "The tablet ends before {width:.2} in log H above the speed point: expose {stops} more, or on a second strip."
        )
    }

    fn of_line(&self, id: FigureId) -> Value {
        self.measured(id, || straight::NONE.to_owned())
    }

    fn maximum_gradient(&self) -> Value {
        let missing = || "The tested range is shorter than a stop.".to_owned();
        self.measured(FigureId::MaximumGradient, missing)
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
