//! The drawing read back: well-formed, and every point where the data say.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use twinwedge_core::drawing::{Axis, Layer, Plot, Role};

use super::{decimals_of, lines, mm, svg};

/// One element: its name, attributes, and the text directly in it.
#[derive(Debug, Default)]
struct Element {
    name: String,
    attributes: Vec<(String, String)>,
    text: String,
    inside: Vec<String>,
}

impl Element {
    fn get(&self, key: &str) -> &str {
        self.attributes.iter().find(|(name, _)| name == key).map_or("", |(_, value)| value)
    }

    fn number(&self, key: &str) -> f64 {
        self.get(key).parse().unwrap()
    }
}

/// Parses with an XML reader that checks nesting and entities.
fn elements(text: &str) -> Vec<Element> {
    let mut reader = Reader::from_str(text);
    reader.config_mut().check_end_names = true;
    let (mut all, mut open): (Vec<Element>, Vec<usize>) = (Vec::new(), Vec::new());
    let read = |start: &BytesStart<'_>| {
        let attributes = start.attributes().map(|attribute| {
            let attribute = attribute.unwrap();
            let key = String::from_utf8(attribute.key.as_ref().to_vec()).unwrap();
            let value = String::from_utf8(attribute.value.to_vec()).unwrap();
            (key, quick_xml::escape::unescape(&value).unwrap().into_owned())
        });
        let name = String::from_utf8(start.name().as_ref().to_vec()).unwrap();
        Element { name, attributes: attributes.collect(), ..Element::default() }
    };
    loop {
        match reader.read_event().unwrap() {
            Event::Start(start) => {
                let mut element = read(&start);
                element.inside =
                    open.iter().map(|index: &usize| all[*index].get("class").to_owned()).collect();
                open.push(all.len());
                all.push(element);
            }
            Event::Empty(start) => all.push(read(&start)),
            Event::End(_) => {
                open.pop().unwrap();
            }
            Event::Text(text) => {
                if let Some(index) = open.last() {
                    all[*index].text.push_str(std::str::from_utf8(&text).unwrap());
                }
            }
            Event::Eof => break,
            _ => {}
        }
    }
    assert!(open.is_empty());
    all
}

fn axis(range: (f64, f64), major: f64, minor: f64) -> Axis {
    Axis { label: "label <&>".to_owned(), range, major, minor }
}

fn plot(layers: Vec<Layer>, x_per_y: Option<f64>) -> Plot {
    let (x, y) = (axis((-3.0, 0.0), 0.3, 0.1), axis((0.0, 2.5), 0.5, 0.1));
    Plot { title: "Title & \"more\"".to_owned(), x, y, x_per_y, layers }
}

/// The line through (number printed at an axis, its place): place = a + b number. Independent of the painter's own map.
fn scale(all: &[Element], class: &str, key: &str) -> (f64, f64) {
    let numbers: Vec<(f64, f64)> = all
        .iter()
        .filter(|element| element.name == "text" && element.inside.iter().any(|inside| inside == class))
        .map(|element| (element.text.replace('−', "-").parse().unwrap(), element.number(key)))
        .collect();
    let (first, last) = (numbers[0], numbers[numbers.len() - 1]);
    let slope = (last.1 - first.1) / (last.0 - first.0);
    for (value, at) in &numbers {
        assert!(
            (first.1 + slope * (value - first.0) - at).abs() < 0.002,
            "axis numbers are not evenly spaced"
        );
    }
    (first.1 - slope * first.0, slope)
}

fn line(role: Role, name: &str, points: &[[f64; 2]]) -> Layer {
    Layer::Line { role, name: name.to_owned(), points: points.to_vec() }
}

#[test]
fn points_lie_where_the_axes_say() {
    let data = [[-3.0, 0.2], [-1.37, 0.911], [0.0, 2.4]];
    let all = elements(&svg(&plot(vec![line(Role::Other, "A", &data)], Some(1.0)), 160.0));
    let (x0, x1) = scale(&all, "x-numbers", "x");
    let (y0, y1) = scale(&all, "y-numbers", "y");
    // One scale on both axes: a gradient of 1 rises at 45 degrees.
    assert!((x1 + y1).abs() < 1e-3, "{x1} {y1}");
    let path =
        all.iter().find(|element| element.get("stroke-width") == "0.2" && element.name == "path").unwrap();
    let drawn: Vec<f64> = path.get("d").split(['M', 'L', ' ']).filter_map(|part| part.parse().ok()).collect();
    // Axis numbers stand a fixed distance below their line's middle.
    let lowered = y0 + y1 * 0.2 - drawn[1];
    for (point, at) in data.iter().zip(drawn.chunks(2)) {
        assert!((x0 + x1 * point[0] - at[0]).abs() < 0.003, "{point:?} at {at:?}");
        assert!((y0 + y1 * point[1] - lowered - at[1]).abs() < 0.003, "{point:?} at {at:?}");
    }
    let frame = all.iter().find(|element| element.name == "rect" && element.get("fill") == "none").unwrap();
    assert!((lowered - 2.5 * 0.36).abs() < 0.01);
    assert!((frame.number("x") - (x0 - 3.0 * x1)).abs() < 0.003);
}

#[test]
fn sizes_are_millimetres() {
    let all = elements(&svg(&plot(Vec::new(), Some(1.0)), 160.0));
    assert_eq!(all[0].get("width"), "160mm");
    assert!(all[0].get("viewBox").starts_with("0 0 160 "));
    assert_eq!(all[0].get("xmlns"), "http://www.w3.org/2000/svg");
    assert_eq!(format!("{}mm", all[0].get("viewBox").split(' ').nth(3).unwrap()), all[0].get("height"));
    assert_eq!(all[0].get("aria-label"), "Title & \"more\"");
}

#[test]
fn films_differ_by_line_mark_and_tone() {
    let points = vec![[-2.0, 0.5], [-1.0, 1.0]];
    let marks =
        |role| Layer::Marks { role, name: String::new(), points: points.clone(), set_aside: false, strip: 0 };
    let layers = vec![
        line(Role::Reference, "R", &points),
        line(Role::Candidate, "C", &points),
        marks(Role::Reference),
        marks(Role::Candidate),
    ];
    let all = elements(&svg(&plot(layers, None), 160.0));
    let stroke = |colour: &str| {
        all.iter()
            .find(|e| e.name == "path" && e.get("stroke") == colour && e.get("stroke-width") == "0.42")
            .unwrap()
    };
    assert_eq!(stroke(super::INK).get("stroke-dasharray"), "");
    assert_ne!(stroke(super::ACCENT).get("stroke-dasharray"), "");
    // Two points and one in the legend.
    let round = all.iter().filter(|e| e.name == "circle" && e.get("fill") == super::INK);
    let square = all
        .iter()
        .filter(|e| e.name == "rect" && e.get("stroke") == super::ACCENT && e.get("fill") == "#ffffff");
    assert_eq!((round.count(), square.count()), (3, 3));
}

#[test]
fn numbers_that_are_none_are_left_out() {
    let gap = [[-3.0, 0.2], [-2.0, f64::NAN], [-1.0, 1.0], [0.0, f64::INFINITY]];
    let layers = vec![
        line(Role::Reference, "R", &gap),
        Layer::Band { role: Role::Reference, points: vec![[0.0, f64::NEG_INFINITY, 1.0]] },
        Layer::Marks {
            role: Role::Reference,
            name: String::new(),
            points: gap.to_vec(),
            set_aside: true,
            strip: 0,
        },
    ];
    let text = svg(&plot(layers, Some(1.0)), 160.0);
    assert!(!elements(&text).is_empty() && !text.contains("NaN") && !text.contains("inf"));
}

#[test]
fn labels_of_fifty_films_do_not_touch() {
    let films: Vec<Layer> = (0..50)
        .map(|i| line(Role::Other, &format!("Film <{i}>"), &[[-3.0, 0.2], [0.0, 1.5 + 0.001 * f64::from(i)]]))
        .collect();
    let all = elements(&svg(&plot(films, Some(1.0)), 178.0));
    let mut labels: Vec<(f64, f64)> = all
        .iter()
        .filter(|element| element.name == "text" && element.text.contains("Film"))
        .map(|element| (element.number("y"), element.number("font-size")))
        .collect();
    assert_eq!(labels.len(), 50);
    labels.sort_by(|a, b| a.0.total_cmp(&b.0));
    for pair in labels.windows(2) {
        assert!(pair[1].0 - pair[0].0 >= 0.99 * pair[0].1, "{pair:?}");
    }
    assert!(labels[0].1 >= 1.5, "too small to read: {} mm", labels[0].1);
}

#[test]
fn numbers_are_short() {
    assert_eq!((mm(1.0).as_str(), mm(-0.0001).as_str(), mm(12.3456).as_str()), ("1", "0", "12.346"));
}

#[test]
fn grid_lines_are_the_multiples_within() {
    let majors: Vec<f64> = lines(&axis((-0.3, 0.9), 0.3, 0.1), 0.3).collect();
    assert_eq!(majors.len(), 5);
    assert!(majors.iter().zip([-0.3, 0.0, 0.3, 0.6, 0.9]).all(|(a, b)| (a - b).abs() < 1e-12));
    assert_eq!((decimals_of(0.3), decimals_of(0.05), decimals_of(1.0)), (1, 2, 0));
}
