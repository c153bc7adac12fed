//! Handles: points of the document that are dragged, or moved by the arrow keys once they have the focus.

use egui::{CursorIcon, EventFilter, Id, Key, Rect, Sense, Stroke, Ui, Vec2, WidgetInfo, pos2};
use twinwedge_workbench::core::geometry::{Point, Quad, Rect as Area};
use twinwedge_workbench::edits::Operation;

use super::Placement;
use crate::appearance::{Tokens, over};
use crate::outbox::{Command, Outbox};

/// Half the side of the square in which a handle takes the pointer.
const REACH: f32 = 9.0;

/// What a handle does in a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Event {
    /// It is not held.
    Rest,
    /// It was moved by the pointer; when it is taken, by as much as the pointer has moved since it was pressed.
    Moved(Point),
    /// It was let go.
    LetGo,
    /// It was broken off.
    BrokenOff,
    /// It was moved by a key: a whole gesture.
    Nudged(Point),
}

/// Carries a gesture to the outbox: `operation` is what the moved thing comes to.
fn send<T, O: Into<Operation>>(
    event: Event,
    moved: impl FnOnce(Point) -> T,
    operation: impl FnOnce(T) -> O,
    outbox: &mut Outbox,
) {
    match event {
        Event::Rest => {}
        Event::Moved(by) => outbox.preview(operation(moved(by))),
        Event::LetGo => outbox.send(Command::Commit),
        Event::BrokenOff => outbox.send(Command::Abort),
        Event::Nudged(by) => {
            outbox.preview(operation(moved(by)));
            outbox.send(Command::Commit);
        }
    }
}

/// A corner that is dragged or has the focus, and what it is a corner of.
#[derive(Debug, Clone, Copy)]
pub struct Held {
    /// Where it is.
    pub corner: Point,
    /// What its sides belong to.
    pub quad: Quad,
}

/// A handle at one point.
pub fn point_handle<O: Into<Operation>>(
    ui: &mut Ui,
    placement: &Placement,
    at: Point,
    name: &str,
    operation: impl Fn(Point) -> O,
    outbox: &mut Outbox,
) {
    let event = handle(ui, placement, at, name, Handle::Corner);
    send(event, |by| shifted(at, by), operation, outbox);
}

/// Handles at the corners of a quadrilateral, and one in its middle that moves it whole; gives the corner that is dragged or
/// has the focus, for a [`loupe`](super::loupe).
pub fn quad_handles<O: Into<Operation>>(
    ui: &mut Ui,
    placement: &Placement,
    quad: &Quad,
    names: [&str; 5],
    operation: impl Fn(Quad) -> O,
    outbox: &mut Outbox,
) -> Option<Held> {
    let mut held = None;
    for (i, corner) in quad.corners.iter().enumerate() {
        let event = handle(ui, placement, *corner, names[i], Handle::Corner);
        send(event, |by| with_corner(quad, i, by), &operation, outbox);
        if has_hand(ui, names[i]) {
            held = Some(Held { corner: *corner, quad: *quad });
        }
    }
    let middle = quad.corners.iter().fold(Point::default(), |sum, corner| shifted(sum, *corner));
    let middle = Point::new(middle.x / 4.0, middle.y / 4.0);
    let event = handle(ui, placement, middle, names[4], Handle::Middle);
    send(event, |by| Quad { corners: quad.corners.map(|corner| shifted(corner, by)) }, operation, outbox);
    held
}

/// Whether a handle is dragged or has the focus.
fn has_hand(ui: &Ui, name: &str) -> bool {
    let id = ui.scope_id().with(("handle", name));
    ui.memory(|memory| memory.has_focus(id)) || ui.ctx().is_being_dragged(id)
}

fn with_corner(quad: &Quad, i: usize, by: Point) -> Quad {
    let mut corners = quad.corners;
    corners[i] = shifted(corners[i], by);
    Quad { corners }
}

fn shifted(point: Point, by: Point) -> Point {
    Point::new(point.x + by.x, point.y + by.y)
}

/// Handles at two opposite corners of an upright rectangle, and one in its middle that moves it whole.
pub fn rect_handles<O: Into<Operation>>(
    ui: &mut Ui,
    placement: &Placement,
    area: Area,
    names: [&str; 3],
    operation: impl Fn(Area) -> O,
    outbox: &mut Outbox,
) {
    let event = handle(ui, placement, area.min, names[0], Handle::Corner);
    send(event, |by| Area::between(shifted(area.min, by), area.max), &operation, outbox);
    let event = handle(ui, placement, area.max, names[1], Handle::Corner);
    send(event, |by| Area::between(area.min, shifted(area.max, by)), &operation, outbox);
    let middle = Point::new((area.min.x + area.max.x) / 2.0, (area.min.y + area.max.y) / 2.0);
    let event = handle(ui, placement, middle, names[2], Handle::Middle);
    send(event, |by| Area { min: shifted(area.min, by), max: shifted(area.max, by) }, operation, outbox);
}

/// An upright line that divides a rectangle at `share` of its width; gives the share after a drag or key.
pub fn upright_handle(ui: &mut Ui, rect: Rect, share: f32, name: &str) -> f32 {
    let x = rect.left() + rect.width() * share;
    let grip = Rect::from_center_size(pos2(x, rect.center().y), Vec2::new(12.0, rect.height()));
    let id = ui.scope_id().with(name);
    let response = ui.interact(grip, id, Sense::drag()).on_hover_cursor(CursorIcon::ResizeHorizontal);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Slider, true, name));
    take_arrows(ui, &response);
    if response.drag_started() {
        response.request_focus();
    }
    let keys = if response.has_focus() { arrows(ui).x * 8.0 } else { 0.0 };
    let tokens = Tokens::get(ui);
    let color = if response.has_focus() || response.hovered() { tokens.accent } else { over::LIGHT };
    let painter = ui.painter_at(rect);
    painter.vline(x, rect.y_range(), Stroke::new(3.0, over::UNDER));
    painter.vline(x, rect.y_range(), Stroke::new(1.5, color));
    let moved = response.drag_delta().x + keys;
    ((x + moved - rect.left()) / rect.width()).clamp(0.0, 1.0)
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Handle {
    Corner,
    Middle,
}

fn handle(ui: &mut Ui, placement: &Placement, at: Point, name: &str, look: Handle) -> Event {
    let centre = placement.screen(at);
    if !placement.rect.expand(REACH).contains(centre) {
        return Event::Rest;
    }
    let reach = Rect::from_center_size(centre, Vec2::splat(2.0 * REACH));
    let id: Id = ui.scope_id().with(("handle", name));
    let response = ui.interact(reach, id, Sense::click_and_drag()).on_hover_cursor(CursorIcon::Move);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, name));
    take_arrows(ui, &response);
    draw(ui, placement, centre, &response, look);
    // What lies around it must be seen while it is dragged.
    let response = if response.dragged() {
        response
    } else {
        response.on_hover_text(format!(
            "{name}: drag it, or press the arrow keys (Shift: 10 pixels, Alt: a tenth)"
        ))
    };
    if response.drag_started() || response.clicked() {
        response.request_focus();
    }
    if response.drag_started() {
        let origin = ui.input(|input| input.pointer.press_origin());
        let way = origin.zip(response.interact_pointer_pos()).map_or(Vec2::ZERO, |(from, to)| to - from);
        return Event::Moved(placement.scan_way(way));
    }
    // The toolkit ends a drag on Escape by itself, so that is looked at first.
    if (response.dragged() || response.drag_stopped()) && ui.input(|input| input.key_pressed(Key::Escape)) {
        ui.ctx().stop_dragging();
        return Event::BrokenOff;
    }
    if response.drag_stopped() {
        return Event::LetGo;
    }
    if response.dragged() {
        let by = response.drag_delta();
        return if by == Vec2::ZERO { Event::Rest } else { Event::Moved(placement.scan_way(by)) };
    }
    let keys = if response.has_focus() { arrows(ui) } else { Vec2::ZERO };
    if keys == Vec2::ZERO {
        Event::Rest
    } else {
        Event::Nudged(Point::new(f64::from(keys.x), f64::from(keys.y)))
    }
}

fn draw(ui: &Ui, placement: &Placement, centre: egui::Pos2, response: &egui::Response, look: Handle) {
    let tokens = Tokens::get(ui);
    let painter = ui.painter_at(placement.rect.expand(REACH));
    let active = response.hovered() || response.has_focus() || response.dragged();
    let fill = if active { tokens.accent } else { over::LIGHT };
    let dark = Stroke::new(1.5, over::UNDER);
    match look {
        Handle::Corner => painter.circle(centre, 5.0, fill, dark),
        Handle::Middle => {
            let mark = Rect::from_center_size(centre, Vec2::splat(9.0));
            painter.rect(mark, 1.0, fill, dark, egui::StrokeKind::Middle)
        }
    };
    if response.has_focus() {
        painter.circle_stroke(centre, REACH, Stroke::new(1.5, tokens.accent));
    }
}

/// Arrow keys move the handle and not the focus.
fn take_arrows(ui: &Ui, response: &egui::Response) {
    if response.has_focus() {
        let filter = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..EventFilter::default() };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
    }
}

/// The way that arrow keys say: one step each, ten with Shift, a tenth with Alt.
fn arrows(ui: &Ui) -> Vec2 {
    ui.input(|input| {
        let step = match input.modifiers {
            egui::Modifiers { shift: true, .. } => 10.0,
            egui::Modifiers { alt: true, .. } => 0.1,
            _ => 1.0,
        };
        let count = |key| input.num_presses(key) as f32;
        Vec2::new(
            step * (count(Key::ArrowRight) - count(Key::ArrowLeft)),
            step * (count(Key::ArrowDown) - count(Key::ArrowUp)),
        )
    })
}
