//! Scans through the engine: mixed channels, a calibration of the wrong kind, stray light, drift, a second scan of the tablet,
//! prints scanned at other resolutions. Files are written by formulas here; what they must read follows from these.

use std::path::Path;

use twinwedge_core::document::{
    Calibration, CalibrationId, Channel, Film, FilmId, KnownPatch, PrintChoice, ScanEntry, ScanId, ScanKind,
    Series, Spot, StripShape, Tablet, TabletId, TabletStep,
};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::measured::{Flags, Measured};
use twinwedge_core::problem::Severity;
use twinwedge_core::scan::NoiseSource;
use twinwedge_core::units::Density;
use twinwedge_workbench::engine::ask::{CalibrationOf, DriftOf, RegistrationOf, SpotsOf};
use twinwedge_workbench::session::{Edit, Session};

use crate::support::{entry, session, write_tiff};

const FILM: &str = "Tern 160";
const STEPS: u32 = 16;
/// A step's width, and the rim around the strip, in pixels.
const STEP: u32 = 40;
const RIM: u32 = 20;

/// A scanner whose codes go with a power of light.
fn code(light: f64) -> f64 {
    500.0 + 60_000.0 * light.powf(0.6)
}

fn step_density(step: u32) -> f64 {
    0.05 + 0.2 * f64::from(step)
}

/// Light of the tablet's scan: steps on a ground of `ground`.
fn tablet_light(x: u32, y: u32, ground: f64) -> f64 {
    let inside = (RIM..RIM + STEPS * STEP).contains(&x) && (RIM..RIM + 100).contains(&y);
    if inside { 10_f64.powf(-step_density((x - RIM) / STEP)) } else { ground }
}

fn tablet_size() -> (u32, u32) {
    (2 * RIM + STEPS * STEP, 2 * RIM + 100)
}

/// Even noise of mean zero and variance one, the same for the same numbers.
fn noise(x: u32, y: u32, seed: u32) -> f64 {
    let mut state =
        x.wrapping_mul(0x9E37_79B9) ^ y.wrapping_mul(0x85EB_CA6B) ^ seed.wrapping_mul(0xC2B2_AE35);
    for _ in 0..3 {
        state ^= state >> 16;
        state = state.wrapping_mul(0x7FEB_352D);
    }
    (f64::from(state >> 8) / f64::from(1_u32 << 24) - 0.5) * 12_f64.sqrt()
}

/// A series of one film with a print in which one spot is read, and a calibration of prints by a known tablet.
fn series(folder: &Path, print: ScanEntry) -> Series {
    let mut series = Series::default();
    let step = |step| TabletStep { density: step_density(step), u: Some(0.002) };
    let tablet = Tablet {
        label: "sixteen steps".to_owned(),
        nominal: false,
        shared_u: 0.0,
        steps: (0..STEPS).map(step).collect(),
    };
    series.tablets.insert(TabletId::from("tablet"), tablet);
    let (left, top) = (f64::from(RIM), f64::from(RIM));
    let strip = Rect::between(Point::new(left, top), Point::new(left + f64::from(STEPS * STEP), top + 100.0));
    let made = Calibration::new(
        "prints".to_owned(),
        ScanId::from("tablet scan"),
        StripShape::new(Quad::upright(strip), STEPS),
        TabletId::from("tablet"),
    );
    series.scans.insert(ScanId::from("tablet scan"), entry(folder, "tablet.tif", ScanKind::Print));
    series.calibrations.insert(CalibrationId::from("prints"), made);
    series.scans.insert(ScanId::from("print"), print);
    let mut film = Film::named(FilmId::from(FILM), FILM);
    film.print = Some(PrintChoice::new(ScanId::from("print")));
    series.reference = Some(film.id.clone());
    series.films.push(film);
    series.spots.push(Spot { name: "spot".to_owned(), at: Point::new(100.0, 60.0), radius: 12.0 });
    series
}

fn spot(session: &Session) -> Measured<Density> {
    session.wait(&SpotsOf { film: FilmId::from(FILM) }).unwrap()[0].sample.density
}

fn change(session: &mut Session, change: impl FnOnce(&mut ScanEntry) + Send + 'static) {
    let edit = Edit::new("change the scan", move |series: &mut Series| {
        change(series.scans.get_mut(&ScanId::from("print")).unwrap());
    });
    session.apply(edit).unwrap();
}

fn write_tablet(path: &Path, veil: f64, ground: f64, seed: u32) {
    let (width, height) = tablet_size();
    write_tiff(path, width, height, |x, y| {
        (code(tablet_light(x, y, ground) + veil) + 30.0 * noise(x, y, seed)).round() as u16
    });
}

/// A print of one density but for a spot of another.
fn write_print(path: &Path, ground: f64, of_spot: f64, veil: f64) {
    write_tiff(path, 200, 120, |x, y| {
        let near = (f64::from(x) - 100.0).hypot(f64::from(y) - 60.0) < 25.0;
        let light = 10_f64.powf(-if near { of_spot } else { ground });
        (code(light + veil) + 30.0 * noise(x, y, 9)).round() as u16
    });
}

/// Light of a channel is that of its code (IEC 61966-2-1); a mix is the weighted mean of light, not of codes.
#[test]
fn a_mix_of_channels_is_a_mix_of_light() {
    let folder = tempfile::tempdir().unwrap();
    let codes = [52_000_u16, 31_000, 9_000];
    let pixels: Vec<u16> = (0..200 * 120).flat_map(|_| codes).collect();
    let file = std::fs::File::create(folder.path().join("print.tif")).unwrap();
    let mut encoder = tiff::encoder::TiffEncoder::new(file).unwrap();
    encoder.write_image::<tiff::encoder::colortype::RGB16>(200, 120, &pixels).unwrap();
    write_tablet(&folder.path().join("tablet.tif"), 0.0, 1.0, 1);
    let print = entry(folder.path(), "print.tif", ScanKind::Print);
    let mut session = session(series(folder.path(), print), folder.path());
    let light = |code: u16| {
        let v = f64::from(code) / 65_535.0;
        if v <= 0.040_45 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
    };
    for (channel, weights) in [
        (Channel::Red, [1.0, 0.0, 0.0]),
        (Channel::Blue, [0.0, 0.0, 1.0]),
        (Channel::Mix { red: 1, green: 2, blue: 1 }, [0.25, 0.5, 0.25]),
        (Channel::LUMINANCE, [0.2126, 0.7152, 0.0722]),
    ] {
        change(&mut session, move |entry| entry.channel = channel);
        let mean: f64 = codes.iter().zip(weights).map(|(code, weight)| weight * light(*code)).sum();
        let read = spot(&session).number();
        assert!((read + mean.log10()).abs() < 5e-4, "{channel:?}: {read} for {}", -mean.log10());
    }
    change(&mut session, |entry| entry.channel = Channel::Mix { red: 0, green: 0, blue: 0 });
    let problem = session.wait(&SpotsOf { film: FilmId::from(FILM) }).unwrap_err();
    assert!(problem.cause.contains("no weight"), "{problem}");
}

#[test]
fn a_calibration_of_the_wrong_kind_is_an_error_and_its_densities_are_marked() {
    let folder = tempfile::tempdir().unwrap();
    write_tablet(&folder.path().join("tablet.tif"), 0.0, 1.0, 1);
    write_print(&folder.path().join("print.tif"), 0.1, 1.2, 0.0);
    let mut print = entry(folder.path(), "print.tif", ScanKind::Print);
    print.calibration = Some(CalibrationId::from("prints"));
    let mut session = session(series(folder.path(), print), folder.path());
    let told = |session: &Session| {
        let problems = session.check();
        problems
            .iter()
            .any(|problem| problem.severity == Severity::Error && problem.cause.contains("other kind"))
    };
    assert!(!told(&session), "a print through a calibration of prints");
    let read = spot(&session);
    assert!((read.number() - 1.2).abs() < 0.01 && !read.flags.contains(Flags::UNCALIBRATED), "{read:?}");
    let edit = Edit::new("call the tablet's scan film", |series: &mut Series| {
        series.scans.get_mut(&ScanId::from("tablet scan")).unwrap().kind = ScanKind::Film;
    });
    session.apply(edit).unwrap();
    assert!(told(&session), "a print through a calibration of film");
    assert!(spot(&session).flags.contains(Flags::UNCALIBRATED));
}

/// Stray light in proportion to the mean light of a frame: of a bright print there is more of it than of the tablet that the
/// table was made from. With a hundredth of it straying, a spot of 1.5 reads 0.08 too thin; corrected, it reads as it is.
#[test]
fn stray_light_beyond_that_of_the_tablet_is_taken_off() {
    const STRAYS: f64 = 0.01;
    let folder = tempfile::tempdir().unwrap();
    let (width, height) = tablet_size();
    let all = (0..height).flat_map(|y| (0..width).map(move |x| tablet_light(x, y, 0.02)));
    let of_tablet = STRAYS * all.sum::<f64>() / f64::from(width * height);
    write_tablet(&folder.path().join("tablet.tif"), of_tablet, 0.02, 1);
    let round = std::f64::consts::PI * 25.0 * 25.0 / (200.0 * 120.0);
    let mean = (1.0 - round) * 10_f64.powf(-0.05) + round * 10_f64.powf(-1.5);
    write_print(&folder.path().join("print.tif"), 0.05, 1.5, STRAYS * mean);
    let mut print = entry(folder.path(), "print.tif", ScanKind::Print);
    print.calibration = Some(CalibrationId::from("prints"));
    let mut session = session(series(folder.path(), print), folder.path());
    let as_read = spot(&session).number();
    let expected = -(10_f64.powf(-1.5) + STRAYS * mean - of_tablet).log10();
    assert!((as_read - expected).abs() < 0.015, "{as_read} for {expected}");
    change(&mut session, |entry| entry.flare_corrected = true);
    let corrected = spot(&session);
    println!("as read {as_read:.3}, corrected {:.3} ± {:.3}, true 1.500", corrected.number(), corrected.u);
    assert!((corrected.number() - 1.5).abs() < 0.02, "{corrected:?}");
}

/// A scanner that reads everything 0.04 too dense: its known patch tells, and shifts all other densities by as much.
#[test]
fn an_applied_drift_shifts_all_densities() {
    let folder = tempfile::tempdir().unwrap();
    write_tablet(&folder.path().join("tablet.tif"), 0.0, 1.0, 1);
    write_print(&folder.path().join("print.tif"), 0.30 + 0.04, 1.2 + 0.04, 0.0);
    let mut print = entry(folder.path(), "print.tif", ScanKind::Print);
    print.calibration = Some(CalibrationId::from("prints"));
    let area = Rect::between(Point::new(10.0, 10.0), Point::new(50.0, 50.0));
    print.known = Some(KnownPatch { area, density: 0.30, u: 0.002, applied: false });
    let mut session = session(series(folder.path(), print), folder.path());
    let drift = session.wait(&DriftOf { scan: ScanId::from("print") }).unwrap();
    assert!((drift.difference.number() - 0.04).abs() < 0.005, "{drift:?}");
    assert!((spot(&session).number() - 1.24).abs() < 0.008);
    let doubtful = |session: &Session| {
        session.check().into_iter().find(|problem| problem.cause.contains("known patch")).map(|p| p.severity)
    };
    assert_eq!(doubtful(&session), Some(Severity::Doubt));
    change(&mut session, |entry| entry.known.as_mut().unwrap().applied = true);
    assert!((spot(&session).number() - 1.2).abs() < 0.008, "{:?}", spot(&session));
    assert_eq!(doubtful(&session), Some(Severity::Note), "worth knowing, no longer in doubt");
}

/// The tablet has a grain of its own, the same in both scans: one scan takes it for noise, two tell it apart. Codes have noise
/// of 30: of variance 900.
#[test]
fn a_second_scan_tells_the_scanners_noise_from_the_tablets_grain() {
    let folder = tempfile::tempdir().unwrap();
    let (width, height) = tablet_size();
    for (name, seed) in [("tablet.tif", 1), ("again.tif", 2)] {
        write_tiff(&folder.path().join(name), width, height, |x, y| {
            let grain = 60.0 * noise(x, y, 77);
            (code(tablet_light(x, y, 1.0)) + grain + 30.0 * noise(x, y, seed)).round() as u16
        });
    }
    write_print(&folder.path().join("print.tif"), 0.1, 1.2, 0.0);
    let print = entry(folder.path(), "print.tif", ScanKind::Print);
    let mut series = series(folder.path(), print);
    series.scans.insert(ScanId::from("again"), entry(folder.path(), "again.tif", ScanKind::Print));
    let mut session = session(series, folder.path());
    let spread = |session: &Session| {
        let fit = session.wait(&CalibrationOf { calibration: CalibrationId::from("prints") }).unwrap();
        let noise = fit.noise.as_ref().unwrap();
        let code = code(10_f64.powf(-step_density(4)));
        (noise.source, noise.code_variance(&fit.table, code).unwrap().sqrt())
    };
    let one = spread(&session);
    assert_eq!(one.0, NoiseSource::OneScan);
    assert!((one.1 / 30_f64.hypot(60.0) - 1.0).abs() < 0.15, "{one:?}");
    let edit = Edit::new("add the second scan", |series: &mut Series| {
        let made = series.calibrations.get_mut(&CalibrationId::from("prints")).unwrap();
        made.repeat = Some(ScanId::from("again"));
    });
    session.apply(edit).unwrap();
    let two = spread(&session);
    println!("noise from one scan {:.1}, from two {:.1}, true 30.0", one.1, two.1);
    assert_eq!(two.0, NoiseSource::TwoScans);
    assert!((two.1 / 30.0 - 1.0).abs() < 0.15, "{two:?}");
}

/// The same print scanned at 300 and at 690 dots per inch, 2.3 times as many pixels: laid on each other by what the scans say of
/// their resolution, and by a wider search where they say nothing, or what is not so.
#[test]
fn prints_scanned_at_other_resolutions_are_laid_on_each_other() {
    const RATIO: f64 = 2.3;
    let folder = tempfile::tempdir().unwrap();
    let waves: Vec<[f64; 4]> = (0..24)
        .map(|k| {
            let of = |seed| 0.5 + noise(k, 5, seed) / 12_f64.sqrt();
            let (f, a) = (std::f64::consts::TAU / (7.0 * 30_f64.powf(of(1))), std::f64::consts::TAU * of(2));
            [f * a.cos(), f * a.sin(), std::f64::consts::TAU * of(3), 0.012]
        })
        .collect();
    let scene = |x: f64, y: f64| {
        let waves: f64 = waves.iter().map(|[u, v, w, s]| s * (u * x + v * y + w).cos()).sum();
        0.3 + 2.0 * waves.clamp(-0.14, 0.14)
    };
    // A little further right and down on the second scan.
    let (dx, dy) = (11.0, -7.0);
    write_tiff(&folder.path().join("first.tif"), 340, 260, |x, y| {
        (code(scene(f64::from(x) + 0.5, f64::from(y) + 0.5)) + 200.0 * noise(x, y, 3)).round() as u16
    });
    write_tiff(&folder.path().join("second.tif"), 782, 598, |x, y| {
        let place = |k: u32, d: f64| (f64::from(k) + 0.5) / RATIO - d;
        (code(scene(place(x, dx), place(y, dy))) + 200.0 * noise(x, y, 4)).round() as u16
    });
    let mut series = Series::default();
    for (label, file) in [(FILM, "first.tif"), ("Plover 640", "second.tif")] {
        series.scans.insert(ScanId::from(file), entry(folder.path(), file, ScanKind::Print));
        let mut film = Film::named(FilmId::from(label), label);
        film.print = Some(PrintChoice::new(ScanId::from(file)));
        series.films.push(film);
    }
    series.reference = Some(FilmId::from(FILM));
    let mut session = session(series, folder.path());
    for (words, dpi) in [
        ("nothing is known", [None, None]),
        ("both say it", [Some(300.0), Some(690.0)]),
        ("one lies", [Some(300.0), Some(72.0)]),
    ] {
        let edit = Edit::new("set the resolution", move |series: &mut Series| {
            for (file, dpi) in ["first.tif", "second.tif"].into_iter().zip(dpi) {
                series.scans.get_mut(&ScanId::from(file)).unwrap().dpi = dpi;
            }
        });
        session.apply(edit).unwrap();
        let found = session.wait(&RegistrationOf { film: FilmId::from("Plover 640") });
        let found = found.unwrap_or_else(|problem| panic!("{words}: {problem}"));
        let places = [(20.0, 20.0), (300.0, 30.0), (170.0, 130.0), (40.0, 230.0), (300.0, 220.0)];
        let away = places.map(|(x, y)| {
            let at = found.transform.map(Point::new(x, y));
            (at.x - RATIO * (x + dx)).hypot(at.y - RATIO * (y + dy))
        });
        let worst = away.into_iter().fold(0.0, f64::max);
        println!("{words}: {worst:.3} px of the finer scan, u {:.3}, {:?}", found.u_px, found.doubts);
        // Pixels of the finer scan are 2.3 times as small as those that both have in common.
        assert!(worst < 0.5, "{words}: {worst}");
    }
}
