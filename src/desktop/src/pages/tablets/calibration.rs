//! The calibration of the scanner: a tablet of known densities on a scan, the residuals of the table made from it, and the
//! range in which it may be trusted.

use egui::{Id, Ui, UiBuilder, vec2};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Calibration, CalibrationId};
use twinwedge_workbench::core::drawing::{Axis, Layer, Plot, Role};
use twinwedge_workbench::core::scan::CalibrationFit;
use twinwedge_workbench::core::tablet::find::Order;
use twinwedge_workbench::core::tablet::step_areas;
use twinwedge_workbench::edits::{CalibrationChange, TabletEdit, TabletOf};
use twinwedge_workbench::engine::ask::{CalibrationOf, ScreenTones, TilePicture};
use twinwedge_workbench::intake::Purpose;

use super::found::{self, Placed};
use super::{choices, strip, trust};
use crate::appearance::table::{Column, NumberCell, Table, number_cell};
use crate::appearance::{Tokens, over, widgets};
use crate::canvas::{self, Picture, Tiles, ZoomPan};
use crate::outbox::Outbox;
use crate::pages::{View, missing, scan_trust};
use crate::plot;

/// What is kept of the calibrations.
#[derive(Debug, Default)]
pub(super) struct Bench {
    pub(super) sight: ZoomPan,
    chosen: Option<CalibrationId>,
}

impl Bench {
    fn chosen<'a>(&self, view: &View<'a>) -> Option<(&'a CalibrationId, &'a Calibration)> {
        let made = &view.series.calibrations;
        let chosen = self.chosen.as_ref().and_then(|id| made.get_key_value(id));
        chosen.or_else(|| made.iter().next())
    }

    pub(super) fn ui(&mut self, ui: &mut Ui, view: &View<'_>, tiles: &mut Tiles, outbox: &mut Outbox) {
        let Some((id, made)) = self.chosen(view) else {
            let pressed = widgets::empty(
                ui,
                "A calibration of the scanner goes here",
                "Scan a step tablet of known densities as the strips are scanned. Until then scans are read by \
                 what their codes stand for, and everything made from them says 'uncalibrated'.",
                "Open a scan of the tablet ...",
            );
            if pressed {
                outbox.ask(Purpose::Calibration);
            }
            return;
        };
        self.head(ui, id, made, view, outbox);
        let placed = placed(made);
        let slot = placed.found(view);
        if let Some(shape) = found::row(ui, &placed, &slot, |_| {}) {
            outbox.change(CalibrationChange::Found(shape).of(id));
        }
        let whole = ui.available_rect_before_wrap();
        let scan = egui::Rect::from_min_size(whole.min, vec2(whole.width(), (whole.height() * 0.45).floor()));
        let below = egui::Rect::from_min_max(scan.left_bottom() + vec2(0.0, 8.0), whole.max);
        self.scan(ui, scan, id, made, view, tiles, outbox);
        ui.scope_builder(UiBuilder::new().max_rect(below), |ui| residual_plot(ui, id, view));
    }

    fn head(
        &mut self,
        ui: &mut Ui,
        id: &CalibrationId,
        made: &Calibration,
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        ui.horizontal_wrapped(|ui| {
            ui.label("Calibration");
            let id_of_list = Id::unique("calibration shown");
            let response = choices::bounded(ui, 168.0, id_of_list, &made.label, |ui| {
                for (other, calibration) in &view.series.calibrations {
                    if ui.selectable_label(other == id, &calibration.label).clicked() {
                        self.chosen = Some(other.clone());
                    }
                }
            });
            let spoken = format!("Calibration shown: {}", made.label);
            response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::ComboBox, true, spoken.clone()));
            response
                .on_hover_text("The calibration that is shown: each scanner and kind of scan has its own");
            if let Some(count) = choices::steps(ui, &made.label, made.shape.steps) {
                outbox.change(CalibrationChange::Steps(count).of(id));
            }
            ui.label("Tablet");
            let name = format!("Tablet of the calibration {}", made.label);
            if let Some(tablet) = choices::tablet(ui, &name, Some(&made.tablet), view, outbox) {
                outbox.change(TabletEdit::Choose(TabletOf::Calibration(id.clone()), tablet));
            }
            if widgets::button(ui, "Another ...", "Opens a scan of a tablet of known densities").clicked() {
                outbox.ask(Purpose::Calibration);
            }
        });
    }

    #[expect(clippy::too_many_arguments, reason = "one calibration and the frame it is drawn in")]
    fn scan(
        &mut self,
        ui: &mut Ui,
        rect: egui::Rect,
        id: &CalibrationId,
        made: &Calibration,
        view: &View<'_>,
        tiles: &mut Tiles,
        outbox: &mut Outbox,
    ) {
        ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).raised);
        let Ok(size) = canvas::size_of(view.session, &made.scan) else {
            return missing::instead(ui, rect, view, &made.scan, None, outbox);
        };
        let name = format!("Calibration scan {}", made.label);
        let picture = Picture {
            tiles: TilePicture::Scan(made.scan.clone()),
            size,
            look: ScreenTones::default(),
            name: &name,
        };
        let (response, placement) =
            canvas::show(ui, rect, &mut self.sight.camera, &picture, tiles, view.session);
        self.sight.shown(placement, ui.pixels_per_point());
        let painter = ui.painter_at(rect);
        canvas::quad(&painter, &placement, &made.shape.quad, 1.0, Tokens::get(ui).pale);
        let slot = placed(made).found(view);
        if let Some(found) = placed(made).as_found(&slot) {
            found::draw(&painter, &placement, &found.value);
        }
        for area in step_areas(&made.shape) {
            canvas::quad(&painter, &placement, &area, 1.0, over::LIGHT);
        }
        let moved = |quad| CalibrationChange::Place(quad).of(id);
        let names = [
            "Calibration: corner at the start of step 1",
            "Calibration: corner at the end of the last step",
            "Calibration: other corner at the end of the last step",
            "Calibration: other corner at the start of step 1",
            "Calibration: the whole tablet",
        ];
        if let Some(held) = canvas::quad_handles(ui, &placement, &made.shape.quad, names, moved, outbox) {
            canvas::loupe(ui, rect, &placement, &held, &picture, tiles, view.session);
        }
        if let Some(at) = response.hover_pos() {
            strip::pointer(view, Role::Reference, &made.scan, placement.scan(at), outbox);
        }
    }

    pub(super) fn readout(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        ui.heading("Calibration");
        let Some((id, made)) = self.chosen(view) else {
            widgets::muted(ui, "No calibration yet: densities from scans are marked 'uncalibrated'.");
            return;
        };
        let users = view.series.scans.values().filter(|scan| scan.calibration.as_ref() == Some(id)).count();
        widgets::value_row(
            ui,
            "Used by",
            &format!("{users} scans"),
            "Scans whose codes are turned into density by it",
        );
        scan_trust::line(ui, view, "Scan", &made.scan);
        let slot = placed(made).found(view);
        if let Some(found) = placed(made).as_found(&slot) {
            found::words(ui, &made.label, found);
        }
        let slot = view.session.peek(&CalibrationOf { calibration: id.clone() });
        widgets::slot(ui, &slot, &format!("Calibrating by {}", made.label), |ui, fit| {
            table(ui, fit);
            trust::readout(ui, fit);
        });
        trust::repeat(ui, view, id, made, outbox);
        crate::pages::scan_choices::scan(ui, view, "calibration", &made.scan, outbox);
    }
}

fn placed(made: &Calibration) -> Placed<'_> {
    Placed { scan: &made.scan, shape: &made.shape, tablet: Some(&made.tablet), order: Order::Rising }
}

fn table(ui: &mut Ui, fit: &CalibrationFit) {
    let (low, high) = fit.table.trusted;
    let range = format!("D {} to {}", format::number(low, 2), format::number(high, 2));
    widgets::value_row(
        ui,
        "Trusted range",
        &range,
        "Outside it every density is marked 'outside the calibrated range'",
    );
    widgets::value_row(
        ui,
        "Residuals, r.m.s.",
        &format!("D {}", format::number(fit.rms, 3)),
        "Root mean square of density by the table minus known density",
    );
    for note in &fit.notes {
        widgets::footnote(ui, &note.to_string());
    }
    for word in fit.table.flags.words() {
        widgets::footnote(ui, word);
    }
    ui.add_space(4.0);
    let columns = [
        Column::number("Step", 44.0),
        Column::number("Known", 60.0).growing(1.0).hover("Known density of the step"),
        Column::number("Code", 76.0).growing(1.0).hover("Mean code of the scan over the step"),
        Column::number("Residual", 76.0).growing(1.0).hover("Density by the table minus known density"),
    ];
    let mut table = Table::new("Calibration steps", &columns, fit.points.len());
    table.height = ui.available_height().max(240.0);
    table.show(
        ui,
        |row| format!("Step {}", fit.points[row].step),
        |ui, row, column| {
            let point = &fit.points[row];
            let residual = fit.residuals.get(row).copied().flatten();
            let flags = point.flags.words().join(", ");
            let (name, text, decimals) = match column {
                0 => ("Step", point.step.to_string(), 0),
                1 => ("Known density", format::number(point.density, 2), 2),
                2 => ("Mean code", format::number(point.code, 0), 0),
                _ => ("Residual", residual.map_or("–".to_owned(), |r| format::signed(r, 3)), 3),
            };
            number_cell(
                ui,
                &NumberCell {
                    name: format!("{name}, step {}", point.step).into(),
                    text: text.into(),
                    hover: if residual.is_none() && column == 3 { "Not used".into() } else { flags.into() },
                    grey: residual.is_none(),
                    ..NumberCell::plain("", "", decimals)
                },
            );
        },
    );
}

fn residual_plot(ui: &mut Ui, id: &CalibrationId, view: &View<'_>) {
    let slot = view.session.peek(&CalibrationOf { calibration: id.clone() });
    let height = (ui.available_height() - 8.0).max(80.0);
    widgets::slot(ui, &slot, "Calibrating", |ui, fit| {
        plot::show(ui, &residuals(fit), &plot::PlotLook::new(Id::unique("calibration residuals"), height));
    });
}

fn residuals(fit: &CalibrationFit) -> Plot {
    let points: Vec<[f64; 2]> = fit
        .points
        .iter()
        .zip(&fit.residuals)
        .filter_map(|(point, residual)| Some([point.density, (*residual)?]))
        .collect();
    let highest = points.iter().fold(0.01_f64, |most, point| most.max(point[1].abs())) * 1.3;
    let (first, last) = fit
        .points
        .iter()
        .fold((0.0_f64, 0.5_f64), |(low, high), point| (low.min(point.density), high.max(point.density)));
    let major = if highest > 0.05 { 0.05 } else { 0.01 };
    let upright = |x: f64, text: &str| Layer::Upright { role: Role::Guide, x, text: text.to_owned() };
    Plot {
        title: "Residuals of the calibration".to_owned(),
        x: Axis { label: "Known density".to_owned(), range: (first, last + 0.1), major: 0.5, minor: 0.1 },
        y: Axis {
            label: "Residual in density".to_owned(),
            range: (-highest, highest),
            major,
            minor: major / 5.0,
        },
        x_per_y: None,
        layers: vec![
            Layer::Level { role: Role::Guide, y: 0.0, text: String::new() },
            upright(fit.table.trusted.0, "trusted from"),
            upright(fit.table.trusted.1, "to"),
            Layer::Marks {
                role: Role::Reference,
                name: "Residuals".to_owned(),
                points,
                set_aside: false,
                strip: 0,
            },
        ],
    }
}
