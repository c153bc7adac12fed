//! Figures for other programs: JSON and CSV.

use std::cell::Cell;
use std::io::{self, BufWriter, Write};
use std::sync::Arc;

use serde::ser::{Serialize, SerializeMap, SerializeSeq, Serializer};
use serde_json::{Map, Value as Json, json};
use twinwedge_core::compare::{Comparison, FilmFigures, PatchRow, Row, SpeedRow, Verdict};
use twinwedge_core::document::{Film, FindingChoice, Series};
use twinwedge_core::figures::{self, End, FigureSpec, Opposed, Reached};
use twinwedge_core::measured::{Bound, Measured, Value};
use twinwedge_core::patch::PatchSample;
use twinwedge_core::problem::{Problem, Severity, Subject};
use twinwedge_core::tablet::StepSample;

use super::cells::cell_of;
use super::json::Escaping;
use super::registration::registration_json;
use crate::engine::ask::{
    ComparisonOf, DetailOf, FiguresOf, GrainPairOf, RegistrationOf, SpectrumOf, ViewedOf,
};
use crate::session::Session;

/// The version of the structure of the figures, raised when a reader of an older one would misread it.
const FIGURES_FORMAT: u32 = 1;

/// All measured figures of the series as JSON. An undefined figure is null with its reason beside it.
///
/// ```json
/// { "format": 1, "series": "…", "about": "…", "reference": "Tern 160",
///   "definitions": { "base_fog": { "label", "unit", "definition", "difference_unit", "source" } },
///   "films": [ { "film", "label", "role": "reference" | "candidate", "box_speed",
///                "figures": { "base_fog": { "value", "u", "low", "high", "unit", "flags": [] },
///                             "iso_speed": { "value": null, "reason" } },
///                "curve": { "readings": [], "levels": [], "outliers": [], "spline": {}, "model": {}, … },
///                "spectrum": { "at_zero": {}, "correlation_length": {}, "rings": [ { "cycles_per_mm", "nps", "u", … } ], "lines": [],
///                              "autocorrelation": [], "notes": [], … },
///                "reach": { "toe": { "reached": "whole" | "part" | "not", "reason", "advice", "stops" }, "shoulder": {} },
///                "peaks_and_valleys": [ { "log_h", "departure": {}, "distinguishable" } ],
///                "patches": [ { "name", "value", "u", "low", "high", "unit", "flags" } ], "spots": [ … ] } ],
///   "comparisons": [ { "candidate", "reference",
///                "differences": { "base_fog": { "value", "u", "low", "high", "unit", "flags", "distinguishable" } },
///                "speeds": [ { "criterion", "when", "reference": { "speed": {}, "printed", "from_box": {} }, "candidate": {},
///                              "difference": {} } ],
///                "greys_corrected_for_contrast": false,
///                "opposed": [ { "reference_log_h", "candidate_log_h", "reference": {}, "candidate": {}, "difference": {} } ],
///                "patches": [ { "name", "reference": {}, "candidate": {}, "difference": {}, "against_grey": {},
///                               "corrected_for_contrast": false, "distinguishable" } ], "spots": [ … ],
///                "viewed": { "enlargement", "distance_mm", "reference": { "visible_granularity": {}, "seen_from_enlargement": {},
///                            … }, "candidate": {}, "ratio": {}, "difference_seen_from_enlargement": {}, "assumptions": [] },
///                "detail": { "frequencies", "separated_by", "limit_of_agreement": {}, "limits": {}, "statement": {},
///                            "rows": [], "map": {}, "differing": [], … },
///                "registration": { "transform": {}, "residual_px", "u_px", "u_worst_px", "doubts": [], … },
///                "findings": [ { "key", "question", "verdict", "sentence", "choice", "evidence": [] } ],
///                "verdict" } ],
///   "problems": [ { "severity", "subject", "cause", "remedy" } ] }
/// ```
///
/// `u` is the standard uncertainty, `low` and `high` the ends of the 95 % interval (null where there is none); flags are
/// words. A value of which one side alone is known has `"bound": "at least" | "at most"` with its `limit`, which holds in 95 of 100
/// cases, and neither `u` nor the other end. `corrected_for_contrast` says whether greys have been freed of the contrast of film
/// and paper. A comparison that cannot be had is `{ "candidate", "value": null, "reason" }`.
///
/// # Errors
/// There is no film.
pub fn figures_json(session: &Session) -> Result<Json, Problem> {
    let series = some_film(session)?;
    let written = figures_into(session, &series, serde_json::value::Serializer);
    written.map(|(figures, _)| figures).map_err(|error| unwritable(&error))
}

/// The same as indented text that is written film by film, so that those of thousands of films are never in memory together.
#[derive(Debug)]
pub struct FiguresText<'a> {
    session: &'a Session,
    series: Arc<Series>,
}

impl<'a> FiguresText<'a> {
    /// Of a session's series.
    ///
    /// # Errors
    /// There is no film.
    pub fn of(session: &'a Session) -> Result<Self, Problem> {
        Ok(Self { session, series: some_film(session)? })
    }

    /// Writes it, and gives what is missing or doubtful in the series.
    ///
    /// # Errors
    /// `out` does not take more.
    pub fn write(&self, out: &mut dyn Write) -> io::Result<Vec<Problem>> {
        let mut out = BufWriter::new(out);
        let mut serializer = serde_json::Serializer::pretty(Escaping(&mut out));
        let ((), problems) = figures_into(self.session, &self.series, &mut serializer)?;
        out.write_all(b"\n")?;
        out.flush()?;
        Ok(problems)
    }
}

/// All that is asked of one film is asked before the next film: its scans are read once, whatever memory holds of them.
fn figures_into<S: Serializer>(
    session: &Session,
    series: &Series,
    serializer: S,
) -> Result<(S::Ok, Vec<Problem>), S::Error> {
    let compared = |film: &Film| series.reference.is_some() && role(series, film) == "candidate";
    let mut check = session.begin_check();
    let films = series.films.iter().map(|film| {
        let json = film_json(session, series, film);
        if compared(film) {
            ask_of_comparison(session, film);
        }
        check.film(&film.id);
        json
    });
    let definitions: Map<String, Json> =
        figures::registry().iter().map(|spec| (spec.key.to_owned(), definition(spec))).collect();
    let mut map = serializer.serialize_map(Some(8))?;
    map.serialize_entry("format", &FIGURES_FORMAT)?;
    map.serialize_entry("series", &series.title)?;
    map.serialize_entry("about", &series.about)?;
    map.serialize_entry("reference", &series.reference.as_ref().map(|id| &id.0))?;
    map.serialize_entry("definitions", &definitions)?;
    map.serialize_entry("films", &OneByOne::of(films))?;
    let comparisons = series.films.iter().filter(|film| compared(film));
    let comparisons = comparisons.map(|film| comparison_json(session, series, film));
    map.serialize_entry("comparisons", &OneByOne::of(comparisons))?;
    let problems = check.finish();
    map.serialize_entry("problems", &problems.iter().map(problem_json).collect::<Vec<_>>())?;
    Ok((map.end()?, problems))
}

/// A list whose items are made one by one while it is written.
struct OneByOne<I>(Cell<Option<I>>);

impl<I> OneByOne<I> {
    fn of(items: I) -> Self {
        Self(Cell::new(Some(items)))
    }
}

impl<I: Iterator<Item: Serialize>> Serialize for OneByOne<I> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut list = serializer.serialize_seq(None)?;
        for item in self.0.take().into_iter().flatten() {
            list.serialize_element(&item)?;
        }
        list.end()
    }
}

/// Asks what a comparison is written from, to be remembered until all films are written.
fn ask_of_comparison(session: &Session, film: &Film) {
    let film = || film.id.clone();
    // What cannot be had is told where it is written.
    let _ = session.wait(&ComparisonOf { film: film() });
    let _ = session.wait(&ViewedOf { film: film() });
    let _ = session.wait(&GrainPairOf { film: film() });
    let _ = session.wait(&DetailOf { film: film(), quick: false });
    let _ = session.wait(&RegistrationOf { film: film() });
}

/// The series, if there is anything in it to write about.
fn some_film(session: &Session) -> Result<Arc<Series>, Problem> {
    let series = Arc::clone(session.series());
    if series.films.is_empty() {
        return Err(Problem::error(
            Subject::Series,
            "The series holds no film.",
            "Add a reference film and the films to compare with it.",
        ));
    }
    Ok(series)
}

fn definition(spec: &FigureSpec) -> Json {
    json!({
        "label": spec.label,
        "unit": spec.unit,
        "definition": spec.definition,
        "difference_unit": twinwedge_core::compare::difference::unit(spec.difference, spec.unit),
        "source": spec.source.text,
    })
}

fn role(series: &Series, film: &Film) -> &'static str {
    if series.reference.as_ref() == Some(&film.id) { "reference" } else { "candidate" }
}

/// The value of one figure of a film, or the reason why all of them are missing.
fn figure_of(figures: &Result<Arc<FilmFigures>, Problem>, spec: &FigureSpec) -> Value {
    match figures {
        Ok(figures) => figures
            .figures
            .get(&spec.id)
            .cloned()
            .unwrap_or_else(|| Value::Undefined("The test holds no data for it.".to_owned())),
        Err(problem) => Value::Undefined(problem.to_string()),
    }
}

/// What the film's figures rest on where they are predicted; null where they were measured.
fn prediction(session: &Session, series: &Series, film: &Film) -> Option<String> {
    let curve = series.predicts(&film.id).then(|| session.wait_compared(&film.id))?.ok()?;
    Some(curve.prediction.as_ref()?.sentence.clone())
}

fn film_json(session: &Session, series: &Series, film: &Film) -> Json {
    let figures = session.wait(&FiguresOf { film: film.id.clone() });
    let table: Map<String, Json> = figures::registry()
        .iter()
        .map(|spec| (spec.key.to_owned(), value_json(&figure_of(&figures, spec), spec.unit)))
        .collect();
    let (reach, extremes) =
        figures.as_ref().map_or_else(|_| (json!(null), json!([])), |figures| shape_json(figures));
    let samples = |samples: &[PatchSample]| samples.iter().map(sample_json).collect::<Vec<_>>();
    let (patches, spots) = figures
        .as_ref()
        .map_or_else(|_| (Vec::new(), Vec::new()), |of| (samples(&of.patches), samples(&of.spots)));
    json!({
        "film": film.id.0,
        "label": film.label,
        "role": role(series, film),
        "box_speed": film.box_speed,
        "prediction": prediction(session, series, film),
        "figures": table,
        "reach": reach,
        "peaks_and_valleys": extremes,
        "curve": super::curve_json::curve_json(session, film),
        "grain": super::granularity::film_granularity(session, &film.id),
        "spectrum": film.uniform_areas.first().map(|_| {
            let found = session.wait(&SpectrumOf { film: film.id.clone(), area: 0, quick: false });
            found.map_or_else(|problem| reason_json(&problem), |found| super::spectrum::spectrum_json(&found))
        }),
        "patches": patches,
        "spots": spots,
    })
}

pub(super) fn value_json(value: &Value, unit: &str) -> Json {
    match value {
        Value::Known(measured) => measured_json(measured, unit),
        Value::Undefined(reason) => json!({ "value": null, "reason": reason }),
    }
}

pub(super) fn measured_json(measured: &Measured, unit: &str) -> Json {
    let found = json!({
        "value": measured.value,
        "u": measured.u,
        "low": measured.low,
        "high": measured.high,
        "unit": unit,
        "flags": measured.flags.words(),
    });
    let bounded = |side: &str, limit: f64, other: &str| {
        let found = with(with(found.clone(), "u", Json::Null), other, Json::Null);
        with(with(found, "bound", json!(side)), "limit", json!(limit))
    };
    match measured.bound() {
        Some(Bound::AtLeast(limit)) => bounded("at least", limit, "high"),
        Some(Bound::AtMost(limit)) => bounded("at most", limit, "low"),
        None => found,
    }
}

/// One sampled step as JSON, measured numbers in the form of [`figures_json`].
#[must_use]
pub fn step_json(step: &StepSample) -> Json {
    let corners: Vec<[f64; 2]> = step.area.corners.iter().map(|corner| [corner.x, corner.y]).collect();
    json!({
        "step": step.step,
        "density": measured_json(&step.density.plain(), ""),
        "code": measured_json(&step.code, ""),
        "relative_spread": step.relative_spread,
        "pixels": step.used,
        "left_out": step.left_out,
        "area": corners,
    })
}

/// One sampled patch as JSON, measured numbers in the form of [`figures_json`].
#[must_use]
pub fn patch_json(patch: &PatchSample) -> Json {
    with(step_json(&patch.sample), "name", json!(patch.name))
}

fn with(mut object: Json, key: &str, value: Json) -> Json {
    if let Some(map) = object.as_object_mut() {
        map.insert(key.to_owned(), value);
    }
    object
}

fn sample_json(sample: &PatchSample) -> Json {
    with(measured_json(&sample.sample.density.plain(), ""), "name", json!(sample.name))
}

/// What detail survived in the film's print, or why that is not known; null where one of the two has no print.
fn detail(session: &Session, series: &Series, film: &Film) -> Json {
    if film.print.is_none() || series.reference_film().is_none_or(|reference| reference.print.is_none()) {
        return Json::Null;
    }
    match session.wait(&DetailOf { film: film.id.clone(), quick: false }) {
        Ok(found) => super::detail::detail_json(&found),
        Err(problem) => json!({ "value": null, "reason": problem.to_string() }),
    }
}

fn comparison_json(session: &Session, series: &Series, film: &Film) -> Json {
    let comparison = match session.wait(&ComparisonOf { film: film.id.clone() }) {
        Ok(comparison) => comparison,
        Err(problem) => {
            return json!({ "candidate": film.id.0, "value": null, "reason": problem.to_string() });
        }
    };
    let differences: Map<String, Json> = comparison.rows.iter().map(difference_json).collect();
    let patches = |rows: &[PatchRow]| rows.iter().map(row_json).collect::<Vec<_>>();
    json!({
        "candidate": film.id.0,
        "reference": series.reference.as_ref().map(|id| &id.0),
        "differences": differences,
        "grain": super::granularity::pair(session, &film.id),
        "speeds": comparison.speeds.iter().map(speed_json).collect::<Vec<_>>(),
        "greys_corrected_for_contrast": false,
        "opposed": comparison.opposed.iter().map(opposed_json).collect::<Vec<_>>(),
        "patches": patches(&comparison.patches),
        "spots": patches(&comparison.spots),
        "viewed": session.wait(&ViewedOf { film: film.id.clone() }).map_or_else(
            |problem| reason_json(&problem),
            |viewed| super::spectrum::viewed_json(&viewed),
        ),
        "detail": detail(session, series, film),
        "registration": registration_of(session, series, film),
        "findings": findings_json(series, film, &comparison),
        "verdict": series.report.verdicts.get(&film.id),
    })
}

fn reason_json(problem: &Problem) -> Json {
    json!({ "value": null, "reason": problem.to_string() })
}

/// How the film's print lies on the reference's; null where one of the two has no print.
fn registration_of(session: &Session, series: &Series, film: &Film) -> Json {
    if film.print.is_none() || series.reference_film().is_none_or(|reference| reference.print.is_none()) {
        return Json::Null;
    }
    match session.wait(&RegistrationOf { film: film.id.clone() }) {
        Ok(found) => registration_json(&found),
        Err(problem) => reason_json(&problem),
    }
}

fn speed_json(row: &SpeedRow) -> Json {
    let film = |which: usize| {
        json!({
            "speed": value_json(&row.speeds[which], ""),
            "printed": row.printed[which],
            "from_box": value_json(&row.from_box[which], "stops"),
        })
    };
    json!({
        "criterion": row.criterion,
        "when": row.criterion.when(),
        "reference": film(0),
        "candidate": film(1),
        "difference": value_json(&row.difference, "stops"),
    })
}

fn opposed_json(place: &Opposed) -> Json {
    json!({
        "reference_log_h": place.reference_log_h,
        "candidate_log_h": place.candidate_log_h,
        "reference": measured_json(&place.reference, ""),
        "candidate": measured_json(&place.candidate, ""),
        "difference": measured_json(&place.difference, ""),
    })
}

/// What the data say of toe and shoulder, and of peaks and valleys along the straight line.
fn shape_json(film: &FilmFigures) -> (Json, Json) {
    let end = |end: &End| {
        json!({
            "reached": match end.reached {
                Reached::Whole => "whole",
                Reached::Part => "part",
                Reached::Not => "not",
            },
            "reason": end.reason,
            "advice": end.advice,
            "stops": end.stops,
        })
    };
    let reach = film.reach.as_ref();
    let reach = reach.map(|reach| json!({ "toe": end(&reach.toe), "shoulder": end(&reach.shoulder) }));
    let extremes = film.departures.iter().flat_map(|departures| &departures.extremes);
    let extremes = extremes.map(|extreme| {
        json!({
            "log_h": extreme.log_h,
            "departure": measured_json(&extreme.departure, ""),
            "distinguishable": extreme.distinguishable(),
        })
    });
    (json!(reach), extremes.collect())
}

fn difference_json(row: &Row) -> (String, Json) {
    let value = value_json(&row.difference, &row.difference_unit);
    (figures::spec(row.figure).key.to_owned(), with(value, "distinguishable", json!(row.distinguishable)))
}

fn row_json(row: &PatchRow) -> Json {
    json!({
        "name": row.name,
        "reference": value_json(&row.reference, ""),
        "candidate": value_json(&row.candidate, ""),
        "difference": value_json(&row.difference, ""),
        "against_grey": value_json(&row.against_grey, ""),
        "corrected_for_contrast": false,
        "distinguishable": row.distinguishable,
    })
}

fn findings_json(series: &Series, film: &Film, comparison: &Comparison) -> Vec<Json> {
    let choices = series.report.findings.get(&film.id);
    let one = |finding: &twinwedge_core::compare::Finding| {
        let choice = match choices.and_then(|choices| choices.get(&finding.key)) {
            None => json!("kept"),
            Some(FindingChoice::Dropped) => json!("dropped"),
            Some(FindingChoice::Reworded(words)) => json!({ "reworded": words }),
        };
        json!({
            "key": finding.key,
            "question": finding.question.text(),
            "verdict": verdict_word(finding.verdict),
            "sentence": finding.sentence,
            "figure": finding.figure,
            "detail": finding.detail,
            "choice": choice,
            "evidence": finding.evidence.iter().map(|id| figures::spec(*id).key).collect::<Vec<_>>(),
        })
    };
    comparison.findings.iter().map(one).collect()
}

fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Differs => "differs",
        Verdict::NotDistinguishable => "not distinguishable",
        Verdict::NotMeasured => "not measured",
    }
}

fn problem_json(problem: &Problem) -> Json {
    json!({
        "severity": match problem.severity {
            Severity::Note => "note",
            Severity::Doubt => "doubt",
            Severity::Error => "error",
        },
        "subject": problem.subject.to_string(),
        "cause": problem.cause,
        "remedy": problem.remedy,
    })
}

/// Columns of the table of figures.
pub(super) const COLUMNS: [&str; 18] = [
    "film",
    "role",
    "figure",
    "label",
    "unit",
    "value",
    "u",
    "low",
    "high",
    "flags",
    "reason",
    "difference",
    "difference_u",
    "difference_low",
    "difference_high",
    "difference_unit",
    "distinguishable",
    "difference_reason",
];

/// The table of figures and differences as CSV (RFC 4180), a row per film and figure. `u` is the standard uncertainty,
/// `low` and `high` the 95 % interval, of a bound its limit alone; flags are separated by semicolons; numbers have a decimal
/// point and all their digits, texts that begin like a formula an apostrophe before them (see [`super::cells`]). The
/// reference's rows leave the columns of the difference empty.
///
/// # Errors
/// There is no film.
pub fn figures_csv(session: &Session) -> Result<String, Problem> {
    figures_table(session).map(|(table, _)| table)
}

/// The same, with what is missing or doubtful in the series.
pub(super) fn figures_table(session: &Session) -> Result<(String, Vec<Problem>), Problem> {
    let series = some_film(session)?;
    let mut check = session.begin_check();
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(COLUMNS).map_err(|error| unwritable(&error))?;
    for film in &series.films {
        let figures = session.wait(&FiguresOf { film: film.id.clone() });
        let candidate = series.reference.is_some() && role(&series, film) == "candidate";
        let comparison = candidate.then(|| session.wait(&ComparisonOf { film: film.id.clone() }));
        for spec in figures::registry() {
            let mut record = vec![
                cell_of(&film.label),
                role(&series, film).to_owned(),
                spec.key.to_owned(),
                spec.label.to_owned(),
            ];
            record.push(spec.unit.to_owned());
            record.extend(value_cells(&figure_of(&figures, spec)));
            record.extend(difference_cells(comparison.as_ref(), spec));
            writer.write_record(&record).map_err(|error| unwritable(&error))?;
        }
        check.film(&film.id);
    }
    let bytes = writer.into_inner().map_err(|error| unwritable(error.error()))?;
    let table = String::from_utf8(bytes).map_err(|error| unwritable(&error))?;
    Ok((table, check.finish()))
}

/// Value, u, low, high, flags, reason.
fn value_cells(value: &Value) -> [String; 6] {
    match value {
        Value::Known(measured) => {
            let [value, u, low, high] = numbers(measured);
            [value, u, low, high, measured.flags.words().join("; "), String::new()]
        }
        Value::Undefined(reason) => {
            let [value, u, low, high, flags] = [const { String::new() }; 5];
            [value, u, low, high, flags, cell_of(reason)]
        }
    }
}

/// Of a bound the end that is its limit stands alone.
fn numbers(measured: &Measured) -> [String; 4] {
    let Measured { value, u, low, high, .. } = *measured;
    let none = f64::NAN;
    let numbers = match measured.bound() {
        Some(Bound::AtLeast(_)) => [value, none, low, none],
        Some(Bound::AtMost(_)) => [value, none, none, high],
        None => [value, u, low, high],
    };
    numbers.map(|number| if number.is_finite() { number.to_string() } else { String::new() })
}

/// Difference, u, low, high, unit, distinguishable, reason.
fn difference_cells(comparison: Option<&Result<Arc<Comparison>, Problem>>, spec: &FigureSpec) -> [String; 7] {
    let row = match comparison {
        None => return [const { String::new() }; 7],
        Some(Err(problem)) => {
            let mut cells = [const { String::new() }; 7];
            cells[6] = cell_of(&problem.to_string());
            return cells;
        }
        Some(Ok(comparison)) => comparison.rows.iter().find(|row| row.figure == spec.id),
    };
    let mut cells = [const { String::new() }; 7];
    if let Some(row) = row {
        cells[4].clone_from(&row.difference_unit);
        match &row.difference {
            Value::Known(measured) => {
                let [value, u, low, high] = numbers(measured);
                [cells[0], cells[1], cells[2], cells[3]] = [value, u, low, high];
                cells[5] = row
                    .distinguishable
                    .map(|yes| if yes { "yes" } else { "no" })
                    .unwrap_or_default()
                    .to_owned();
            }
            Value::Undefined(reason) => cells[6] = cell_of(reason),
        }
    }
    cells
}

fn unwritable(error: &dyn std::error::Error) -> Problem {
    Problem::error(
        Subject::Series,
        format!("The figures could not be written: {error}."),
        "Write them in the other form: as JSON or as CSV.",
    )
}
