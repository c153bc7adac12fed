//! Derived results: computed once, kept by content, dropped when nobody wants them.

use std::path::Path;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use twinwedge_core::document::{FilmId, ReadingsSource, ScanId, ScanKind, Series, StripShape, TabletId};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::problem::Problem;
use twinwedge_workbench::engine::ask::{ComparisonOf, CurveOf, FiguresOf, StripOf};
use twinwedge_workbench::engine::{
    Computation, Key, Kind, NoAnswer, Query, Question, Slot, Table, Tables, View,
};
use twinwedge_workbench::session::{Edit, Session};

use crate::support::{entry, preview, session, typed_film, typed_series, write_tiff};

/// Peeks until `done` finds what it waits for.
fn peek_until<Q: Query, T>(
    session: &Session,
    query: &Q,
    mut done: impl FnMut(Slot<Q::Output>) -> Option<T>,
) -> T {
    let start = Instant::now();
    loop {
        if let Some(found) = done(session.peek(query)) {
            return found;
        }
        assert!(start.elapsed() < Duration::from_secs(60), "{query:?} takes too long");
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn ready<T>(slot: Slot<T>) -> Option<std::sync::Arc<T>> {
    match slot {
        Slot::Ready(value) => Some(value),
        Slot::Failed(problem) => panic!("{problem}"),
        Slot::Stale(..) | Slot::Pending(_) => None,
    }
}

fn counts(session: &Session) -> Vec<u64> {
    Kind::ALL.iter().map(|kind| session.computations(*kind)).collect()
}

fn wait_for_all(session: &Session) {
    let films: Vec<FilmId> = session.series().candidates().map(|film| film.id.clone()).collect();
    for film in films {
        session.wait(&ComparisonOf { film }).unwrap();
    }
}

fn nudge(film: usize, step: usize) -> Edit {
    Edit::new("correct a reading", move |series| {
        if let ReadingsSource::Typed(readings) = &mut series.films[film].strips[0].readings {
            readings[step].density += 0.01;
        }
    })
}

#[test]
fn five_hundred_films_compare_and_one_edit_refits_one() {
    let mut session = session(typed_series(500), Path::new(""));
    let start = Instant::now();
    wait_for_all(&session);
    println!("500 films compared in {:.1} s", start.elapsed().as_secs_f64());
    assert_eq!(session.computations(Kind::CurveOf), 500);
    assert_eq!(session.computations(Kind::ComparisonOf), 499);
    for film in &session.series().films {
        session.wait(&CurveOf { film: film.id.clone() }).unwrap();
    }

    session.apply(nudge(250, 5)).unwrap();
    let start = Instant::now();
    wait_for_all(&session);
    println!("after one edit in {:.3} s", start.elapsed().as_secs_f64());
    assert_eq!(session.computations(Kind::CurveOf), 501);
    assert_eq!(session.computations(Kind::ComparisonOf), 500);
    assert!(session.problems().len() > 500, "each film says that it has no print");
}

#[test]
fn undo_and_redo_recompute_nothing() {
    let mut session = session(typed_series(4), Path::new(""));
    wait_for_all(&session);
    let first = session.wait(&CurveOf { film: FilmId::from("Plover 1") }).unwrap();
    session.apply(nudge(1, 5)).unwrap();
    wait_for_all(&session);
    let all = counts(&session);
    session.undo();
    wait_for_all(&session);
    let again = session.wait(&CurveOf { film: FilmId::from("Plover 1") }).unwrap();
    assert!(std::sync::Arc::ptr_eq(&first, &again));
    session.redo();
    wait_for_all(&session);
    assert_eq!(counts(&session), all);
}

#[test]
fn a_change_that_leaves_the_values_goes_no_further() {
    let mut session = session(typed_series(2), Path::new(""));
    wait_for_all(&session);
    let before = (session.computations(Kind::ReadingsOf), session.computations(Kind::CurveOf));
    session
        .apply(Edit::new("rename the tablet", |series| {
            series.tablets.get_mut(&TabletId::from("tablet")).unwrap().label = "tablet 7".to_owned();
        }))
        .unwrap();
    session.apply(Edit::new("aperture", |series| series.settings.aperture_um = 24.0)).unwrap();
    session.apply(Edit::new("notes", |series| series.films[1].notes = "good".to_owned())).unwrap();
    wait_for_all(&session);
    let after = (session.computations(Kind::ReadingsOf), session.computations(Kind::CurveOf));
    assert_eq!(after, (before.0 + 2, before.1), "readings are looked at anew, and no curve is fitted anew");
}

/// Two films whose strips are scanned: eleven uniform areas from light to dark, 60 pixels each.
fn strips(folder: &Path) -> Series {
    let mut series = typed_series(0);
    series.tablets.insert(TabletId::from("tablet"), twinwedge_core::document::Tablet::nominal(11).unwrap());
    for (label, lightest) in [("Tern 160", 50_000.0), ("Plover 640", 42_000.0)] {
        let name = format!("{label}.tif");
        write_tiff(&folder.join(&name), 700, 100, |x, y| {
            let step = (f64::from(x) - 20.0).max(0.0) / 60.0;
            let grain = f64::from((x * 7 + y * 13) % 11) * 4.0;
            (lightest * 0.78_f64.powf(10.0 - step.floor().min(10.0)) + grain) as u16
        });
        let scan = ScanId::from(label);
        series.scans.insert(scan.clone(), entry(folder, &name, ScanKind::Film));
        let mut film = typed_film(label, 0.6, -2.0);
        let quad = Quad::upright(Rect { min: Point::new(20.0, 10.0), max: Point::new(680.0, 90.0) });
        film.strips = vec![ReadingsSource::Strip { scan, shape: StripShape::new(quad, 11) }.into()];
        series.films.push(film);
    }
    series.reference = Some(FilmId::from("Tern 160"));
    series
}

fn move_corner(series: &mut Series, film: usize, by: f64) {
    if let ReadingsSource::Strip { shape, .. } = &mut series.films[film].strips[0].readings {
        shape.quad.corners[0].y += by;
    }
}

#[test]
fn dragging_one_corner_samples_and_fits_that_film_alone() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(strips(folder.path()), folder.path());
    wait_for_all(&session);
    let at = |kind| session.computations(kind);
    let kinds =
        [Kind::ScanOf, Kind::ToneOf, Kind::StripOf, Kind::ReadingsOf, Kind::CurveOf, Kind::DrawnFiguresOf];
    let before = kinds.map(at);
    assert_eq!(before, [2, 2, 2, 2, 2, 2]);
    session.begin("move a corner");
    for position in 1..=3 {
        preview(&mut session, |series| move_corner(series, 1, f64::from(position)));
        wait_for_all(&session);
    }
    session.commit();
    wait_for_all(&session);
    assert_eq!(kinds.map(|kind| session.computations(kind)), [2, 2, 5, 5, 5, 5]);
    session.undo();
    wait_for_all(&session);
    assert_eq!(kinds.map(|kind| session.computations(kind)), [2, 2, 5, 5, 5, 5]);
}

#[test]
fn scans_leave_memory_and_their_numbers_stay() {
    let folder = tempfile::tempdir().unwrap();
    let mut series = strips(folder.path());
    for number in 0..6 {
        let mut film = series.films[1].clone();
        film.id = FilmId(format!("Dunlin {number}"));
        let name = format!("dunlin-{number}.tif");
        std::fs::copy(folder.path().join("Plover 640.tif"), folder.path().join(&name)).unwrap();
        let scan = ScanId(name.clone());
        series.scans.insert(scan.clone(), entry(folder.path(), &name, ScanKind::Film));
        if let ReadingsSource::Strip { scan: of, .. } = &mut film.strips[0].readings {
            *of = scan;
        }
        series.films.push(film);
    }
    let session = session(series, folder.path());
    session.set_memory(400_000);
    wait_for_all(&session);
    // Two of 140 000 bytes stay in any case.
    assert!(session.memory() <= 400_000, "{}", session.memory());
    let before = counts(&session);
    wait_for_all(&session);
    for film in session.series().films.clone() {
        session.wait(&StripOf { film: film.id, strip: 0 }).unwrap();
    }
    assert_eq!(counts(&session), before, "no scan is read again for numbers that are known");
}

#[test]
fn old_values_are_shown_until_the_new_are_there() {
    let mut session = session(typed_series(2), Path::new(""));
    let ask = CurveOf { film: FilmId::from("Plover 1") };
    let old = peek_until(&session, &ask, ready);
    session.apply(nudge(1, 5)).unwrap();
    match session.peek(&ask) {
        Slot::Stale(shown, _) => assert!(std::sync::Arc::ptr_eq(&shown, &old)),
        other => panic!("{other:?}"),
    }
    let new = peek_until(&session, &ask, ready);
    assert_ne!(new.curve.readings, old.curve.readings);
    session.undo();
    assert!(matches!(session.peek(&ask), Slot::Ready(shown) if std::sync::Arc::ptr_eq(&shown, &old)));
}

#[test]
fn a_figure_without_its_measurement_says_why() {
    let session = session(typed_series(1), Path::new(""));
    let figures = session.wait(&FiguresOf { film: FilmId::from("Tern 160") }).unwrap();
    let undefined: Vec<_> = figures.figures.values().filter(|value| value.known().is_none()).collect();
    assert!(!undefined.is_empty());
    for value in undefined {
        let twinwedge_core::measured::Value::Undefined(reason) = value else { continue };
        assert!(reason.to_string().len() > 10, "{reason}");
    }
}

/// A question with a behaviour of its own, remembered apart: to test the engine itself.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Probe {
    /// Apart from all other tests.
    name: &'static str,
    acts: Acts,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
enum Acts {
    Panics,
    /// Goes on until it is told to stop.
    Endless,
    /// Made from the title; goes on until it is told to stop where that is 'slow'.
    OfTitle,
    /// Takes a moment, then answers the title.
    Slowly,
}

static PROBES: LazyLock<Table<Probe>> = LazyLock::new(Table::default);
static DROPPED: AtomicU64 = AtomicU64::new(0);

impl Question for Probe {
    type Output = String;
    const KIND: Kind = Kind::GrainOf;

    fn table(_: &Tables) -> &Table<Self> {
        &PROBES
    }
    fn weigh(output: &String, _: Key) -> (Key, usize) {
        Key::weighed(output)
    }
}

impl Query for Probe {
    /// The title, where it is made from that.
    type Inputs = (&'static str, Acts, Option<String>);

    fn label(&self, _: &Series) -> String {
        format!("Probing {}", self.name)
    }
    fn inputs(&self, view: &View<'_>) -> Result<Self::Inputs, NoAnswer> {
        let title = match self.acts {
            Acts::OfTitle | Acts::Slowly => Some(view.series().title.clone()),
            Acts::Panics | Acts::Endless => None,
        };
        Ok((self.name, self.acts, title))
    }
    fn compute((_, acts, title): &Self::Inputs, work: &Computation<'_>) -> Result<String, NoAnswer> {
        let title = title.clone().unwrap_or_default();
        match acts {
            Acts::Panics => panic!("the probe broke"),
            Acts::Slowly => std::thread::sleep(Duration::from_millis(20)),
            Acts::OfTitle if title != "slow" => {}
            Acts::OfTitle | Acts::Endless => {
                while work.progress(0.25) {
                    std::thread::sleep(Duration::from_millis(1));
                }
                DROPPED.fetch_add(1, Ordering::SeqCst);
                return Err(NoAnswer::Dropped);
            }
        }
        Ok(title)
    }
}

fn failed<T>(slot: Slot<T>) -> Option<Problem> {
    match slot {
        Slot::Failed(problem) => Some(problem),
        Slot::Ready(_) => panic!("it is there"),
        Slot::Stale(..) | Slot::Pending(_) => None,
    }
}

fn retitle(title: &'static str) -> Edit {
    Edit::new("title", move |series| series.title = title.to_owned())
}

#[test]
fn a_panic_becomes_a_problem_and_everything_else_goes_on() {
    let session = session(typed_series(2), Path::new(""));
    let probe = Probe { name: "panic", acts: Acts::Panics };
    let problem = peek_until(&session, &probe, failed);
    let text = problem.to_string();
    assert!(text.contains("Probing panic") && text.contains("fault of this program"), "{text}");
    assert!(
        !text.contains("the probe broke"),
        "what a fault says of itself means nothing to a reader: {text}"
    );
    assert!(session.wait(&probe).is_err());
    assert_eq!(session.computations(Kind::GrainOf), 1, "a failure is remembered too");
    wait_for_all(&session);
}

#[test]
fn work_is_shown_and_cancelled_until_it_is_asked_for_again() {
    let mut session = session(typed_series(1), Path::new(""));
    let probe = Probe { name: "cancel", acts: Acts::Endless };
    let cancel = |session: &Session| {
        let work = peek_until(session, &probe, |_| session.work().into_iter().next());
        assert_eq!(work.label, "Probing cancel");
        assert_eq!(work.progress.done, Some(0.25));
        assert!(work.seconds_left.is_some());
        session.cancel(work.id);
        let problem = peek_until(session, &probe, failed);
        assert!(problem.cause.contains("cancelled"), "{problem}");
        assert!(session.work().is_empty());
    };
    cancel(&session);
    session.retry();
    assert!(matches!(session.peek(&probe), Slot::Pending(_)));
    cancel(&session);
    session.apply(retitle("an edit")).unwrap();
    assert!(matches!(session.peek(&probe), Slot::Pending(_)));
    cancel(&session);
}

#[test]
fn work_that_nobody_wants_any_more_stops_and_the_rest_goes_on() {
    let mut session = session(typed_series(1), Path::new(""));
    let endless = Probe { name: "goes on", acts: Acts::Endless };
    let titled = Probe { name: "stops", acts: Acts::OfTitle };
    session.apply(retitle("slow")).unwrap();
    assert!(matches!(session.peek(&endless), Slot::Pending(_)));
    peek_until(&session, &titled, |_| (session.work().len() == 2).then_some(()));
    let before = DROPPED.load(Ordering::SeqCst);
    session.apply(retitle("quick")).unwrap();
    let answer = peek_until(&session, &titled, ready);
    assert_eq!(*answer, "quick");
    assert!(DROPPED.load(Ordering::SeqCst) > before);
    assert!(session.work().iter().any(|work| work.label == "Probing goes on"));
}

#[test]
fn a_drag_never_builds_a_queue() {
    let mut session = session(typed_series(1), Path::new(""));
    let probe = Probe { name: "drag", acts: Acts::Slowly };
    session.begin("drag");
    for position in 0..200 {
        preview(&mut session, |series| series.title = format!("at {position}"));
        session.peek(&probe);
        std::thread::sleep(Duration::from_millis(1));
    }
    session.commit();
    let answer = peek_until(&session, &probe, ready);
    assert_eq!(*answer, "at 199");
    let made = session.computations(Kind::GrainOf);
    assert!(made < 100, "{made} were made of 200");
}

#[test]
fn many_that_wait_for_one_answer_compute_it_once() {
    let session = session(typed_series(1), Path::new(""));
    let probe = Probe { name: "together", acts: Acts::Slowly };
    std::thread::scope(|scope| {
        for _ in 0..8 {
            scope.spawn(|| session.wait(&probe).unwrap());
        }
    });
    assert_eq!(session.computations(Kind::GrainOf), 1);
}

#[test]
fn news_call_for_a_frame() {
    let session = session(typed_series(1), Path::new(""));
    let (news, heard) = std::sync::mpsc::channel();
    session.on_news(move || news.send(()).unwrap_or_default());
    session.peek(&Probe { name: "news", acts: Acts::Slowly });
    heard.recv_timeout(Duration::from_secs(60)).unwrap();
}
