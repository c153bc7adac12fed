//! Which of a film's uniform areas is shown; more of them, fewer; and where the scanner's noise in one is known from.

use egui::{Role, Ui, WidgetInfo};
use twinwedge_workbench::core::document::{Film, GrainArea, GrainNoise};
use twinwedge_workbench::core::geometry::Rect;
use twinwedge_workbench::core::grain::{GrainSettings, expected_interval, least_area};
use twinwedge_workbench::core::units::Micrometres;
use twinwedge_workbench::edits::{AreaChange, resting_place};
use twinwedge_workbench::intake::Purpose;

use crate::appearance::widgets;
use crate::canvas;
use crate::outbox::Outbox;
use crate::pages::View;

/// ' 2' for the second area; nothing for the first, which most films have alone.
pub(super) fn which(number: usize) -> String {
    if number == 0 { String::new() } else { format!(" {}", number + 1) }
}

/// The areas to choose from, and buttons that add and remove.
pub(super) fn bar(ui: &mut Ui, film: &Film, chosen: &mut usize, view: &View<'_>, outbox: &mut Outbox) {
    let label = &film.label;
    ui.horizontal_wrapped(|ui| {
        widgets::muted_inline(ui, "Uniform area");
        for number in 0..film.uniform_areas.len() {
            let selected = *chosen == number;
            let response = ui.add(egui::Button::selectable(selected, (number + 1).to_string()));
            let response =
                response.on_hover_text("Shows this area; several densities make a curve of granularity");
            let name = format!("Uniform area {} of {label}", number + 1);
            response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, selected, name.clone()));
            if response.clicked() {
                *chosen = number;
            }
        }
        ui.menu_button("Change", |ui| change(ui, film, chosen, view, outbox))
            .response
            .on_hover_text("More areas, fewer, other scans, and where the scanner's noise is known from");
    });
}

/// What can be done about the areas.
fn change(ui: &mut Ui, film: &Film, chosen: &mut usize, view: &View<'_>, outbox: &mut Outbox) {
    let hover = "Marks another area in this scan: of another density, for granularity over density";
    if widgets::button(ui, "Add an area", hover).clicked() {
        outbox.change(AreaChange::AddBeside(*chosen).of(&film.id));
        *chosen = film.uniform_areas.len();
        ui.close();
    }
    let mut ask = |ui: &mut Ui, text: &str, hover: &str, file: Purpose| {
        if widgets::button(ui, text, hover).clicked() {
            outbox.ask(file);
            ui.close();
        }
    };
    let id = || film.id.clone();
    ask(
        ui,
        "Add one from a scan ...",
        "Opens another scan of the film, of another density",
        Purpose::AnotherGrain(id()),
    );
    ask(ui, "Another scan ...", "Opens another scan in place of the first area's", Purpose::Grain(id()));
    if widgets::button(ui, "Remove this area", "Takes it out of the series; the scan's file stays").clicked()
    {
        outbox.change(AreaChange::Remove(*chosen).of(&film.id));
        *chosen = 0;
        ui.close();
    }
    ui.separator();
    noise(ui, film, *chosen, view, outbox);
}

/// Where the scanner's noise is known from.
fn noise(ui: &mut Ui, film: &Film, number: usize, view: &View<'_>, outbox: &mut Outbox) {
    let Some(grain) = film.uniform_areas.get(number) else { return };
    widgets::muted(ui, "Scanner noise");
    let mut set = |noise: GrainNoise| outbox.change(AreaChange::Noise(number, noise).of(&film.id));
    let now = |noise: &GrainNoise| grain.noise == *noise;
    for (noise, word, hover) in [
        (
            GrainNoise::Calibration,
            "by the calibration",
            "Taken off by the calibration's noise model, where it has one",
        ),
        (GrainNoise::LeftIn, "left in", "Left in the granularity"),
    ] {
        if ui.radio(now(&noise), word).on_hover_text(hover).clicked() {
            set(noise);
            ui.close();
        }
    }
    let blank = matches!(grain.noise, GrainNoise::Blank { .. });
    let hover = "Taken off by what a clear area without grain, of like density and scanned alike, fluctuates: box it in the scan";
    if ui.radio(blank, "by a blank area").on_hover_text(hover).clicked() && !blank {
        let size = canvas::size_of(view.session, &grain.scan).unwrap_or_default();
        let taken: Vec<Rect> = film
            .uniform_areas
            .iter()
            .filter(|other| other.scan == grain.scan)
            .map(|other| other.area)
            .collect();
        set(GrainNoise::Blank { scan: grain.scan.clone(), area: resting_place(size, grain.area, &taken) });
        ui.close();
    }
    let repeat = matches!(grain.noise, GrainNoise::Repeat(_));
    let hover = "Taken off by what differs between this scan and a second one of the same film";
    if ui.radio(repeat, "by a second scan ...").on_hover_text(hover).clicked() {
        outbox.ask(Purpose::GrainRepeat(film.id.clone(), number));
        ui.close();
    }
}

/// What the box of a blank area in the scan of a uniform area is called.
pub(super) fn blank_names(film: &Film, number: usize) -> [String; 3] {
    let name = format!("Blank area{} of {}", which(number), film.label);
    ["upper left corner", "lower right corner", "the whole area"].map(|part| format!("{name}: {part}"))
}

/// The blank area that tells the noise of a uniform area, where it lies in the same scan.
pub(super) fn blank(grain: &GrainArea) -> Option<Rect> {
    match &grain.noise {
        GrainNoise::Blank { scan, area } if *scan == grain.scan => Some(*area),
        _ => None,
    }
}

/// What the area as it is drawn will come to, and how large it must be for ± 5 %.
pub(super) fn expected(view: &View<'_>, grain: &GrainArea) -> Option<String> {
    let pitch = Micrometres::per_sample(super::crops::dpi(view, &grain.scan)?);
    let settings = GrainSettings { pitch, aperture: Micrometres(view.series.settings.aperture_um) };
    let least = least_area(0.05, settings)?;
    let needed = format!("± 5 % takes {0} x {0} px ({1:.1} mm)", least.side_px, least.side_mm);
    Some(match expected_interval(grain.area, settings) {
        Some(interval) => {
            format!("At best ± {:.1} %; {needed}", 50.0 * (interval.high - interval.low))
        }
        None => needed,
    })
}
