//! What a calibration tells of its scanner beside the table: noise and stray light.

use egui::Ui;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Calibration, CalibrationId};
use twinwedge_workbench::core::scan::{CalibrationFit, NoiseModel, NoiseSource};
use twinwedge_workbench::edits::CalibrationChange;
use twinwedge_workbench::intake::Purpose;

use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::View;

/// Noise and stray light in lines.
pub(super) fn readout(ui: &mut Ui, fit: &CalibrationFit) {
    match &fit.noise {
        Some(noise) => noise_rows(ui, noise),
        None => {
            widgets::value_row(ui, "Noise of the scanner", "not known", "Too few steps show it");
        }
    }
    match &fit.flare {
        Ok(flare) => {
            let (low, high) = (flare.interval.0 * 100.0, flare.interval.1 * 100.0);
            let text = if flare.separated {
                format!(
                    "{} % ({} to {})",
                    format::number(flare.veil * 100.0, 3),
                    format::number(low, 3),
                    format::number(high, 3)
                )
            } else {
                format!("at most {} %", format::number(high, 3))
            };
            widgets::value_row(
                ui,
                "Stray light",
                &text,
                "Light that strayed over the tablet, as a share of full light, with its 95 % interval: from how the dark steps \
                 lift above a power of light. It is within the table already; another picture may have more or less of it.",
            );
        }
        Err(why) => {
            widgets::value_row(ui, "Stray light", "not told apart", &why.to_string());
        }
    }
}

fn noise_rows(ui: &mut Ui, noise: &NoiseModel) {
    let at = |density: f64| {
        let light = 10.0_f64.powf(-density);
        // A small change of density is that of light over light, times lg e.
        format::number(noise.variance(light).sqrt() / light * std::f64::consts::LOG10_E, 4)
    };
    let source = match noise.source {
        NoiseSource::OneScan => {
            "From what differs between neighbouring pixels of the tablet's steps; its grain is in it. A second scan of the \
             tablet, not moved, would keep that apart."
        }
        NoiseSource::TwoScans => "From the difference of two scans of the tablet",
    };
    let [a, b, c] = noise.terms;
    let hover = format!(
        "Standard deviation of density of one pixel at densities of 0.1, 1.0 and 2.0. {source}. Variance of light = {a:.1e} + \
         {b:.1e} L + {c:.1e} L², L the light of a step; from {} steps.",
        noise.points.len()
    );
    widgets::value_row(ui, "Noise of a pixel, D", &format!("{}  {}  {}", at(0.1), at(1.0), at(2.0)), &hover);
}

/// The second scan of the tablet: which, or the button that takes it in.
pub(super) fn repeat(
    ui: &mut Ui,
    view: &View<'_>,
    id: &CalibrationId,
    made: &Calibration,
    outbox: &mut Outbox,
) {
    match &made.repeat {
        None => {
            let hover = "The tablet scanned once more and not moved: the difference of both holds the scanner's noise and nothing \
                         of the tablet's grain";
            if widgets::button(ui, "Open a second scan ...", hover).clicked() {
                outbox.ask(Purpose::Repeat(id.clone()));
            }
        }
        Some(scan) => {
            crate::pages::scan_trust::line(ui, view, "Second scan", scan);
            if widgets::button(ui, "Forget the second scan", "Noise is then taken from the first alone")
                .clicked()
            {
                outbox.change(CalibrationChange::ForgetRepeat.of(id));
            }
        }
    }
}
