//! The form that all JSON of this program has: its head, measured numbers, places and areas, and what is left out.

use serde_json::{Map, Value as Json, json};
use twinwedge_core::figures::{Difference, FigureId, FigureSpec};
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::measured::{Bound, Measured, Value};
use twinwedge_core::problem::Problem;

/// The version of the structure, raised when a reader of an older one would misread it.
pub(super) const VERSION: u32 = 2;

/// The form of the JSON of this program as JSON Schema (draft 2020-12), in version `VERSION`: head, measured numbers, places,
/// boxes, and what could not be had.
pub const SCHEMA: &str = include_str!("schema.json");

/// What `u`, `low` and `high` are, in each head.
const INTERVAL: &str = "u is the standard uncertainty; low and high are the ends of the 95 % interval";

/// Unit of a density.
pub(super) const DENSITY: &str = "D";
/// Unit of a gradient: density gained over one in log exposure.
pub(super) const GRADIENT: &str = "D per log H";
/// Unit of a logarithm of exposure in lux seconds.
pub(super) const LOG_H: &str = "log H";
/// Unit of a quotient of like things.
pub(super) const RATIO: &str = "1";
/// Unit of RMS granularity as it is told: a thousand times the standard deviation of density.
pub(super) const GRANULARITY: &str = "D/1000";
/// Unit of a spatial frequency.
pub(super) const FREQUENCY: &str = "cycles/mm";
/// Unit of a speed or exposure index on the arithmetic scale.
pub(super) const SPEED: &str = "arithmetic speed";
/// Unit of differences of exposure.
pub(super) const STOPS: &str = "stops";

/// The members that each JSON begins with, in their order: what it is, the version of that, what wrote it, what an interval is.
#[must_use]
pub(super) fn head(what: &str) -> [(&'static str, Json); 4] {
    [
        ("format", json!(format!("twinwedge {what}"))),
        ("version", json!(VERSION)),
        ("program", json!(concat!("twinwedge ", env!("CARGO_PKG_VERSION")))),
        ("interval", json!(INTERVAL)),
    ]
}

/// A result as it leaves the program: with its head, and without what was not asked for. `what` is the verb that it answers.
///
/// Of what could not be had the value is null, and `reason` says why. A member that is null without a reason is left out: it does
/// not apply here, or nobody asked for it.
#[must_use]
pub fn document(what: &str, body: Json) -> Json {
    let mut whole: Map<String, Json> =
        head(what).into_iter().map(|(key, value)| (key.to_owned(), value)).collect();
    match body {
        Json::Object(body) => whole.extend(body),
        other => drop(whole.insert("value".to_owned(), other)),
    }
    tidy(Json::Object(whole))
}

/// The same without members that are null and have no reason beside them.
pub(super) fn tidy(value: Json) -> Json {
    match value {
        Json::Object(map) => {
            let told = map.contains_key("reason");
            let kept = map.into_iter().filter(|(key, member)| !member.is_null() || (told && key == "value"));
            Json::Object(kept.map(|(key, member)| (key, tidy(member))).collect())
        }
        Json::Array(items) => Json::Array(items.into_iter().map(tidy).collect()),
        other => other,
    }
}

/// A figure as it was measured, or null with its reason.
pub(super) fn value_json(value: &Value, unit: &str) -> Json {
    match value {
        Value::Known(measured) => measured_json(measured, unit),
        Value::Undefined(reason) => missing(&reason.to_string()),
    }
}

/// What could not be had, and why.
pub(super) fn missing(reason: &str) -> Json {
    // Where tables leave a cell empty, nobody entered what it would be worked out from.
    let reason = if reason.is_empty() { "What it would be worked out from was not entered." } else { reason };
    json!({ "value": null, "reason": reason })
}

/// The same of a whole result.
pub(super) fn failed(problem: &Problem) -> Json {
    missing(&problem.to_string())
}

/// A measured number with its uncertainty, interval, unit and flags; of a bound its limit alone, and its side.
pub(super) fn measured_json(measured: &Measured, unit: &str) -> Json {
    let Measured { value, u, low, high, flags } = *measured;
    if !value.is_finite() {
        return missing("What was measured does not settle it.");
    }
    let mut found = Map::new();
    let mut put = |key: &str, member: Json| drop(found.insert(key.to_owned(), member));
    put("value", json!(value));
    // An interval without an end on one side is known from the other side alone.
    let bound = measured.bound().or(match (low.is_finite(), high.is_finite()) {
        (true, false) => Some(Bound::AtLeast(low)),
        (false, true) => Some(Bound::AtMost(high)),
        _ => None,
    });
    let (low, high) = match bound {
        Some(Bound::AtLeast(limit)) => (Some(limit), None),
        Some(Bound::AtMost(limit)) => (None, Some(limit)),
        None => {
            put("u", json!(u));
            (Some(low), Some(high))
        }
    };
    for (key, end) in [("low", low), ("high", high)] {
        if let Some(end) = end {
            put(key, json!(end));
        }
    }
    put("unit", json!(unit));
    put("flags", json!(flags.words()));
    match bound {
        Some(Bound::AtLeast(limit)) => {
            put("bound", json!("at least"));
            put("limit", json!(limit));
        }
        Some(Bound::AtMost(limit)) => {
            put("bound", json!("at most"));
            put("limit", json!(limit));
        }
        None => {}
    }
    Json::Object(found)
}

/// A place in pixels of a scan: from its upper left corner rightwards and downwards, the middle of the first pixel at 0.5, 0.5.
pub(super) fn point_json(point: &Point) -> Json {
    json!({ "x": point.x, "y": point.y })
}

/// A box in pixels of a scan.
pub(super) fn area_json(area: &Rect) -> Json {
    json!({ "left": area.min.x, "top": area.min.y, "right": area.max.x, "bottom": area.max.y })
}

/// Corners in pixels of a scan, in the order in which options take them.
pub(super) fn corners_json(corners: &[Point]) -> Json {
    corners.iter().map(point_json).collect()
}

/// The unit that a figure is written with: that of its registry, or where tables show none, what it is a number of.
pub(super) fn unit_of(spec: &FigureSpec) -> &'static str {
    match spec.id {
        FigureId::IsoSpeed
        | FigureId::FixedDensitySpeed
        | FigureId::FractionalGradientSpeed
        | FigureId::DeltaXSpeed
        | FigureId::ShadowMatchIndex
        | FigureId::ShadowMatchOther => SPEED,
        FigureId::BaseFog
        | FigureId::IsoContrast
        | FigureId::StraightDeparture
        | FigureId::DMax
        | FigureId::GranularityDensity => DENSITY,
        FigureId::SpeedPointGradient
        | FigureId::AverageGradient130
        | FigureId::AverageGradient150
        | FigureId::AverageGradient
        | FigureId::ContrastIndex
        | FigureId::Gamma
        | FigureId::MaximumGradient => GRADIENT,
        FigureId::ToeCurvature | FigureId::ShoulderCurvature => "D per (log H)²",
        FigureId::Granularity | FigureId::GranularityNetOne => GRANULARITY,
        FigureId::Mtf50 | FigureId::Mtf10 => FREQUENCY,
        _ => spec.unit,
    }
}

/// The unit of the difference of a figure between two films.
pub(super) fn difference_unit(spec: &FigureSpec) -> &'static str {
    match spec.difference {
        Difference::Subtract => unit_of(spec),
        Difference::Stops | Difference::SpeedStops => STOPS,
        Difference::Percent => "%",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use twinwedge_core::figures;
    use twinwedge_core::measured::Flags;

    #[test]
    fn every_figure_has_a_unit_that_says_something() {
        for spec in figures::registry() {
            assert!(!unit_of(spec).is_empty() && !difference_unit(spec).is_empty(), "{}", spec.key);
        }
    }

    #[test]
    fn null_stays_with_its_reason_alone() {
        let written = document(
            "scan",
            json!({ "a": null, "b": [{ "value": null, "reason": "Why." }], "c": { "d": null, "reason": "Why." } }),
        );
        assert!(written.get("a").is_none());
        assert_eq!(written["b"], json!([{ "value": null, "reason": "Why." }]));
        assert_eq!(written["c"], json!({ "reason": "Why." }));
        let keys: Vec<&String> = written.as_object().expect("an object").keys().take(4).collect();
        assert_eq!(keys, ["format", "version", "program", "interval"]);
    }

    #[test]
    fn a_bound_has_its_limit_and_no_uncertainty() {
        let measured = Measured::<f64>::normal(1.0, 0.1);
        let at_most = measured_json(&measured.flagged(Flags::UPPER_BOUND), DENSITY);
        assert_eq!((&at_most["bound"], &at_most["limit"]), (&json!("at most"), &json!(measured.high)));
        assert!(at_most.get("u").is_none() && at_most.get("low").is_none());
        assert_eq!(measured_json(&Measured { value: f64::NAN, ..measured }, DENSITY)["value"], Json::Null);
    }
}
