//! What is said of all films together, as JSON and as plain text.

use std::fmt::Write;
use std::sync::Arc;

use serde_json::{Value as Json, json};
use twinwedge_core::measured::Value;
use twinwedge_core::problem::Problem;
use twinwedge_core::ranking::{Conclusion, Ranked, Topic};

use super::written::{FREQUENCY, GRANULARITY, STOPS, value_json};
use crate::engine::ask::ConclusionsOf;
use crate::session::Session;

/// Films in order by each topic, with the places that each may have.
///
/// # Errors
/// There is no reference.
pub fn conclusions_json(session: &Session) -> Result<Json, Problem> {
    let each = all(session)?.iter().map(conclusion).collect::<Vec<_>>();
    Ok(json!({ "conclusions": each }))
}

/// The sentences, each with its films in order.
///
/// # Errors
/// There is no reference.
pub fn conclusions_text(session: &Session) -> Result<String, Problem> {
    let mut out = String::new();
    for conclusion in &*all(session)? {
        let _ = writeln!(out, "{}", conclusion.sentence);
        let wide = conclusion.films.iter().map(|film| film.film.chars().count()).max().unwrap_or(0);
        for film in &conclusion.films {
            let _ =
                writeln!(out, "  {:<10}{:<wide$}  {}", film.told_place(), film.film, conclusion.told(film));
        }
        for left in &conclusion.left_out {
            let _ = writeln!(out, "  {:<10}{:<wide$}  {}", "–", left.film, left.why);
        }
        out.push('\n');
    }
    if out.is_empty() {
        out.push_str("No figure is known of two films.\n");
    }
    Ok(out)
}

fn all(session: &Session) -> Result<Arc<Vec<Conclusion>>, Problem> {
    session.wait(&ConclusionsOf)
}

fn conclusion(conclusion: &Conclusion) -> Json {
    let unit = match conclusion.topic {
        Topic::Speed | Topic::Box | Topic::StraightLine => STOPS,
        Topic::Grain => GRANULARITY,
        Topic::Sharpness => FREQUENCY,
        Topic::Price => conclusion.unit.as_str(),
    };
    let film = |film: &Ranked| {
        json!({
            "film": film.film,
            "value": value_json(&Value::Known(film.value), unit),
            "best_place": film.place[0],
            "worst_place": film.place[1],
        })
    };
    json!({
        "topic": conclusion.topic,
        "definition": conclusion.topic.definition(),
        "sentence": conclusion.sentence,
        "code": conclusion.sentence.code(),
        "foremost": conclusion.foremost,
        "films": conclusion.films.iter().map(film).collect::<Vec<_>>(),
        "left_out": conclusion.left_out.iter().map(|left| json!({ "film": left.film, "why": left.why })).collect::<Vec<_>>(),
    })
}
