//! The series document, as a tester would have filled it in.

use std::collections::BTreeMap;

use twinwedge_core::document::{
    Bracket, BracketFrame, Calibration, CalibrationId, Conditions, EdgeArea, Exposure, FileDigest, Film,
    FilmId, GrainArea, GridShape, PrintChoice, Process, ReadingsSource, ReportChoices, ScanEntry, ScanId,
    ScanKind, Series, Spot, StripShape, SubjectLight, TabletExposure, TabletId, TargetChoices, TypedReading,
};
use twinwedge_core::geometry::{Point, Quad, Rect};

use super::chance::Chance;
use super::film::FilmTruth;
use super::print::Print;
use super::scene::{CHART, EDGE, GREY_CARD};
use super::{ABOUT, chart, grain, paper, print, rolls, spectra, strip, tablets};

/// Name of the film scanner's calibration and of its scan.
pub(super) const FILM_CALIBRATION: &str = "film scanner";
/// Name of the print scanner's calibration and of its scan.
pub(super) const PRINT_CALIBRATION: &str = "print scanner";
/// Turn in degrees and perspective of the two tablets on the glass.
pub(super) const TABLET_POSES: [(f64, f64); 2] = [(-0.7, 0.0), (1.2, 0.0)];

/// A place that is even in every print: name, centre on the reference's print.
pub(super) fn spots() -> [(&'static str, Point); 3] {
    [
        ("grey card, middle", GREY_CARD.point(0.5, 0.5)),
        ("white beside the edge", EDGE.point(0.75, 0.5)),
        ("black beside the edge", EDGE.point(0.25, 0.5)),
    ]
}

/// Radius of a spot in pixels.
const SPOT_RADIUS: f64 = 12.0;

/// The inner part of a uniform area: what a tester would draw.
pub(super) fn grain_area() -> Rect {
    Rect::between(Point::new(16.0, 16.0), Point::new(624.0, 624.0))
}

/// The inner part of each field of another density.
pub(super) fn further_areas() -> [Rect; 3] {
    let side = grain::FURTHER_SIDE as f64;
    [0.0, 1.0, 2.0].map(|number| {
        let left = number * side;
        Rect::between(Point::new(left + 8.0, 8.0), Point::new(left + side - 8.0, side - 8.0))
    })
}

/// A film's strip or a tablet as it was marked in its scan.
pub(super) fn marked_strip(slug: &str, (degrees, perspective): (f64, f64)) -> StripShape {
    let mut chance = Chance::of(&format!("{slug} marked"));
    let corners = strip::marked(strip::corners(degrees, perspective), &mut chance);
    StripShape::new(Quad { corners }, tablets::STEPS)
}

/// The patch chart as it was marked in the reference's print.
pub(super) fn marked_chart() -> Quad {
    let corners = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)].map(|(u, v)| CHART.point(u, v));
    Quad { corners: strip::marked(corners, &mut Chance::of("chart marked")) }
}

/// Base+fog as read on an unexposed piece, standard uncertainty 0.003, where it was read.
pub(super) fn base_reading(truth: &FilmTruth) -> Option<f64> {
    let error = 0.003 * Chance::of(&format!("{} base", truth.slug)).normal();
    truth.base_read.then(|| ((truth.curve.base + error) * 1000.0).round() / 1000.0)
}

/// The box around its edge.
pub(super) fn edge_area(truth: &FilmTruth) -> Rect {
    let (width, height) = truth.edge.size();
    Rect { min: Point::new(8.0, 8.0), max: Point::new(width as f64 - 8.0, height as f64 - 8.0) }
}

/// The series; `digests` by path of the scans.
pub(super) fn document(
    films: &[FilmTruth],
    prints: &[Print<'_>],
    digests: &BTreeMap<String, FileDigest>,
) -> Series {
    let mut series = Series {
        title: "Saltmarsh Darkroom Cooperative: a new house film".to_owned(),
        about: ABOUT.to_owned(),
        conditions: conditions(),
        reference: Some(FilmId::from(films[0].label)),
        layout: Some(chart::layout()),
        target: TargetChoices { light: Some(SubjectLight::Measured(spectra::told_light())), known_u: 0.005 },
        report: ReportChoices {
            tester: "Saltmarsh Darkroom Cooperative (invented)".to_owned(),
            ..ReportChoices::default()
        },
        ..Series::default()
    };
    for (name, kind, truth, pose) in [
        (FILM_CALIBRATION, ScanKind::Film, tablets::film(), TABLET_POSES[0]),
        (PRINT_CALIBRATION, ScanKind::Print, tablets::reflection(), TABLET_POSES[1]),
    ] {
        let tablet = TabletId(truth.certificate.label.split(',').next().unwrap_or_default().to_owned());
        let scan = ScanId(format!("{name}, tablet"));
        let path = format!("scans/{}-tablet.tif", name.replace(' ', "-"));
        series.scans.insert(scan.clone(), entry(path, kind, None, digests));
        series.tablets.insert(tablet.clone(), truth.certificate);
        let label = format!("{name}, {tablet}", tablet = tablet.0);
        let shape = marked_strip(name, pose);
        series.calibrations.insert(CalibrationId::from(name), Calibration::new(label, scan, shape, tablet));
    }
    for (index, (truth, print)) in films.iter().zip(prints).enumerate() {
        for (what, kind, calibration) in [
            ("strip", ScanKind::Film, FILM_CALIBRATION),
            ("print", ScanKind::Print, PRINT_CALIBRATION),
            ("grain", ScanKind::Film, FILM_CALIBRATION),
            ("fields", ScanKind::Film, FILM_CALIBRATION),
            ("edge", ScanKind::Film, FILM_CALIBRATION),
        ] {
            let path = format!("scans/{}-{what}.tif", truth.slug);
            let scan = ScanId(format!("{} {what}", truth.label));
            series.scans.insert(scan, entry(path, kind, Some(CalibrationId::from(calibration)), digests));
        }
        series.films.push(film(truth, print, index == 0));
    }
    series.films[1].strips.push(rolls::additional_strip(&films[1]));
    series.paper = Some(paper::test(&prints[0]));
    let further = rolls::films(&series.films[0], films[0].tablet_light);
    series.films.extend(further);
    let spot =
        |(name, at): (&str, Point)| Spot { name: name.to_owned(), at: rounded(at), radius: SPOT_RADIUS };
    series.spots = spots().into_iter().map(spot).collect();
    series
}

fn rounded(at: Point) -> Point {
    Point::new((at.x * 10.0).round() / 10.0, (at.y * 10.0).round() / 10.0)
}

fn entry(
    path: String,
    kind: ScanKind,
    calibration: Option<CalibrationId>,
    digests: &BTreeMap<String, FileDigest>,
) -> ScanEntry {
    let digest = digests.get(&path).cloned();
    ScanEntry { calibration, ..ScanEntry::new(path, digest, kind) }
}

fn film(truth: &FilmTruth, print: &Print<'_>, is_reference: bool) -> Film {
    let scan = |what: &str| ScanId(format!("{} {what}", truth.label));
    let mut film = Film::named(FilmId::from(truth.label), truth.label);
    truth.batch.clone_into(&mut film.batch);
    "135".clone_into(&mut film.format);
    film.box_speed = Some(truth.box_speed);
    truth.price.clone_into(&mut film.price);
    film.process = Process {
        developer: "Samphire fine-grain (invented)".to_owned(),
        dilution: "1+2".to_owned(),
        temperature_c: Some(20.0),
        minutes: Some(truth.minutes),
        agitation: "30 s at first, then two turns each half minute".to_owned(),
    };
    film.tablet_exposure = Some(TabletExposure::new(
        TabletId::from("step tablet 7"),
        Exposure::Absolute { log_h: truth.tablet_light, u: 0.01 },
    ));
    let shape = marked_strip(truth.slug, truth.strip_pose);
    film.strips.push(ReadingsSource::Strip { scan: scan("strip"), shape }.into());
    film.base_fog =
        base_reading(truth).map(|density| TypedReading { u: Some(0.003), ..TypedReading::new(density) });
    let grid = is_reference.then(|| GridShape::new(marked_chart()));
    film.print =
        Some(PrintChoice { exposure_s: Some(print.seconds()), grid, ..PrintChoice::new(scan("print")) });
    film.uniform_areas.push(GrainArea::new(scan("grain"), grain_area()));
    film.uniform_areas.extend(further_areas().map(|area| GrainArea::new(scan("fields"), area)));
    film.edges = vec![EdgeArea { scan: scan("edge"), area: edge_area(truth) }];
    film.bracket = Some(Bracket { frames: frames(truth), u: Some(0.01) });
    "Invented film.".clone_into(&mut film.notes);
    film
}

/// The bracket's shadow densities as a densitometer with two decimals showed them.
fn frames(truth: &FilmTruth) -> Vec<BracketFrame> {
    let mut chance = Chance::of(&format!("{} bracket", truth.slug));
    let frame = |(number, ei): (usize, &f64)| {
        let density = print::shadow_density(truth, *ei) + 0.005 * chance.normal();
        BracketFrame::typed((number + 1).to_string(), *ei, (density * 100.0).round() / 100.0)
    };
    truth.bracket.iter().enumerate().map(frame).collect()
}

fn conditions() -> Conditions {
    Conditions {
        light_source: "invented daylight through the north window, and a calibrated lamp behind the tablet"
            .to_owned(),
        camera: "one camera and lens on a stand, f/8".to_owned(),
        target: "still life with patch chart, grey card and slanted edge".to_owned(),
        paper: "Marram gloss, grade 3 (invented)".to_owned(),
        paper_process: "Glasswort print developer 1+9 (invented), 2 min at 20 °C".to_owned(),
        enlarger: "diffuse, 50 mm lens at f/8; print exposure changed by base+fog only".to_owned(),
        enlargement: Some(print::ENLARGEMENT),
        scanner: "flatbed with film holder, 16-bit grey, all corrections off".to_owned(),
        densitometer: "two decimals, 0.01".to_owned(),
    }
}
