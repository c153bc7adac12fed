//! The chosen scanned frame: its picture, and the shadow patch that was found in it or laid on it.

use egui::Ui;

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{BracketFrame, Film, ScanId};
use twinwedge_workbench::core::geometry::{Point, Quad, Rect as Area};
use twinwedge_workbench::edits::{BracketChange, FrameChange, OfFilm};
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::{FrameShadow, ScreenTones, ShadowOf, TilePicture};
use twinwedge_workbench::intake::Purpose;

use super::{Frames, Shown};
use crate::appearance::{fonts, over, widgets};
use crate::canvas::{self, Picture};
use crate::outbox::Outbox;
use crate::pages::{View, missing};

/// Side of a patch that is laid first, as a share of the shorter side of the scan.
const FIRST: f64 = 0.1;

/// The frame that is shown, with its film and scan; `None` where it is no longer there.
pub(super) fn chosen<'a>(view: &View<'a>, shown: &Shown) -> Option<(&'a Film, &'a BracketFrame, &'a ScanId)> {
    let film = view.series.film(&shown.film)?;
    let frame = film.bracket.as_ref()?.frames.get(shown.frame)?;
    Some((film, frame, frame.scan.as_ref()?))
}

impl Frames {
    /// Shows the chosen frame in the room that is left.
    pub(super) fn scanned(&mut self, ui: &mut Ui, shown: &Shown, view: &View<'_>, outbox: &mut Outbox) {
        let Some((film, frame, scan)) = chosen(view, shown) else { return };
        let ask = ShadowOf { film: film.id.clone(), frame: shown.frame };
        let shadow = view.session.peek(&ask);
        ui.horizontal(|ui| {
            ui.add(
                egui::Label::new(fonts::strong(format!("Frame {} of {}", frame.name, film.label))).truncate(),
            );
            if widgets::button(ui, "Close", "Shows the plot alone").clicked() {
                self.shown = None;
            }
        });
        let size = canvas::size_of(view.session, scan);
        ui.horizontal_wrapped(|ui| {
            buttons(ui, film, shown.frame, frame, &shadow, size.as_ref().ok(), outbox);
        });
        let what = format!("scan of frame {} of {}", frame.name, film.label);
        let without = changed(film, shown.frame, FrameChange::NoScan).into();
        missing::replace(ui, &what, Purpose::Frame(film.id.clone(), shown.frame), without, outbox);
        said(ui, &shadow);
        let rect = ui.available_rect_before_wrap();
        let Ok(size) = size else {
            let without = changed(film, shown.frame, FrameChange::NoScan).into();
            return missing::instead(ui, rect, view, scan, Some(without), outbox);
        };
        let name = format!("Scan of frame {} of {}", frame.name, film.label);
        // Negatives are looked at as they lie on the light table.
        let picture = Picture {
            tiles: TilePicture::Scan(scan.clone()),
            size,
            look: ScreenTones::default(),
            name: &name,
        };
        let (_, placement) =
            canvas::show(ui, rect, &mut self.sight.camera, &picture, &mut self.tiles, view.session);
        self.sight.shown(placement, ui.pixels_per_point());
        let painter = ui.painter_at(rect);
        let Some(quad) = place(frame, &shadow) else { return };
        canvas::quad(&painter, &placement, &quad, 1.5, over::LIGHT);
        if frame.patch.is_some() {
            let moved = |quad| changed(film, shown.frame, FrameChange::MovePatch(quad));
            let names = [
                "upper left corner",
                "upper right corner",
                "lower right corner",
                "lower left corner",
                "the whole patch",
            ]
            .map(|part| format!("Shadow patch of frame {} of {}: {part}", frame.name, film.label));
            canvas::quad_handles(ui, &placement, &quad, names.each_ref().map(String::as_str), moved, outbox);
        }
    }
}

/// Where the patch lies: as laid, else as found.
pub(super) fn place(frame: &BracketFrame, shadow: &Slot<FrameShadow>) -> Option<Quad> {
    let found = match shadow {
        Slot::Ready(found) | Slot::Stale(found, _) => Some(found.patch.value),
        Slot::Pending(_) | Slot::Failed(_) => None,
    };
    frame.patch.or(found)
}

fn buttons(
    ui: &mut Ui,
    film: &Film,
    number: usize,
    frame: &BracketFrame,
    shadow: &Slot<FrameShadow>,
    size: Option<&(usize, usize)>,
    outbox: &mut Outbox,
) {
    if frame.patch.is_some() {
        let hover =
            "Takes the patch off this frame; it is found again by another frame on which one was laid";
        if widgets::button(ui, "Find it again", hover).clicked() {
            outbox.change(changed(film, number, FrameChange::FindPatch));
        }
        return;
    }
    let (word, hover) = match shadow {
        Slot::Ready(_) | Slot::Stale(..) => {
            ("Correct it", "The patch as found becomes one that can be dragged")
        }
        Slot::Pending(_) | Slot::Failed(_) => {
            ("Lay the patch", "Puts a patch in the middle of the frame, to be dragged onto the shadow")
        }
    };
    if let Some(size) = size
        && widgets::button(ui, word, hover).clicked()
    {
        let quad = place(frame, shadow).unwrap_or_else(|| first(*size));
        outbox.change(changed(film, number, FrameChange::LayPatch(quad)));
    }
}

/// What was read, what speaks against it, or why nothing was.
fn said(ui: &mut Ui, shadow: &Slot<FrameShadow>) {
    widgets::slot(ui, shadow, "Reading the shadow", |ui, shadow| {
        let density = format::measured(&shadow.sample.density.plain(), 2);
        let by = shadow.by.as_ref().map_or_else(|| "laid by hand".to_owned(), |by| format!("found by {by}"));
        widgets::muted(ui, &format!("Shadow density {density}; patch {by}"));
        for doubt in &shadow.patch.doubts {
            widgets::footnote(ui, &doubt.to_string());
        }
    });
}

fn first((width, height): (usize, usize)) -> Quad {
    let (x, y) = (width as f64 / 2.0, height as f64 / 2.0);
    let half = FIRST * x.min(y);
    Quad::upright(Area { min: Point::new(x - half, y - half), max: Point::new(x + half, y + half) })
}

fn changed(film: &Film, number: usize, change: FrameChange) -> OfFilm<BracketChange> {
    BracketChange::Frame(number, change).of(&film.id)
}
