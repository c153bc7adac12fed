//! Operations on a whole series: what a step is called, what leaves none, and that what nobody entered takes part in nothing.

use std::path::Path;

use twinwedge_core::compare::{Kind, Verdict};
use twinwedge_core::document::{Exposure, FilmId, ReadingsSource, StripLevel, TabletExposure};
use twinwedge_core::figures::FigureId;
use twinwedge_core::measured::Flags;
use twinwedge_workbench::edits::{
    BracketChange, FilmChange, FrameChange, Operation, RecordEdit, StripChange, Taking,
};
use twinwedge_workbench::engine::ask::{BracketOf, ComparisonOf, FiguresOf};
use twinwedge_workbench::session::Session;

use crate::support::{session, typed_series};

fn candidate() -> FilmId {
    FilmId::from("Plover 1")
}

#[test]
fn an_operation_is_one_step_with_its_name_or_none_where_nothing_changes() {
    let mut session = session(typed_series(2), Path::new(""));
    let before = session.series().clone();
    let title = RecordEdit::Title("Salt marsh".to_owned());
    assert_eq!(session.carry_out(title.clone()), Ok(Some("change the title".to_owned())));
    assert_eq!(session.carry_out(title), Ok(None), "it is called so already");
    session.undo();
    assert_eq!((session.series(), session.undo_label()), (&before, None));
    // Refused by the operation, and by the range of the field; neither leaves anything.
    let refused: [Operation; 2] = [
        FilmChange::Rename("Godwit".to_owned()).of(&"no such film".into()).into(),
        RecordEdit::Enlargement(Some(-1.0)).into(),
    ];
    for operation in refused {
        assert!(session.carry_out(operation).is_err());
        assert_eq!((session.series(), session.undo_label()), (&before, None));
    }
}

#[test]
fn a_gesture_of_operations_is_named_by_the_first_and_starts_anew_each_time() {
    let mut session = session(typed_series(2), Path::new(""));
    let before = session.series().clone();
    let moved = |density| StripChange::Reading { step: 3, density }.of(&candidate(), 0);
    for density in [0.5, 0.6, 0.7] {
        session.preview(moved(density)).unwrap();
    }
    assert!(session.preview(moved(99.0)).is_err());
    assert_eq!(*session.series(), before, "what is refused shows the series as it was at the begin");
    session.preview(moved(0.8)).unwrap();
    session.commit();
    let label = session.series().film(&candidate()).unwrap().label.clone();
    assert_eq!(session.undo_label(), Some(&*format!("move step 3 of {label}")));
    session.undo();
    assert_eq!((session.series(), session.undo_label()), (&before, None));
    session.preview(moved(0.5)).unwrap();
    session.abort();
    assert_eq!((session.series(), session.undo_label()), (&before, None));
}

fn speed(session: &Session) -> Verdict {
    let comparison = session.wait(&ComparisonOf { film: candidate() }).unwrap();
    comparison.findings.iter().find(|finding| finding.kind == Kind::SpeedRelative).unwrap().verdict
}

#[test]
fn a_strip_makes_no_finding_of_speed_until_its_light_is_said() {
    let mut series = typed_series(2);
    let film = series.film_mut(&candidate()).unwrap();
    let ReadingsSource::Typed(readings) = film.strips.remove(0).readings else { panic!("typed") };
    film.tablet_exposure = None;
    let mut session = session(series, Path::new(""));
    let film = candidate();
    session
        .carry_out(Taking::Readings {
            film,
            strip: 0,
            name: String::new(),
            readings,
            stated: Default::default(),
        })
        .unwrap();
    let comparison = session.wait(&ComparisonOf { film: candidate() }).unwrap();
    let found = comparison.findings.iter().find(|finding| finding.kind == Kind::SpeedRelative).unwrap();
    assert_eq!(found.verdict, Verdict::NotMeasured);
    assert!(found.detail.contains("Nothing says how much light"), "{}", found.detail);
    for row in &comparison.rows {
        let place = row.candidate.known().is_some_and(|known| known.flags.contains(Flags::LIGHT_NOT_SAID));
        assert!(
            !place || row.difference.known().is_none(),
            "{:?} compares light that nobody told",
            row.figure
        );
    }
    let gamma = comparison.rows.iter().find(|row| row.figure == FigureId::Gamma).unwrap();
    assert!(gamma.difference.known().is_some(), "slopes ask for no light");
    let said =
        |session: &Session| session.problems().iter().any(|problem| problem.cause.contains("how much light"));
    assert!(said(&session));
    let light = StripChange::Light(Exposure::Relative { stops_less: 0.0 });
    session.carry_out(light.of(&candidate(), 0)).unwrap();
    assert_ne!(speed(&session), Verdict::NotMeasured);
    assert!(!said(&session));
}

#[test]
fn a_reference_of_unknown_light_is_compared_in_speed_with_no_film() {
    let mut series = typed_series(2);
    let exposed = series.films[0].tablet_exposure.take().unwrap();
    series.films[0].tablet_exposure = Some(TabletExposure { exposure: Exposure::NotSaid, ..exposed });
    assert_eq!(speed(&session(series, Path::new(""))), Verdict::NotMeasured);
}

#[test]
fn an_added_frame_takes_part_in_nothing_until_it_is_filled_in() {
    let mut series = typed_series(2);
    series.films[0].box_speed = Some(160.0);
    let mut session = session(series, Path::new(""));
    let of = |film: &FilmId, change: BracketChange| change.of(film);
    let reference = session.series().films[0].id.clone();
    let fill = |session: &mut Session, film: &FilmId, frame, index, density| {
        session.carry_out(of(film, BracketChange::Add)).unwrap();
        let change = |change| of(film, BracketChange::Frame(frame, change));
        session.carry_out(change(FrameChange::ExposureIndex(Some(index)))).unwrap();
        session.carry_out(change(FrameChange::ShadowDensity(Some(density)))).unwrap();
    };
    fill(&mut session, &reference, 0, 160.0, 0.36);
    for (frame, (index, density)) in [(320.0, 0.46), (400.0, 0.36), (500.0, 0.26)].into_iter().enumerate() {
        fill(&mut session, &candidate(), frame, index, density);
    }
    let matched = |session: &Session| {
        let figures = session.wait(&FiguresOf { film: candidate() }).unwrap();
        figures.figures[&FigureId::ShadowMatchOther].clone()
    };
    // Analytic: the frame of index 400 is as dense as the reference's.
    let before = matched(&session);
    assert!((before.known().unwrap().value - 400.0).abs() < 1.0, "{before:?}");
    for film in [reference, candidate()] {
        session.carry_out(of(&film, BracketChange::Add)).unwrap();
        let frames = session.wait(&BracketOf { film: film.clone() }).unwrap();
        let empty = frames.last().unwrap().as_ref().unwrap_err();
        assert!(
            empty.cause.contains("has no exposure index yet")
                || empty.cause.contains("has no shadow density yet")
        );
    }
    assert_eq!(matched(&session), before, "empty frames are neither targets nor matches");
    let lacking = |what: &str| session.problems().iter().any(|problem| problem.cause.contains(what));
    assert!(lacking("Frame 4 of its bracket has no exposure index and no shadow density yet"));
    assert!(lacking("Frame 2 of its bracket"));
}

#[test]
fn levels_of_strips_that_are_not_said_are_found_from_the_overlap() {
    let mut session = session(typed_series(2), Path::new(""));
    let film = session.series().film(&candidate()).unwrap();
    let ReadingsSource::Typed(readings) = film.strips[0].readings.clone() else { panic!("typed") };
    let film = candidate();
    let additional =
        Taking::Readings { film, strip: 1, name: "weaker".to_owned(), readings, stated: Default::default() };
    session.carry_out(additional).unwrap();
    let film = session.series().film(&candidate()).unwrap();
    assert_eq!(film.strips[1].level, StripLevel::FromOverlap);
}
