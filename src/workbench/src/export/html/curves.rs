//! The characteristic curves of the report.

use std::fmt::Write;

use twinwedge_core::compare::Kind;
use twinwedge_core::curve::Curve;
use twinwedge_core::drawing::{
    Alignment, ExposureAxis, FilmCurve, Layer, LowerPlot, Plot, Role, curve_plots,
};
use twinwedge_core::figures::{FigureId, Figures};

use super::findings::saying;
use crate::engine::ask;
use crate::export::gather::{CandidatePart, FilmPart, Gathered};
use crate::export::markup::{escape, escape_plain};
use crate::export::svg::{inline, lines_json};

/// Width of plots on an A4 sheet, millimetres.
const WIDTH: f64 = 178.0;

fn drawn(part: &FilmPart, role: Role) -> Option<FilmCurve<'_>> {
    Some(of_film(&part.film.label, part.curve.as_ref().ok()?, role))
}

/// A film's curve as it is drawn.
pub(super) fn of_film<'a>(label: &'a str, curve: &'a ask::FilmCurve, role: Role) -> FilmCurve<'a> {
    FilmCurve {
        label,
        role,
        curve: &curve.curve,
        figures: &curve.figures,
        straight: curve.straight.as_ref().ok(),
        departures: curve.departures.as_ref(),
    }
}

/// Width of the plot on the card, millimetres.
const SMALL: f64 = 86.0;

/// Both curves over each other, as exposed; nothing where one of the two has none.
pub(in crate::export) fn both(gathered: &Gathered, candidate: &CandidatePart) -> Option<Plot> {
    let parts = [(&gathered.reference, Role::Reference), (&candidate.part, Role::Candidate)];
    let films: Vec<FilmCurve<'_>> = parts.into_iter().filter_map(|(part, role)| drawn(part, role)).collect();
    if films.len() < 2 {
        return None;
    }
    let plots = curve_plots(&films, Alignment::AsExposed, ExposureAxis::LogH, LowerPlot::Gradient);
    Some(saying(&plots.upper, candidate, &[Kind::SpeedRelative, Kind::AverageContrast]))
}

/// Both curves on the card.
pub(super) fn small(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    if let Some(plot) = both(gathered, candidate) {
        let _ = writeln!(out, "<div class=\"glance\">{}</div>", inline(&plot, SMALL));
    }
}

/// By how much the candidate is moved in log H until its speed point lies on the reference's.
fn shift(parts: [(&FilmPart, Role); 2]) -> Option<f64> {
    let point = |part: &FilmPart| {
        let figures = &part.curve.as_ref().ok()?.figures;
        Some(figures.get(&FigureId::SpeedPoint)?.known()?.number())
    };
    Some(point(parts[0].0)? - point(parts[1].0)?)
}

/// Reference and candidate over each other, and the local gradient below.
pub(super) fn curves(out: &mut String, gathered: &Gathered, candidate: &CandidatePart) {
    out.push_str("<h3>Curves</h3>\n");
    let parts = [(&gathered.reference, Role::Reference), (&candidate.part, Role::Candidate)];
    for (part, _) in parts {
        if let Err(problem) = &part.curve {
            let _ = writeln!(
                out,
                "<p class=\"small\">{} has no curve. {}</p>",
                escape(&part.film.label),
                escape(&problem.to_string())
            );
        }
    }
    let films: Vec<FilmCurve<'_>> = parts.into_iter().filter_map(|(part, role)| drawn(part, role)).collect();
    if films.is_empty() {
        return;
    }
    let plots = curve_plots(&films, Alignment::AsExposed, ExposureAxis::LogH, LowerPlot::Gradient);
    let data = lines_json(&plots.upper, WIDTH, shift(parts));
    let _ = write!(
        out,
        "<figure data-curves=\"{}\">\n{}\n<figcaption>As exposed. One scale on both axes; heavy upright lines are a stop apart. Bands: 95 % \
         interval of the fit. Rings: speed points, 0.10 above base+fog. Wide pale lines between ticks: straight-line \
         ranges. Crossed marks were set aside and are not part of the fit.</figcaption>\n</figure>\n",
        escape_plain(&data.to_string()),
        inline(&saying(&plots.upper, candidate, &[Kind::SpeedRelative, Kind::AverageContrast]), WIDTH)
    );
    let aligned = curve_plots(&films, Alignment::SpeedPoint, ExposureAxis::LogH, LowerPlot::Gradient);
    let notes: String = aligned.notes.iter().map(|note| format!(" {}", escape(&note.to_string()))).collect();
    let caption = if notes.is_empty() {
        "Local gradient, the candidate moved until its speed point lies on the reference's: equal shadows, unequal \
         separation."
    } else {
        "Local gradient."
    };
    let _ = write!(
        out,
        "<figure>\n{}\n<figcaption>{caption}{notes}</figcaption>\n</figure>\n",
        inline(&saying(&aligned.lower, candidate, &[Kind::Gamma]), WIDTH)
    );
    super::models::models(out, gathered, candidate);
    ends_and_departures(out, candidate, parts, &films);
}

/// Whether toe and shoulder were reached, and the departures from the straight lines with their peaks and valleys.
fn ends_and_departures(
    out: &mut String,
    candidate: &CandidatePart,
    parts: [(&FilmPart, Role); 2],
    films: &[FilmCurve<'_>],
) {
    let curves = || parts.into_iter().filter_map(|(part, _)| Some((part, part.curve.as_ref().ok()?)));
    out.push_str("<ul class=\"ends\">\n");
    for (part, curve) in curves() {
        for end in [&curve.reach.toe, &curve.reach.shoulder] {
            let advice = end.advice.clone().unwrap_or_default();
            let text = format!("{}: {} {advice}", part.film.label, end.reason);
            let _ = writeln!(out, "<li>{}</li>", escape(text.trim()));
        }
    }
    out.push_str("</ul>\n");
    if curves().all(|(_, curve)| curve.departures.is_none()) {
        return;
    }
    let plots = curve_plots(films, Alignment::SpeedPoint, ExposureAxis::LogH, LowerPlot::Departure);
    let _ = write!(
        out,
        "<figure>\n{}\n<figcaption>Departure from each film's own straight line, density. Bands: 95 % interval. Marks: \
         readings. The criterion by which lines are found stands with the definitions.</figcaption>\n</figure>\n",
        inline(&saying(&plots.lower, candidate, &[Kind::StraightRange, Kind::Departure]), WIDTH)
    );
}

/// All films of the series over each other.
pub(super) fn all(out: &mut String, gathered: &Gathered) {
    let others = gathered.candidates.iter().filter_map(|candidate| drawn(&candidate.part, Role::Other));
    let films: Vec<FilmCurve<'_>> =
        drawn(&gathered.reference, Role::Reference).into_iter().chain(others).collect();
    if films.len() < 2 {
        return;
    }
    let plots = curve_plots(&films, Alignment::AsExposed, ExposureAxis::LogH, LowerPlot::Gradient);
    let _ = write!(
        out,
        "<figure>\n{}\n<figcaption>All curves as exposed, the reference in ink.</figcaption>\n</figure>\n",
        inline(&plots.upper, WIDTH)
    );
}

/// Places along the curve of each of many films: as many as a curve needs to look smooth.
const PLACES: usize = 48;

/// The curves of so many films over each other that none can be named: the reference among all others.
pub(super) fn many<'a>(out: &mut String, gathered: &Gathered, others: impl Iterator<Item = &'a Curve>) {
    let none = Figures::new();
    let other = |curve| FilmCurve {
        label: "",
        role: Role::Other,
        curve,
        figures: &none,
        straight: None,
        departures: None,
    };
    let films: Vec<FilmCurve<'_>> =
        drawn(&gathered.reference, Role::Reference).into_iter().chain(others.map(other)).collect();
    if films.len() < 2 {
        return;
    }
    let plots = curve_plots(&films, Alignment::AsExposed, ExposureAxis::LogH, LowerPlot::Gradient);
    let mut plot = plots.upper;
    for layer in &mut plot.layers {
        if let Layer::Line { role: Role::Other, points, .. } = layer {
            let last = points.len().saturating_sub(1);
            let every = last.div_ceil(PLACES).max(1);
            let mut at = 0..;
            points.retain(|_| at.next().is_some_and(|at| at % every == 0 || at == last));
        }
    }
    let _ = write!(
        out,
        "<figure>\n{}\n<figcaption>The curves of all films as exposed, {} in ink.</figcaption>\n</figure>\n",
        inline(&plot, WIDTH),
        escape(&gathered.reference.film.label)
    );
}
