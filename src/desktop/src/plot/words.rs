//! What a plot shows, in words: for a reader who hears it.

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::drawing::{Layer, Plot};

/// Most texts of a plot that are told.
const MOST_TEXTS: usize = 24;

/// What a plot shows: over which ranges each film is drawn, and what stands at its marks.
pub(super) fn words(plot: &Plot) -> String {
    let mut parts = vec![format!("{} over {}.", plot.y.label, plot.x.label)];
    let mut texts = Vec::new();
    for layer in &plot.layers {
        match layer {
            Layer::Line { name, points, .. } if !name.is_empty() => parts.extend(line(name, points)),
            Layer::Marks { name, points, set_aside: true, .. } if !name.is_empty() => {
                parts.push(format!("{name}: {} readings set aside.", points.len()));
            }
            Layer::Note { text, .. }
            | Layer::Segment { text, .. }
            | Layer::Upright { text, .. }
            | Layer::Level { text, .. }
                if !text.is_empty() =>
            {
                texts.push(text.as_str());
            }
            _ => {}
        }
    }
    if !texts.is_empty() {
        texts.truncate(MOST_TEXTS);
        parts.push(format!("Marked: {}.", texts.join("; ")));
    }
    if parts.len() == 1 {
        parts.push("Nothing is drawn yet.".to_owned());
    }
    parts.join(" ")
}

fn line(name: &str, points: &[[f64; 2]]) -> Option<String> {
    let (first, last) = (points.first()?, points.last()?);
    let highest = points.iter().map(|point| point[1]).fold(f64::NEG_INFINITY, f64::max);
    let lowest = points.iter().map(|point| point[1]).fold(f64::INFINITY, f64::min);
    let number = |value: f64| format::number(value, 2);
    Some(format!(
        "{name}: {} to {}, from {} to {}, lowest {}, highest {}.",
        number(first[0]),
        number(last[0]),
        number(first[1]),
        number(last[1]),
        number(lowest),
        number(highest)
    ))
}

/// The points of all films' lines and marks as a table: film, x, y, parted by tabs, with the decimal sign that is wished.
pub(super) fn table(plot: &Plot, comma: bool) -> String {
    let number = |value: f64| {
        let text = format!("{value:.5}");
        if comma { text.replace('.', ",") } else { text }
    };
    let mut text = format!("film\t{}\t{}\n", plot.x.label, plot.y.label);
    for layer in &plot.layers {
        let (name, points, kind) = match layer {
            Layer::Line { name, points, .. } => (name, points, "line"),
            Layer::Marks { name, points, .. } => (name, points, "reading"),
            _ => continue,
        };
        for point in points.iter().filter(|_| !name.is_empty()) {
            text.push_str(&format!("{name} ({kind})\t{}\t{}\n", number(point[0]), number(point[1])));
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use twinwedge_workbench::core::drawing::{Axis, Role};

    fn plot() -> Plot {
        let axis = |label: &str| Axis { label: label.to_owned(), range: (0.0, 1.0), major: 0.5, minor: 0.1 };
        let points = vec![[-2.0, 0.25], [0.0, 1.5]];
        Plot {
            title: "Curves".to_owned(),
            x: axis("log H"),
            y: axis("density"),
            x_per_y: None,
            layers: vec![
                Layer::Line { role: Role::Reference, name: "Tern 160".to_owned(), points },
                Layer::Note { role: Role::Reference, at: [-1.5, 0.35], text: "speed point".to_owned() },
            ],
        }
    }

    #[test]
    fn a_plot_is_told_with_its_ranges_and_marks() {
        let told = words(&plot());
        assert!(told.starts_with("density over log H. Tern 160: −2.00 to 0.00, from 0.25 to 1.50"), "{told}");
        assert!(told.ends_with("Marked: speed point."), "{told}");
    }

    #[test]
    fn numbers_are_copied_with_the_decimal_sign_that_is_wished() {
        assert_eq!(
            table(&plot(), false),
            "film\tlog H\tdensity\nTern 160 (line)\t-2.00000\t0.25000\nTern 160 (line)\t0.00000\t1.50000\n"
        );
        assert!(table(&plot(), true).contains("-2,00000\t0,25000"));
    }
}
