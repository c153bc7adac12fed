//! One film's step densities: its strip on the scan with handles, or its typed readings, or what goes there.

use egui::{Align, Align2, Layout, Rect, RichText, Ui};
use twinwedge_workbench::core::document::{Film, FilmId, ReadingsSource, ScanId, StripShape};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::found::Found;
use twinwedge_workbench::core::geometry::{Point, Quad};
use twinwedge_workbench::core::measured::Flags;
use twinwedge_workbench::core::tablet::StepSample;
use twinwedge_workbench::core::tablet::find::{FoundStrip, Order};
use twinwedge_workbench::edits::{StripChange, named};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{ScreenTones, StripOf, TilePicture};
use twinwedge_workbench::intake::Purpose;

use super::found::{self, Placed};
use super::{choices, several, typing};
use crate::appearance::{Tokens, fonts, over, widgets};
use crate::canvas::{self, Picture, Placement, Tiles, ZoomPan};
use crate::outbox::{Command, Outbox, PointerReading};
use crate::pages::{Selected, View, left_out, missing, sampling};

/// Flags that put a step in doubt; others only tell where it comes from.
pub(super) const DOUBTFUL: Flags =
    Flags::CLIPPED.union(Flags::OUTSIDE_CALIBRATION).union(Flags::FEW_SAMPLES).union(Flags::UNEVEN);

/// Radius of what the pointer reads, in scan pixels.
const POINTER_RADIUS: f64 = 4.0;

/// What is kept of one film's half of the page.
#[derive(Debug, Default)]
pub(super) struct Strip {
    pub(super) sight: ZoomPan,
    typing: Option<(FilmId, usize, typing::Typing)>,
    /// Whose strip is shown, and which; one past the last where another is to come.
    shown: Option<(FilmId, usize)>,
}

impl Strip {
    /// Which strip of the film is shown.
    pub(super) fn chosen(&self, film: Option<&Film>) -> usize {
        let of = self.shown.as_ref().filter(|(id, _)| film.is_some_and(|film| film.id == *id));
        let most = film.map_or(0, |film| film.strips.len());
        of.map_or(0, |(_, strip)| *strip).min(most)
    }

    pub(super) fn ui(
        &mut self,
        ui: &mut Ui,
        film: &Film,
        role: Role,
        view: &View<'_>,
        tiles: &mut Tiles,
        outbox: &mut Outbox,
    ) {
        let mut strip = self.chosen(Some(film));
        // What was typed for one strip must not end up with another.
        if self.typing.as_ref().is_some_and(|(of, number, _)| *of != film.id || *number != strip) {
            self.typing = None;
        }
        self.head(ui, film, strip, role, outbox);
        several::row(ui, film, &mut strip, view, outbox);
        self.shown = Some((film.id.clone(), strip));
        if let Some((_, number, typing)) = &mut self.typing
            && *number == strip
        {
            if typing.ui(ui, film, strip, outbox) {
                self.typing = None;
            }
            return;
        }
        match film.strip_readings(strip) {
            None => self.nothing_yet(ui, film, strip, outbox),
            Some(ReadingsSource::Typed(readings)) => {
                choices::exposure(ui, film, strip, view, outbox);
                typing::shown(ui, film, strip, readings, view, outbox);
            }
            Some(ReadingsSource::Strip { scan, shape }) => {
                choices::strip(ui, film, strip, scan, shape, view, outbox);
                self.scan(ui, film, strip, role, scan, shape, view, tiles, outbox);
            }
        }
    }

    fn head(&mut self, ui: &mut Ui, film: &Film, strip: usize, role: Role, outbox: &mut Outbox) {
        ui.horizontal(|ui| {
            widgets::film_sign(ui, role);
            ui.label(fonts::strong(&film.label));
            let source = match film.strip_readings(strip) {
                None => "no step densities yet".to_owned(),
                Some(ReadingsSource::Typed(readings)) => {
                    let kind = film.strips.get(strip).and_then(|strip| strip.density);
                    let kind = kind.map_or_else(String::new, |kind| format!(", {}", kind.words()));
                    format!("{} typed readings{kind}", readings.len())
                }
                Some(ReadingsSource::Strip { scan, .. }) => format!("strip on the scan {}", scan.0),
            };
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let typed =
                    widgets::button(ui, "Type or paste readings", "Step densities read with a densitometer");
                if typed.clicked() {
                    self.typing = Some((film.id.clone(), strip, typing::Typing::of(film, strip)));
                }
                let scan = widgets::button(
                    ui,
                    "Open a strip scan ...",
                    "A scan of the strip exposed through the tablet",
                );
                if scan.clicked() {
                    outbox.ask(Purpose::Strip(film.id.clone(), strip));
                }
                ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                    let muted = Tokens::get(ui).muted;
                    widgets::ellipsis(ui, RichText::new(source).color(muted));
                });
            });
        });
    }

    fn nothing_yet(&mut self, ui: &mut Ui, film: &Film, strip: usize, outbox: &mut Outbox) {
        let what = match strip {
            0 => "The step densities of this film go here",
            _ => "The step densities of an additional strip of this roll go here",
        };
        let pressed = widgets::empty(
            ui,
            what,
            "Scan the strip that was exposed through the step tablet, or type or paste what a densitometer read. A file \
             can also be dropped on the window.",
            "Open a strip scan ...",
        );
        if pressed {
            outbox.ask(Purpose::Strip(film.id.clone(), strip));
        }
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "the parts of one film's strip and the frame it is drawn in"
    )]
    fn scan(
        &mut self,
        ui: &mut Ui,
        film: &Film,
        strip: usize,
        role: Role,
        scan: &ScanId,
        shape: &StripShape,
        view: &View<'_>,
        tiles: &mut Tiles,
        outbox: &mut Outbox,
    ) {
        let placed = Placed { scan, shape, tablet: film.strip_tablet(strip), order: Order::Falling };
        let slot = placed.found(view);
        let of = named(film, strip);
        if let Some(shape) =
            found::row(ui, &placed, &slot, |ui| choices::aperture(ui, film, strip, shape, outbox))
        {
            outbox.change(StripChange::Found(shape).of(&film.id, strip));
        }
        let found = placed.as_found(&slot);
        let rect = ui.available_rect_before_wrap();
        ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).raised);
        let Ok(size) = canvas::size_of(view.session, scan) else {
            let without = StripChange::Remove.of(&film.id, strip).into();
            return missing::instead(ui, rect, view, scan, Some(without), outbox);
        };
        let name = format!("Strip of {of}");
        let picture = Picture {
            tiles: TilePicture::Scan(scan.clone()),
            size,
            look: ScreenTones::default(),
            name: &name,
        };
        let (response, placement) =
            canvas::show(ui, rect, &mut self.sight.camera, &picture, tiles, view.session);
        self.sight.shown(placement, ui.pixels_per_point());
        let painter = ui.painter_at(rect);
        canvas::quad(&painter, &placement, &shape.quad, 1.0, Tokens::get(ui).pale);
        if let Some(found) = found {
            found::draw(&painter, &placement, &found.value);
        }
        let slot = view.session.peek(&StripOf { film: film.id.clone(), strip });
        if let Some(steps) = slot.value() {
            draw_steps(ui, rect, &placement, steps, found, view);
            left_out::draw(ui, &painter, &placement, steps.iter());
            if response.clicked()
                && let Some(at) = response.interact_pointer_pos()
                && let Some(step) = step_at(steps, placement.scan(at))
            {
                outbox.send(Command::Select(Selected::Step(step)));
            }
        }
        if let Slot::Failed(problem) = &slot {
            canvas::failed(ui, rect, problem, &picture.tiles, view.session);
        }
        let moved = |quad| StripChange::Place(quad).of(&film.id, strip);
        let names = [
            format!("{of}: corner at the start of step 1"),
            format!("{of}: corner at the end of the last step"),
            format!("{of}: other corner at the end of the last step"),
            format!("{of}: other corner at the start of step 1"),
            format!("{of}: the whole strip"),
        ];
        let names = names.each_ref().map(String::as_str);
        if let Some(held) = canvas::quad_handles(ui, &placement, &shape.quad, names, moved, outbox) {
            canvas::loupe(ui, rect, &placement, &held, &picture, tiles, view.session);
        }
        if let Some(at) = response.hover_pos() {
            pointer(view, role, scan, placement.scan(at), outbox);
        }
    }
}

/// Draws the sampled areas: numbered, the doubtful ones crossed and named, the selected one in the accent.
pub(super) fn draw_steps(
    ui: &Ui,
    rect: Rect,
    placement: &Placement,
    steps: &[StepSample],
    found: Option<&Found<FoundStrip>>,
    view: &View<'_>,
) {
    let tokens = Tokens::get(ui);
    let painter = ui.painter_at(rect);
    // Every step has its number where there is room for all, else every fifth.
    let side = |a: egui::Pos2, b: egui::Pos2| (a - b).length();
    let widest = |sample: &StepSample| {
        let [a, b, _, d] = sample.area.corners.map(|corner| placement.screen(corner));
        side(a, b).max(side(a, d))
    };
    let roomy = steps.iter().all(|sample| widest(sample) > 28.0);
    // Where numbers would stand on each other, that of the selected step and the first ones stay.
    let mut order: Vec<&StepSample> = steps.iter().collect();
    order.sort_by_key(|sample| view.selected != Selected::Step(sample.step));
    let mut taken = Vec::new();
    for sample in order {
        let selected = view.selected == Selected::Step(sample.step);
        let doubtful = sample.flags().intersects(DOUBTFUL) || found::unsound(found, sample.step);
        let color = if selected { tokens.accent } else { over::LIGHT };
        let width = if selected { 2.0 } else { 1.0 };
        canvas::sampled(&painter, placement, sample, width, color);
        let [a, b, c, d] = sample.area.corners.map(|corner| placement.screen(corner));
        if doubtful {
            painter.line_segment([a, c], egui::Stroke::new(1.0, color));
            painter.line_segment([b, d], egui::Stroke::new(1.0, color));
        }
        if selected || doubtful || sample.step == 1 || sample.step % 5 == 0 || roomy {
            let words = if doubtful { format!("{} ?", sample.step) } else { sample.step.to_string() };
            canvas::label_if_free(&painter, c.lerp(d, 0.5), Align2::CENTER_TOP, &words, &mut taken);
        }
    }
}

/// The step whose area holds a place.
pub(super) fn step_at(steps: &[StepSample], at: Point) -> Option<u32> {
    steps.iter().find(|sample| holds(&sample.area, at)).map(|sample| sample.step)
}

fn holds(quad: &Quad, at: Point) -> bool {
    let c = quad.corners;
    let side = |a: Point, b: Point| (b.x - a.x) * (at.y - a.y) - (b.y - a.y) * (at.x - a.x);
    let sides = [side(c[0], c[1]), side(c[1], c[2]), side(c[2], c[3]), side(c[3], c[0])];
    sides.iter().all(|side| *side >= 0.0) || sides.iter().all(|side| *side <= 0.0)
}

/// Tells what the pointer reads in a scan of one film.
pub(super) fn pointer(view: &View<'_>, role: Role, scan: &ScanId, at: Point, outbox: &mut Outbox) {
    let read = sampling::density(view, scan, at, POINTER_RADIUS).map(|read| sampling::words(&read));
    let mut reading = PointerReading { at: sampling::place_words(at), ..PointerReading::default() };
    match role {
        Role::Reference => reading.reference = read,
        _ => reading.candidate = read,
    }
    outbox.pointer(reading);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quadrilateral_holds_what_lies_within_it_whichever_way_it_turns() {
        let mut quad = Quad {
            corners: [
                Point::new(0.0, 0.0),
                Point::new(10.0, 2.0),
                Point::new(9.0, 12.0),
                Point::new(-1.0, 9.0),
            ],
        };
        for _ in 0..2 {
            assert!(holds(&quad, Point::new(5.0, 5.0)));
            assert!(!holds(&quad, Point::new(5.0, 0.5)));
            quad.corners.reverse();
        }
    }
}
