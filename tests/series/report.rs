//! The report and the tables of a series of typed readings, against the session's own figures, against arithmetic done
//! here, and against what the readings were made from.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value as Json;
use twinwedge_core::document::{
    Exposure, Film, FilmId, ReadingsSource, Series, Settings, Tablet, TabletExposure, TabletId, TypedReading,
};
use twinwedge_core::figures::registry;
use twinwedge_core::measured::{Bound, Measured, Value};
use twinwedge_workbench::engine::ask::{ComparisonOf, FiguresOf};
use twinwedge_workbench::export::{figures_csv, figures_json, report_html, to_file};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::Replace;

use crate::support::session;

/// Density of a film with toe and straight line: `B + (g/m) lg(1 + 10^(m (x - x0)))`, m = 2 (analytic; the speed point
/// lies at `x0 + lg(10^(0.1 m/g) - 1)/m`).
fn density(x: f64, gradient: f64, x0: f64) -> f64 {
    0.20 + gradient / 2.0 * (1.0 + 10_f64.powf(2.0 * (x - x0))).log10()
}

/// A film read through the 21-step tablet. Steps' errors are a fixed pattern of 0.004, below the stated 0.01.
fn film(label: &str, gradient: f64, x0: f64) -> Film {
    let tablet = Tablet::nominal(21).unwrap();
    let reading = |(i, step): (usize, &twinwedge_core::document::TabletStep)| {
        let error = [0.004, -0.003, 0.001, -0.004, 0.002][i % 5];
        TypedReading::new(density(3.0 - step.density, gradient, x0) + error)
    };
    Film {
        strips: vec![ReadingsSource::Typed(tablet.steps.iter().enumerate().map(reading).collect()).into()],
        tablet_exposure: Some(TabletExposure::new(
            TabletId::from("21 steps"),
            Exposure::Relative { stops_less: 0.0 },
        )),
        base_fog: Some(TypedReading { u: Some(0.005), ..TypedReading::new(0.20) }),
        ..Film::named(FilmId::from(label), label)
    }
}

/// Resamplings of each film.
const DRAWS: u32 = 400;

const NASTY: &str = "Dunlin, \"40\" <b>&\nnew";

/// The tablet: its steps are known exactly, and `shared_u` is the standard uncertainty of an error that all of them share.
fn tablet(shared_u: f64) -> Tablet {
    let mut tablet = Tablet { nominal: false, shared_u, ..Tablet::nominal(21).unwrap() };
    tablet.steps.iter_mut().for_each(|step| step.u = Some(0.0));
    tablet
}

/// Tern is the reference; Plover is exactly two stops faster and as hard; Twin is Tern again; the last has no readings.
fn series() -> Series {
    through(tablet(0.0))
}

fn through(tablet: Tablet) -> Series {
    let tern = film("Tern 160", 0.62, 1.2);
    let plover = film("Plover 640", 0.62, 1.2 - 2.0 * 2_f64.log10());
    let twin = film("Twin", 0.62, 1.2);
    let empty = Film::named(FilmId::from(NASTY), NASTY);
    Series {
        title: "Saltmarsh, typed".to_owned(),
        reference: Some(tern.id.clone()),
        films: vec![tern, plover, twin, empty],
        tablets: BTreeMap::from([(TabletId::from("21 steps"), tablet)]),
        settings: Settings { resamplings: DRAWS, ..Settings::default() },
        ..Series::default()
    }
}

fn opened() -> Session {
    session(series(), Path::new(""))
}

/// Looks a film up in a list of objects.
fn of<'a>(list: &'a Json, key: &str, name: &str) -> &'a Json {
    list.as_array().unwrap().iter().find(|entry| entry[key] == name).unwrap()
}

fn number(json: &Json) -> f64 {
    json.as_f64().unwrap()
}

#[test]
fn json_holds_the_sessions_numbers_and_a_reason_for_every_gap() {
    let session = opened();
    let json = figures_json(&session).unwrap();
    let mut undefined = 0;
    for film in &session.series().films {
        let figures = session.wait(&FiguresOf { film: film.id.clone() }).unwrap();
        let entry = &of(&json["films"], "film", &film.id.0)["figures"];
        assert_eq!(entry.as_object().unwrap().len(), registry().len());
        for spec in registry() {
            let written = &entry[spec.key];
            match figures.figures.get(&spec.id) {
                Some(Value::Known(measured)) => {
                    // Of a bound its limit alone is written.
                    let Measured { value, u, low, high, .. } = *measured;
                    let numbers = match measured.bound() {
                        Some(Bound::AtLeast(limit)) => [Some(value), None, Some(limit), None],
                        Some(Bound::AtMost(limit)) => [Some(value), None, None, Some(limit)],
                        None => [value, u, low, high].map(Some),
                    };
                    let back =
                        ["value", "u", "low", "high"].map(|key| written[key].as_f64().map(f64::to_bits));
                    assert_eq!(numbers.map(|number| number.map(f64::to_bits)), back, "{}", spec.key);
                    let limit = numbers[2].or(numbers[3]).filter(|_| measured.bound().is_some());
                    assert_eq!(written["limit"].as_f64(), limit, "{}", spec.key);
                    assert_eq!(written["flags"].as_array().unwrap().len(), measured.flags.words().len());
                }
                Some(Value::Undefined(reason)) => {
                    undefined += 1;
                    assert!(written["value"].is_null() && !reason.is_empty());
                    assert_eq!(written["reason"], reason.to_string());
                }
                None => assert!(written["value"].is_null() && written["reason"].is_string(), "{}", spec.key),
            }
        }
    }
    assert!(undefined > registry().len(), "one film has nothing at all: {undefined}");
}

/// Differences worked out here from the figures of both films: JCGM 100:2008, 5.1.2 (sums) and 5.1.6 (quotients).
#[test]
fn differences_follow_from_both_films_figures() {
    let json = figures_json(&opened()).unwrap();
    let figure = |film: &str, key: &str| {
        let entry = &of(&json["films"], "film", film)["figures"][key];
        (number(&entry["value"]), number(&entry["u"]))
    };
    let comparison = of(&json["comparisons"], "candidate_film", "Plover 640");
    let difference = |key: &str| &comparison["differences"][key];
    let near = |written: &Json, expected: f64| {
        assert!((number(written) - expected).abs() < 1e-9, "{written} against {expected}");
    };

    let ((r, ur), (c, uc)) = (figure("Tern 160", "base_fog"), figure("Plover 640", "base_fog"));
    near(&difference("base_fog")["value"], c - r);
    // The films share no error here, so their variances add (JCGM 100:2008, 5.1.2). Draws that are independent are
    // correlated by no more than three standard errors, 3 / sqrt(400), by accident.
    let within = |written: &Json, independent: f64| {
        let share = number(written) / independent;
        assert!((share * share - 1.0).abs() < 0.15, "{written} against {independent}");
    };
    within(&difference("base_fog")["u"], (ur * ur + uc * uc).sqrt());

    let ((r, ur), (c, uc)) = (figure("Tern 160", "speed_point"), figure("Plover 640", "speed_point"));
    near(&difference("speed_point")["value"], (r - c) / std::f64::consts::LOG10_2);
    within(&difference("speed_point")["u"], (ur * ur + uc * uc).sqrt() / std::f64::consts::LOG10_2);
    assert_eq!(difference("speed_point")["unit"], "stops");

    let ((r, ur), (c, uc)) =
        (figure("Tern 160", "average_gradient"), figure("Plover 640", "average_gradient"));
    let relative = ((ur / r).powi(2) + (uc / c).powi(2)).sqrt();
    near(&difference("average_gradient")["value"], 100.0 * (c - r) / r);
    within(&difference("average_gradient")["u"], 100.0 * c / r * relative);
    assert_eq!(difference("average_gradient")["unit"], "%");
}

/// An error that all steps of the tablet share moves both speed points alike: it adds its square to each variance and to
/// their covariance (JCGM 100:2008, F.1.2.3), and so leaves the variance of their difference as it is.
#[test]
fn an_error_that_both_films_share_leaves_their_difference_alone() {
    const SHARED: f64 = 0.05;
    let figures = |shared_u: f64| {
        let json = figures_json(&session(through(tablet(shared_u)), Path::new(""))).unwrap();
        let u = |film: &str| number(&of(&json["films"], "film", film)["figures"]["speed_point"]["u"]);
        let comparison = of(&json["comparisons"], "candidate_film", "Plover 640");
        (u("Tern 160"), u("Plover 640"), number(&comparison["differences"]["speed_point"]["u"]))
    };
    let ((tern, plover, apart), (tern_shared, plover_shared, apart_shared)) = (figures(0.0), figures(SHARED));
    // A standard deviation of 400 draws is known to 3.5 %: three times that.
    for (alone, with) in [(tern, tern_shared), (plover, plover_shared)] {
        let expected = (alone * alone + SHARED * SHARED).sqrt();
        assert!((with / expected - 1.0).abs() < 0.11, "{with} against {expected}");
    }
    assert!((apart_shared / apart - 1.0).abs() < 0.11, "{apart_shared} against {apart}");
}

/// The readings were made two stops apart, and alike otherwise.
#[test]
fn findings_say_what_the_readings_were_made_from() {
    let session = opened();
    let comparison = session.wait(&ComparisonOf { film: FilmId::from("Plover 640") }).unwrap();
    let finding = |key: &str| comparison.findings.iter().find(|finding| finding.key == key).unwrap();
    let speed = finding("speed.relative");
    assert!(
        speed.sentence.contains("stops faster than Tern 160") && speed.sentence.contains("1⅔ to 2⅓ stops"),
        "{}",
        speed.sentence
    );
    assert!(finding("contrast.average").sentence.contains("not distinguishable"));
    assert!(finding("shadows.base_fog").sentence.contains("not distinguishable"));
    assert!(finding("grain.rms").sentence == "Their graininess was not compared.");
}

#[test]
fn a_film_against_itself_differs_in_nothing() {
    let json = figures_json(&opened()).unwrap();
    let twin = of(&json["comparisons"], "candidate_film", "Twin");
    let mut compared = 0;
    for (key, difference) in twin["differences"].as_object().unwrap() {
        if !difference["value"].is_null() {
            compared += 1;
            assert_eq!(difference["distinguishable"], false, "{key}");
        }
    }
    assert!(compared >= 5, "{compared}");
    for finding in twin["findings"].as_array().unwrap() {
        assert_ne!(finding["verdict"], "differs", "{finding}");
        let sentence = finding["sentence"].as_str().unwrap();
        let says = ["not distinguishable", "Neither ", "both films keep"]
            .iter()
            .any(|words| sentence.contains(words));
        assert_eq!(finding["verdict"] == "not distinguishable", says, "{finding}");
    }
}

#[test]
fn csv_reads_back() {
    let session = opened();
    let text = figures_csv(&session).unwrap();
    let json = figures_json(&session).unwrap();
    // RFC 4180: lines end in CR LF, and only a quoted field may hold a line feed of its own.
    // Every second piece between quotation marks lies outside of them.
    let outside: String = text.split('"').step_by(2).collect();
    assert!(!outside.replace("\r\n", "").contains(['\r', '\n']));
    assert!(text.contains(&NASTY.replace('"', "\"\"")), "the label with a line feed, whole");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header = reader.headers().unwrap().clone();
    let column = |name: &str| header.iter().position(|title| title == name).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 4 * registry().len());
    for row in &rows {
        let (film, figure) = (&row[column("film")], &row[column("figure")]);
        let entry = &of(&json["films"], "label", film)["figures"][figure];
        if entry["value"].is_null() {
            assert_eq!(row[column("value")], *"");
            assert_eq!(row[column("reason")], *entry["reason"].as_str().unwrap());
        } else {
            for key in ["value", "u", "low", "high"] {
                let cell = row[column(key)].parse::<f64>().ok();
                assert_eq!(cell.map(f64::to_bits), entry[key].as_f64().map(f64::to_bits), "{figure} {key}");
            }
            // A bound has its limit alone.
            assert_eq!(entry["u"].is_null(), entry["bound"].is_string(), "{film} {figure}");
        }
        if row[column("role")] == *"reference" {
            assert!(
                header
                    .iter()
                    .zip(row)
                    .all(|(title, cell)| !title.starts_with("difference") || cell.is_empty())
            );
        } else {
            let difference = &of(&json["comparisons"], "candidate_film", film)["differences"][figure];
            let (number_cell, reason) = (&row[column("difference")], &row[column("difference_reason")]);
            assert_eq!(difference["value"].is_null(), number_cell.is_empty());
            assert_ne!(number_cell.is_empty(), reason.is_empty(), "{film} {figure}");
        }
    }
}

#[test]
fn html_holds_every_reason_and_nothing_from_elsewhere() {
    let session = opened();
    let html = report_html(&session, None).unwrap();
    let json = figures_json(&session).unwrap();
    let escaped = |text: &str| {
        text.replace('&', "&amp;")
            .replace('<', "&lt;")
            .replace('>', "&gt;")
            .replace('"', "&quot;")
            .replace('\'', "&#39;")
    };
    for film in json["films"].as_array().unwrap() {
        for (key, figure) in film["figures"].as_object().unwrap() {
            if let Some(reason) = figure["reason"].as_str() {
                assert!(html.contains(&escaped(reason)), "{key} of {}: {reason}", film["label"]);
            }
        }
    }
    assert!(html.contains(&escaped(NASTY)) && !html.contains("<b>&"));
    for fetch in ["http:", "https:", "src=", "url(", "<script ", "<link"] {
        assert!(!html.contains(fetch), "{fetch}");
    }
    let one = report_html(&session, Some(&FilmId::from("Plover 640"))).unwrap();
    assert!(html.contains(">Twin<") && one.contains("against Tern 160") && !one.contains(">Twin<"));
}

#[test]
fn files_are_written_by_their_ending() {
    let session = opened();
    let folder = tempfile::tempdir().unwrap();
    for (name, begins) in
        [("report.html", "<!DOCTYPE html>"), ("figures.JSON", "{"), ("figures.csv", "film,role,")]
    {
        let path = folder.path().join(name);
        std::fs::write(&path, "what was there before").unwrap();
        to_file(&session, None, &path, &[], Replace::Anything).unwrap();
        assert!(std::fs::read_to_string(&path).unwrap().starts_with(begins), "{name}");
    }
    let unknown = folder.path().join("report.docx");
    let problem = to_file(&session, None, &unknown, &[], Replace::Unasked).unwrap_err().problem();
    assert!(problem.remedy.contains(".html") && !unknown.exists());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3, "nothing is left beside the files");
}

#[test]
fn a_series_without_two_films_says_what_is_missing() {
    let mut lonely = series();
    lonely.films.truncate(1);
    let problem = report_html(&session(lonely.clone(), Path::new("")), None).unwrap_err();
    assert!(problem.cause.contains("no candidate"), "{problem}");
    assert!(figures_json(&session(lonely.clone(), Path::new(""))).is_ok());
    lonely.reference = None;
    let problem = report_html(&session(lonely, Path::new("")), None).unwrap_err();
    assert!(problem.cause.contains("no reference"), "{problem}");
    assert!(figures_json(&session(Series::default(), Path::new(""))).is_err());
    let problem = report_html(&opened(), Some(&FilmId::from("Godwit 1000"))).unwrap_err();
    assert!(problem.cause.contains("Godwit 1000"), "{problem}");
}
