//! Shadow density over exposure index as a plot.

use twinwedge_workbench::core::bracket::{Frame, ShadowTarget};
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, ShadowDensity};
use twinwedge_workbench::core::drawing::{Axis, Layer, Plot, Role};
use twinwedge_workbench::core::figures::FigureId;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::FiguresOf;

use super::{base_fog, measured};
use crate::pages::View;

/// Frames of both films, the reference's shadow as a level, and where the candidate has it. Across: stops of the exposure
/// index above 100, so that a stop of exposure is a unit. Upwards: the density that is matched; gross where base+fog is not
/// known of all of them. The axis is figured with the indices themselves.
pub(super) fn plot(view: &View<'_>, target: Option<&ShadowTarget>) -> Plot {
    let films = [(Role::Candidate, view.candidate), (Role::Reference, view.reference)];
    let bases = films.map(|(_, film)| film.map(|film| base_fog(view, film)));
    let wanted = view.series.settings.shadow_match == ShadowDensity::Net;
    let net = wanted && bases.iter().flatten().all(Option::is_some);
    let off = |base: Option<Option<f64>>| if net { base.flatten().unwrap_or(0.0) } else { 0.0 };
    let mut layers = Vec::new();
    let (mut x, mut y) = ((f64::INFINITY, f64::NEG_INFINITY), (0.0_f64, 0.3_f64));
    for ((role, film), base) in films.into_iter().zip(bases) {
        let Some(film) = film else { continue };
        let points = points(&measured(view, film), off(base));
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
        let density = target.density - off(bases[1]);
        let text = format!("reference's shadow {}", format::number(density, 2));
        layers.push(Layer::Level { role: Role::Reference, y: density, text });
        if let Some(index) = view.candidate.and_then(|film| matched(view, film)) {
            let at = [(index / 100.0).log2(), density];
            let text = format!("EI {}", format::number(index, 0));
            layers.push(Layer::Note { role: Role::Candidate, at, text });
        }
    }
    if x.0 > x.1 {
        x = (0.0, 4.0);
    }
    let label = if net { "shadow density above base+fog" } else { "shadow density" };
    Plot {
        title: "Shadow density over exposure index".to_owned(),
        x: Axis {
            label: "exposure index".to_owned(),
            range: (x.0 - 1.0 / 3.0, x.1 + 1.0 / 3.0),
            major: 1.0 / 3.0,
            minor: 1.0 / 3.0,
        },
        y: Axis { label: label.to_owned(), range: (y.0, y.1 + 0.1), major: 0.1, minor: 0.02 },
        x_per_y: None,
        layers,
    }
}

/// The candidate's index by the chosen density.
pub(super) fn matched(view: &View<'_>, film: &Film) -> Option<f64> {
    match view.session.peek(&FiguresOf { film: film.id.clone() }) {
        Slot::Ready(figures) | Slot::Stale(figures, _) => {
            Some(figures.figures.get(&FigureId::ShadowMatchIndex)?.known()?.value)
        }
        Slot::Pending(_) | Slot::Failed(_) => None,
    }
}

fn points(frames: &[Result<Frame, Problem>], base: f64) -> Vec<[f64; 2]> {
    let mut points: Vec<[f64; 2]> = frames
        .iter()
        .flatten()
        .filter(|frame| frame.exposure_index > 0.0)
        .map(|frame| [(frame.exposure_index / 100.0).log2(), frame.density - base])
        .collect();
    points.sort_by(|a, b| a[0].total_cmp(&b[0]));
    points
}
