//! Surviving detail as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::detail::{Difference, FrequencyRow, Loss, Map, Place, Separation};
use twinwedge_core::geometry::Point;

use super::written::{FREQUENCY, RATIO, area_json, measured_json, point_json, value_json};
use crate::engine::ask::SurvivingDetail;

/// What detail survived as JSON, measured numbers in the form of [`figures_json`](super::figures_json): coherence and both
/// films' signal-to-grain by frequency, limits, statement, map and the places where the frames differ. A number that is not
/// known is left out.
#[must_use]
pub fn detail_json(found: &SurvivingDetail) -> Json {
    let detail = &found.detail;
    let statement = &detail.statement;
    json!({
        "frequencies": if detail.on_negative { "negative" } else { "print" },
        "separated_by": match detail.separation {
            Separation::ThirdFilm => "third film",
            Separation::UniformAreas => "uniform areas",
            Separation::Bounds => "nothing",
        },
        "third_film": found.third.as_ref().filter(|_| detail.separation == Separation::ThirdFilm),
        "limit_of_agreement": value_json(&detail.agreement, FREQUENCY),
        "limits": {
            "reference": value_json(&detail.limits[0], FREQUENCY),
            "candidate": value_json(&detail.limits[1], FREQUENCY),
        },
        "statement": {
            "lost_to": loss_word(statement.loss),
            "band": band(statement.band),
            "signal_to_grain": value_json(&statement.signal_to_grain, RATIO),
            "modulation": value_json(&statement.modulation, RATIO),
            "grain": value_json(&statement.grain, RATIO),
            "error_rate": statement.error_rate,
        },
        "rows": detail.rows.iter().map(row_json).collect::<Vec<_>>(),
        "map": {
            "column_count": detail.map.columns,
            "row_count": detail.map.rows,
            "first": point_json(&detail.map.first),
            "step_px": detail.map.step_px,
            "band": band(detail.map.band),
            "places": shares(&detail.map),
        },
        "differing": detail.differing.iter().map(place_json).collect::<Vec<_>>(),
        "shifts": {
            "block_count": detail.shifts.blocks,
            "mean_px": point_json(&Point::new(detail.shifts.mean_px.0, detail.shifts.mean_px.1)),
            "taken_out_px": detail.shifts.taken_out_px,
            "remaining_px": detail.shifts.remaining_px,
        },
        "block_count": detail.blocks.0,
        "block_count_left_out": detail.blocks.1,
        "block_px": detail.block_px,
        "area": area_json(&detail.area),
        "quick": detail.quick,
        "notes": detail.notes,
    })
}

fn band((from, to): (f64, f64)) -> Json {
    json!({ "from_cycles_per_mm": from, "to_cycles_per_mm": to })
}

/// Where the share of detail that the candidate carries too is known: the middle of each such block.
fn shares(map: &Map) -> Vec<Json> {
    let place = |(number, share): (usize, &Option<f32>)| {
        let share = (*share)?;
        let along = |first: f64, blocks: usize| first + map.step_px * blocks as f64;
        let columns = map.columns.max(1);
        let middle = Point::new(along(map.first.x, number % columns), along(map.first.y, number / columns));
        Some(json!({ "middle": point_json(&middle), "carried_share": share }))
    };
    map.share.iter().enumerate().filter_map(place).collect()
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

fn row_json(row: &FrequencyRow) -> Json {
    let film = |n: usize| row.signal_to_grain[n].as_ref().map(|ratio| measured_json(ratio, RATIO));
    json!({
        "cycles_per_mm": row.frequency,
        "coherence": measured_json(&row.coherence, RATIO),
        "zero_level": row.zero_level,
        "segments": row.segments,
        "signal_to_grain": { "reference": film(0), "candidate": film(1) },
        "modulation": row.transfer.as_ref().map(|transfer| measured_json(transfer, RATIO)),
    })
}

fn place_json(place: &Place) -> Json {
    let mut told = json!({ "area": area_json(&place.area), "words": place.difference.words() });
    match place.difference {
        Difference::Moved { x, y } => {
            told["what"] = json!("moved");
            told["moved_px"] = point_json(&Point::new(x, y));
        }
        Difference::Changed => told["what"] = json!("changed"),
        Difference::Light { density } => {
            told["what"] = json!("other light");
            told["light_density"] = json!(density);
        }
    }
    told
}
