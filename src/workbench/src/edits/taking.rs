//! Files that were read become part of the series: each kind in one place, whether it was dropped, opened, named in a list or
//! found in a folder.

use twinwedge_core::document::{
    Calibration, CalibrationId, EdgeArea, Exposure, Film, FilmId, FlatSource, GrainArea, GrainNoise,
    GridShape, PrintChoice, ReadingsSource, ScanEntry, ScanId, Series, Strip, StripLevel, StripShape,
    TabletExposure, TabletId, TypedReading,
};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::problem::{Problem, Subject};

use std::path::Path;

use super::areas::area_of;
use super::brackets::{add_frame, frame_of};
use super::calibrations::made_of;
use super::papers::put_readings;
use super::scans::entry_of;
use super::tablets::{expose, fitting_tablet};
use super::{Change, film_of, label_of, lacks, refused};
use crate::load::Stated;
use crate::typed;

/// Number of steps of a strip in which none were found, in a series without a tablet: the commonest of the trade's.
const USUAL_STEPS: usize = 21;

/// A scan that is not in the series yet, by the name that it is given where that is free.
#[derive(Debug, Clone, PartialEq)]
pub struct NewScan {
    /// The name, without the ending of the file.
    pub stem: String,
    /// The file and how it is read.
    pub entry: ScanEntry,
}

/// Where a strip lies that is taken in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// As it was found.
    Found(StripShape),
    /// It was not found: a first place in a scan of this size, to be dragged onto the steps.
    First(u32, u32),
}

impl Place {
    /// The number of steps that were found, else what is usual in the series.
    fn steps(&self, usual: usize) -> usize {
        match self {
            Self::Found(shape) => shape.steps as usize,
            Self::First(..) => usual,
        }
    }

    fn shape(&self, steps: usize) -> StripShape {
        match *self {
            Self::Found(shape) => shape,
            Self::First(width, height) => StripShape::new(first_strip((width, height)), steps as u32),
        }
    }
}

/// What a scan is to a film.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    /// A print of the target, and where its grid lies.
    Print(Option<GridShape>),
    /// A uniform area, in the place of the first.
    Area(Rect),
    /// A uniform area behind those that are there.
    AnotherArea(Rect),
    /// A second scan of a uniform area, by its number: it tells the scanner's noise.
    AreaRepeat(usize),
    /// A slanted edge.
    Edge(Rect),
    /// A frame of the bracket that is there, by its number from 0.
    Frame(usize),
    /// A further frame, the index that it was metered at, and where its shadow patch lies.
    FurtherFrame(f64, Option<Quad>),
}

/// A file that was read, and what it becomes.
#[derive(Debug, Clone, PartialEq)]
pub enum Taking {
    /// Readings of a strip of a film, by its number; one that is not there yet is added under `name`.
    Readings {
        /// The film that it is a strip of.
        film: FilmId,
        /// The number of the strip, from 0.
        strip: usize,
        /// What a new one is called.
        name: String,
        /// Step 1 first.
        readings: Vec<TypedReading>,
        /// What their table says beside them: it counts where the film does not say it yet.
        stated: Stated,
    },
    /// A scan of such a strip.
    Strip {
        /// The film that it is a strip of.
        film: FilmId,
        /// The number of the strip, from 0.
        strip: usize,
        /// The scan of the strip.
        scan: NewScan,
        /// Where it lies.
        place: Place,
    },
    /// A scan that is something else to a film.
    OfFilm(FilmId, NewScan, Part),
    /// Reflection densities of the paper test, which is begun where there is none.
    PaperReadings(Vec<TypedReading>),
    /// A scan of the print of its tablet.
    PaperStrip(NewScan, Place),
    /// A scan of a tablet of known densities, by which the scanner is calibrated.
    Calibration(NewScan, Place),
    /// A second scan of a calibration's tablet.
    Repeat(CalibrationId, NewScan),
    /// A blank scan that tells the falloff of light over a scan.
    Blank(ScanId, NewScan),
    /// The scanner's own edge.
    ScannerEdge(NewScan, Rect),
}

impl Change for Taking {
    fn label(&self, series: &Series) -> String {
        match self {
            Self::Readings { film, readings, .. } => {
                format!("enter {} readings of {}", readings.len(), label_of(series, film))
            }
            Self::Strip { film, .. } => format!("take in the strip of {}", label_of(series, film)),
            Self::OfFilm(film, _, part) => {
                let of = label_of(series, film);
                match part {
                    Part::Print(_) => format!("take in the print of {of}"),
                    Part::Area(_) => format!("take in the grain scan of {of}"),
                    Part::AnotherArea(_) => format!("take in another grain scan of {of}"),
                    Part::AreaRepeat(number) => {
                        format!("take in a second scan of uniform area {} of {of}", number + 1)
                    }
                    Part::Edge(_) => format!("take in an edge of {of}"),
                    Part::Frame(_) | Part::FurtherFrame(..) => {
                        format!("take in the scan of a frame of {of}")
                    }
                }
            }
            Self::PaperReadings(readings) => format!("enter {} densities of the paper", readings.len()),
            Self::PaperStrip(..) => "take in the print of the tablet".to_owned(),
            Self::Calibration(scan, _) => format!("calibrate by {}", scan.stem),
            Self::Repeat(calibration, _) => format!("take in the second scan of {}", calibration.0),
            Self::Blank(of, scan) => format!("take the falloff of {} from {}", of.0, scan.stem),
            Self::ScannerEdge(..) => "take in the scanner's own edge".to_owned(),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        match self {
            Self::Readings { film, strip, name, readings, stated } => {
                let steps = readings.len();
                put_strip(series, &film, (strip, name), ReadingsSource::Typed(readings), steps)?;
                if let Some(put) = film_of(series, &film)?.strips.get_mut(strip) {
                    put.density = stated.density;
                }
                if strip == 0 {
                    take_stated(series, &film, &stated)?;
                }
                Ok(())
            }
            Self::Strip { film, strip, scan, place } => {
                let own = series.film(&film).and_then(|film| film.strip_tablet(strip)).cloned();
                let steps = place.steps(usual_steps(series, own.as_ref()));
                let name = scan.stem.clone();
                let source =
                    ReadingsSource::Strip { scan: add_scan(series, scan), shape: place.shape(steps) };
                put_strip(series, &film, (strip, name), source, steps)
            }
            Self::OfFilm(film, scan, part) => {
                film_of(series, &film)?;
                let scan = add_scan(series, scan);
                part.put(film_of(series, &film)?, scan)
            }
            Self::PaperReadings(readings) => {
                let tablet = fitting_tablet(series, readings.len());
                put_readings(series, tablet, ReadingsSource::Typed(readings))
            }
            Self::PaperStrip(scan, place) => {
                let own = series.paper.as_ref().map(|test| test.tablet.clone());
                let steps = place.steps(usual_steps(series, own.as_ref()));
                let tablet = fitting_tablet(series, steps);
                let source =
                    ReadingsSource::Strip { scan: add_scan(series, scan), shape: place.shape(steps) };
                put_readings(series, tablet, source)
            }
            Self::Calibration(scan, place) => calibrate(series, scan, place),
            Self::Repeat(calibration, scan) => {
                made_of(series, &calibration)?;
                let repeat = add_scan(series, scan);
                let made = made_of(series, &calibration)?;
                differs(&repeat, &made.scan)?;
                made.repeat = Some(repeat);
                Ok(())
            }
            Self::Blank(of, scan) => {
                entry_of(series, &of)?;
                let blank = add_scan(series, scan);
                differs(&blank, &of)?;
                entry_of(series, &of)?.flat = FlatSource::Blank(blank);
                Ok(())
            }
            Self::ScannerEdge(scan, area) => {
                let scan = add_scan(series, scan);
                series.sharpness.scanner_edge = Some(EdgeArea { scan, area });
                Ok(())
            }
        }
    }
}

impl Part {
    /// Makes a scan of the series this part of a film.
    pub(crate) fn put(self, film: &mut Film, scan: ScanId) -> Result<(), Problem> {
        match self {
            Self::Print(grid) => film.print = Some(PrintChoice { grid, ..PrintChoice::new(scan) }),
            Self::Area(area) => match film.uniform_areas.first_mut() {
                Some(first) => *first = GrainArea::new(scan, area),
                None => film.uniform_areas.push(GrainArea::new(scan, area)),
            },
            Self::AnotherArea(area) => film.uniform_areas.push(GrainArea::new(scan, area)),
            Self::AreaRepeat(number) => {
                let grain = area_of(film, number)?;
                differs(&scan, &grain.scan)?;
                grain.noise = GrainNoise::Repeat(scan);
            }
            Self::Edge(area) => film.edges.push(EdgeArea { scan, area }),
            Self::Frame(number) => {
                let frame = frame_of(film, number)?;
                (frame.scan, frame.patch) = (Some(scan), None);
            }
            Self::FurtherFrame(index, patch) => add_frame(film, Some(index), Some(scan), patch),
        }
        Ok(())
    }
}

/// What a table says beside its readings, where the film does not say it yet.
fn take_stated(series: &mut Series, film: &FilmId, stated: &Stated) -> Result<(), Problem> {
    let named = |name: &String| {
        TabletId(Path::new(name).file_stem().unwrap_or_default().to_string_lossy().into_owned())
    };
    let tablet = stated.tablet.as_ref().map(named).filter(|tablet| series.tablets.contains_key(tablet));
    let base_fog = stated.base_fog.as_ref().and_then(|text| typed::parse_reading(text).ok());
    let exposure = stated.exposure.as_ref().and_then(|text| typed::parse_exposure(text).ok());
    let film = film_of(series, film)?;
    film.base_fog = film.base_fog.or(base_fog);
    if let Some(exposed) = &mut film.tablet_exposure {
        if let Some(tablet) = tablet {
            exposed.tablet = tablet;
        }
        if let Some(exposure) = exposure.filter(|_| exposed.exposure == Exposure::NotSaid) {
            exposed.exposure = exposure;
        }
    }
    Ok(())
}

/// A second scan must be another one.
fn differs(scan: &ScanId, first: &ScanId) -> Result<(), Problem> {
    if scan != first {
        return Ok(());
    }
    let remedy = "Open the file of another scan.";
    Err(refused(Subject::Scan(scan.clone()), "That is the same file as the first scan.", remedy))
}

/// Puts a scan into the series; the same file taken in twice is one scan.
pub(crate) fn add_scan(series: &mut Series, NewScan { stem, entry }: NewScan) -> ScanId {
    let same = series.scans.iter().find(|(_, old)| old.path == entry.path && old.kind == entry.kind);
    if let Some((id, _)) = same {
        return id.clone();
    }
    let id = series.free_scan_id(&stem);
    series.scans.insert(id.clone(), entry);
    id
}

/// Puts a calibration into the series under that name.
pub(crate) fn put_calibration(
    series: &mut Series,
    id: CalibrationId,
    scan: ScanId,
    shape: StripShape,
    tablet: TabletId,
) {
    let made = Calibration::new(id.0.clone(), scan, shape, tablet);
    series.calibrations.insert(id, made);
}

/// Calibrates by a scan; scans of its kind that have no calibration use it.
fn calibrate(series: &mut Series, scan: NewScan, place: Place) -> Result<(), Problem> {
    let steps = place.steps(usual_steps(series, None));
    // A tablet of a number that is not known yet is named by the tester; until then the first one stands in.
    let first = series.tablets.keys().next().cloned();
    let tablet = fitting_tablet(series, steps).or(first).ok_or_else(|| {
        refused(
            Subject::Series,
            format!("The series has no tablet of {steps} steps, and none of the trade's has so many."),
            "Open the densities of the tablet first, then its scan.",
        )
    })?;
    let (stem, kind) = (scan.stem.clone(), scan.entry.kind);
    let scan = add_scan(series, scan);
    let id = free_calibration(series, &stem, &scan);
    put_calibration(series, id.clone(), scan.clone(), place.shape(steps), tablet);
    for (other, entry) in &mut series.scans {
        if *other != scan && entry.kind == kind && entry.calibration.is_none() {
            entry.calibration = Some(id.clone());
        }
    }
    Ok(())
}

/// The name of a calibration by a scan: one by the same scan is made anew, and no other goes.
fn free_calibration(series: &Series, stem: &str, scan: &ScanId) -> CalibrationId {
    let mut id = CalibrationId(stem.to_owned());
    let mut number = 2;
    while series.calibrations.get(&id).is_some_and(|made| made.scan != *scan) {
        id = CalibrationId(format!("{stem} {number}"));
        number += 1;
    }
    id
}

/// How many steps a strip has in which none were found: as its tablet, else as the first of the series.
fn usual_steps(series: &Series, own: Option<&TabletId>) -> usize {
    let own = own.and_then(|id| series.tablets.get(id));
    own.or_else(|| series.tablets.values().next()).map_or(USUAL_STEPS, |tablet| tablet.steps.len())
}

/// Puts a strip of so many steps into a film: in the place of what that strip was read from before, or behind the others.
fn put_strip(
    series: &mut Series,
    id: &FilmId,
    (strip, name): (usize, String),
    source: ReadingsSource,
    steps: usize,
) -> Result<(), Problem> {
    let film = film_of(series, id)?;
    if strip > 0 && film.strips.is_empty() {
        return Err(lacks(film, "It has no first strip yet, against which another could be told."));
    }
    let films = film.tablet_exposure.as_ref().map(|exposed| exposed.tablet.clone());
    let fits =
        |tablet: &TabletId| series.tablets.get(tablet).is_some_and(|tablet| tablet.steps.len() >= steps);
    let own = match strip {
        0 => fitting_tablet(series, steps),
        _ if films.as_ref().is_some_and(fits) => None,
        _ => fitting_tablet(series, steps),
    };
    let film = film_of(series, id)?;
    if strip == 0 {
        put_first_strip(film, source, None);
        expose(film, own);
    } else if let Some(there) = film.strips.get_mut(strip) {
        there.readings = source;
        there.density = None;
        there.steps_set_aside.clear();
    } else {
        add_strip(film, name, source, own, StripLevel::FromOverlap);
    }
    Ok(())
}

/// Puts the first strip of a film in the place of what was there, and how it was exposed where that is said.
pub(crate) fn put_first_strip(film: &mut Film, source: ReadingsSource, exposed: Option<TabletExposure>) {
    match film.strips.first_mut() {
        Some(first) => {
            first.readings = source;
            first.density = None;
            first.steps_set_aside.clear();
        }
        None => film.strips.push(source.into()),
    }
    if exposed.is_some() {
        film.tablet_exposure = exposed;
    }
}

/// Puts an additional strip behind the others; `own` is its tablet, where that is not the film's.
pub(crate) fn add_strip(
    film: &mut Film,
    name: String,
    source: ReadingsSource,
    own: Option<TabletId>,
    level: StripLevel,
) {
    let films = film.tablet_exposure.as_ref().map(|exposed| &exposed.tablet);
    let tablet = own.filter(|tablet| films != Some(tablet));
    film.strips.push(Strip { tablet, level, ..Strip::additional(name, source) });
}

/// A first place for a strip: along the longer side, clear of the edges. The tester drags its corners onto the steps.
fn first_strip((w, h): (u32, u32)) -> Quad {
    let (w, h) = (f64::from(w), f64::from(h));
    let point = |u: f64, v: f64| Point::new(u * w, v * h);
    if w >= h {
        Quad { corners: [point(0.05, 0.3), point(0.95, 0.3), point(0.95, 0.7), point(0.05, 0.7)] }
    } else {
        Quad { corners: [point(0.7, 0.05), point(0.7, 0.95), point(0.3, 0.95), point(0.3, 0.05)] }
    }
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{Exposure, ScanKind};

    use super::super::tests::{Tablet, cause, done, two_films};
    use super::*;

    fn scan(name: &str) -> NewScan {
        let entry = ScanEntry::new(format!("{name}.tif"), None, ScanKind::Film);
        NewScan { stem: name.to_owned(), entry }
    }

    fn typed(steps: usize) -> Vec<TypedReading> {
        vec![TypedReading::new(0.1); steps]
    }

    fn readings(strip: usize, steps: usize) -> Taking {
        let (name, stated) = ("weaker".to_owned(), Stated::default());
        Taking::Readings { film: "Tern 160".into(), strip, name, readings: typed(steps), stated }
    }

    fn of_film(scan: NewScan, part: Part) -> Taking {
        Taking::OfFilm("Tern 160".into(), scan, part)
    }

    fn area() -> Rect {
        Rect::between(Point::new(0.0, 0.0), Point::new(10.0, 10.0))
    }

    #[test]
    fn readings_bring_the_nominal_tablet_that_fits_them_and_no_light() {
        let (after, label) = done(&two_films(), readings(0, 21)).unwrap();
        assert_eq!(label, "enter 21 readings of Tern 160");
        let exposure = after.films[0].tablet_exposure.as_ref().unwrap();
        assert_eq!(after.tablets[&exposure.tablet].steps.len(), 21);
        assert_eq!(exposure.exposure, Exposure::NotSaid);
        let (odd, _) = done(&two_films(), readings(0, 7)).unwrap();
        assert_eq!(odd.films[0].tablet_exposure, None, "no tablet of 7 steps is known");
    }

    #[test]
    fn additional_strips_come_behind_a_first() {
        assert!(cause(&two_films(), readings(1, 21)).contains("no first strip"));
        let (first, _) = done(&two_films(), readings(0, 21)).unwrap();
        let (two, _) = done(&first, readings(1, 21)).unwrap();
        let strip = &two.films[0].strips[1];
        assert_eq!(
            (strip.name.as_str(), &strip.tablet, strip.level),
            ("weaker", &None, StripLevel::FromOverlap)
        );
        let (again, _) = done(&two, readings(1, 11)).unwrap();
        assert_eq!(again.films[0].strips.len(), 2, "in the place of what was there");
        let (other, _) = done(&first, readings(1, 31)).unwrap();
        let own = other.films[0].strips[1].tablet.clone().unwrap();
        assert_eq!(other.tablets[&own].steps.len(), 31, "through a tablet that has so many steps");
    }

    #[test]
    fn a_scanned_strip_lies_where_it_was_found_or_at_a_first_place() {
        let strip = |place| Taking::Strip { film: "Tern 160".into(), strip: 0, scan: scan("s"), place };
        let (first, label) = done(&two_films(), strip(Place::First(1000, 100))).unwrap();
        assert_eq!(label, "take in the strip of Tern 160");
        let shape = |series: &Series| match &series.films[0].strips[0].readings {
            ReadingsSource::Strip { shape, .. } => *shape,
            ReadingsSource::Typed(_) => panic!("a scan"),
        };
        assert_eq!((shape(&first).steps, shape(&first).quad.corners[1]), (21, Point::new(950.0, 30.0)));
        let found = StripShape::new(Quad::upright(area()), 31);
        let (mut after, _) = done(&first, strip(Place::Found(found))).unwrap();
        assert_eq!(shape(&after), found);
        assert_eq!(after.scans.len(), 1, "the same file taken in twice is one scan");
        after.films[0].strips[0].set_step_aside(3, true);
        let (anew, _) = done(&after, strip(Place::Found(found))).unwrap();
        assert!(
            anew.films[0].strips[0].steps_set_aside.is_empty(),
            "what was set aside was of other readings"
        );
    }

    #[test]
    fn scans_become_parts_of_a_film() {
        let series = two_films();
        let of = |part| done(&series, of_film(scan("a"), part)).unwrap().0.films[0].clone();
        let id = || ScanId::from("a");
        assert_eq!(of(Part::Print(None)).print, Some(PrintChoice::new(id())));
        assert_eq!(of(Part::Area(area())).uniform_areas, [GrainArea::new(id(), area())]);
        assert_eq!(of(Part::AnotherArea(area())).uniform_areas, [GrainArea::new(id(), area())]);
        assert_eq!(of(Part::Edge(area())).edges, [EdgeArea { scan: id(), area: area() }]);
        let frame = of(Part::FurtherFrame(160.0, None)).bracket.unwrap().frames.remove(0);
        assert_eq!((frame.scan, frame.exposure_index, frame.shadow_density), (Some(id()), Some(160.0), None));
        assert!(cause(&series, of_film(scan("a"), Part::Frame(0))).contains("no frame number 1"));
        assert!(cause(&series, of_film(scan("a"), Part::AreaRepeat(0))).contains("no uniform area 1"));
        let gone = Taking::OfFilm("Godwit".into(), scan("a"), Part::Print(None));
        assert!(cause(&series, gone).contains("no longer"));
    }

    #[test]
    fn a_second_scan_is_another_file() {
        let (series, _) = done(&two_films(), of_film(scan("a"), Part::Area(area()))).unwrap();
        let (after, label) = done(&series, of_film(scan("b"), Part::AreaRepeat(0))).unwrap();
        assert_eq!(label, "take in a second scan of uniform area 1 of Tern 160");
        assert_eq!(after.films[0].uniform_areas[0].noise, GrainNoise::Repeat("b".into()));
        assert!(cause(&series, of_film(scan("a"), Part::AreaRepeat(0))).contains("same file"));
        let (after, _) = done(&series, Taking::Blank("a".into(), scan("b"))).unwrap();
        assert_eq!(after.scans[&ScanId::from("a")].flat, FlatSource::Blank("b".into()));
        assert!(cause(&series, Taking::Blank("a".into(), scan("a"))).contains("same file"));
        assert!(cause(&series, Taking::Blank("c".into(), scan("b"))).contains("no longer"));
    }

    #[test]
    fn a_calibration_serves_scans_of_its_kind_and_takes_no_others_place() {
        let (series, _) = done(&two_films(), of_film(scan("a"), Part::Print(None))).unwrap();
        let place = Place::Found(StripShape::new(Quad::upright(area()), 21));
        let (made, label) = done(&series, Taking::Calibration(scan("wedge"), place)).unwrap();
        assert_eq!(label, "calibrate by wedge");
        assert_eq!(made.scans[&ScanId::from("a")].calibration, Some("wedge".into()));
        let other = NewScan { stem: "wedge".to_owned(), ..scan("other/wedge") };
        let (two, _) = done(&made, Taking::Calibration(other, place)).unwrap();
        let names: Vec<&str> = two.calibrations.keys().map(|id| id.0.as_str()).collect();
        assert_eq!(names, ["wedge", "wedge 2"]);
        assert_eq!(done(&made, Taking::Calibration(scan("wedge"), place)).unwrap().0, made, "made anew");
        let odd = Place::Found(StripShape::new(Quad::upright(area()), 7));
        assert!(cause(&series, Taking::Calibration(scan("wedge"), odd)).contains("no tablet of 7 steps"));
        let (repeated, _) = done(&made, Taking::Repeat("wedge".into(), scan("b"))).unwrap();
        assert_eq!(repeated.calibrations[&CalibrationId::from("wedge")].repeat, Some("b".into()));
        assert!(cause(&made, Taking::Repeat("wedge".into(), scan("wedge"))).contains("same file"));
        assert!(cause(&made, Taking::Repeat("other".into(), scan("b"))).contains("no longer"));
    }

    #[test]
    fn the_paper_and_the_scanners_edge_are_taken_in() {
        let mut series = two_films();
        series.conditions.paper = "grade 2".to_owned();
        let (paper, label) = done(&series, Taking::PaperReadings(typed(21))).unwrap();
        let test = paper.paper.clone().unwrap();
        assert_eq!((test.label.as_str(), label.as_str()), ("grade 2", "enter 21 densities of the paper"));
        assert!(cause(&series, Taking::PaperReadings(typed(7))).contains("No tablet"));
        series.tablets.insert("11".into(), Tablet::nominal(11).unwrap());
        let (scanned, _) = done(&series, Taking::PaperStrip(scan("p"), Place::First(100, 1000))).unwrap();
        let test = scanned.paper.unwrap();
        let Some(ReadingsSource::Strip { shape, .. }) = test.readings else { panic!("a scan") };
        assert_eq!((shape.steps, test.tablet), (11, "11".into()), "as many as the tablet of the series");
        let (after, _) = done(&series, Taking::ScannerEdge(scan("knife"), area())).unwrap();
        assert_eq!(after.sharpness.scanner_edge, Some(EdgeArea { scan: "knife".into(), area: area() }));
    }
}
