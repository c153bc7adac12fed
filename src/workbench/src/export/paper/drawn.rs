//! A page as SVG, to be looked at before there is a file.

use std::fmt::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::drawing::{Anchor, Colour, Drawing, Line, Shape, Step};
use super::faces::{Faces, Weight};
use super::pages::Page;
use super::piece::{Mark, Style, What};
use super::write::{About, Placed, Sheet, running};
use crate::export::markup::escape_plain;
use crate::export::svg::FONTS;

/// The first page of a document, in points. Links and structure are not drawn.
pub(super) fn first_page(faces: &Faces, sheet: Sheet, about: &About, pages: &[Page]) -> String {
    let (width, height) = (sheet.width, sheet.height);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
         font-family=\"{FONTS}\"><rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>"
    );
    if let Some(page) = pages.first() {
        for mark in &page.marks {
            draw(&mut out, faces, sheet, mark);
        }
        let around = running(faces, sheet, about, (0, pages.len()), &page.head);
        for Placed { at: [x, y], shaped, style } in around.foot {
            text(&mut out, [x, y], &shaped.text, style);
        }
    }
    out.push_str("</svg>\n");
    out
}

fn draw(out: &mut String, faces: &Faces, sheet: Sheet, mark: &Mark) {
    let (x, y) = (sheet.left + mark.x, sheet.top + mark.y);
    match &mark.what {
        What::Text { shaped, style, .. } => text(out, [x, y], &shaped.text, *style),
        What::Area { size: [width, height], fill, line } => {
            let line = line.map(|(colour, width)| Line {
                colour,
                width,
                opacity: 1.0,
                dashes: Vec::new(),
                round: false,
            });
            let paint = painted(fill.map(|tone| (tone, 1.0)), line.as_ref());
            let _ = write!(out, "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"{paint}/>");
        }
        What::Drawing { drawing, size, .. } => whole(out, faces, drawing, [x, y], *size),
        // Numbers of pages stand in contents, which a single page has none of.
        What::PageOf { .. } | What::Link { .. } | What::Anchor(_) | What::Entry { .. } | What::Head(_) => {}
    }
}

fn text(out: &mut String, [x, y]: [f64; 2], text: &str, style: Style) {
    let weight = if style.weight == Weight::Strong { " font-weight=\"600\"" } else { "" };
    let _ = write!(
        out,
        "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\" fill=\"{}\"{weight} xml:space=\"preserve\">{}</text>",
        style.size,
        hex(style.colour),
        escape_plain(text)
    );
}

fn whole(out: &mut String, faces: &Faces, drawing: &Drawing, [x, y]: [f64; 2], [width, height]: [f64; 2]) {
    let scale = [width / drawing.units[0].max(1e-9), height / drawing.units[1].max(1e-9)];
    let shift = [x - drawing.from[0] * scale[0], y - drawing.from[1] * scale[1]];
    window(out, faces, [x, y, x + width, y + height], (scale, shift), &drawing.shapes);
}

/// Shapes in a window: cut off at its edges, scaled and moved.
fn window(
    out: &mut String,
    faces: &Faces,
    [left, top, right, bottom]: [f64; 4],
    (scale, shift): ([f64; 2], [f64; 2]),
    shapes: &[Shape],
) {
    let (width, height) = (right - left, bottom - top);
    if width <= 0.0 || height <= 0.0 {
        return;
    }
    let _ = write!(
        out,
        "<svg x=\"{left}\" y=\"{top}\" width=\"{width}\" height=\"{height}\"><g transform=\"matrix({} 0 0 {} {} {})\">",
        scale[0],
        scale[1],
        shift[0] - left,
        shift[1] - top
    );
    for one in shapes {
        shape(out, faces, one);
    }
    out.push_str("</g></svg>");
}

fn shape(out: &mut String, faces: &Faces, shape: &Shape) {
    match shape {
        Shape::Path { steps, fill, line } => {
            let _ = write!(out, "<path d=\"{}\"{}/>", path(steps), painted(*fill, line.as_ref()));
        }
        Shape::Text { at: [x, y], anchor, size, colour, halo, text } => {
            let shaped = faces.shape(Weight::Regular, text);
            let width = shaped.width * size;
            let x = match anchor {
                Anchor::Start => *x,
                Anchor::Middle => x - width / 2.0,
                Anchor::End => x - width,
            };
            let halo = halo.map_or_else(String::new, |(colour, width)| {
                format!(
                    " stroke=\"{}\" stroke-width=\"{width}\" stroke-linejoin=\"round\" paint-order=\"stroke\"",
                    hex(colour)
                )
            });
            let _ = write!(
                out,
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" fill=\"{}\"{halo} xml:space=\"preserve\">{}</text>",
                hex(*colour),
                escape_plain(&shaped.text)
            );
        }
        Shape::Picture { at: [x, y], size: [width, height], picture } => {
            let kind = if picture.png { "png" } else { "jpeg" };
            let data = STANDARD.encode(&*picture.bytes);
            let _ = write!(
                out,
                "<image x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" preserveAspectRatio=\"none\" \
                 href=\"data:image/{kind};base64,{data}\"/>"
            );
        }
        Shape::Window { edges, scale, shift, shapes } => window(out, faces, *edges, (*scale, *shift), shapes),
    }
}

fn path(steps: &[Step]) -> String {
    let mut out = String::new();
    for step in steps {
        let _ = match *step {
            Step::Move(x, y) => write!(out, "M{x} {y}"),
            Step::To(x, y) => write!(out, "L{x} {y}"),
            Step::Curve([a, b, c, d, e, f]) => write!(out, "C{a} {b} {c} {d} {e} {f}"),
            Step::Close => write!(out, "Z"),
        };
    }
    out
}

fn painted(fill: Option<(Colour, f64)>, line: Option<&Line>) -> String {
    let mut out = match fill {
        Some((colour, opacity)) => format!(" fill=\"{}\" fill-opacity=\"{opacity}\"", hex(colour)),
        None => " fill=\"none\"".to_owned(),
    };
    if let Some(line) = line {
        let join = if line.round { "round" } else { "miter" };
        let _ = write!(
            out,
            " stroke=\"{}\" stroke-width=\"{}\" stroke-opacity=\"{}\" stroke-linejoin=\"{join}\"",
            hex(line.colour),
            line.width,
            line.opacity
        );
        if !line.dashes.is_empty() {
            let dashes: Vec<String> = line.dashes.iter().map(f64::to_string).collect();
            let _ = write!(out, " stroke-dasharray=\"{}\"", dashes.join(" "));
        }
    }
    out
}

fn hex([red, green, blue]: Colour) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}
