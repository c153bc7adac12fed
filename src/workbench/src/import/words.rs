//! Values as lists and verbs write them.

use twinwedge_core::document::{Exposure, StripLevel, TypedReading};
use twinwedge_core::geometry::Point;

/// Points as `x,y x,y ...`, exactly `wanted` of them.
///
/// # Errors
/// What is wrong, in a sentence.
pub fn parse_points(text: &str, wanted: usize) -> Result<Vec<Point>, String> {
    let point = |pair: &str| {
        let (x, y) = pair.split_once(',')?;
        let (x, y) = (x.trim().parse::<f64>().ok()?, y.trim().parse::<f64>().ok()?);
        (x.is_finite() && y.is_finite()).then_some(Point::new(x, y))
    };
    let points: Option<Vec<Point>> = text.split_whitespace().map(point).collect();
    match points {
        Some(points) if points.len() == wanted => Ok(points),
        Some(points) => Err(format!("'{text}' holds {} points where {wanted} belong.", points.len())),
        None => Err(format!("'{text}' is not a list of points.")),
    }
}

/// A density as lists and verbs write it: `DENSITY`, or `DENSITY U` with its standard uncertainty.
#[must_use]
pub fn parse_reading(text: &str) -> Option<TypedReading> {
    let numbers: Option<Vec<f64>> = text.split_whitespace().map(|word| word.parse().ok()).collect();
    match numbers?.as_slice() {
        [density] if density.is_finite() => {
            Some(TypedReading { density: *density, u: None, set_aside: false })
        }
        [density, u] if density.is_finite() && *u >= 0.0 => {
            Some(TypedReading { density: *density, u: Some(*u), set_aside: false })
        }
        _ => None,
    }
}

/// An exposure as lists and verbs write it: `absolute LGH`, `absolute LGH U`, `less STOPS`, or nothing for `less 0`.
#[must_use]
pub fn parse_exposure(text: &str) -> Option<Exposure> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let number = |text: &str| text.parse::<f64>().ok().filter(|number| number.is_finite());
    match words.as_slice() {
        [] => Some(Exposure::Relative { stops_less: 0.0 }),
        ["less", stops] => number(stops).map(|stops_less| Exposure::Relative { stops_less }),
        ["absolute", log_h] => number(log_h).map(|log_h| Exposure::Absolute { log_h, u: 0.0 }),
        ["absolute", log_h, u] => {
            let u = number(u).filter(|u| *u >= 0.0)?;
            number(log_h).map(|log_h| Exposure::Absolute { log_h, u })
        }
        _ => None,
    }
}

/// The level of a further strip as lists and verbs write it: `less STOPS` or `less STOPS U` than the first strip, or `overlap`
/// or nothing where it is to be found.
///
/// ```
/// # use twinwedge_core::document::StripLevel;
/// # use twinwedge_workbench::import::parse_level;
/// assert_eq!(parse_level("less 3 0.1"), Some(StripLevel::StopsLess { stops: 3.0, u: 0.1 }));
/// assert_eq!(parse_level("overlap"), Some(StripLevel::FromOverlap));
/// ```
#[must_use]
pub fn parse_level(text: &str) -> Option<StripLevel> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let number = |text: &str| text.parse::<f64>().ok().filter(|number| number.is_finite());
    match words.as_slice() {
        [] | ["overlap"] => Some(StripLevel::FromOverlap),
        ["less", stops] => Some(StripLevel::StopsLess { stops: number(stops)?, u: 0.0 }),
        ["less", stops, u] => {
            let u = number(u).filter(|u| *u >= 0.0)?;
            Some(StripLevel::StopsLess { stops: number(stops)?, u })
        }
        _ => None,
    }
}
