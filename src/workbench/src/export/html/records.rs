//! Conditions, process records and problems.

use std::fmt::Write;

use twinwedge_core::compare::format;
use twinwedge_core::document::{Exposure, Film, TabletExposure};
use twinwedge_core::problem::Severity;
use twinwedge_core::spectra::density::DensityKind;

use crate::export::gather::Gathered;
use crate::export::markup::escape;

/// What all films of the series share.
pub(super) fn conditions(out: &mut String, gathered: &Gathered) {
    let conditions = &gathered.series.conditions;
    let enlargement = conditions
        .enlargement
        .map_or_else(String::new, |times| format!("{} times", format::number(times, 1)));
    let rows = [
        ("Light", &conditions.light_source),
        ("Camera", &conditions.camera),
        ("Target", &conditions.target),
        ("Paper", &conditions.paper),
        ("Paper process", &conditions.paper_process),
        ("Enlarger", &conditions.enlarger),
        ("Enlargement", &enlargement),
        ("Scanner", &conditions.scanner),
        ("Densitometer", &conditions.densitometer),
    ];
    out.push_str("<h2>Conditions shared by all films</h2>\n<dl>\n");
    for (name, text) in rows {
        let shown = if text.is_empty() {
            "<span class=\"small\">not recorded</span>".to_owned()
        } else {
            escape(text)
        };
        let _ = writeln!(out, "<dt>{name}</dt><dd>{shown}</dd>");
    }
    out.push_str("</dl>\n");
}

/// How the two films were exposed and developed, side by side.
pub(super) fn process(out: &mut String, reference: &Film, candidate: &Film) {
    let _ = write!(
        out,
        "<h3>Process records</h3>\n<table>\n<thead><tr><th>record</th><th>{}</th><th class=\"candidate\">{}</th></tr></thead>\n\
         <tbody>\n",
        escape(&reference.label),
        escape(&candidate.label)
    );
    for (name, of) in RECORDS {
        let (r, c) = (of(reference), of(candidate));
        if r.is_empty() && c.is_empty() {
            continue;
        }
        let shown = |text: &str| if text.is_empty() { "–".to_owned() } else { escape(text) };
        let _ = writeln!(out, "<tr><td>{name}</td><td>{}</td><td>{}</td></tr>", shown(&r), shown(&c));
    }
    out.push_str("</tbody>\n</table>\n");
}

type Record = (&'static str, fn(&Film) -> String);

const RECORDS: [Record; 15] = [
    ("Batch", |film| film.batch.clone()),
    ("Format", |film| film.format.clone()),
    ("Box speed", |film| number(film.box_speed, 0, "")),
    ("Price", |film| film.price.clone()),
    ("Developer", |film| film.process.developer.clone()),
    ("Dilution", |film| film.process.dilution.clone()),
    ("Temperature", |film| number(film.process.temperature_c, 1, " °C")),
    ("Time", |film| number(film.process.minutes, 2, " min")),
    ("Agitation", |film| film.process.agitation.clone()),
    ("Tablet exposure", exposure),
    ("Light source", |film| exposed(film).map(|exposed| exposed.light_source.clone()).unwrap_or_default()),
    ("Exposure time", |film| number(exposed(film).and_then(|exposed| exposed.seconds), 3, " s")),
    ("Step densities", step_densities),
    ("Print exposure", |film| number(film.print.as_ref().and_then(|print| print.exposure_s), 1, " s")),
    ("Notes", |film| film.notes.clone()),
];

/// Which densities its strips were read in, as far as that is said.
fn step_densities(film: &Film) -> String {
    let mut kinds: Vec<&str> =
        film.strips.iter().filter_map(|strip| strip.density).map(DensityKind::words).collect();
    kinds.dedup();
    kinds.join(", ")
}

/// Developer, time and temperature, tablet: what stands beside a curve.
pub(super) fn in_short(film: &Film) -> [String; 3] {
    let joined =
        |parts: [String; 2]| parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(", ");
    let process = &film.process;
    [
        joined([process.developer.clone(), process.dilution.clone()]),
        joined([number(process.minutes, 2, " min"), number(process.temperature_c, 1, " °C")]),
        exposed(film).map(|exposed| exposed.tablet.0.clone()).unwrap_or_default(),
    ]
}

fn exposed(film: &Film) -> Option<&TabletExposure> {
    film.tablet_exposure.as_ref()
}

fn number(value: Option<f64>, decimals: usize, unit: &str) -> String {
    let Some(value) = value else { return String::new() };
    let text = format::number(value, decimals);
    // Typed by the tester: zeros that they did not mean are not printed.
    let text = if decimals > 0 { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{text}{unit}")
}

fn exposure(film: &Film) -> String {
    let Some(exposure) = &film.tablet_exposure else { return String::new() };
    let tablet = &exposure.tablet.0;
    match exposure.exposure {
        Exposure::Absolute { log_h, u } => {
            format!(
                "{tablet}; log H {} (lux seconds), standard uncertainty {}",
                format::number(log_h, 3),
                format::number(u, 3)
            )
        }
        Exposure::NotSaid => format!("{tablet}; how much light it had is not said"),
        Exposure::Relative { stops_less: 0.0 } => format!("{tablet}; the series' full exposure"),
        Exposure::Relative { stops_less } => {
            format!("{tablet}; {} stops less than the series' full exposure", number(Some(stops_less), 2, ""))
        }
    }
}

/// Everything that is missing or doubtful.
pub(super) fn problems(out: &mut String, gathered: &Gathered) {
    out.push_str("<h2 id=\"doubts\">What is missing or doubtful</h2>\n");
    if gathered.problems.is_empty() {
        out.push_str("<p>Nothing is missing or doubtful.</p>\n");
        return;
    }
    out.push_str("<ul class=\"problems\">\n");
    for problem in &gathered.problems {
        let severity = match problem.severity {
            Severity::Note => "Note",
            Severity::Doubt => "Doubt",
            Severity::Error => "Missing",
        };
        let _ = writeln!(
            out,
            "<li><b>{severity}, {}.</b> {} {}</li>",
            escape(&problem.subject.to_string()),
            escape(&problem.cause.to_string()),
            escape(&problem.remedy.to_string())
        );
    }
    out.push_str("</ul>\n");
}
