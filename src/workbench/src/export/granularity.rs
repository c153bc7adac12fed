//! Granularity over apertures and density as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::document::FilmId;
use twinwedge_core::grain::{
    ApertureLaw, GrainAt, GrainSettings, Granularity, GranularityCurve, PairRow, PairSide, expected_interval,
    least_area,
};
use twinwedge_core::measured::Value;

use super::tables::{measured_json, value_json};
use crate::engine::ask::{ApertureLawOf, GrainOf, GrainPairOf, GranularityCurveOf};
use crate::session::Session;

/// A granularity as JSON, measured numbers in the form of [`figures_json`](super::figures_json).
#[must_use]
pub fn grain_json(grain: &Granularity) -> Json {
    let (min, max) = (grain.area.min, grain.area.max);
    let settings = GrainSettings { pitch: grain.pitch, aperture: grain.aperture };
    json!({
        "granularity": measured_json(&grain.rms, ""),
        "density": measured_json(&grain.mean_density.plain(), ""),
        "aperture_um": grain.aperture.0,
        "pitch_um": grain.pitch.0,
        "independent_apertures": grain.independent_apertures,
        "shading": grain.shading,
        "left_out": grain.left_out,
        "area": [[min.x, min.y], [max.x, max.y]],
        "scanner_noise": grain.noise.as_ref().map(|taken| json!({
            "granularity": taken.noise.rms,
            "u": taken.noise.u,
            "share_of_variance": taken.share,
            "from": taken.noise.from,
            "before": measured_json(&taken.before, ""),
        })),
        "pixels": grain.texture.as_ref().map(|texture| json!({
            "correlation": texture.correlation,
            "correlation_u": texture.correlation_u,
            "blur_um": texture.blur.map(|blur| blur.0),
            "sharpened": texture.sharpened,
        })),
        "loss_to_scanner": grain.loss.as_ref().map(|loss| json!({
            "share": measured_json(&loss.share, ""),
            "told_by": loss.by,
            "of": loss.of,
            "granularity_without": grain.without_scanner().map(|rms| measured_json(&rms, "")),
            "sentence": grain.loss_in_words(),
        })),
        "expected_of_independent_grain": expected_interval(grain.area, settings),
        "least_area_for_5_percent": least_area(0.05, settings),
        "notes": grain.notes,
    })
}

/// The law of apertures as JSON.
#[must_use]
pub fn law_json(law: &ApertureLaw) -> Json {
    let point = |point: &twinwedge_core::grain::AperturePoint| {
        json!({
            "aperture_um": point.aperture.0,
            "granularity": measured_json(&point.rms, ""),
            "sigma_root_area": measured_json(&point.root_area, "µm"),
        })
    };
    json!({
        "apertures": law.points.iter().map(point).collect::<Vec<_>>(),
        "slope": measured_json(&law.slope, ""),
        "verdict": law.verdict,
        "sentence": law.sentence,
    })
}

/// A granularity curve as JSON.
#[must_use]
pub fn granularity_curve_json(curve: &GranularityCurve) -> Json {
    let point = |point: &twinwedge_core::grain::GrainPoint| {
        json!({
            "area": point.area + 1,
            "density": point.density,
            "granularity": measured_json(&point.rms, ""),
        })
    };
    let at = |found: Result<GrainAt, String>| match found {
        Ok(at) => json!({ "granularity": measured_json(&at.rms, ""), "how": at.how.words() }),
        Err(why) => json!({ "granularity": null, "reason": why }),
    };
    json!({
        "points": curve.points.iter().map(point).collect::<Vec<_>>(),
        "failed": curve.failed.iter().map(|(area, why)| json!({ "area": area + 1, "reason": why })).collect::<Vec<_>>(),
        "base_fog": curve.base.as_ref().map_or_else(|why| json!({ "value": null, "reason": why }), |b| measured_json(b, "")),
        "at_net_density_1": at(curve.at_net_one()),
    })
}

/// Both films where they are alike, as JSON.
#[must_use]
pub fn grain_pair_json(rows: &[PairRow]) -> Json {
    let side = |side: &PairSide| json!({ "density": side.density, "granularity": valued(&side.rms), "how": side.how });
    let row = |row: &PairRow| {
        json!({
            "at": row.alike.words(),
            "reference": side(&row.reference),
            "candidate": side(&row.candidate),
            "ratio": valued(&row.ratio),
            "distinguishable": row.distinguishable(),
        })
    };
    rows.iter().map(row).collect()
}

fn valued(value: &Value) -> Json {
    value_json(value, "")
}

/// All that is known of a film's grain: areas, the law of apertures in the first, the curve.
pub(super) fn film_granularity(session: &Session, film: &FilmId) -> Json {
    let Some(document) = session.series().film(film).cloned() else { return Json::Null };
    if document.uniform_areas.is_empty() {
        return Json::Null;
    }
    let area = |area: usize| match session.wait(&GrainOf { film: film.clone(), area }) {
        Ok(grain) => grain_json(&grain),
        Err(problem) => json!({ "granularity": null, "reason": problem.to_string() }),
    };
    let law = |area: usize| match session.wait(&ApertureLawOf { film: film.clone(), area }) {
        Ok(law) => law_json(&law),
        Err(problem) => json!({ "slope": null, "reason": problem.to_string() }),
    };
    let curve = match session.wait(&GranularityCurveOf { film: film.clone() }) {
        Ok(curve) => granularity_curve_json(&curve),
        Err(problem) => json!({ "points": [], "reason": problem.to_string() }),
    };
    json!({
        "areas": (0..document.uniform_areas.len()).map(area).collect::<Vec<_>>(),
        "law_of_apertures": document.uniform_areas.first().map(|_| law(0)),
        "curve": curve,
    })
}

/// A candidate's grain beside the reference's.
pub(super) fn pair(session: &Session, film: &FilmId) -> Json {
    match session.wait(&GrainPairOf { film: film.clone() }) {
        Ok(rows) => grain_pair_json(&rows),
        Err(problem) => json!({ "reason": problem.to_string() }),
    }
}
