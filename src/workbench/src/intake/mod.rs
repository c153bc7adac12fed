//! Files that are dropped or opened, one at a time: what each may be, and how it is read. What comes of one is an
//! [`Operation`], as of a list or a folder; nothing is copied or changed.

mod guess;

use std::path::{Path, PathBuf};

use twinwedge_core::document::{
    CalibrationId, EnteredSpectrum, FilmId, ReadingsSource, ScanEntry, ScanId, ScanKind, Series,
    SubjectLight, TabletId,
};
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::greys::spectrum::{Carries, Spectrum};
use twinwedge_core::problem::{Problem, Severity, Subject};
use twinwedge_core::tablet::find::{Order, Wanted};

use crate::edits::{LayoutEdit, NewScan, Operation, Part, Place, TabletEdit, Taking, TargetEdit};
use crate::session::{Session, find_again};
use crate::{finding, import, load, store};

pub use guess::{Shown, choices, guess};

/// What a file is taken in as.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Purpose {
    /// Opened in place of the series at hand.
    Series,
    /// A CSV that lists the files of a series; the series made from it is opened.
    List,
    /// A folder of scans and tables that are told by what they show and by their names.
    Folder,
    /// The file of a scan that is missing.
    Missing(ScanId),
    /// A patch layout that was saved as a file of its own.
    Layout,
    /// Spectral reflectances of the target's patches.
    Reflectances,
    /// The spectrum of the light that fell on the target.
    SubjectLight,
    /// The known densities of a tablet.
    Tablet,
    /// Densitometer readings of a strip of a film, by its number; a new one where there is none.
    Readings(FilmId, usize),
    /// A scan of such a strip.
    Strip(FilmId, usize),
    /// A scan of a film's print.
    Print(FilmId),
    /// A scan of a film in which grain is measured.
    Grain(FilmId),
    /// A scan of a film with another uniform area, of another density.
    AnotherGrain(FilmId),
    /// A second scan of one of its uniform areas, by its number: it tells the scanner's noise.
    GrainRepeat(FilmId, usize),
    /// A scan of a slanted edge on this film.
    Edge(FilmId),
    /// A scan of a frame of a film's bracket, by its number from 0.
    Frame(FilmId, usize),
    /// A scan of a knife edge: the scanner's own sharpness.
    ScannerEdge,
    /// Reflection densities of the paper test.
    PaperReadings,
    /// A scan of the print of a tablet that tests the paper.
    PaperStrip,
    /// A scan of a tablet of known densities, to calibrate the scanner by.
    Calibration,
    /// A second scan of a calibration's tablet, not moved.
    Repeat(CalibrationId),
    /// A blank scan that tells the falloff of light over a scan.
    Blank(ScanId),
}

impl Purpose {
    /// What is asked for, as the title of a dialog.
    #[must_use]
    pub fn title(&self) -> String {
        match self {
            Self::Series => "Open a series".to_owned(),
            Self::List => "Make a series from a list of files".to_owned(),
            Self::Folder => "Take in a folder of scans".to_owned(),
            Self::Missing(scan) => format!("Find the missing scan {}", scan.0),
            Self::Layout => "Open a patch layout".to_owned(),
            Self::Reflectances => "Reflectances of the target's patches".to_owned(),
            Self::SubjectLight => "Spectrum of the light on the target".to_owned(),
            Self::Tablet => "Densities of a step tablet".to_owned(),
            Self::Readings(film, 0) => format!("Readings of {}", film.0),
            Self::Readings(film, strip) => format!("Readings of strip {} of {}", strip + 1, film.0),
            Self::Strip(film, 0) => format!("Strip scan of {}", film.0),
            Self::Strip(film, strip) => format!("Scan of strip {} of {}", strip + 1, film.0),
            Self::Print(film) => format!("Print scan of {}", film.0),
            Self::Grain(film) => format!("Film scan of {} for grain", film.0),
            Self::AnotherGrain(film) => format!("Film scan of {} of another density", film.0),
            Self::GrainRepeat(film, area) => {
                format!("Second scan of uniform area {} of {}", area + 1, film.0)
            }
            Self::Edge(film) => format!("Film scan of an edge on {}", film.0),
            Self::Frame(film, frame) => format!("Scan of frame {} of {}", frame + 1, film.0),
            Self::ScannerEdge => "Scan of a knife edge by the scanner of the films".to_owned(),
            Self::PaperReadings => "Densities of the paper test".to_owned(),
            Self::PaperStrip => "Scan of the print of a tablet".to_owned(),
            Self::Calibration => "Scan of a step tablet of known densities".to_owned(),
            Self::Repeat(id) => format!("Second scan of the tablet of {}", id.0),
            Self::Blank(scan) => format!("Blank scan for {}", scan.0),
        }
    }

    /// Endings of the files that fit; none for a folder.
    #[must_use]
    pub fn endings(&self) -> &'static [&'static str] {
        match self {
            Self::Series => &["twinwedge"],
            Self::Folder => &[],
            Self::Layout => &[store::LAYOUT_EXTENSION],
            Self::Reflectances | Self::SubjectLight => &["csv", "tsv", "txt", "cgats"],
            Self::List | Self::Readings(..) | Self::PaperReadings | Self::Tablet => &["csv", "tsv", "txt"],
            _ => &["tif", "tiff", "png", "jpg", "jpeg"],
        }
    }

    /// The typed readings that a scan would take the place of: what they are, and how many.
    #[must_use]
    pub fn over_typed(&self, series: &Series) -> Option<(String, usize)> {
        let (readings, of) = match self {
            Self::Strip(film, strip) => {
                let film = series.film(film)?;
                (film.strip_readings(*strip), crate::edits::named(film, *strip))
            }
            Self::PaperStrip => (series.paper.as_ref()?.readings.as_ref(), "the paper test".to_owned()),
            _ => return None,
        };
        match readings? {
            ReadingsSource::Typed(typed) if !typed.is_empty() => Some((of, typed.len())),
            _ => None,
        }
    }
}

/// What came of a file.
#[derive(Debug)]
pub enum Taken {
    /// Another series, and what is doubtful about it.
    Opened(Box<Session>, Vec<Problem>),
    /// A change of the series at hand, and what is worth knowing about the file that it came from.
    Operation(Operation, Vec<Problem>),
    /// A file that was found for a missing scan holds something else.
    Changed(ScanId, PathBuf),
}

/// Is told the share done of what takes long, and answers whether to go on.
pub type GoOn<'a> = &'a (dyn Fn(f32) -> bool + Sync);

/// The series that a file is taken into, and the folder that its paths are relative to.
#[derive(Debug, Clone, Copy)]
pub struct Home<'a> {
    /// The series that is open.
    pub series: &'a Series,
    /// The folder that its paths are relative to.
    pub folder: &'a Path,
}

/// Reads a file and says what it comes to. Takes as long as reading takes: for a thread of its own.
///
/// # Errors
/// The file cannot be read as that, or `go_on` said no.
pub fn take(purpose: Purpose, path: &Path, home: Home<'_>, go_on: GoOn<'_>) -> Result<Taken, Problem> {
    match purpose {
        Purpose::Series => Ok(Taken::Opened(Box::new(Session::open(path)?), Vec::new())),
        Purpose::List => {
            let (series, problems) = import::series_from_list_while(path, go_on)?;
            let folder = path.parent().unwrap_or(Path::new("")).to_path_buf();
            Ok(Taken::Opened(Box::new(Session::of(series, folder)), problems))
        }
        Purpose::Missing(scan) => find(scan, path, false, home, go_on),
        purpose => {
            let mut notes = Vec::new();
            let operation = operation(purpose, path, home, go_on, &mut notes)?;
            Ok(Taken::Operation(operation, notes))
        }
    }
}

/// Finds a missing scan again at `path`; one that holds something else is taken where `changed_too`.
///
/// # Errors
/// The file cannot be read, or `go_on` said no.
pub fn find(
    scan: ScanId,
    path: &Path,
    changed_too: bool,
    home: Home<'_>,
    go_on: GoOn<'_>,
) -> Result<Taken, Problem> {
    let found = find_again(home.series, home.folder, &scan, path, changed_too, &mut |share| go_on(share));
    match found {
        Ok(edit) => Ok(Taken::Operation(edit.into(), Vec::new())),
        Err(problem) if problem.severity == Severity::Doubt => Ok(Taken::Changed(scan, path.to_path_buf())),
        Err(problem) => Err(problem),
    }
}

/// What was told about a file as one message; nothing where there is nothing to tell.
#[must_use]
pub fn in_one(notes: &[Problem]) -> Option<String> {
    let causes: Vec<String> = notes.iter().map(|note| note.cause.to_string()).collect();
    (!causes.is_empty()).then(|| causes.join(" "))
}

/// The operation by which a file becomes part of the series; what is worth knowing about the file goes into `notes`.
fn operation(
    purpose: Purpose,
    path: &Path,
    home: Home<'_>,
    go_on: GoOn<'_>,
    notes: &mut Vec<Problem>,
) -> Result<Operation, Problem> {
    let of_film = |film, kind, part: &dyn Fn((u32, u32)) -> Part| {
        let size = load::size(path)?;
        Ok(Taking::OfFilm(film, new_scan(path, kind, home)?, part(size)))
    };
    let mut table = || -> Result<load::Table, Problem> {
        let mut table = load::table(&load::text(path)?, &name(path))?;
        notes.append(&mut table.notes);
        Ok(table)
    };
    Ok(match purpose {
        Purpose::Layout => {
            let layout = store::parse_layout(&load::text(path)?, &path.display().to_string())?;
            return Ok(LayoutEdit::Take(layout).into());
        }
        Purpose::Reflectances | Purpose::SubjectLight => return of_target(&purpose, path, notes),
        Purpose::Tablet => {
            let tablet = load::tablet(&load::text(path)?, &name(path))?;
            return Ok(TabletEdit::Read(TabletId(stem(path)), tablet).into());
        }
        Purpose::Readings(film, strip) => {
            let load::Table { readings, stated, .. } = table()?;
            Taking::Readings { film, strip, name: stem(path), readings, stated }
        }
        Purpose::PaperReadings => Taking::PaperReadings(table()?.readings),
        Purpose::Strip(film, strip) => {
            let tablet = home.series.film(&film).and_then(|film| film.strip_tablet(strip));
            let wanted = finding::wanted(home.series, tablet, Order::Falling);
            let (scan, place) = placed(path, ScanKind::Film, &wanted, home, go_on)?;
            Taking::Strip { film, strip, scan, place }
        }
        Purpose::PaperStrip => {
            let tablet = home.series.paper.as_ref().map(|test| &test.tablet);
            let wanted = finding::wanted(home.series, tablet, Order::Falling);
            let (scan, place) = placed(path, ScanKind::Print, &wanted, home, go_on)?;
            Taking::PaperStrip(scan, place)
        }
        Purpose::Calibration => {
            let wanted = finding::wanted(home.series, None, Order::Rising);
            let (scan, place) = placed(path, ScanKind::Film, &wanted, home, go_on)?;
            Taking::Calibration(scan, place)
        }
        Purpose::Print(film) => of_film(film, ScanKind::Print, &|_| Part::Print(None))?,
        Purpose::Grain(film) => of_film(film, ScanKind::Film, &|size| Part::Area(middle(size, 0.5)))?,
        Purpose::AnotherGrain(film) => {
            of_film(film, ScanKind::Film, &|size| Part::AnotherArea(middle(size, 0.5)))?
        }
        Purpose::GrainRepeat(film, number) => of_film(film, ScanKind::Film, &|_| Part::AreaRepeat(number))?,
        Purpose::Edge(film) => of_film(film, ScanKind::Film, &|size| Part::Edge(middle(size, 0.9)))?,
        Purpose::Frame(film, number) => of_film(film, ScanKind::Film, &|_| Part::Frame(number))?,
        Purpose::ScannerEdge => {
            let area = middle(load::size(path)?, 0.9);
            Taking::ScannerEdge(new_scan(path, ScanKind::Film, home)?, area)
        }
        Purpose::Repeat(id) => {
            let first = home.series.calibrations.get(&id).map(|made| &made.scan);
            Taking::Repeat(id.clone(), second_scan(path, first, ScanKind::Film, home)?)
        }
        Purpose::Blank(scan) => {
            let blank = second_scan(path, Some(&scan), ScanKind::Print, home)?;
            Taking::Blank(scan, blank)
        }
        Purpose::Series | Purpose::List | Purpose::Folder | Purpose::Missing(_) => {
            return Err(Problem::error(
                Subject::File { path: path.display().to_string(), place: None },
                "A series, a list or a folder is no part of a series.",
                "Open it by the menu Series.",
            ));
        }
    }
    .into())
}

/// What a file says of the target's colours.
fn of_target(purpose: &Purpose, path: &Path, notes: &mut Vec<Problem>) -> Result<Operation, Problem> {
    let text = load::text(path)?;
    if *purpose == Purpose::SubjectLight {
        let (light, told) = load::spectrum(&text, &name(path), Carries::Light)?;
        notes.extend(told);
        return Ok(TargetEdit::Light(Some(SubjectLight::Measured(EnteredSpectrum::of(&light)))).into());
    }
    let load::Spectra { named, notes: told } = load::spectra(&text, &name(path), Carries::Reflectance)?;
    notes.extend(told);
    let entered = |(name, spectrum): (String, Spectrum)| (name, EnteredSpectrum::of(&spectrum));
    Ok(TargetEdit::Reflectances(named.into_iter().map(entered).collect()).into())
}

/// A scan of steps and where they lie in it; why none are seen is told by the page that shows the scan.
fn placed(
    path: &Path,
    kind: ScanKind,
    wanted: &Wanted,
    home: Home<'_>,
    go_on: GoOn<'_>,
) -> Result<(NewScan, Place), Problem> {
    let (width, height) = load::size(path)?;
    let new = new_scan(path, kind, home)?;
    let scan = load::scan(path, load::Limits::default(), go_on)?;
    // All of it is read by now.
    let place = match finding::strip_of(&scan, new.entry.channel, wanted, &|| !go_on(1.0)) {
        Ok(found) => Place::Found(found.value.shape),
        Err(problem) if !go_on(1.0) => return Err(problem),
        Err(_) => Place::First(width, height),
    };
    Ok((new, place))
}

/// A scan file as it is taken in. A calibration serves scans of the kind that it was made from; with several, the tester
/// chooses.
fn new_scan(path: &Path, kind: ScanKind, home: Home<'_>) -> Result<NewScan, Problem> {
    let Home { series, folder } = home;
    let mut fitting = series
        .calibrations
        .iter()
        .filter(|(_, made)| series.scans.get(&made.scan).is_some_and(|scan| scan.kind == kind));
    let calibration = match (fitting.next(), fitting.next()) {
        (Some((id, _)), None) => Some(id.clone()),
        _ => None,
    };
    let entry = ScanEntry { calibration, ..store::scan_entry(path, kind, folder)? };
    Ok(NewScan { stem: stem(path), entry })
}

/// A scan that is compared with a first one by its codes: of the same kind, and through no calibration.
fn second_scan(
    path: &Path,
    first: Option<&ScanId>,
    otherwise: ScanKind,
    home: Home<'_>,
) -> Result<NewScan, Problem> {
    let kind = first.and_then(|scan| home.series.scans.get(scan)).map_or(otherwise, |entry| entry.kind);
    Ok(NewScan { stem: stem(path), entry: store::scan_entry(path, kind, home.folder)? })
}

/// The middle of a scan: that share of its sides.
fn middle((w, h): (u32, u32), share: f64) -> Rect {
    let (w, h) = (f64::from(w), f64::from(h));
    let (dx, dy) = ((w * share / 2.0).floor(), (h * share / 2.0).floor());
    let (x, y) = ((w / 2.0).floor(), (h / 2.0).floor());
    Rect { min: Point::new(x - dx, y - dy), max: Point::new(x + dx, y + dy) }
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> (Session, PathBuf) {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-projects/saltmarsh");
        let mut session = Session::of(Series::default(), folder.clone());
        session.set_recovery_folder(None);
        (session, folder.join("scans"))
    }

    fn taken(session: &Session, purpose: Purpose, path: &Path) -> Result<Operation, Problem> {
        let home = Home { series: session.series(), folder: session.folder() };
        match take(purpose, path, home, &|_| true)? {
            Taken::Operation(operation, _) => Ok(operation),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_dropped_strip_is_found_in_its_scan_and_brings_a_tablet_and_no_light() {
        let (mut session, scans) = sample();
        let film = FilmId::from("Tern 160");
        let add = crate::edits::FilmEdit::Add { id: film.clone(), label: film.0.clone(), reference: true };
        session.carry_out(add).unwrap();
        let tablet = taken(&session, Purpose::Tablet, &scans.join("../step-tablet.csv")).unwrap();
        session.carry_out(tablet).unwrap();
        let strip =
            taken(&session, Purpose::Strip(film.clone(), 0), &scans.join("tern-160-strip.tif")).unwrap();
        assert_eq!(session.carry_out(strip).unwrap().as_deref(), Some("take in the strip of Tern 160"));
        let film = session.series().film(&film).unwrap();
        let ReadingsSource::Strip { shape, .. } = &film.strips[0].readings else { panic!("a scan") };
        // The corner of step 1 as the sample's list has it, from its simulator.
        let corner = shape.quad.corners[0];
        assert!((corner.x - 54.18).hypot(corner.y - 57.19) < 2.0, "{corner:?}");
        let exposed = film.tablet_exposure.as_ref().unwrap();
        assert_eq!(exposed.exposure, twinwedge_core::document::Exposure::NotSaid);
    }

    #[test]
    fn a_file_that_is_no_scan_is_a_problem_and_changes_nothing() {
        let (session, scans) = sample();
        let nowhere = scans.join("nothing-there.tif");
        for purpose in [Purpose::Calibration, Purpose::ScannerEdge, Purpose::Print("Tern 160".into())] {
            assert!(taken(&session, purpose, &nowhere).is_err());
        }
        assert!(taken(&session, Purpose::Folder, &scans).unwrap_err().cause.contains("no part of a series"));
    }

    #[test]
    fn a_scan_over_typed_readings_is_told() {
        let reading = twinwedge_core::document::TypedReading::new(0.3);
        let mut series = Series::default();
        let mut film = twinwedge_core::document::Film::named("Tern".into(), "Tern 160");
        film.strips.push(ReadingsSource::Typed(vec![reading; 21]).into());
        series.films.push(film);
        let over = |purpose: Purpose| purpose.over_typed(&series);
        assert_eq!(over(Purpose::Strip("Tern".into(), 0)), Some(("Tern 160".to_owned(), 21)));
        assert_eq!(over(Purpose::Strip("Tern".into(), 1)), None);
        assert_eq!(over(Purpose::Readings("Tern".into(), 0)), None);
        assert_eq!(over(Purpose::PaperStrip), None);
    }
}
