//! Small pictures of scanned frames: all of a bracket in a row, and the matched pair side by side, each with its shadow patch.

use egui::{Align2, Rect, ScrollArea, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

use twinwedge_workbench::core::bracket::ShadowTarget;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, ScanId};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::engine::ask::{ScreenTones, ShadowOf, TilePicture};

use super::{Shown, drawing, scanned};
use crate::appearance::{STEP, Tokens, fonts, over, widgets};
use crate::canvas::{self, Camera, Picture, Tiles};
use crate::pages::View;

/// Size of a small picture.
const THUMB: egui::Vec2 = vec2(96.0, 64.0);
/// Room for the line below it.
const BELOW: f32 = 18.0;

/// Whether a film has any scanned frame.
pub(super) fn any(film: &Film) -> bool {
    film.bracket.as_ref().is_some_and(|bracket| bracket.frames.iter().any(|frame| frame.scan.is_some()))
}

/// All scanned frames of a bracket in a row; a press shows one large.
pub(super) fn row(ui: &mut Ui, film: &Film, view: &View<'_>, tiles: &mut Tiles, shown: &mut Option<Shown>) {
    let Some(bracket) = film.bracket.as_ref().filter(|_| any(film)) else { return };
    ScrollArea::horizontal().id_salt(("thumbnails", &film.id)).auto_shrink([false, true]).show(ui, |ui| {
        ui.horizontal(|ui| {
            for (number, frame) in bracket.frames.iter().enumerate() {
                let Some(scan) = &frame.scan else { continue };
                let index = frame
                    .exposure_index
                    .map_or("EI ?".to_owned(), |index| format!("EI {}", format::number(index, 0)));
                let (rect, response) = ui.allocate_exact_size(THUMB + vec2(0.0, BELOW), Sense::click());
                let chosen =
                    shown.as_ref().is_some_and(|shown| shown.film == film.id && shown.frame == number);
                let spoken = format!("Picture of frame {} of {}, {index}", frame.name, film.label);
                response.widget_info(|| WidgetInfo::selected(egui::Role::Button, true, chosen, &spoken));
                let picture = Rect::from_min_size(rect.min, THUMB);
                one(ui, picture, (film, number, scan), view, tiles);
                let tokens = Tokens::get(ui);
                let edge = match (chosen, response.hovered() || response.has_focus()) {
                    (true, _) => Stroke::new(2.0, tokens.accent),
                    (_, true) => Stroke::new(2.0, tokens.ink),
                    _ => Stroke::new(1.0, tokens.edge),
                };
                ui.painter().rect_stroke(picture, 0.0, edge, StrokeKind::Inside);
                let at = pos2(rect.center().x, rect.bottom());
                ui.painter().text(at, Align2::CENTER_BOTTOM, index, fonts::small(), tokens.muted);
                let hover = format!("{spoken}\nShows it large, with its shadow patch");
                if response.on_hover_text(hover).clicked() {
                    *shown = Some(Shown { film: film.id.clone(), frame: number });
                }
            }
        });
    });
    ui.add_space(STEP);
}

/// One picture with its shadow patch, as it lies on the light table.
fn one(
    ui: &Ui,
    rect: Rect,
    (film, number, scan): (&Film, usize, &ScanId),
    view: &View<'_>,
    tiles: &mut Tiles,
) {
    ui.painter().rect_filled(rect, 0.0, Tokens::get(ui).raised);
    let Ok(size) = canvas::size_of(view.session, scan) else { return };
    let placement = Camera::default().place(rect, size);
    let picture =
        Picture { tiles: TilePicture::Scan(scan.clone()), size, look: ScreenTones::default(), name: "" };
    canvas::draw(ui, rect, &picture, &placement, tiles, view.session);
    let frame = film.bracket.as_ref().and_then(|bracket| bracket.frames.get(number));
    let shadow = view.session.peek(&ShadowOf { film: film.id.clone(), frame: number });
    if let Some(quad) = frame.and_then(|frame| scanned::place(frame, &shadow)) {
        canvas::quad(&ui.painter_at(rect), &placement, &quad, 1.0, over::LIGHT);
    }
}

/// The frame of a film that was metered nearest to an index, with its scan.
fn nearest(film: &Film, index: f64) -> Option<(usize, &ScanId, f64)> {
    let frames = film.bracket.as_ref()?.frames.iter().enumerate();
    let metered = frames.filter_map(|(number, frame)| {
        let metered = frame.exposure_index.filter(|metered| *metered > 0.0)?;
        Some((number, frame.scan.as_ref(), metered, (metered / index).log2().abs()))
    });
    let (number, scan, metered, _) = metered.min_by(|a, b| a.3.total_cmp(&b.3))?;
    Some((number, scan?, metered))
}

/// Both frames of the shadow match.
#[derive(Debug)]
pub(super) struct Pair<'a> {
    frames: [(&'a Film, usize, &'a ScanId, f64); 2],
}

/// The frame of the reference whose shadow all are matched to, and the candidate's that comes nearest to it, where both were
/// scanned.
pub(super) fn pair<'a>(view: &View<'a>, target: Option<&ShadowTarget>) -> Option<Pair<'a>> {
    let (reference, candidate) = (view.reference?, view.candidate?);
    let first = nearest(reference, target?.exposure_index)?;
    let second = nearest(candidate, drawing::matched(view, candidate)?)?;
    Some(Pair { frames: [(reference, first.0, first.1, first.2), (candidate, second.0, second.1, second.2)] })
}

impl Pair<'_> {
    /// Shows them side by side in the room that is left.
    pub(super) fn show(&self, ui: &mut Ui, view: &View<'_>, tiles: &mut Tiles) {
        ui.label(fonts::strong("Matched pair"))
            .on_hover_text("The frames whose shadows are most alike: these are the ones to print");
        let whole = ui.available_rect_before_wrap();
        let (left, right) = whole.split_left_right_at_fraction(0.5);
        let halves = [left.with_max_x(left.right() - STEP), right.with_min_x(right.left() + STEP)];
        for ((half, role), (film, number, scan, index)) in
            halves.into_iter().zip([Role::Reference, Role::Candidate]).zip(self.frames)
        {
            let name = film.bracket.as_ref().and_then(|bracket| bracket.frames.get(number));
            let name = name.map_or_else(|| (number + 1).to_string(), |frame| frame.name.clone());
            let words = format!("{}, frame {name}, EI {}", film.label, format::number(index, 0));
            let id = ui.scope_id().with(("pair", &film.id));
            let response = ui.interact(half, id, Sense::hover());
            let spoken = format!("Matched pair: {words}");
            response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &spoken));
            let (line, picture) = half.split_top_bottom_at_y(half.top() + 22.0);
            let builder = egui::UiBuilder::new().max_rect(line).id_salt(("pair line", &film.id));
            ui.scope_builder(builder, |ui| {
                ui.horizontal(|ui| {
                    widgets::film_sign(ui, role);
                    widgets::ellipsis(ui, words.as_str()).on_hover_text(&words);
                });
            });
            one(ui, picture, (film, number, scan), view, tiles);
        }
        ui.advance_cursor_after_rect(whole);
    }
}
