//! Several strips of one roll: which one is shown, its name, and its light against that of the first.

use egui::{Id, Ui};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, Strip, StripLevel};
use twinwedge_workbench::edits::{StripChange, TabletEdit, TabletOf, named, removable};
use twinwedge_workbench::engine::ask::CurveOf;

use super::choices;
use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::{View, curves};

/// Uncertainty of a stated level where none was typed yet, in stops: a tenth, a shutter's or a filter's usual error.
/// Common practice, no source.
const USUAL_U: f64 = 0.1;

/// The row that says which strip is shown, and what is known of it.
pub(super) fn row(ui: &mut Ui, film: &Film, chosen: &mut usize, view: &View<'_>, outbox: &mut Outbox) {
    if film.strips.is_empty() {
        *chosen = 0;
        return;
    }
    let shown = *chosen;
    let one_of_several = film.strips.get(shown).filter(|_| film.strips.len() > 1);
    ui.horizontal_wrapped(|ui| {
        selector(ui, film, chosen);
        if let Some(strip) = one_of_several {
            name(ui, film, strip, shown, outbox);
            if removable(film, shown) {
                remove(ui, film, chosen, outbox);
            }
            found(ui, film, shown, view);
        } else if shown == 0 {
            take_away(ui, film, outbox);
        }
    });
    if let Some(strip) = one_of_several.filter(|_| shown > 0) {
        ui.horizontal_wrapped(|ui| {
            level(ui, film, strip, shown, outbox);
            tablet(ui, film, shown, view, outbox);
        });
    }
}

fn selector(ui: &mut Ui, film: &Film, chosen: &mut usize) {
    let new = *chosen >= film.strips.len();
    if film.strips.len() > 1 || new {
        ui.label("Strip");
        let shown = if new { "an additional strip".to_owned() } else { film.strip_name(*chosen) };
        let response = choices::bounded(ui, 120.0, Id::unique(("strip shown", &film.id)), &shown, |ui| {
            for strip in 0..film.strips.len() {
                ui.selectable_value(chosen, strip, film.strip_name(strip));
            }
        });
        let spoken = format!("Strip of {} shown: {shown}", film.label);
        response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ComboBox, true, spoken.clone()));
        response
            .on_hover_text("Strips of one roll, exposed to the same light at other levels, make one curve");
    }
    let hover = "Another strip of the same roll, exposed to the same light weaker or stronger: this is how a fast film's toe \
                 and a long shoulder come onto the tablet";
    if !new && widgets::button(ui, "Add a strip", hover).clicked() {
        *chosen = film.strips.len();
    }
    if new && widgets::button(ui, "No additional strip", "Back to the strips that are there").clicked() {
        *chosen = 0;
    }
}

fn name(ui: &mut Ui, film: &Film, strip: &Strip, number: usize, outbox: &mut Outbox) {
    let id = ui.scope_id().with(("strip name", &film.id, number));
    let label = format!("Name of strip {} of {}", number + 1, film.label);
    let hover = "What this strip is called; its number where the name is empty";
    ui.label("Name");
    if let Some(entered) = widgets::text_field(ui, id, &label, &strip.name, hover, 128.0) {
        outbox.change(StripChange::Name(entered).of(&film.id, number));
    }
}

fn level(ui: &mut Ui, film: &Film, strip: &Strip, number: usize, outbox: &mut Outbox) {
    let of = named(film, number);
    let id = ui.scope_id().with(("level", &film.id, number));
    let known = matches!(strip.level, StripLevel::StopsLess { .. });
    // That it is known, said before the number is: until that stands there the light is found from the overlap.
    let asked = id.with("asked");
    let mut now = known || ui.data(|data| data.get_temp(asked)).unwrap_or(false);
    let options = [
        (
            true,
            "stops less",
            "How many stops less light it had than the first strip is known: neutral density or time",
        ),
        (false, "from the overlap", "Found from the densities that it has in common with the other strips"),
    ];
    if widgets::choice(ui, &format!("Light of {}", film.strip_name(number)), &mut now, &options) {
        ui.data_mut(|data| data.insert_temp(asked, now));
        if known && !now {
            outbox.change(StripChange::Level(StripLevel::FromOverlap).of(&film.id, number));
        }
        return;
    }
    if !now {
        return;
    }
    let (stops, u) = match strip.level {
        StripLevel::StopsLess { stops, u } => (Some(stops), u),
        StripLevel::FromOverlap => (None, USUAL_U),
    };
    let mut set = |stops: f64, u: f64| {
        outbox.change(StripChange::Level(StripLevel::StopsLess { stops, u }).of(&film.id, number));
    };
    let hover = "Stops less light than the first strip; below zero for more";
    let name = format!("Stops less light on {of}");
    if let Some(Some(stops)) = widgets::number_field(ui, id, &name, stops, hover, 48.0) {
        return set(stops, u);
    }
    let Some(stops) = stops else {
        widgets::muted_inline(ui, "not said yet: found from the overlap");
        return;
    };
    ui.label("±");
    let hover = "Standard uncertainty in stops, of the neutral density or of the shutter";
    let name = format!("Uncertainty of the stops less light on {of}");
    if let Some(Some(u)) = widgets::number_field(ui, id.with("u"), &name, Some(u), hover, 52.0) {
        set(stops, u);
    }
}

fn tablet(ui: &mut Ui, film: &Film, number: usize, view: &View<'_>, outbox: &mut Outbox) {
    ui.label("Tablet");
    let now = film.strip_tablet(number);
    let of = named(film, number);
    if let Some(tablet) = choices::tablet(ui, &format!("Tablet of {of}"), now, view, outbox) {
        outbox.change(TabletEdit::Choose(TabletOf::Strip(film.id.clone(), number), tablet));
    }
}

fn remove(ui: &mut Ui, film: &Film, chosen: &mut usize, outbox: &mut Outbox) {
    let hover = "Takes this strip out of the film; undo brings it back";
    if !widgets::button(ui, "Remove this strip", hover).clicked() {
        return;
    }
    outbox.change(StripChange::Remove.of(&film.id, *chosen));
    *chosen = 0;
}

/// The only strip goes: the film has no curve then.
fn take_away(ui: &mut Ui, film: &Film, outbox: &mut Outbox) {
    let hover = "Takes its readings out of the film; a scan's file stays. Undo brings them back";
    let response = widgets::button(ui, "Take away", hover);
    widgets::name_it(&response, &format!("Take the strip of {} away", film.label));
    if response.clicked() {
        outbox.change(StripChange::Remove.of(&film.id, 0));
    }
}

/// What the curve found of its level.
fn found(ui: &mut Ui, film: &Film, number: usize, view: &View<'_>) {
    let slot = view.session.peek(&CurveOf { film: film.id.clone() });
    let Some(curve) = slot.value() else { return };
    let Some(level) = curve.curve.levels.iter().find(|level| level.strip == number) else { return };
    let words = curves::level_words(level);
    let response =
        widgets::muted_inline(ui, &format!("found: {} stops less", format::number(level.stops_less, 2)));
    response.on_hover_text(words);
}
