//! Which of a film's plain areas is shown; more of them, fewer; and where the scanner's noise in one is known from.

use egui::{Role, Ui, WidgetInfo};
use twinwedge_workbench::core::document::{Film, FilmId, GrainArea, GrainNoise, Series};
use twinwedge_workbench::core::geometry::{Point, Rect};
use twinwedge_workbench::core::grain::{GrainSettings, expected_interval, least_area};
use twinwedge_workbench::core::units::Micrometres;

use crate::appearance::widgets;
use crate::canvas;
use crate::outbox::{Command, FileFor, Outbox};
use crate::pages::View;

/// ' 2' for the second area; nothing for the first, which most films have alone.
pub(super) fn which(number: usize) -> String {
    if number == 0 { String::new() } else { format!(" {}", number + 1) }
}

/// The areas to choose from, and buttons that add and remove.
pub(super) fn bar(ui: &mut Ui, film: &Film, chosen: &mut usize, view: &View<'_>, outbox: &mut Outbox) {
    let label = &film.label;
    ui.horizontal_wrapped(|ui| {
        widgets::muted_inline(ui, "Plain area");
        for number in film.plain_areas() {
            let selected = *chosen == number;
            let response = ui.add(egui::Button::selectable(selected, (number + 1).to_string()));
            let response =
                response.on_hover_text("Shows this area; several densities make a curve of granularity");
            let name = format!("Plain area {} of {label}", number + 1);
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
    let label = &film.label;
    let hover = "Marks a further area in this scan: of another density, for granularity over density";
    if widgets::button(ui, "Add an area", hover).clicked() {
        let (id, from) = (film.id.clone(), *chosen);
        *chosen = film.further_grain.len() + 1;
        outbox.edit(format!("add a plain area of {label}"), move |series: &mut Series| {
            if let Some(film) = series.film_mut(&id)
                && let Some(grain) = film.plain_area(from).cloned()
            {
                film.further_grain.push(GrainArea { area: beside(grain.area), ..grain });
            }
        });
        ui.close();
    }
    let mut ask = |ui: &mut Ui, text: &str, hover: &str, file: FileFor| {
        if widgets::button(ui, text, hover).clicked() {
            outbox.send(Command::Ask(file));
            ui.close();
        }
    };
    let id = || film.id.clone();
    ask(
        ui,
        "Add one from a scan ...",
        "Opens another scan of the film, of another density",
        FileFor::FurtherGrain(id()),
    );
    ask(ui, "Another scan ...", "Opens another scan in place of the first area's", FileFor::Grain(id()));
    if widgets::button(ui, "Remove this area", "Takes it out of the series; the scan's file stays").clicked()
    {
        let (id, number) = (film.id.clone(), *chosen);
        *chosen = 0;
        outbox.edit(format!("remove plain area {} of {label}", number + 1), move |series: &mut Series| {
            if let Some(film) = series.film_mut(&id) {
                remove(film, number);
            }
        });
        ui.close();
    }
    ui.separator();
    noise(ui, film, *chosen, view, outbox);
}

/// The next area moves up to the first's place.
fn remove(film: &mut Film, number: usize) {
    match number.checked_sub(1) {
        Some(further) if further < film.further_grain.len() => {
            film.further_grain.remove(further);
        }
        Some(_) => {}
        None => {
            let next = (!film.further_grain.is_empty()).then(|| film.further_grain.remove(0));
            film.grain = next;
        }
    }
}

/// A place of the same size a little to the lower right, so that both are seen; the page keeps it within the scan when it is
/// moved.
fn beside(area: Rect) -> Rect {
    let (dx, dy) = ((area.width() / 8.0).round(), (area.height() / 8.0).round());
    let (x, y) = (area.min.x.min(dx), area.min.y.min(dy));
    Rect::between(Point::new(area.min.x - x, area.min.y - y), Point::new(area.max.x - x, area.max.y - y))
}

/// Where the scanner's noise is known from.
fn noise(ui: &mut Ui, film: &Film, number: usize, view: &View<'_>, outbox: &mut Outbox) {
    let Some(grain) = film.plain_area(number) else { return };
    widgets::muted(ui, "Scanner noise");
    let mut set = |noise: GrainNoise| {
        let id = film.id.clone();
        let label = match (&grain.noise, &noise) {
            (_, GrainNoise::Blank { .. }) => format!("mark a blank area for {}", film.label),
            (GrainNoise::Blank { .. }, _) => format!("take the blank area of {} away", film.label),
            _ => format!("say where the scanner's noise of {} is known from", film.label),
        };
        outbox.edit(label, move |series: &mut Series| {
            if let Some(grain) = series.film_mut(&id).and_then(|film| film.plain_area_mut(number)) {
                grain.noise = noise;
            }
        });
    };
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
            .plain_areas()
            .filter_map(|number| film.plain_area(number))
            .filter(|other| other.scan == grain.scan)
            .map(|other| other.area)
            .collect();
        set(GrainNoise::Blank { scan: grain.scan.clone(), area: free(size, grain.area, &taken) });
        ui.close();
    }
    let repeat = matches!(grain.noise, GrainNoise::Repeat(_));
    let hover = "Taken off by what differs between this scan and a second one of the same film";
    if ui.radio(repeat, "by a second scan ...").on_hover_text(hover).clicked() {
        outbox.send(Command::Ask(FileFor::GrainRepeat(film.id.clone(), number)));
        ui.close();
    }
}

/// A box of four tenths of an area's size, so that its handles do not lie on that area's own, in the corner of the scan where it lies least on areas that are taken.
fn free((width, height): (usize, usize), like: Rect, taken: &[Rect]) -> Rect {
    let (across, down) = ((0.4 * like.width()).round(), (0.4 * like.height()).round());
    let (right, low) = ((width as f64 - across).max(0.0), (height as f64 - down).max(0.0));
    let corner = |(x, y): (f64, f64)| Rect::between(Point::new(x, y), Point::new(x + across, y + down));
    let shared = |of: &Rect| -> f64 {
        let along = |a: (f64, f64), b: (f64, f64)| (a.1.min(b.1) - a.0.max(b.0)).max(0.0);
        let both = |other: &Rect| {
            along((of.min.x, of.max.x), (other.min.x, other.max.x))
                * along((of.min.y, of.max.y), (other.min.y, other.max.y))
        };
        taken.iter().map(both).sum()
    };
    let mut best = corner((right, low));
    for other in [(0.0, low), (right, 0.0), (0.0, 0.0)].map(corner) {
        if shared(&other) < shared(&best) {
            best = other;
        }
    }
    best
}

/// What the box of a blank area in the scan of a plain area is called.
pub(super) fn blank_names(film: &Film, number: usize) -> [String; 3] {
    let name = format!("Blank area{} of {}", which(number), film.label);
    ["upper left corner", "lower right corner", "the whole area"].map(|part| format!("{name}: {part}"))
}

/// The blank area that tells the noise of a plain area, where it lies in the same scan.
pub(super) fn blank(grain: &GrainArea) -> Option<Rect> {
    match &grain.noise {
        GrainNoise::Blank { scan, area } if *scan == grain.scan => Some(*area),
        _ => None,
    }
}

/// Moves the blank area of a plain area.
pub(super) fn set_blank(series: &mut Series, film: &FilmId, number: usize, moved: Rect) {
    let grain = series.film_mut(film).and_then(|film| film.plain_area_mut(number));
    if let Some(GrainArea { noise: GrainNoise::Blank { area, .. }, .. }) = grain {
        *area = moved;
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_blank_box_begins_where_no_area_lies() {
        let area =
            |x: f64, y: f64, side: f64| Rect::between(Point::new(x, y), Point::new(x + side, y + side));
        let like = area(0.0, 0.0, 40.0);
        assert_eq!(free((100, 80), like, &[like]), area(84.0, 64.0, 16.0));
        let taken = [area(60.0, 40.0, 40.0), area(0.0, 40.0, 40.0)];
        assert_eq!(free((100, 80), like, &taken), area(84.0, 0.0, 16.0));
    }

    #[test]
    fn the_next_area_moves_up() {
        let area = |left: f64| Rect::between(Point::new(left, 0.0), Point::new(left + 10.0, 10.0));
        let mut film = Film::named(FilmId::from("Tern 160"), "Tern 160");
        film.grain = Some(GrainArea::new("a".into(), area(0.0)));
        film.further_grain =
            vec![GrainArea::new("a".into(), area(20.0)), GrainArea::new("a".into(), area(40.0))];
        remove(&mut film, 1);
        assert_eq!(film.further_grain[0].area, area(40.0));
        remove(&mut film, 0);
        assert!(film.further_grain.is_empty() && film.grain.as_ref().unwrap().area == area(40.0));
        remove(&mut film, 0);
        assert!(film.grain.is_none());
    }
}
