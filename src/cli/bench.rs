//! What verbs on files alone lay their files into: a small series of its own, asked through the same session as the window.

use std::path::{Path, PathBuf};

use twinwedge_workbench::core::document::{
    Calibration, CalibrationId, EdgeArea, Film, FilmId, ScanEntry, ScanId, ScanKind, Series, StripShape,
    Tablet, TabletId,
};
use twinwedge_workbench::core::geometry::{Point, Quad, Rect};
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::words::Sentence;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::{import, load, store, typed};

use super::files::{self, CalibrationFile};
use super::reading::ScanReading;

/// A series in the making, with scan paths as they were given.
pub(super) struct Bench {
    pub(super) series: Series,
    /// How its scans are read, where that is said.
    how: ScanReading,
}

impl Bench {
    pub(super) fn new(how: &ScanReading) -> Self {
        Self { series: Series::default(), how: how.clone() }
    }

    pub(super) fn session(self) -> Session {
        Session::of(self.series, PathBuf::new())
    }

    pub(super) fn tablet(&mut self, name: &str, tablet: Tablet) -> TabletId {
        let id = TabletId(name.to_owned());
        self.series.tablets.insert(id.clone(), tablet);
        id
    }

    pub(super) fn film(&mut self, label: &str, change: impl FnOnce(&mut Film)) -> FilmId {
        let id = self.series.free_film_id(label);
        let mut film = Film::named(id.clone(), label);
        change(&mut film);
        self.series.films.push(film);
        id
    }

    pub(super) fn entry(&mut self, id: &ScanId, change: impl FnOnce(&mut ScanEntry)) {
        if let Some(entry) = self.series.scans.get_mut(id) {
            change(entry);
        }
    }

    /// Takes a scan in that is read as the verb was told to.
    pub(super) fn scan(&mut self, path: &Path, kind: ScanKind) -> Result<ScanId, Problem> {
        let calibration =
            self.how.calibration.clone().map(|file| self.calibration(&file, kind)).transpose()?;
        let how = (self.how.dpi, self.how.encoding.encoding, calibration);
        let id = self.bare_scan(path, kind)?;
        self.entry(&id, |entry| (entry.dpi, entry.encoding, entry.calibration) = how);
        Ok(id)
    }

    /// Takes a scan in of which nothing is said.
    pub(super) fn bare_scan(&mut self, path: &Path, kind: ScanKind) -> Result<ScanId, Problem> {
        let entry = store::scan_entry(path, kind, Path::new(""))?;
        let id = self.series.free_scan_id(&path.display().to_string());
        self.series.scans.insert(id.clone(), entry);
        Ok(id)
    }

    /// The series' edge of the scanner, in a box or the whole picture.
    pub(super) fn scanner_edge(
        &mut self,
        path: &Path,
        text: Option<&str>,
        kind: ScanKind,
    ) -> Result<(), Problem> {
        let area = area("--scanner-area", path, text)?;
        let scan = self.scan(path, kind)?;
        self.series.sharpness.scanner_edge = Some(EdgeArea { scan, area });
        Ok(())
    }

    fn calibration(&mut self, file: &Path, kind: ScanKind) -> Result<CalibrationId, Problem> {
        let id = CalibrationId(file.display().to_string());
        if self.series.calibrations.contains_key(&id) {
            return Ok(id);
        }
        let read: CalibrationFile = files::read(file)?;
        let folder = file.parent().unwrap_or(Path::new(""));
        let tablet = import::tablet_by_name(&read.tablet, folder)?;
        let steps = u32::try_from(tablet.steps.len()).unwrap_or(u32::MAX);
        let tablet = self.tablet(&read.tablet, tablet);
        let scan = self.bare_scan(&store::paths::absolute(folder, &read.scan), kind)?;
        let shape = StripShape::new(read.quad(file)?, steps);
        self.series.calibrations.insert(id.clone(), Calibration::new(id.0.clone(), scan, shape, tablet));
        Ok(id)
    }
}

/// Two opposite corners.
pub(super) fn rectangle(option: &str, text: &str) -> Result<Rect, Problem> {
    let points = typed::parse_points(text, 2).map_err(|cause| usage(option, cause, "Give 'x,y x,y'."))?;
    Ok(Rect::between(points[0], points[1]))
}

/// A box as it was given, else the whole picture.
pub(super) fn area(option: &str, path: &Path, text: Option<&str>) -> Result<Rect, Problem> {
    if let Some(text) = text {
        return rectangle(option, text);
    }
    let (width, height) = load::size(path)?;
    Ok(Rect::between(Point::default(), Point::new(f64::from(width), f64::from(height))))
}

/// Four corners in pixels of the scan, along the strip or first row, then back.
pub(super) fn corners(option: &str, text: &str) -> Result<Quad, Problem> {
    let points = typed::parse_points(text, 4)
        .map_err(|cause| usage(option, cause, "Give four points 'x,y x,y x,y x,y'."))?;
    Ok(Quad { corners: [points[0], points[1], points[2], points[3]] })
}

/// What is wrong with an option.
pub(super) fn usage(option: &str, cause: impl Into<Sentence>, remedy: &str) -> Problem {
    Problem::error(Subject::File { path: option.to_owned(), place: None }, cause, remedy)
}
