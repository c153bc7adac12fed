//! What is followed, what is wanted, and what comparisons use.

use egui::Ui;

use twinwedge_workbench::core::document::{CompareAs, FollowedGradient, Induction};
use twinwedge_workbench::edits::DevelopmentEdit;

use crate::appearance::widgets;
use crate::outbox::{Command, Outbox};
use crate::pages::View;

/// The row of choices that matter for what is seen.
pub(super) fn bar(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let chosen = &view.series.development;
    let mut follow = chosen.follow;
    let options = [
        (
            FollowedGradient::Average,
            "average gradient",
            "Over the series' range above the speed point; by the law as a convenience",
        ),
        (FollowedGradient::Gamma, "gamma", "Slope of the straight line, for which the law was found"),
        (
            FollowedGradient::IsoContrast,
            "over 1.30",
            "Density gained over 1.30 in log H from the speed point, divided by 1.30",
        ),
    ];
    if widgets::choice(ui, "Follow", &mut follow, &options) {
        outbox.change(DevelopmentEdit::Follow(follow));
    }
    number(
        ui,
        "Wanted",
        "",
        "The gradient wanted; empty is the reference film's",
        chosen.wanted,
        (0.1, 3.0),
        outbox,
        DevelopmentEdit::Wanted,
    );
}

/// Which curves comparisons use.
pub(super) fn compare_as(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let mut compare_as = view.series.development.compare_as;
    let options = [
        (CompareAs::AsDeveloped, "as developed", "Comparisons use the curves that were measured"),
        (
            CompareAs::MatchedContrast,
            "at the reference's contrast",
            "Comparisons on all pages, in the report and in the verbs use predicted curves: every candidate as if developed to \
             the reference's contrast",
        ),
    ];
    if widgets::choice(ui, "Compare", &mut compare_as, &options) {
        outbox.change(DevelopmentEdit::CompareAs(compare_as));
    }
}

/// What the law and the temperature correction rest on.
pub(super) fn model(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let chosen = &view.series.development;
    number(
        ui,
        "Per 10 °C",
        "times faster",
        "How many times faster development runs per 10 °C, where it is known; empty: measured where rolls differ in temperature, \
         else assumed",
        chosen.temperature_coefficient,
        (1.0, 6.0),
        outbox,
        DevelopmentEdit::TemperatureCoefficient,
    );
    let minutes = match chosen.induction {
        Induction::Minutes(minutes) => Some(minutes),
        Induction::None | Induction::Fitted => None,
    };
    number(
        ui,
        "Induction",
        "min",
        "Minutes before development begins to show; empty is none",
        minutes,
        (0.0, 10.0),
        outbox,
        |value| DevelopmentEdit::Induction(value.map_or(Induction::None, Induction::Minutes)),
    );
    let mut fitted = chosen.induction == Induction::Fitted;
    if widgets::switch(
        ui,
        &mut fitted,
        "Fit the induction time",
        "Found from the rolls, where there are four or more",
    ) {
        let induction = if fitted { Induction::Fitted } else { Induction::None };
        outbox.change(DevelopmentEdit::Induction(induction));
    }
}

#[expect(clippy::too_many_arguments, reason = "a field is all of these")]
fn number(
    ui: &mut Ui,
    name: &str,
    unit: &str,
    hover: &str,
    current: Option<f64>,
    (least, most): (f64, f64),
    outbox: &mut Outbox,
    edit: fn(Option<f64>) -> DevelopmentEdit,
) {
    ui.horizontal(|ui| {
        let color = crate::appearance::Tokens::get(ui).muted;
        ui.label(egui::RichText::new(name).color(color)).on_hover_text(hover);
        let id = ui.scope_id().with(name);
        let entered = widgets::number_field(ui, id, name, current, hover, 48.0);
        if !unit.is_empty() {
            ui.label(egui::RichText::new(unit).color(color));
        }
        let Some(value) = entered else { return };
        if value.is_none_or(|value| (least..=most).contains(&value)) {
            outbox.change(edit(value));
        } else {
            outbox.send(Command::Say(format!("{name} goes from {least} to {most}; it stays as it was.")));
        }
    });
}
