//! Zones, placed subject and print as JSON and as a plain table.

use std::fmt::Write;
use std::sync::Arc;

use serde_json::{Value as Json, json};
use twinwedge_core::compare::format;
use twinwedge_core::document::FilmId;
use twinwedge_core::measured::Value;
use twinwedge_core::problem::Problem;
use twinwedge_core::tone::{
    FilmTones, PaperFigures, PlacedSubject, PrintedFilm, TONE_SOURCES, Tones, ZoneDifference, ZoneReading,
    zone_name,
};

use super::written::{DENSITY, GRADIENT, LOG_H, RATIO, SPEED, value_json};
use crate::engine::ask::TonesOf;
use crate::session::Session;

/// Zones of a film beside the reference (and the third film of the choices), the subject laid on them, and what prints blank or
/// black. Measured numbers in the form of [`super::figures_json`].
///
/// # Errors
/// No reference, no exposure index, or a film without a curve.
pub fn tones_json(session: &Session, film: &FilmId) -> Result<Json, Problem> {
    let tones = tones(session, film)?;
    let zones = tones.rows.iter().map(|row| {
        json!({
            "zone": row.zone,
            "log_h": row.log_h,
            "films": row.films.iter().map(reading).collect::<Vec<_>>(),
            "against_reference": row.differences.iter().map(difference).collect::<Vec<_>>(),
        })
    });
    Ok(json!({
        "rated_at": tones.exposure_index,
        "metered_log_h": tones.metered_log_h,
        "subject_range": { "log_range": tones.subject.0, "image_log_range": tones.subject.1 },
        "criteria": { "least_net_density": tones.criteria.0, "least_separation": tones.criteria.1 },
        "films": tones.films.iter().map(film_json).collect::<Vec<_>>(),
        "zones": zones.collect::<Vec<_>>(),
        "paper": tones.paper.as_ref().map(paper),
        "print_exposure_of_reference": tones.paper.as_ref().map(|_| tones.print_basis.clone()),
        "wanted_gradient": tones.wanted_gradient,
        "sources": TONE_SOURCES,
    }))
}

fn tones(session: &Session, film: &FilmId) -> Result<Arc<Tones>, Problem> {
    session.wait(&TonesOf { film: film.clone() })
}

fn reading(zone: &ZoneReading) -> Json {
    json!({
        "exposure_reach": zone.reach,
        "density": value_json(&zone.density, DENSITY),
        "net": value_json(&zone.net, DENSITY),
        "separation": value_json(&zone.separation, DENSITY),
        "kept": zone.kept,
        "print": zone.print.as_ref().map(|print| value_json(print, DENSITY)),
    })
}

fn difference(zone: &ZoneDifference) -> Json {
    json!({
        "density": value_json(&zone.density, DENSITY),
        "net": value_json(&zone.net, DENSITY),
        "separation": value_json(&zone.separation, DENSITY),
        "print": zone.print.as_ref().map(|print| value_json(print, DENSITY)),
    })
}

fn film_json(film: &FilmTones) -> Json {
    json!({
        "label": film.label,
        "tie": film.tie,
        "base_fog": value_json(&film.base_fog, DENSITY),
        "kept_zones": { "lowest": film.kept.0, "highest": film.kept.1 },
        "subject_by_meter": placed(&film.by_meter),
        "subject_by_own_shadow": placed(&film.by_shadow),
        "print": film.print.as_ref().map(printed),
    })
}

fn placed(subject: &PlacedSubject) -> Json {
    json!({
        "shadow_log_h": value_json(&subject.shadow_log_h, LOG_H),
        "highlight_zone": subject.highlight_zone,
        "shadow_net": value_json(&subject.shadow_net, DENSITY),
        "highlight_net": value_json(&subject.highlight_net, DENSITY),
        "density_range": value_json(&subject.range, DENSITY),
        "exposure_index": value_json(&subject.exposure_index, SPEED),
        "misfits": subject.misfits,
    })
}

fn printed(print: &PrintedFilm) -> Json {
    json!({
        "log_exposure": value_json(&print.exposure, LOG_H),
        "factor": value_json(&print.factor, RATIO),
        "blank_from_density": value_json(&print.blank_density, DENSITY),
        "blank_from_zone": value_json(&print.blank_zone, "zone"),
        "black_to_density": value_json(&print.black_density, DENSITY),
        "black_to_zone": value_json(&print.black_zone, "zone"),
    })
}

fn paper(paper: &PaperFigures) -> Json {
    json!({
        "d_min": value_json(&paper.d_min, DENSITY),
        "d_max": value_json(&paper.d_max, DENSITY),
        "log_h_t": value_json(&paper.t, LOG_H),
        "log_h_m": value_json(&paper.m, LOG_H),
        "log_h_s": value_json(&paper.s, LOG_H),
        "speed": value_json(&paper.speed, SPEED),
        "speed_rounded": paper.speed_rounded,
        "exposure_range": value_json(&paper.range, "100 log H"),
        "exposure_range_rounded": paper.range_rounded,
        "grade": paper.grade,
        "steepest": value_json(&paper.steepest, GRADIENT),
    })
}

/// The same as a table for a terminal: density above base+fog and separation zone by zone.
///
/// # Errors
/// As [`tones_json`].
pub fn tones_text(session: &Session, film: &FilmId) -> Result<String, Problem> {
    let tones = tones(session, film)?;
    let mut out = String::new();
    // Writing to a String cannot fail.
    let index = format::number(tones.exposure_index, 0);
    let _ =
        writeln!(out, "Rated alike at EI {index}; density above base+fog, and separation to the next zone");
    let _ = write!(out, "{:<6}{:>8}", "zone", "log H");
    for film in &tones.films {
        let _ = write!(out, "  {:>20}{:>20}  {:<10}", film.label, "separation", "");
    }
    out.push('\n');
    for row in &tones.rows {
        let _ = write!(out, "{:<6}{:>8}", zone_name(row.zone), format::number(row.log_h, 2));
        for zone in &row.films {
            let text = |value: &Value| format::value(value, 2, "");
            let _ = write!(
                out,
                "  {:>20}{:>20}  {:<10}",
                text(&zone.net),
                text(&zone.separation),
                zone.kept.word()
            );
        }
        out.push('\n');
    }
    for film in &tones.films {
        let _ = writeln!(out, "{}: {}", film.label, film.tie);
    }
    let _ = writeln!(out, "{}", format::INTERVAL_NOTE);
    Ok(out)
}
