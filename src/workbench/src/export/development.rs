//! Development as plain text and as JSON, for the verb.

use std::fmt::Write;

use serde_json::{Value as Json, json};
use twinwedge_core::compare::{DARKROOM_CAUTION, format};
use twinwedge_core::development::family::{self, Development, RollPoint};
use twinwedge_core::development::temperature::CoefficientBasis;
use twinwedge_core::development::{Basis, LawFound, TimeAt};
use twinwedge_core::document::{CompareAs, FilmId};
use twinwedge_core::measured::{Flags, Value};
use twinwedge_core::problem::Problem;

use super::written::{DENSITY, GRADIENT, LOG_H, failed, measured_json, missing, value_json};
use crate::engine::ask::{DevelopmentOf, PredictedOf};
use crate::session::Session;

/// A value with its unit and 'assumed' where it is; else a dash and the reason.
pub(super) fn said(value: &Value, decimals: usize, unit: &str) -> String {
    match value {
        Value::Known(measured) => {
            let text = format::with_unit(&format::measured(measured, decimals), unit);
            if measured.flags.contains(Flags::ASSUMED) { format!("{text}, assumed") } else { text }
        }
        Value::Undefined(reason) => format!("– {reason}"),
    }
}

/// Where the law comes from, in words.
pub(super) fn basis(found: &LawFound) -> String {
    match found.basis {
        Basis::Fitted => format!("fitted to {} rolls", found.rolls),
        Basis::Exact => format!("through {} rolls, none to spare", found.rolls),
        Basis::Assumed => "assumed from one roll".to_owned(),
    }
}

/// Where the temperature coefficient comes from, in words.
pub(super) fn coefficient(development: &Development) -> String {
    let basis = match development.coefficient_basis {
        CoefficientBasis::Fitted => "measured on these rolls",
        CoefficientBasis::Typed => "as typed",
        CoefficientBasis::Assumed => "assumed",
    };
    format!("{} times faster per 10 °C, {basis}", format::measured(&development.coefficient, 1))
}

/// A time with what limits it.
pub(super) fn time(at: &TimeAt) -> String {
    let limits: String = at.limits.iter().map(|limit| format!("; {limit}")).collect();
    format!("{}{limits}", said(&at.minutes, 1, "min"))
}

/// A film's development in plain words, cautions included.
///
/// # Errors
/// The series has no such film.
pub fn development_text(session: &Session, film: &FilmId) -> Result<String, Problem> {
    let development = session.wait(&DevelopmentOf { film: film.clone() })?;
    let mut out = String::new();
    let name = family::name(development.follow);
    let _ = writeln!(out, "{}: {name} over development time", development.label);
    let _ = writeln!(out, "  {DARKROOM_CAUTION}");
    let _ = writeln!(out, "wanted: {} ({})", said(&development.wanted, 2, ""), development.wanted_from);
    let celsius = format::number(development.celsius, 1);
    let _ = writeln!(out, "time at {celsius} °C: {}", time(&development.time));
    match &development.law {
        Ok(found) => {
            let _ = writeln!(
                out,
                "law, {}: limit {}; rate {}",
                basis(found),
                said(&found.limit, 2, ""),
                said(&Value::Known(found.rate), 3, "/min")
            );
        }
        Err(reason) => {
            let _ = writeln!(out, "law: {reason}");
        }
    }
    let _ = writeln!(out, "temperature: {}", coefficient(&development));
    for at in &development.table {
        let _ = writeln!(out, "  {} °C: {}", format::number(at.celsius, 0), time(at));
    }
    out.push_str("rolls:\n");
    for roll in &development.rolls {
        let minutes =
            roll.minutes.map_or("–".to_owned(), |minutes| format!("{} min", format::number(minutes, 2)));
        let gradient = said(&roll.gradient, 2, "");
        let left = roll.left_out.as_ref().map(|reason| format!("; left out: {reason}")).unwrap_or_default();
        let _ = writeln!(out, "  {}, {minutes}: {gradient}{left}", roll.label);
    }
    for note in &development.notes {
        let _ = writeln!(out, "note: {note}");
    }
    if session.series().reference.as_ref() != Some(film) {
        match session.wait(&PredictedOf { film: film.clone() }) {
            Ok(curve) => {
                let sentence = curve.prediction.as_ref().map(|prediction| prediction.sentence.as_str());
                let _ = writeln!(out, "prediction: {}", sentence.unwrap_or_default());
            }
            Err(problem) => {
                let _ = writeln!(out, "prediction: {problem}");
            }
        }
    }
    Ok(out)
}

/// A film's development as JSON; an undefined figure is null with its reason.
///
/// # Errors
/// The series has no such film.
pub fn development_json(session: &Session, film: &FilmId) -> Result<Json, Problem> {
    let development = session.wait(&DevelopmentOf { film: film.clone() })?;
    let law = match &development.law {
        Ok(found) => json!({
            "basis": basis(found),
            "roll_count": found.rolls,
            "limit_gradient": value_json(&found.limit, GRADIENT),
            "rate": measured_json(&found.rate, "1/min"),
            "induction": measured_json(&found.induction, "min"),
            "chi_square": found.fit.as_ref().map(|fit| fit.chi_square),
            "degrees_of_freedom": found.fit.as_ref().map(|fit| fit.freedom),
            "error_scale": found.fit.as_ref().map(|fit| fit.error_scale),
            "covariance": found.fit.as_ref().and_then(|fit| fit.covariance.clone()),
        }),
        Err(reason) => missing(&reason.to_string()),
    };
    let predicted = if session.series().reference.as_ref() == Some(film) {
        missing("It is the reference.")
    } else {
        match session.wait(&PredictedOf { film: film.clone() }) {
            Ok(curve) => json!({
                "sentence": curve.prediction.as_ref().map(|prediction| &prediction.sentence),
                "flags": curve.curve.readings.flags.words(),
            }),
            Err(problem) => failed(&problem),
        }
    };
    Ok(json!({
        "film": development.label,
        "follow": family::name(development.follow),
        "compare_as": match session.series().development.compare_as {
            CompareAs::AsDeveloped => "as developed",
            CompareAs::MatchedContrast => "at the reference's contrast, predicted",
        },
        "caution": DARKROOM_CAUTION,
        "wanted": value_json(&development.wanted, GRADIENT),
        "wanted_from": development.wanted_from,
        "time": time_json(&development.time),
        "law": law,
        "temperature_coefficient": measured_json(&development.coefficient, "times per 10 °C"),
        "temperature_basis": coefficient(&development),
        "times": development.table.iter().map(time_json).collect::<Vec<Json>>(),
        "rolls": development.rolls.iter().map(roll_json).collect::<Vec<Json>>(),
        "notes": development.notes,
        "prediction": predicted,
    }))
}

fn time_json(at: &TimeAt) -> Json {
    json!({ "celsius": at.celsius, "minutes": value_json(&at.minutes, "min"), "limited_by": at.limits })
}

fn roll_json(roll: &RollPoint) -> Json {
    json!({
        "film": roll.label,
        "developed_minutes": roll.minutes,
        "celsius": roll.celsius,
        "gradient": value_json(&roll.gradient, GRADIENT),
        "speed_point": value_json(&roll.speed_point, LOG_H),
        "base_fog": value_json(&roll.base_fog, DENSITY),
        "left_out_because": roll.left_out,
    })
}
