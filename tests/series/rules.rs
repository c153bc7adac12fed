//! What stands between the document and the measurements: exposures, uncertainties, flags, brackets, resolution.

use std::path::Path;

use twinwedge_core::document::{
    Bracket, BracketFrame, Exposure, Film, FilmId, GrainArea, ReadingsSource, ScanId, ScanKind, Series,
    ShadowDensity, TabletExposure, TabletId, TypedReading,
};
use twinwedge_core::figures::FigureId;
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::measured::Flags;
use twinwedge_core::units::STOP;
use twinwedge_workbench::engine::ask::{ComparisonOf, FiguresOf, GrainOf, ReadingsOf};
use twinwedge_workbench::session::{Edit, Session};

use crate::support::{entry, session, typed_film, typed_series, write_tiff};

fn near(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-12, "{a} against {b}");
}

fn exposed(exposure: Exposure) -> Option<TabletExposure> {
    Some(TabletExposure::new(TabletId::from("tablet"), exposure))
}

#[test]
fn log_exposure_is_light_less_tablet_density() {
    let mut series = typed_series(3);
    series.films[1].tablet_exposure = exposed(Exposure::Absolute { log_h: 0.5, u: 0.02 });
    series.films[2].tablet_exposure = exposed(Exposure::Relative { stops_less: 2.0 });
    series.tablets.get_mut(&TabletId::from("tablet")).unwrap().nominal = false;
    series.tablets.get_mut(&TabletId::from("tablet")).unwrap().steps[3].u = Some(0.004);
    let session = session(series, Path::new(""));
    let of =
        |film: usize| session.wait(&ReadingsOf { film: session.series().films[film].id.clone() }).unwrap();
    let (full, absolute, less) = (of(0), of(1), of(2));
    // The nominal 21-step tablet: 0.05 and on by 0.15.
    near(full.points[0].log_h, -0.05);
    near(full.points[20].log_h, -3.05);
    near(absolute.points[4].log_h, 0.5 - 0.65);
    // Two stops less of the same light lie two stops lower on the same axis.
    near(less.points[7].log_h, full.points[7].log_h - 2.0 * STOP);
    assert!(absolute.absolute && !full.absolute);
    assert_eq!((absolute.log_h_shared_u, full.log_h_shared_u), (0.02, 0.0));
    assert!(
        full.flags.contains(Flags::RELATIVE_EXPOSURE) && !absolute.flags.contains(Flags::RELATIVE_EXPOSURE)
    );
    assert!(!full.flags.contains(Flags::NOMINAL_TABLET));
    assert_eq!(
        (full.points[3].log_h_u, full.points[4].log_h_u),
        (0.004, 0.01),
        "its own, else that of a reading"
    );
    // Readings of two decimals: 0.01 of the instrument joined with 0.01 / sqrt(12) of rounding (JCGM 100:2008, 4.3.7).
    near(full.points[0].density_u, 0.01_f64.hypot(0.01 / 12.0_f64.sqrt()));
}

#[test]
fn a_nominal_tablet_marks_all_that_follows() {
    let session = session(typed_series(2), Path::new(""));
    let comparison = session.wait(&ComparisonOf { film: FilmId::from("Plover 1") }).unwrap();
    let row = comparison.rows.iter().find(|row| row.figure == FigureId::SpeedPoint).unwrap();
    assert!(row.difference.known().unwrap().flags.contains(Flags::NOMINAL_TABLET));
    assert!(session.problems().iter().any(|problem| problem.cause.contains("nominal")));
}

#[test]
fn readings_that_fit_no_tablet_are_problems_of_their_film() {
    let cause = |change: &dyn Fn(&mut Film)| {
        let mut series = typed_series(1);
        change(&mut series.films[0]);
        let session = session(series, Path::new(""));
        let problem = session.wait(&ReadingsOf { film: FilmId::from("Tern 160") }).unwrap_err();
        problem.cause.to_string()
    };
    assert!(cause(&|film| film.tablet_exposure = None).contains("which tablet"));
    assert!(cause(&|film| film.strips.clear()).contains("no step densities"));
    let one = TypedReading::new(1.0);
    assert!(
        cause(&|film| film.strips = vec![ReadingsSource::Typed(vec![one; 22]).into()])
            .contains("densities of 22 steps")
    );
    let lost = |film: &mut Film| film.tablet_exposure.as_mut().unwrap().tablet = TabletId::from("lost");
    assert!(cause(&lost).contains("not in the series"));
}

fn bracket(frames: &[(f64, f64)]) -> Option<Bracket> {
    let frame = |(index, density): &(f64, f64)| BracketFrame::typed(index.to_string(), *index, *density);
    Some(Bracket { frames: frames.iter().map(frame).collect(), u: Some(0.01) })
}

#[test]
fn shadows_are_matched_to_the_references_frame_at_its_box_speed() {
    let mut series = typed_series(2);
    series.films[0].box_speed = Some(160.0);
    series.films[0].bracket = bracket(&[(125.0, 0.42), (160.0, 0.36), (200.0, 0.31)]);
    // A tenth of density for each third of a stop: 0.36 lies on the frame of index 400.
    series.films[1].bracket = bracket(&[(320.0, 0.46), (400.0, 0.36), (500.0, 0.26)]);
    let mut session = session(series, Path::new(""));
    let index = |session: &Session, film: &str| {
        let figures = session.wait(&FiguresOf { film: FilmId::from(film) }).unwrap();
        figures.figures[&FigureId::ShadowMatchIndex].clone()
    };
    let reference = index(&session, "Tern 160");
    assert_eq!((reference.known().unwrap().value, reference.known().unwrap().u), (160.0, 0.0));
    // By net density the candidate's frame must be as much denser as its base+fog is.
    let base = |film: &str| {
        let figures = session.wait(&FiguresOf { film: FilmId::from(film) }).unwrap();
        figures.figures[&FigureId::BaseFog].known().unwrap().value
    };
    let net = 400.0 * 2.0_f64.powf(-(base("Plover 1") - base("Tern 160")) / 0.3);
    let matched = index(&session, "Plover 1");
    assert!((matched.known().unwrap().value - net).abs() < 1.0, "{matched:?} for {net}");
    session
        .apply(Edit::new("match", |series: &mut Series| series.settings.shadow_match = ShadowDensity::Gross))
        .unwrap();
    let matched = index(&session, "Plover 1");
    assert!((matched.known().unwrap().value - 400.0).abs() < 1.0, "{matched:?}");
    let no_box_speed = |series: &mut Series| series.films[0].box_speed = None;
    session.apply(Edit::new("box speed", no_box_speed)).unwrap();
    assert!(index(&session, "Plover 1").known().is_none());
}

/// A film with a plain grainy field, scanned without a resolution in the file.
fn grainy(folder: &Path) -> Series {
    let mut state = 7_u32;
    let noise: Vec<u16> = (0..400 * 400)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 22) as u16
        })
        .collect();
    write_tiff(&folder.join("field.tif"), 400, 400, |x, y| 20_000 + noise[(y * 400 + x) as usize]);
    let mut series = typed_series(0);
    let scan = ScanId::from("field");
    series.scans.insert(scan.clone(), entry(folder, "field.tif", ScanKind::Film));
    let mut film = typed_film("Tern 160", 0.6, -2.0);
    let area = Rect { min: Point::new(10.0, 10.0), max: Point::new(390.0, 390.0) };
    film.uniform_areas = vec![GrainArea::new(scan, area)];
    series.reference = Some(film.id.clone());
    series.films.push(film);
    series
}

#[test]
fn grain_needs_a_resolution_and_says_where_it_was_measured() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(grainy(folder.path()), folder.path());
    let ask = GrainOf { film: FilmId::from("Tern 160"), area: 0 };
    let problem = session.wait(&ask).unwrap_err();
    assert!(problem.cause.contains("resolution") && problem.remedy.contains("dots per inch"), "{problem}");

    let scan = |series: &mut Series, change: &dyn Fn(&mut twinwedge_core::document::ScanEntry)| {
        change(series.scans.get_mut(&ScanId::from("field")).unwrap());
    };
    session.apply(Edit::new("dpi", move |series| scan(series, &|entry| entry.dpi = Some(4000.0)))).unwrap();
    let on_film = session.wait(&ask).unwrap();
    near(on_film.pitch.0, 6.35);
    assert!(on_film.rms.flags.contains(Flags::RESOLUTION_TYPED | Flags::UNCALIBRATED));
    assert!(!on_film.rms.flags.contains(Flags::FROM_PRINT));

    // The same pixels as a print of fourfold enlargement: a quarter of the distance on the film.
    session
        .apply(Edit::new("print", move |series| {
            series.conditions.enlargement = Some(4.0);
            scan(series, &|entry| {
                entry.kind = ScanKind::Print;
                entry.dpi = Some(1000.0);
            });
        }))
        .unwrap();
    let on_print = session.wait(&ask).unwrap();
    near(on_print.pitch.0, 6.35);
    near(on_print.rms.value, on_film.rms.value);
    assert!(on_print.rms.flags.contains(Flags::FROM_PRINT));
}
