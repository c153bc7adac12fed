//! The report's drawings as paths, text and pictures. What is read is the SVG that this program writes, no more of that language.

use std::collections::HashMap;
use std::rc::Rc;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use super::read::{Element, Node};

/// Red, green, blue.
pub(super) type Colour = [u8; 3];

/// How a line is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    pub(super) colour: Colour,
    pub(super) width: f64,
    pub(super) opacity: f64,
    pub(super) dashes: Vec<f64>,
    pub(super) round: bool,
}

/// A piece of a path, with absolute coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Step {
    Move(f64, f64),
    To(f64, f64),
    Curve([f64; 6]),
    Close,
}

/// Where a text stands against its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// An encoded picture.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Picture {
    pub(super) bytes: Rc<Vec<u8>>,
    pub(super) png: bool,
}

/// A thing drawn, in the drawing's own units.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shape {
    Path {
        steps: Vec<Step>,
        fill: Option<(Colour, f64)>,
        line: Option<Line>,
    },
    Text {
        at: [f64; 2],
        anchor: Anchor,
        size: f64,
        colour: Colour,
        halo: Option<(Colour, f64)>,
        text: String,
    },
    Picture {
        at: [f64; 2],
        size: [f64; 2],
        picture: Picture,
    },
    /// What lies in a window of the drawing: moved, scaled and cut off at its edges.
    Window {
        edges: [f64; 4],
        scale: [f64; 2],
        shift: [f64; 2],
        shapes: Vec<Self>,
    },
}

/// A drawing with its size in millimetres, where it has one of its own.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawing {
    /// What it shows, for those who do not see it; empty where it says nothing of its own.
    pub(super) says: String,
    pub(super) size_mm: Option<[f64; 2]>,
    /// Width and height in its own units.
    pub(super) units: [f64; 2],
    /// Left and upper edge in its own units.
    pub(super) from: [f64; 2],
    pub(super) shapes: Vec<Shape>,
}

/// Parts of drawings that stand once in the page and are shown in several places, by their names.
pub(super) type Parts<'a> = HashMap<&'a str, &'a Element>;

/// What is handed down to the parts of a drawing.
#[derive(Clone)]
struct Inherited {
    fill: Option<Colour>,
    size: f64,
    anchor: Anchor,
}

/// The drawing of an `svg` element.
pub(super) fn drawing(svg: &Element, parts: &Parts<'_>) -> Drawing {
    let view = numbers(svg.attribute("viewBox").unwrap_or_default());
    let size = svg.number("width").zip(svg.number("height"));
    let [x, y, width, height] = match view[..] {
        [x, y, width, height] => [x, y, width, height],
        _ => size.map_or([0.0, 0.0, 1.0, 1.0], |(width, height)| [0.0, 0.0, width, height]),
    };
    let mm = svg.attribute("width").is_some_and(|width| width.ends_with("mm"));
    let mut shapes = Vec::new();
    let base = Inherited { fill: Some([0; 3]), size: 2.5, anchor: Anchor::Start };
    draw(svg, &inherit(svg, &base), parts, &mut shapes, 0);
    Drawing {
        says: svg.attribute("aria-label").unwrap_or_default().to_owned(),
        size_mm: size.filter(|_| mm).map(|(width, height)| [width, height]),
        units: [width, height],
        from: [x, y],
        shapes,
    }
}

fn inherit(element: &Element, from: &Inherited) -> Inherited {
    let mut own = from.clone();
    if let Some(fill) = element.attribute("fill") {
        own.fill = colour(fill);
    }
    if let Some(size) = element.number("font-size") {
        own.size = size;
    }
    own.anchor = match element.attribute("text-anchor") {
        Some("middle") => Anchor::Middle,
        Some("end") => Anchor::End,
        Some(_) => Anchor::Start,
        None => own.anchor,
    };
    own
}

/// Parts shown within parts go no deeper than this.
const DEEPEST: usize = 16;

fn draw(within: &Element, from: &Inherited, parts: &Parts<'_>, out: &mut Vec<Shape>, depth: usize) {
    if depth > DEEPEST {
        return;
    }
    for element in within.elements() {
        let own = inherit(element, from);
        let number = |name: &str| element.number(name).unwrap_or(0.0);
        match element.name.as_str() {
            "g" => draw(element, &own, parts, out, depth + 1),
            "use" => {
                let name = element.attribute("href").unwrap_or_default().trim_start_matches('#');
                if let Some(part) = parts.get(name) {
                    one(part, &own, parts, out, depth + 1);
                }
            }
            "svg" => {
                let view = numbers(element.attribute("viewBox").unwrap_or_default());
                let [left, top, wide, high] = match view[..] {
                    [left, top, wide, high] if wide > 0.0 && high > 0.0 => [left, top, wide, high],
                    _ => continue,
                };
                let (x, y) = (number("x"), number("y"));
                let width = element.number("width").unwrap_or(wide);
                let height = element.number("height").unwrap_or(high);
                let scale = [width / wide, height / high];
                let mut shapes = Vec::new();
                draw(element, &own, parts, &mut shapes, depth + 1);
                out.push(Shape::Window {
                    edges: [x, y, x + width, y + height],
                    scale,
                    shift: [x - left * scale[0], y - top * scale[1]],
                    shapes,
                });
            }
            _ => one(element, &own, parts, out, depth),
        }
    }
}

/// One element, which may be a part that is shown again.
fn one(element: &Element, from: &Inherited, parts: &Parts<'_>, out: &mut Vec<Shape>, depth: usize) {
    let own = inherit(element, from);
    let number = |name: &str| element.number(name).unwrap_or(0.0);
    let fill = own.fill.map(|colour| (colour, element.number("fill-opacity").unwrap_or(1.0)));
    let line = line(element);
    match element.name.as_str() {
        "g" => draw(element, &own, parts, out, depth + 1),
        "rect" => {
            let (x, y, width, height) = (number("x"), number("y"), number("width"), number("height"));
            let (right, bottom) = (x + width, y + height);
            let steps = vec![
                Step::Move(x, y),
                Step::To(right, y),
                Step::To(right, bottom),
                Step::To(x, bottom),
                Step::Close,
            ];
            out.push(Shape::Path { steps, fill, line });
        }
        "circle" => {
            out.push(Shape::Path { steps: circle(number("cx"), number("cy"), number("r")), fill, line });
        }
        "polygon" => {
            let points = numbers(element.attribute("points").unwrap_or_default());
            let mut steps: Vec<Step> = points.chunks_exact(2).map(|at| Step::To(at[0], at[1])).collect();
            if let Some(first) = steps.first_mut()
                && let Step::To(x, y) = *first
            {
                *first = Step::Move(x, y);
                steps.push(Step::Close);
            }
            out.push(Shape::Path { steps, fill, line });
        }
        "path" => {
            let steps = path(element.attribute("d").unwrap_or_default());
            out.push(Shape::Path { steps, fill, line });
        }
        "text" => {
            let halo = line.map(|line| (line.colour, line.width));
            let colour = own.fill.unwrap_or_default();
            let text = element.text();
            let at = [number("x"), number("y")];
            if !text.is_empty() {
                out.push(Shape::Text { at, anchor: own.anchor, size: own.size, colour, halo, text });
            }
        }
        "image" => {
            let picture = element.attribute("href").and_then(picture);
            let (at, size) = ([number("x"), number("y")], [number("width"), number("height")]);
            out.extend(picture.map(|picture| Shape::Picture { at, size, picture }));
        }
        _ => {}
    }
}

fn line(element: &Element) -> Option<Line> {
    let colour = colour(element.attribute("stroke")?)?;
    Some(Line {
        colour,
        width: element.number("stroke-width").unwrap_or(1.0),
        opacity: element.number("stroke-opacity").unwrap_or(1.0),
        dashes: numbers(element.attribute("stroke-dasharray").unwrap_or_default()),
        round: element.attribute("stroke-linejoin") == Some("round"),
    })
}

/// `#fff`, `#ffffff` or `rgb(255,255,255)`; nothing for `none`.
fn colour(text: &str) -> Option<Colour> {
    if let Some(digits) = text.strip_prefix('#') {
        let part = |at: usize, of: usize| u8::from_str_radix(digits.get(at..at + of)?, 16).ok();
        return match digits.len() {
            3 => Some([part(0, 1)? * 17, part(1, 1)? * 17, part(2, 1)? * 17]),
            _ => Some([part(0, 2)?, part(2, 2)?, part(4, 2)?]),
        };
    }
    let inner = text.strip_prefix("rgb(")?.strip_suffix(')')?;
    let [red, green, blue] = numbers(inner)[..] else { return None };
    Some([red as u8, green as u8, blue as u8])
}

/// All numbers of a text, whatever parts them.
fn numbers(text: &str) -> Vec<f64> {
    text.split(|c: char| c == ',' || c.is_whitespace()).filter_map(|word| word.parse().ok()).collect()
}

/// The picture of a data URI.
fn picture(uri: &str) -> Option<Picture> {
    let (kind, data) = uri.strip_prefix("data:image/")?.split_once(";base64,")?;
    let bytes = STANDARD.decode(data).ok()?;
    Some(Picture { bytes: Rc::new(bytes), png: kind == "png" })
}

/// A circle by four cubic curves; they stray from it by less than a three-thousandth of its radius.
fn circle(x: f64, y: f64, r: f64) -> Vec<Step> {
    let k = r * 0.552_284_75;
    vec![
        Step::Move(x + r, y),
        Step::Curve([x + r, y + k, x + k, y + r, x, y + r]),
        Step::Curve([x - k, y + r, x - r, y + k, x - r, y]),
        Step::Curve([x - r, y - k, x - k, y - r, x, y - r]),
        Step::Curve([x + k, y - r, x + r, y - k, x + r, y]),
        Step::Close,
    ]
}

/// A path of moves, straight lines and closings, absolute or relative.
fn path(text: &str) -> Vec<Step> {
    let mut steps = Vec::new();
    let (mut x, mut y, mut start) = (0.0, 0.0, (0.0, 0.0));
    for (at, _) in text.char_indices().filter(|(_, c)| c.is_ascii_alphabetic() && *c != 'e') {
        let command = text[at..].chars().next().unwrap_or_default();
        let rest = &text[at + 1..];
        let end = rest.find(|c: char| c.is_ascii_alphabetic() && c != 'e').unwrap_or(rest.len());
        let numbers = numbers(&spread(&rest[..end]));
        let relative = command.is_ascii_lowercase();
        let (from_x, from_y) = (x, y);
        let base = |value: f64, from: f64| if relative { from + value } else { value };
        match (command.to_ascii_uppercase(), &numbers[..]) {
            ('M' | 'L', [to_x, to_y, ..]) => {
                (x, y) = (base(*to_x, from_x), base(*to_y, from_y));
                if command.eq_ignore_ascii_case(&'m') {
                    start = (x, y);
                    steps.push(Step::Move(x, y));
                } else {
                    steps.push(Step::To(x, y));
                }
            }
            ('H', [to, ..]) => {
                x = base(*to, from_x);
                steps.push(Step::To(x, y));
            }
            ('V', [to, ..]) => {
                y = base(*to, from_y);
                steps.push(Step::To(x, y));
            }
            ('Z', _) => {
                (x, y) = start;
                steps.push(Step::Close);
            }
            _ => {}
        }
    }
    steps
}

/// Numbers that only a sign parts, parted by a space.
fn spread(numbers: &str) -> String {
    numbers.replace('-', " -").replace("e -", "e-")
}

/// Names of all parts that are shown in several places.
pub(super) fn parts(page: &Element) -> Parts<'_> {
    let mut parts = Parts::new();
    page.walk(&mut |element| {
        if element.name == "defs" {
            element.walk(&mut |part| {
                if let Some(id) = part.attribute("id") {
                    parts.insert(id, part);
                }
            });
        }
    });
    parts
}

/// Whether a node is nothing but the room between elements.
pub(super) fn is_blank(node: &Node) -> bool {
    matches!(node, Node::Text(text) if text.trim_matches([' ', '\n', '\t']).is_empty())
}

#[cfg(test)]
mod tests {
    use super::super::read::read;
    use super::*;

    /// Paths of the form that the grammar of SVG 1.1, section 8.3, gives.
    #[test]
    fn paths_are_read_absolute_and_relative() {
        let want = vec![Step::Move(1.0, 2.0), Step::To(3.0, 4.5), Step::To(3.0, 1.0), Step::To(7.0, 1.0)];
        assert_eq!(path("M1 2L3 4.5V1H7"), want);
        let want = vec![Step::Move(5.0, 5.0), Step::To(5.8, 6.35), Step::To(4.2, 6.35), Step::Close];
        let have = path("M5 5l0.8 1.35h-1.6z");
        for (one, other) in have.iter().zip(&want) {
            match (one, other) {
                (Step::Move(a, b), Step::Move(c, d)) | (Step::To(a, b), Step::To(c, d)) => {
                    assert!((a - c).abs() < 1e-9 && (b - d).abs() < 1e-9, "{one:?} {other:?}");
                }
                _ => assert_eq!(one, other),
            }
        }
        assert_eq!(have.len(), want.len());
    }

    #[test]
    fn colours_are_read_in_all_their_forms() {
        assert_eq!(colour("#b0511a"), Some([0xb0, 0x51, 0x1a]));
        assert_eq!(colour("#fff"), Some([255; 3]));
        assert_eq!(colour("rgb(13,13,13)"), Some([13; 3]));
        assert_eq!(colour("none"), None);
    }

    #[test]
    fn a_part_that_is_shown_twice_is_drawn_twice() {
        let page = read(
            "<svg><defs><g id=\"a\"><rect width=\"2\" height=\"1\" fill=\"#000\"/></g></defs></svg>\
             <svg viewBox=\"0 0 4 4\"><use href=\"#a\"/><use href=\"#a\"/></svg>",
        )
        .unwrap_or_default();
        let parts = parts(&page);
        let Some(second) = page.elements().nth(1) else { panic!("there are two drawings") };
        assert_eq!(drawing(second, &parts).shapes.len(), 2);
    }
}
