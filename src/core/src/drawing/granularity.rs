//! Granularity of films over density, and over the aperture.

use super::axis::value_axis;
use super::{Axis, Layer, Plot, Role};
use crate::grain::{ApertureLaw, GranularityCurve, How};
use crate::measured::{Flags, Measured};

/// Places along density at which a curve is drawn.
const PLACES: usize = 60;

/// What is known of one film.
#[derive(Debug, Clone, Copy)]
pub struct FilmGrain<'a> {
    /// How it is drawn.
    pub role: Role,
    /// The label at its line.
    pub label: &'a str,
    /// Granularity over density, where it was measured.
    pub curve: Option<&'a GranularityCurve>,
    /// Over the aperture.
    pub law: Option<&'a ApertureLaw>,
}

/// The two plots.
#[derive(Debug, Clone, PartialEq)]
pub struct GranularityPlots {
    /// RMS granularity over density.
    pub density: Plot,
    /// sigma times the root of the area over the aperture's diameter.
    pub aperture: Plot,
}

/// Draws films over each other.
#[must_use]
pub fn granularity_plots(films: &[FilmGrain<'_>]) -> GranularityPlots {
    GranularityPlots { density: over_density(films), aperture: over_aperture(films) }
}

fn over_density(films: &[FilmGrain<'_>]) -> Plot {
    let mut layers = Vec::new();
    let mut highest = 1.0_f64;
    for film in films {
        let Some(curve) = film.curve else { continue };
        let (Some(first), Some(last)) = (curve.points.first(), curve.points.last()) else { continue };
        let (from, to) = (0.7 * first.density, 1.3 * last.density);
        let place = |k: usize| from + (to - from) * k as f64 / PLACES as f64;
        // The measured points themselves stand for what is next to them.
        let known = (0..=PLACES).map(place).filter_map(|x| {
            let found = curve.at(x).ok().filter(|found| found.how != How::Measured)?;
            Some((x, found.rms))
        });
        let (carried, tested): (Vec<_>, Vec<_>) =
            known.partition(|(_, rms)| rms.flags.contains(Flags::PREDICTED));
        let mut tested = tested;
        tested.extend(curve.points.iter().map(|point| (point.density, point.rms)));
        tested.sort_by(|a, b| a.0.total_cmp(&b.0));
        highest = highest.max(last.density);
        if tested.len() > 2 {
            let points = tested.iter().map(|(x, rms)| [*x, rms.low, rms.high]).collect();
            layers.push(Layer::Band { role: film.role, points });
            let points = tested.iter().map(|(x, rms)| [*x, rms.value]).collect();
            layers.push(Layer::Line { role: film.role, name: film.label.to_owned(), points });
        }
        let (before, after): (Vec<_>, Vec<_>) = carried.into_iter().partition(|(x, _)| *x < first.density);
        for piece in [before, after].into_iter().filter(|piece| piece.len() > 1) {
            let points = piece.iter().map(|(x, rms)| [*x, rms.value]).collect();
            let name = format!("{}, predicted", film.label);
            layers.push(Layer::Line { role: Role::Guide, name, points });
        }
        marks(&mut layers, film, curve.points.iter().map(|point| (point.density, point.rms)));
    }
    let top = ((highest * 1.15) / 0.5).ceil() * 0.5;
    Plot {
        title: "RMS granularity over density".to_owned(),
        x: Axis { label: "Density".to_owned(), range: (0.0, top), major: 0.5, minor: 0.1 },
        y: from_zero("RMS granularity, 1000 σ(D)", &layers, 1.0),
        x_per_y: None,
        layers,
    }
}

fn over_aperture(films: &[FilmGrain<'_>]) -> Plot {
    let mut layers = Vec::new();
    let mut widest = 48.0_f64;
    for film in films {
        let Some(law) = film.law else { continue };
        widest = law.points.iter().map(|point| point.aperture.0).fold(widest, f64::max);
        let points: Vec<[f64; 2]> =
            law.points.iter().map(|point| [point.aperture.0, point.root_area.value]).collect();
        layers.push(Layer::Line { role: film.role, name: film.label.to_owned(), points });
        marks(&mut layers, film, law.points.iter().map(|point| (point.aperture.0, point.root_area)));
    }
    let major = if widest > 160.0 { 48.0 } else { 24.0 };
    // Not a whole number of heavy lines: a figure there would be cut.
    let top = 1.1 * widest;
    Plot {
        title: "Granularity times the root of the area over the aperture".to_owned(),
        x: Axis {
            label: "Diameter of the aperture, µm".to_owned(),
            range: (0.0, top),
            major,
            minor: major / 4.0,
        },
        y: from_zero("σ(D) √A, µm", &layers, 0.1),
        x_per_y: None,
        layers,
    }
}

/// Points with upright bars for their intervals.
fn marks(layers: &mut Vec<Layer>, film: &FilmGrain<'_>, points: impl Iterator<Item = (f64, Measured)>) {
    let mut places = Vec::new();
    for (x, measured) in points {
        let ends = vec![[x, measured.low], [x, measured.high]];
        layers.push(Layer::Line { role: Role::Other, name: String::new(), points: ends });
        places.push([x, measured.value]);
    }
    let name = film.label.to_owned();
    layers.push(Layer::Marks { role: film.role, name, points: places, set_aside: false, strip: 0 });
}

/// An axis that begins at nothing, so that heights are in proportion.
fn from_zero(label: &str, layers: &[Layer], step: f64) -> Axis {
    let mut axis = value_axis(label.to_owned(), layers, step);
    axis.range.0 = 0.0;
    while axis.range.1 / axis.major > 9.0 {
        axis.major *= 2.0;
        axis.minor = axis.major / 5.0;
    }
    axis
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grain::GrainPoint;

    /// Source: the points that went in; between them the root of the mean of squares.
    #[test]
    fn a_film_is_drawn_through_its_points() {
        let gradient = crate::scan::SharedError::default;
        let rms = |rms| Measured::normal(rms, 0.2);
        let point =
            |area, density, value| GrainPoint { area, density, rms: rms(value), gradient: gradient() };
        let points = vec![point(0, 1.0, 10.0), point(1, 0.5, 6.0)];
        let curve = GranularityCurve::new(points, Vec::new(), Ok(Measured::normal(0.2, 0.01)));
        let film = FilmGrain { role: Role::Reference, label: "Tern 160", curve: Some(&curve), law: None };
        let plot = granularity_plots(&[film]).density;
        let line = plot.layers.iter().find_map(|layer| match layer {
            Layer::Line { name, points, .. } if name == "Tern 160" => Some(points.clone()),
            _ => None,
        });
        let line = line.unwrap();
        assert_eq!((line[0], line[line.len() - 1]), ([0.5, 6.0], [1.0, 10.0]));
        let middle = line.iter().min_by(|a, b| (a[0] - 0.75).abs().total_cmp(&(b[0] - 0.75).abs())).unwrap();
        let share = (middle[0] - 0.5) / 0.5;
        assert!((middle[1] - (36.0 + share * 64.0).sqrt()).abs() < 1e-9);
        assert!(plot.y.range.0 == 0.0 && plot.y.range.1 >= 10.4);
        assert!(plot.layers.iter().any(|layer| matches!(layer, Layer::Line { role: Role::Guide, .. })));
    }
}
