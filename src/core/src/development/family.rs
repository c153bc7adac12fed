//! Rolls of one film that were developed for different times, and what is known of each.

use serde::Serialize;

use super::advice::{self, Band, LawFound, TimeAt};
use super::kinetics::Point;
use super::temperature::{CoefficientBasis, USUAL_C};
use crate::document::{DevelopmentChoices, FilmId, FollowedGradient, Process};
use crate::figures::speed::CONTRAST_RANGE;
use crate::figures::{self, FigureId, Figures};
use crate::measured::{Measured, Value};
use crate::words::{self, Sentence};

/// A roll as it enters its family.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Roll {
    /// The film that the roll is.
    pub film: FilmId,
    /// The label as it is shown.
    pub label: String,
    /// How it was developed.
    pub process: Process,
    /// Its figures, or why it has none.
    pub figures: Result<Figures, Sentence>,
    /// What the resamplings say of each of them.
    pub draws: figures::Draws,
}

impl Roll {
    /// The gradient that is followed.
    #[must_use]
    pub fn gradient(&self, follow: FollowedGradient) -> Value {
        match &self.figures {
            Ok(figures) => followed(figures, follow),
            Err(reason) => Value::Undefined(reason.clone()),
        }
    }

    fn figure(&self, id: FigureId) -> Value {
        let missing = || words::Rolls::NotMeasured.into();
        match &self.figures {
            Ok(figures) => figures.get(&id).cloned().unwrap_or_else(|| Value::Undefined(missing())),
            Err(reason) => Value::Undefined(reason.clone()),
        }
    }
}

/// The followed gradient among a film's figures.
#[must_use]
pub fn followed(figures: &Figures, follow: FollowedGradient) -> Value {
    let id = match follow {
        FollowedGradient::Average => FigureId::AverageGradient,
        FollowedGradient::Gamma => FigureId::Gamma,
        FollowedGradient::IsoContrast => FigureId::IsoContrast,
    };
    let value = figures.get(&id).cloned();
    match (value, follow) {
        (Some(Value::Known(gain)), FollowedGradient::IsoContrast) => Value::Known(Measured {
            value: gain.value / CONTRAST_RANGE,
            u: gain.u / CONTRAST_RANGE,
            low: gain.low / CONTRAST_RANGE,
            high: gain.high / CONTRAST_RANGE,
            flags: gain.flags,
        }),
        (Some(value), _) => value,
        (None, _) => Value::Undefined(words::Rolls::NotMeasured.into()),
    }
}

/// Draws of the followed gradient.
#[must_use]
pub fn followed_draws(draws: &figures::Draws, follow: FollowedGradient) -> Option<Vec<f64>> {
    let of = |id| draws.get(id).map(<[f64]>::to_vec);
    match follow {
        FollowedGradient::Average => of(FigureId::AverageGradient),
        FollowedGradient::Gamma => of(FigureId::Gamma),
        FollowedGradient::IsoContrast => {
            Some(of(FigureId::IsoContrast)?.into_iter().map(|gain| gain / CONTRAST_RANGE).collect())
        }
    }
}

/// What the followed gradient is called.
#[must_use]
pub fn name(follow: FollowedGradient) -> &'static str {
    match follow {
        FollowedGradient::Average => "average gradient",
        FollowedGradient::Gamma => "gamma",
        FollowedGradient::IsoContrast => "gradient over 1.30",
    }
}

/// A roll of the family, with what is plotted over time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RollPoint {
    /// The film that the roll is.
    pub film: FilmId,
    /// The label as it is shown.
    pub label: String,
    /// Minutes, if on record.
    pub minutes: Option<f64>,
    /// °C, if on record.
    pub celsius: Option<f64>,
    /// The followed gradient.
    pub gradient: Value,
    /// lg H at 0.10 above base+fog.
    pub speed_point: Value,
    /// Base+fog of the roll: fog grows with development.
    pub base_fog: Value,
    /// Why it is not used; `None` where it is.
    pub left_out: Option<Sentence>,
}

/// Everything that is known and advised about a film's development.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Development {
    /// The film's label.
    pub label: String,
    /// What is followed over time.
    pub follow: FollowedGradient,
    /// The gradient wanted.
    pub wanted: Value,
    /// Where the wanted gradient comes from, in words.
    pub wanted_from: String,
    /// All rolls of the family, by time.
    pub rolls: Vec<RollPoint>,
    /// The law, or why there is none.
    pub law: Result<LawFound, Sentence>,
    /// Temperature that law and band belong to, °C: that of the film asked for.
    pub celsius: f64,
    /// The law over time with its 95 % band.
    pub band: Vec<Band>,
    /// The time for the wanted gradient at `celsius`.
    pub time: TimeAt,
    /// How many times faster development runs per 10 °C.
    pub coefficient: Measured,
    /// Where that comes from.
    pub coefficient_basis: CoefficientBasis,
    /// Times for the wanted gradient at other temperatures.
    pub table: Vec<TimeAt>,
    /// What must be said beside it, in sentences.
    pub notes: Vec<Sentence>,
}

/// What is wanted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Wanted {
    /// The gradient that is wanted.
    pub gradient: Value,
    /// Where it comes from, in words: 'the reference film Tern 160'.
    pub from: String,
    /// Its draws where it was measured: they share their errors of tablet and light with those of the rolls.
    pub draws: Option<Vec<f64>>,
}

/// How often chance is drawn, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Draws {
    /// How many resamplings are drawn.
    pub count: u32,
    /// The number that the resamplings begin with.
    pub seed: u64,
}

/// The development of the film `of`, from all rolls of its family.
///
/// Used are the rolls with the same developer, dilution and agitation as `of`; the others are kept in the list with the
/// reason. Each roll counts by its own uncertainty; what the errors of rolls and reference have in common (tablet, light) is
/// in the draws, and cancels in the time as far as it does in truth.
#[must_use]
pub fn develop(
    rolls: &[Roll],
    of: &FilmId,
    wanted: &Wanted,
    choices: &DevelopmentChoices,
    draws: Draws,
) -> Development {
    let main = rolls.iter().find(|roll| roll.film == *of);
    let process = main.map(|roll| roll.process.clone()).unwrap_or_default();
    let celsius = process.temperature_c.unwrap_or(USUAL_C);
    let mut points: Vec<RollPoint> = rolls.iter().map(|roll| point(roll, &process, choices.follow)).collect();
    points.sort_by(|a, b| {
        let time = |point: &RollPoint| point.minutes.unwrap_or(f64::INFINITY);
        time(a).total_cmp(&time(b))
    });
    let used: Vec<advice::Tested> = points
        .iter()
        .filter(|point| point.left_out.is_none())
        .filter_map(|point| {
            let gradient = point.gradient.known()?;
            let roll = rolls.iter().find(|roll| roll.film == point.film)?;
            let entered = Point {
                minutes: point.minutes?,
                celsius: point.celsius.unwrap_or(celsius),
                gradient: gradient.value,
                u: gradient.u,
            };
            Some(advice::Tested { point: entered, draws: followed_draws(&roll.draws, choices.follow) })
        })
        .collect();
    let mut notes = notes(&points, choices.follow);
    let advised = advice::advise(&used, celsius, wanted, choices, draws);
    notes.extend(advised.notes);
    Development {
        label: main.map(|roll| roll.label.clone()).unwrap_or_default(),
        follow: choices.follow,
        wanted: wanted.gradient.clone(),
        wanted_from: wanted.from.clone(),
        rolls: points,
        law: advised.law,
        celsius,
        band: advised.band,
        time: advised.time,
        coefficient: advised.coefficient,
        coefficient_basis: advised.coefficient_basis,
        table: advised.table,
        notes,
    }
}

fn point(roll: &Roll, main: &Process, follow: FollowedGradient) -> RollPoint {
    let gradient = roll.gradient(follow);
    let minutes = roll.process.minutes;
    let unlike = differences(main, &roll.process);
    let left_out = if !unlike.is_empty() {
        Some(words::Rolls::Unlike { parts: unlike }.into())
    } else if minutes.is_none_or(|minutes| minutes <= 0.0) {
        Some(words::Rolls::NoTime.into())
    } else if gradient.known().is_none() {
        Some(words::Rolls::GradientUnknown { gradient: name(follow) }.into())
    } else {
        None
    };
    RollPoint {
        film: roll.film.clone(),
        label: roll.label.clone(),
        minutes,
        celsius: roll.process.temperature_c,
        gradient,
        speed_point: roll.figure(FigureId::SpeedPoint),
        base_fog: roll.figure(FigureId::BaseFog),
        left_out,
    }
}

/// Which parts of two processes differ that time and temperature cannot make up for.
#[must_use]
pub fn differences(a: &Process, b: &Process) -> Vec<&'static str> {
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let parts = [
        ("developer", &a.developer, &b.developer),
        ("dilution", &a.dilution, &b.dilution),
        ("agitation", &a.agitation, &b.agitation),
    ];
    let unlike = parts.into_iter().filter(|(_, a, b)| plain(a) != plain(b));
    unlike.map(|(word, ..)| word).collect()
}

fn notes(points: &[RollPoint], follow: FollowedGradient) -> Vec<Sentence> {
    let mut notes = Vec::new();
    for point in points {
        if let Some(reason) = &point.left_out {
            notes.push(words::Rolls::LeftOut { label: point.label.clone(), reason: reason.clone() }.into());
        }
    }
    let used = || points.iter().filter(|point| point.left_out.is_none());
    if used().any(|point| point.celsius.is_none()) && used().count() > 1 {
        notes.push(words::Rolls::NoTemperature.into());
    }
    if follow != FollowedGradient::Gamma {
        notes.push(words::Rolls::FollowsAnother { gradient: name(follow) }.into());
    }
    notes
}
