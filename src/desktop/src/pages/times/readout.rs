//! The time for the wanted gradient, the law, temperatures, rolls, and the cautions beside all of it.

use egui::Ui;

use twinwedge_workbench::core::compare::{DARKROOM_CAUTION, format};
use twinwedge_workbench::core::development::family::{self, Development, RollPoint};
use twinwedge_workbench::core::development::temperature::CoefficientBasis;
use twinwedge_workbench::core::development::{Basis, LawFound, TimeAt};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::measured::{Measured, Value};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::PredictedOf;

use super::choices;
use crate::appearance::{fonts, widgets};
use crate::outbox::Outbox;
use crate::pages::View;

/// The readout on the right.
pub(super) fn show(
    ui: &mut Ui,
    family: &Development,
    film: &Film,
    role: Role,
    view: &View<'_>,
    outbox: &mut Outbox,
) {
    ui.horizontal(|ui| {
        widgets::film_sign(ui, role);
        widgets::ellipsis(ui, fonts::strong(&film.label));
    });
    time(ui, family);
    widgets::caution(ui, DARKROOM_CAUTION);
    law(ui, family);
    temperatures(ui, family, view, outbox);
    rolls(ui, family);
    if role == Role::Candidate {
        predicted(ui, film, view);
    }
    if !family.notes.is_empty() {
        widgets::section(ui, "To be known");
        for note in &family.notes {
            widgets::footnote(ui, &note.to_string());
        }
    }
}

/// A value in words, with what its flags say.
fn words(value: &Value, decimals: usize, unit: &str) -> String {
    match value {
        Value::Known(measured) => format!("{}{}", format::value(value, decimals, unit), flags(measured)),
        Value::Undefined(_) => "–".to_owned(),
    }
}

/// 'assumed' and 'prediction' stand beside the number itself.
fn flags(measured: &Measured) -> String {
    use twinwedge_workbench::core::measured::Flags;
    if measured.flags.contains(Flags::ASSUMED) { ", assumed".to_owned() } else { String::new() }
}

fn reason(value: &Value) -> String {
    match value {
        Value::Undefined(reason) => reason.to_string(),
        Value::Known(_) => format::INTERVAL_NOTE.to_owned(),
    }
}

fn time(ui: &mut Ui, family: &Development) {
    let name = family::name(family.follow);
    let wanted = words(&family.wanted, 2, "");
    widgets::section(ui, &format!("Time for the wanted {name}"));
    widgets::value_row(ui, &format!("Wanted, {}", family.wanted_from), &wanted, &reason(&family.wanted));
    let label = format!("Time at {} °C", widgets::plain(family.celsius));
    widgets::value_row(ui, &label, &words(&family.time.minutes, 1, "min"), &reason(&family.time.minutes));
    if let Value::Undefined(reason) = &family.time.minutes {
        widgets::muted(ui, &reason.to_string());
    }
    for limit in &family.time.limits {
        widgets::muted(ui, &format!("{}.", widgets::capital(&limit.to_string())));
    }
}

fn law(ui: &mut Ui, family: &Development) {
    let found = match &family.law {
        Ok(found) => found,
        Err(reason) => {
            widgets::section(ui, "Law of development");
            widgets::muted(ui, &reason.to_string());
            return;
        }
    };
    let basis = match found.basis {
        Basis::Fitted => format!("fitted to {} rolls", found.rolls),
        Basis::Exact => format!("through {} rolls", found.rolls),
        Basis::Assumed => "assumed from one roll".to_owned(),
    };
    widgets::section(ui, &format!("Law of development, {basis}")).on_hover_text(
        "Gradient = limit (1 − exp(−rate (time − induction))). S. E. Sheppard and C. E. K. Mees, 1907; A. H. Nietz, 1922",
    );
    widgets::value_row(ui, "Limit gradient", &words(&found.limit, 2, ""), &reason(&found.limit));
    let rate = Value::Known(found.rate);
    widgets::value_row(ui, "Rate", &words(&rate, 3, "/min"), format::INTERVAL_NOTE);
    if found.law.induction > 0.0 {
        let induction = words(&Value::Known(found.induction), 2, "min");
        widgets::value_row(ui, "Induction", &induction, "Minutes before development begins to show");
    }
    goodness(ui, found);
}

fn goodness(ui: &mut Ui, found: &LawFound) {
    let Some(fit) = found.fit.as_ref().filter(|fit| fit.freedom > 0) else { return };
    let text = format!("{} for {}", format::number(fit.chi_square, 1), fit.freedom);
    let hover = "Sum of squares of the rolls' departures over their uncertainties, and rolls less fitted numbers: about equal when \
                 the law holds and errors are as stated";
    widgets::value_row(ui, "Chi-square", &text, hover);
}

fn temperatures(ui: &mut Ui, family: &Development, view: &View<'_>, outbox: &mut Outbox) {
    let basis = match family.coefficient_basis {
        CoefficientBasis::Fitted => "measured on these rolls",
        CoefficientBasis::Typed => "as typed",
        CoefficientBasis::Assumed => "assumed",
    };
    widgets::section(ui, &format!("Temperature, {basis}"));
    let coefficient = format!("{} times", format::measured(&family.coefficient, 1));
    widgets::value_row(
        ui,
        "Faster per 10 °C",
        &coefficient,
        "Development's rate 10 °C warmer over that here",
    );
    for at in &family.table {
        temperature(ui, at);
    }
    widgets::footnote(ui, "18 to 24 °C: common practice, no source. Beyond, a coefficient may not hold.");
    choices::model(ui, view, outbox);
}

fn temperature(ui: &mut Ui, at: &TimeAt) {
    let label = format!("{} °C", widgets::plain(at.celsius));
    let mut hover = reason(&at.minutes);
    for limit in &at.limits {
        hover.push_str(&format!("\n{}", widgets::capital(&limit.to_string())));
    }
    let mut text = words(&at.minutes, 1, "min");
    if at.limits.iter().any(|limit| limit.code() == "Rolls.OutsideTimes") {
        text.push_str(", outside");
    }
    widgets::value_row(ui, &label, &text, &hover);
}

fn rolls(ui: &mut Ui, family: &Development) {
    widgets::section(ui, "Rolls");
    for roll in &family.rolls {
        let label = format!("{}{}", roll.label, at(roll));
        let hover = match &roll.left_out {
            Some(reason) => format!("{label}\nLeft out: {reason}"),
            None => format!("{label}\n{}", reason(&roll.gradient)),
        };
        let mut text = words(&roll.gradient, 2, "");
        if roll.left_out.is_some() {
            text.push_str(", left out");
        }
        widgets::value_row(ui, &label, &text, &hover);
    }
}

/// Time and temperature of a roll, as far as they are on record.
fn at(roll: &RollPoint) -> String {
    let minutes = roll.minutes.map(|minutes| format!(", {} min", widgets::plain(minutes)));
    let celsius = roll.celsius.map(|celsius| format!(", {} °C", widgets::plain(celsius)));
    format!("{}{}", minutes.unwrap_or_default(), celsius.unwrap_or_default())
}

/// What a comparison at the reference's contrast would rest on.
fn predicted(ui: &mut Ui, film: &Film, view: &View<'_>) {
    widgets::section(ui, "At the reference's contrast");
    match view.session.peek(&PredictedOf { film: film.id.clone() }) {
        Slot::Ready(curve) | Slot::Stale(curve, _) => {
            if let Some(prediction) = &curve.prediction {
                widgets::muted(ui, &prediction.sentence);
            }
        }
        Slot::Pending(progress) => widgets::waiting(ui, "Predicting the curve", progress),
        Slot::Failed(problem) => widgets::problem(ui, &problem),
    }
}
