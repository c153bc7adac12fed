//! Series of many films: each film takes as many computations and as much memory as one of few, and its scans are read once.

use std::path::Path;

use twinwedge_core::document::{
    Calibration, CalibrationId, FilmId, ReadingsSource, ScanId, ScanKind, Series, StripShape, Tablet,
    TabletId,
};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_workbench::engine::Kind;
use twinwedge_workbench::engine::ask::CurveOf;
use twinwedge_workbench::export::{FiguresText, figures_csv, figures_json, report_html};
use twinwedge_workbench::session::Session;

use crate::support::{entry, session, to_file, typed_film, typed_series, write_tiff};

const STEPS: u32 = 11;
/// Pixels of the scan of a strip.
const SCAN: (u32, u32) = (700, 100);
/// Bytes of its pixels.
const SCAN_BYTES: usize = 2 * 700 * 100;

fn counts(session: &Session) -> Vec<u64> {
    Kind::ALL.iter().map(|kind| session.computations(*kind)).collect()
}

/// Writes all figures, as the verb does, and gives how often answers of each kind were computed.
fn figures(session: &Session) -> Vec<u64> {
    FiguresText::of(session).unwrap().write(&mut std::io::sink()).unwrap();
    counts(session)
}

/// Typed films, each with readings of its own: what is made from equal curves is made once for all of them. Each has a box
/// speed, without which its zones cannot be had: what failed is tried again by the next check, and takes its curve again.
fn distinct(films: usize) -> Series {
    let mut series = typed_series(films);
    for (number, film) in series.films.iter_mut().enumerate() {
        film.box_speed = Some(160.0);
        let ReadingsSource::Typed(readings) = &mut film.strips[0].readings else {
            panic!("its readings are typed")
        };
        readings[0].density += 1e-5 * number as f64;
    }
    series
}

fn shape() -> StripShape {
    StripShape::new(Quad::upright(Rect { min: Point::new(20.0, 10.0), max: Point::new(680.0, 90.0) }), STEPS)
}

/// A scan of eleven uniform areas, each lighter than the one before, as one of the series.
fn scan(series: &mut Series, folder: &Path, name: &str, lightest: f64) -> ScanId {
    let file = format!("{name}.tif");
    write_tiff(&folder.join(&file), SCAN.0, SCAN.1, |x, y| {
        let step = ((f64::from(x) - 20.0).max(0.0) / 60.0).floor().min(10.0);
        let grain = f64::from((x * 7 + y * 13) % 11) * 4.0;
        (lightest * 0.78_f64.powf(10.0 - step) + grain) as u16
    });
    let id = ScanId::from(name);
    series.scans.insert(id.clone(), entry(folder, &file, ScanKind::Film));
    id
}

/// Films whose strips are scanned, all through one calibration.
fn scanned(films: usize, folder: &Path) -> Series {
    let mut series = typed_series(0);
    let tablet = TabletId::from("tablet");
    series.tablets.insert(tablet.clone(), Tablet::nominal(STEPS).unwrap());
    let of_tablet = scan(&mut series, folder, "the tablet", 60_000.0);
    // Step 1 of the tablet is its lightest, at the far end of the picture.
    let corners = shape().quad.corners;
    let turned = Quad { corners: [corners[2], corners[3], corners[0], corners[1]] };
    let calibration = CalibrationId::from("scanner");
    series.calibrations.insert(
        calibration.clone(),
        Calibration::new("scanner".to_owned(), of_tablet, StripShape::new(turned, STEPS), tablet),
    );
    for number in 0..films {
        let name = if number == 0 { "Tern 160".to_owned() } else { format!("Plover {number}") };
        let id = scan(&mut series, folder, &name, 40_000.0 + 40.0 * number as f64);
        series.scans.get_mut(&id).unwrap().calibration = Some(calibration.clone());
        let mut film = typed_film(&name, 0.6, -2.0);
        film.strips = vec![ReadingsSource::Strip { scan: id, shape: shape() }.into()];
        series.films.push(film);
    }
    series.reference = series.films.first().map(|film| film.id.clone());
    series
}

#[test]
fn a_film_among_many_takes_no_more_computations() {
    let of = |films: usize| {
        let session = session(distinct(films), Path::new(""));
        // A tenth of what 200 films take.
        session.set_curve_memory(2 << 20);
        figures(&session)
    };
    let (ten, twenty, two_hundred) = (of(10), of(20), of(200));
    for (kind, ((ten, twenty), two_hundred)) in
        Kind::ALL.iter().zip(ten.into_iter().zip(twenty).zip(two_hundred))
    {
        assert_eq!(two_hundred, ten + 19 * (twenty - ten), "{kind:?}: {ten} for 10 films, {twenty} for 20");
    }
}

#[test]
fn curves_leave_memory_and_their_figures_stay() {
    let session = session(distinct(200), Path::new(""));
    let budget = 2 << 20;
    session.set_curve_memory(budget);
    let before = figures(&session);
    let fitted = session.computations(Kind::CurveOf);
    assert_eq!(fitted, 200);
    let held = session.memory_of_results();
    assert!(held < budget + 200 * (64 << 10), "{held} bytes for 200 films");
    // Problems and comparisons are made from what stayed.
    let told = session.check().len();
    assert!(told >= 200, "each film says that it has no print: {told}");
    assert_eq!(session.problems().len(), told);
    figures_csv(&session).unwrap();
    assert_eq!(counts(&session), before);
    // The curve itself is made again where it is wanted.
    session.wait(&CurveOf { film: FilmId::from("Plover 1") }).unwrap();
    assert_eq!(session.computations(Kind::CurveOf), fitted + 1);
}

#[test]
fn each_scan_is_read_once_whatever_memory_holds() {
    let folder = tempfile::tempdir().unwrap();
    let series = scanned(40, folder.path());
    type Writer = fn(&Session);
    let writers: [(&str, Writer); 5] = [
        ("figures", |session| drop(figures(session))),
        ("table", |session| drop(figures_csv(session).unwrap())),
        ("check", |session| drop(session.check())),
        ("report on one page", |session| drop(report_html(session, None).unwrap())),
        ("report on many pages", |session| {
            let out = tempfile::tempdir().unwrap();
            to_file(session, None, &out.path().join("report.html")).unwrap();
        }),
    ];
    for (what, write) in writers {
        let session = session(series.clone(), folder.path());
        session.set_memory(3 * SCAN_BYTES);
        write(&session);
        let read = session.computations(Kind::ScanOf);
        // 40 strips and the tablet.
        assert_eq!(read, 41, "{what}");
        assert!(session.memory() <= 3 * SCAN_BYTES, "{what}: {} bytes", session.memory());
    }
}

#[test]
fn text_that_is_written_film_by_film_says_the_same() {
    let session = session(typed_series(3), Path::new(""));
    let mut text = Vec::new();
    FiguresText::of(&session).unwrap().write(&mut text).unwrap();
    let whole = serde_json::to_string_pretty(&figures_json(&session).unwrap()).unwrap();
    assert_eq!(String::from_utf8(text).unwrap(), whole + "\n");
}

/// [`Series::family`] is found in one pass; that it is what each film's head says is the definition.
#[test]
fn a_family_is_all_films_of_one_head() {
    let mut series = typed_series(9);
    let rolls = [
        (2, "Plover 1"),
        (3, "Plover 1"),
        // A roll of a roll, of a film that is not there, of itself, and of two each other's.
        (4, "Plover 2"),
        (5, "Godwit 1000"),
        (6, "Plover 6"),
        (7, "Plover 8"),
        (8, "Plover 7"),
    ];
    for (film, of) in rolls {
        series.films[film].roll_of = Some(FilmId::from(of));
    }
    let strangers = [FilmId::from("Godwit 1000"), FilmId::from("")];
    for id in series.films.iter().map(|film| &film.id).chain(&strangers) {
        let head = series.family_head(id);
        let by_head = series.films.iter().filter(|film| series.family_head(&film.id) == head);
        let by_head: Vec<&FilmId> = by_head.map(|film| &film.id).collect();
        let found: Vec<&FilmId> = series.family(id).map(|film| &film.id).collect();
        assert_eq!(found, by_head, "the family of {id:?}");
    }
}
