//! A calibration with what remains step by step, as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::found::Found;
use twinwedge_core::measured::Measured;
use twinwedge_core::scan::CalibrationFit;
use twinwedge_core::tablet::find::FoundStrip;

use super::found_json::found_strip_json;
use super::written::{DENSITY, RATIO, measured_json, missing};

/// A calibration as JSON: its steps with known density, code and residual (known density minus what the calibration makes of the
/// code; left out where the step was not used), the stray light they tell of, and where the tablet was found.
#[must_use]
pub fn calibration_json(fit: &CalibrationFit, found: Option<&Found<FoundStrip>>) -> Json {
    let steps = fit.points.iter().zip(&fit.residuals).map(|(point, residual)| {
        json!({
            "step": point.step,
            "density": measured_json(&Measured::normal(point.density, point.density_u), DENSITY),
            "code": measured_json(&Measured::normal(point.code, point.code_u).flagged(point.flags), "code"),
            "used": residual.is_some(),
            "residual": residual.map(|made_less_known| -made_less_known),
        })
    });
    let stray = match &fit.flare {
        Ok(flare) => {
            let (low, high) = flare.interval;
            let share = Measured::<f64>::with_interval(flare.veil, flare.u(), low, high);
            json!({ "share_of_full_light": measured_json(&share, RATIO), "distinguishable": flare.separated })
        }
        Err(why) => json!({ "share_of_full_light": missing(&why.to_string()) }),
    };
    json!({
        "steps": steps.collect::<Vec<Json>>(),
        "residual_rms": fit.rms,
        "stray_light": stray,
        "notes": fit.notes,
        "found": found.map(found_strip_json),
    })
}
