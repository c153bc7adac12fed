//! A strip that was found by itself as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::found::Found;
use twinwedge_core::tablet::find::{FoundStrip, StepNote, StepReason};

use super::written::corners_json;

/// Corners, borders, confidence and doubts. Places are in the scan's pixels; `support` is the finder's own measure from 0 to 1.
#[must_use]
pub fn found_strip_json(found: &Found<FoundStrip>) -> Json {
    let strip = &found.value;
    let borders = strip.borders.iter().map(|border| {
        json!({
            "after_step": border.after,
            "ends": corners_json(&border.ends),
            "seen": border.off.is_some(),
            "off_px": border.off,
            "u_px": border.u,
        })
    });
    let doubtful = strip.steps.iter().filter(|note| !note.reasons.is_empty());
    let step = |note: &StepNote| {
        let reasons: Vec<_> = note.reasons.iter().map(StepReason::words).collect();
        json!({ "step": note.step, "reasons": reasons })
    };
    json!({
        "sure": found.is_sure(),
        "support": found.support,
        "support_of": {
            "the_corners": strip.supports.corners,
            "the_number": strip.supports.count,
            "the_order": strip.supports.order,
        },
        "doubts": found.doubts,
        "corners": corners_json(&strip.shape.quad.corners),
        "corner_u_px": strip.corner_u,
        "step_count": strip.shape.steps,
        "counted": strip.counted,
        "borders": borders.collect::<Vec<Json>>(),
        "doubtful_steps": doubtful.map(step).collect::<Vec<Json>>(),
    })
}
