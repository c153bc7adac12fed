//! What both films are rated at, the subject, flare, the third film, and the print exposures.

use egui::{Id, Ui};
use twinwedge_workbench::core::document::PrintMatch;
use twinwedge_workbench::core::tone::{Chain, METERED_ZONE, TEXTBOOK_FLARE_FACTOR};
use twinwedge_workbench::edits::{ToneEdit, ToneNumber};

use crate::appearance::{STEP, widgets};
use crate::outbox::Outbox;
use crate::pages::View;

/// A third of a stop as a ratio of exposure indices.
fn third() -> f64 {
    2_f64.cbrt()
}

/// A number of three significant digits.
pub(super) fn three_digits(value: f64) -> f64 {
    let scale = 10_f64.powf(value.abs().log10().floor() - 2.0);
    if scale > 0.0 && scale.is_finite() { (value / scale).round() * scale } else { value }
}

/// The choices in two rows: what is photographed and how it is rated, and how it is printed.
pub(super) fn bar(ui: &mut Ui, view: &View<'_>, chain: Option<&Chain<'_>>, outbox: &mut Outbox) {
    ui.horizontal_wrapped(|ui| {
        index(ui, view, chain, outbox);
        ui.add_space(STEP);
        subject(ui, view, outbox);
    });
    if view.series.paper.is_some() {
        ui.horizontal_wrapped(|ui| print(ui, view, chain, outbox));
    }
}

fn steps(ui: &mut Ui, what: &str, hover: &str) -> i32 {
    let mut step = 0;
    for (word, by) in [("−⅓", -1), ("+⅓", 1)] {
        let response = ui.button(word).on_hover_text(hover);
        let name = format!("{what} {word} stop");
        response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &name));
        if response.clicked() {
            step = by;
        }
    }
    step
}

fn index(ui: &mut Ui, view: &View<'_>, chain: Option<&Chain<'_>>, outbox: &mut Outbox) {
    let now = chain.map(Chain::index).or(view.series.tones.exposure_index);
    ui.label("Exposure index");
    let hover =
        "All films are exposed at this index, whatever their boxes say. Empty: the reference's box speed";
    let id = ui.scope_id().with("exposure index");
    if let Some(entered) = widgets::number_field(ui, id, "Exposure index", now, hover, 56.0) {
        outbox.change(ToneEdit::ExposureIndex(entered));
    }
    let hover = "A third of a stop; in the diagram drag the films sideways";
    let step = steps(ui, "Exposure index", hover);
    if let (true, Some(now)) = (step != 0, now) {
        let index = three_digits(now * third().powi(step));
        outbox.change(ToneEdit::ExposureIndex(Some(index)));
    }
}

/// A number of the choices that must lie between two others.
pub(super) fn number(
    ui: &mut Ui,
    view: &View<'_>,
    name: &str,
    hover: &str,
    limits: (f64, f64),
    which: ToneNumber,
    outbox: &mut Outbox,
) {
    let id = ui.scope_id().with(name);
    let hover = format!("{hover} ({} to {})", limits.0, limits.1);
    let now = which.value_in(&view.series.tones);
    let Some(Some(value)) = widgets::number_field(ui, id, name, Some(now), &hover, 44.0) else { return };
    if (limits.0..=limits.1).contains(&value) {
        outbox.change(ToneEdit::Number(which, value));
    } else {
        let told = format!("{name} goes from {} to {}; it stays as it was.", limits.0, limits.1);
        outbox.send(crate::outbox::Command::Say(told));
    }
}

fn subject(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    ui.label("Subject");
    let hover = "Range of the subject in stops. 7.3 (160 to 1) is a mean outdoor range after Jones and Condit (1941), recalled";
    number(ui, view, "Subject range in stops", hover, (1.0, 20.0), ToneNumber::SubjectStops, outbox);
    ui.label("stops from zone");
    number(
        ui,
        view,
        "Zone of the darkest tone",
        "The zone on which the subject's darkest tone is placed",
        (0.0, 8.0),
        ToneNumber::ShadowZone,
        outbox,
    );
    ui.label("Flare factor");
    let hover = format!(
        "Subject range over image range: 1 is no flare, as zones are metered; {TEXTBOOK_FLARE_FACTOR} is a textbook mean, \
         recalled. Flare is taken as even light added to the image"
    );
    number(ui, view, "Flare factor", &hover, (1.0, 20.0), ToneNumber::FlareFactor, outbox);
}

/// The film in the third column.
pub(super) fn third_film(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let now = view.series.tones.third.as_ref().and_then(|id| view.series.film(id));
    let shown = now.map_or("none", |film| film.label.as_str());
    ui.label("Third");
    let mut chosen = None;
    let combo = egui::ComboBox::from_id_salt(Id::unique("third film")).width(112.0).truncate();
    let response = combo.selected_text(shown).show_ui(ui, |ui| {
        if ui.selectable_label(now.is_none(), "none").clicked() {
            chosen = Some(None);
        }
        let on_bench = |id: &_| view.bench().any(|film| film.id == *id);
        let reference = view.reference.map(|film| film.id.clone());
        // Other rolls of the reference first: a pushed roll is what a faster film is held against.
        let (rolls, others): (Vec<_>, Vec<_>) =
            view.series.films.iter().filter(|film| !on_bench(&film.id)).partition(|film| {
                reference
                    .as_ref()
                    .is_some_and(|id| view.series.family_head(&film.id) == view.series.family_head(id))
            });
        for film in rolls.into_iter().chain(others) {
            if ui.selectable_label(now.is_some_and(|now| now.id == film.id), &film.label).clicked() {
                chosen = Some(Some(film.id.clone()));
            }
        }
    });
    let response = response.response;
    let spoken = format!("Third film: {shown}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ComboBox, true, &spoken));
    response.on_hover_text("A third curve: a pushed roll of the reference, or any film of the series");
    if let Some(chosen) = chosen {
        outbox.change(ToneEdit::Third(chosen));
    }
}

fn print(ui: &mut Ui, view: &View<'_>, chain: Option<&Chain<'_>>, outbox: &mut Outbox) {
    let now = chain.and_then(|chain| chain.print_stops(0));
    let rounded = now.map(|stops| (stops * 100.0).round() / 100.0);
    ui.label("Print exposure");
    let hover = "Of the reference's print, in stops above the exposure of the paper test. Empty: as the seconds on record say";
    let id = ui.scope_id().with("print exposure");
    if let Some(entered) = widgets::number_field(ui, id, "Print exposure in stops", rounded, hover, 56.0) {
        outbox.change(ToneEdit::PrintStops(entered));
    }
    let step = steps(ui, "Print exposure", "A third of a stop; in the diagram drag the papers up or down");
    if let (true, Some(now)) = (step != 0, now) {
        let stops = ((now + f64::from(step) / 3.0) * 100.0).round() / 100.0;
        outbox.change(ToneEdit::PrintStops(Some(stops)));
    }
    let mut chosen = view.series.tones.print_match;
    let zone = match chosen {
        PrintMatch::Zone(zone) => zone,
        _ => METERED_ZONE,
    };
    let options = [
        (PrintMatch::BaseFog, "base+fog", "Each further film is printed longer by its base+fog alone"),
        (
            PrintMatch::Zone(zone),
            "zone V",
            "Each further film is printed so that zone V is as dark as from the reference",
        ),
        (
            PrintMatch::AsPrinted,
            "as printed",
            "By the seconds on record for each print and for the paper test",
        ),
        (PrintMatch::Same, "same", "All films get the reference's print exposure"),
    ];
    if widgets::choice(ui, "Others by", &mut chosen, &options) {
        outbox.change(ToneEdit::PrintMatch(chosen));
    }
}
