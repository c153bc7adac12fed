//! A series in which every kind of question has something to answer, on scans so small that all of it takes a moment.

use std::sync::LazyLock;

use tempfile::TempDir;
use tiff::encoder::TiffEncoder;
use tiff::encoder::colortype::Gray8;
use twinwedge_core::document::{
    Bracket, BracketFrame, Calibration, CalibrationId, EdgeArea, Film, FilmId, Gaps, GrainArea, GridShape,
    PaperTest, PatchLayout, PatchName, PatchRole, PrintChoice, ReadingsSource, ScanId, ScanKind, Series,
    Spot, Strip, StripLevel, StripShape, SubjectLight, Tablet, TabletId,
};
use twinwedge_core::geometry::{Point, Quad, Rect};

use crate::support::{entry, typed_film, typed_series};

/// Films of the series.
pub(super) const FILMS: usize = 5;

pub(super) fn rect(left: f64, top: f64, right: f64, bottom: f64) -> Rect {
    Rect { min: Point::new(left, top), max: Point::new(right, bottom) }
}

/// Noise of a place: -1 to 1.
fn noise(x: u32, y: u32, seed: u32) -> f64 {
    let mut mixed =
        x.wrapping_mul(0x9E37_79B1) ^ y.wrapping_mul(0x85EB_CA77) ^ seed.wrapping_mul(0xC2B2_AE3D);
    mixed ^= mixed >> 15;
    mixed = mixed.wrapping_mul(0x2C1B_3C6D);
    mixed ^= mixed >> 13;
    f64::from(mixed % 2001) / 1000.0 - 1.0
}

/// A scene: smooth noise of many frequencies, 0 to 1.
fn scene(x: f64, y: f64) -> f64 {
    let waves =
        [(0.11, 0.07, 0.3), (0.05, -0.13, 1.1), (0.31, 0.23, 2.0), (-0.41, 0.37, 0.7), (0.83, 0.59, 4.0)];
    let sum: f64 =
        waves.iter().map(|(u, v, phase)| (u * x + v * y + phase).sin() * (0.3 * u * y).cos()).sum();
    (0.5 + sum / 10.0).clamp(0.0, 1.0)
}

/// The scans, written once.
pub(super) static FOLDER: LazyLock<TempDir> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    // Of 8 bits: tables of 256 entries are made and compared in no time.
    let write = |name: &str, width: u32, height: u32, code: &dyn Fn(u32, u32) -> f64| {
        let places = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        let pixels: Vec<u8> = places.map(|(x, y)| (code(x, y) / 257.0) as u8).collect();
        let file = std::fs::File::create(folder.path().join(format!("{name}.tif"))).unwrap();
        let mut encoder = TiffEncoder::new(file).unwrap();
        encoder.write_image::<Gray8>(width, height, &pixels).unwrap();
    };
    for (name, lightest) in [("tablet", 60_000.0), ("strip", 45_000.0)] {
        write(name, 350, 50, &|x, y| {
            let step = ((f64::from(x) - 10.0).max(0.0) / 30.0).floor().min(10.0);
            lightest * 0.78_f64.powf(10.0 - step) + 20.0 * noise(x, y, 1)
        });
    }
    // A uniform area on the left, a slanted edge on the right.
    for (seed, name) in ["film", "film again"].into_iter().enumerate() {
        write(name, 320, 160, &|x, y| {
            let own = 1_800.0 * noise(x, y, 7) + 500.0 * noise(x, y, 20 + seed as u32);
            let dark = x > 160 && f64::from(x) > 235.0 + 0.09 * f64::from(y);
            own + if dark { 9_000.0 } else { 30_000.0 }
        });
    }
    for (seed, (name, shift)) in
        [("print a", 0.0), ("print b", 2.0), ("print c", -3.0)].into_iter().enumerate()
    {
        write(name, 240, 180, &|x, y| {
            let (x0, y0) = (f64::from(x) + shift, f64::from(y) + 0.5 * shift);
            8_000.0 + 40_000.0 * scene(x0, y0) + 600.0 * noise(x, y, 30 + seed as u32)
        });
    }
    folder
});

fn strip() -> StripShape {
    StripShape::new(Quad::upright(rect(10.0, 5.0, 340.0, 45.0)), 11)
}

/// Six greys, whose known densities follow what the scene shows in their places, and ten colours.
fn patches() -> PatchLayout {
    let roles = [PatchRole::GreyCard, PatchRole::White, PatchRole::Shadow];
    let of = |number: usize| {
        let (left, top) = (60.0 + 30.0 * (number % 4) as f64, 50.0 + 20.0 * (number / 4) as f64);
        let places = (0..300).map(|i| (left + f64::from(i % 20) + 5.0, top + f64::from(i / 20) + 2.5));
        let shown = places.map(|(x, y)| scene(x, y)).sum::<f64>() / 300.0;
        let grey = number < 6;
        PatchName {
            density: grey.then_some(2.0 * (1.0 - shown)),
            reflectance: (!grey).then(|| super::edits::reflects(number as u8)),
            ..PatchName::new(
                format!("patch {number}"),
                roles.get(number).copied().unwrap_or(if grey { PatchRole::Grey } else { PatchRole::Colour }),
            )
        }
    };
    PatchLayout {
        rows: 4,
        columns: 4,
        patches: (0..16).map(of).collect(),
        gaps: Gaps::default(),
        fixed: false,
    }
}

fn frame(name: &str, index: f64, scan: Option<&str>) -> BracketFrame {
    let mut frame = BracketFrame::typed(name, index, 0.9 - 0.3 * (index / 40.0).log2() / 3.0);
    frame.scan = scan.map(ScanId::from);
    frame
}

fn print(scan: &str) -> Option<PrintChoice> {
    Some(PrintChoice { exposure_s: Some(8.0), ..PrintChoice::new(ScanId::from(scan)) })
}

/// What is measured on scans of film and of prints.
fn measured(film: &mut Film, scan: &str, on_print: &str) {
    film.uniform_areas = [rect(8.0, 8.0, 108.0, 108.0), rect(108.0, 50.0, 208.0, 150.0)]
        .map(|area| GrainArea::new(ScanId::from(scan), area))
        .to_vec();
    film.edges = vec![EdgeArea { scan: ScanId::from(scan), area: rect(200.0, 30.0, 290.0, 130.0) }];
    film.print = print(on_print);
}

/// The reference, a candidate with a scanned strip and frames, another roll of it, a third film for detail, and one with more
/// readings than its tablet has steps.
pub(super) fn series() -> Series {
    let folder = FOLDER.path();
    let mut series = typed_series(FILMS);
    series.tablets.insert(TabletId::from("short"), Tablet::nominal(11).unwrap());
    let scans = [
        ("tablet", ScanKind::Film),
        ("strip", ScanKind::Film),
        ("film", ScanKind::Film),
        ("film again", ScanKind::Film),
    ];
    let prints = ["print a", "print b", "print c"].map(|name| (name, ScanKind::Print));
    for (name, kind) in scans.into_iter().chain(prints) {
        let mut entry = entry(folder, &format!("{name}.tif"), kind);
        entry.dpi = Some(2400.0);
        series.scans.insert(ScanId::from(name), entry);
    }
    let corners = strip().quad.corners;
    let turned = StripShape::new(Quad { corners: [corners[2], corners[3], corners[0], corners[1]] }, 11);
    let made =
        Calibration::new("scanner".to_owned(), ScanId::from("tablet"), turned, TabletId::from("short"));
    series.calibrations.insert(CalibrationId::from("scanner"), made);
    for name in ["strip", "film"] {
        series.scans.get_mut(&ScanId::from(name)).unwrap().calibration = Some(CalibrationId::from("scanner"));
    }
    for (film, speed) in series.films.iter_mut().zip([160.0, 640.0, 640.0, 40.0, 100.0]) {
        film.box_speed = Some(speed);
        film.process.temperature_c = Some(20.0);
    }
    measured(&mut series.films[0], "film", "print a");
    measured(&mut series.films[1], "film again", "print b");
    series.films[3].print = print("print c");
    series.films[0].print.as_mut().unwrap().grid =
        Some(GridShape::new(Quad::upright(rect(60.0, 50.0, 180.0, 130.0))));
    let mut bracket =
        vec![frame("1", 80.0, None), frame("2", 160.0, Some("print a")), frame("3", 320.0, Some("print c"))];
    bracket[1].patch = Some(Quad::upright(rect(90.0, 70.0, 140.0, 110.0)));
    // Outside of its scan.
    bracket[2].patch = Some(Quad::upright(rect(900.0, 900.0, 990.0, 990.0)));
    series.films[0].bracket = Some(Bracket { frames: bracket, u: None });
    // The first frame is found by the second of the reference, which was exposed most alike.
    let bracket = vec![frame("A", 160.0, Some("print b")), frame("B", 640.0, None), frame("C", 1280.0, None)];
    series.films[1].bracket = Some(Bracket { frames: bracket, u: Some(0.02) });
    series.films[1].strips =
        vec![ReadingsSource::Strip { scan: ScanId::from("strip"), shape: strip() }.into()];
    series.films[1].tablet_exposure.as_mut().unwrap().tablet = TabletId::from("short");
    series.films[1].process.minutes = Some(9.0);
    series.films[2].roll_of = Some(series.films[1].id.clone());
    series.films[2].process.minutes = Some(6.0);
    if let ReadingsSource::Typed(readings) = &mut series.films[4].strips[0].readings {
        readings.push(readings[20]);
    }
    let additional = typed_film("weak", 0.7, -2.0).strips.remove(0);
    series.films[3].strips.push(Strip {
        name: "weak".to_owned(),
        level: StripLevel::StopsLess { stops: 1.0, u: 0.05 },
        ..additional
    });
    series.layout = Some(patches());
    series.target.light = Some(SubjectLight::Incandescent(3_200.0));
    series.spots = vec![Spot { name: "cheek".to_owned(), at: Point::new(100.0, 80.0), radius: 6.0 }];
    series.paper = Some(paper());
    series.sharpness.scanner_edge =
        Some(EdgeArea { scan: ScanId::from("film"), area: rect(205.0, 20.0, 285.0, 140.0) });
    series.conditions.enlargement = Some(8.0);
    series.detail_area = Some(rect(40.0, 30.0, 168.0, 158.0));
    series
}

/// Readings of an S-shaped paper through the 21-step tablet.
fn paper() -> PaperTest {
    let tablet = Tablet::nominal(21).unwrap();
    let reading = |density: f64| {
        twinwedge_core::document::TypedReading::new(0.06 + 2.0 / (1.0 + (-4.0 * (1.4 - density)).exp()))
    };
    let steps = tablet.steps.iter().map(|step| reading(step.density)).collect();
    PaperTest {
        readings: Some(ReadingsSource::Typed(steps)),
        seconds: Some(8.0),
        ..PaperTest::through(TabletId::from("tablet"))
    }
}

/// A film by its place.
pub(super) fn id(film: usize) -> FilmId {
    typed_series(FILMS).films[film].id.clone()
}
