//! How each layer is drawn. The films are told apart by line and mark and tone.

use std::fmt::Write;

use twinwedge_core::drawing::{Layer, Role};

use super::labels::Placer;
use super::{ACCENT, Frame, INK, PALE, mm};

fn tone(role: Role) -> &'static str {
    match role {
        Role::Reference => INK,
        Role::Candidate => ACCENT,
        Role::Other => PALE,
        Role::Guide => "#7d7d7d",
    }
}

/// A path in the line style of a role.
pub(super) fn stroke(out: &mut String, role: Role, path: &str) {
    let style = match role {
        Role::Reference => r#"stroke-width="0.42""#,
        Role::Candidate => r#"stroke-width="0.42" stroke-dasharray="1.7 0.9""#,
        Role::Other => r#"stroke-width="0.2""#,
        Role::Guide => r#"stroke-width="0.18""#,
    };
    let _ = write!(
        out,
        r#"<path d="{path}" fill="none" stroke="{}" stroke-linejoin="round" {style}/>"#,
        tone(role)
    );
}

/// A measured point: reference filled and round, candidate open and square; set aside: crossed.
pub(super) fn mark(out: &mut String, role: Role, [x, y]: [f64; 2], set_aside: bool, strip: usize) {
    let colour = tone(role);
    // Additional strips: a triangle, a diamond, a hanging triangle; filled for the reference, open for the candidate.
    let further = match strip {
        0 => None,
        1 => Some("l0.8 1.35h-1.6z"),
        2 => Some("l0.85 0.85l-0.85 0.85l-0.85 -0.85z"),
        _ => Some("m-0.8 0.2h1.6l-0.8 1.35z"),
    };
    let _ = match (role, further) {
        (_, Some(shape)) => {
            let fill = if role == Role::Candidate { "#ffffff" } else { colour };
            let from = format!("M{} {}", mm(x), mm(y - 0.85));
            write!(out, r#"<path d="{from}{shape}" fill="{fill}" stroke="{colour}" stroke-width="0.25"/>"#)
        }
        (Role::Candidate, None) => write!(
            out,
            r##"<rect x="{}" y="{}" width="1.3" height="1.3" fill="#ffffff" stroke="{colour}" stroke-width="0.25"/>"##,
            mm(x - 0.65),
            mm(y - 0.65)
        ),
        (_, None) => write!(out, r#"<circle cx="{}" cy="{}" r="0.62" fill="{colour}"/>"#, mm(x), mm(y)),
    };
    if set_aside {
        let _ = write!(
            out,
            r#"<path d="M{} {}l2.4 2.4m0 -2.4l-2.4 2.4" fill="none" stroke="{colour}" stroke-width="0.25"/>"#,
            mm(x - 1.2),
            mm(y - 1.2)
        );
    }
}

/// A path through points; a point that is no number breaks it.
pub(super) fn path_through(points: impl Iterator<Item = [f64; 2]>) -> String {
    let mut path = String::new();
    let mut begun = false;
    for [x, y] in points {
        if !(x.is_finite() && y.is_finite()) {
            begun = false;
            continue;
        }
        let _ = write!(path, "{}{} {}", if begun { "L" } else { "M" }, mm(x), mm(y));
        begun = true;
    }
    path
}

/// Draws one layer and leaves its text to the placer.
pub(super) fn draw(out: &mut String, frame: &Frame, layer: &Layer, placer: &mut Placer) {
    match layer {
        Layer::Line { role, points, .. } => {
            let on_sheet: Vec<[f64; 2]> = points.iter().map(|point| frame.at(*point)).collect();
            stroke(out, *role, &path_through(on_sheet.iter().copied()));
            placer.ink(&on_sheet);
        }
        Layer::Band { role, points } => band(out, frame, *role, points),
        Layer::Marks { role, points, set_aside, strip, .. } => {
            for point in points.iter().filter(|point| point.iter().all(|part| part.is_finite())) {
                mark(out, *role, frame.at(*point), *set_aside, *strip);
            }
        }
        Layer::Note { role, at, text } => {
            let [x, y] = frame.at(*at);
            let _ = write!(
                out,
                r#"<circle cx="{}" cy="{}" r="1.5" fill="none" stroke="{}" stroke-width="0.3"/>"#,
                mm(x),
                mm(y),
                tone(*role)
            );
            placer.beside([x, y], text, tone(*role));
        }
        Layer::Segment { role, from, to, text } => {
            segment(out, *role, frame.at(*from), frame.at(*to));
            let (a, b) = (frame.at(*from), frame.at(*to));
            let at = |share: f64| [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share];
            placer.beside(at(0.72), text, tone(*role));
        }
        Layer::Upright { role, x, text } => {
            let x = frame.x_mm(*x);
            helper(out, *role, &format!("M{} {}V{}", mm(x), mm(frame.top), mm(frame.bottom())));
            placer.beside([x, frame.top + 3.0], text, tone(*role));
        }
        Layer::Level { role, y, text } => {
            let y = frame.y_mm(*y);
            helper(out, *role, &format!("M{} {}H{}", mm(frame.left), mm(y), mm(frame.right())));
            placer.above_right(y, text, tone(*role));
        }
    }
}

fn helper(out: &mut String, role: Role, path: &str) {
    let _ = write!(
        out,
        r#"<path d="{path}" fill="none" stroke="{}" stroke-width="0.18" stroke-dasharray="0.5 0.7"/>"#,
        tone(role)
    );
}

fn band(out: &mut String, frame: &Frame, role: Role, points: &[[f64; 3]]) {
    let finite: Vec<&[f64; 3]> =
        points.iter().filter(|point| point.iter().all(|part| part.is_finite())).collect();
    if finite.is_empty() {
        return;
    }
    let there = finite.iter().map(|point| frame.at([point[0], point[2]]));
    let back = finite.iter().rev().map(|point| frame.at([point[0], point[1]]));
    let _ = write!(
        out,
        r#"<path d="{}Z" fill="{}" fill-opacity="0.13" stroke="none"/>"#,
        path_through(there.chain(back)),
        tone(role)
    );
}

/// A wide pale line under the curve with a tick across each end.
fn segment(out: &mut String, role: Role, from: [f64; 2], to: [f64; 2]) {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let length = dx.hypot(dy);
    if length <= 0.0 || !length.is_finite() {
        return;
    }
    let colour = tone(role);
    let _ = write!(
        out,
        r#"<path d="M{} {}L{} {}" fill="none" stroke="{colour}" stroke-opacity="0.16" stroke-width="1.5"/>"#,
        mm(from[0]),
        mm(from[1]),
        mm(to[0]),
        mm(to[1])
    );
    let (nx, ny) = (-dy / length * 1.6, dx / length * 1.6);
    for [x, y] in [from, to] {
        let _ = write!(
            out,
            r#"<path d="M{} {}L{} {}" fill="none" stroke="{colour}" stroke-width="0.3"/>"#,
            mm(x - nx),
            mm(y - ny),
            mm(x + nx),
            mm(y + ny)
        );
    }
}
