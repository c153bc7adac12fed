//! A paper's curve as a plot: density over exposure, with its three points.

use super::{Axis, Layer, Plot, Role};
use crate::curve::Curve;
use crate::measured::{Measured, Value};
use crate::tone::PaperFigures;

/// Places along the curve at which it is drawn.
const SAMPLES: usize = 241;

/// Draws a paper with band, readings, white, and the points T, M and S of ISO 6846.
#[must_use]
pub fn paper_plot(curve: &Curve, figures: &PaperFigures) -> Plot {
    let role = Role::Reference;
    let band = curve.band(SAMPLES);
    let line: Vec<[f64; 2]> = band.iter().map(|point| [point.log_h, point.density]).collect();
    let mut layers = vec![Layer::Band {
        role,
        points: band.iter().map(|point| [point.log_h, point.low, point.high]).collect(),
    }];
    if let Value::Known(white) = &figures.d_min {
        layers.push(Layer::Level { role: Role::Guide, y: white.number(), text: "white".to_owned() });
    }
    let highest = line.iter().map(|point| point[1]).fold(0.5, f64::max);
    layers.push(Layer::Line { role, name: "paper".to_owned(), points: line });
    for set_aside in [false, true] {
        let points = curve.readings.points.iter().filter(|point| point.set_aside == set_aside);
        let points: Vec<[f64; 2]> = points.map(|point| [point.log_h, point.density]).collect();
        if !points.is_empty() {
            layers.push(Layer::Marks { role, name: "paper".to_owned(), points, set_aside, strip: 0 });
        }
    }
    for (value, name) in [(&figures.t, "T"), (&figures.m, "M"), (&figures.s, "S")] {
        let place = value.known().map(Measured::number);
        let on_curve = place.and_then(|log_h| Some([log_h, curve.best.density(log_h)?]));
        if let Some(at) = on_curve {
            layers.push(Layer::Note { role, at, text: name.to_owned() });
        }
    }
    let (from, to) = curve.range();
    let label = if curve.readings.absolute { "log H, lx s" } else { "log H, relative" };
    Plot {
        title: "Curve of the paper".to_owned(),
        x: Axis { label: label.to_owned(), range: (from - 0.05, to + 0.05), major: 0.3, minor: 0.1 },
        y: Axis { label: "Print density".to_owned(), range: (0.0, highest + 0.15), major: 0.5, minor: 0.1 },
        x_per_y: Some(1.0),
        layers,
    }
}
