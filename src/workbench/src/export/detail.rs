//! Surviving detail as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::detail::{Difference, Loss, Place, Row, Separation};
use twinwedge_core::geometry::Rect;

use super::tables::{measured_json, value_json};
use crate::engine::ask::SurvivingDetail;

/// What detail survived as JSON, measured numbers in the form of [`figures_json`](super::figures_json): coherence and both
/// films' signal-to-grain by frequency, limits, statement, map and the places where the frames differ. Frequencies are cycles
/// per millimetre; a number that is not known is null.
#[must_use]
pub fn detail_json(found: &SurvivingDetail) -> Json {
    let detail = &found.detail;
    let statement = &detail.statement;
    let unit = "cycles/mm";
    json!({
        "frequencies": if detail.on_negative { "negative" } else { "print" },
        "separated_by": match detail.separation {
            Separation::ThirdFilm => "third film",
            Separation::UniformAreas => "uniform areas",
            Separation::Bounds => "nothing",
        },
        "third_film": found.third.as_ref().filter(|_| detail.separation == Separation::ThirdFilm),
        "limit_of_agreement": value_json(&detail.agreement, unit),
        "limits": {
            "reference": value_json(&detail.limits[0], unit),
            "candidate": value_json(&detail.limits[1], unit),
        },
        "statement": {
            "lost_to": loss_word(statement.loss),
            "band": statement.band,
            "signal_to_grain": value_json(&statement.signal_to_grain, ""),
            "modulation": value_json(&statement.modulation, ""),
            "grain": value_json(&statement.grain, ""),
            "error_rate": statement.error_rate,
        },
        "rows": detail.rows.iter().map(row_json).collect::<Vec<_>>(),
        "map": {
            "columns": detail.map.columns,
            "rows": detail.map.rows,
            "first": [detail.map.first.x, detail.map.first.y],
            "step_px": detail.map.step_px,
            "band": detail.map.band,
            "share": detail.map.share,
        },
        "differing": detail.differing.iter().map(place_json).collect::<Vec<_>>(),
        "shifts": {
            "blocks": detail.shifts.blocks,
            "mean_px": detail.shifts.mean_px,
            "taken_out_px": detail.shifts.taken_out_px,
            "remaining_px": detail.shifts.remaining_px,
        },
        "blocks": detail.blocks.0,
        "blocks_left_out": detail.blocks.1,
        "block_px": detail.block_px,
        "area": corners(&detail.area),
        "quick": detail.quick,
        "notes": detail.notes,
    })
}

fn corners(area: &Rect) -> Json {
    json!([[area.min.x, area.min.y], [area.max.x, area.max.y]])
}

/// What detail was lost to, in a word or two.
fn loss_word(loss: Loss) -> &'static str {
    match loss {
        Loss::Grain => "grain",
        Loss::Blur => "blur",
        Loss::GrainAndBlur => "grain and blur",
        Loss::NotSeparated => "not separated",
        Loss::Kept => "nothing: more is carried",
        Loss::NotDistinguishable => "not distinguishable",
        Loss::NotMeasured => "not measured",
    }
}

fn row_json(row: &Row) -> Json {
    let film = |n: usize| row.signal_to_grain[n].as_ref().map(|ratio| measured_json(ratio, ""));
    json!({
        "frequency": row.frequency,
        "coherence": measured_json(&row.coherence, ""),
        "zero_level": row.zero_level,
        "segments": row.segments,
        "signal_to_grain": { "reference": film(0), "candidate": film(1) },
        "modulation": row.transfer.as_ref().map(|transfer| measured_json(transfer, "")),
    })
}

fn place_json(place: &Place) -> Json {
    let what = match place.difference {
        Difference::Moved { x, y } => json!({ "moved_px": [x, y] }),
        Difference::Changed => json!("changed"),
        Difference::Light { density } => json!({ "light_density": density }),
    };
    json!({ "area": corners(&place.area), "difference": what, "words": place.difference.words() })
}
