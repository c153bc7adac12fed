//! From the rolls of a family to the law, its band, and times for the wanted gradient; with one roll, by assumption.
//!
//! Intervals come from draws: each roll's gradient with a fresh error, the law fitted again, the wanted gradient with an error
//! of its own, and a temperature coefficient where that is only assumed.

use serde::Serialize;

use super::family::{Draws, Wanted};
use super::kinetics::{self, Fit, Law, Model, Point};
use super::temperature::{self, CoefficientBasis, USUAL_COEFFICIENT, USUAL_RANGE};
use crate::document::{DevelopmentChoices, Induction};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::random::Stream;
use crate::numeric::{math, robust};
use crate::words::{self, Sentence};

/// What the law rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Basis {
    /// A fit to rolls, with rolls to spare.
    Fitted,
    /// As many rolls as numbers: the law goes through them, and nothing tells how well it fits.
    Exact,
    /// One roll: the law's shape is assumed.
    Assumed,
}

/// The law that was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LawFound {
    /// What it rests on.
    pub basis: Basis,
    /// How many rolls it was made from.
    pub rolls: usize,
    /// The law as it was fitted or assumed.
    pub law: Law,
    /// The gradient that longest development comes near to.
    pub limit: Value,
    /// Rate per minute at the law's temperature.
    pub rate: Measured,
    /// Minutes before development shows.
    pub induction: Measured,
    /// The fit with its covariance; `None` where the law was assumed.
    pub fit: Option<Fit>,
}

/// The law over time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Band {
    /// Development time in minutes.
    pub minutes: f64,
    /// The gradient at that time.
    pub gradient: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
    /// Within the tested times.
    pub tested: bool,
}

/// The time for the wanted gradient at one temperature.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimeAt {
    /// Temperature of the developer in degrees Celsius.
    pub celsius: f64,
    /// Development time in minutes for the wanted gradient.
    pub minutes: Value,
    /// What limits it: outside the tested times, outside the usual temperatures; empty where nothing does.
    pub limits: Vec<Sentence>,
}

/// A roll that is used, with the draws of its gradient where it has any.
#[derive(Debug, Clone)]
pub(super) struct Tested {
    pub(super) point: Point,
    pub(super) draws: Option<Vec<f64>>,
}

impl Tested {
    /// Its gradient as it might have been in draw `number`: by its draws about their middle, else with a normal error;
    /// departures from the value multiplied by `scale`.
    fn drawn(&self, number: u32, middle: f64, scale: f64, stream: &mut Stream) -> f64 {
        let own = self.draws.as_ref().and_then(|draws| draws.get(number as usize)).map(|draw| draw - middle);
        let error = own.filter(|error| error.is_finite()).unwrap_or_else(|| self.point.u * stream.normal());
        (self.point.gradient + scale * error).max(1e-3)
    }

    /// The middle of its draws.
    fn middle(&self) -> f64 {
        let known = self.draws.iter().flatten().copied().filter(|draw| draw.is_finite());
        robust::median(&known.collect::<Vec<f64>>()).unwrap_or(self.point.gradient)
    }
}

/// What is advised, before it joins the family.
#[derive(Debug, Clone)]
pub(super) struct Advised {
    pub(super) law: Result<LawFound, Sentence>,
    pub(super) band: Vec<Band>,
    pub(super) time: TimeAt,
    pub(super) coefficient: Measured,
    pub(super) coefficient_basis: CoefficientBasis,
    pub(super) table: Vec<TimeAt>,
    pub(super) notes: Vec<Sentence>,
}

/// How far the law is followed beyond the tested times, as shares of the shortest and longest.
const BEYOND: (f64, f64) = (0.5, 1.5);
/// The same from one roll, whose law is assumed.
const BEYOND_ONE: (f64, f64) = (0.6, 1.7);
/// Rate times time of a roll at its recommended time, as assumed for one roll: between these, evenly on a logarithmic scale.
/// Common practice, no source: it means that ten per cent more time gives three to eight per cent more gradient.
const ASSUMED_PROGRESS: (f64, f64) = (0.5, 2.0);
/// Share of draws in which a time must exist.
const SETTLED: f64 = 0.9;
/// Spread of the limit's draws, relative to it, from which it is called poorly determined.
const POOR: f64 = 0.2;

/// Law, band, times and what must be said of them.
pub(super) fn advise(
    tested: &[Tested],
    celsius: f64,
    wanted: &Wanted,
    choices: &DevelopmentChoices,
    draws: Draws,
) -> Advised {
    let mut notes = Vec::new();
    let points: &[Point] = &tested.iter().map(|tested| tested.point).collect::<Vec<_>>();
    let coefficient = Coefficient::of(points, choices, &mut notes);
    let model = Model {
        induction: induction(points, choices, coefficient.basis, &mut notes),
        coefficient: (coefficient.basis != CoefficientBasis::Fitted).then_some(coefficient.value.value),
        reference_c: celsius,
    };
    let drawn = match tested {
        [] => Err(words::Rolls::NoneComplete.into()),
        [only] => Ok(assumed(only, model, &coefficient, draws, &mut notes)),
        _ => fitted(tested, points, model, &coefficient, draws, &mut notes),
    };
    let drawn_ref = drawn.as_ref().map_err(Clone::clone);
    let times = Times { points, wanted, drawn: drawn_ref, coefficient: coefficient.basis, draws };
    // Without a law there is nothing to correct.
    let degrees: &[i32] = if drawn.is_ok() { &[18, 19, 20, 21, 22, 23, 24] } else { &[] };
    let table = degrees.iter().map(|degrees| times.at(f64::from(*degrees), celsius)).collect();
    let time = times.at(celsius, celsius);
    let coefficient = drawn.as_ref().map_or(coefficient.clone(), |drawn| drawn.coefficient(&coefficient));
    if coefficient.basis == CoefficientBasis::Assumed && drawn.is_ok() {
        let (low, high) = USUAL_COEFFICIENT;
        notes.push(words::Rolls::TemperatureAssumed { low, high }.into());
    }
    Advised {
        band: drawn.as_ref().map(|drawn| band(drawn, points, celsius)).unwrap_or_default(),
        law: drawn.map(|drawn| drawn.found),
        time,
        table,
        coefficient: coefficient.value,
        coefficient_basis: coefficient.basis,
        notes,
    }
}

/// A temperature coefficient and where it comes from.
#[derive(Debug, Clone)]
struct Coefficient {
    value: Measured,
    basis: CoefficientBasis,
}

impl Coefficient {
    fn of(points: &[Point], choices: &DevelopmentChoices, notes: &mut Vec<Sentence>) -> Self {
        let several = several_temperatures(points);
        if several && points.len() >= 3 {
            return Self { value: Measured::normal(2.5, 0.0), basis: CoefficientBasis::Fitted };
        }
        if several {
            notes.push(words::Rolls::TooFewForTemperature.into());
        }
        match choices.temperature_coefficient {
            Some(typed) if typed >= 1.0 => {
                Self { value: Measured::normal(typed, 0.0), basis: CoefficientBasis::Typed }
            }
            _ => Self { value: temperature::assumed_coefficient(), basis: CoefficientBasis::Assumed },
        }
    }

    /// As it might be.
    fn drawn(&self, uniform: f64) -> f64 {
        match self.basis {
            CoefficientBasis::Assumed => {
                USUAL_COEFFICIENT.0 + uniform * (USUAL_COEFFICIENT.1 - USUAL_COEFFICIENT.0)
            }
            CoefficientBasis::Fitted | CoefficientBasis::Typed => self.value.value,
        }
    }
}

fn several_temperatures(points: &[Point]) -> bool {
    points.iter().any(|point| (point.celsius - points[0].celsius).abs() > 0.05)
}

/// The time before development shows: known, or `None` to be fitted.
fn induction(
    points: &[Point],
    choices: &DevelopmentChoices,
    coefficient: CoefficientBasis,
    notes: &mut Vec<Sentence>,
) -> Option<f64> {
    let needed = 4 + usize::from(coefficient == CoefficientBasis::Fitted);
    match choices.induction {
        Induction::None => Some(0.0),
        Induction::Minutes(minutes) => Some(minutes.max(0.0)),
        Induction::Fitted if points.len() >= needed => None,
        Induction::Fitted => {
            notes.push(words::Rolls::TooFewForInduction { needed }.into());
            Some(0.0)
        }
    }
}

/// A law and what it might as well have been.
#[derive(Debug)]
struct Drawn {
    found: LawFound,
    laws: Vec<Law>,
    flags: Flags,
}

impl Drawn {
    /// The coefficient as fitted, or as it was given.
    fn coefficient(&self, given: &Coefficient) -> Coefficient {
        if given.basis != CoefficientBasis::Fitted {
            return given.clone();
        }
        let draws: Vec<f64> = self.laws.iter().map(|law| law.coefficient).collect();
        let value = spread(self.found.law.coefficient, &draws).flagged(self.flags);
        Coefficient { value, basis: CoefficientBasis::Fitted }
    }
}

/// A value with standard deviation and 95 % interval of its draws.
fn spread(value: f64, draws: &[f64]) -> Measured {
    let sorted = robust::sorted(draws);
    let quantile = |p| robust::quantile_of_sorted(&sorted, p).unwrap_or(value);
    let u = robust::standard_deviation(draws).unwrap_or(0.0);
    Measured::with_interval(value, u, quantile(0.025).min(value), quantile(0.975).max(value))
}

fn fitted(
    tested: &[Tested],
    points: &[Point],
    model: Model,
    coefficient: &Coefficient,
    draws: Draws,
    notes: &mut Vec<Sentence>,
) -> Result<Drawn, Sentence> {
    let fit = kinetics::fit(points, model)?;
    let middles: Vec<f64> = tested.iter().map(Tested::middle).collect();
    let draw = |number: u32| {
        let mut stream = Stream::new(draws.seed ^ 0xde7e_109e, u64::from(number));
        let model =
            Model { coefficient: model.coefficient.map(|_| coefficient.drawn(stream.uniform())), ..model };
        let drawn = |(tested, middle): (&Tested, &f64)| Point {
            gradient: tested.drawn(number, *middle, fit.error_scale, &mut stream),
            ..tested.point
        };
        let moved: Vec<Point> = tested.iter().zip(&middles).map(drawn).collect();
        kinetics::refit(&moved, model, fit.law)
    };
    let laws: Vec<Law> = (0..draws.count.max(50)).map(draw).collect();
    let basis = if fit.freedom > 0 { Basis::Fitted } else { Basis::Exact };
    let mut flags = Flags::PREDICTED;
    flags.set(Flags::ASSUMED, several_temperatures(points) && coefficient.basis == CoefficientBasis::Assumed);
    let found = describe(basis, points.len(), fit.law, Some(fit.clone()), &laws, flags);
    notes.extend(about_fit(&fit, &found, points));
    Ok(Drawn { found, laws, flags })
}

/// The law of one roll: through its gradient, with a rate that is assumed.
fn assumed(
    tested: &Tested,
    model: Model,
    coefficient: &Coefficient,
    draws: Draws,
    notes: &mut Vec<Sentence>,
) -> Drawn {
    let (point, middle_draw) = (tested.point, tested.middle());
    let induction = model.induction.unwrap_or(0.0);
    let law = |progress: f64, gradient: f64, coefficient: f64| {
        let mut law = Law { initial: 1.0, rate: 0.0, induction, coefficient, reference_c: model.reference_c };
        let effective = law.speed_up(point.celsius) * (point.minutes - induction).max(0.1);
        law.rate = progress / effective;
        law.initial = gradient / law.gradient(point.minutes, point.celsius).max(1e-9);
        law
    };
    let (low, high) = ASSUMED_PROGRESS;
    let middle = (low * high).sqrt();
    let draw = |number: u32| {
        let mut stream = Stream::new(draws.seed ^ 0xde7e_109e, u64::from(number));
        let progress = low * math::pow(high / low, stream.uniform());
        let coefficient = coefficient.drawn(stream.uniform());
        law(progress, tested.drawn(number, middle_draw, 1.0, &mut stream), coefficient)
    };
    let laws: Vec<Law> = (0..draws.count.max(50)).map(draw).collect();
    let flags = Flags::PREDICTED | Flags::ASSUMED;
    let best = law(middle, point.gradient, coefficient.value.value);
    let (shorter, longer) = (half_minutes(0.7 * point.minutes), half_minutes(1.4 * point.minutes));
    notes.push(words::Rolls::OneRoll { shorter, longer }.into());
    Drawn { found: describe(Basis::Assumed, 1, best, None, &laws, flags), laws, flags }
}

/// Minutes to develop by: whole and half ones.
fn half_minutes(minutes: f64) -> f64 {
    (2.0 * minutes).round().max(1.0) / 2.0
}

fn describe(basis: Basis, rolls: usize, law: Law, fit: Option<Fit>, laws: &[Law], flags: Flags) -> LawFound {
    let of = |number: fn(&Law) -> f64| laws.iter().map(number).collect::<Vec<f64>>();
    let limits = of(Law::limit);
    let endless = limits.iter().filter(|limit| !limit.is_finite()).count();
    let limit = if law.limit().is_finite() && endless * 40 <= limits.len() {
        let finite: Vec<f64> = limits.into_iter().filter(|limit| limit.is_finite()).collect();
        Value::Known(spread(law.limit(), &finite).flagged(flags))
    } else {
        Value::Undefined(words::Rolls::NoLimit.into())
    };
    LawFound {
        basis,
        rolls,
        limit,
        rate: spread(law.rate, &of(|law| law.rate)).flagged(flags),
        induction: spread(law.induction, &of(|law| law.induction)).flagged(flags),
        law,
        fit,
    }
}

fn about_fit(fit: &Fit, found: &LawFound, points: &[Point]) -> Vec<Sentence> {
    let mut notes = Vec::new();
    let longest = points.iter().map(|point| point.minutes).fold(0.0, f64::max);
    if fit.freedom == 0 {
        notes.push(words::Rolls::ExactlyEnough { rolls: points.len() }.into());
    }
    let poor = match &found.limit {
        Value::Known(limit) => limit.u > POOR * limit.value,
        Value::Undefined(_) => true,
    };
    if poor {
        notes.push(words::Rolls::PoorLimit { minutes: half_minutes(1.6 * longest) }.into());
    }
    if fit.error_scale > 1.0 {
        notes.push(
            words::Rolls::DepartFromLaw {
                chi_square: fit.chi_square,
                freedom: fit.freedom,
                times: fit.error_scale,
            }
            .into(),
        );
    }
    notes
}

fn band(drawn: &Drawn, points: &[Point], celsius: f64) -> Vec<Band> {
    const PLACES: u32 = 60;
    let law = &drawn.found.law;
    let (shortest, longest) = tested(points, law, celsius);
    let (below, above) = if points.len() == 1 { BEYOND_ONE } else { BEYOND };
    let (from, to) = (below * shortest, above * longest);
    let at = |i: u32| {
        let minutes = from + (to - from) * f64::from(i) / f64::from(PLACES);
        let gradient = law.gradient(minutes, celsius);
        let draws: Vec<f64> = drawn.laws.iter().map(|law| law.gradient(minutes, celsius)).collect();
        let around = spread(gradient, &draws);
        let tested = (shortest - 1e-9..=longest + 1e-9).contains(&minutes);
        Band { minutes, gradient, low: around.low, high: around.high, tested }
    };
    (0..=PLACES).map(at).collect()
}

/// Shortest and longest tested time, as if all had been at `celsius`.
fn tested(points: &[Point], law: &Law, celsius: f64) -> (f64, f64) {
    let alike = points.iter().map(|point| {
        let effective = law.speed_up(point.celsius) * (point.minutes - law.induction).max(0.0);
        law.induction + effective / law.speed_up(celsius)
    });
    alike.fold((f64::INFINITY, 0.0), |(low, high), minutes| (low.min(minutes), high.max(minutes)))
}

/// What times are made from.
struct Times<'a> {
    points: &'a [Point],
    wanted: &'a Wanted,
    drawn: Result<&'a Drawn, Sentence>,
    coefficient: CoefficientBasis,
    draws: Draws,
}

impl Times<'_> {
    /// The time for the wanted gradient at `celsius`; `own_c` is the temperature that needs no correction.
    fn at(&self, celsius: f64, own_c: f64) -> TimeAt {
        let mut limits = Vec::new();
        let minutes = match self.minutes(celsius, own_c, &mut limits) {
            Ok(measured) => Value::Known(measured),
            Err(reason) => Value::Undefined(reason),
        };
        if !(USUAL_RANGE.0..=USUAL_RANGE.1).contains(&celsius) {
            limits.push(words::Rolls::OutsideTemperatures.into());
        }
        TimeAt { celsius, minutes, limits }
    }

    fn minutes(&self, celsius: f64, own_c: f64, limits: &mut Vec<Sentence>) -> Result<Measured, Sentence> {
        let drawn = self.drawn.clone()?;
        let wanted = match &self.wanted.gradient {
            Value::Known(wanted) => wanted,
            Value::Undefined(reason) => {
                return Err(words::Rolls::WantedUnknown { reason: reason.clone() }.into());
            }
        };
        let law = &drawn.found.law;
        let minutes = law
            .minutes(wanted.value, celsius)
            .ok_or_else(|| words::Rolls::BeyondLimit { wanted: wanted.value, limit: law.limit() })?;
        self.mark(minutes, celsius, drawn, limits)?;
        let numbered = (0_u32..).zip(&drawn.laws);
        let found: Vec<f64> = numbered
            .filter_map(|(number, law)| {
                let mut stream = Stream::new(self.draws.seed ^ 0x3a17_ed00, u64::from(number));
                let own = self.wanted.draws.as_ref().and_then(|draws| draws.get(number as usize)).copied();
                let drawn = own.filter(|draw| draw.is_finite());
                law.minutes(drawn.unwrap_or_else(|| wanted.value + wanted.u * stream.normal()), celsius)
            })
            .collect();
        let share = found.len() as f64 / drawn.laws.len() as f64;
        if share < SETTLED {
            let percent = 100.0 * (1.0 - share);
            return Err(words::Rolls::WantedUnsettled { percent }.into());
        }
        let mut flags = drawn.flags | wanted.flags;
        let corrected = (celsius - own_c).abs() > 0.05;
        if corrected && self.coefficient == CoefficientBasis::Assumed {
            flags |= Flags::ASSUMED;
        }
        Ok(spread(minutes, &found).flagged(flags))
    }

    /// Marks a time outside the tested ones, and refuses one far outside.
    fn mark(
        &self,
        minutes: f64,
        celsius: f64,
        drawn: &Drawn,
        limits: &mut Vec<Sentence>,
    ) -> Result<(), Sentence> {
        let (shortest, longest) = tested(self.points, &drawn.found.law, celsius);
        let one = self.points.len() == 1;
        let (below, above) = if one { BEYOND_ONE } else { BEYOND };
        if minutes < below * shortest || minutes > above * longest {
            let shortest = (!one).then_some(shortest);
            return Err(words::Rolls::TimeTooFar { shortest, longest }.into());
        }
        if !one && !(shortest - 1e-9..=longest + 1e-9).contains(&minutes) {
            limits.push(words::Rolls::OutsideTimes { shortest, longest }.into());
        }
        if one && (minutes - longest).abs() > 0.005 * longest {
            limits.push(words::Rolls::AssumedFromOne.into());
        }
        Ok(())
    }
}
