//! Values as lists and verbs write them. Each says in a sentence what is wrong with a text that is none.

use twinwedge_core::document::ranges::{DENSITY, DENSITY_U, LOG_H, LOG_H_U, PIXEL, STOPS, STOPS_U};
use twinwedge_core::document::{Exposure, StripLevel, TypedReading};
use twinwedge_core::geometry::Point;
use twinwedge_core::shown::Quoted;
use twinwedge_core::words::Sentence;

use crate::words::Typed;

/// Points as `x,y x,y ...`, exactly `wanted` of them.
///
/// # Errors
/// What is wrong, in a sentence.
pub fn parse_points(text: &str, wanted: usize) -> Result<Vec<Point>, Sentence> {
    let none = || Typed::NoPoints { text: Quoted(text).to_string() };
    let point = |pair: &str| {
        let (x, y) = pair.split_once(',').ok_or_else(none)?;
        Ok(Point::new(PIXEL.parse(x)?, PIXEL.parse(y)?))
    };
    let points: Vec<Point> = text.split_whitespace().map(point).collect::<Result<_, Sentence>>()?;
    if points.len() == wanted {
        return Ok(points);
    }
    Err(Typed::Points { text: Quoted(text).to_string(), points: points.len(), wanted }.into())
}

/// A density as lists and verbs write it: `DENSITY`, or `DENSITY U` with its standard uncertainty.
///
/// # Errors
/// What is wrong, in a sentence.
pub fn parse_reading(text: &str) -> Result<TypedReading, Sentence> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let (density, u) = match *words.as_slice() {
        [density] => (density, None),
        [density, u] => (density, Some(DENSITY_U.parse(u)?)),
        _ => return Err(Typed::NoDensity { text: Quoted(text).to_string() }.into()),
    };
    Ok(TypedReading { u, ..TypedReading::new(DENSITY.parse(density)?) })
}

/// An exposure as lists and verbs write it: `absolute LGH`, `absolute LGH U`, `less STOPS`, or nothing for `less 0`.
///
/// # Errors
/// What is wrong, in a sentence.
pub fn parse_exposure(text: &str) -> Result<Exposure, Sentence> {
    let words: Vec<&str> = text.split_whitespace().collect();
    Ok(match *words.as_slice() {
        [] => Exposure::Relative { stops_less: 0.0 },
        ["less", stops] => Exposure::Relative { stops_less: STOPS.parse(stops)? },
        ["absolute", log_h] => Exposure::Absolute { log_h: LOG_H.parse(log_h)?, u: 0.0 },
        ["absolute", log_h, u] => Exposure::Absolute { log_h: LOG_H.parse(log_h)?, u: LOG_H_U.parse(u)? },
        _ => return Err(Typed::NoExposure { text: Quoted(text).to_string() }.into()),
    })
}

/// The level of an additional strip as lists and verbs write it: `less STOPS` or `less STOPS U` than the first strip, or `overlap`
/// or nothing where it is to be found.
///
/// # Errors
/// What is wrong, in a sentence.
///
/// ```
/// # use twinwedge_core::document::StripLevel;
/// # use twinwedge_workbench::typed::parse_level;
/// assert_eq!(parse_level("less 3 0.1"), Ok(StripLevel::StopsLess { stops: 3.0, u: 0.1 }));
/// assert_eq!(parse_level("overlap"), Ok(StripLevel::FromOverlap));
/// ```
pub fn parse_level(text: &str) -> Result<StripLevel, Sentence> {
    let words: Vec<&str> = text.split_whitespace().collect();
    Ok(match *words.as_slice() {
        [] | ["overlap"] => StripLevel::FromOverlap,
        ["less", stops] => StripLevel::StopsLess { stops: STOPS.parse(stops)?, u: 0.0 },
        ["less", stops, u] => StripLevel::StopsLess { stops: STOPS.parse(stops)?, u: STOPS_U.parse(u)? },
        _ => return Err(Typed::NoLevel { text: Quoted(text).to_string() }.into()),
    })
}
