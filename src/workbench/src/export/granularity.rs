//! Granularity over apertures and density as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::document::FilmId;
use twinwedge_core::grain::{
    ApertureLaw, GrainAt, GrainSettings, Granularity, GranularityCurve, PairRow, PairSide, expected_interval,
    least_area,
};
use twinwedge_core::measured::Measured;
use twinwedge_core::words::Sentence;

use super::written::{DENSITY, GRANULARITY, RATIO, area_json, failed, measured_json, missing, value_json};
use crate::engine::ask::{ApertureLawOf, GrainOf, GrainPairOf, GranularityCurveOf};
use crate::session::Session;

/// A granularity as JSON, measured numbers in the form of [`figures_json`](super::figures_json).
#[must_use]
pub fn grain_json(grain: &Granularity) -> Json {
    let lag = |(before, correlation): (usize, &f64)| json!({ "pixels_apart": before + 1, "lag_correlation": correlation });
    let settings = GrainSettings { pitch: grain.pitch, aperture: grain.aperture };
    json!({
        "granularity": measured_json(&grain.rms, GRANULARITY),
        "density": measured_json(&grain.mean_density.plain(), DENSITY),
        "aperture_um": grain.aperture.0,
        "pitch_um": grain.pitch.0,
        "independent_apertures": grain.independent_apertures,
        "shading_density": grain.shading,
        "left_out_share": grain.left_out,
        "area": area_json(&grain.area),
        "scanner_noise": grain.noise.as_ref().map(|taken| json!({
            "granularity": measured_json(&Measured::normal(taken.noise.rms, taken.noise.u), GRANULARITY),
            "variance_ratio": taken.share,
            "from": taken.noise.from,
            "before": measured_json(&taken.before, GRANULARITY),
        })),
        "pixels": grain.texture.as_ref().map(|texture| json!({
            "lags": texture.correlation.iter().enumerate().map(lag).collect::<Vec<Json>>(),
            "lag_correlation_u": texture.correlation_u,
            "blur_um": texture.blur.map(|blur| blur.0),
            "sharpened": texture.sharpened,
        })),
        "loss_to_scanner": grain.loss.as_ref().map(|loss| json!({
            "share": measured_json(&loss.share, RATIO),
            "told_by": loss.by,
            "of": loss.of,
            "granularity_without": grain.without_scanner().map(|rms| measured_json(&rms, GRANULARITY)),
            "sentence": grain.loss_in_words(),
        })),
        "expected_of_independent_grain": expected_interval(grain.area, settings).map(|expected| json!({
            "independent_apertures": expected.apertures,
            "low_over_value": expected.low,
            "high_over_value": expected.high,
        })),
        "least_area_for_5_percent": least_area(0.05, settings).map(|area| json!({
            "independent_apertures": area.apertures,
            "side_mm": area.side_mm,
            "side_px": area.side_px,
        })),
        "notes": grain.notes,
    })
}

/// The law of apertures as JSON.
#[must_use]
pub fn law_json(law: &ApertureLaw) -> Json {
    let point = |point: &twinwedge_core::grain::AperturePoint| {
        json!({
            "aperture_um": point.aperture.0,
            "granularity": measured_json(&point.rms, GRANULARITY),
            "sigma_root_area": measured_json(&point.root_area, "µm"),
        })
    };
    json!({
        "apertures": law.points.iter().map(point).collect::<Vec<_>>(),
        "slope": measured_json(&law.slope, RATIO),
        "verdict": law.verdict,
        "sentence": law.sentence,
    })
}

/// RMS granularity over density, point by point, and its value at net density 1.0, each with its interval.
#[must_use]
pub fn granularity_curve_json(curve: &GranularityCurve) -> Json {
    let point = |point: &twinwedge_core::grain::GrainPoint| {
        json!({
            "number": point.area + 1,
            "mean_density": point.density,
            "granularity": measured_json(&point.rms, GRANULARITY),
        })
    };
    let at = |found: Result<GrainAt, Sentence>| match found {
        Ok(at) => json!({ "granularity": measured_json(&at.rms, GRANULARITY), "how": at.how.words() }),
        Err(why) => json!({ "granularity": missing(&why.to_string()) }),
    };
    json!({
        "points": curve.points.iter().map(point).collect::<Vec<_>>(),
        "failed": curve.failed.iter().map(|(area, why)| json!({ "number": area + 1, "reason": why })).collect::<Vec<_>>(),
        "base_fog": curve.base.as_ref().map_or_else(|why| missing(&why.to_string()), |b| measured_json(b, DENSITY)),
        "at_net_density_1": at(curve.at_net_one()),
    })
}

/// Both films where they are alike, as JSON.
#[must_use]
pub fn grain_pair_json(rows: &[PairRow]) -> Json {
    let side = |side: &PairSide| json!({ "mean_density": side.density, "granularity": value_json(&side.rms, GRANULARITY), "how": side.how });
    let row = |row: &PairRow| {
        json!({
            "at": row.alike.words(),
            "reference": side(&row.reference),
            "candidate": side(&row.candidate),
            "ratio": value_json(&row.ratio, RATIO),
            "distinguishable": row.distinguishable(),
        })
    };
    json!({ "rows": rows.iter().map(row).collect::<Vec<_>>() })
}

/// All that is known of a film's grain: areas, the law of apertures in the first, the curve.
pub(super) fn film_granularity(session: &Session, film: &FilmId) -> Json {
    let Some(document) = session.series().film(film).cloned() else { return Json::Null };
    if document.uniform_areas.is_empty() {
        return Json::Null;
    }
    let area = |area: usize| match session.wait(&GrainOf { film: film.clone(), area }) {
        Ok(grain) => grain_json(&grain),
        Err(problem) => json!({ "granularity": failed(&problem) }),
    };
    let law = |area: usize| match session.wait(&ApertureLawOf { film: film.clone(), area }) {
        Ok(law) => law_json(&law),
        Err(problem) => json!({ "slope": failed(&problem) }),
    };
    let curve = match session.wait(&GranularityCurveOf { film: film.clone() }) {
        Ok(curve) => granularity_curve_json(&curve),
        Err(problem) => failed(&problem),
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
        Err(problem) => failed(&problem),
    }
}
