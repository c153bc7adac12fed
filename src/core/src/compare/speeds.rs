//! Speeds by every criterion side by side, each with its distance from the box and when it is the right one.

use serde::Serialize;

use super::FilmFigures;
use super::difference::difference;
use crate::document::ShadowDensity;
use crate::figures::speed::{box_distance, iso_printed};
use crate::figures::{Difference, FigureId};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;
use crate::words::{self, Sentence};

/// A way to say how fast a film is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Criterion {
    /// ISO 6:1993, where its contrast condition is met.
    Iso6,
    /// Density 0.10 above base+fog, whatever the contrast.
    FixedDensity,
    /// The point where the gradient is 0.3 of the mean over the next 1.5 in log H.
    FractionalGradient,
    /// The relation between fixed density and fractional gradient.
    DeltaX,
    /// Shadow match by the density above base+fog.
    ShadowMatchNet,
    /// Shadow match by the density as read.
    ShadowMatchGross,
    /// What stands on the box.
    Box,
}

impl Criterion {
    /// The criterion as tables name it.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Iso6 => "ISO 6",
            Self::FixedDensity => "fixed density 0.10",
            Self::FractionalGradient => "fractional gradient",
            Self::DeltaX => "delta-X",
            Self::ShadowMatchNet => "shadow match, net density",
            Self::ShadowMatchGross => "shadow match, gross density",
            Self::Box => "on the box",
        }
    }

    /// When it is the right one, in a sentence.
    #[must_use]
    pub fn when(self) -> &'static str {
        match self {
            Self::Iso6 => {
                "To state a speed: light in lux seconds, and a development that meets the contrast condition."
            }
            Self::FixedDensity => {
                "For films developed alike whose contrast misses the ISO condition; overrates hard and underrates soft \
                 development."
            }
            Self::FractionalGradient => {
                "For the least exposure that still prints well, at any contrast; needs a curve that reaches well into the toe."
            }
            Self::DeltaX => {
                "In place of the fractional gradient where the contrast condition fails and the toe is too noisy to take a \
                 slope from."
            }
            Self::ShadowMatchNet => {
                "For rating films alike in the camera when the print exposure makes up for base+fog, as this kind of test \
                 does."
            }
            Self::ShadowMatchGross => "For rating films alike when all are printed at one exposure.",
            Self::Box => "The maker's claim, by the maker's process: what the others are held against.",
        }
    }

    /// The speed or index.
    fn figure(self, chosen: ShadowDensity) -> Option<FigureId> {
        let matched = |density| {
            if density == chosen { FigureId::ShadowMatchIndex } else { FigureId::ShadowMatchOther }
        };
        match self {
            Self::Iso6 => Some(FigureId::IsoSpeed),
            Self::FixedDensity => Some(FigureId::FixedDensitySpeed),
            Self::FractionalGradient => Some(FigureId::FractionalGradientSpeed),
            Self::DeltaX => Some(FigureId::DeltaXSpeed),
            Self::ShadowMatchNet => Some(matched(ShadowDensity::Net)),
            Self::ShadowMatchGross => Some(matched(ShadowDensity::Gross)),
            Self::Box => None,
        }
    }

    /// The log exposure that the speed follows from: what films are compared by when light is relative.
    fn point(self) -> Option<FigureId> {
        match self {
            Self::FixedDensity => Some(FigureId::SpeedPoint),
            Self::FractionalGradient => Some(FigureId::FractionalGradientPoint),
            Self::DeltaX => Some(FigureId::DeltaXPoint),
            Self::Iso6 | Self::ShadowMatchNet | Self::ShadowMatchGross | Self::Box => None,
        }
    }
}

/// One criterion for both films.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SpeedRow {
    /// The criterion that this row is by.
    pub criterion: Criterion,
    /// Speed or index of reference and candidate.
    pub speeds: [Value; 2],
    /// As it would be printed on a box, where it may be: ISO 6 alone.
    pub printed: [Option<String>; 2],
    /// Candidate against reference, stops.
    pub difference: Value,
    /// Distance of each from the speed on its box, stops. With relative light the reference is taken at its box speed, and
    /// the candidate's distance is flagged as assumed.
    pub from_box: [Value; 2],
}

const CRITERIA: [Criterion; 7] = [
    Criterion::Iso6,
    Criterion::FixedDensity,
    Criterion::FractionalGradient,
    Criterion::DeltaX,
    Criterion::ShadowMatchNet,
    Criterion::ShadowMatchGross,
    Criterion::Box,
];

/// The table of speeds; `chosen` is the density that the series matches shadows by.
pub(super) fn rows(reference: &FilmFigures, candidate: &FilmFigures, chosen: ShadowDensity) -> Vec<SpeedRow> {
    CRITERIA.into_iter().map(|criterion| row(criterion, [reference, candidate], chosen)).collect()
}

fn row(criterion: Criterion, films: [&FilmFigures; 2], chosen: ShadowDensity) -> SpeedRow {
    let Some(id) = criterion.figure(chosen) else { return of_box(films) };
    let value = |film: &FilmFigures, id: FigureId| {
        let missing = || Value::Undefined(words::Pair::NoData.into());
        film.figures.get(&id).cloned().unwrap_or_else(missing)
    };
    let between = |rule: Difference, id: FigureId| {
        let draws = super::draws(id, films[0], films[1]);
        difference(rule, &value(films[0], id), &value(films[1], id), draws)
    };
    let difference = match criterion.point() {
        Some(point) => between(Difference::SpeedStops, point),
        None => between(Difference::Stops, id),
    };
    let speeds = films.map(|film| value(film, id));
    let printed =
        |value: &Value| (criterion == Criterion::Iso6).then(|| iso_printed(value.known()?.value)).flatten();
    let printed = [printed(&speeds[0]), printed(&speeds[1])];
    let from_box = [0, 1].map(|film| from_box(film, criterion, films, &speeds[film], &difference));
    SpeedRow { criterion, speeds, printed, difference, from_box }
}

fn from_box(
    which: usize,
    criterion: Criterion,
    films: [&FilmFigures; 2],
    speed: &Value,
    difference: &Value,
) -> Value {
    if speed.known().is_some() || criterion.point().is_none() {
        return box_distance(Some(speed), None, films[which].box_speed).0;
    }
    // Relative light: the reference at its box speed.
    let boxes = films.map(|film| film.box_speed.filter(|speed| *speed > 0.0));
    match (which, difference, boxes) {
        (0, ..) => Value::Undefined(words::Pair::ReferenceAtBoxSpeed.into()),
        (_, Value::Known(gain), [Some(reference), Some(candidate)]) => {
            let expected = math::log2(candidate / reference);
            Value::Known(
                Measured {
                    value: gain.value - expected,
                    low: gain.low - expected,
                    high: gain.high - expected,
                    ..*gain
                }
                .flagged(Flags::ASSUMED),
            )
        }
        (_, Value::Undefined(reason), _) => Value::Undefined(reason.clone()),
        _ => Value::Undefined(words::Pair::NoBoxSpeeds.into()),
    }
}

fn of_box(films: [&FilmFigures; 2]) -> SpeedRow {
    let speed = |film: &FilmFigures| match film.box_speed.filter(|speed| *speed > 0.0) {
        Some(speed) => Value::Known(Measured::normal(speed, 0.0)),
        None => Value::Undefined(words::Figure::NoBoxSpeed.into()),
    };
    let speeds = films.map(speed);
    let difference = difference(Difference::Stops, &speeds[0], &speeds[1], None);
    let nothing = || Value::Undefined(Sentence::default());
    SpeedRow {
        criterion: Criterion::Box,
        speeds,
        printed: [None, None],
        difference,
        from_box: [nothing(), nothing()],
    }
}
