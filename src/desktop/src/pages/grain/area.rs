//! The area of a film's scan in which grain is measured.

use egui::{Align2, RichText, Ui, vec2};
use twinwedge_workbench::core::document::{Film, GrainArea, ScanKind};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::geometry::{Quad, Rect as Area};
use twinwedge_workbench::edits::{AreaChange, ScanChange};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{GrainOf, ScreenTones, TilePicture};
use twinwedge_workbench::intake::Purpose;

use super::Grain;
use crate::appearance::{Tokens, over, widgets};
use crate::canvas::{self, Picture};
use crate::outbox::{Outbox, PointerReading};
use crate::pages::{View, missing, sampling};

/// Radius of what the pointer reads, in scan pixels.
const POINTER_RADIUS: f64 = 8.0;

impl Grain {
    /// One film's half: its scan with the area above, its crop below.
    pub(super) fn half(
        &mut self,
        ui: &mut Ui,
        film: &Film,
        role: Role,
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        ui.horizontal(|ui| super::film_head(ui, film, role));
        if film.uniform_areas.is_empty() {
            return nothing_yet(ui, film, outbox);
        }
        let chosen = &mut self.chosen[usize::from(role == Role::Candidate)];
        if film.uniform_areas.get(*chosen).is_none() {
            *chosen = 0;
        }
        super::areas::bar(ui, film, chosen, view, outbox);
        let number = *chosen;
        let Some(grain) = film.uniform_areas.get(number) else { return };
        ui.horizontal_wrapped(|ui| resolution(ui, film, grain, view, outbox));
        let room = ui.available_rect_before_wrap();
        let height = ((room.height() - 8.0) * 0.4).floor();
        let above = egui::Rect::from_min_size(room.min, vec2(room.width(), height));
        let below = egui::Rect::from_min_max(above.left_bottom() + vec2(0.0, 8.0), room.max);
        self.area(ui, above, film, role, number, view, outbox);
        self.crop(ui, below, film, view);
    }

    #[expect(clippy::too_many_arguments, reason = "one film's area and the frame it is drawn in")]
    pub(super) fn area(
        &mut self,
        ui: &mut Ui,
        rect: egui::Rect,
        film: &Film,
        role: Role,
        number: usize,
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let Some(grain) = film.uniform_areas.get(number) else { return };
        ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).raised);
        let Ok(size) = canvas::size_of(view.session, &grain.scan) else {
            let without = AreaChange::Remove(number).of(&film.id).into();
            return missing::instead(ui, rect, view, &grain.scan, Some(without), outbox);
        };
        let name = format!("Grain scan of {}", film.label);
        let picture = Picture {
            tiles: TilePicture::Scan(grain.scan.clone()),
            size,
            look: ScreenTones::default(),
            name: &name,
        };
        let sight = &mut self.areas[usize::from(role == Role::Candidate)];
        let (response, placement) =
            canvas::show(ui, rect, &mut sight.camera, &picture, &mut self.tiles, view.session);
        sight.shown(placement, ui.pixels_per_point());
        let painter = ui.painter_at(rect);
        for (other, marked) in film.uniform_areas.iter().enumerate() {
            if other != number && marked.scan == grain.scan {
                canvas::quad(&painter, &placement, &Quad::upright(marked.area), 0.5, over::LIGHT);
            }
        }
        canvas::quad(&painter, &placement, &Quad::upright(grain.area), 1.5, over::LIGHT);
        let slot = view.session.peek(&GrainOf { film: film.id.clone(), area: number });
        if let Slot::Failed(problem) = &slot {
            canvas::failed(ui, rect, problem, &picture.tiles, view.session);
        } else if let Some(words) = super::areas::expected(view, grain) {
            canvas::label(&painter, rect.left_bottom() + vec2(4.0, -4.0), Align2::LEFT_BOTTOM, &words);
        }
        let (which, of) = (super::areas::which(number), &film.label);
        let moved = |area| AreaChange::Move(number, inside(area, size)).of(&film.id);
        let names = [
            format!("Grain area{which} of {of}: upper left corner"),
            format!("Grain area{which} of {of}: lower right corner"),
            format!("Grain area{which} of {of}: the whole area"),
        ];
        canvas::rect_handles(ui, &placement, grain.area, names.each_ref().map(String::as_str), moved, outbox);
        if let Some(blank) = super::areas::blank(grain) {
            canvas::quad(&painter, &placement, &Quad::upright(blank), 1.0, over::LIGHT);
            let at = placement.screen(blank.min) + vec2(4.0, 4.0);
            canvas::label(&painter, at, Align2::LEFT_TOP, "blank");
            let moved = |area| AreaChange::MoveBlank(number, inside(area, size)).of(&film.id);
            let names = super::areas::blank_names(film, number);
            let names = names.each_ref().map(String::as_str);
            canvas::rect_handles(ui, &placement, blank, names, moved, outbox);
        }
        if let Some(at) = response.hover_pos() {
            let at = placement.scan(at);
            let read = sampling::density(view, &grain.scan, at, POINTER_RADIUS);
            let read = read.as_ref().map(sampling::words);
            let at = sampling::place_words(at);
            outbox.pointer(match role {
                Role::Reference => PointerReading { at, reference: read, ..PointerReading::default() },
                _ => PointerReading { at, candidate: read, ..PointerReading::default() },
            });
        }
    }
}

/// What is to be done for a film without a uniform area.
pub(super) fn nothing_yet(ui: &mut Ui, film: &Film, outbox: &mut Outbox) {
    let pressed = widgets::empty(
        ui,
        "A scan of a plain, evenly exposed area goes here",
        "A grey card or the sky, scanned at 2400 dpi or more, without sharpening or noise reduction. Grain is measured in a \
         rectangle of it. A file can also be dropped on the window.",
        "Open a film scan ...",
    );
    if pressed {
        outbox.ask(Purpose::Grain(film.id.clone()));
    }
}

/// Resolution, and whether the scan shows film or a print.
fn resolution(ui: &mut Ui, film: &Film, grain: &GrainArea, view: &View<'_>, outbox: &mut Outbox) {
    let Some(entry) = view.series.scans.get(&grain.scan) else { return };
    let found = super::crops::dpi(view, &grain.scan);
    ui.label(RichText::new("Resolution").color(Tokens::get(ui).muted));
    let name = format!("Resolution of the grain scan of {}", film.label);
    let id = ui.scope_id().with(&name);
    let hover = "Dots per inch; typed here where the file does not say or says it wrongly";
    if let Some(dpi) = widgets::number_field(ui, id, &name, found, hover, 56.0) {
        outbox.change(ScanChange::Resolution(dpi).of(&grain.scan));
    }
    ui.label("dpi");
    let mut print = entry.kind == ScanKind::Print;
    let hover =
        "The scan shows a print: paper and enlarger are in what is measured, and every figure says so";
    if widgets::switch(ui, &mut print, "a print", hover) {
        let kind = if print { ScanKind::Print } else { ScanKind::Film };
        outbox.change(ScanChange::Kind(kind).of(&grain.scan));
    }
}

/// The area on whole pixels, within the scan; moved rather than cut, so that its size stays.
pub(super) fn inside(area: Area, size: (usize, usize)) -> Area {
    let fit = |low: f64, high: f64, most: f64| {
        let length = (high - low).round().clamp(1.0, most);
        let low = low.round().clamp(0.0, most - length);
        (low, low + length)
    };
    let (left, right) = fit(area.min.x, area.max.x, size.0 as f64);
    let (top, bottom) = fit(area.min.y, area.max.y, size.1 as f64);
    let mut area = area;
    (area.min.x, area.max.x, area.min.y, area.max.y) = (left, right, top, bottom);
    area
}

#[cfg(test)]
mod tests {
    use super::*;
    use twinwedge_workbench::core::geometry::Point;

    #[test]
    fn an_area_pushed_out_of_the_scan_stays_at_its_edge_with_its_size() {
        let area = Area { min: Point::new(-20.4, 90.0), max: Point::new(29.6, 140.0) };
        let kept = inside(area, (200, 100));
        assert_eq!((kept.min.x, kept.max.x, kept.min.y, kept.max.y), (0.0, 50.0, 50.0, 100.0));
    }
}
