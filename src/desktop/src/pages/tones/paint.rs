//! Paints the four quadrants: graph paper about the crossing of the axes, figures along the edges, films by line and mark.

use egui::{Align2, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::drawing::{Axis, FourQuadrants, Layer, Role, zone_marks};

use crate::appearance::{Tokens, fonts};

/// Room for figures at the left and below.
const LEFT: f32 = 36.0;
const BELOW: f32 = 36.0;
const ABOVE: f32 = 18.0;

/// Where the diagram lies on the screen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    /// The four quadrants together.
    pub(super) frame: Rect,
    /// The crossing of the axes.
    crossing: Pos2,
    /// Points for one unit.
    scale: f32,
}

#[expect(clippy::cast_possible_truncation, reason = "places on a screen")]
fn short(value: f64) -> f32 {
    value as f32
}

impl Place {
    /// As large as fits, one scale in all directions.
    pub(super) fn within(rect: Rect, diagram: &FourQuadrants) -> Self {
        let [right, up, left, down] = diagram.arms().map(short);
        let room = Rect::from_min_max(rect.min + vec2(LEFT, ABOVE), rect.max - vec2(8.0, BELOW));
        let scale = (room.width() / (left + right)).min(room.height() / (up + down)).max(1.0);
        let size = vec2(left + right, up + down) * scale;
        let corner = pos2(room.left() + (room.width() - size.x) / 2.0, room.top());
        let frame = Rect::from_min_size(corner, size);
        Self { frame, crossing: pos2(corner.x + left * scale, corner.y + up * scale), scale }
    }

    /// Where a place of the diagram is on the screen.
    pub(super) fn screen(&self, [x, y]: [f64; 2]) -> Pos2 {
        self.crossing + vec2(short(x), -short(y)) * self.scale
    }

    /// What place of the diagram is there on the screen.
    pub(super) fn data(&self, at: Pos2) -> [f64; 2] {
        let way = (at - self.crossing) / self.scale;
        [f64::from(way.x), f64::from(-way.y)]
    }

    /// A way on the screen in units of the diagram.
    pub(super) fn way(&self, by: egui::Vec2) -> [f64; 2] {
        [f64::from(by.x / self.scale), f64::from(-by.y / self.scale)]
    }
}

fn multiples(axis: &Axis, distance: f64) -> impl Iterator<Item = f64> + use<> {
    let (from, to) = axis.range;
    #[expect(clippy::cast_possible_truncation, reason = "some dozens of lines")]
    let (first, last) = ((from / distance - 1e-6).ceil() as i32, (to / distance + 1e-6).floor() as i32);
    (first..=last.min(first + 400)).map(move |index| f64::from(index) * distance)
}

/// The paper with its lines, the axes and the figures.
pub(super) fn paper(painter: &Painter, place: &Place, diagram: &FourQuadrants, tokens: &Tokens) {
    let frame = place.frame;
    painter.rect_filled(frame, 0.0, tokens.paper);
    let upright = |x: f64, color| {
        painter.vline(place.screen([x, 0.0]).x, frame.y_range(), Stroke::new(1.0, color));
    };
    let level = |y: f64, color| {
        painter.hline(frame.x_range(), place.screen([0.0, y]).y, Stroke::new(1.0, color));
    };
    let (right, up, left) = (&diagram.right, &diagram.up, &diagram.left);
    for (fine, color) in [(true, tokens.grid_fine), (false, tokens.grid_heavy)] {
        let distance = |axis: &Axis| if fine { axis.minor } else { axis.major };
        multiples(right, distance(right)).for_each(|x| upright(x - right.range.0, color));
        multiples(left, distance(left)).for_each(|x| upright(left.range.0 - x, color));
        multiples(up, distance(up)).for_each(|y| level(y - up.range.0, color));
    }
    for (below, _) in zone_marks(diagram) {
        level(-below, tokens.grid_heavy);
    }
    painter.rect_stroke(frame, 0.0, Stroke::new(1.0, tokens.edge), egui::StrokeKind::Inside);
    upright(0.0, tokens.muted);
    level(0.0, tokens.muted);
    figures(painter, place, diagram, tokens);
}

fn figures(painter: &Painter, place: &Place, diagram: &FourQuadrants, tokens: &Tokens) {
    let frame = place.frame;
    // In a small diagram a figure that would lie over one before it is left out.
    let taken = std::cell::RefCell::new(Vec::<Rect>::new());
    let text = |at: Pos2, align: Align2, text: &str| {
        let galley = painter.layout_no_wrap(text.to_owned(), fonts::small(), tokens.muted);
        let place = align.anchor_size(at, galley.size());
        if !taken.borrow().iter().any(|other| other.intersects(place.expand2(vec2(3.0, 0.0)))) {
            taken.borrow_mut().push(place);
            painter.galley(place.min, galley, tokens.muted);
        }
    };
    let (right, up, left) = (&diagram.right, &diagram.up, &diagram.left);
    let below = |x: f64| pos2(place.screen([x, 0.0]).x, frame.bottom() + 3.0);
    for value in multiples(right, right.major) {
        text(below(value - right.range.0), Align2::CENTER_TOP, &format::number(value, 1));
    }
    for value in multiples(left, left.major) {
        let at = below(left.range.0 - value);
        // The zero of both halves stands at the crossing.
        if value > left.range.0 + 1e-9 {
            text(at, Align2::CENTER_TOP, &format::number(value, 1));
        }
    }
    let beside = |y: f64| pos2(frame.left() - 5.0, place.screen([0.0, y]).y);
    for value in multiples(up, up.major) {
        text(beside(value - up.range.0), Align2::RIGHT_CENTER, &format::number(value, 1));
    }
    for (down, name) in zone_marks(diagram) {
        text(beside(-down), Align2::RIGHT_CENTER, name);
    }
    let middle = place.screen([0.0, 0.0]);
    let line = frame.bottom() + 19.0;
    let half = |from: f32, to: f32| f32::midpoint(from, to);
    text(pos2(half(frame.left(), middle.x), line), Align2::CENTER_TOP, "print density");
    text(pos2(half(middle.x, frame.right()), line), Align2::CENTER_TOP, "log H at the film, lx s");
    text(pos2(frame.left() - LEFT + 4.0, frame.top() - 4.0), Align2::LEFT_BOTTOM, "negative density");
    text(pos2(frame.left() - 5.0, frame.bottom() + 3.0), Align2::RIGHT_TOP, "zone");
    let inset = vec2(6.0, 4.0);
    text(frame.right_top() + vec2(-inset.x, inset.y), Align2::RIGHT_TOP, "film");
    text(frame.left_top() + inset, Align2::LEFT_TOP, "paper");
    text(frame.left_bottom() + vec2(inset.x, -inset.y), Align2::LEFT_BOTTOM, "print");
    text(frame.right_bottom() - inset, Align2::RIGHT_BOTTOM, "camera");
}

/// Films and helpers.
pub(super) fn layers(painter: &Painter, place: &Place, layers: &[Layer], thin: bool, tokens: &Tokens) {
    for layer in layers {
        match layer {
            Layer::Line { role, name, points } => {
                let on_screen: Vec<Pos2> = points.iter().map(|point| place.screen(*point)).collect();
                line(painter, &on_screen, *role, thin, tokens);
                if *role == Role::Guide {
                    guide_name(painter, &on_screen, name, tokens);
                }
            }
            Layer::Marks { role, points, .. } => {
                for point in points {
                    mark(painter, place.screen(*point), *role, tokens);
                }
            }
            Layer::Band { .. }
            | Layer::Note { .. }
            | Layer::Segment { .. }
            | Layer::Upright { .. }
            | Layer::Level { .. } => {}
        }
    }
}

fn line(painter: &Painter, points: &[Pos2], role: Role, thin: bool, tokens: &Tokens) {
    let width = match role {
        Role::Reference | Role::Candidate if !thin => 2.0,
        _ => 1.0,
    };
    let stroke = Stroke::new(width, tokens.role(role));
    match role {
        Role::Candidate => painter.extend(Shape::dashed_line(points, stroke, 7.0, 4.0)),
        Role::Guide => painter.extend(Shape::dotted_line(points, stroke.color, 4.0, 0.8)),
        Role::Reference | Role::Other => {
            painter.add(Shape::line(points.to_vec(), stroke));
        }
    }
}

/// A helper's name inside the frame, near its last place in sight.
fn guide_name(painter: &Painter, points: &[Pos2], name: &str, tokens: &Tokens) {
    let frame = painter.clip_rect();
    let Some(at) = points.iter().rev().find(|at| frame.shrink(2.0).contains(**at)).or(points.last()) else {
        return;
    };
    let galley = painter.layout_no_wrap(name.to_owned(), fonts::small(), tokens.muted);
    let size = galley.size();
    let room = frame.shrink(4.0);
    // Below the words in the corners of the frame.
    let wanted = pos2(at.x - size.x / 2.0, at.y + 20.0);
    let corner = pos2(
        wanted.x.clamp(room.left(), (room.right() - size.x).max(room.left())),
        wanted.y.clamp(room.top(), (room.bottom() - size.y).max(room.top())),
    );
    painter.rect_filled(Rect::from_min_size(corner, size).expand(1.0), 0.0, tokens.paper);
    painter.galley(corner, galley, tokens.muted);
}

fn mark(painter: &Painter, at: Pos2, role: Role, tokens: &Tokens) {
    let color = tokens.role(role);
    match role {
        Role::Candidate => {
            let rect = Rect::from_center_size(at, vec2(7.0, 7.0));
            painter.rect(rect, 0.0, tokens.paper, Stroke::new(1.5, color), egui::StrokeKind::Middle);
        }
        Role::Reference => {
            painter.circle_filled(at, 3.0, color);
        }
        Role::Other | Role::Guide => {
            painter.circle_filled(at, 2.0, color);
        }
    }
}
