//! A registration as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::geometry::Point;
use twinwedge_core::register::Registration;

use super::written::point_json;

/// How one print lies on another as JSON: the map as a matrix and, amid the windows that were compared, as turn and size;
/// what remains, the uncertainty there and at its worst; what speaks against it. The map takes a place of the
/// reference to one of the candidate; a number that was not taken is left out.
#[must_use]
pub fn registration_json(found: &Registration) -> Json {
    let middle = found.middle();
    let origin = found.transform.map(Point::default());
    let finite = |value: f64| if value.is_finite() { json!(value) } else { Json::Null };
    let tried: Vec<Json> = found
        .tried
        .iter()
        .map(|t| json!({ "model": t.model.word(), "residual_ratio": t.ratio, "significant": t.significant }))
        .collect();
    json!({
        "transform": {
            "model": found.transform.model().word(),
            "matrix": found.transform.rows(),
            "scale": found.transform.scale_at(middle),
            "angle_degrees": found.transform.angle_at(middle).to_degrees(),
            "origin": point_json(&origin),
        },
        "model_chosen_by": if found.model_given { "tester" } else { "windows" },
        "richer_models": tried,
        "residual_px": finite(found.residual_px),
        "u_px": finite(found.u_px),
        "u_worst_px": finite(found.u_worst_px),
        "correlation": finite(found.correlation),
        "rank_correlation": finite(found.likeness),
        "overlap_share": finite(found.overlap),
        "window_count": found.windows.len(),
        "window_count_agreeing": found.windows.iter().filter(|w| w.agrees).count(),
        "by_hand": found.by_hand,
        "sure": found.is_sure(),
        "doubts": found.doubts,
    })
}
