//! A loupe beside a place that is being set: the picture around it, enlarged so far that single pixels are seen.

use egui::{Rect, Stroke, StrokeKind, Ui, Vec2, vec2};
use twinwedge_workbench::core::geometry::Point;
use twinwedge_workbench::session::Session;

use super::{Picture, Placement, Tiles, picture};
use crate::appearance::{Tokens, over};

/// Side of the loupe in points.
const SIDE: f32 = 132.0;
/// Screen points for one scan pixel, at least.
const ZOOM: f64 = 6.0;
/// From the place to the loupe's near side, in points: clear of the pointer.
const AWAY: f32 = 26.0;

/// Draws what lies around `at` beside it, within `rect`, with cross lines through it. Nothing where the picture itself is
/// already shown as large.
pub fn loupe(
    ui: &Ui,
    rect: Rect,
    placement: &Placement,
    at: Point,
    picture: &Picture<'_>,
    tiles: &mut Tiles,
    session: &Session,
) {
    if placement.zoom >= ZOOM || rect.width() < SIDE + 8.0 || rect.height() < SIDE + 8.0 {
        return;
    }
    let frame = beside(rect, placement.screen(at));
    let inner = Placement { rect: frame, zoom: ZOOM, middle: at };
    ui.painter_at(rect).rect_filled(frame.expand(3.0), 3.0, over::UNDER);
    picture::draw(ui, frame, picture, &inner, tiles, session);
    let painter = ui.painter_at(rect);
    let centre = frame.center();
    for stroke in [Stroke::new(3.0, over::UNDER), Stroke::new(1.0, over::LIGHT)] {
        for (way, reach) in [(vec2(1.0, 0.0), frame.width()), (vec2(0.0, 1.0), frame.height())] {
            for sign in [-1.0, 1.0] {
                let (near, far) = (way * 6.0 * sign, way * 0.5 * reach * sign);
                painter.line_segment([centre + near, centre + far], stroke);
            }
        }
    }
    painter.rect_stroke(frame, 2.0, Stroke::new(1.5, Tokens::get(ui).accent), StrokeKind::Outside);
}

/// Where the loupe stands: beside the place, towards the middle of `rect`, and within it.
fn beside(rect: Rect, at: egui::Pos2) -> Rect {
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
