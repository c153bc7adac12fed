//! A loupe beside a place that is being set: the picture around it, enlarged so far that single pixels are seen.

use egui::{Pos2, Rect, Shape, Stroke, StrokeKind, Ui, Vec2, vec2};
use twinwedge_workbench::session::Session;

use super::{Held, Picture, Placement, Tiles, picture};
use crate::appearance::{Tokens, over};

/// Side of the loupe in points.
const SIDE: f32 = 144.0;
/// Screen points for one scan pixel, at least: a pixel is seen, and enough around it to know the place by.
const ZOOM: f64 = 4.0;
/// From the place to the loupe's near side, in points: clear of the pointer.
const AWAY: f32 = 26.0;
/// Length of the marks that point to the place, in points.
const MARK: f32 = 16.0;

/// Draws what lies around a held corner beside it, within `rect`, with the sides that meet there and marks that point to it.
/// Nothing where the picture itself is already shown as large.
pub fn loupe(
    ui: &Ui,
    rect: Rect,
    placement: &Placement,
    held: &Held,
    picture: &Picture<'_>,
    tiles: &mut Tiles,
    session: &Session,
) {
    if placement.zoom >= ZOOM || rect.width() < SIDE + 8.0 || rect.height() < SIDE + 8.0 {
        return;
    }
    let frame = beside(rect, placement.screen(held.corner));
    let inner = Placement { rect: frame, zoom: ZOOM, middle: held.corner };
    ui.painter_at(rect).rect_filled(frame.expand(3.0), 3.0, over::UNDER);
    picture::draw(ui, frame, picture, &inner, tiles, session);
    let accent = Tokens::get(ui).accent;
    let painter = ui.painter_at(frame);
    let corners: Vec<Pos2> = held.quad.corners.iter().map(|corner| inner.screen(*corner)).collect();
    painter.add(Shape::closed_line(corners, Stroke::new(1.0, accent)));
    for stroke in [Stroke::new(3.0, over::UNDER), Stroke::new(1.0, over::LIGHT)] {
        for way in [vec2(1.0, 0.0), vec2(-1.0, 0.0), vec2(0.0, 1.0), vec2(0.0, -1.0)] {
            let outer = frame.center() + way * 0.5 * SIDE;
            painter.line_segment([outer, outer - way * MARK], stroke);
        }
    }
    ui.painter_at(rect).rect_stroke(frame, 2.0, Stroke::new(1.5, accent), StrokeKind::Outside);
}

/// Where the loupe stands: beside the place, towards the middle of `rect`, and within it.
fn beside(rect: Rect, at: Pos2) -> Rect {
    let middle = rect.center();
    let side = |from: f32, to: f32| if to >= from { 1.0 } else { -1.0 };
    let way = vec2(side(at.x, middle.x), side(at.y, middle.y));
    let frame = Rect::from_center_size(at + way * (AWAY + 0.5 * SIDE), Vec2::splat(SIDE));
    let room = rect.shrink(4.0);
    let shift = vec2(
        (room.left() - frame.left()).max(0.0) + (room.right() - frame.right()).min(0.0),
        (room.top() - frame.top()).max(0.0) + (room.bottom() - frame.bottom()).min(0.0),
    );
    frame.translate(shift)
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::pos2;

    #[test]
    fn it_stays_within_the_picture_and_off_its_place() {
        let rect = Rect::from_min_max(pos2(10.0, 20.0), pos2(600.0, 420.0));
        for at in [pos2(15.0, 25.0), pos2(590.0, 30.0), pos2(300.0, 400.0), pos2(20.0, 410.0)] {
            let frame = beside(rect, at);
            assert!(rect.contains_rect(frame), "{at:?}: {frame:?}");
            assert!(!frame.contains(at), "{at:?}: {frame:?}");
        }
    }
}
