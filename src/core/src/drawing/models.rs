//! What stands beside the curves: the model of few parameters, and how marks tell strips apart.

use super::{CurvePlots, ExposureAxis, FilmCurve, Layer, Role};

/// Places at which a model is drawn.
const SAMPLES: u32 = 160;

/// Adds the models of reference and candidate to the upper plot as dotted lines, within the readings' exposures.
pub fn add_models(plots: &mut CurvePlots, films: &[FilmCurve<'_>], axis: ExposureAxis) {
    let shown = films.iter().zip(plots.shifts.clone());
    for (film, shift) in shown.filter(|(film, _)| matches!(film.role, Role::Reference | Role::Candidate)) {
        let Some(model) = &film.curve.model else { continue };
        let (from, to) = film.curve.range();
        let point = |i: u32| {
            let log_h = from + (to - from) * f64::from(i) / f64::from(SAMPLES);
            [(log_h + shift) / axis.log_h_per_unit(), model.density(log_h)]
        };
        let name = format!("{}, toe, line and shoulder", film.label);
        let points = (0..=SAMPLES).map(point).collect();
        plots.upper.layers.push(Layer::Line { role: Role::Guide, name, points });
    }
}

/// The shape of a strip's marks in words, for legends and hover texts: painters draw it so.
#[must_use]
pub fn mark_word(role: Role, strip: usize) -> &'static str {
    match (strip, role) {
        (0, Role::Candidate) => "squares",
        (0, _) => "round marks",
        (1, _) => "upright triangles",
        (2, _) => "diamonds",
        _ => "hanging triangles",
    }
}
