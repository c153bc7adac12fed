//! Surviving detail in numbers, and what they say.

use egui::Ui;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::detail::{Detail, Loss, Separation};
use twinwedge_workbench::core::measured::{Measured, Value};
use twinwedge_workbench::engine::ask::SurvivingDetail;

use super::{Freshness, best};
use crate::appearance::{fonts, widgets};
use crate::pages::View;

/// The statement, the limits, what they rest on, and where the frames differ.
pub(in crate::pages::grain) fn readout(ui: &mut Ui, view: &View<'_>) {
    ui.heading("Surviving detail");
    widgets::footnote(
        ui,
        "What both prints agree about is the scene; what they do not is grain, paper, enlarger and scanner.",
    );
    let (Some(reference), Some(candidate)) = (view.reference, view.candidate) else { return };
    if [reference, candidate].iter().any(|film| film.print.is_none()) {
        return;
    }
    match best(view, &candidate.id) {
        Ok(Some((found, freshness))) => {
            let words = match freshness {
                Freshness::Whole => None,
                Freshness::First => Some("A first answer; the whole follows."),
                Freshness::Old => Some("Being compared anew."),
            };
            if let Some(words) = words {
                widgets::footnote(ui, words);
            }
            numbers(ui, &found, [&reference.label, &candidate.label]);
        }
        Ok(None) => {
            widgets::muted(ui, "Comparing the detail of both prints");
        }
        Err(problem) => widgets::problem(ui, &problem),
    }
}

fn words(loss: Loss, [reference, candidate]: [&String; 2]) -> String {
    match loss {
        Loss::Grain => format!("{candidate}: detail is lost to grain."),
        Loss::Blur => format!("{candidate}: detail is lost to blur."),
        Loss::GrainAndBlur => format!("{candidate}: detail is lost to grain and to blur."),
        Loss::NotSeparated => {
            format!(
                "{candidate} carries less detail than {reference}; to grain or to blur is not distinguishable."
            )
        }
        Loss::Kept => format!("{candidate} carries more detail above its grain than {reference}."),
        Loss::NotDistinguishable => "The detail that both carry is not distinguishable.".to_owned(),
        Loss::NotMeasured => "Grain and blur cannot be told apart.".to_owned(),
    }
}

fn value(ui: &mut Ui, label: &str, value: &Value, decimals: usize, unit: &str, hover: &str) {
    match value {
        Value::Known(known) => {
            let text = format::with_unit(&format::measured(known, decimals), unit);
            widgets::value_row(ui, label, &text, hover);
        }
        Value::Undefined(reason) => {
            widgets::value_row(ui, label, "–", &reason.to_string());
        }
    }
}

/// A ratio with the ends of its interval.
fn ratio(ui: &mut Ui, label: &str, value: &Value, hover: &str) {
    let text = match value {
        Value::Known(Measured { value, low, high, .. }) => {
            let number = |value: f64| format::number(value, 2);
            format!("{} ({} to {})", number(*value), number(*low), number(*high))
        }
        Value::Undefined(_) => "–".to_owned(),
    };
    let reason = match value {
        Value::Undefined(reason) => Some(reason.to_string()),
        Value::Known(_) => None,
    };
    widgets::value_row(ui, label, &text, reason.as_deref().unwrap_or(hover));
}

fn numbers(ui: &mut Ui, found: &SurvivingDetail, labels: [&String; 2]) {
    let detail = &found.detail;
    let statement = &detail.statement;
    ui.add_space(4.0);
    ui.label(fonts::strong(words(statement.loss, labels)));
    if let (Loss::NotMeasured, Value::Undefined(reason)) = (statement.loss, &statement.grain) {
        widgets::footnote(ui, &reason.to_string());
    } else {
        widgets::footnote(
            ui,
            &format!(
                "Between {} and {} cycles/mm {}; wrong in at most {:.0} of 100 cases.",
                format::number(statement.band.0, 1),
                format::number(statement.band.1, 1),
                detail.place_words(),
                100.0 * statement.error_rate
            ),
        );
        widgets::section(ui, "Candidate over reference");
        ratio(
            ui,
            "Signal-to-grain",
            &statement.signal_to_grain,
            "Power of the scene's detail over that of grain, with its 95 % interval",
        );
        ratio(
            ui,
            "Modulation",
            &statement.modulation,
            "Against that at low frequencies, so that contrast is not in it: below 1 is blur",
        );
        ratio(
            ui,
            "Grain",
            &statement.grain,
            "Power of grain at equal contrast of the scene: above 1 is more grain",
        );
    }
    limits(ui, found, labels);
    differing(ui, detail);
    widgets::section(ui, "Made of");
    let shifts = &detail.shifts;
    widgets::value_row(
        ui,
        "Blocks",
        &format!("{} of {:.0} px", detail.blocks.0, detail.block_px),
        "Windowed squares of the reference's print that overlap by half",
    );
    widgets::value_row(
        ui,
        "Shift taken out",
        &format!("{} px", format::number(shifts.taken_out_px, 2)),
        "Root mean square per axis of what the registration left, read from the phase of the cross-spectrum",
    );
    widgets::value_row(
        ui,
        "Shift remaining",
        &format!("{} px", format::number(shifts.remaining_px, 2)),
        "Standard uncertainty per axis of what was taken out",
    );
    for note in &detail.notes {
        widgets::footnote(ui, &note.to_string());
    }
}

fn limits(ui: &mut Ui, found: &SurvivingDetail, labels: [&String; 2]) {
    let detail = &found.detail;
    widgets::section(ui, &format!("Up to, cycles/mm {}", detail.place_words()));
    for (label, limit) in labels.into_iter().zip(&detail.limits) {
        value(
            ui,
            label,
            limit,
            1,
            "",
            "Where the scene's detail comes down to the power of grain: signal-to-grain 1",
        );
    }
    value(
        ui,
        "Both agree",
        &detail.agreement,
        1,
        "",
        "Where coherence comes down to 0.25, what two films show that carry as much grain as detail",
    );
    let how = match (detail.separation, &found.third) {
        (Separation::ThirdFilm, Some(third)) => format!("Told apart by the print of {third}."),
        (Separation::ThirdFilm | Separation::UniformAreas, _) => {
            "Told apart by the grain in uniform areas of both prints.".to_owned()
        }
        (Separation::Bounds, _) => "At least: two prints alone do not tell the films apart.".to_owned(),
    };
    widgets::footnote(ui, &how);
    if let Some(mean) = detail.map.mean() {
        widgets::value_row(
            ui,
            "Share of detail",
            &format!("{:.0} %", 100.0 * mean),
            &format!(
                "Of the reference's detail from {} to {} cycles/mm, in the mean over the map",
                format::number(detail.map.band.0, 1),
                format::number(detail.map.band.1, 1)
            ),
        );
    }
}

fn differing(ui: &mut Ui, detail: &Detail) {
    if detail.differing.is_empty() {
        return;
    }
    widgets::section(ui, "Where the frames differ");
    for place in &detail.differing {
        let middle =
            ((place.area.min.x + place.area.max.x) / 2.0, (place.area.min.y + place.area.max.y) / 2.0);
        widgets::footnote(
            ui,
            &format!("Around {:.0}, {:.0} px: {}", middle.0, middle.1, place.difference.words()),
        );
    }
    widgets::footnote(ui, &format!("{} blocks were left out there.", detail.blocks.1));
}
