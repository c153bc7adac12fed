//! Edges and sharpness as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::sharpness::{EdgeMeasure, EdgeOutcome, EdgeSpace, Lobe, MtfPoint, Sharpness};

use super::written::{DENSITY, FREQUENCY, area_json, corners_json, measured_json, missing, value_json};

fn mtf(points: &[MtfPoint]) -> Vec<Json> {
    let row = |p: &MtfPoint| json!({ "cycles_per_mm": p.frequency, "transfer": p.value, "low": p.low, "high": p.high });
    points.iter().map(row).collect()
}

/// The points up to half a cycle per pixel of `pitch` micrometres, and those beyond.
fn apart(points: &[MtfPoint], pitch: f64) -> (&[MtfPoint], &[MtfPoint]) {
    points.split_at(points.partition_point(|point| point.frequency * pitch <= 500.0))
}

fn lobe(lobe: &Lobe) -> Json {
    json!({
        "peak": measured_json(&lobe.height, DENSITY),
        "share_of_step": lobe.share,
        "distance_um": lobe.distance_um,
        "width_um": lobe.width_um,
        "seen": lobe.seen,
    })
}

/// A measured edge as JSON, measured numbers in the form of `figures_json`; the transfer function as rows with the ends of its
/// 95 % interval, those beyond half a cycle per pixel apart as `mtf_beyond_half_a_cycle`; the edge-spread function likewise.
#[must_use]
pub fn edge_json(edge: &EdgeMeasure) -> Json {
    let (within, beyond) = apart(&edge.mtf, edge.method.pitch);
    let spread = edge.spread.iter().map(
        |p| json!({ "distance_um": p.distance, "edge_density": p.density, "low": p.low, "high": p.high }),
    );
    json!({
        "mtf50": value_json(&edge.mtf50, FREQUENCY),
        "mtf10": value_json(&edge.mtf10, FREQUENCY),
        "width_10_90": value_json(&edge.width, "µm"),
        "space": match edge.method.space { EdgeSpace::Exposure => "exposure", EdgeSpace::Light => "light" },
        "edition": edge.steps(),
        "scanner_removed": edge.method.scanner_removed,
        "pitch_um": edge.method.pitch,
        "cycles_per_mm_at_half_a_cycle_per_pixel": 500.0 / edge.method.pitch,
        "spread_window": { "from_um": edge.method.window.0, "to_um": edge.method.window.1 },
        "sides": { "thin_density": edge.densities[0], "dense_density": edge.densities[1], "unit": DENSITY },
        "angle_degrees": edge.line.angle,
        "row_count": edge.line.rows,
        "bend_px": edge.line.bend,
        "area": area_json(&edge.line.area),
        "line": corners_json(&edge.line.places),
        "overshoot": {
            "dense_side": lobe(&edge.overshoot.dense),
            "thin_side": lobe(&edge.overshoot.thin),
            "cause": edge.overshoot.cause,
            "reason": edge.overshoot.reason,
        },
        "left_out_share": edge.left_out,
        "mtf": mtf(within),
        "mtf_beyond_half_a_cycle": mtf(beyond),
        "spread": spread.collect::<Vec<Json>>(),
        "notes": edge.notes,
    })
}

/// A film's sharpness from all its edges as JSON.
#[must_use]
pub fn sharpness_json(sharpness: &Sharpness) -> Json {
    let edge = |edge: &EdgeOutcome| match edge {
        EdgeOutcome::Measured(edge) => edge_json(edge),
        EdgeOutcome::Refused(reason) => missing(&reason.to_string()),
    };
    // The coarsest scan of all edges.
    let pitches = sharpness.edges.iter().filter_map(|edge| Some(edge.measured()?.method.pitch));
    let (within, beyond) = apart(&sharpness.mtf, pitches.fold(0.0, f64::max));
    json!({
        "mtf50": value_json(&sharpness.mtf50, FREQUENCY),
        "mtf10": value_json(&sharpness.mtf10, FREQUENCY),
        "width_10_90": value_json(&sharpness.width, "µm"),
        "scatter": sharpness.scatter,
        "mtf": mtf(within),
        "mtf_beyond_half_a_cycle": mtf(beyond),
        "edges": sharpness.edges.iter().map(edge).collect::<Vec<Json>>(),
    })
}
