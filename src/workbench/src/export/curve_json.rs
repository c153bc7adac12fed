//! What a curve was made of and how well it holds, for other programs.

use serde_json::{Value as Json, json};
use twinwedge_core::curve::{Curve, Goodness, LevelFound, ModelFit, Outlier, Reading, Standing};
use twinwedge_core::document::Film;
use twinwedge_core::measured::Measured;
use twinwedge_core::units::STOP;

use super::written::{DENSITY, failed, measured_json, tidy};
use crate::engine::ask::FilmCurve;
use crate::session::Session;

/// A film's curve: its readings, the levels of its strips, what is in doubt, and both models with how well they hold.
///
/// ```json
/// { "readings": [ { "strip", "step", "log_h", "log_h_u", "density": {}, "set_aside", "residual" } ],
///   "strips": [ { "strip", "density_kind" } ],
///   "levels": [ { "strip", "stops_less", "u", "stated": { "stops_less", "u" }, "by_overlap": { … }, "contradicted" } ],
///   "outliers": [ { "strip", "step", "departure", "departure_in_sigmas", "set_aside", "standing", "other": { "strip", "step" } } ],
///   "error_scale",
///   "spline": { "chi_square", "degrees_of_freedom", "p", "rms", "contradicted" },
///   "parametric": { "chi_square", … , "lacks", "parameters": [ { "name", "estimate", "u" } ], "covariance": [ [ ] ] },
///   "speed_point_model_error": { "log_h", "stops" } }
/// ```
///
/// Strips are numbered from 1; which density one is read in stands there where its table says it. Residuals and departures are densities: what was read minus what the curve says. What a part does
/// not have is left out; without a curve all of it is `{ "value": null, "reason" }`.
pub(super) fn curve_json(session: &Session, film: &Film) -> Json {
    match session.wait_compared(&film.id) {
        Ok(curve) => of_curve(&curve, film),
        Err(problem) => failed(&problem),
    }
}

/// A curve at `points` evenly spaced log exposures from its first to its last reading, a row each: its density and, where the
/// curve has one, its local gradient; for other programs to draw and to check.
#[must_use]
pub fn grid_json(curve: &Curve, points: usize) -> Json {
    let (from, to) = curve.range();
    let last = points.max(2) - 1;
    let places: Vec<f64> =
        (0..=last).map(|i| (from + (to - from) * i as f64 / last as f64).min(to)).collect();
    let row = |at: &f64| json!({ "log_h": at, "fitted_density": curve.best.density(*at), "fitted_gradient": curve.best.gradient(*at) });
    tidy(places.iter().map(row).collect())
}

fn of_curve(found: &FilmCurve, film: &Film) -> Json {
    let curve = &found.curve;
    let strips = film.strips.iter().zip(1..).filter_map(|(strip, number)| {
        strip.density.map(|kind| json!({ "strip": number, "density_kind": kind.key() }))
    });
    let error = found.speed_point_model_error();
    json!({
        "readings": readings(curve),
        "strips": strips.collect::<Vec<_>>(),
        "levels": curve.levels.iter().map(level).collect::<Vec<_>>(),
        "outliers": curve.outliers.iter().map(outlier).collect::<Vec<_>>(),
        "error_scale": curve.error_scale,
        "spline": goodness(&curve.goodness),
        "parametric": curve.model.as_ref().map(model),
        "speed_point_model_error": error.map(|error| json!({ "log_h": error, "stops": error / STOP })),
    })
}

fn readings(curve: &Curve) -> Vec<Json> {
    let reading = |(point, residual): (&Reading, &Option<f64>)| {
        json!({
            "strip": point.strip + 1,
            "step": point.step,
            "log_h": point.log_h,
            "log_h_u": point.log_h_u,
            "density": measured_json(
                &Measured::normal(point.density, curve.readings.density(point).u).flagged(point.flags),
                DENSITY,
            ),
            "set_aside": point.set_aside,
            "residual": residual.map(|fitted_less_read| -fitted_less_read),
        })
    };
    curve.readings.points.iter().zip(&curve.residuals).map(reading).collect()
}

fn level(level: &LevelFound) -> Json {
    let pair = |pair: Option<(f64, f64)>| pair.map(|(stops, u)| json!({ "stops_less": stops, "u": u }));
    json!({
        "strip": level.strip + 1,
        "stops_less": level.stops_less,
        "u": level.u,
        "stated": pair(level.stated),
        "by_overlap": pair(level.by_overlap),
        "contradicted": level.contradicted,
    })
}

fn outlier(outlier: &Outlier) -> Json {
    let (standing, other) = match outlier.standing {
        Standing::SetAside => ("contradicted", None),
        Standing::OneOfTwo { other } => ("one of two", Some(other)),
        Standing::Exchanged { other } => ("exchanged", Some(other)),
        Standing::Kept => ("kept", None),
    };
    json!({
        "strip": outlier.strip + 1,
        "step": outlier.step,
        "departure": outlier.departure,
        "departure_in_sigmas": outlier.sigmas,
        "set_aside": outlier.standing != Standing::Kept,
        "standing": standing,
        "other": other.map(|(strip, step)| json!({ "strip": strip + 1, "step": step })),
    })
}

fn goodness(goodness: &Goodness) -> Json {
    json!({
        "chi_square": goodness.chi_square,
        "degrees_of_freedom": goodness.degrees,
        "p": goodness.p,
        "rms": goodness.rms,
        "contradicted": goodness.contradicted(),
    })
}

fn model(model: &ModelFit) -> Json {
    let mut json = goodness(&model.goodness);
    json["lacks"] = json!(model.shape.lacks());
    json["parameters"] = model
        .parameters
        .iter()
        .map(|parameter| json!({ "name": parameter.name, "estimate": parameter.value, "u": parameter.u }))
        .collect();
    json["covariance"] = json!(model.covariance);
    json
}
