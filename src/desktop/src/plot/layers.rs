//! The layers of a plot: lines, bands and marks by role, and the texts that stand at them.

use egui::{Align2, Color32, Pos2, Rect, Shape, Stroke, Ui, pos2, vec2};
use egui_plot::{
    FilledArea, HLine, Line, LineStyle, MarkerShape, PlotPoint, PlotPoints, PlotTransform, PlotUi, Points,
    VLine,
};

use twinwedge_workbench::core::drawing::{Layer, Plot, Role};

use super::Mark;
use crate::appearance::{Tokens, fonts};

/// Width of a film's line.
fn width(role: Role) -> f32 {
    match role {
        Role::Reference | Role::Candidate => 2.0,
        Role::Other | Role::Guide => 1.0,
    }
}

fn style(role: Role) -> LineStyle {
    match role {
        Role::Reference | Role::Other => LineStyle::Solid,
        Role::Candidate => LineStyle::Dashed { length: 9.0 },
        Role::Guide => LineStyle::Dotted { spacing: 5.0 },
    }
}

/// Adds what `egui_plot` draws.
pub(super) fn items(plot_ui: &mut PlotUi<'_>, plot: &Plot, tokens: &Tokens) {
    for layer in &plot.layers {
        match layer {
            Layer::Line { role, name, points } => {
                let line = Line::new(name.clone(), PlotPoints::from(points.clone()))
                    .color(tokens.role(*role))
                    .width(width(*role))
                    .style(style(*role));
                plot_ui.line(line.allow_hover(false));
            }
            Layer::Band { role, points } => {
                let column = |index: usize| points.iter().map(|point| point[index]).collect::<Vec<_>>();
                let area = FilledArea::new("", &column(0), &column(1), &column(2));
                plot_ui.add(area.fill_color(tokens.band(*role)).allow_hover(false));
            }
            Layer::Marks { role, name, points, set_aside, strip } => {
                let base = Points::new(name.clone(), PlotPoints::from(points.clone())).allow_hover(false);
                plot_ui.points(marks(base, *role, *set_aside, *strip, tokens));
            }
            Layer::Segment { role, from, to, .. } => {
                // A straight-line range: a hair beside the curve with a tick at each end, painted with the texts.
                let points = PlotPoints::from(vec![*from, *to]);
                plot_ui.line(Line::new("", points).color(tokens.role(*role)).width(1.0).allow_hover(false));
            }
            Layer::Upright { role, x, .. } => {
                plot_ui.vline(
                    VLine::new("", *x)
                        .color(tokens.role(*role))
                        .width(1.0)
                        .style(style(Role::Guide))
                        .allow_hover(false),
                );
            }
            Layer::Level { role, y, .. } => {
                plot_ui.hline(
                    HLine::new("", *y)
                        .color(tokens.role(*role))
                        .width(1.0)
                        .style(style(Role::Guide))
                        .allow_hover(false),
                );
            }
            Layer::Note { .. } => {}
        }
    }
}

/// Marks in the shape of their strip: a film's own for the first, then triangle, diamond, hanging triangle, filled for the
/// reference and open for the candidate.
fn marks<'a>(base: Points<'a>, role: Role, set_aside: bool, strip: usize, tokens: &Tokens) -> Points<'a> {
    let color = tokens.role(role);
    let further = match strip {
        0 => None,
        1 => Some(MarkerShape::Up),
        2 => Some(MarkerShape::Diamond),
        _ => Some(MarkerShape::Down),
    };
    match (role, set_aside, further) {
        (_, true, _) => base.shape(MarkerShape::Cross).radius(5.0).color(tokens.muted),
        (Role::Reference | Role::Candidate, false, Some(shape)) => {
            base.shape(shape).filled(role == Role::Reference).radius(4.5).color(color)
        }
        (Role::Reference, false, None) => {
            base.shape(MarkerShape::Circle).filled(true).radius(3.0).color(color)
        }
        (Role::Candidate, false, None) => {
            base.shape(MarkerShape::Square).filled(false).radius(4.0).color(color)
        }
        (Role::Other | Role::Guide, false, _) => {
            base.shape(MarkerShape::Circle).filled(true).radius(1.5).color(color)
        }
    }
}

/// Writes texts: notes at their points, names at the ends of further films, what guides mean.
pub(super) fn texts(ui: &Ui, plot: &Plot, transform: &PlotTransform, tokens: &Tokens) {
    let frame = *transform.frame();
    let painter = ui.painter().with_clip_rect(frame.intersect(ui.clip_rect()));
    let at = |point: [f64; 2]| transform.position_from_point(&PlotPoint::new(point[0], point[1]));
    let above = uppermost(plot);
    let mut taken: Vec<Rect> = Vec::new();
    let mut write = |corner: Pos2, align: Align2, text: &str, color: Color32, must: bool| {
        if text.is_empty() {
            return;
        }
        let galley = painter.layout_no_wrap(text.to_owned(), fonts::small(), color);
        let rect = align.anchor_size(corner, galley.size());
        let inside = rect.translate(push_in(rect, frame));
        if !must && taken.iter().any(|other| other.intersects(inside)) {
            return;
        }
        let curves = |rect: Rect| covers(plot, rect, at);
        let free = clear_of(inside, &taken, frame, curves);
        painter.rect_filled(free.expand2(vec2(2.0, 0.0)), 2.0, tokens.paper.gamma_multiply(0.85));
        painter.galley(free.min, galley, color);
        taken.push(free.expand(1.0));
    };
    for layer in &plot.layers {
        match layer {
            Layer::Note { role, at: point, text } => {
                let color = tokens.role(*role);
                let place = at(*point);
                painter.add(note_mark(place, *role, color, tokens.paper));
                let (align, away) = beside_curve(*role, above);
                write(place + 9.0 * away, align, text, color, true);
            }
            Layer::Segment { role, from, to, text } => {
                let color = tokens.role(*role);
                let (from, to) = (at(*from), at(*to));
                for end in [from, to] {
                    let across = (to - from).normalized().rot90() * 7.0;
                    painter.line_segment([end - across, end + across], Stroke::new(1.5, color));
                }
                let (align, away) = beside_curve(*role, above);
                write(to + vec2(10.0, 2.0) * away, align, text, color, false);
            }
            Layer::Upright { role, x, text } => {
                let place = pos2(at([*x, 0.0]).x + 4.0, frame.top() + 4.0);
                write(place, Align2::LEFT_TOP, text, tokens.role(*role), true);
            }
            Layer::Level { role, y, text } => {
                let height = at([0.0, *y]).y - 2.0;
                let right = pos2(frame.right() - 4.0, height);
                let room = Rect::from_min_max(right - vec2(150.0, 14.0), right);
                let (place, align) = if covers(plot, room, at) {
                    (pos2(frame.left() + 4.0, height), Align2::LEFT_BOTTOM)
                } else {
                    (right, Align2::RIGHT_BOTTOM)
                };
                write(place, align, text, tokens.role(*role), true);
            }
            Layer::Line { .. } | Layer::Band { .. } | Layer::Marks { .. } => {}
        }
    }
    for layer in &plot.layers {
        if let Layer::Line { role: Role::Other, name, points } = layer
            && let Some(end) =
                points.iter().rev().map(|point| at(*point)).find(|place| frame.contains(*place))
        {
            write(end + vec2(4.0, 0.0), Align2::LEFT_CENTER, name, tokens.muted, false);
        }
    }
}

/// The film whose noted point needs the least exposure: its rising curve lies above and left of the others.
fn uppermost(plot: &Plot) -> Option<Role> {
    let notes = plot.layers.iter().filter_map(|layer| match layer {
        Layer::Note { role, at, .. } => Some((*role, at[0])),
        _ => None,
    });
    notes.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(role, _)| role)
}

/// Where a text stands free of rising curves: above and left of the uppermost, below and right of any other.
fn beside_curve(role: Role, above: Option<Role>) -> (Align2, egui::Vec2) {
    if above.unwrap_or(Role::Reference) == role {
        (Align2::RIGHT_BOTTOM, vec2(-1.0, -1.0))
    } else {
        (Align2::LEFT_TOP, vec2(1.0, 1.0))
    }
}

/// Whether a text there would cover a film's curve or marks.
fn covers(plot: &Plot, room: Rect, at: impl Fn([f64; 2]) -> Pos2) -> bool {
    plot.layers.iter().any(|layer| match layer {
        Layer::Marks { points, .. } => points.iter().any(|point| room.contains(at(*point))),
        // Between points far apart the line goes on.
        Layer::Line { role: Role::Reference | Role::Candidate, points, .. } => {
            points.windows(2).any(|pair| {
                let (from, to) = (at(pair[0]), at(pair[1]));
                let steps = (from.distance(to) / 4.0).ceil().clamp(1.0, 200.0);
                let count = steps as u32;
                (0..=count).any(|step| room.contains(from.lerp(to, step as f32 / steps)))
            })
        }
        _ => false,
    })
}

/// How far a text must move to lie inside.
fn push_in(rect: Rect, frame: Rect) -> egui::Vec2 {
    let inner = frame.shrink(4.0);
    let x = (inner.right() - rect.right()).min(0.0) + (inner.left() - rect.left()).max(0.0);
    let y = (inner.bottom() - rect.bottom()).min(0.0) + (inner.top() - rect.top()).max(0.0);
    vec2(x, y)
}

/// The same text moved down and up, then aside, until it covers no other text and no curve; where there is no such place,
/// until it covers no other text.
fn clear_of(rect: Rect, taken: &[Rect], frame: Rect, covers: impl Fn(Rect) -> bool) -> Rect {
    let (up, aside) = (rect.height() + 2.0, 0.5 * rect.width() + 8.0);
    let steps = [0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0_f32];
    let columns = [0.0, 1.0, -1.0, 2.0, -2.0_f32];
    let places = || {
        let all = columns.into_iter().flat_map(|column| steps.map(|step| vec2(column * aside, step * up)));
        all.map(|by| rect.translate(by)).filter(|place| frame.contains_rect(*place))
    };
    let free = |place: &Rect| !taken.iter().any(|other| other.intersects(*place));
    places().find(|place| free(place) && !covers(*place)).or_else(|| places().find(free)).unwrap_or(rect)
}

/// A ring at a note's point, of the film's own kind.
fn note_mark(at: Pos2, role: Role, color: Color32, paper: Color32) -> Shape {
    let stroke = Stroke::new(2.0, color);
    match role {
        Role::Candidate => {
            let rect = Rect::from_center_size(at, vec2(12.0, 12.0));
            Shape::Rect(egui::epaint::RectShape::new(rect, 0.0, paper, stroke, egui::StrokeKind::Middle))
        }
        Role::Reference | Role::Other | Role::Guide => {
            Shape::Circle(egui::epaint::CircleShape { center: at, radius: 6.0, fill: paper, stroke })
        }
    }
}

/// A hair line through the pointer.
pub(super) fn hair(ui: &Ui, transform: &PlotTransform, x: Option<f64>, tokens: &Tokens) {
    let Some(x) = x else { return };
    let place = transform.position_from_point(&PlotPoint::new(x, 0.0)).x;
    let frame = *transform.frame();
    if frame.x_range().contains(place) {
        ui.painter().vline(place, frame.y_range(), Stroke::new(1.0, tokens.edge));
    }
}

/// The mark of reference or candidate nearest to a place on the screen.
pub(super) fn nearest(plot: &Plot, transform: &PlotTransform, place: Pos2, reach: f32) -> Option<Mark> {
    let films = plot.layers.iter().filter_map(|layer| match layer {
        Layer::Marks { role: role @ (Role::Reference | Role::Candidate), points, .. } => {
            Some((*role, points))
        }
        _ => None,
    });
    films
        .flat_map(|(role, points)| points.iter().map(move |at| Mark { role, at: *at }))
        .map(|mark| {
            let at = transform.position_from_point(&PlotPoint::new(mark.at[0], mark.at[1]));
            (at.distance(place), mark)
        })
        .filter(|(distance, _)| *distance <= reach)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, mark)| mark)
}
