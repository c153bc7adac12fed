//! A strip that was found by itself as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::found::Found;
use twinwedge_core::tablet::find::{FoundStrip, StepNote, StepReason};

/// Corners, borders, confidence and doubts. Places are in the scan's pixels; `support` is the finder's own measure from 0 to 1.
#[must_use]
pub fn found_strip_json(found: &Found<FoundStrip>) -> Json {
    let strip = &found.value;
    let points = |points: &[twinwedge_core::geometry::Point]| -> Vec<[f64; 2]> {
        points.iter().map(|point| [point.x, point.y]).collect()
    };
    let borders = strip.borders.iter().map(|border| {
        json!({
            "after_step": border.after,
            "ends": points(&border.ends),
            "seen": border.off.is_some(),
            "off": border.off,
            "u": border.u,
        })
    });
    let doubtful = strip.steps.iter().filter(|note| !note.reasons.is_empty());
    let step = |note: &StepNote| {
        let reasons: Vec<String> = note.reasons.iter().map(StepReason::words).collect();
        json!({ "step": note.step, "reasons": reasons })
    };
    json!({
        "sure": found.is_sure(),
        "support": found.support,
        "supports": strip.supports,
        "doubts": found.doubts,
        "corners": points(&strip.shape.quad.corners),
        "corner_u": strip.corner_u,
        "steps": strip.shape.steps,
        "counted": strip.counted,
        "borders": borders.collect::<Vec<Json>>(),
        "doubtful_steps": doubtful.map(step).collect::<Vec<Json>>(),
    })
}
