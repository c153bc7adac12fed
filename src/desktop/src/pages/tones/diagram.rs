//! The four quadrants: a tone pointed at anywhere is followed through all of them; the exposure index and the print exposure
//! are dragged.

use egui::{CursorIcon, EventFilter, Key, Modifiers, Response, Sense, Ui, WidgetInfo};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::drawing::{FourQuadrants, Quadrant, four_quadrants};
use twinwedge_workbench::core::tone::{Chain, TracedTone, zone_words};
use twinwedge_workbench::core::units::STOP;
use twinwedge_workbench::edits::ToneEdit;

use super::Tones;
use super::choices::three_digits;
use super::paint::{self, Place};
use crate::appearance::{Tokens, widgets};
use crate::outbox::{Command, Outbox, PointerReading};

/// What is dragged, from where it began.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Drag {
    /// The exposure index.
    Index { began: f64, way: f64 },
    /// The reference's print exposure, in stops above the paper test's.
    Print { began: f64, way: f64 },
}

/// The diagram with all that is done in it.
pub(super) fn ui(page: &mut Tones, ui: &mut Ui, chain: &Chain<'_>, outbox: &mut Outbox) {
    let diagram = four_quadrants(chain);
    if !diagram.printed {
        let why = "The left half needs the paper: print a step tablet on it, read its steps, and enter them under 'paper'.";
        widgets::footnote(ui, why);
    }
    let rect = ui.available_rect_before_wrap();
    let place = Place::within(rect, &diagram);
    let id = ui.scope_id().with("four quadrants");
    let response = ui.interact(place.frame, id, Sense::click_and_drag());
    ui.advance_cursor_after_rect(rect);
    keys(ui, &response, &mut page.zone);
    if let Some(at) = response.hover_pos().filter(|_| page.drag.is_none())
        && let Some(zone) = diagram.zone_at(chain, place.data(at))
    {
        page.zone = zone.clamp(-0.5, 10.5);
        outbox.pointer(pointer(page.zone, &chain.trace(page.zone)));
    }
    drag(page, ui, &response, &place, chain, outbox);
    let told = format!("{}: {}", diagram.title, words(page.zone, chain));
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Figure, true, &told));
    draw(ui, &response, &place, &diagram, chain, page.zone);
}

fn draw(ui: &Ui, response: &Response, place: &Place, diagram: &FourQuadrants, chain: &Chain<'_>, zone: f64) {
    let tokens = Tokens::get(ui);
    paint::paper(ui.painter(), place, diagram, tokens);
    let inside = ui.painter().with_clip_rect(place.frame.intersect(ui.clip_rect()));
    paint::layers(&inside, place, &diagram.layers, false, tokens);
    paint::layers(&inside, place, &diagram.trace(chain, zone), true, tokens);
    if response.has_focus() {
        let stroke = egui::Stroke::new(1.0, tokens.ink);
        ui.painter().rect_stroke(place.frame, 0.0, stroke, egui::StrokeKind::Inside);
    }
}

/// Arrow keys move the traced tone by a third of a stop, with Shift by a stop.
fn keys(ui: &Ui, response: &Response, zone: &mut f64) {
    if response.clicked() {
        response.request_focus();
    }
    if !response.has_focus() {
        return;
    }
    let filter = EventFilter { horizontal_arrows: true, vertical_arrows: true, ..Default::default() };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, filter));
    for (key, up) in
        [(Key::ArrowRight, 1.0), (Key::ArrowUp, 1.0), (Key::ArrowLeft, -1.0), (Key::ArrowDown, -1.0)]
    {
        let pressed = |modifiers| ui.input_mut(|input| input.consume_key(modifiers, key));
        if pressed(Modifiers::SHIFT) {
            *zone = (*zone + up).clamp(0.0, 10.0);
        } else if pressed(Modifiers::NONE) {
            *zone = ((*zone * 3.0 + up).round() / 3.0).clamp(0.0, 10.0);
        }
    }
}

/// A drag of the films moves the exposure index, a drag of the papers the print exposure: one step of the history each.
fn drag(
    page: &mut Tones,
    ui: &Ui,
    response: &Response,
    place: &Place,
    chain: &Chain<'_>,
    outbox: &mut Outbox,
) {
    let over = response.hover_pos().map(|at| FourQuadrants::quadrant(place.data(at)));
    let takes = |quadrant| match quadrant {
        Quadrant::Camera | Quadrant::Film => Some(Drag::Index { began: chain.index(), way: 0.0 }),
        Quadrant::Paper => chain.print_stops(0).map(|began| Drag::Print { began, way: 0.0 }),
        Quadrant::Print => None,
    };
    if response.drag_started() {
        let origin = ui.input(|input| input.pointer.press_origin());
        page.drag = origin.map(|at| FourQuadrants::quadrant(place.data(at))).and_then(takes);
    }
    let cursor = match over.and_then(takes) {
        Some(Drag::Index { .. }) => Some(CursorIcon::ResizeHorizontal),
        Some(Drag::Print { .. }) => Some(CursorIcon::ResizeVertical),
        None => None,
    };
    if let Some(cursor) = cursor {
        ui.set_cursor_icon(cursor);
    }
    let Some(drag) = &mut page.drag else { return };
    if ui.input(|input| input.key_pressed(Key::Escape)) {
        ui.ctx().stop_dragging();
        outbox.send(Command::Abort);
        page.drag = None;
        return;
    }
    if response.dragged() {
        let by = place.way(response.drag_delta());
        match drag {
            Drag::Index { began, way } => {
                *way += by[0];
                // More exposure to the right is a lower index.
                let index = three_digits(*began * 10_f64.powf(-*way));
                outbox.preview(ToneEdit::DragIndex(index));
            }
            Drag::Print { began, way } => {
                *way += by[1];
                let stops = ((*began + *way / STOP) * 100.0).round() / 100.0;
                outbox.preview(ToneEdit::DragPrint(stops));
            }
        }
    }
    if response.drag_stopped() {
        outbox.send(Command::Commit);
        page.drag = None;
    }
}

/// The traced tone in words, for screen readers.
fn words(zone: f64, chain: &Chain<'_>) -> String {
    let mut text = format!("zone {}", zone_words(zone));
    for (film, traced) in chain.trace(zone).iter().enumerate() {
        text.push_str(&format!("; {}: {}", chain.label(film), numbers(traced)));
    }
    text
}

fn numbers(traced: &TracedTone) -> String {
    let density = format::value(&traced.density, 2, "");
    match traced.print.known() {
        Some(print) => format!("D {density}, print {}", format::measured(print, 2)),
        None => format!("D {density}"),
    }
}

fn pointer(zone: f64, traced: &[TracedTone]) -> PointerReading {
    let text = |film: usize| traced.get(film).map(numbers);
    PointerReading {
        at: format!("zone {}", zone_words(zone)),
        reference: text(0),
        candidate: text(1),
        difference: None,
    }
}
