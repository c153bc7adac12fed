//! What is drawn over pictures: outlines and words that stand out on any tone.

use std::sync::Arc;

use egui::{Align2, Color32, Galley, Painter, Pos2, Rect, Shape, Stroke, Ui, vec2};
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

/// Words beside a place, on a ground of their own; answers where they stand.
pub fn label(painter: &Painter, at: Pos2, align: Align2, text: &str) -> Rect {
    let label = Label::new(painter, at, align, text);
    let rect = label.rect;
    label.draw(painter);
    rect
}

/// The same where no other of `taken` stands already; its own place is added to them.
pub fn label_if_free(painter: &Painter, at: Pos2, align: Align2, text: &str, taken: &mut Vec<Rect>) {
    let label = Label::new(painter, at, align, text);
    if !taken.iter().any(|other| other.intersects(label.rect)) {
        taken.push(label.rect);
        label.draw(painter);
    }
}

/// Words that are laid out and not yet drawn.
struct Label {
    rect: Rect,
    galley: Arc<Galley>,
}

impl Label {
    fn new(painter: &Painter, at: Pos2, align: Align2, text: &str) -> Self {
        // A long one goes on in further lines where the picture is narrow.
        let width = (painter.clip_rect().width() - 16.0).max(40.0);
        let galley = painter.layout(text.to_owned(), fonts::small(), over::LIGHT, width);
        Self { rect: align.anchor_size(at, galley.size() + vec2(8.0, 2.0)), galley }
    }

    fn draw(self, painter: &Painter) {
        painter.rect_filled(self.rect, 2.0, over::UNDER);
        painter.galley(self.rect.min + vec2(4.0, 1.0), self.galley, over::LIGHT);
    }
}

/// Words beside what stands at `centre`, on the first side on which no other of `taken` stands already: right, left, below, above.
/// Where all are taken they stand at the right all the same.
pub fn label_beside(painter: &Painter, centre: Pos2, reach: f32, text: &str, taken: &mut Vec<Rect>) {
    let sides = [
        (vec2(reach, 0.0), Align2::LEFT_CENTER),
        (vec2(-reach, 0.0), Align2::RIGHT_CENTER),
        (vec2(0.0, reach), Align2::CENTER_TOP),
        (vec2(0.0, -reach), Align2::CENTER_BOTTOM),
    ];
    let free = sides.iter().any(|(by, align)| {
        let before = taken.len();
        label_if_free(painter, centre + *by, *align, text, taken);
        taken.len() > before
    });
    if !free {
        label(painter, centre + sides[0].0, sides[0].1, text);
    }
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
