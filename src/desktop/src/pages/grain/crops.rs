//! Crops of both films at the same physical scale, linked in zoom and pan.

use egui::{Align2, Rect, Stroke, Ui, pos2, vec2};
use twinwedge_workbench::core::document::{Film, GrainArea, ScanId};
use twinwedge_workbench::core::drawing::Role;
use twinwedge_workbench::core::geometry::Point;
use twinwedge_workbench::core::units::Micrometres;
use twinwedge_workbench::engine::ask::{GrainOf, Look, ScanOf, TilePicture};

use super::Grain;
use crate::appearance::{Tokens, over};
use crate::canvas::{self, Picture, Placement};
use crate::pages::View;

/// What a crop shows at first, in micrometres across.
const FIRST: usize = 2000;

impl Grain {
    pub(super) fn crop(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        film: &Film,
        role: Role,
        grain: &GrainArea,
        view: &View<'_>,
    ) {
        ui.painter().rect_filled(rect, 2.0, Tokens::get(ui).raised);
        let size = match canvas::size_of(view.session, &grain.scan) {
            Ok(size) => size,
            Err(note) => return canvas::note(ui, rect, &note),
        };
        let Some(pitch) = dpi(view, &grain.scan).map(|dpi| Micrometres::per_sample(dpi).0) else {
            return canvas::note(
                ui,
                rect,
                "The scan does not tell its resolution: type it above, in dots per inch.",
            );
        };
        // The camera of both crops looks at micrometres from the middle of the area.
        let name = format!("Crop of {}", film.label);
        let across = (FIRST, (FIRST as f32 * rect.height() / rect.width()) as usize);
        let (_, seen) = canvas::interact(ui, rect, &mut self.crops.camera, across, &name);
        self.crops.shown(seen, ui.pixels_per_point());
        let placement = in_pixels(&seen, across, grain, pitch);
        let look = Look {
            density_offset: if self.one_mean { offset(view, role) } else { 0 },
            inverted: false,
            contrast: self.contrast,
        };
        let picture = Picture { tiles: TilePicture::Scan(grain.scan.clone()), size, look, name: &name };
        canvas::draw(ui, rect, &picture, &placement, &mut self.tiles, view.session);
        scale(ui, rect, seen.zoom);
    }
}

/// A placement in micrometres from the middle of the area, as one in pixels of the scan.
fn in_pixels(seen: &Placement, across: (usize, usize), grain: &GrainArea, pitch: f64) -> Placement {
    let centre =
        Point::new((grain.area.min.x + grain.area.max.x) / 2.0, (grain.area.min.y + grain.area.max.y) / 2.0);
    let away = |um: f64, whole: usize| (um - whole as f64 / 2.0) / pitch;
    Placement {
        rect: seen.rect,
        zoom: seen.zoom * pitch,
        middle: Point::new(
            centre.x + away(seen.middle.x, across.0),
            centre.y + away(seen.middle.y, across.1),
        ),
    }
}

/// Thousandths of density by which the candidate's mean lies above the reference's.
fn offset(view: &View<'_>, role: Role) -> i32 {
    let mean = |film: Option<&Film>| {
        let slot = view.session.peek(&GrainOf { film: film?.id.clone() });
        slot.value().map(|grain| grain.mean_density.number())
    };
    match (role, mean(view.reference), mean(view.candidate)) {
        (Role::Candidate, Some(reference), Some(candidate)) => {
            ((candidate - reference) * 1000.0).round() as i32
        }
        _ => 0,
    }
}

/// Dots per inch of a scan: as typed, else as its file says.
pub(super) fn dpi(view: &View<'_>, scan: &ScanId) -> Option<f64> {
    let typed = view.series.scans.get(scan)?.dpi;
    typed.or_else(|| {
        let pixels = view.session.peek(&ScanOf { scan: scan.clone() });
        pixels.value()?.meta.dpi.map(|(across, _)| across)
    })
}

/// A line of a round length, with its length.
fn scale(ui: &Ui, rect: Rect, points_per_um: f64) {
    let lengths = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0];
    let wanted = f64::from(rect.width()) / 3.0;
    let Some(length) = lengths.into_iter().rev().find(|length| length * points_per_um <= wanted) else {
        return;
    };
    let width = (length * points_per_um) as f32;
    let end = rect.right_bottom() + vec2(-8.0, -8.0);
    let painter = ui.painter_at(rect);
    let line = [pos2(end.x - width, end.y), end];
    painter.line_segment(line, Stroke::new(4.0, over::UNDER));
    painter.line_segment(line, Stroke::new(2.0, over::LIGHT));
    let words = if length < 1000.0 { format!("{length} µm") } else { format!("{} mm", length / 1000.0) };
    canvas::label(&painter, end + vec2(0.0, -6.0), Align2::RIGHT_BOTTOM, &words);
}

#[cfg(test)]
mod tests {
    use super::*;
    use twinwedge_workbench::core::geometry::Rect as Area;

    /// 4000 dpi is 6.35 µm a sample, 2000 dpi 12.7: by arithmetic, one inch being 25 400 µm.
    #[test]
    fn crops_of_different_resolution_have_one_scale() {
        let rect = Rect::from_min_size(pos2(0.0, 0.0), vec2(400.0, 200.0));
        let area = Area { min: Point::new(100.0, 100.0), max: Point::new(300.0, 300.0) };
        let grain = GrainArea { scan: "any".into(), area };
        let across = (2000, 1000);
        let seen = canvas::Camera::default().place(rect, across);
        for pitch in [6.35, 12.7] {
            let placement = in_pixels(&seen, across, &grain, pitch);
            let middle = placement.screen(Point::new(200.0, 200.0));
            assert!((middle - rect.center()).length() < 1e-3);
            let millimetre = placement.screen(Point::new(200.0 + 1000.0 / pitch, 200.0));
            assert!((millimetre.x - middle.x - 200.0).abs() < 1e-3);
        }
    }
}
