//! One picture in a rectangle of the window: its tiles, zoom by wheel, pan by drag.

use egui::{Rect, Response, Sense, Ui, WidgetInfo, pos2, vec2};
use twinwedge_workbench::core::document::ScanId;
use twinwedge_workbench::core::geometry::Point;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{FlatOf, ScanOf, ScreenTones, TILE, TileOf, TilePicture};
use twinwedge_workbench::session::Session;

use super::{Camera, Placement, Tiles, overlay};
use crate::appearance::{Tokens, over};

/// What is shown, and how.
#[derive(Debug, Clone)]
pub struct Picture<'a> {
    /// The picture that the tiles are of.
    pub tiles: TilePicture,
    /// Its full size in pixels.
    pub size: (usize, usize),
    /// How densities become tones.
    pub look: ScreenTones,
    /// What a screen reader calls it.
    pub name: &'a str,
}

/// The size of a scan once it is read; else what a page says instead.
///
/// # Errors
/// That it is being read, or why it cannot be, in words.
pub fn size_of(session: &Session, scan: &ScanId) -> Result<(usize, usize), String> {
    match session.peek(&ScanOf { scan: scan.clone() }) {
        Slot::Ready(scan) | Slot::Stale(scan, _) => Ok((scan.width, scan.height)),
        Slot::Pending(progress) => Err(match progress.done {
            Some(done) => format!("Reading the scan, {:.0} % done", done * 100.0),
            None => "Reading the scan".to_owned(),
        }),
        Slot::Failed(problem) => Err(format!("{} {}", problem.cause, problem.remedy)),
    }
}

/// Draws a picture into `rect` and lets the pointer move it; what is wrong with it stands in it.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    camera: &mut Camera,
    picture: &Picture<'_>,
    tiles: &mut Tiles,
    session: &Session,
) -> (Response, Placement) {
    let (response, placement) = interact(ui, rect, camera, picture.size, picture.name);
    let undrawn = draw(ui, rect, picture, &placement, tiles, session);
    trouble(ui, rect, undrawn, &picture.tiles, session);
    (response, placement)
}

/// Lets the pointer move what will be drawn in `rect`: a drag pans, wheel and pinch enlarge about the pointer.
pub fn interact(
    ui: &mut Ui,
    rect: Rect,
    camera: &mut Camera,
    size: (usize, usize),
    name: &str,
) -> (Response, Placement) {
    let id = ui.scope_id().with(("picture", name));
    let response = ui.interact(rect, id, Sense::click_and_drag());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, name));
    let now = camera.place(rect, size);
    if response.dragged() && response.drag_delta() != vec2(0.0, 0.0) {
        camera.pan(response.drag_delta(), &now);
    }
    if response.contains_pointer()
        && let Some(pointer) = ui.input(|input| input.pointer.hover_pos())
    {
        let factor = wheel(ui);
        if (factor - 1.0).abs() > 1e-4 {
            camera.about(factor, pointer, &camera.place(rect, size));
        }
    }
    (response, camera.place(rect, size))
}

/// By which factor wheel and pinch enlarge in this frame.
fn wheel(ui: &Ui) -> f64 {
    ui.input(|input| {
        let scroll = f64::from(input.smooth_scroll_delta().y);
        f64::from(input.zoom_delta()) * (scroll / 240.0).exp()
    })
}

/// Halvings until both sides are at most 256 pixels: the levels below full size.
fn levels(size: (usize, usize)) -> u8 {
    let mut longer = size.0.max(size.1);
    let mut count = 0;
    while longer > 256 {
        longer = longer.div_ceil(2);
        count += 1;
    }
    count
}

/// The level whose pixels come nearest to the screen's.
fn level_for(zoom_px: f64, size: (usize, usize)) -> u8 {
    let wanted = (-zoom_px.log2()).round().max(0.0);
    (wanted as u8).min(levels(size))
}

/// Says in a picture why parts of it cannot be drawn, else why nothing can be measured in it.
pub fn trouble(ui: &Ui, rect: Rect, undrawn: Option<Problem>, picture: &TilePicture, session: &Session) {
    let undrawn = undrawn.map(|problem| match &problem.subject {
        Subject::Calibration(id) => {
            let cause = format!("The calibration {} cannot be used. {}", id.0, problem.cause);
            Problem { cause: cause.into(), ..problem }
        }
        _ => problem,
    });
    if let Some(problem) = undrawn.or_else(|| failing_falloff(session, picture)) {
        overlay::problem(ui, rect, &problem);
    }
}

/// Says in a picture why what is measured in it cannot be had, if it does not say already that its falloff is why.
pub fn failed(ui: &Ui, rect: Rect, problem: &Problem, picture: &TilePicture, session: &Session) {
    if failing_falloff(session, picture).is_none() {
        overlay::problem(ui, rect, problem);
    }
}

/// Why the falloff of a picture's light cannot be taken out, where that is wished.
fn failing_falloff(session: &Session, picture: &TilePicture) -> Option<Problem> {
    let series = session.series();
    let scan = match picture {
        TilePicture::Scan(scan) => scan,
        TilePicture::Registered(film) | TilePicture::Difference(film) => {
            &series.film(film)?.print.as_ref()?.scan
        }
    };
    series.scans.get(scan).filter(|entry| !entry.flat.is_nothing())?;
    match session.peek(&FlatOf { scan: scan.clone() }) {
        Slot::Failed(problem) => {
            let cause = format!("The falloff of light cannot be taken out. {}", problem.cause);
            let remedy = format!("{} It is chosen where it says how the scan is read.", problem.remedy);
            Some(Problem { cause: cause.into(), remedy: remedy.into(), ..problem })
        }
        Slot::Ready(_) | Slot::Stale(..) | Slot::Pending(_) => None,
    }
}

/// Draws the part of a placed picture that lies within `clip`; why a part of it cannot be drawn.
pub fn draw(
    ui: &Ui,
    clip: Rect,
    picture: &Picture<'_>,
    placement: &Placement,
    tiles: &mut Tiles,
    session: &Session,
) -> Option<Problem> {
    let painter = ui.painter_at(clip.intersect(placement.rect));
    let (w, h) = (picture.size.0 as f64, picture.size.1 as f64);
    let whole = placement.screen_rect(Point::new(0.0, 0.0), (w, h));
    painter.rect_filled(whole, 0.0, Tokens::get(ui).raised);
    let level = level_for(placement.zoom * f64::from(ui.pixels_per_point()), picture.size);
    let side = (TILE << level) as f64;
    let seen = clip.intersect(placement.rect);
    let (from, to) = (placement.scan(seen.min), placement.scan(seen.max));
    let range = |from: f64, to: f64, length: f64| {
        let count = (length / side).ceil();
        let first = (from / side).floor().clamp(0.0, count) as u32;
        let end = (to / side).ceil().clamp(0.0, count) as u32;
        first..end
    };
    let mut undrawn = None;
    for row in range(from.y, to.y, h) {
        for column in range(from.x, to.x, w) {
            let ask = TileOf { picture: picture.tiles.clone(), level, column, row, look: picture.look };
            let corner = Point::new(f64::from(column) * side, f64::from(row) * side);
            match tiles.get(ui.ctx(), session, &ask) {
                Ok((texture, [tw, th])) => {
                    let step = f64::from(1u32 << level);
                    let target = placement.screen_rect(corner, (tw as f64 * step, th as f64 * step));
                    painter.image(texture, target, FULL, over::UNTINTED);
                }
                Err(Some(problem)) => undrawn = Some(problem),
                Err(None) => {
                    let size = (side.min(w - corner.x), side.min(h - corner.y));
                    coarser(&painter, &ask, corner, size, placement, tiles, levels(picture.size));
                }
            }
        }
    }
    undrawn
}

const FULL: Rect = Rect { min: pos2(0.0, 0.0), max: pos2(1.0, 1.0) };

/// Draws a tile's place from a smaller level until the tile itself is there.
fn coarser(
    painter: &egui::Painter,
    ask: &TileOf,
    corner: Point,
    size: (f64, f64),
    placement: &Placement,
    tiles: &mut Tiles,
    last: u8,
) {
    for level in ask.level + 1..=last {
        let up = level - ask.level;
        let parent = TileOf { level, column: ask.column >> up, row: ask.row >> up, ..ask.clone() };
        let Some((texture, [tw, th])) = tiles.seen(&parent) else { continue };
        let step = f64::from(1u32 << level);
        let side = (TILE << level) as f64;
        let origin = Point::new(f64::from(parent.column) * side, f64::from(parent.row) * side);
        let uv = |at: Point| {
            let (u, v) = ((at.x - origin.x) / (tw as f64 * step), (at.y - origin.y) / (th as f64 * step));
            pos2(u.min(1.0) as f32, v.min(1.0) as f32)
        };
        let uv = Rect::from_min_max(uv(corner), uv(Point::new(corner.x + size.0, corner.y + size.1)));
        painter.image(texture, placement.screen_rect(corner, size), uv, over::UNTINTED);
        return;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_lie_near_the_size_they_are_drawn_at() {
        let size = (12_000, 8_000);
        assert_eq!(level_for(1.0, size), 0);
        assert_eq!(level_for(16.0, size), 0);
        assert_eq!(level_for(0.5, size), 1);
        assert_eq!(level_for(0.36, size), 1);
        assert_eq!(level_for(0.24, size), 2);
        assert_eq!(level_for(0.0001, size), levels(size));
        assert_eq!(levels(size), 6);
        assert_eq!(levels((200, 100)), 0);
    }
}
