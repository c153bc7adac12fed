//! What is drawn over pictures: outlines and words that stand out on any tone.

use egui::{Align2, Color32, Painter, Pos2, Rect, Shape, Stroke, Ui, vec2};
use twinwedge_workbench::core::geometry::{Point, Quad};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::core::tablet::StepSample;

use super::Placement;
use crate::appearance::{Tokens, fonts, over};

/// The outline of a quadrilateral, dark under light.
pub fn quad(painter: &Painter, placement: &Placement, quad: &Quad, width: f32, color: Color32) {
    let points: Vec<Pos2> = quad.corners.iter().map(|corner| placement.screen(*corner)).collect();
    painter.add(Shape::closed_line(points.clone(), Stroke::new(width + 2.0, over::UNDER)));
    painter.add(Shape::closed_line(points, Stroke::new(width, color)));
}

/// The outline of a sampled area: of its quadrilateral, or of its disc.
pub fn sampled(painter: &Painter, placement: &Placement, sample: &StepSample, width: f32, color: Color32) {
    if !sample.round {
        return quad(painter, placement, &sample.area, width, color);
    }
    let [a, _, c, _] = sample.area.corners;
    let middle = Point::new((a.x + c.x) / 2.0, (a.y + c.y) / 2.0);
    let radius = ((c.x - a.x).abs() / 2.0 * placement.zoom) as f32;
    let centre = placement.screen(middle);
    painter.circle_stroke(centre, radius, Stroke::new(width + 2.0, over::UNDER));
    painter.circle_stroke(centre, radius, Stroke::new(width, color));
}

/// A disc of `radius` scan pixels, at least large enough to be seen.
pub fn disc(painter: &Painter, placement: &Placement, at: Point, radius: f64, color: Color32) {
    let centre = placement.screen(at);
    let radius = ((radius * placement.zoom) as f32).max(4.0);
    painter.circle_stroke(centre, radius, Stroke::new(3.5, over::UNDER));
    painter.circle_stroke(centre, radius, Stroke::new(1.5, color));
}

/// Words beside a place, on a ground of their own.
pub fn label(painter: &Painter, at: Pos2, align: Align2, text: &str) {
    label_if_free(painter, at, align, text, &mut Vec::new());
}

/// The same where no other of `taken` stands already; its own place is added to them.
pub fn label_if_free(painter: &Painter, at: Pos2, align: Align2, text: &str, taken: &mut Vec<Rect>) {
    // A long one goes on in further lines where the picture is narrow.
    let width = (painter.clip_rect().width() - 16.0).max(40.0);
    let galley = painter.layout(text.to_owned(), fonts::small(), over::LIGHT, width);
    let rect = align.anchor_size(at, galley.size() + vec2(8.0, 2.0));
    if taken.iter().any(|other| other.intersects(rect)) {
        return;
    }
    taken.push(rect);
    painter.rect_filled(rect, 2.0, over::UNDER);
    painter.galley(rect.min + vec2(4.0, 1.0), galley, over::LIGHT);
}

/// What is wrong with a picture, and what to do, at its bottom; in a high one above the last line, which others may use.
pub(super) fn problem(ui: &Ui, rect: Rect, problem: &Problem) {
    let words = format!("{} {}", problem.cause, problem.remedy);
    let painter = ui.painter_at(rect);
    let width = (rect.width() - 24.0).clamp(80.0, 760.0);
    let galley = painter.layout(words.clone(), fonts::small(), over::LIGHT, width);
    let size = galley.size() + vec2(16.0, 6.0);
    let below = if rect.height() > 300.0 { 30.0 } else { 2.0 };
    let block = Rect::from_min_size(rect.left_bottom() + vec2(4.0, -size.y - below), size);
    let id = ui.scope_id().with(("what is wrong", &words));
    ui.interact(block, id, egui::Sense::hover())
        .widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, &words));
    painter.rect_filled(block, 2.0, over::UNDER);
    painter.galley(block.min + vec2(8.0, 3.0), galley, over::LIGHT);
}

/// A line of words in the middle of a place where a picture will be or cannot be.
pub fn note(ui: &mut Ui, rect: Rect, text: &str) {
    ui.put(
        rect.shrink(24.0),
        egui::Label::new(egui::RichText::new(text).color(Tokens::get(ui).muted)).wrap(),
    );
}
