//! Paper speed and range by ISO 6846:1992, from a print of a step tablet.
//!
//! The standard's text was not at hand: the points T (0.04 above D-min) and S (90 % of the highest density) were seen in an
//! encyclopaedia's page, the point M (0.60 above D-min), the constant 1000 and the roundings are recalled. The 90 % are taken of
//! the net density here, `D-min + 0.90 (D-max - D-min)`.

use serde::Serialize;

use super::drawn::{Draw, Drawn};
use crate::curve::{Curve, Spline};
use crate::figures::speed;
use crate::figures::straight::STOP_WIDTH;
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;
use crate::words::{self, Sentence};

/// Net density of point T: the first tone told from white.
pub const WHITE_NET: f64 = 0.04;
/// Net density of point M, from which the speed is taken.
pub const SPEED_NET: f64 = 0.60;
/// Share of the net density range at point S: the last tone told from black.
pub const BLACK_SHARE: f64 = 0.90;
/// Paper speed is this over the exposure at M in lux seconds.
const SPEED_CONSTANT: f64 = 1000.0;
/// A paper that gains no more than this over its outermost stop has come to its level there.
const LEVEL: f64 = 0.02;

/// The three points of a paper's curve, as lg H.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PaperPoints {
    /// T: the first tone told from white.
    pub t: f64,
    /// M: the middle, from which the speed is taken.
    pub m: f64,
    /// S: the last tone told from black.
    pub s: f64,
}

/// The three points of a curve from `d_min` to `d_max`, whose inverse is `log_h_at`; `None` where it does not reach one.
///
/// ```
/// # use twinwedge_core::tone::paper_points;
/// // A straight paper of gradient 2 from white at lg H = 0.
/// let points = paper_points(|density| Some((density - 0.05) / 2.0), 0.05, 2.05).unwrap();
/// assert!((points.t - 0.02).abs() < 1e-12 && (points.s - 0.9).abs() < 1e-12);
/// ```
pub fn paper_points(log_h_at: impl Fn(f64) -> Option<f64>, d_min: f64, d_max: f64) -> Option<PaperPoints> {
    Some(PaperPoints {
        t: log_h_at(d_min + WHITE_NET)?,
        m: log_h_at(d_min + SPEED_NET)?,
        s: log_h_at(d_min + BLACK_SHARE * (d_max - d_min))?,
    })
}

/// Paper speed from lg H at M, in lux seconds: `P = 1000 / H` (recalled).
///
/// ```
/// # use twinwedge_core::tone::paper_speed;
/// assert!((paper_speed(2.5_f64.log10()) - 400.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn paper_speed(log_h_m: f64) -> f64 {
    SPEED_CONSTANT * math::pow(10.0, -log_h_m)
}

/// Paper range, `100 (lg H_S - lg H_T)`, not rounded; a hundredth of it is the log exposure range.
///
/// ```
/// # use twinwedge_core::tone::paper_range;
/// assert!((paper_range(0.30, 1.35) - 105.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn paper_range(log_h_t: f64, log_h_s: f64) -> f64 {
    100.0 * (log_h_s - log_h_t)
}

/// Upper ends of the log exposure ranges of grades 6 down to 0. The outer limits of ANSI PH2.2-1966 (0.50 and 1.70, with 0.35
/// of a later draft) were seen in an encyclopaedia's page; those between are recalled.
const GRADES: [(u32, f64); 7] = [(6, 0.50), (5, 0.65), (4, 0.80), (3, 0.95), (2, 1.15), (1, 1.40), (0, 1.70)];
/// Lower end of grade 6.
const HARDEST: f64 = 0.35;

/// The grade number of a log exposure range, by limits that are for the most part recalled; `None` outside all grades. Makers'
/// own labels follow no one scale.
///
/// ```
/// # use twinwedge_core::tone::grade;
/// assert_eq!((grade(1.05), grade(0.42), grade(2.0)), (Some(2), Some(6), None));
/// ```
#[must_use]
pub fn grade(log_range: f64) -> Option<u32> {
    if log_range < HARDEST {
        return None;
    }
    GRADES.iter().find(|(_, end)| log_range <= *end).map(|(grade, _)| *grade)
}

/// The figures of a paper, each with its uncertainty or the reason why it is missing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PaperFigures {
    /// Density of its white.
    pub d_min: Value,
    /// Its highest density.
    pub d_max: Value,
    /// lg H of T.
    pub t: Value,
    /// lg H of M.
    pub m: Value,
    /// lg H of S.
    pub s: Value,
    /// Paper speed, not rounded; needs the light in lux seconds.
    pub speed: Value,
    /// Speed rounded in the third-stop series (the rounding is recalled).
    pub speed_rounded: Option<f64>,
    /// Paper range, not rounded.
    pub range: Value,
    /// Range to the nearest ten (recalled).
    pub range_rounded: Option<f64>,
    /// Grade number, by limits that are for the most part recalled.
    pub grade: Option<u32>,
    /// Highest gradient over any one stop.
    pub steepest: Value,
}

/// A fitted paper, with its white, black and three points in every draw.
#[derive(Debug)]
pub(super) struct Paper<'a> {
    pub(super) curve: &'a Curve,
    light_u: f64,
    pub(super) white: Drawn,
    pub(super) black: Drawn,
    pub(super) t: Drawn,
    pub(super) m: Drawn,
    pub(super) s: Drawn,
    no_white: Sentence,
    rising: bool,
}

impl<'a> Paper<'a> {
    pub(super) fn new(curve: &'a Curve, light_u: f64, count: usize) -> Self {
        let end = |spline: &Spline| {
            spline.rise((spline.to - STOP_WIDTH).max(spline.from), STOP_WIDTH.min(spline.to - spline.from))
        };
        let start = curve.best.rise(curve.best.from, STOP_WIDTH.min(curve.best.to - curve.best.from));
        let level = start.is_some_and(|gained| gained <= LEVEL);
        let read = curve.readings.base_fog.map(|(density, _)| density);
        let nth = |draw: usize| &curve.resampled[draw];
        let spline = |draw: Draw| match draw {
            Draw::Best => &curve.best,
            Draw::Nth(index) => &nth(index).spline,
        };
        let white = Drawn::of(count, |draw| match (read, draw) {
            (Some(read), Draw::Best) => Some(read),
            (Some(_), Draw::Nth(index)) => nth(index).base_fog,
            (None, _) => level.then(|| spline(draw).lowest()),
        });
        let black = Drawn::of(count, |draw| Some(spline(draw).highest()));
        let at = |net: fn(f64, f64) -> f64| {
            Drawn::of(count, |draw| {
                let place = spline(draw).log_h_at(net(white.at(draw)?, black.at(draw)?))?;
                Some(place + moved(curve, draw))
            })
        };
        let (t, m) = (at(|white, _| white + WHITE_NET), at(|white, _| white + SPEED_NET));
        let s = at(|white, black| white + BLACK_SHARE * (black - white));
        let no_white = words::Tones::WhiteNotKnown { gained: start.unwrap_or_default() }.into();
        let rising = end(&curve.best).is_none_or(|gained| gained > LEVEL);
        Self { curve, light_u, white, black, t, m, s, no_white, rising }
    }

    fn spline(&self, draw: Draw) -> &Spline {
        match draw {
            Draw::Best => &self.curve.best,
            Draw::Nth(nth) => &self.curve.resampled[nth].spline,
        }
    }

    /// Print density at a paper exposure. Outside the tested exposures the paper is taken at the end of its curve where that
    /// end is level, for there it has come to white or black; else nothing is known.
    pub(super) fn density(&self, draw: Draw, log_h: f64) -> Option<f64> {
        let spline = self.spline(draw);
        let log_h = log_h - moved(self.curve, draw);
        if log_h < spline.from {
            return self.white.best().and_then(|white| {
                // The curve's light end must have come down to the white.
                (self.curve.best.lowest() - white <= WHITE_NET).then(|| spline.lowest())
            });
        }
        if log_h > spline.to {
            return (!self.rising).then(|| spline.highest());
        }
        spline.density(log_h)
    }

    /// Slope at a paper exposure; none outside the tested exposures.
    pub(super) fn gradient(&self, log_h: f64) -> Option<f64> {
        self.curve.best.gradient(log_h)
    }

    /// Why a point of the curve is missing.
    pub(super) fn why(&self) -> Sentence {
        if self.white.best().is_none() {
            self.no_white.clone()
        } else {
            words::Tones::PaperLacksDensity.into()
        }
    }

    /// Flags of what follows from the highest density, when it is only a bound.
    fn top(&self) -> Flags {
        if self.rising { Flags::LOWER_BOUND } else { Flags::empty() }
    }

    pub(super) fn figures(&self) -> PaperFigures {
        let flags = self.curve.readings.all_flags();
        let absolute = self.curve.readings.absolute;
        let relative = if absolute { Flags::empty() } else { Flags::RELATIVE_EXPOSURE };
        let why = || self.why();
        let placed = |point: &Drawn, more: Flags| widened(point.value(flags | more, why), self.light_u);
        let range = self.s.minus(&self.t).map(|log| 100.0 * log);
        let speed = if absolute {
            let factor = core::f64::consts::LN_10 * self.light_u;
            let speed = self.m.map(paper_speed);
            widened(speed.value(flags, why), factor * speed.best().unwrap_or_default())
        } else {
            Value::Undefined(words::Tones::PaperExposureRelative.into())
        };
        let steepest =
            Drawn::of(self.white.count(), |draw| self.spline(draw).steepest(STOP_WIDTH).map(|found| found.0));
        PaperFigures {
            d_min: self.white.value(flags, why),
            d_max: self.black.value(flags | self.top(), why),
            t: placed(&self.t, relative),
            m: placed(&self.m, relative),
            s: placed(&self.s, relative | self.top()),
            speed_rounded: speed
                .known()
                .and_then(|speed| speed::iso_rounded(speed.value))
                .map(|(rounded, _)| rounded),
            speed,
            range_rounded: range.best().filter(|_| !self.rising).map(|range| (range / 10.0).round() * 10.0),
            grade: range.best().filter(|_| !self.rising).and_then(|range| grade(range / 100.0)),
            range: range.value(flags | self.top(), why),
            steepest: steepest.value(flags, why),
        }
    }
}

/// Error of the tablet in a draw: to be added to log exposures read off the spline.
fn moved(curve: &Curve, draw: Draw) -> f64 {
    match draw {
        Draw::Best => 0.0,
        Draw::Nth(nth) => curve.resampled[nth].log_h_shift,
    }
}

/// A number with one more independent error of standard uncertainty `u` (JCGM 100:2008, 5.1.2).
fn widened(value: Value, u: f64) -> Value {
    let Value::Known(known) = value else { return value };
    let more = Measured::normal(0.0, u);
    Value::Known(known.minus(&more))
}

/// The figures of a paper's curve by ISO 6846. `light_u` is the standard uncertainty of the light in lg of lux seconds.
#[must_use]
pub fn paper_figures(curve: &Curve, light_u: f64) -> PaperFigures {
    Paper::new(curve, light_u, curve.resampled.len()).figures()
}
