//! Modulation transfer and edge-spread functions of films over each other.

use super::axis::value_axis;
use super::{Axis, Layer, Plot, Role};
use crate::sharpness::{EdgeMeasure, MtfPoint, SpreadPoint};

/// What is drawn of a film's edges.
#[derive(Debug, Clone, Copy)]
pub struct FilmEdge<'a> {
    /// The film's label.
    pub label: &'a str,
    /// Reference or candidate.
    pub role: Role,
    /// Its transfer function.
    pub mtf: &'a [MtfPoint],
    /// The edge whose spread is shown.
    pub edge: &'a EdgeMeasure,
}

/// The plots of edges: modulation over frequency, and the edge itself.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgePlots {
    /// Modulation over spatial frequency.
    pub mtf: Plot,
    /// Density over distance from the edge, as a share of the edge's step.
    pub spread: Plot,
}

/// Draws films over each other; the bands are 95 % intervals.
#[must_use]
pub fn edge_plots(films: &[FilmEdge<'_>]) -> EdgePlots {
    EdgePlots { mtf: mtf(films), spread: spread(films) }
}

fn mtf(films: &[FilmEdge<'_>]) -> Plot {
    let mut layers = vec![
        Layer::Level { role: Role::Guide, y: 0.5, text: "50 %".to_owned() },
        Layer::Level { role: Role::Guide, y: 0.1, text: "10 %".to_owned() },
    ];
    for film in films {
        let points = film.mtf.iter().map(|p| [p.frequency, p.low, p.high.min(1.6)]).collect();
        layers.push(Layer::Band { role: film.role, points });
    }
    for film in films {
        let points = film.mtf.iter().map(|p| [p.frequency, p.value]).collect();
        layers.push(Layer::Line { role: film.role, name: film.label.to_owned(), points });
    }
    let end = films.iter().filter_map(|film| film.mtf.last()).map(|p| p.frequency).fold(20.0, f64::max);
    let highest = films.iter().flat_map(|film| film.mtf).map(|p| p.value).fold(1.0, f64::max);
    Plot {
        title: "Modulation transfer".to_owned(),
        x: round_axis("Spatial frequency, cycles per mm on the film".to_owned(), 0.0, end),
        y: Axis {
            label: "Modulation".to_owned(),
            range: (0.0, (highest * 5.0 + 0.5).ceil() / 5.0),
            major: 0.2,
            minor: 0.05,
        },
        x_per_y: None,
        layers,
    }
}

fn spread(films: &[FilmEdge<'_>]) -> Plot {
    let mut layers = vec![
        Layer::Level { role: Role::Guide, y: 0.0, text: String::new() },
        Layer::Level { role: Role::Guide, y: 1.0, text: String::new() },
    ];
    let share = |film: &FilmEdge<'_>, density: f64| {
        let [thin, dense] = film.edge.densities;
        (density - thin) / (dense - thin)
    };
    for film in films {
        let ends = |p: &SpreadPoint| [p.distance, share(film, p.low), share(film, p.high)];
        layers.push(Layer::Band { role: film.role, points: film.edge.spread.iter().map(ends).collect() });
    }
    for film in films {
        let points = film.edge.spread.iter().map(|p| [p.distance, share(film, p.density)]).collect();
        layers.push(Layer::Line { role: film.role, name: film.label.to_owned(), points });
    }
    let reach =
        films.iter().flat_map(|film| &film.edge.spread).map(|p| p.distance.abs()).fold(10.0, f64::max);
    let y = value_axis("Density, share of the edge's step".to_owned(), &layers, 0.2);
    Plot {
        title: "Edge-spread function".to_owned(),
        x: round_axis(
            "Distance from the edge on the film, µm: dense side to the right".to_owned(),
            -reach,
            reach,
        ),
        y: Axis { minor: 0.05, ..y },
        x_per_y: None,
        layers,
    }
}

/// An axis from `low` to `high` with six to twelve heavy lines at round numbers.
fn round_axis(label: String, low: f64, high: f64) -> Axis {
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];
    let span = high - low;
    let major = steps.into_iter().find(|step| span / step <= 12.0).unwrap_or(1000.0);
    Axis { label, range: (low, high), major, minor: major / 5.0 }
}
