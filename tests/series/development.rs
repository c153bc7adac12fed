//! Families of rolls whose curves are known by formula: times, predicted curves, and what follows the choice to compare them.

use tempfile::tempdir;
use twinwedge_core::development::Basis;
use twinwedge_core::development::predicted::Source;
use twinwedge_core::document::{CompareAs, FilmId, FollowedGradient, Series};
use twinwedge_core::figures::FigureId;
use twinwedge_core::measured::{Flags, Value};
use twinwedge_workbench::engine::Kind;
use twinwedge_workbench::engine::ask::{
    ComparisonOf, CurveOf, DevelopmentOf, FiguresOf, PredictedOf, SimilarityOf,
};
use twinwedge_workbench::export;
use twinwedge_workbench::session::{Edit, Session};

use crate::support::{session, typed_film};

/// Limit and rate of the invented film's law.
const LIMIT: f64 = 1.0;
const RATE: f64 = 0.1;

fn slope(minutes: f64) -> f64 {
    LIMIT * (1.0 - (-RATE * minutes).exp())
}

/// A reference as if developed for 8 minutes by the law, and a film with that law at other times: all densities above
/// base+fog are in proportion, so that the film at 8 minutes is the reference.
fn family(times: &[f64]) -> Series {
    let mut series = crate::support::typed_series(1);
    let toe = -2.2;
    series.films = vec![typed_film("Tern 160", slope(8.0), toe)];
    for (number, minutes) in times.iter().enumerate() {
        let label = if number == 0 { "Plover 640".to_owned() } else { format!("Plover 640, {minutes} min") };
        let mut film = typed_film(&label, slope(*minutes), toe);
        film.process.minutes = Some(*minutes);
        film.process.temperature_c = Some(20.0);
        film.roll_of = (number > 0).then(|| FilmId::from("Plover 640"));
        series.films.push(film);
    }
    series.settings.resamplings = 100;
    series
}

fn open(series: Series) -> (tempfile::TempDir, Session) {
    let folder = tempdir().unwrap();
    let session = session(series, folder.path());
    (folder, session)
}

fn plover() -> FilmId {
    FilmId::from("Plover 640")
}

#[test]
fn the_time_for_the_references_gradient_is_that_of_the_law() {
    let mut series = family(&[10.0, 6.0, 14.0]);
    series.development.follow = FollowedGradient::Gamma;
    let (_folder, session) = open(series);
    let found = session.wait(&DevelopmentOf { film: plover() }).unwrap();
    let law = found.law.as_ref().unwrap();
    assert_eq!((law.basis, law.rolls), (Basis::Fitted, 3));
    let minutes = found.time.minutes.known().unwrap();
    assert!((minutes.value - 8.0).abs() < 0.3, "{minutes:?}");
    assert!((minutes.low..=minutes.high).contains(&8.0), "{minutes:?}");
    assert!(minutes.flags.contains(Flags::PREDICTED) && !minutes.flags.contains(Flags::ASSUMED));
    assert!(found.time.limits.is_empty(), "{:?}", found.time.limits);
}

#[test]
fn a_time_outside_the_tested_ones_is_marked_and_one_beyond_the_limit_undefined() {
    let mut series = family(&[10.0, 9.0, 14.0]);
    series.development.follow = FollowedGradient::Gamma;
    let (_folder, mut session) = open(series);
    let found = session.wait(&DevelopmentOf { film: plover() }).unwrap();
    assert!(found.time.limits.iter().any(|limit| limit.contains("outside the tested times")), "{found:?}");
    session.apply(Edit::new("want more", |series| series.development.wanted = Some(1.3))).unwrap();
    let found = session.wait(&DevelopmentOf { film: plover() }).unwrap();
    assert!(
        matches!(&found.time.minutes, Value::Undefined(reason) if reason.contains("not below")),
        "{:?}",
        found.time
    );
}

#[test]
fn a_roll_of_another_developer_is_left_out_and_said() {
    let mut series = family(&[10.0, 6.0, 14.0]);
    series.films[3].process.developer = "Glasswort".to_owned();
    let (_folder, session) = open(series);
    let found = session.wait(&DevelopmentOf { film: plover() }).unwrap();
    assert_eq!(found.law.as_ref().unwrap().rolls, 2);
    assert!(found.notes.iter().any(|note| note.contains("developer differs")), "{:?}", found.notes);
}

/// Between two rolls, and from one by assumption, the predicted curve is the reference's own, by construction.
#[test]
fn the_predicted_curve_is_the_film_at_the_references_contrast() {
    for (times, source) in [(&[10.0, 6.0][..], Source::Between), (&[10.0][..], Source::OneRoll)] {
        let (_folder, session) = open(family(times));
        let predicted = session.wait(&PredictedOf { film: plover() }).unwrap();
        let reference = session.wait(&CurveOf { film: FilmId::from("Tern 160") }).unwrap();
        assert_eq!(predicted.prediction.as_ref().unwrap().source, source);
        let flags = predicted.curve.readings.flags;
        assert!(flags.contains(Flags::PREDICTED));
        assert_eq!(flags.contains(Flags::ASSUMED), source == Source::OneRoll);
        let (from, to) = predicted.curve.range();
        for i in 0..=40 {
            let log_h = from + (to - from) * f64::from(i) / 40.0;
            let (ours, u) = predicted.curve.density(log_h.min(to)).unwrap();
            let theirs = reference.curve.best.density(log_h.min(to)).unwrap();
            // Both curves were fitted to readings rounded to 0.01.
            assert!(
                (ours - theirs).abs() < 0.015 + 3.0 * u,
                "{source:?} at {log_h}: {ours} for {theirs} ± {u}"
            );
        }
        for value in predicted.figures.values().filter_map(Value::known) {
            assert!(value.flags.contains(Flags::PREDICTED), "every figure says that it is predicted");
        }
    }
}

#[test]
fn comparing_at_the_references_contrast_refits_nothing_and_is_undone() {
    let (_folder, mut session) = open(family(&[12.0, 6.0]));
    let compare = ComparisonOf { film: plover() };
    let gradient = |session: &Session| {
        let comparison = session.wait(&compare).unwrap();
        let row = comparison.rows.iter().find(|row| row.figure == FigureId::AverageGradient).unwrap().clone();
        (row.distinguishable, *row.candidate.known().unwrap())
    };
    let (differs, as_developed) = gradient(&session);
    assert_eq!(differs, Some(true));
    session.wait(&DevelopmentOf { film: plover() }).unwrap();
    let fitted = session.computations(Kind::CurveOf);
    session
        .apply(Edit::new("compare", |series| series.development.compare_as = CompareAs::MatchedContrast))
        .unwrap();
    let (differs, matched) = gradient(&session);
    assert_eq!(differs, Some(false), "at the same contrast");
    assert!(matched.flags.contains(Flags::PREDICTED) && !as_developed.flags.contains(Flags::PREDICTED));
    assert_eq!(session.computations(Kind::CurveOf), fitted, "no curve is fitted again");
    let reference = session.wait(&FiguresOf { film: FilmId::from("Tern 160") }).unwrap();
    let own = reference.figures[&FigureId::AverageGradient].known().unwrap();
    assert!(!own.flags.contains(Flags::PREDICTED), "the reference stays as measured");
    let report = export::report_html(&session, Some(&plover())).unwrap();
    assert!(
        report.contains("Predicted, not measured") && report.contains("Wear gloves"),
        "the report says so"
    );
    session.undo();
    assert_eq!(gradient(&session).0, Some(true));
    assert!(!export::report_html(&session, Some(&plover())).unwrap().contains("Predicted, not measured"));
}

#[test]
fn similarity_tells_a_film_from_its_like() {
    let mut series = family(&[8.0, 14.0]);
    series.films[1].process.minutes = Some(8.0);
    let (_folder, session) = open(series);
    let of = |label: &str| session.wait(&SimilarityOf { film: FilmId::from(label) }).unwrap();
    let (like, unlike) = (of("Plover 640"), of("Plover 640, 14 min"));
    assert!(!like.distinguishable, "{like:?}");
    assert!(unlike.distinguishable && unlike.difference.low > like.difference.value, "{unlike:?}");
}

#[test]
fn rolls_follow_their_film_and_outlive_it() {
    let mut series = family(&[10.0, 6.0, 14.0]);
    series.films.rotate_left(2);
    let order = |series: &Series| -> Vec<(String, bool)> {
        series.in_families().into_iter().map(|(film, roll)| (film.label.clone(), roll)).collect()
    };
    let plain = |labels: &[(&str, bool)]| -> Vec<(String, bool)> {
        labels.iter().map(|(label, roll)| ((*label).to_owned(), *roll)).collect()
    };
    assert_eq!(
        order(&series),
        plain(&[
            ("Tern 160", false),
            ("Plover 640", false),
            ("Plover 640, 6 min", true),
            ("Plover 640, 14 min", true)
        ])
    );
    let made = series.add_roll(&FilmId::from("Plover 640, 6 min")).unwrap();
    let roll = series.film(&made).unwrap();
    assert_eq!(roll.roll_of, Some(plover()));
    assert_eq!((roll.process.minutes, roll.strips.is_empty()), (Some(6.0), true));
    series.remove_film(&plover());
    assert_eq!(series.family(&FilmId::from("Plover 640, 14 min")).count(), 3, "the rest stay one family");
}
