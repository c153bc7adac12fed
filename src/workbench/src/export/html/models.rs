//! How well the curves hold, in the report: both models, the levels of the strips, readings in doubt.

use std::fmt::Write;

use twinwedge_core::compare::format;
use twinwedge_core::curve::{Curve, Goodness, LevelFound};
use twinwedge_core::drawing::{Role, mark_word};
use twinwedge_core::shown::capital;
use twinwedge_core::units::STOP;

use crate::engine::ask::FilmCurve;
use crate::export::gather::{CandidatePart, FilmPart, Gathered};
use crate::export::markup::escape;

/// The models of both films, their strips and their outliers.
pub(super) fn models(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    let parts = [(&gathered.reference, Role::Reference), (&candidate.part, Role::Candidate)];
    let curves: Vec<(&FilmPart, Role, &FilmCurve)> = parts
        .into_iter()
        .filter_map(|(part, role)| Some((part, role, &**part.curve.as_ref().ok()?)))
        .collect();
    if curves.is_empty() {
        return;
    }
    out.push_str(
        "<h3>How well the curves hold</h3>\n<table class=\"models\"><thead><tr><th>film</th><th>model</th><th>chi-square</th>\
         <th>degrees of freedom</th><th>p</th><th>r.m.s. residual</th><th>verdict</th></tr></thead><tbody>\n",
    );
    for (part, _, film) in &curves {
        let label = escape(&part.film.label);
        row(out, &label, "smoothing spline", &film.curve.goodness, "");
        if let Some(model) = &film.curve.model {
            row(out, &label, "toe, line and shoulder", &model.goodness, model.shape.lacks());
        }
    }
    out.push_str("</tbody></table>\n");
    out.push_str(
        "<p class=\"small\">Chi-square: squared residuals over the stated uncertainties, summed. p: the probability of one as \
         large where curve and uncertainties are right; below 0.05 the readings contradict them. The figures are those of the \
         spline.</p>\n",
    );
    for (part, role, film) in &curves {
        notes(out, &part.film.label, *role, film);
    }
}

fn row(out: &mut String, label: &str, model: &str, goodness: &Goodness, lacks: &str) {
    let p = goodness.p.map_or_else(|| "–".to_owned(), |p| format!("{p:.2}"));
    let mut remarks = Vec::new();
    if goodness.contradicted() {
        remarks.push("contradicted by the readings");
    }
    if !lacks.is_empty() {
        remarks.push(lacks);
    }
    let _ = writeln!(
        out,
        "<tr><td>{label}</td><td>{model}</td><td>{:.1}</td><td>{:.1}</td><td>{p}</td><td>{:.3}</td><td>{}</td></tr>",
        goodness.chi_square,
        goodness.degrees,
        goodness.rms,
        escape(&remarks.join("; "))
    );
}

fn notes(out: &mut String, label: &str, role: Role, film: &FilmCurve) {
    let curve = &film.curve;
    let mut sentences = Vec::new();
    if let Some(error) = film.speed_point_model_error() {
        sentences.push(format!(
            "The model of few parameters puts the speed point {error:+.3} in log H ({:+.2} stop) from where the spline puts it: \
             the model error.",
            error / STOP
        ));
    }
    sentences.extend(curve.levels.iter().map(|level| of_level(curve, role, level)));
    sentences.extend(curve.outliers.iter().map(|outlier| format::outlier(&curve.readings, outlier)));
    if !sentences.is_empty() {
        let _ = writeln!(out, "<p>{}: {}</p>", escape(label), escape(&sentences.join(" ")));
    }
}

fn of_level(curve: &Curve, role: Role, level: &LevelFound) -> String {
    let name = capital(&curve.readings.strip_name(level.strip));
    let mut sentence = format!(
        "{name} ({}) had {:.2} ± {:.2} stops less light than the first strip",
        mark_word(role, level.strip),
        level.stops_less,
        level.u
    );
    match (level.stated, level.by_overlap) {
        (Some(stated), Some(found)) => {
            let but = if level.contradicted { ", which contradicts it" } else { "" };
            let _ = write!(
                sentence,
                ": stated were {:.2} ± {:.2}, the overlap says {:.2} ± {:.2}{but}.",
                stated.0, stated.1, found.0, found.1
            );
        }
        (Some(_), None) => {
            sentence.push_str(", as stated; it has too little in common with the others to say.");
        }
        (None, _) => sentence.push_str(", found from the overlap."),
    }
    sentence
}
