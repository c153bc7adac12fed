//! The row of choices above a strip: number of steps, tablet, light, calibration, channel.

use egui::{Align, ComboBox, Id, Layout, Response, Ui};
use twinwedge_workbench::core::document::{
    Exposure, Film, FilmId, ReadingsSource, ScanId, Series, StripShape, Tablet, TabletExposure, TabletId,
};

use super::further;
use crate::appearance::widgets;
use crate::outbox::{Command, FileFor, Outbox};
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
        let of = further::named(film, number);
        if let Some(count) = steps(ui, &of, shape.steps) {
            let id = film.id.clone();
            outbox.edit(format!("set the number of steps of {of}"), move |series| {
                if let Some(ReadingsSource::Strip { shape, .. }) =
                    series.film_mut(&id).and_then(|film| film.strip_readings_mut(number))
                {
                    shape.steps = count;
                }
            });
        }
        if number == 0 {
            tablet_and_light(ui, film, view, outbox);
        }
        calibration(ui, scan, &of, view, outbox);
    });
}

/// What is read of each step.
pub(super) fn aperture(ui: &mut Ui, film: &Film, number: usize, shape: &StripShape, outbox: &mut Outbox) {
    let of = further::named(film, number);
    if let Some(aperture) = aperture::choice(ui, &of, "step", shape.aperture) {
        let id = film.id.clone();
        outbox.edit(format!("set the aperture on {of}"), move |series| {
            if let Some(ReadingsSource::Strip { shape, .. }) =
                series.film_mut(&id).and_then(|film| film.strip_readings_mut(number))
            {
                shape.aperture = aperture;
            }
        });
    }
}

/// The choices of typed readings.
pub(super) fn exposure(ui: &mut Ui, film: &Film, strip: usize, view: &View<'_>, outbox: &mut Outbox) {
    // The light of a further strip is told against the first's.
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

/// The tablet of a film's first strip, and its light.
pub(in crate::pages) fn tablet_and_light(ui: &mut Ui, film: &Film, view: &View<'_>, outbox: &mut Outbox) {
    let now = film.tablet_exposure.as_ref();
    ui.label("Tablet");
    if let Some(tablet) =
        tablet(ui, &format!("Tablet of {}", film.label), now.map(|now| &now.tablet), view, outbox)
    {
        let exposure = now.map_or(Exposure::Relative { stops_less: 0.0 }, |now| now.exposure);
        let label = format!("choose the tablet of {}", film.label);
        set_tablet(film.id.clone(), label, tablet, exposure, outbox);
    }
    let Some(now) = now else { return };
    let id = ui.scope_id().with(("light", &film.id));
    match now.exposure {
        Exposure::Relative { stops_less } => {
            ui.label("Stops less light");
            let name = format!("Stops less light on {}", film.label);
            let hover = "Stops less than the series' full exposure: neutral density or a shorter time";
            if let Some(Some(stops)) = widgets::number_field(ui, id, &name, Some(stops_less), hover, 48.0) {
                let exposure = Exposure::Relative { stops_less: stops };
                set_light(film, exposure, outbox);
            }
        }
        Exposure::Absolute { log_h, u } => {
            ui.label("log H of the light");
            let name = format!("log H of the light on {}", film.label);
            let hover = "lg of lux seconds before the tablet: a calibrated light";
            if let Some(Some(log_h)) = widgets::number_field(ui, id, &name, Some(log_h), hover, 56.0) {
                set_light(film, Exposure::Absolute { log_h, u }, outbox);
            }
        }
    }
}

fn set_light(film: &Film, exposure: Exposure, outbox: &mut Outbox) {
    let id = film.id.clone();
    outbox.edit(format!("set the light on {}", film.label), move |series: &mut Series| {
        if let Some(now) = series.film_mut(&id).and_then(|film| film.tablet_exposure.as_mut()) {
            now.exposure = exposure;
        }
    });
}

fn set_tablet(
    film: FilmId,
    label: String,
    (tablet, made): (TabletId, Option<Tablet>),
    exposure: Exposure,
    outbox: &mut Outbox,
) {
    outbox.edit(label, move |series: &mut Series| {
        if let Some(made) = made {
            series.tablets.entry(tablet.clone()).or_insert(made);
        }
        if let Some(film) = series.film_mut(&film) {
            // What else is on record of the exposure stays.
            match &mut film.tablet_exposure {
                Some(exposed) => (exposed.tablet, exposed.exposure) = (tablet, exposure),
                None => film.tablet_exposure = Some(TabletExposure::new(tablet, exposure)),
            }
        }
    });
}

/// A tablet chosen from the series' and the nominal ones; with the nominal one itself where the series lacks it.
pub(in crate::pages) fn tablet(
    ui: &mut Ui,
    name: &str,
    now: Option<&TabletId>,
    view: &View<'_>,
    outbox: &mut Outbox,
) -> Option<(TabletId, Option<Tablet>)> {
    let label =
        |id: &TabletId| view.series.tablets.get(id).map_or(id.0.clone(), |tablet| tablet.label.clone());
    let shown = now.map_or_else(|| "choose".to_owned(), label);
    let mut chosen = None;
    let response = bounded(ui, 168.0, Id::unique(name), &shown, |ui| {
        for (id, tablet) in &view.series.tablets {
            if ui.selectable_label(Some(id) == now, &tablet.label).clicked() {
                chosen = Some((id.clone(), None));
            }
        }
        for tablet in [11, 21, 31, 41].into_iter().filter_map(Tablet::nominal) {
            let id = TabletId(format!("{} steps nominal", tablet.steps.len()));
            if !view.series.tablets.contains_key(&id) && ui.selectable_label(false, &tablet.label).clicked() {
                chosen = Some((id, Some(tablet)));
            }
        }
        if ui.selectable_label(false, "From a file ...").clicked() {
            outbox.send(Command::Ask(FileFor::Tablet));
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
        let scan = scan.clone();
        outbox.edit(format!("choose the calibration of {}", scan.0), move |series: &mut Series| {
            if let Some(entry) = series.scans.get_mut(&scan) {
                entry.calibration = calibration;
            }
        });
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
