//! Files of a series: missing, changed, found again; recovery after a crash; the sample.

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant, SystemTime};

use twinwedge_core::document::{FilmId, PrintChoice, ScanId, ScanKind, Series};
use twinwedge_core::geometry::Point;
use twinwedge_core::problem::{Severity, Subject};
use twinwedge_workbench::engine::ask::{ScanOf, ScreenTones, TileOf, TilePicture};
use twinwedge_workbench::engine::{Kind, Slot};
use twinwedge_workbench::sample::{self, Sample};
use twinwedge_workbench::session::{Edit, Session};
use twinwedge_workbench::store;

use crate::support::{entry, session, typed_series, write_tiff};

/// Two films with prints: a slope of codes, the second darker.
fn prints(folder: &Path) -> Series {
    fs::create_dir_all(folder.join("scans")).unwrap();
    let mut series = typed_series(2);
    for (film, label) in ["a", "b"].into_iter().enumerate() {
        let name = format!("scans/{label}.tif");
        write_tiff(&folder.join(&name), 600, 300, |x, y| {
            (20_000 + x * 40 + y * 20 - film as u32 * 5_000) as u16
        });
        let scan = ScanId::from(label);
        series.scans.insert(scan.clone(), entry(folder, &name, ScanKind::Print));
        let corners = [Point::new(0.0, 0.0), Point::new(500.0, 0.0)];
        let pairs = (film == 1).then(|| corners.map(|corner| (corner, corner)));
        series.films[film].print = Some(PrintChoice { pairs, ..PrintChoice::new(scan) });
    }
    series
}

fn moved(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for file in fs::read_dir(from).unwrap() {
        let file = file.unwrap();
        fs::rename(file.path(), to.join(file.file_name())).unwrap();
    }
}

fn about_scan(session: &Session, scan: &str) -> Vec<(Severity, String)> {
    let subject = Subject::Scan(ScanId::from(scan));
    let of = session.check().into_iter().filter(|problem| problem.subject == subject);
    of.map(|problem| (problem.severity, problem.cause.to_string())).collect()
}

#[test]
fn a_missing_scan_is_a_problem_and_is_found_again_with_its_neighbours() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("series.twinwedge");
    session(prints(folder.path()), folder.path()).save_as(&path).unwrap();
    moved(&folder.path().join("scans"), &folder.path().join("attic"));

    let mut session = Session::open(&path).unwrap();
    session.set_recovery_folder(None);
    assert!(
        about_scan(&session, "a")
            .iter()
            .any(|(severity, cause)| *severity == Severity::Error && cause.contains("not there"))
    );
    assert!(session.wait(&ScanOf { scan: ScanId::from("a") }).is_err());
    let before = session.series().clone();

    let wrong = session.relocate(&ScanId::from("a"), &folder.path().join("attic/b.tif"), false).unwrap_err();
    assert_eq!(wrong.severity, Severity::Doubt);
    assert!(session.relocate(&ScanId::from("a"), &folder.path().join("nowhere.tif"), false).is_err());
    assert_eq!(*session.series(), before);

    session.relocate(&ScanId::from("a"), &folder.path().join("attic/a.tif"), false).unwrap();
    assert_eq!(session.series().scans[&ScanId::from("a")].path, "attic/a.tif");
    assert_eq!(
        session.series().scans[&ScanId::from("b")].path,
        "attic/b.tif",
        "its neighbour was found with it"
    );
    session.wait(&ScanOf { scan: ScanId::from("b") }).unwrap();
    assert!(about_scan(&session, "a").iter().all(|(severity, _)| *severity != Severity::Error));
    session.undo();
    assert_eq!(*session.series(), before);
}

#[test]
fn a_changed_scan_is_told_and_read_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(prints(folder.path()), folder.path());
    let scan = ScanOf { scan: ScanId::from("a") };
    let old = session.wait(&scan).unwrap();
    let changed = |(_, cause): &(Severity, String)| cause.contains("has changed");
    assert!(!about_scan(&session, "a").iter().any(changed));
    // Another picture in as many bytes: only its digest tells.
    write_tiff(&folder.path().join("scans/a.tif"), 600, 300, |x, _| x as u16);
    assert!(about_scan(&session, "a").iter().any(changed));
    let new = session.wait(&scan).unwrap();
    assert_ne!(old.samples, new.samples);

    // Without being asked to check, the session finds out by itself.
    write_tiff(&folder.path().join("scans/a.tif"), 60, 30, |_, _| 7);
    let start = Instant::now();
    let mut now = start;
    while !matches!(session.peek(&scan), Slot::Ready(read) if read.width == 60) {
        assert!(start.elapsed() < Duration::from_secs(60));
        now += Duration::from_secs(4);
        session.tick(now);
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn saving_elsewhere_keeps_scans_history_and_results() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(prints(folder.path()), folder.path());
    session.apply(Edit::new("title", |series| series.title = "moved".to_owned())).unwrap();
    session.wait(&ScanOf { scan: ScanId::from("a") }).unwrap();
    fs::create_dir(folder.path().join("deep")).unwrap();
    let path = folder.path().join("deep/series.twinwedge");
    session.save_as(&path).unwrap();
    assert_eq!(session.series().scans[&ScanId::from("a")].path, "../scans/a.tif");
    session.undo();
    assert_eq!(session.series().scans[&ScanId::from("a")].path, "../scans/a.tif");
    session.wait(&ScanOf { scan: ScanId::from("a") }).unwrap();
    assert_eq!(session.computations(Kind::ScanOf), 1);
    let opened = Session::open(&path).unwrap();
    opened.wait(&ScanOf { scan: ScanId::from("b") }).unwrap();
    assert_eq!(opened.series().title, "moved");
}

#[test]
fn the_pointer_reads_at_once_or_not_yet() {
    let folder = tempfile::tempdir().unwrap();
    let session = session(prints(folder.path()), folder.path());
    let (scan, at) = (ScanId::from("a"), Point::new(300.0, 150.0));
    let start = Instant::now();
    let first = loop {
        if let Some(sample) = session.sample_at(&scan, at, 8.0) {
            break sample.unwrap();
        }
        assert!(start.elapsed() < Duration::from_secs(60));
        std::thread::sleep(Duration::from_millis(1));
    };
    let start = Instant::now();
    for _ in 0..50 {
        assert_eq!(session.sample_at(&scan, at, 8.0).unwrap().unwrap(), first);
    }
    println!("one sample under the pointer: {:?}", start.elapsed() / 50);
    assert!(session.sample_at(&scan, Point::new(-90.0, 0.0), 8.0).unwrap().is_err());
}

#[test]
fn tiles_show_codes_by_their_density_and_differences_by_grey() {
    let folder = tempfile::tempdir().unwrap();
    let mut session = session(prints(folder.path()), folder.path());
    let film = session.series().films[1].id.clone();
    let tile = |session: &Session, picture: TilePicture, level, column| {
        let ask = TileOf { picture, level, column, row: 0, look: ScreenTones::default() };
        session.wait(&ask).unwrap()
    };
    let own = tile(&session, TilePicture::Scan(ScanId::from("b")), 0, 0);
    assert_eq!((own.width, own.height, own.rgba.len()), (512, 300, 512 * 300 * 4));
    // An sRGB scan shown by its densities is itself: code 15000 of 65535 is 58.4 of 255 (IEC 61966-2-1, there and back).
    assert_eq!(own.rgba[..4], [58, 58, 58, 255]);
    assert_eq!(tile(&session, TilePicture::Scan(ScanId::from("b")), 1, 0).width, 300);
    assert_eq!(
        *tile(&session, TilePicture::Registered(film.clone()), 0, 0),
        *own,
        "registered by hand onto itself"
    );
    let difference = tile(&session, TilePicture::Difference(film.clone()), 0, 0);
    assert!(
        difference.rgba.chunks(4).all(|pixel| pixel[0] < 128 && pixel[3] == 255),
        "the second print is darker"
    );
    // Shifted by hand: where the candidate's print does not reach, nothing is shown.
    let id = film.clone();
    session
        .apply(Edit::new("shift", move |series| {
            let pair = |x: f64| (Point::new(x, 0.0), Point::new(x - 100.0, 0.0));
            series.film_mut(&id).unwrap().print.as_mut().unwrap().pairs = Some([pair(100.0), pair(500.0)]);
        }))
        .unwrap();
    let shifted = tile(&session, TilePicture::Registered(film), 0, 0);
    assert_eq!((shifted.rgba[99 * 4 + 3], shifted.rgba[100 * 4 + 3]), (0, 255));
    let beyond = TileOf {
        picture: TilePicture::Scan(ScanId::from("b")),
        level: 0,
        column: 9,
        row: 0,
        look: ScreenTones::default(),
    };
    assert!(session.wait(&beyond).is_err());
}

/// Recovery files in a folder, in their order.
fn kept_files(recoveries: &Path) -> Vec<std::path::PathBuf> {
    let entries = fs::read_dir(recoveries).into_iter().flatten().flatten().map(|entry| entry.path());
    let mut files: Vec<_> =
        entries.filter(|path| path.extension().is_some_and(|ending| ending == "twinwedge")).collect();
    files.sort_unstable();
    files
}

/// The title of the newest series that is kept.
fn newest_kept(recoveries: &Path) -> Option<String> {
    let newest = kept_files(recoveries).pop()?;
    Some(store::recovery::read(&newest).ok()?.series.title)
}

#[test]
fn unsaved_changes_are_kept_and_offered() {
    let folder = tempfile::tempdir().unwrap();
    let recoveries = folder.path().join("recovery");
    let path = folder.path().join("series.twinwedge");
    let mut session = session(typed_series(2), folder.path());
    session.save_as(&path).unwrap();
    session.set_recovery_folder(Some(recoveries.clone()));
    let kept = || kept_files(&recoveries).len();
    let start = Instant::now();
    session.tick(start);
    for number in 0..8_u64 {
        session.apply(Edit::new("title", move |series| series.title = number.to_string())).unwrap();
        let at = start + Duration::from_secs(10 * (number + 1));
        session.tick(at);
        assert_eq!(
            session.tick(at + Duration::from_millis(500)),
            Duration::from_millis(1500),
            "not before it is quiet"
        );
        session.tick(at + Duration::from_secs(3));
        let until = Instant::now() + Duration::from_secs(60);
        let newest = number.to_string();
        while newest_kept(&recoveries).is_none_or(|title| title != newest) {
            assert!(Instant::now() < until, "recovery {number} was not written");
            std::thread::sleep(Duration::from_millis(2));
        }
        session.tick(at + Duration::from_secs(6));
    }
    let until = Instant::now() + Duration::from_secs(60);
    while kept() != store::recovery::KEPT {
        assert!(Instant::now() < until, "{} are kept", kept());
        std::thread::sleep(Duration::from_millis(2));
    }
    let series = session.series().clone();
    drop(session);

    let mut opened = Session::open(&path).unwrap();
    opened.set_recovery_folder(Some(recoveries.clone()));
    assert_ne!(*opened.series(), series);
    // The session that is gone holds its claim until what it last wrote is done.
    let until = Instant::now() + Duration::from_secs(60);
    let recovery = loop {
        if let Some(found) = opened.recoveries_of(&path).pop() {
            break found.recovery;
        }
        assert!(Instant::now() < until, "nothing is offered");
        std::thread::sleep(Duration::from_millis(2));
    };
    assert!(recovery.written <= SystemTime::now());
    let mut recovered = Session::recovered(recovery);
    recovered.set_recovery_folder(Some(recoveries.clone()));
    assert_eq!(*recovered.series(), series);
    assert!(recovered.unsaved());
    recovered.save().unwrap();
    assert_eq!(kept(), 0);
    assert_eq!(*Session::open(&path).unwrap().series(), series);
}

#[test]
fn the_sample_is_laid_out_again_when_it_was_changed() {
    let folder = tempfile::tempdir().unwrap();
    let path = sample::lay_out_in(Sample::Three, folder.path()).unwrap();
    let whole = fs::read(&path).unwrap();
    let scan = Session::open(&path).unwrap().series().scans.values().next().unwrap().path.clone();
    fs::write(&path, "scribbled over").unwrap();
    fs::remove_file(folder.path().join(scan)).unwrap();
    assert_eq!(sample::lay_out_in(Sample::Three, folder.path()).unwrap(), path);
    assert_eq!(fs::read(&path).unwrap(), whole);
    let session = Session::open(&path).unwrap();
    assert!(session.series().candidates().count() >= 2);
    let errors: Vec<_> =
        session.check().into_iter().filter(|problem| problem.severity == Severity::Error).collect();
    assert_eq!(errors, [], "the sample has no errors");
    assert!(session.series().reference == Some(FilmId::from("Tern 160")));
}

#[test]
fn a_sample_that_was_changed_and_saved_stays_beside_the_sample() {
    let folder = tempfile::tempdir().unwrap();
    let path = sample::lay_out_in(Sample::Three, folder.path()).unwrap();
    let whole = fs::read(&path).unwrap();
    for title in ["mine", "mine, too"] {
        let mut session = Session::open(&path).unwrap();
        session.set_recovery_folder(None);
        session.apply(Edit::new("title", move |series| series.title = title.to_owned())).unwrap();
        session.save().unwrap();
        sample::lay_out_in(Sample::Three, folder.path()).unwrap();
        assert_eq!(fs::read(&path).unwrap(), whole);
    }
    let stem = path.file_stem().unwrap().to_string_lossy();
    for (name, title) in [("changed", "mine"), ("changed 2", "mine, too")] {
        let kept = path.with_file_name(format!("{stem} ({name}).twinwedge"));
        assert_eq!(Session::open(&kept).unwrap().series().title, title);
    }
}
