//! The scan of a film with the boxes of its edges, and where the edge was found.

use egui::{Align2, Rect, Shape, Stroke, Ui, vec2};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::geometry::Quad;
use twinwedge_workbench::core::sharpness::EdgeMeasure;
use twinwedge_workbench::edits::EdgeChange;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{EdgeOf, ScreenTones, TilePicture};

use crate::appearance::{Tokens, over};
use crate::canvas::{self, Picture, Placement, Tiles, ZoomPan};
use crate::outbox::{Outbox, PointerReading};
use crate::pages::{View, missing, sampling};

/// Radius of what the pointer reads, in scan pixels.
const POINTER_RADIUS: f64 = 8.0;

/// What the boxes belong to.
#[derive(Clone, Copy)]
pub(super) struct Of<'a, 'b> {
    pub(super) film: &'a Film,
    pub(super) role: Role,
    pub(super) chosen: usize,
    pub(super) view: &'a View<'b>,
}

/// Draws the scan and lets the box of the chosen edge be dragged.
pub(super) fn show(
    ui: &mut Ui,
    rect: Rect,
    of: Of<'_, '_>,
    (sight, tiles): (&mut ZoomPan, &mut Tiles),
    outbox: &mut Outbox,
) {
    let Of { film, role, chosen, view } = of;
    ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).raised);
    let Some(edge) = film.edges.get(chosen) else { return };
    let Ok(size) = canvas::size_of(view.session, &edge.scan) else {
        let without = EdgeChange::Remove(chosen).of(&film.id).into();
        return missing::instead(ui, rect, view, &edge.scan, Some(without), outbox);
    };
    let name = format!("Edge scan of {}", film.label);
    let picture = Picture {
        tiles: TilePicture::Scan(edge.scan.clone()),
        size,
        look: ScreenTones::default(),
        name: &name,
    };
    let (response, placement) = canvas::show(ui, rect, &mut sight.camera, &picture, tiles, view.session);
    sight.shown(placement, ui.pixels_per_point());
    let painter = ui.painter_at(rect);
    for (number, other) in film.edges.iter().enumerate().filter(|(_, other)| other.scan == edge.scan) {
        let width = if number == chosen { 1.5 } else { 0.75 };
        canvas::quad(&painter, &placement, &Quad::upright(other.area), width, over::LIGHT);
        let at = placement.screen(other.area.min) + vec2(4.0, 4.0);
        if film.edges.len() > 1 {
            canvas::label(&painter, at, Align2::LEFT_TOP, &(number + 1).to_string());
        }
    }
    let ask = |quick| view.session.peek(&EdgeOf { film: film.id.clone(), edge: chosen, quick });
    match ask(false) {
        Slot::Ready(found) => line(&painter, &placement, &found),
        Slot::Failed(problem) => {
            canvas::failed(ui, rect, &problem, &picture.tiles, view.session);
        }
        Slot::Stale(..) | Slot::Pending(_) => {
            if let Slot::Ready(found) = ask(true) {
                line(&painter, &placement, &found);
            }
        }
    }
    let moved = |area| EdgeChange::Move(chosen, super::super::area::inside(area, size)).of(&film.id);
    let names = [
        format!("Edge of {}: upper left corner", film.label),
        format!("Edge of {}: lower right corner", film.label),
        format!("Edge of {}: the whole box", film.label),
    ];
    canvas::rect_handles(ui, &placement, edge.area, names.each_ref().map(String::as_str), moved, outbox);
    if let Some(at) = response.hover_pos() {
        let at = placement.scan(at);
        let read = sampling::density(view, &edge.scan, at, POINTER_RADIUS);
        let read = read.as_ref().map(sampling::words);
        let at = sampling::place_words(at);
        outbox.pointer(match role {
            Role::Reference => PointerReading { at, reference: read, ..PointerReading::default() },
            _ => PointerReading { at, candidate: read, ..PointerReading::default() },
        });
    }
}

/// Where the edge was found.
fn line(painter: &egui::Painter, placement: &Placement, found: &EdgeMeasure) {
    let points: Vec<egui::Pos2> = found.line.places.iter().map(|place| placement.screen(*place)).collect();
    painter.add(Shape::line(points.clone(), Stroke::new(2.5, over::UNDER)));
    painter.add(Shape::line(points, Stroke::new(1.0, over::LIGHT)));
}
