//! The prints on the screen, in the pixels of the reference's print.

use std::time::Duration;

use egui::{Align2, Rect, Response, Ui, pos2, vec2};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::geometry::Point;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{DIFFERENCE_RANGE, RegistrationOf, ScreenTones, TilePicture};

use super::{Arrangement, Prints, Tool, ends, patches};
use crate::appearance::over;
use crate::canvas::{self, Picture, Placement};
use crate::outbox::{Outbox, PointerReading};
use crate::pages::{View, sampling};
use crate::settings::Habits;

/// How long each print stays while they alternate.
const TURN: f64 = 0.9;
/// Side of the loupe in screen points, and how much it enlarges a scan pixel.
const LOUPE: (f32, f64) = (136.0, 3.0);

/// A part of the screen that a picture is drawn in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sheet {
    /// Where it lies on the screen, in points.
    pub(super) rect: Rect,
    /// Size of the picture in pixels.
    size: (usize, usize),
    /// The first of those on the screen: the grid is laid on it.
    pub(super) first: bool,
    /// The candidate's, beside the reference's: its own grid is corrected on it.
    pub(super) second: bool,
}

impl Sheet {
    /// Whether a place lies on the picture.
    pub(super) fn holds(&self, at: Point) -> bool {
        (0.0..self.size.0 as f64).contains(&at.x) && (0.0..self.size.1 as f64).contains(&at.y)
    }
}

/// One print to be drawn.
#[derive(Clone)]
struct Pane<'a> {
    film: &'a Film,
    role: Role,
    tiles: TilePicture,
}

impl Prints {
    pub(super) fn panes(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        size: (usize, usize),
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let reference = view.reference.and_then(|film| pane(film, Role::Reference, view));
        let candidate = view.candidate.and_then(|film| pane(film, Role::Candidate, view));
        let both: Vec<Pane<'_>> = reference.into_iter().chain(candidate).collect();
        let further = view.others().filter_map(|film| pane(film, Role::Other, view));
        let all: Vec<Pane<'_>> = both.iter().cloned().chain(further).collect();
        let sheet = Sheet { rect, size, first: true, second: false };
        let arrangement = if both.len() == 2 { self.arrangement } else { Arrangement::Beside };
        match arrangement {
            Arrangement::Beside => self.beside(ui, sheet, &all, view, outbox),
            Arrangement::Divided => self.divided(ui, sheet, &both, view, outbox),
            Arrangement::Alternating => {
                let turn = if Habits::of(ui.ctx()).reduced_motion {
                    self.turn % all.len()
                } else {
                    ui.ctx().request_repaint_after(Duration::from_millis(100));
                    (ui.input(|input| input.time) / TURN) as usize % all.len()
                };
                self.one(ui, sheet, &all[turn].tiles, &all[turn].film.label, view, outbox);
            }
            Arrangement::Difference => {
                let tiles = TilePicture::Difference(both[1].film.id.clone());
                let words = format!("{} minus {}", both[1].film.label, both[0].film.label);
                self.one(ui, sheet, &tiles, &words, view, outbox);
                legend(ui, rect, &both[1].film.label);
            }
        }
        waiting(ui, rect, view);
    }

    fn beside(
        &mut self,
        ui: &mut Ui,
        sheet: Sheet,
        panes: &[Pane<'_>],
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let rect = sheet.rect;
        // The pair leads; further films stand in a second row, as large.
        let columns = panes.len().clamp(1, 2);
        let rows = panes.len().div_ceil(columns).max(1);
        let part = |whole: f32, parts: usize| ((whole - 8.0 * (parts as f32 - 1.0)) / parts as f32).floor();
        let size = vec2(part(rect.width(), columns), part(rect.height(), rows));
        for (i, pane) in panes.iter().enumerate() {
            let at = vec2((i % columns) as f32, (i / columns) as f32);
            let place = Rect::from_min_size(rect.min + at * (size + vec2(8.0, 8.0)), size);
            let sheet = Sheet { rect: place, first: i == 0, second: i == 1, ..sheet };
            ui.push_id(i, |ui| self.one(ui, sheet, &pane.tiles, &pane.film.label, view, outbox));
        }
    }

    fn one(
        &mut self,
        ui: &mut Ui,
        sheet: Sheet,
        tiles: &TilePicture,
        words: &str,
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let Sheet { rect, size, .. } = sheet;
        let name = format!("Print: {words}");
        let picture = Picture { tiles: tiles.clone(), size, look: ScreenTones::default(), name: &name };
        let (response, placement) =
            canvas::show(ui, rect, &mut self.sight.camera, &picture, &mut self.tiles, view.session);
        self.over(ui, &response, &placement, sheet, (&picture, view), outbox);
        canvas::label(&ui.painter_at(rect), rect.left_top() + vec2(4.0, 4.0), Align2::LEFT_TOP, words);
    }

    fn divided(
        &mut self,
        ui: &mut Ui,
        sheet: Sheet,
        panes: &[Pane<'_>],
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let Sheet { rect, size, .. } = sheet;
        let camera = &mut self.sight.camera;
        let (response, placement) = canvas::interact(ui, rect, camera, size, "Both prints, divided");
        let line = rect.left() + rect.width() * self.divide;
        let halves = [
            Rect::from_min_max(rect.min, pos2(line, rect.bottom())),
            Rect::from_min_max(pos2(line, rect.top()), rect.max),
        ];
        for (pane, half) in panes.iter().zip(halves) {
            let picture = Picture {
                tiles: pane.tiles.clone(),
                size,
                look: ScreenTones::default(),
                name: &pane.film.label,
            };
            let undrawn = canvas::draw(ui, half, &picture, &placement, &mut self.tiles, view.session);
            canvas::trouble(ui, half, undrawn, &picture.tiles, view.session);
            let (at, align) = match pane.role {
                Role::Reference => (half.left_top() + vec2(4.0, 4.0), Align2::LEFT_TOP),
                _ => (half.right_top() + vec2(-4.0, 4.0), Align2::RIGHT_TOP),
            };
            canvas::label(&ui.painter_at(half), at, align, &pane.film.label);
        }
        let picture = Picture {
            tiles: panes[0].tiles.clone(),
            size,
            look: ScreenTones::default(),
            name: &panes[0].film.label,
        };
        self.over(ui, &response, &placement, sheet, (&picture, view), outbox);
        self.divide = canvas::upright_handle(ui, rect, self.divide, "Line between the prints");
    }

    /// What lies over every picture: patches or spots, what a click does, what the pointer reads, the loupe.
    fn over(
        &mut self,
        ui: &mut Ui,
        response: &Response,
        placement: &Placement,
        sheet: Sheet,
        (picture, view): (&Picture<'_>, &View<'_>),
        outbox: &mut Outbox,
    ) {
        self.sight.shown(*placement, ui.pixels_per_point());
        if self.ends {
            ends::draw(ui, sheet, placement, view);
        }
        match self.tool {
            Tool::Patches => {
                let held = patches::draw(ui, sheet, response, placement, view, outbox);
                if let Some(held) = held {
                    canvas::loupe(ui, sheet.rect, placement, &held, picture, &mut self.tiles, view.session);
                }
            }
            Tool::Spots | Tool::Points => self.spots.draw(ui, sheet, response, placement, view, outbox),
        }
        if let Some(at) = response.hover_pos().filter(|at| sheet.holds(placement.scan(*at))) {
            pointer(view, placement.scan(at), self.spots.radius(view), outbox);
            if self.loupe {
                self.loupe(ui, sheet.rect, at, placement.scan(at), view);
            }
        }
    }

    fn loupe(&mut self, ui: &Ui, rect: Rect, pointer: egui::Pos2, at: Point, view: &View<'_>) {
        let both: Vec<Pane<'_>> = [(view.reference, Role::Reference), (view.candidate, Role::Candidate)]
            .into_iter()
            .filter_map(|(film, role)| pane(film?, role, view))
            .collect();
        let Some((_, print)) = super::first_print(view) else { return };
        let Ok(size) = canvas::size_of(view.session, &print.scan) else { return };
        let width = LOUPE.0 * both.len() as f32 + 4.0 * (both.len().max(1) - 1) as f32;
        // Beside the pointer, on whichever side there is room.
        let x =
            if pointer.x + 24.0 + width < rect.right() { pointer.x + 24.0 } else { pointer.x - 24.0 - width };
        let y = (pointer.y + 24.0).min(rect.bottom() - LOUPE.0 - 4.0);
        for (i, pane) in both.iter().enumerate() {
            let corner = pos2(x + i as f32 * (LOUPE.0 + 4.0), y);
            let place = Rect::from_min_size(corner, vec2(LOUPE.0, LOUPE.0));
            let placement = Placement { rect: place, zoom: LOUPE.1, middle: at };
            let picture = Picture {
                tiles: pane.tiles.clone(),
                size,
                look: ScreenTones::default(),
                name: &pane.film.label,
            };
            canvas::draw(ui, place, &picture, &placement, &mut self.tiles, view.session);
            let painter = ui.painter_at(place.expand(1.0));
            painter.rect_stroke(place, 0.0, egui::Stroke::new(1.0, over::UNDER), egui::StrokeKind::Outside);
            canvas::disc(&painter, &placement, at, self.spots.radius(view), over::LIGHT);
            canvas::label(&painter, place.left_top() + vec2(2.0, 2.0), Align2::LEFT_TOP, &pane.film.label);
        }
    }
}

/// What the greys of the difference mean, at the upper right.
fn legend(ui: &mut Ui, rect: Rect, candidate: &str) {
    const SIZE: egui::Vec2 = vec2(168.0, 12.0);
    const STEPS: u8 = 42;
    let bar = Rect::from_min_size(pos2(rect.right() - SIZE.x - 8.0, rect.top() + 8.0), SIZE);
    if bar.left() < rect.left() + 160.0 {
        return;
    }
    let painter = ui.painter_at(rect);
    painter.rect_filled(bar.expand(2.0), 2.0, over::UNDER);
    let width = SIZE.x / f32::from(STEPS);
    for step in 0..STEPS {
        let place =
            Rect::from_min_size(bar.min + vec2(f32::from(step) * width, 0.0), vec2(width + 0.5, SIZE.y));
        painter.rect_filled(place, 0.0, over::surround(1.0 - f32::from(step) / f32::from(STEPS - 1)));
    }
    // From black to white is the whole range, half of it to either side of equal.
    let range = format::number(DIFFERENCE_RANGE / 2.0, 1);
    let below = bar.bottom() + 4.0;
    for (x, align, words) in [
        (bar.left(), Align2::LEFT_TOP, format!("−{range} D")),
        (bar.center().x, Align2::CENTER_TOP, "equal".to_owned()),
        (bar.right(), Align2::RIGHT_TOP, format!("+{range} D")),
    ] {
        canvas::label(&painter, pos2(x, below), align, &words);
    }
    let words =
        format!("Legend: white is {range} lighter in {candidate}, grey is equal, black is {range} denser");
    let id = ui.scope_id().with("legend of the difference");
    let response = ui.interact(bar, id, egui::Sense::hover());
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Image, true, &words));
    response.on_hover_text(words);
}

fn pane<'a>(film: &'a Film, role: Role, view: &View<'_>) -> Option<Pane<'a>> {
    let print = film.print.as_ref()?;
    // Without a print of the reference there is nothing to be registered to.
    let alone = view.reference.is_none_or(|reference| reference.print.is_none());
    let tiles = match role {
        // A print that could not be laid on the reference's is shown as it was scanned, so that one sees why.
        Role::Candidate | Role::Other if !alone && !unregistered(view, film) => {
            TilePicture::Registered(film.id.clone())
        }
        _ => TilePicture::Scan(print.scan.clone()),
    };
    Some(Pane { film, role, tiles })
}

fn unregistered(view: &View<'_>, film: &Film) -> bool {
    matches!(view.session.peek(&RegistrationOf { film: film.id.clone() }), Slot::Failed(_))
}

fn pointer(view: &View<'_>, at: Point, radius: f64, outbox: &mut Outbox) {
    let read = |film: Option<&Film>| sampling::print_density(view, film?, at, radius);
    let (reference, candidate) = (read(view.reference), read(view.candidate));
    outbox.pointer(PointerReading {
        at: sampling::place_words(at),
        reference: reference.as_ref().map(sampling::words),
        candidate: candidate.as_ref().map(sampling::words),
        difference: reference
            .as_ref()
            .zip(candidate.as_ref())
            .map(|(reference, candidate)| sampling::difference_words(reference, candidate)),
    });
}

/// Says that the prints are being registered, or why they could not be.
fn waiting(ui: &Ui, rect: Rect, view: &View<'_>) {
    let Some(film) = view.candidate.filter(|film| film.print.is_some()) else { return };
    if view.reference.is_none_or(|reference| reference.print.is_none()) {
        return;
    }
    let words = match view.session.peek(&RegistrationOf { film: film.id.clone() }) {
        Slot::Pending(_) | Slot::Stale(..) => "Laying the prints on each other".to_owned(),
        Slot::Failed(_) => {
            "The prints could not be laid on each other and are shown as scanned; the reason stands at the right"
                .to_owned()
        }
        Slot::Ready(_) => return,
    };
    let painter = ui.painter_at(rect);
    canvas::label(&painter, rect.center_bottom() + vec2(0.0, -8.0), Align2::CENTER_BOTTOM, &words);
}
