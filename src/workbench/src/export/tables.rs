//! Figures for other programs: JSON and CSV.

use std::cell::Cell;
use std::io::{self, BufWriter, Write};
use std::sync::Arc;

use serde::ser::{Serialize, SerializeMap, SerializeSeq, Serializer};
use serde_json::{Map, Value as Json, json};
use twinwedge_core::compare::{Comparison, FigureRow, FilmFigures, PatchRow, SpeedRow, Verdict};
use twinwedge_core::document::{Film, FindingChoice, Series};
use twinwedge_core::figures::{self, End, FigureSpec, Opposed, Reached};
use twinwedge_core::measured::{Bound, Measured, Value};
use twinwedge_core::patch::PatchSample;
use twinwedge_core::problem::{Problem, Severity, Subject};
use twinwedge_core::tablet::StepSample;
use twinwedge_core::words;

use super::cells::cell_of;
use super::json::Escaping;
use super::registration::registration_json;
use super::sheets::{Decimal, Table, table};
use super::written::{
    self, DENSITY, SPEED, STOPS, corners_json, difference_unit, failed, measured_json, tidy, unit_of,
    value_json,
};
use crate::engine::ask::{
    BandsOf, ComparisonOf, DetailOf, EndsOf, FiguresOf, FiltersOf, GrainPairOf, LightingOf, RegistrationOf,
    RenderingOf, SharpnessOf, SpectrumOf, ViewedOf,
};
use crate::session::Session;

/// All measured figures of the series as JSON. An undefined figure is null with its reason beside it; what a film does not have is
/// left out. `schema.json` describes the forms in it.
///
/// ```json
/// { "format": "twinwedge figures", "version": 2, "program": "twinwedge 0.1.0", "interval": "…",
///   "series": "…", "about": "…", "reference_film": "Tern 160",
///   "definitions": { "base_fog": { "label", "unit", "definition", "difference_unit", "source" } },
///   "films": [ { "film", "label", "role": "reference" | "candidate", "box_speed",
///                "figures": { "base_fog": { "value", "u", "low", "high", "unit", "flags": [] },
///                             "iso_speed": { "value": null, "reason" } },
///                "curve": { "readings": [], "levels": [], "outliers": [], "spline": {}, "parametric": {}, … },
///                "grain": { "areas": [], "law_of_apertures": {}, "curve": {} }, "spectrum": {}, "sharpness": {},
///                "reach": { "toe": { "reached": "whole" | "part" | "not", "reason", "advice", "stops" }, "shoulder": {} },
///                "peaks_and_valleys": [ { "log_h", "departure": {}, "distinguishable" } ],
///                "patches": [ { "name", "density": {}, "code": {}, "corners": [], … } ], "spots": [ … ] } ],
///   "comparisons": [ { "candidate_film", "reference_film",
///                "differences": { "base_fog": { "value", "u", "low", "high", "unit", "flags", "distinguishable" } },
///                "speeds": [ { "criterion", "when", "reference": { "speed": {}, "printed", "from_box": {} }, "candidate": {},
///                              "difference": {} } ],
///                "greys_corrected_for_contrast": false,
///                "greys": { "rendering": { "reference": {}, "candidate": {}, "patches": [], "families": [] },
///                           "sensitivities": {}, "filters": [], "lighting": {} },
///                "print_ends": { "reference": { "white_density", "black_density", "blank_share", "blocked_share" },
///                                "candidate": {} },
///                "opposed": [ { "reference_log_h", "candidate_log_h", "reference": {}, "candidate": {}, "difference": {} } ],
///                "patch_differences": [ { "name", "reference": {}, "candidate": {}, "difference": {}, "against_grey": {},
///                               "corrected_for_contrast": false, "distinguishable" } ], "spot_differences": [ … ],
///                "viewed": {}, "detail": {}, "registration": {},
///                "findings": [ { "key", "question", "verdict", "sentence", "choice", "evidence": [] } ],
///                "verdict" } ],
///   "problems": [ { "severity", "subject", "cause", "remedy" } ] }
/// ```
///
/// A value of which one side alone is known has `"bound": "at least" | "at most"` with its `limit`, which holds in 95 of 100
/// cases, and neither `u` nor the other end. `corrected_for_contrast` says whether greys have been freed of the contrast of film
/// and paper. A comparison that cannot be had is `{ "candidate_film", "value": null, "reason" }`.
///
/// # Errors
/// There is no film.
pub fn figures_json(session: &Session) -> Result<Json, Problem> {
    let series = some_film(session)?;
    let written = figures_into(session, &series, &mut |_| (), serde_json::value::Serializer);
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
        self.write_seen(out, &mut |_| ())
    }

    /// The same; each film is shown to `see` as it is written.
    ///
    /// # Errors
    /// `out` does not take more.
    pub fn write_seen(&self, out: &mut dyn Write, see: &mut dyn FnMut(&Json)) -> io::Result<Vec<Problem>> {
        let mut out = BufWriter::new(out);
        let mut serializer = serde_json::Serializer::pretty(Escaping(&mut out));
        let ((), problems) = figures_into(self.session, &self.series, see, &mut serializer)?;
        out.write_all(b"\n")?;
        out.flush()?;
        Ok(problems)
    }
}

/// All that is asked of one film is asked before the next film: its scans are read once, whatever memory holds of them.
fn figures_into<S: Serializer>(
    session: &Session,
    series: &Series,
    see: &mut dyn FnMut(&Json),
    serializer: S,
) -> Result<(S::Ok, Vec<Problem>), S::Error> {
    let compared = |film: &Film| series.reference.is_some() && role(series, film) == "candidate";
    let mut check = session.begin_check();
    let films = series.films.iter().map(|film| {
        let json = tidy(film_json(session, series, film));
        see(&json);
        if film.print.is_some() {
            // Told beside the other film's, but asked while its scan is in memory.
            let _ = session.wait(&EndsOf { film: film.id.clone() });
        }
        if compared(film) {
            ask_of_comparison(session, film);
        }
        check.film(&film.id);
        json
    });
    let definitions: Map<String, Json> =
        figures::registry().iter().map(|spec| (spec.key.to_owned(), definition(spec))).collect();
    let mut map = serializer.serialize_map(None)?;
    for (key, value) in written::head("figures") {
        map.serialize_entry(key, &value)?;
    }
    map.serialize_entry("series", &series.title)?;
    map.serialize_entry("about", &series.about)?;
    if let Some(reference) = &series.reference {
        map.serialize_entry("reference_film", &reference.0)?;
    }
    map.serialize_entry("definitions", &definitions)?;
    map.serialize_entry("films", &OneByOne::of(films))?;
    let comparisons = series.films.iter().filter(|film| compared(film));
    let comparisons = comparisons.map(|film| tidy(comparison_json(session, series, film)));
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
    let _ = session.wait(&RenderingOf { film: film() });
    let _ = session.wait(&BandsOf { film: film() });
    let _ = session.wait(&FiltersOf { film: film() });
    let _ = session.wait(&LightingOf { film: film() });
}

/// The series, if there is anything in it to write about.
pub(super) fn some_film(session: &Session) -> Result<Arc<Series>, Problem> {
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
        "unit": unit_of(spec),
        "definition": spec.definition,
        "difference_unit": difference_unit(spec),
        "source": spec.source.text,
    })
}

pub(super) fn role(series: &Series, film: &Film) -> &'static str {
    if series.reference.as_ref() == Some(&film.id) { "reference" } else { "candidate" }
}

/// The value of one figure of a film, or the reason why all of them are missing.
pub(super) fn figure_of(figures: &Result<Arc<FilmFigures>, Problem>, spec: &FigureSpec) -> Value {
    match figures {
        Ok(figures) => figures
            .figures
            .get(&spec.id)
            .cloned()
            .unwrap_or_else(|| Value::Undefined(words::Pair::NoData.into())),
        Err(problem) => Value::Undefined(problem.to_string().into()),
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
        .map(|spec| (spec.key.to_owned(), value_json(&figure_of(&figures, spec), unit_of(spec))))
        .collect();
    let (reach, extremes) =
        figures.as_ref().map_or_else(|_| (json!(null), json!([])), |figures| shape_json(figures));
    let samples = |samples: &[PatchSample]| samples.iter().map(patch_json).collect::<Vec<_>>();
    let (patches, spots) = figures
        .as_ref()
        .map_or_else(|_| (Vec::new(), Vec::new()), |of| (samples(&of.patches), samples(&of.spots)));
    json!({
        "film": film.id.0,
        "label": film.label,
        "role": role(series, film),
        "box_speed": film.box_speed,
        "prediction_sentence": prediction(session, series, film),
        "figures": table,
        "reach": reach,
        "peaks_and_valleys": extremes,
        "curve": super::curve_json::curve_json(session, film),
        "grain": super::granularity::film_granularity(session, &film.id),
        "spectrum": film.uniform_areas.first().map(|_| {
            let found = session.wait(&SpectrumOf { film: film.id.clone(), area: 0, quick: false });
            found.map_or_else(|problem| failed(&problem), |found| super::spectrum::spectrum_json(&found))
        }),
        "sharpness": (!film.edges.is_empty()).then(|| {
            let found = session.wait(&SharpnessOf { film: film.id.clone() });
            found.map_or_else(|problem| failed(&problem), |found| super::edges::sharpness_json(&found))
        }),
        "patches": patches,
        "spots": spots,
    })
}

/// One sampled step as JSON, measured numbers in the form of [`figures_json`].
#[must_use]
pub fn step_json(step: &StepSample) -> Json {
    with(area_sampled(step), "step", json!(step.step))
}

/// One sampled patch or spot as JSON, measured numbers in the form of [`figures_json`].
#[must_use]
pub fn patch_json(patch: &PatchSample) -> Json {
    with(area_sampled(&patch.sample), "name", json!(patch.name))
}

fn area_sampled(sample: &StepSample) -> Json {
    json!({
        "density": measured_json(&sample.density.plain(), DENSITY),
        "code": measured_json(&sample.code, "code"),
        "relative_spread": sample.relative_spread,
        "pixel_count": sample.used,
        "left_out_count": sample.left_out,
        "corners": corners_json(&sample.area.corners),
    })
}

/// The same with one more member, at its head.
fn with(object: Json, key: &str, value: Json) -> Json {
    let Json::Object(members) = object else { return object };
    Json::Object(std::iter::once((key.to_owned(), value)).chain(members).collect())
}

/// What detail survived in the film's print, or why that is not known; null where one of the two has no print.
fn detail(session: &Session, series: &Series, film: &Film) -> Json {
    if film.print.is_none() || series.reference_film().is_none_or(|reference| reference.print.is_none()) {
        return Json::Null;
    }
    match session.wait(&DetailOf { film: film.id.clone(), quick: false }) {
        Ok(found) => super::detail::detail_json(&found),
        Err(problem) => failed(&problem),
    }
}

fn comparison_json(session: &Session, series: &Series, film: &Film) -> Json {
    let comparison = match session.wait(&ComparisonOf { film: film.id.clone() }) {
        Ok(comparison) => comparison,
        Err(problem) => {
            return json!({ "candidate_film": film.id.0, "value": null, "reason": problem.to_string() });
        }
    };
    let differences: Map<String, Json> = comparison.rows.iter().map(difference_json).collect();
    json!({
        "candidate_film": film.id.0,
        "reference_film": series.reference.as_ref().map(|id| &id.0),
        "differences": differences,
        "grain": super::granularity::pair(session, &film.id),
        "speeds": comparison.speeds.iter().map(speed_json).collect::<Vec<_>>(),
        "greys_corrected_for_contrast": false,
        "greys": greys(session, series, film),
        "print_ends": print_ends(session, series, film),
        "opposed": comparison.opposed.iter().map(opposed_json).collect::<Vec<_>>(),
        "patch_differences": patch_differences_json(&comparison.patches),
        "spot_differences": patch_differences_json(&comparison.spots),
        "viewed": session.wait(&ViewedOf { film: film.id.clone() }).map_or_else(
            |problem| failed(&problem),
            |viewed| super::spectrum::viewed_json(&viewed),
        ),
        "detail": detail(session, series, film),
        "registration": registration_of(session, series, film),
        "findings": findings_json(series, film, &comparison),
        "verdict": series.report.verdicts.get(&film.id),
        "recommendation": series.report.recommendations.get(&film.id),
    })
}

/// Which share of either print is blank or blocked, or why that is not known; null where one of the two has no print.
fn print_ends(session: &Session, series: &Series, film: &Film) -> Json {
    let Some(reference) =
        series.reference_film().filter(|reference| reference.print.is_some() && film.print.is_some())
    else {
        return Json::Null;
    };
    let of = |film: &Film| {
        session.wait(&EndsOf { film: film.id.clone() }).map_or_else(
            |problem| failed(&problem),
            |ends| {
                json!({
                    "white_density": ends.white.map(|end| end.density),
                    "black_density": ends.black.map(|end| end.density),
                    "blank_share": ends.white.map(|_| ends.blank),
                    "blocked_share": ends.black.map(|_| ends.blocked),
                })
            },
        )
    };
    json!({ "reference": of(reference), "candidate": of(film) })
}

/// The film's colours as greys beside the reference's, both films' sensitivities, filters and light, each or why it is not known;
/// null where one of the two has no print.
fn greys(session: &Session, series: &Series, film: &Film) -> Json {
    if film.print.is_none() || series.reference_film().is_none_or(|reference| reference.print.is_none()) {
        return Json::Null;
    }
    let film = || film.id.clone();
    let names: Vec<String> =
        series.layout.iter().flat_map(|layout| &layout.patches).map(|patch| patch.name.clone()).collect();
    json!({
        "rendering": session.wait(&RenderingOf { film: film() })
            .map_or_else(|problem| failed(&problem), |found| super::greys::rendering_json(&found)),
        "sensitivities": session.wait(&BandsOf { film: film() })
            .map_or_else(|problem| failed(&problem), |found| super::greys::bands_json(&found)),
        "filters": session.wait(&FiltersOf { film: film() })
            .map_or_else(|problem| failed(&problem), |found| super::greys::filters_json(&found, &names)),
        "lighting": session.wait(&LightingOf { film: film() })
            .map_or_else(|problem| failed(&problem), |found| super::greys::lighting_json(&found)),
    })
}

/// How the film's print lies on the reference's; null where one of the two has no print.
fn registration_of(session: &Session, series: &Series, film: &Film) -> Json {
    if film.print.is_none() || series.reference_film().is_none_or(|reference| reference.print.is_none()) {
        return Json::Null;
    }
    match session.wait(&RegistrationOf { film: film.id.clone() }) {
        Ok(found) => registration_json(&found),
        Err(problem) => failed(&problem),
    }
}

fn speed_json(row: &SpeedRow) -> Json {
    let film = |which: usize| {
        json!({
            "speed": value_json(&row.speeds[which], SPEED),
            "printed": row.printed[which],
            "from_box": value_json(&row.from_box[which], STOPS),
        })
    };
    json!({
        "criterion": row.criterion,
        "when": row.criterion.when(),
        "reference": film(0),
        "candidate": film(1),
        "difference": value_json(&row.difference, STOPS),
    })
}

fn opposed_json(place: &Opposed) -> Json {
    json!({
        "reference_log_h": place.reference_log_h,
        "candidate_log_h": place.candidate_log_h,
        "reference": measured_json(&place.reference, DENSITY),
        "candidate": measured_json(&place.candidate, DENSITY),
        "difference": measured_json(&place.difference, DENSITY),
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
            "departure": measured_json(&extreme.departure, DENSITY),
            "distinguishable": extreme.distinguishable(),
        })
    });
    (json!(reach), extremes.collect())
}

fn difference_json(row: &FigureRow) -> (String, Json) {
    let spec = figures::spec(row.figure);
    let mut value = value_json(&row.difference, difference_unit(spec));
    if let Some(distinguishable) = row.distinguishable {
        value["distinguishable"] = json!(distinguishable);
    }
    (spec.key.to_owned(), value)
}

/// Patches or spots of a candidate beside the reference's as JSON: densities of both, candidate minus reference, and the same with
/// each density taken against its own print's grey card.
#[must_use]
pub fn patch_differences_json(rows: &[PatchRow]) -> Json {
    let row = |row: &PatchRow| {
        json!({
            "name": row.name,
            "reference": value_json(&row.reference, DENSITY),
            "candidate": value_json(&row.candidate, DENSITY),
            "difference": value_json(&row.difference, DENSITY),
            "against_grey": value_json(&row.against_grey, DENSITY),
            "corrected_for_contrast": false,
            "distinguishable": row.distinguishable,
        })
    };
    rows.iter().map(row).collect()
}

fn findings_json(series: &Series, film: &Film, comparison: &Comparison) -> Vec<Json> {
    let choices = series.report.findings.get(&film.id);
    let one = |finding: &twinwedge_core::compare::Finding| {
        let (choice, reworded) = match choices.and_then(|choices| choices.get(&finding.key)) {
            None => ("kept", None),
            Some(FindingChoice::Dropped) => ("dropped", None),
            Some(FindingChoice::Reworded(words)) => ("reworded", Some(words)),
        };
        json!({
            "key": finding.key,
            "question": finding.question.text(),
            "verdict": verdict_word(finding.verdict),
            "sentence": finding.sentence,
            "figure": finding.figure,
            "in_detail": finding.detail,
            "choice": choice,
            "reworded": reworded,
            "figure_when_reworded": series.report.changed_since(&film.id, &finding.key, finding.number()),
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

/// Severity, subject, cause and remedy as a JSON object.
#[must_use]
pub fn problem_json(problem: &Problem) -> Json {
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
    table(session, Table::Figures, Decimal::Point).map(|(table, _)| table)
}

/// Value, u, low, high, flags, reason.
pub(super) fn value_cells(value: &Value) -> [String; 6] {
    match value {
        Value::Known(measured) => {
            let [value, u, low, high] = numbers(measured);
            [value, u, low, high, measured.flags.words().join("; "), String::new()]
        }
        Value::Undefined(reason) => {
            let [value, u, low, high, flags] = [const { String::new() }; 5];
            [value, u, low, high, flags, cell_of(&reason.to_string())]
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
pub(super) fn difference_cells(
    comparison: Option<&Result<Arc<Comparison>, Problem>>,
    spec: &FigureSpec,
    unit: &str,
) -> [String; 7] {
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
        unit.clone_into(&mut cells[4]);
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
            Value::Undefined(reason) => cells[6] = cell_of(&reason.to_string()),
        }
    }
    cells
}

pub(super) fn unwritable(error: &dyn std::error::Error) -> Problem {
    Problem::error(
        Subject::Series,
        format!("The figures could not be written: {error}."),
        "Write them in the other form: as JSON or as CSV.",
    )
}
