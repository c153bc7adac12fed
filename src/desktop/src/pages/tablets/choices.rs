//! The row of choices above a strip: number of steps, tablet, light, calibration, channel.

use egui::{Align, ComboBox, Id, Layout, Response, Ui};
use twinwedge_workbench::core::document::{Exposure, Film, ScanId, StripShape, TabletId};
use twinwedge_workbench::edits::{ScanChange, StripChange, TabletChoice, TabletEdit, TabletOf, named};
use twinwedge_workbench::intake::Purpose;

use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::{View, aperture};

/// The choices of a strip on a scan.
pub(super) fn strip(
    ui: &mut Ui,
    film: &Film,
    number: usize,
    scan: &ScanId,
    shape: &StripShape,
    view: &View<'_>,
    outbox: &mut Outbox,
) {
    ui.horizontal_wrapped(|ui| {
        let of = named(film, number);
        if let Some(count) = steps(ui, &of, shape.steps) {
            outbox.change(StripChange::Steps(count).of(&film.id, number));
        }
        if number == 0 {
            tablet_and_light(ui, film, view, outbox);
        }
        calibration(ui, scan, &of, view, outbox);
    });
}

/// What is read of each step.
pub(super) fn aperture(ui: &mut Ui, film: &Film, number: usize, shape: &StripShape, outbox: &mut Outbox) {
    let of = named(film, number);
    if let Some(aperture) = aperture::choice(ui, &of, "step", shape.aperture) {
        outbox.change(StripChange::Aperture(aperture).of(&film.id, number));
    }
}

/// The choices of typed readings.
pub(super) fn exposure(ui: &mut Ui, film: &Film, strip: usize, view: &View<'_>, outbox: &mut Outbox) {
    // The light of an additional strip is told against the first's.
    if strip == 0 {
        ui.horizontal_wrapped(|ui| tablet_and_light(ui, film, view, outbox));
    }
}

/// The number of steps of a strip, typed.
pub(super) fn steps(ui: &mut Ui, of: &str, count: u32) -> Option<u32> {
    let name = format!("Number of steps of {of}");
    let id = ui.scope_id().with(&name);
    ui.label("Steps");
    let entered =
        widgets::number_field(ui, id, &name, Some(f64::from(count)), "Number of steps on the strip", 40.0)??;
    let wanted = entered.round() as u32;
    (2..=200).contains(&wanted).then_some(wanted).filter(|wanted| *wanted != count)
}

/// The tablet of a film's strips, and the light on the first.
pub(in crate::pages) fn tablet_and_light(ui: &mut Ui, film: &Film, view: &View<'_>, outbox: &mut Outbox) {
    let now = film.tablet_exposure.as_ref();
    ui.label("Tablet");
    if let Some(tablet) =
        tablet(ui, &format!("Tablet of {}", film.label), now.map(|now| &now.tablet), view, outbox)
    {
        outbox.change(TabletEdit::Choose(TabletOf::Film(film.id.clone()), tablet));
    }
    let Some(now) = now else { return };
    let id = ui.scope_id().with(("light", &film.id));
    match now.exposure {
        Exposure::Relative { .. } | Exposure::NotSaid => {
            ui.label("Stops less light");
            let name = format!("Stops less light on {}", film.label);
            let hover = "Stops less than the series' full exposure, by neutral density or a shorter time: 0 where it had all of \
                         it. Empty: not said, and speeds are not compared";
            let said = match now.exposure {
                Exposure::Relative { stops_less } => Some(stops_less),
                _ => None,
            };
            if let Some(stops) = widgets::number_field(ui, id, &name, said, hover, 48.0) {
                let exposure =
                    stops.map_or(Exposure::NotSaid, |stops_less| Exposure::Relative { stops_less });
                outbox.change(StripChange::Light(exposure).of(&film.id, 0));
            }
        }
        Exposure::Absolute { log_h, u } => {
            ui.label("log H of the light");
            let name = format!("log H of the light on {}", film.label);
            let hover = "lg of lux seconds before the tablet: a calibrated light";
            if let Some(Some(log_h)) = widgets::number_field(ui, id, &name, Some(log_h), hover, 56.0) {
                outbox.change(StripChange::Light(Exposure::Absolute { log_h, u }).of(&film.id, 0));
            }
        }
    }
}

/// A tablet chosen from the series' and the nominal ones.
pub(in crate::pages) fn tablet(
    ui: &mut Ui,
    name: &str,
    now: Option<&TabletId>,
    view: &View<'_>,
    outbox: &mut Outbox,
) -> Option<TabletChoice> {
    let label =
        |id: &TabletId| view.series.tablets.get(id).map_or(id.0.clone(), |tablet| tablet.label.clone());
    let shown = now.map_or_else(|| "choose".to_owned(), label);
    let mut chosen = None;
    let response = bounded(ui, 168.0, Id::unique(name), &shown, |ui| {
        for (id, tablet) in &view.series.tablets {
            if ui.selectable_label(Some(id) == now, &tablet.label).clicked() {
                chosen = Some(TabletChoice::InSeries(id.clone()));
            }
        }
        for (choice, label) in TabletChoice::nominal(view.series) {
            if ui.selectable_label(false, label).clicked() {
                chosen = Some(choice);
            }
        }
        if ui.selectable_label(false, "From a file ...").clicked() {
            outbox.ask(Purpose::Tablet);
        }
    });
    let spoken = format!("{name}: {shown}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ComboBox, true, spoken.clone()));
    response.on_hover_text(format!("{shown}\nThe known densities of the tablet's steps"));
    chosen
}

/// Which calibration turns a scan's codes into densities.
pub(super) fn calibration(ui: &mut Ui, scan: &ScanId, of: &str, view: &View<'_>, outbox: &mut Outbox) {
    let Some(entry) = view.series.scans.get(scan) else { return };
    let name = |id| view.series.calibrations.get(id).map_or("missing", |made| made.label.as_str());
    let shown = entry.calibration.as_ref().map_or("none", name);
    ui.label("Calibration");
    let mut chosen = None;
    let response = bounded(ui, 136.0, Id::unique(("calibration of", of)), shown, |ui| {
        if ui.selectable_label(entry.calibration.is_none(), "none: by what its codes stand for").clicked() {
            chosen = Some(None);
        }
        for (id, made) in &view.series.calibrations {
            if ui.selectable_label(entry.calibration.as_ref() == Some(id), &made.label).clicked() {
                chosen = Some(Some(id.clone()));
            }
        }
    });
    let spoken = format!("Calibration of the scan of {of}: {shown}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ComboBox, true, spoken.clone()));
    response.on_hover_text("What turns the scan's codes into densities");
    if let Some(calibration) = chosen {
        outbox.change(ScanChange::Calibration(calibration).of(scan));
    }
}

/// A list to choose from that takes `width` and no more, however long the chosen name is.
pub(super) fn bounded(ui: &mut Ui, width: f32, id: Id, shown: &str, list: impl FnOnce(&mut Ui)) -> Response {
    let place = egui::vec2(width, ui.spacing().interact_size.y);
    let layout = Layout::left_to_right(Align::Center);
    ui.allocate_ui_with_layout(place, layout, |ui| {
        ui.set_width(width);
        let combo = ComboBox::from_id_salt(id).width(width).truncate().selected_text(shown);
        combo.show_ui(ui, list).response
    })
    .inner
}
