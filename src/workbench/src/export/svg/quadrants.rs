//! The four quadrants on a sheet.

use std::fmt::Write;

use twinwedge_core::compare::format;
use twinwedge_core::drawing::{Axis, FourQuadrants, Layer, Role, zone_marks};

use super::{FONTS, INK, LETTER, TEXT, decimals_of, layers, lines, mm};
use crate::export::markup::escape_plain;

/// Room at the left, above, below.
const LEFT: f64 = 9.0;
const ABOVE: f64 = 6.5;
const BELOW: f64 = 9.0;

/// Where the diagram lies on the sheet, in millimetres.
struct Sheet {
    crossing: [f64; 2],
    scale: f64,
    width: f64,
    height: f64,
}

impl Sheet {
    fn at(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [self.crossing[0] + x * self.scale, self.crossing[1] - y * self.scale]
    }

    fn right(&self) -> f64 {
        LEFT + self.width
    }

    fn bottom(&self) -> f64 {
        ABOVE + self.height
    }
}

/// The diagram as part of an HTML page, `width_mm` wide, one scale in all directions.
pub(in crate::export) fn quadrants(diagram: &FourQuadrants, width_mm: f64) -> String {
    let [right, up, left, down] = diagram.arms();
    let scale = (width_mm - LEFT - 1.0) / (left + right);
    let sheet = Sheet {
        crossing: [LEFT + left * scale, ABOVE + up * scale],
        scale,
        width: (left + right) * scale,
        height: (up + down) * scale,
    };
    let mut out = format!(
        r#"<svg width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}" role="img" aria-label="{title}" font-family="{FONTS}" font-size="{TEXT}" fill="{INK}"><title>{title}</title>"#,
        w = mm(width_mm),
        h = mm(sheet.bottom() + BELOW),
        title = escape_plain(&diagram.title),
    );
    paper(&mut out, &sheet, diagram);
    let _ = write!(
        out,
        r#"<svg x="{x}" y="{y}" width="{w}" height="{h}" viewBox="{x} {y} {w} {h}" overflow="hidden">"#,
        x = mm(LEFT),
        y = mm(ABOVE),
        w = mm(sheet.width),
        h = mm(sheet.height)
    );
    for layer in &diagram.layers {
        match layer {
            Layer::Line { role, points, .. } => {
                let points = points.iter().map(|point| sheet.at(*point));
                layers::stroke(&mut out, *role, &layers::path_through(points));
            }
            Layer::Marks { role, points, .. } => {
                for point in points {
                    layers::mark(&mut out, *role, sheet.at(*point), false, 0);
                }
            }
            _ => {}
        }
    }
    out.push_str("</svg>");
    figures(&mut out, &sheet, diagram);
    legend(&mut out, &sheet, diagram);
    out.push_str("</svg>");
    out
}

fn paper(out: &mut String, sheet: &Sheet, diagram: &FourQuadrants) {
    let (right, up, left) = (&diagram.right, &diagram.up, &diagram.left);
    let _ = write!(
        out,
        r##"<rect x="{}" y="{}" width="{}" height="{}" fill="#ffffff" stroke="#6f6f6f" stroke-width="0.2"/>"##,
        mm(LEFT),
        mm(ABOVE),
        mm(sheet.width),
        mm(sheet.height)
    );
    for (fine, tone, width) in [(true, "#e7e7e7", 0.1), (false, "#c4c4c4", 0.16)] {
        let step = |axis: &Axis| if fine { axis.minor } else { axis.major };
        let mut path = String::new();
        let mut upright = |x: f64| {
            let _ = write!(path, "M{} {}V{}", mm(sheet.at([x, 0.0])[0]), mm(ABOVE), mm(sheet.bottom()));
        };
        lines(right, step(right)).for_each(|x| upright(x - right.range.0));
        lines(left, step(left)).for_each(|x| upright(left.range.0 - x));
        let mut level = |y: f64| {
            let _ = write!(path, "M{} {}H{}", mm(LEFT), mm(sheet.at([0.0, y])[1]), mm(sheet.right()));
        };
        lines(up, step(up)).for_each(|y| level(y - up.range.0));
        if !fine {
            zone_marks(diagram).iter().for_each(|(below, _)| level(-below));
        }
        let _ = write!(out, r#"<path d="{path}" fill="none" stroke="{tone}" stroke-width="{width}"/>"#);
    }
    let [x, y] = sheet.crossing;
    let _ = write!(
        out,
        r##"<path d="M{} {}V{}M{} {}H{}" fill="none" stroke="#6f6f6f" stroke-width="0.25"/>"##,
        mm(x),
        mm(ABOVE),
        mm(sheet.bottom()),
        mm(LEFT),
        mm(y),
        mm(sheet.right())
    );
}

fn text(out: &mut String, [x, y]: [f64; 2], anchor: &str, words: &str) {
    let _ = write!(
        out,
        r##"<text x="{}" y="{}" text-anchor="{anchor}" fill="#4a4a4a">{}</text>"##,
        mm(x),
        mm(y),
        escape_plain(words)
    );
}

fn figures(out: &mut String, sheet: &Sheet, diagram: &FourQuadrants) {
    let (right, up, left) = (&diagram.right, &diagram.up, &diagram.left);
    let number = |value: f64, axis: &Axis| format::number(value, decimals_of(axis.major));
    let below = |x: f64| [sheet.at([x, 0.0])[0], sheet.bottom() + 1.3 + TEXT * 0.8];
    for value in lines(right, right.major) {
        text(out, below(value - right.range.0), "middle", &number(value, right));
    }
    for value in lines(left, left.major).filter(|value| *value > left.range.0 + 1e-9) {
        text(out, below(left.range.0 - value), "middle", &number(value, left));
    }
    let beside = |y: f64| [LEFT - 1.2, sheet.at([0.0, y])[1] + TEXT * 0.36];
    for value in lines(up, up.major) {
        text(out, beside(value - up.range.0), "end", &number(value, up));
    }
    for (down, name) in zone_marks(diagram) {
        text(out, beside(-down), "end", name);
    }
    let line = sheet.bottom() + 7.6;
    text(out, [sheet.right(), line], "end", "log H at the film, lx s");
    text(out, [LEFT, line], "start", "print density, zones of the subject downwards");
    text(out, [1.0, ABOVE - 2.2], "start", "negative density");
    let corners = [
        ([sheet.right() - 1.5, ABOVE + 3.5], "end", "film"),
        ([LEFT + 1.5, ABOVE + 3.5], "start", "paper"),
        ([LEFT + 1.5, sheet.bottom() - 1.5], "start", "print"),
        ([sheet.right() - 1.5, sheet.bottom() - 1.5], "end", "camera"),
    ];
    for (at, anchor, words) in corners {
        text(out, at, anchor, words);
    }
}

/// Which line is whose, above the frame.
fn legend(out: &mut String, sheet: &Sheet, diagram: &FourQuadrants) {
    let y = ABOVE - 2.2;
    let mut x = sheet.right();
    for layer in &diagram.layers {
        let Layer::Line { role: role @ (Role::Reference | Role::Candidate | Role::Other), name, .. } = layer
        else {
            continue;
        };
        if name.is_empty() || name == "camera" {
            continue;
        }
        text(out, [x, y], "end", name);
        x -= name.chars().count() as f64 * LETTER * TEXT + 10.0;
        let middle = y - TEXT * 0.35;
        layers::stroke(out, *role, &format!("M{} {}h8.5", mm(x), mm(middle)));
        layers::mark(out, *role, [x + 4.25, middle], false, 0);
        x -= 4.0;
    }
}
