//! What can be said of all films of a series together, question by question.

use serde::Serialize;

use super::{Entry, Ranks, rank};
use crate::compare::difference::difference;
use crate::compare::{FilmFigures, RollPrice, format};
use crate::figures::{Difference, Draws, FigureId, Figures, spec};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;
use crate::units::STOP;
use crate::words::{self, Sentence};

/// Most films that are named as alike.
const NAMED: usize = 4;

/// What films are put in order by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Topic {
    /// Speed in truth, from the speed points.
    #[default]
    Speed,
    /// How far the speed lies above that on the box, the reference being taken at its own.
    Box,
    /// Granularity at net density 1.0.
    Grain,
    /// The spatial frequency of 50 % modulation.
    Sharpness,
    /// Length of the straight line.
    StraightLine,
    /// Price of a frame.
    Price,
}

impl Topic {
    /// In the order in which they are told.
    pub const ALL: [Self; 6] =
        [Self::Speed, Self::Box, Self::Grain, Self::Sharpness, Self::StraightLine, Self::Price];

    /// What the first of them is.
    #[must_use]
    pub fn superlative(self) -> &'static str {
        match self {
            Self::Speed => "fastest",
            Self::Box => "fastest for its box",
            Self::Grain => "finest in grain",
            Self::Sharpness => "sharpest",
            Self::StraightLine => "one with the longest straight line",
            Self::Price => "cheapest by the frame",
        }
    }

    /// What stands over its column.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Speed => "speed",
            Self::Box => "speed for its box",
            Self::Grain => "granularity",
            Self::Sharpness => "sharpness",
            Self::StraightLine => "straight line",
            Self::Price => "price of a frame",
        }
    }

    /// What its value is.
    #[must_use]
    pub fn definition(self) -> &'static str {
        match self {
            Self::Speed => "Speed against the reference, from the speed points at 0.10 above base+fog.",
            Self::Box => {
                "Speed against that on the box, from the speed points at 0.10 above base+fog; the reference is taken at the speed \
                 on its own box."
            }
            Self::Grain => spec(FigureId::GranularityNetOne).definition,
            Self::Sharpness => spec(FigureId::Mtf50).definition,
            Self::StraightLine => spec(FigureId::StraightLength).definition,
            Self::Price => "Price of a roll over its frames, as they are on record.",
        }
    }

    /// Unit of its value; that of a price is its currency.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Speed | Self::Box | Self::StraightLine => "stops",
            Self::Sharpness => "c/mm",
            Self::Grain | Self::Price => "",
        }
    }

    /// Decimals of its value where its interval does not say.
    fn decimals(self) -> usize {
        match self {
            Self::Speed | Self::Box => 2,
            Self::Grain | Self::Sharpness | Self::StraightLine => 1,
            Self::Price => 3,
        }
    }

    /// Whether a film is known by a bound alone beyond which it may be ahead of all others. A speed point that is at most so far is
    /// a speed of at least so much.
    fn may_lead(self, film: &Standing) -> bool {
        let (id, ahead) = match self {
            Self::Speed | Self::Box => (FigureId::SpeedPoint, Flags::UPPER_BOUND),
            Self::Grain => (FigureId::GranularityNetOne, Flags::UPPER_BOUND),
            Self::Sharpness => (FigureId::Mtf50, Flags::LOWER_BOUND),
            Self::StraightLine => (FigureId::StraightLength, Flags::LOWER_BOUND),
            Self::Price => return false,
        };
        let value = film.figures.get(&id).and_then(Value::known);
        value.is_some_and(|value| value.flags.contains(ahead))
    }

    /// The lowest value is first.
    #[must_use]
    pub fn lowest_first(self) -> bool {
        matches!(self, Self::Grain | Self::Price)
    }
}

/// A film among others.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ranked {
    /// Its number among the films that were given, from 0.
    pub number: usize,
    /// The film's label as it is shown.
    pub film: String,
    /// Its value, as [`Topic::definition`] says.
    pub value: Measured,
    /// The best and the worst place that it may have, from 1: those of all films hold together with 95 % confidence.
    pub place: [usize; 2],
}

/// A film that could not be put among the others.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Left {
    /// The film's label as it is shown.
    pub film: String,
    /// What keeps it from being put among them.
    pub why: Sentence,
}

/// What is said of all films by one topic.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Conclusion {
    /// What the films are put in order by.
    pub topic: Topic,
    /// The sentence: which film is first, or which may be.
    pub sentence: Sentence,
    /// Films in order, the first first.
    pub films: Vec<Ranked>,
    /// Those of them that may be the first: the true first is among them with 95 % confidence.
    pub foremost: Vec<String>,
    /// Unit of the values.
    pub unit: String,
    /// Those that have no such figure, and why.
    pub left_out: Vec<Left>,
}

impl Conclusion {
    /// The value of one of its films in words: with its unit and its uncertainty.
    #[must_use]
    pub fn told(&self, film: &Ranked) -> String {
        let decimals = self.topic.decimals();
        let number = match self.topic {
            Topic::Speed | Topic::Box => format::difference(&film.value, decimals),
            _ => format::measured(&film.value, decimals),
        };
        format::with_unit(&number, &self.unit)
    }
}

impl Ranked {
    /// Its place in words: `2`, or `2 to 5` where it is not known better.
    #[must_use]
    pub fn told_place(&self) -> String {
        match self.place {
            [best, worst] if best == worst => best.to_string(),
            [best, worst] => format!("{best} to {worst}"),
        }
    }
}

/// What of a film is put beside other films.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Standing {
    /// The film's label as it is shown.
    pub label: String,
    /// Speed printed on its box.
    pub box_speed: Option<f64>,
    /// What a roll of it costs.
    pub price: RollPrice,
    /// The figures that films are put in order by.
    pub figures: Figures,
    /// What its resamplings say of them.
    pub draws: Draws,
}

impl Standing {
    /// What of all its figures is needed.
    #[must_use]
    pub fn new(film: &FilmFigures, price: RollPrice) -> Self {
        let mut draws = Draws::default();
        for id in NEEDED {
            film.draws.get(id).into_iter().for_each(|drawn| draws.insert(id, drawn.to_vec()));
        }
        let figures = NEEDED.iter().filter_map(|id| Some((*id, film.figures.get(id)?.clone()))).collect();
        Self { label: film.label.clone(), box_speed: film.box_speed, price, figures, draws }
    }
}

/// The figures that films are put in order by.
const NEEDED: [FigureId; 4] =
    [FigureId::SpeedPoint, FigureId::GranularityNetOne, FigureId::Mtf50, FigureId::StraightLength];

/// A film's value.
struct Drawn {
    /// The value with its interval, as readers see it.
    shown: Measured,
    /// Its own standard uncertainty, without that of a film that it is shown against.
    u: f64,
    /// What its resamplings say of it.
    draws: Option<Vec<f64>>,
}

/// What can be said of the films of a series together, the first being the reference. Topics that fewer than two films have are
/// left out.
#[must_use]
pub fn conclusions(films: &[&Standing]) -> Vec<Conclusion> {
    Topic::ALL.iter().filter_map(|topic| conclusion(*topic, films)).collect()
}

fn conclusion(topic: Topic, films: &[&Standing]) -> Option<Conclusion> {
    let reference = films.first()?;
    let currency = (topic == Topic::Price).then(|| currency(films)).flatten();
    let mut known: Vec<(usize, Drawn)> = Vec::new();
    let mut left_out = Vec::new();
    for (number, film) in films.iter().enumerate() {
        match value(topic, film, reference, currency.as_deref()) {
            Ok(found) => known.push((number, found)),
            Err(why) => left_out.push(Left { film: film.label.clone(), why }),
        }
    }
    if known.len() < 2 {
        return None;
    }
    let sign = if topic.lowest_first() { -1.0 } else { 1.0 };
    let turned: Vec<Option<Vec<f64>>> = known
        .iter()
        .map(|(_, film)| film.draws.as_ref().map(|draws| draws.iter().map(|draw| sign * draw).collect()))
        .collect();
    let entries: Vec<Entry<'_>> = known
        .iter()
        .zip(&turned)
        .map(|((_, film), draws)| Entry {
            value: sign * film.shown.number(),
            u: film.u,
            draws: draws.as_deref(),
        })
        .collect();
    let ranks = rank(&entries);
    let label = |film: &usize| films[known[*film].0].label.clone();
    Some(Conclusion {
        topic,
        sentence: sentence(topic, &ranks, films.iter().filter(|film| topic.may_lead(film)).count(), &label),
        foremost: ranks.foremost.iter().map(label).collect(),
        films: ranks
            .order
            .iter()
            .map(|film| Ranked {
                number: known[*film].0,
                film: label(film),
                value: known[*film].1.shown,
                place: ranks.places[*film],
            })
            .collect(),
        unit: currency.unwrap_or_else(|| topic.unit().to_owned()),
        left_out,
    })
}

/// What is said of the first; `open` films are known by a bound alone, and may be ahead of all others.
fn sentence(topic: Topic, ranks: &Ranks, open: usize, label: &dyn Fn(&usize) -> String) -> Sentence {
    let (what, of) = (topic.superlative(), ranks.order.len());
    if open > 0 {
        let film = ranks.order.first().map_or_else(String::new, label);
        return words::Ranking::Open { what, open, film, of }.into();
    }
    match ranks.foremost.as_slice() {
        [one] => words::Ranking::First { what, film: label(one), of }.into(),
        some if (2..=NAMED).contains(&some.len()) => {
            words::Ranking::Among { what, films: some.iter().map(label).collect(), of }.into()
        }
        many => {
            let film = ranks.order.first().map_or_else(String::new, label);
            words::Ranking::Many { what, count: many.len(), film, of }.into()
        }
    }
}

/// A film's value by a topic.
fn value(
    topic: Topic,
    film: &Standing,
    reference: &Standing,
    currency: Option<&str>,
) -> Result<Drawn, Sentence> {
    match topic {
        Topic::Speed => speed(film, reference),
        Topic::Box => {
            let boxes = [film, reference].map(|film| film.box_speed.filter(|speed| *speed > 0.0));
            let [Some(own), Some(of_reference)] = boxes else { return Err(words::Ranking::NoBox.into()) };
            let less = math::log2(own / of_reference);
            let Drawn { shown, u, draws } = speed(film, reference)?;
            let shown =
                Measured::with_interval(shown.number() - less, shown.u, shown.low - less, shown.high - less);
            Ok(Drawn { shown, u, draws: draws.map(|draws| draws.iter().map(|draw| draw - less).collect()) })
        }
        Topic::Grain => figure(film, FigureId::GranularityNetOne),
        Topic::Sharpness => figure(film, FigureId::Mtf50),
        Topic::StraightLine => figure(film, FigureId::StraightLength),
        Topic::Price => {
            let Some((price, own)) = film.price.of_a_frame() else {
                return Err(words::Ranking::NoPrice.into());
            };
            if Some(own.as_str()) == currency {
                Ok(Drawn { shown: Measured::normal(price, 0.0), u: 0.0, draws: None })
            } else {
                Err(words::Ranking::OtherCurrency.into())
            }
        }
    }
}

/// The currency of most prices.
fn currency(films: &[&Standing]) -> Option<String> {
    let all: Vec<String> =
        films.iter().filter_map(|film| film.price.of_a_frame()).map(|(_, currency)| currency).collect();
    let count = |currency: &String| all.iter().filter(|other| *other == currency).count();
    all.iter().rev().max_by_key(|currency| count(currency)).cloned()
}

/// Stops by which a film is faster than the reference.
fn speed(film: &Standing, reference: &Standing) -> Result<Drawn, Sentence> {
    let (own, theirs) = (figure(film, FigureId::SpeedPoint)?, figure(reference, FigureId::SpeedPoint)?);
    let both = theirs.draws.as_deref().zip(own.draws.as_deref());
    let values = [theirs.shown, own.shown].map(Value::Known);
    let shown = match difference(Difference::SpeedStops, &values[0], &values[1], both) {
        Value::Known(shown) => shown,
        Value::Undefined(why) => return Err(why),
    };
    let stops = |(theirs, own): (&f64, &f64)| (theirs - own) / STOP;
    let draws = both.map(|(theirs, own)| theirs.iter().zip(own).map(stops).collect());
    Ok(Drawn { shown, u: own.u / STOP, draws })
}

/// A figure that is more than a bound.
fn figure(film: &Standing, id: FigureId) -> Result<Drawn, Sentence> {
    match film.figures.get(&id) {
        None => Err(words::Ranking::NoFigure.into()),
        Some(Value::Undefined(why)) => Err(why.clone()),
        Some(Value::Known(found)) if found.flags.contains(Flags::LIGHT_NOT_SAID) => {
            Err(words::Ranking::LightNotSaid.into())
        }
        Some(Value::Known(found)) if found.flags.intersects(Flags::LOWER_BOUND | Flags::UPPER_BOUND) => {
            Err(words::Ranking::OnlyBound.into())
        }
        Some(Value::Known(found)) => {
            Ok(Drawn { shown: *found, u: found.u, draws: film.draws.get(id).map(<[f64]>::to_vec) })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn standing(label: &str, stops: f64, flags: Flags) -> Standing {
        let length = Measured::normal(stops, 0.1).flagged(flags);
        Standing {
            label: label.to_owned(),
            box_speed: None,
            price: RollPrice { price: String::new(), format: String::new() },
            figures: Figures::from([(FigureId::StraightLength, Value::Known(length))]),
            draws: Draws::default(),
        }
    }

    fn said(films: &[Standing]) -> Sentence {
        let found = conclusions(&films.iter().collect::<Vec<_>>());
        found.iter().find(|found| found.topic == Topic::StraightLine).unwrap().sentence.clone()
    }

    /// By definition of a bound: a line of at least five stops may be longer than one of nine, one of at most five may not.
    #[test]
    fn no_film_is_called_the_first_while_another_may_be_ahead() {
        let known = || [standing("Tern", 7.0, Flags::empty()), standing("Knot", 9.0, Flags::empty())];
        assert_eq!(said(&known()).to_string(), "Of 2 films Knot is the one with the longest straight line.");
        let [a, b] = known();
        let open = said(&[a, b, standing("Ruff", 5.0, Flags::LOWER_BOUND)]);
        assert_eq!(open.code(), "Ranking.Open");
        let [a, b] = known();
        let below = said(&[a, b, standing("Ruff", 5.0, Flags::UPPER_BOUND)]);
        assert_eq!(below.code(), "Ranking.First");
    }
}
