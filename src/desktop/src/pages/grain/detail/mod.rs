//! Surviving detail: the reference's print with the box and the map of where detail went, and both plots.

mod readout;

use std::sync::Arc;

use egui::{Align2, Rect, Ui, UiBuilder, vec2};
use twinwedge_workbench::core::detail::{Difference, Map};
use twinwedge_workbench::core::document::{Film, FilmId};
use twinwedge_workbench::core::drawing::{coherence_plot, signal_to_grain_plot};
use twinwedge_workbench::core::geometry::{Point, Quad, Rect as Area};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::edits::ViewingEdit;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{DetailOf, ScreenTones, SurvivingDetail, TilePicture};
use twinwedge_workbench::intake::Purpose;

pub(super) use readout::readout;

use super::Grain;
use super::area::inside;
use crate::appearance::{Tokens, over, widgets};
use crate::canvas::{self, Picture, Placement, ZoomPan};
use crate::outbox::Outbox;
use crate::pages::View;
use crate::plot;

/// What lies over the print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Over {
    #[default]
    Map,
    Nothing,
}

const OVERS: [(Over, &str, &str); 2] = [
    (
        Over::Map,
        "map",
        "Where the candidate carries the reference's detail: white all of it, black none; empty where there is none to lose",
    ),
    (Over::Nothing, "nothing", "The print as it is"),
];

/// What the part keeps.
#[derive(Debug, Default)]
pub(super) struct Shown {
    sight: ZoomPan,
    over: Over,
}

impl Shown {
    pub(super) fn sight(&mut self) -> &mut ZoomPan {
        &mut self.sight
    }
}

/// How fresh what is shown is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Freshness {
    /// It is the full answer.
    Whole,
    /// A first answer from a part of the picture.
    First,
    /// Of another box; a new answer is being made.
    Old,
}

/// The best answer that is there.
fn best(view: &View<'_>, film: &FilmId) -> Result<Option<(Arc<SurvivingDetail>, Freshness)>, Problem> {
    let ask = |quick: bool| view.session.peek(&DetailOf { film: film.clone(), quick });
    let before = match ask(false) {
        Slot::Ready(found) => return Ok(Some((found, Freshness::Whole))),
        Slot::Failed(problem) => return Err(problem),
        Slot::Stale(found, _) => Some((found, Freshness::Old)),
        Slot::Pending(_) => None,
    };
    Ok(match ask(true) {
        Slot::Ready(found) => Some((found, Freshness::First)),
        Slot::Stale(found, _) => Some((found, Freshness::Old)),
        Slot::Pending(_) | Slot::Failed(_) => before,
    })
}

impl Grain {
    pub(super) fn detail(&mut self, ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
        let (Some(reference), Some(candidate)) = (view.reference, view.candidate) else {
            widgets::muted(
                ui,
                "Surviving detail takes a reference film and a candidate: add both to the series.",
            );
            return;
        };
        if let Some(film) = [reference, candidate].into_iter().find(|film| film.print.is_none()) {
            return nothing_yet(ui, film, outbox);
        }
        let Some(print) = &reference.print else { return };
        let size = match canvas::size_of(view.session, &print.scan) {
            Ok(size) => size,
            Err(note) => {
                widgets::muted(ui, &note);
                return;
            }
        };
        ui.horizontal_wrapped(|ui| {
            widgets::choice(ui, "Over the print", &mut self.detail.over, &OVERS);
            ui.add_space(8.0);
            if view.series.detail_area.is_some() {
                let hover = "Compares detail wherever the prints overlap";
                if widgets::button(ui, "Whole print", hover).clicked() {
                    outbox.change(ViewingEdit::WholePrint);
                }
            } else if widgets::button(ui, "Draw a box", "Compares detail within a box that is dragged")
                .clicked()
            {
                outbox.change(ViewingEdit::DrawBox(first_box(size)));
            }
        });
        ui.add_space(4.0);
        let found = best(view, &candidate.id);
        let whole = ui.available_rect_before_wrap();
        let width = ((whole.width() - 8.0) * 0.48).floor();
        let left = Rect::from_min_size(whole.min, vec2(width, whole.height()));
        let right = Rect::from_min_max(left.right_top() + vec2(8.0, 0.0), whole.max);
        let answer = found.as_ref().ok().and_then(Option::as_ref).map(|(found, _)| &**found);
        self.print(ui, left, reference, size, answer, view, outbox);
        ui.scope_builder(UiBuilder::new().max_rect(right).id_salt("plots"), |ui| match &found {
            Ok(Some((found, freshness))) => {
                plots(ui, found, *freshness, [&reference.label, &candidate.label]);
            }
            Ok(None) => {
                widgets::muted(ui, "Comparing the detail of both prints");
            }
            Err(problem) => widgets::problem(ui, problem),
        });
    }

    #[expect(clippy::too_many_arguments, reason = "one picture and what lies over it")]
    fn print(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        reference: &Film,
        size: (usize, usize),
        found: Option<&SurvivingDetail>,
        view: &View<'_>,
        outbox: &mut Outbox,
    ) {
        let Some(print) = &reference.print else { return };
        ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).raised);
        let name = format!("Print of {} with the map of detail", reference.label);
        let picture = Picture {
            tiles: TilePicture::Scan(print.scan.clone()),
            size,
            look: ScreenTones::default(),
            name: &name,
        };
        let camera = &mut self.detail.sight.camera;
        let (_, placement) = canvas::show(ui, rect, camera, &picture, &mut self.tiles, view.session);
        self.detail.sight.shown(placement, ui.pixels_per_point());
        let painter = ui.painter_at(rect);
        if let Some(found) = found {
            if self.detail.over == Over::Map {
                map(&painter, &placement, &found.detail.map);
                scale(ui, rect);
            }
            for place in &found.detail.differing {
                canvas::quad(&painter, &placement, &Quad::upright(place.area), 1.5, over::LIGHT);
                let at = placement.screen(place.area.min) + vec2(2.0, 2.0);
                let words = match place.difference {
                    Difference::Moved { .. } => "moved",
                    Difference::Changed => "differs",
                    Difference::Light { .. } => "light",
                };
                canvas::label(&painter, at, Align2::LEFT_TOP, words);
            }
        }
        if let Some(area) = view.series.detail_area {
            canvas::quad(&painter, &placement, &Quad::upright(area), 1.5, over::LIGHT);
            let moved = |area| ViewingEdit::MoveBox(inside(area, size));
            let names = [
                "Box for detail: upper left corner",
                "Box for detail: lower right corner",
                "Box for detail: the whole box",
            ];
            canvas::rect_handles(ui, &placement, area, names, moved, outbox);
        }
        canvas::label(&painter, rect.left_top() + vec2(4.0, 4.0), Align2::LEFT_TOP, &reference.label);
    }
}

fn nothing_yet(ui: &mut Ui, film: &Film, outbox: &mut Outbox) {
    let pressed = widgets::empty(
        ui,
        &format!("A scan of the print of {} goes here", film.label),
        "Prints of one scene on both films are laid on each other; what they agree about is detail, what they do not is \
         grain. Best are prints at one size, scanned at 300 dpi or more without sharpening. A file can also be dropped on \
         the window.",
        "Open a print scan ...",
    );
    if pressed {
        outbox.ask(Purpose::Print(film.id.clone()));
    }
}

/// The middle half of a print.
fn first_box((width, height): (usize, usize)) -> Area {
    let (width, height) = (width as f64, height as f64);
    Area {
        min: Point::new((width * 0.25).round(), (height * 0.25).round()),
        max: Point::new((width * 0.75).round(), (height * 0.75).round()),
    }
}

fn map(painter: &egui::Painter, placement: &Placement, map: &Map) {
    let half = map.step_px / 2.0;
    for (k, share) in map.share.iter().enumerate() {
        let Some(share) = share else { continue };
        let middle = Point::new(
            map.first.x + (k % map.columns) as f64 * map.step_px,
            map.first.y + (k / map.columns) as f64 * map.step_px,
        );
        let corner = |sign: f64| placement.screen(Point::new(middle.x + sign * half, middle.y + sign * half));
        painter.rect_filled(Rect::from_two_pos(corner(-1.0), corner(1.0)), 0.0, over::share(*share));
    }
}

/// What the tones of the map mean.
fn scale(ui: &Ui, rect: Rect) {
    const STEPS: u8 = 8;
    let (wide, high) = (14.0, 12.0);
    let corner = rect.left_bottom() + vec2(8.0, -40.0);
    let painter = ui.painter_at(rect);
    let ground = Rect::from_min_size(corner - vec2(4.0, 4.0), vec2(wide * f32::from(STEPS) + 8.0, 38.0));
    painter.rect_filled(ground, 2.0, over::UNDER);
    for step in 0..STEPS {
        let at = corner + vec2(wide * f32::from(step), 0.0);
        let share = f32::from(step) / f32::from(STEPS - 1);
        painter.rect_filled(Rect::from_min_size(at, vec2(wide, high)), 0.0, over::surround(share));
    }
    canvas::label(&painter, corner + vec2(-4.0, high + 2.0), Align2::LEFT_TOP, "none");
    let end = corner + vec2(wide * f32::from(STEPS) + 4.0, high + 2.0);
    canvas::label(&painter, end, Align2::RIGHT_TOP, "all detail");
}

fn plots(ui: &mut Ui, found: &SurvivingDetail, freshness: Freshness, labels: [&String; 2]) {
    let words = match freshness {
        Freshness::Whole => None,
        Freshness::First => Some("A first answer from a part of the picture; the whole follows"),
        Freshness::Old => Some("Comparing the detail of both prints"),
    };
    widgets::muted(ui, words.unwrap_or("Both prints by spatial frequency"));
    if freshness == Freshness::Old {
        ui.multiply_opacity(0.5);
    }
    let height = ((ui.available_height() - 12.0) / 2.0).floor().max(120.0);
    let look = |name: &str, ui: &Ui| plot::PlotLook::new(ui.scope_id().with(name), height);
    let over = look("coherence", ui);
    plot::show(ui, &coherence_plot(&found.detail), &over);
    let under = look("signal-to-grain", ui);
    plot::show(ui, &signal_to_grain_plot(&found.detail, labels.map(String::as_str)), &under);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_box_lies_in_the_middle() {
        let area = first_box((1200, 900));
        assert_eq!((area.min.x, area.min.y, area.max.x, area.max.y), (300.0, 225.0, 900.0, 675.0));
    }
}
