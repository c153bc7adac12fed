//! Shadow density over exposure index as a plot.

use twinwedge_workbench::core::bracket::ShadowTarget;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::drawing::{Axis, Layer, Plot, Role};

use crate::pages::View;

/// Frames of both films, and the reference's shadow as a level. Across: stops of the exposure index above 100, so that
/// a stop of exposure is a unit.
pub(super) fn plot(view: &View<'_>, target: Option<&ShadowTarget>) -> Plot {
    let films = [(Role::Candidate, view.candidate), (Role::Reference, view.reference)];
    let mut layers = Vec::new();
    let (mut x, mut y) = ((f64::INFINITY, f64::NEG_INFINITY), (0.0_f64, 0.3_f64));
    for (role, film) in films {
        let Some(film) = film else { continue };
        let points = points(film);
        for [index, density] in &points {
            x = (x.0.min(*index), x.1.max(*index));
            y = (y.0.min(*density), y.1.max(*density));
        }
        if !points.is_empty() {
            layers.push(Layer::Line { role, name: film.label.clone(), points: points.clone() });
            layers.push(Layer::Marks { role, name: film.label.clone(), points, set_aside: false, strip: 0 });
        }
    }
    if let Some(target) = target {
        let text = format!("reference's shadow {}", format::number(target.density, 2));
        layers.push(Layer::Level { role: Role::Reference, y: target.density, text });
    }
    if x.0 > x.1 {
        x = (0.0, 4.0);
    }
    Plot {
        title: "Shadow density over exposure index".to_owned(),
        x: Axis {
            label: "exposure index, stops above 100".to_owned(),
            range: (x.0 - 1.0 / 3.0, x.1 + 1.0 / 3.0),
            major: 1.0,
            minor: 1.0 / 3.0,
        },
        y: Axis { label: "shadow density".to_owned(), range: (y.0, y.1 + 0.1), major: 0.1, minor: 0.02 },
        x_per_y: None,
        layers,
    }
}

fn points(film: &Film) -> Vec<[f64; 2]> {
    let frames = film.bracket.iter().flat_map(|bracket| &bracket.frames);
    let mut points: Vec<[f64; 2]> = frames
        .filter(|frame| frame.exposure_index > 0.0)
        .map(|frame| [(frame.exposure_index / 100.0).log2(), frame.shadow_density])
        .collect();
    points.sort_by(|a, b| a[0].total_cmp(&b[0]));
    points
}
