//! Correcting the registration by two pairs of points: the reference's print at the left, the candidate's own at the right.

use egui::{Align2, Painter, Rect, Stroke, Ui, pos2, vec2};
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::geometry::Point;
use twinwedge_workbench::edits::PrintChange;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{RegistrationOf, ScreenTones, TilePicture};

use super::Prints;
use crate::appearance::{over, widgets};
use crate::canvas::{self, Picture, Placement};
use crate::outbox::Outbox;
use crate::pages::{View, sampling};

type Pairs = [(Point, Point); 2];

impl Prints {
    pub(super) fn points(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        size: (usize, usize),
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let both = view.reference.zip(view.candidate).and_then(|(reference, candidate)| {
            Some((reference, reference.print.as_ref()?, candidate, candidate.print.as_ref()?))
        });
        let Some((reference, reference_print, candidate, print)) = both else {
            return canvas::note(ui, rect, "Both films need a print to be laid on each other.");
        };
        let own = match canvas::size_of(view.session, &print.scan) {
            Ok(own) => own,
            Err(note) => return canvas::note(ui, rect, &note),
        };
        let width = ((rect.width() - 8.0) / 2.0).floor();
        let left = Rect::from_min_size(rect.min, vec2(width, rect.height()));
        let right = Rect::from_min_size(pos2(rect.left() + width + 8.0, rect.top()), left.size());
        let pairs = print.pairs;
        for (second, place) in [(false, left), (true, right)] {
            let (film, choice, size, sight) = if second {
                (candidate, print, own, &mut self.own)
            } else {
                (reference, reference_print, size, &mut self.sight)
            };
            let name = format!("Print of {} in its own pixels", film.label);
            let tiles = TilePicture::Scan(choice.scan.clone());
            let picture = Picture { tiles, size, look: ScreenTones::default(), name: &name };
            let (_, placement) =
                canvas::show(ui, place, &mut sight.camera, &picture, &mut self.tiles, view.session);
            sight.shown(placement, ui.pixels_per_point());
            let painter = ui.painter_at(place);
            canvas::label(&painter, place.left_top() + vec2(4.0, 4.0), Align2::LEFT_TOP, &film.label);
            if !second && pairs.is_none() {
                windows(&painter, &placement, view, candidate);
            }
            let Some(pairs) = pairs else { continue };
            for (i, pair) in pairs.iter().enumerate() {
                let at = if second { pair.1 } else { pair.0 };
                canvas::disc(&painter, &placement, at, 0.0, over::LIGHT);
                let moved = |to| PrintChange::MovePoint { pair: i, here: second, to }.of(&candidate.id);
                let name = format!("Point {} on {}", i + 1, film.label);
                canvas::point_handle(ui, &placement, at, &name, moved, outbox);
                let beside = placement.screen(at) + vec2(10.0, 0.0);
                canvas::label(&painter, beside, Align2::LEFT_CENTER, &(i + 1).to_string());
            }
        }
        if pairs.is_none() {
            let place = Rect::from_center_size(rect.center_bottom() - vec2(0.0, 84.0), vec2(420.0, 132.0));
            let slot = view.session.peek(&RegistrationOf { film: candidate.id.clone() });
            let failed = matches!(slot, Slot::Failed(_));
            offer(ui, place, candidate, (first_pairs(view, candidate, size, own), failed), outbox);
        }
    }
}

/// How far what remains is drawn out.
const DRAWN_OUT: f64 = 30.0;

/// The small windows that the registration rests on: a dot where one agrees, with what remains as a line; a cross where one
/// was not found where the map puts it.
fn windows(painter: &Painter, placement: &Placement, view: &View<'_>, candidate: &Film) {
    let slot = view.session.peek(&RegistrationOf { film: candidate.id.clone() });
    let Some(found) = slot.value() else { return };
    let strokes = [Stroke::new(3.0, over::UNDER), Stroke::new(1.0, over::LIGHT)];
    for window in &found.windows {
        let centre = placement.screen(window.at);
        let lines = if window.agrees {
            let [[a, b], [c, d]] = found.transform.inverse().slopes(found.transform.map(window.at));
            let (x, y) = (window.away.x * DRAWN_OUT, window.away.y * DRAWN_OUT);
            let tip = Point::new(window.at.x + a * x + b * y, window.at.y + c * x + d * y);
            painter.circle_filled(centre, 2.5, over::UNDER);
            painter.circle_filled(centre, 1.5, over::LIGHT);
            vec![[centre, placement.screen(tip)]]
        } else {
            let arm = vec2(3.5, 3.5);
            let other = vec2(arm.x, -arm.y);
            vec![[centre - arm, centre + arm], [centre - other, centre + other]]
        };
        for stroke in strokes {
            for line in &lines {
                painter.line_segment(*line, stroke);
            }
        }
    }
    if !found.windows.is_empty() {
        let words = format!("dot: agrees, what remains drawn {DRAWN_OUT} times; cross: not");
        canvas::label(painter, placement.rect.left_bottom() + vec2(4.0, -4.0), Align2::LEFT_BOTTOM, &words);
    }
}

fn offer(ui: &mut Ui, place: Rect, candidate: &Film, (pairs, failed): (Pairs, bool), outbox: &mut Outbox) {
    let mut pressed = false;
    ui.scope_builder(egui::UiBuilder::new().max_rect(place), |ui| {
        let what = if failed {
            "The prints could not be laid on each other"
        } else {
            "The registration was found by itself"
        };
        let why = if failed {
            "Where both show the same target, mark the same two things on both prints, far from each other."
        } else {
            "Where it is wrong, mark the same two things on both prints, far from each other."
        };
        pressed = widgets::empty(ui, what, why, "Correct it by two pairs of points");
    });
    if pressed {
        outbox.change(PrintChange::Pairs(pairs).of(&candidate.id));
    }
}

/// Where the points begin: on the same things by the registration found, or at the same shares of both prints.
fn first_pairs(view: &View<'_>, candidate: &Film, size: (usize, usize), own: (usize, usize)) -> Pairs {
    let found = sampling::to_print(view, candidate);
    [0.25, 0.75].map(|share| {
        let here = Point::new(share * size.0 as f64, share * size.1 as f64);
        let there = match &found {
            Some(map) => map.map(here),
            None => Point::new(share * own.0 as f64, share * own.1 as f64),
        };
        (here, there)
    })
}
