//! Edges and sharpness as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::measured::Value;
use twinwedge_core::sharpness::{EdgeMeasure, EdgeOutcome, EdgeSpace, Lobe, MtfPoint, Sharpness};

use super::tables::measured_json;

fn value(value: &Value, unit: &str) -> Json {
    match value {
        Value::Known(measured) => measured_json(measured, unit),
        Value::Undefined(reason) => json!({ "value": null, "reason": reason }),
    }
}

fn mtf(points: &[MtfPoint]) -> Vec<[f64; 4]> {
    points.iter().map(|p| [p.frequency, p.value, p.low, p.high]).collect()
}

/// The points up to half a cycle per pixel of `pitch` micrometres, and those beyond.
fn apart(points: &[MtfPoint], pitch: f64) -> (&[MtfPoint], &[MtfPoint]) {
    points.split_at(points.partition_point(|point| point.frequency * pitch <= 500.0))
}

fn lobe(lobe: &Lobe) -> Json {
    json!({
        "density": measured_json(&lobe.height, ""),
        "share_of_step": lobe.share,
        "distance_um": lobe.distance_um,
        "width_um": lobe.width_um,
        "seen": lobe.seen,
    })
}

/// A measured edge as JSON, measured numbers in the form of `figures_json`; the transfer function as rows of cycles per
/// millimetre, modulation and the ends of its 95 % interval, those beyond `half_a_cycle_per_pixel` (cycles per millimetre) apart
/// as `mtf_beyond_half_a_cycle`; the edge-spread function as rows of micrometres, density and ends.
#[must_use]
pub fn edge_json(edge: &EdgeMeasure) -> Json {
    let (min, max) = (edge.line.area.min, edge.line.area.max);
    let places: Vec<[f64; 2]> = edge.line.places.iter().map(|place| [place.x, place.y]).collect();
    let (within, beyond) = apart(&edge.mtf, edge.method.pitch);
    let spread: Vec<[f64; 4]> = edge.spread.iter().map(|p| [p.distance, p.density, p.low, p.high]).collect();
    json!({
        "mtf50": value(&edge.mtf50, "c/mm"),
        "mtf10": value(&edge.mtf10, "c/mm"),
        "width_10_90": value(&edge.width, "µm"),
        "space": match edge.method.space { EdgeSpace::Exposure => "exposure", EdgeSpace::Light => "light" },
        "steps": edge.steps(),
        "scanner_removed": edge.method.scanner_removed,
        "pitch_um": edge.method.pitch,
        "half_a_cycle_per_pixel": 500.0 / edge.method.pitch,
        "window_um": [edge.method.window.0, edge.method.window.1],
        "densities": edge.densities,
        "angle_degrees": edge.line.angle,
        "rows": edge.line.rows,
        "bend_px": edge.line.bend,
        "area": [[min.x, min.y], [max.x, max.y]],
        "line": places,
        "overshoot": {
            "dense_side": lobe(&edge.overshoot.dense),
            "thin_side": lobe(&edge.overshoot.thin),
            "cause": edge.overshoot.cause,
            "reason": edge.overshoot.reason,
        },
        "left_out": edge.left_out,
        "mtf": mtf(within),
        "mtf_beyond_half_a_cycle": mtf(beyond),
        "spread": spread,
        "notes": edge.notes,
    })
}

/// A film's sharpness from all its edges as JSON.
#[must_use]
pub fn sharpness_json(sharpness: &Sharpness) -> Json {
    let edge = |edge: &EdgeOutcome| match edge {
        EdgeOutcome::Measured(edge) => edge_json(edge),
        EdgeOutcome::Refused(reason) => json!({ "refused": reason }),
    };
    // The coarsest scan of all edges.
    let pitches = sharpness.edges.iter().filter_map(|edge| Some(edge.measured()?.method.pitch));
    let (within, beyond) = apart(&sharpness.mtf, pitches.fold(0.0, f64::max));
    json!({
        "mtf50": value(&sharpness.mtf50, "c/mm"),
        "mtf10": value(&sharpness.mtf10, "c/mm"),
        "width_10_90": value(&sharpness.width, "µm"),
        "scatter": sharpness.scatter,
        "mtf": mtf(within),
        "mtf_beyond_half_a_cycle": mtf(beyond),
        "edges": sharpness.edges.iter().map(edge).collect::<Vec<Json>>(),
    })
}
