//! A series from a folder of files and a CSV that says what each is.
//!
//! One row a file. Columns, by their names in the first row, in any order; only `file` and `kind` are always needed:
//!
//! | column | what stands in it |
//! |---|---|
//! | `file` | path relative to the list, with `/` between folders |
//! | `kind` | `tablet` (CSV of known densities), `calibration` (scan of a tablet), `readings` (CSV), `strip` (scan), `print` (scan), `grain` (scan of a uniform area), `edge` (scan of a slanted edge), `frame` (scan of a frame of a bracket), `paper` (reflection densities of a print of a tablet, CSV), `paper scan` (a scan of it), `layout` (a saved patch layout), `reflectances` (of its patches, CSV or CGATS), `light` (spectrum of the light on the target) |
//! | `film` | the film's label; needed but for tablets, calibrations, what is known of the target, and the paper, where it is the paper's label |
//! | `role` | `reference` or `candidate`; once per film is enough, empty is candidate |
//! | `tablet` | for readings, strips and calibrations: the file of a `tablet` row, or `nominal 11`, `21`, `31`, `41` |
//! | `exposure` | `absolute LGH` or `absolute LGH U` (lg of lux seconds in front of the tablet and its standard uncertainty), or `less STOPS` than the series' full exposure; empty is `less 0`. A second row of readings or strip for a film is an additional strip of its roll: `less STOPS` or `less STOPS U` than its first with its standard uncertainty, `overlap` or nothing where that is to be found |
//! | `calibration` | for scans: the file of a `calibration` row; empty is uncalibrated |
//! | `encoding` | for scans without a calibration: what their codes stand for: `linear`, `srgb`, `power:2.2`, `density:0..4`, `profile`; empty where the file says it, or nobody knows |
//! | `resolution` | dots per inch, where the file does not say |
//! | `place` | strips, calibrations, prints: four corners `x,y x,y x,y x,y` (first step or patch first, then along it); frame: the four corners of its shadow patch, needed on one frame of the reference alone; grain and edge: `x,y x,y`, two opposite corners; empty: the whole picture |
//! | `steps` | number of steps of a strip; empty: as many as its tablet has |
//! | `seen` | for calibrations: `film` or `print`; empty is film |
//! | `exposure_index` | for frames: the index that each was metered at |
//! | `box_speed` | arithmetic, once per film |
//! | `base_fog` | density read on an unexposed area, or `DENSITY U` with its standard uncertainty, once per film |
//! | `roll_of` | label of the film of which this is another roll, once per film |
//! | `light_source`, `seconds` | of the tablet's exposure, in the row of readings, strip or paper |
//! | `developer`, `dilution`, `temperature` (°C), `minutes`, `agitation` | how the film was developed, once per film |

mod list;

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use twinwedge_core::document::{
    CalibrationId, Encoding, EnteredSpectrum, Fault, FileDigest, Film, GridShape, Names, PaperTest,
    ReadingsSource, ScanId, ScanKind, Series, StripShape, SubjectLight, Tablet, TabletExposure, TabletId,
    ranges,
};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::greys::spectrum::Carries;
use twinwedge_core::patch::default_layout;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::shown::Quoted;
use twinwedge_core::tablet::find::{Order, Wanted};
use twinwedge_core::words::Sentence;

use crate::edits::{self, Part};
use crate::finding::{self, Seen, Sought};
use crate::load;
use crate::store;
use crate::typed::{parse_exposure, parse_level, parse_reading};

pub(crate) use list::{COLUMNS, ListRow, read_rows};

/// Makes a series from `list`, a CSV beside the files it names. Nothing is copied or changed. The second part is what is
/// doubtful but did not hinder.
///
/// # Errors
/// Names file, line and column of what is wrong.
pub fn series_from_list(list: &Path) -> Result<(Series, Vec<Problem>), Problem> {
    series_from_list_while(list, &|_| true)
}

/// The same; `go_on` is told the share of the rows taken and answers whether to go on.
///
/// # Errors
/// As [`series_from_list`], or `go_on` said no.
pub fn series_from_list_while(
    list: &Path,
    go_on: &(dyn Fn(f32) -> bool + Sync),
) -> Result<(Series, Vec<Problem>), Problem> {
    let rows = read_rows(list)?;
    let folder = list.parent().map_or_else(|| PathBuf::from("."), Path::to_path_buf);
    let title = list.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let series = Series { title, ..Series::default() };
    let mut ready = Ready::default();
    make_ready(&series, &folder, &rows, &mut ready, go_on)?;
    let (series, mut notes) = take_rows(series, &folder, &rows, &mut ready)?;
    if series.reference.is_none() {
        notes.push(Problem::doubt(
            Subject::Series,
            "no row says which film is the reference.",
            "Write 'reference' into the column 'role' of one film, or choose it on the Films page.",
        ));
    }
    Ok((series, notes))
}

/// What is known of files without reading them again, by their paths as rows name them.
#[derive(Debug, Clone, Default)]
pub(crate) struct Ready {
    /// Digest and size of scans, and tables.
    files: HashMap<String, ReadyFile>,
    /// The strips of scans whose rows do not say where they lie.
    strips: HashMap<(String, Order), Seen>,
}

impl Ready {
    pub(crate) fn of(files: HashMap<String, ReadyFile>) -> Self {
        Self { files, ..Self::default() }
    }
}

/// What was read of one file.
#[derive(Debug, Clone)]
pub(crate) enum ReadyFile {
    /// A scan; its size where that was read, too.
    Scan(FileDigest, Option<(u32, u32)>),
    /// A table of step densities.
    Readings(load::Table),
    /// Densities of a tablet.
    Tablet(Tablet),
}

/// Reads what `rows` speak of and is not `ready` yet, and finds the strips whose places they do not give: taking them after
/// that reads no scan. `go_on` is told the share done, from several threads, and answers whether to go on.
///
/// # Errors
/// What is wrong with a row or a file of `rows`, or `go_on` said no.
pub(crate) fn make_ready(
    series: &Series,
    folder: &Path,
    rows: &[ListRow],
    ready: &mut Ready,
    go_on: &(dyn Fn(f32) -> bool + Sync),
) -> Result<(), Problem> {
    let cancelled = || {
        let path = list_of(rows);
        let cause = "Taking in the files of the list was cancelled.";
        Problem::note(Subject::File { path, place: None }, cause, "Nothing was taken in.")
    };
    let (_, _, sought) = Maker::of(series.clone(), folder, ready, &|share| go_on(0.5 * share))
        .take_all(rows)
        .map_err(|problem| if go_on(0.0) { problem } else { cancelled() })?;
    let (keys, sought): (Vec<_>, Vec<_>) = sought.into_iter().unzip();
    let total = sought.len().max(1) as f32;
    let seen = finding::strips_in(&sought, &|done| go_on(0.5 + 0.5 * done as f32 / total))
        .filter(|_| go_on(1.0))
        .ok_or_else(cancelled)?;
    ready.strips.extend(keys.into_iter().zip(seen));
    Ok(())
}

/// Adds to `series`, kept in `folder`, what `rows` say that are `ready`. The second part is what is doubtful but did not
/// hinder.
pub(crate) fn take_rows(
    series: Series,
    folder: &Path,
    rows: &[ListRow],
    ready: &mut Ready,
) -> Result<(Series, Vec<Problem>), Problem> {
    let (series, notes, _) = Maker::of(series, folder, ready, &|_| true).take_all(rows)?;
    series.check().map_err(|fault| {
        let place = Some(fault.whole_place());
        let Fault { cause, remedy, .. } = *fault;
        Problem::error(Subject::File { path: list_of(rows), place }, cause, remedy)
    })?;
    Ok((series, notes))
}

/// The list that rows are of.
fn list_of(rows: &[ListRow]) -> String {
    rows.first().map(|row| row.list.to_string()).unwrap_or_default()
}

/// A step tablet by name: `nominal N`, else a file of densities.
///
/// # Errors
/// No such nominal tablet, or what reading the file found.
pub fn tablet_by_name(name: &str, folder: &Path) -> Result<Tablet, Problem> {
    if let Some(steps) = name.strip_prefix("nominal ") {
        return steps.trim().parse().ok().and_then(Tablet::nominal).ok_or_else(|| {
            Problem::error(
                Subject::File { path: name.to_owned(), place: None },
                "there is no such nominal tablet.",
                "Nominal tablets have 11, 21, 31 or 41 steps; for another give a CSV of its densities.",
            )
        });
    }
    let path = folder.join(name);
    let mut tablet = load::tablet(&load::text(&path)?, name)?;
    name.clone_into(&mut tablet.label);
    Ok(tablet)
}

const EXPOSURES: &str = "Write 'absolute LGH', 'absolute LGH U', 'less STOPS', or nothing.";

/// The series in the making.
struct Maker<'a> {
    folder: PathBuf,
    ready: &'a mut Ready,
    series: Series,
    tablets: HashMap<String, TabletId>,
    calibrations: HashMap<String, CalibrationId>,
    /// Films by their labels: their places in the series.
    films: HashMap<String, usize>,
    names: Names,
    /// Rolls, the labels of the films that they are rolls of, and the lines that say so.
    rolls: Vec<(usize, String, u64)>,
    notes: Vec<Problem>,
    /// Strips that are still to be looked for.
    sought: Vec<((String, Order), Sought)>,
    /// Share of the rows taken before this one.
    share: f32,
    go_on: &'a (dyn Fn(f32) -> bool + Sync),
}

/// A series, what is doubtful about it, and strips that are still to be looked for.
type Made = (Series, Vec<Problem>, Vec<((String, Order), Sought)>);

impl<'a> Maker<'a> {
    fn of(
        series: Series,
        folder: &Path,
        ready: &'a mut Ready,
        go_on: &'a (dyn Fn(f32) -> bool + Sync),
    ) -> Self {
        Self {
            folder: folder.to_path_buf(),
            ready,
            tablets: series.tablets.keys().map(|id| (id.0.clone(), id.clone())).collect(),
            calibrations: series.calibrations.keys().map(|id| (id.0.clone(), id.clone())).collect(),
            films: series.films.iter().enumerate().map(|(place, film)| (film.label.clone(), place)).collect(),
            names: Names::of(&series),
            series,
            rolls: Vec::new(),
            notes: Vec::new(),
            sought: Vec::new(),
            share: 0.0,
            go_on,
        }
    }

    fn take_all(mut self, rows: &[ListRow]) -> Result<Made, Problem> {
        let mut taken = 0.0;
        // The layout before the reflectances of its patches. Tablets before the calibrations that need them, both before the films that need either.
        for kinds in [
            &["tablet", "layout"][..],
            &["calibration", "reflectances", "light"],
            &["readings", "strip", "print", "grain", "edge", "frame", "paper", "paper scan"],
        ] {
            for row in rows.iter().filter(|row| kinds.contains(&row.get("kind"))) {
                self.share = taken / rows.len() as f32;
                self.take(row)?;
                taken += 1.0;
            }
        }
        self.families();
        Ok((self.series, self.notes, self.sought))
    }

    fn take(&mut self, row: &ListRow) -> Result<(), Problem> {
        match row.get("kind") {
            "tablet" => self.tablet(row, row.get("file")).map(drop),
            "calibration" => self.calibration(row),
            "layout" | "reflectances" | "light" => self.target(row),
            "paper" | "paper scan" => self.paper(row),
            kind => self.film_file(row, kind),
        }
    }

    fn tablet(&mut self, row: &ListRow, name: &str) -> Result<TabletId, Problem> {
        if let Some(id) = self.tablets.get(name) {
            return Ok(id.clone());
        }
        if name.is_empty() {
            return Err(row.wrong(
                "tablet",
                "it is empty.",
                "Name a tablet file of this list, or 'nominal 21'.",
            ));
        }
        let tablet = match self.ready.files.get(name) {
            Some(ReadyFile::Tablet(tablet)) => tablet.clone(),
            _ => tablet_by_name(name, &self.folder)?,
        };
        self.ready.files.insert(name.to_owned(), ReadyFile::Tablet(tablet.clone()));
        let id = TabletId(name.to_owned());
        edits::put_tablet(&mut self.series, id.clone(), tablet);
        self.tablets.insert(name.to_owned(), id.clone());
        Ok(id)
    }

    /// What is known of the target: its layout, what its patches reflect, or the light on it.
    fn target(&mut self, row: &ListRow) -> Result<(), Problem> {
        let file = row.get("file");
        let text = load::text(&self.folder.join(file))?;
        let edit: edits::Operation = match row.get("kind") {
            "layout" => edits::LayoutEdit::Take(store::parse_layout(&text, file)?).into(),
            "light" => {
                let (light, notes) = load::spectrum(&text, file, Carries::Light)?;
                self.notes.extend(notes);
                edits::TargetEdit::Light(Some(SubjectLight::Measured(EnteredSpectrum::of(&light)))).into()
            }
            _ => {
                let load::Spectra { named, notes } = load::spectra(&text, file, Carries::Reflectance)?;
                self.notes.extend(notes);
                // Nobody has laid another.
                self.series.layout.get_or_insert_with(default_layout);
                let entered =
                    named.into_iter().map(|(name, spectrum)| (name, EnteredSpectrum::of(&spectrum)));
                edits::TargetEdit::Reflectances(entered.collect()).into()
            }
        };
        edit.apply(&mut self.series).map_err(|problem| row.wrong("file", problem.cause, problem.remedy))
    }

    fn scan(&mut self, row: &ListRow, kind: ScanKind) -> Result<ScanId, Problem> {
        let file = row.get("file");
        let path = self.folder.join(file);
        let digest = match self.ready.files.get(file) {
            Some(ReadyFile::Scan(digest, _)) => digest.clone(),
            _ => {
                let digest = store::digest_while(&path, &mut |_| (self.go_on)(self.share))?;
                self.ready.files.insert(file.to_owned(), ReadyFile::Scan(digest.clone(), None));
                digest
            }
        };
        let mut entry = store::entry_of(&path, digest, kind, &self.folder);
        entry.dpi = row.number("resolution", &ranges::DPI)?;
        let encoding = row.get("encoding");
        if !encoding.is_empty() {
            let read = Encoding::parse(encoding);
            entry.encoding =
                Some(read.map_err(|cause| {
                    row.wrong("encoding", cause, "Or leave it empty where nobody knows.")
                })?);
        }
        let calibration = row.get("calibration");
        if !calibration.is_empty() {
            let id = self.calibrations.get(calibration).ok_or_else(|| {
                row.wrong(
                    "calibration",
                    format!("no row of kind 'calibration' has the file '{calibration}'."),
                    "Add that row, or leave this empty for an uncalibrated scan.",
                )
            })?;
            entry.calibration = Some(id.clone());
        }
        let id = self.names.scan(file);
        self.series.scans.insert(id.clone(), entry);
        Ok(id)
    }

    fn strip_shape(
        &mut self,
        row: &ListRow,
        scan: &ScanId,
        tablet: &TabletId,
        order: Order,
    ) -> Result<StripShape, Problem> {
        let tablet_steps = self.series.tablets.get(tablet).map_or(0, |tablet| tablet.steps.len());
        let steps = match row.number("steps", &ranges::STEPS)? {
            None => u32::try_from(tablet_steps).unwrap_or(u32::MAX),
            Some(steps) if steps.fract() == 0.0 => steps as u32,
            Some(steps) => {
                let cause = format!("{steps} is no whole number of steps.");
                return Err(row.wrong("steps", cause, "Give a whole number or nothing."));
            }
        };
        if let Some(corners) = row.points(4)? {
            let quad = Quad { corners: [corners[0], corners[1], corners[2], corners[3]] };
            return Ok(StripShape::new(quad, steps));
        }
        self.found(row, scan, Wanted { steps: Some(steps), order })
            .map_or_else(|| Ok(StripShape::new(self.whole(scan).map(Quad::upright)?, steps)), Ok)
    }

    /// Where the strip is seen in a scan whose row gives no corners, once it was looked for; what speaks against it becomes notes.
    fn found(&mut self, row: &ListRow, scan: &ScanId, wanted: Wanted) -> Option<StripShape> {
        let key = (row.get("file").to_owned(), wanted.order);
        let about = Subject::Scan(scan.clone());
        let Some(seen) = self.ready.strips.get(&key) else {
            let entry = self.series.scans.get(scan)?;
            let path = self.folder.join(&entry.path);
            self.sought.push((key, Sought { path, channel: entry.channel, wanted }));
            return None;
        };
        match seen {
            Ok(found) => {
                let note = |doubt: &Sentence| {
                    let remedy = "Look at it on the Tablets page; drag a corner where it is wrong.";
                    Problem::doubt(about.clone(), doubt.clone(), remedy)
                };
                self.notes.extend(found.doubts.iter().map(note));
                Some(found.value.shape)
            }
            Err(problem) => {
                let cause = format!("The strip was not found by itself: {}", problem.cause);
                self.notes.push(Problem::doubt(about, cause, problem.remedy.clone()));
                None
            }
        }
    }

    /// The whole picture of a scan, by its header.
    fn whole(&self, scan: &ScanId) -> Result<Rect, Problem> {
        let path = self.series.scans.get(scan).map_or("", |entry| entry.path.as_str());
        let (width, height) = match self.ready.files.get(path) {
            Some(ReadyFile::Scan(_, Some(size))) => *size,
            _ => load::size(&self.folder.join(path))?,
        };
        Ok(Rect { min: Point::new(0.0, 0.0), max: Point::new(f64::from(width), f64::from(height)) })
    }

    fn calibration(&mut self, row: &ListRow) -> Result<(), Problem> {
        let kind = match row.get("seen") {
            "" | "film" => ScanKind::Film,
            "print" => ScanKind::Print,
            other => {
                return Err(row.wrong(
                    "seen",
                    format!("'{}' is unknown.", Quoted(other)),
                    "Write film or print.",
                ));
            }
        };
        let tablet = self.tablet(row, row.get("tablet"))?;
        let scan = self.scan(row, kind)?;
        let shape = self.strip_shape(row, &scan, &tablet, Order::Rising)?;
        let file = row.get("file").to_owned();
        let id = CalibrationId(file.clone());
        edits::put_calibration(&mut self.series, id.clone(), scan, shape, tablet);
        self.calibrations.insert(file, id);
        Ok(())
    }

    /// The print of a tablet that tests the paper.
    fn paper(&mut self, row: &ListRow) -> Result<(), Problem> {
        if self.series.paper.is_some() {
            return Err(row.wrong("kind", "another row tests the paper already.", "A series has one paper."));
        }
        let tablet = self.tablet(row, row.get("tablet"))?;
        let mut test = PaperTest::through(tablet.clone());
        row.get("film").clone_into(&mut test.label);
        test.seconds = row.number("seconds", &ranges::SECONDS)?;
        test.exposure = row.read("exposure", parse_exposure, EXPOSURES)?;
        if !row.get("base_fog").is_empty() {
            let remedy = "Write the density of the paper's white, or nothing.";
            test.white = Some(row.read("base_fog", parse_reading, remedy)?);
        }
        test.readings = Some(if row.get("kind") == "paper" {
            ReadingsSource::Typed(self.typed(row.get("file"))?.readings)
        } else {
            let scan = self.scan(row, ScanKind::Print)?;
            let shape = self.strip_shape(row, &scan, &tablet, Order::Falling)?;
            ReadingsSource::Strip { scan, shape }
        });
        edits::put_test(&mut self.series, test);
        Ok(())
    }

    /// The film a row speaks of, made when it is new, with what the row says about it: its place in the series.
    fn film(&mut self, row: &ListRow) -> Result<usize, Problem> {
        let label = row.get("film");
        if label.is_empty() {
            return Err(row.wrong("film", "it is empty.", "Say which film the file belongs to."));
        }
        let film = if let Some(film) = self.films.get(label) {
            *film
        } else {
            let id = self.names.film(label);
            let place = edits::add_film(&mut self.series, id, label);
            self.films.insert(label.to_owned(), place);
            place
        };
        let id = self.series.films.get(film).map(|film| film.id.clone());
        match row.get("role") {
            "" | "candidate" => {}
            "reference" if self.series.reference.is_none() || self.series.reference == id => {
                self.series.reference = id;
            }
            "reference" => {
                return Err(row.wrong(
                    "role",
                    "another film is the reference already.",
                    "A series has one reference.",
                ));
            }
            other => {
                return Err(row.wrong(
                    "role",
                    format!("'{}' is unknown.", Quoted(other)),
                    "Write reference or candidate.",
                ));
            }
        }
        if let Some(speed) = row.number("box_speed", &ranges::BOX_SPEED)? {
            self.change(film, |film| film.box_speed = Some(speed));
        }
        if !row.get("base_fog").is_empty() {
            let reading = row.read("base_fog", parse_reading, "Write 'DENSITY', 'DENSITY U', or nothing.")?;
            self.change(film, |film| film.base_fog = Some(reading));
        }
        self.process(row, film)?;
        Ok(film)
    }

    /// How the film was developed, as far as the row says.
    fn process(&mut self, row: &ListRow, film: usize) -> Result<(), Problem> {
        let celsius = row.number("temperature", &ranges::TEMPERATURE)?;
        let minutes = row.number("minutes", &ranges::MINUTES)?;
        let text = |column: &str| Some(row.get(column).to_owned()).filter(|text| !text.is_empty());
        let roll_of = text("roll_of");
        if roll_of.as_deref() == Some(row.get("film")) {
            let remedy = "Name the film of which this is another roll, or leave it empty.";
            return Err(row.wrong("roll_of", "a film is no roll of itself.", remedy));
        }
        let (developer, dilution, agitation) = (text("developer"), text("dilution"), text("agitation"));
        self.change(film, |film| {
            let Film { process, .. } = film;
            process.developer = developer.unwrap_or_else(|| std::mem::take(&mut process.developer));
            process.dilution = dilution.unwrap_or_else(|| std::mem::take(&mut process.dilution));
            process.agitation = agitation.unwrap_or_else(|| std::mem::take(&mut process.agitation));
            process.temperature_c = celsius.or(process.temperature_c);
            process.minutes = minutes.or(process.minutes);
        });
        if let Some(label) = roll_of {
            self.rolls.push((film, label, row.line));
        }
        Ok(())
    }

    /// Rolls to the films that they are rolls of, once all films are known.
    fn families(&mut self) {
        for (roll, label, line) in std::mem::take(&mut self.rolls) {
            let films = &self.series.films;
            let head = self.films.get(&label).and_then(|place| films.get(*place));
            let head = head.filter(|head| head.roll_of.is_none()).map(|head| head.id.clone());
            if let (None, Some(film)) = (&head, films.get(roll)) {
                self.notes.push(Problem::doubt(
                    Subject::Film(film.id.clone()),
                    format!("line {line} says that it is a roll of '{label}', which is no film of the list that is itself no further roll."),
                    "Name the film of which it is another roll as the column 'film' does, or choose it on the Films page.",
                ));
            }
            self.change(roll, |film| film.roll_of = head);
        }
    }

    fn typed(&mut self, file: &str) -> Result<load::Table, Problem> {
        let table = match self.ready.files.get(file) {
            Some(ReadyFile::Readings(table)) => table.clone(),
            _ => load::table(&load::text(&self.folder.join(file))?, file)?,
        };
        // One file may stand in several rows.
        if !self.notes.iter().any(|note| table.notes.contains(note)) {
            self.notes.extend(table.notes.iter().cloned());
        }
        self.ready.files.insert(file.to_owned(), ReadyFile::Readings(table.clone()));
        Ok(table)
    }

    fn film_file(&mut self, row: &ListRow, kind: &str) -> Result<(), Problem> {
        if kind == "readings" {
            let table = self.typed(row.get("file"))?;
            let row = &row.with_stated(&table.stated);
            let film = self.film(row)?;
            self.readings(row, film, |_, _| Ok(ReadingsSource::Typed(table.readings)))?;
            self.change(film, |film| {
                if let Some(strip) = film.strips.last_mut() {
                    strip.density = table.stated.density;
                }
            });
            return Ok(());
        }
        let film = self.film(row)?;
        match kind {
            "strip" => {
                let scan = self.scan(row, ScanKind::Film)?;
                self.readings(row, film, |maker, tablet| {
                    let shape = maker.strip_shape(row, &scan, tablet, Order::Falling)?;
                    Ok(ReadingsSource::Strip { scan, shape })
                })
            }
            "print" => {
                let scan = self.scan(row, ScanKind::Print)?;
                let grid = row.points(4)?.map(|c| GridShape::new(Quad { corners: [c[0], c[1], c[2], c[3]] }));
                if grid.is_some() && self.series.layout.is_none() {
                    self.series.layout = Some(default_layout());
                }
                self.put(film, Part::Print(grid), scan)
            }
            "frame" => self.frame(row, film),
            kind => {
                let edge = kind == "edge";
                // Several rows of one scan are several areas of it.
                let known = ScanId(row.get("file").to_owned());
                let another =
                    !edge && self.series.films.get(film).is_some_and(|film| !film.uniform_areas.is_empty());
                let scan = if another && self.series.scans.contains_key(&known) {
                    known
                } else {
                    self.scan(row, ScanKind::Film)?
                };
                let area = match row.points(2)? {
                    Some(corners) => Rect::between(corners[0], corners[1]),
                    None => self.whole(&scan)?,
                };
                self.put(film, if edge { Part::Edge(area) } else { Part::AnotherArea(area) }, scan)
            }
        }
    }

    fn frame(&mut self, row: &ListRow, film: usize) -> Result<(), Problem> {
        let index = row.number("exposure_index", &ranges::EXPOSURE_INDEX)?.ok_or_else(|| {
            row.wrong("exposure_index", "It is empty.", "Write the index that the frame was metered at.")
        })?;
        let scan = self.scan(row, ScanKind::Film)?;
        let patch = row.points(4)?.map(|c| Quad { corners: [c[0], c[1], c[2], c[3]] });
        self.put(film, Part::FurtherFrame(index, patch), scan)
    }

    fn readings(
        &mut self,
        row: &ListRow,
        film: usize,
        source: impl FnOnce(&mut Self, &TabletId) -> Result<ReadingsSource, Problem>,
    ) -> Result<(), Problem> {
        let known = self.series.films.get(film);
        let additional = known.is_some_and(|film| !film.strips.is_empty());
        let tablet = match row.get("tablet") {
            "" if additional => known.and_then(|film| film.strip_tablet(0)).cloned(),
            name => Some(self.tablet(row, name)?),
        };
        let Some(tablet) = tablet else {
            return Err(row.wrong("tablet", "it is empty.", "Name the tablet of this strip."));
        };
        let source = source(self, &tablet)?;
        if additional {
            return self.additional_strip(row, film, tablet, source);
        }
        let exposure = row.read("exposure", parse_exposure, EXPOSURES)?;
        let seconds = row.number("seconds", &ranges::SECONDS)?;
        let light_source = row.get("light_source").to_owned();
        let exposed = TabletExposure { tablet, exposure, light_source, seconds };
        self.change(film, |film| edits::put_first_strip(film, source, Some(exposed)));
        Ok(())
    }

    /// An additional strip of a film that has its first already.
    fn additional_strip(
        &mut self,
        row: &ListRow,
        film: usize,
        tablet: TabletId,
        source: ReadingsSource,
    ) -> Result<(), Problem> {
        let remedy =
            "Write 'less STOPS' or 'less STOPS U' than the film's first strip, 'overlap', or nothing.";
        let level = row.read("exposure", parse_level, remedy)?;
        let name = Path::new(row.get("file")).file_stem().unwrap_or_default().to_string_lossy().into_owned();
        self.change(film, |film| edits::add_strip(film, name, source, Some(tablet), level));
        Ok(())
    }

    /// Makes a scan that part of the film at a place of the series.
    fn put(&mut self, film: usize, part: Part, scan: ScanId) -> Result<(), Problem> {
        self.series.films.get_mut(film).map_or(Ok(()), |film| part.put(film, scan))
    }

    /// Changes the film at a place of the series.
    fn change(&mut self, film: usize, change: impl FnOnce(&mut Film)) {
        if let Some(film) = self.series.films.get_mut(film) {
            change(film);
        }
    }
}
