//! A series from a folder of files and a CSV that says what each is.
//!
//! One row a file. Columns, by their names in the first row, in any order; only `file` and `kind` are always needed:
//!
//! | column | what stands in it |
//! |---|---|
//! | `file` | path relative to the list, with `/` between folders |
//! | `kind` | `tablet` (CSV of known densities), `calibration` (scan of a tablet), `readings` (CSV), `strip` (scan), `print` (scan), `grain` (scan of a plain field), `edge` (scan of a slanted edge), `frame` (scan of a frame of a bracket), `paper` (reflection densities of a print of a tablet, CSV), `paper scan` (a scan of it) |
//! | `film` | the film's label; needed but for tablets, calibrations and the paper, where it is the paper's label |
//! | `role` | `reference` or `candidate`; once per film is enough, empty is candidate |
//! | `tablet` | for readings, strips and calibrations: the file of a `tablet` row, or `nominal 11`, `21`, `31`, `41` |
//! | `exposure` | `absolute LGH` or `absolute LGH U` (lg of lux seconds in front of the tablet and its standard uncertainty), or `less STOPS` than the series' full exposure; empty is `less 0`. A second row of readings or strip for a film is a further strip of its roll: `less STOPS` or `less STOPS U` than its first with its standard uncertainty, `overlap` or nothing where that is to be found |
//! | `calibration` | for scans: the file of a `calibration` row; empty is uncalibrated |
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

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

use twinwedge_core::document::{
    BracketFrame, Calibration, CalibrationId, EdgeArea, Exposure, FileDigest, Film, FilmId, FurtherStrip,
    GrainArea, GridShape, PaperTest, PrintChoice, ReadingsSource, ScanId, ScanKind, Series, StripLevel,
    StripShape, Tablet, TabletExposure, TabletId, TypedReading,
};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_core::patch::default_layout;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::tablet::find::{Order, Wanted};

use crate::finding;
use crate::load;
use crate::store;

/// The columns that a list may have.
pub(crate) const COLUMNS: [&str; 22] = [
    "file",
    "kind",
    "film",
    "role",
    "tablet",
    "exposure",
    "calibration",
    "resolution",
    "place",
    "steps",
    "seen",
    "exposure_index",
    "box_speed",
    "base_fog",
    "roll_of",
    "light_source",
    "seconds",
    "developer",
    "dilution",
    "temperature",
    "minutes",
    "agitation",
];

/// What a row's file may be.
const KINDS: [&str; 10] =
    ["tablet", "calibration", "readings", "strip", "print", "grain", "edge", "frame", "paper", "paper scan"];

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
    let (series, mut notes) =
        take_rows(Series { title, ..Series::default() }, &folder, &rows, &Ready::default(), go_on)?;
    if series.reference.is_none() {
        notes.push(Problem::doubt(
            Subject::Series,
            "no row says which film is the reference.",
            "Write 'reference' into the column 'role' of one film, or choose it on the Films page.",
        ));
    }
    Ok((series, notes))
}

/// What of files was read beforehand, by their paths as rows name them: digest and size of scans, and tables.
pub(crate) type Ready = HashMap<String, ReadyFile>;

/// What was read of one file.
#[derive(Debug, Clone)]
pub(crate) enum ReadyFile {
    /// A scan.
    Scan(FileDigest, (u32, u32)),
    /// Readings.
    Readings(Vec<TypedReading>),
    /// Densities of a tablet.
    Tablet(Tablet),
}

/// Adds to `series`, kept in `folder`, what `rows` say; what is not `ready` is read. The second part is what is doubtful
/// but did not hinder. `go_on` is told the share of the rows taken.
pub(crate) fn take_rows(
    series: Series,
    folder: &Path,
    rows: &[Row],
    ready: &Ready,
    go_on: &(dyn Fn(f32) -> bool + Sync),
) -> Result<(Series, Vec<Problem>), Problem> {
    let mut maker = Maker {
        folder: folder.to_path_buf(),
        ready,
        tablets: series.tablets.keys().map(|id| (id.0.clone(), id.clone())).collect(),
        calibrations: series.calibrations.keys().map(|id| (id.0.clone(), id.clone())).collect(),
        films: series.films.iter().map(|film| (film.label.clone(), film.id.clone())).collect(),
        series,
        rolls: Vec::new(),
        notes: Vec::new(),
        share: 0.0,
        go_on,
    };
    let mut taken = 0.0;
    // Tablets before the calibrations that need them, both before the films that need either.
    for kinds in [
        &["tablet"][..],
        &["calibration"],
        &["readings", "strip", "print", "grain", "edge", "frame", "paper", "paper scan"],
    ] {
        for row in rows.iter().filter(|row| kinds.contains(&row.get("kind"))) {
            maker.share = taken / rows.len() as f32;
            maker.take(row)?;
            taken += 1.0;
            if !go_on(taken / rows.len() as f32) {
                let subject = Subject::File { path: row.list.clone(), place: None };
                let cause = "Taking in the files of the list was cancelled.";
                return Err(Problem::note(subject, cause, "Nothing was taken in."));
            }
        }
    }
    maker.families();
    Ok((maker.series, maker.notes))
}

/// One row of a list: values by column, and where it stands.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    list: String,
    line: u64,
    values: HashMap<String, String>,
}

impl Row {
    /// A row that no list holds: of the file at `line` of what was found in the folder `list`.
    pub(crate) fn found(
        list: &str,
        line: u64,
        values: impl IntoIterator<Item = (&'static str, String)>,
    ) -> Self {
        let values = values.into_iter().map(|(column, value)| (column.to_owned(), value)).collect();
        Self { list: list.to_owned(), line, values }
    }

    /// What stands in a column; empty where it has none.
    pub(crate) fn get(&self, column: &str) -> &str {
        self.values.get(column).map_or("", String::as_str)
    }

    fn wrong(&self, column: &str, cause: impl Into<String>, remedy: impl Into<String>) -> Problem {
        let place = Some(format!("line {}, column '{column}'", self.line));
        Problem::error(Subject::File { path: self.list.clone(), place }, cause, remedy)
    }

    fn number(&self, column: &str) -> Result<Option<f64>, Problem> {
        let text = self.get(column);
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() && number > 0.0 => Ok(Some(number)),
            _ => Err(self.wrong(
                column,
                format!("'{text}' is not a number above zero."),
                "Correct it or leave it empty.",
            )),
        }
    }

    fn points(&self, wanted: usize) -> Result<Option<Vec<Point>>, Problem> {
        let text = self.get("place");
        if text.is_empty() {
            return Ok(None);
        }
        parse_points(text, wanted).map(Some).map_err(|cause| {
            self.wrong(
                "place",
                cause,
                format!("Give {wanted} points as 'x,y x,y ...' in pixels, or leave it empty."),
            )
        })
    }
}

/// Points as `x,y x,y ...`, exactly `wanted` of them.
///
/// # Errors
/// What is wrong, in a sentence.
pub fn parse_points(text: &str, wanted: usize) -> Result<Vec<Point>, String> {
    let point = |pair: &str| {
        let (x, y) = pair.split_once(',')?;
        let (x, y) = (x.trim().parse::<f64>().ok()?, y.trim().parse::<f64>().ok()?);
        (x.is_finite() && y.is_finite()).then_some(Point::new(x, y))
    };
    let points: Option<Vec<Point>> = text.split_whitespace().map(point).collect();
    match points {
        Some(points) if points.len() == wanted => Ok(points),
        Some(points) => Err(format!("'{text}' holds {} points where {wanted} belong.", points.len())),
        None => Err(format!("'{text}' is not a list of points.")),
    }
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

/// The rows of a list.
pub(crate) fn read_rows(list: &Path) -> Result<Vec<Row>, Problem> {
    let name = list.display().to_string();
    let text = load::text(list)?;
    let at = |place: Option<String>, cause: String, remedy: &str| {
        Problem::error(Subject::File { path: name.clone(), place }, cause, remedy)
    };
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(false).from_reader(text.as_bytes());
    let head: Vec<String> = match reader.headers() {
        Ok(head) => head.iter().map(str::to_lowercase).collect(),
        Err(error) => return Err(at(None, format!("it is no CSV: {error}."), "Save it as CSV with commas.")),
    };
    if let Some(unknown) = head.iter().find(|column| !COLUMNS.contains(&column.as_str())) {
        return Err(at(
            Some("line 1".to_owned()),
            format!("'{unknown}' is no column of a list."),
            &format!("Columns are {}.", COLUMNS.join(", ")),
        ));
    }
    for needed in ["file", "kind"] {
        if !head.iter().any(|column| column == needed) {
            return Err(at(
                Some("line 1".to_owned()),
                format!("the column '{needed}' is missing."),
                "Add it.",
            ));
        }
    }
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| {
            let place = error.position().map(|position| format!("line {}", position.line()));
            at(
                place,
                format!("the row cannot be read: {error}."),
                "Give every row as many values as the first.",
            )
        })?;
        let line = record.position().map_or(0, csv::Position::line);
        let values = head.iter().cloned().zip(record.iter().map(str::to_owned)).collect();
        let row = Row { list: name.clone(), line, values };
        let kind = row.get("kind");
        if !KINDS.contains(&kind) {
            return Err(row.wrong(
                "kind",
                format!("'{kind}' is no kind of file."),
                format!("Kinds are {}.", KINDS.join(", ")),
            ));
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(at(None, "it has no rows.".to_owned(), "Give one row for each file."));
    }
    Ok(rows)
}

/// The series in the making.
struct Maker<'a> {
    folder: PathBuf,
    ready: &'a Ready,
    series: Series,
    tablets: HashMap<String, TabletId>,
    calibrations: HashMap<String, CalibrationId>,
    films: BTreeMap<String, FilmId>,
    /// Rolls, the labels of the films that they are rolls of, and the lines that say so.
    rolls: Vec<(FilmId, String, u64)>,
    notes: Vec<Problem>,
    /// Share of the rows taken before this one.
    share: f32,
    go_on: &'a (dyn Fn(f32) -> bool + Sync),
}

impl Maker<'_> {
    fn take(&mut self, row: &Row) -> Result<(), Problem> {
        match row.get("kind") {
            "tablet" => self.tablet(row, row.get("file")).map(drop),
            "calibration" => self.calibration(row),
            "paper" | "paper scan" => self.paper(row),
            kind => self.film_file(row, kind),
        }
    }

    fn tablet(&mut self, row: &Row, name: &str) -> Result<TabletId, Problem> {
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
        let tablet = match self.ready.get(name) {
            Some(ReadyFile::Tablet(tablet)) => tablet.clone(),
            _ => tablet_by_name(name, &self.folder)?,
        };
        let id = TabletId(name.to_owned());
        self.series.tablets.insert(id.clone(), tablet);
        self.tablets.insert(name.to_owned(), id.clone());
        Ok(id)
    }

    fn scan(&mut self, row: &Row, kind: ScanKind) -> Result<ScanId, Problem> {
        let file = row.get("file");
        let path = self.folder.join(file);
        let mut entry = match self.ready.get(file) {
            Some(ReadyFile::Scan(digest, _)) => store::entry_of(&path, digest.clone(), kind, &self.folder),
            _ => store::scan_entry(&path, kind, &self.folder)?,
        };
        entry.dpi = row.number("resolution")?;
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
        let id = self.series.free_scan_id(file);
        self.series.scans.insert(id.clone(), entry);
        Ok(id)
    }

    fn strip_shape(
        &mut self,
        row: &Row,
        scan: &ScanId,
        tablet: &TabletId,
        order: Order,
    ) -> Result<StripShape, Problem> {
        let tablet_steps = self.series.tablets.get(tablet).map_or(0, |tablet| tablet.steps.len());
        let steps = match row.get("steps") {
            "" => u32::try_from(tablet_steps).unwrap_or(u32::MAX),
            text => text.parse().map_err(|_| {
                row.wrong(
                    "steps",
                    format!("'{text}' is not a number of steps."),
                    "Give a whole number or nothing.",
                )
            })?,
        };
        if let Some(corners) = row.points(4)? {
            let quad = Quad { corners: [corners[0], corners[1], corners[2], corners[3]] };
            return Ok(StripShape::new(quad, steps));
        }
        self.found(scan, &Wanted { steps: Some(steps), order })
            .map_or_else(|| Ok(StripShape::new(self.whole(scan).map(Quad::upright)?, steps)), Ok)
    }

    /// Where the strip is seen in a scan whose row gives no corners; what speaks against it becomes notes.
    fn found(&mut self, scan: &ScanId, wanted: &Wanted) -> Option<StripShape> {
        let entry = self.series.scans.get(scan)?;
        let about = Subject::Scan(scan.clone());
        let stop = || !(self.go_on)(self.share);
        match finding::strip_in(&self.folder.join(&entry.path), entry.channel, wanted, &stop) {
            Ok(found) => {
                let note = |doubt: &String| {
                    let remedy = "Look at it on the Tablets page; drag a corner where it is wrong.";
                    Problem::doubt(about.clone(), doubt.clone(), remedy)
                };
                self.notes.extend(found.doubts.iter().map(note));
                Some(found.value.shape)
            }
            Err(problem) => {
                let cause = format!("The strip was not found by itself: {}", problem.cause);
                self.notes.push(Problem::doubt(about, cause, problem.remedy));
                None
            }
        }
    }

    /// The whole picture of a scan, by its header.
    fn whole(&self, scan: &ScanId) -> Result<Rect, Problem> {
        let path = self.series.scans.get(scan).map_or("", |entry| entry.path.as_str());
        let (width, height) = match self.ready.get(path) {
            Some(ReadyFile::Scan(_, size)) => *size,
            _ => load::size(&self.folder.join(path))?,
        };
        Ok(Rect { min: Point::new(0.0, 0.0), max: Point::new(f64::from(width), f64::from(height)) })
    }

    fn calibration(&mut self, row: &Row) -> Result<(), Problem> {
        let kind = match row.get("seen") {
            "" | "film" => ScanKind::Film,
            "print" => ScanKind::Print,
            other => return Err(row.wrong("seen", format!("'{other}' is unknown."), "Write film or print.")),
        };
        let tablet = self.tablet(row, row.get("tablet"))?;
        let scan = self.scan(row, kind)?;
        let shape = self.strip_shape(row, &scan, &tablet, Order::Rising)?;
        let file = row.get("file").to_owned();
        let id = CalibrationId(file.clone());
        self.series.calibrations.insert(id.clone(), Calibration::new(file.clone(), scan, shape, tablet));
        self.calibrations.insert(file, id);
        Ok(())
    }

    /// The print of a tablet that tests the paper.
    fn paper(&mut self, row: &Row) -> Result<(), Problem> {
        if self.series.paper.is_some() {
            return Err(row.wrong("kind", "another row tests the paper already.", "A series has one paper."));
        }
        let tablet = self.tablet(row, row.get("tablet"))?;
        let mut test = PaperTest::through(tablet.clone());
        row.get("film").clone_into(&mut test.label);
        test.seconds = row.number("seconds")?;
        let exposure = row.get("exposure");
        if !exposure.is_empty() {
            test.exposure = parse_exposure(exposure).ok_or_else(|| {
                let remedy = "Write 'absolute LGH', 'absolute LGH U', 'less STOPS', or nothing.";
                row.wrong("exposure", format!("'{exposure}' is no exposure."), remedy)
            })?;
        }
        if !row.get("base_fog").is_empty() {
            let white = parse_reading(row.get("base_fog")).ok_or_else(|| {
                let cause = format!("'{}' is no density.", row.get("base_fog"));
                row.wrong("base_fog", cause, "Write the density of the paper's white, or nothing.")
            })?;
            test.white = Some(white);
        }
        test.readings = Some(if row.get("kind") == "paper" {
            ReadingsSource::Typed(self.typed(row.get("file"))?)
        } else {
            let scan = self.scan(row, ScanKind::Print)?;
            let shape = self.strip_shape(row, &scan, &tablet, Order::Falling)?;
            ReadingsSource::Strip { scan, shape }
        });
        self.series.paper = Some(test);
        Ok(())
    }

    /// The film a row speaks of, made when it is new, with what the row says about it.
    fn film(&mut self, row: &Row) -> Result<FilmId, Problem> {
        let label = row.get("film");
        if label.is_empty() {
            return Err(row.wrong("film", "it is empty.", "Say which film the file belongs to."));
        }
        let id = if let Some(id) = self.films.get(label) {
            id.clone()
        } else {
            let id = self.series.free_film_id(label);
            self.series.films.push(Film::named(id.clone(), label));
            self.films.insert(label.to_owned(), id.clone());
            id
        };
        match row.get("role") {
            "" | "candidate" => {}
            "reference" if self.series.reference.as_ref().is_none_or(|reference| *reference == id) => {
                self.series.reference = Some(id.clone());
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
                    format!("'{other}' is unknown."),
                    "Write reference or candidate.",
                ));
            }
        }
        if let Some(speed) = row.number("box_speed")? {
            self.change(&id, |film| film.box_speed = Some(speed));
        }
        if !row.get("base_fog").is_empty() {
            let reading = parse_reading(row.get("base_fog")).ok_or_else(|| {
                let cause = format!("'{}' is no density.", row.get("base_fog"));
                row.wrong("base_fog", cause, "Write 'DENSITY', 'DENSITY U', or nothing.")
            })?;
            self.change(&id, |film| film.base_fog = Some(reading));
        }
        self.process(row, &id)?;
        Ok(id)
    }

    /// How the film was developed, as far as the row says.
    fn process(&mut self, row: &Row, id: &FilmId) -> Result<(), Problem> {
        let number = |column: &str, least: f64, most: f64, remedy: &str| {
            let value = row.number(column)?;
            match value.filter(|value| !(least..=most).contains(value)) {
                Some(value) => Err(row.wrong(column, format!("{value} is not plausible."), remedy)),
                None => Ok(value),
            }
        };
        let celsius = number("temperature", 5.0, 50.0, "Write degrees Celsius.")?;
        let minutes = number("minutes", 0.1, 240.0, "Write minutes.")?;
        let text = |column: &str| Some(row.get(column).to_owned()).filter(|text| !text.is_empty());
        let roll_of = text("roll_of");
        if roll_of.as_deref() == Some(row.get("film")) {
            let remedy = "Name the film of which this is another roll, or leave it empty.";
            return Err(row.wrong("roll_of", "a film is no roll of itself.", remedy));
        }
        let (developer, dilution, agitation) = (text("developer"), text("dilution"), text("agitation"));
        self.change(id, |film| {
            let Film { process, .. } = film;
            process.developer = developer.unwrap_or_else(|| std::mem::take(&mut process.developer));
            process.dilution = dilution.unwrap_or_else(|| std::mem::take(&mut process.dilution));
            process.agitation = agitation.unwrap_or_else(|| std::mem::take(&mut process.agitation));
            process.temperature_c = celsius.or(process.temperature_c);
            process.minutes = minutes.or(process.minutes);
        });
        if let Some(label) = roll_of {
            self.rolls.push((id.clone(), label, row.line));
        }
        Ok(())
    }

    /// Rolls to the films that they are rolls of, once all films are known.
    fn families(&mut self) {
        for (id, label, line) in std::mem::take(&mut self.rolls) {
            let head = self.films.get(&label).cloned();
            let head = head.filter(|head| self.series.film(head).is_some_and(|film| film.roll_of.is_none()));
            if head.is_none() {
                self.notes.push(Problem::doubt(
                    Subject::Film(id.clone()),
                    format!("line {line} says that it is a roll of '{label}', which is no film of the list that is itself no further roll."),
                    "Name the film of which it is another roll as the column 'film' does, or choose it on the Films page.",
                ));
            }
            self.change(&id, |film| film.roll_of = head);
        }
    }

    fn typed(&self, file: &str) -> Result<Vec<TypedReading>, Problem> {
        match self.ready.get(file) {
            Some(ReadyFile::Readings(readings)) => Ok(readings.clone()),
            _ => load::readings(&load::text(&self.folder.join(file))?, file),
        }
    }

    fn film_file(&mut self, row: &Row, kind: &str) -> Result<(), Problem> {
        let id = self.film(row)?;
        match kind {
            "readings" => {
                let readings = self.typed(row.get("file"))?;
                self.readings(row, &id, |_, _| Ok(ReadingsSource::Typed(readings)))
            }
            "strip" => {
                let scan = self.scan(row, ScanKind::Film)?;
                self.readings(row, &id, |maker, tablet| {
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
                self.change(&id, |film| {
                    film.print = Some(PrintChoice { grid, ..PrintChoice::new(scan) });
                });
                Ok(())
            }
            "frame" => self.frame(row, &id),
            kind => {
                let edge = kind == "edge";
                // Several rows of one scan are several areas of it.
                let known = ScanId(row.get("file").to_owned());
                let further = !edge && self.series.film(&id).is_some_and(|film| film.grain.is_some());
                let scan = if further && self.series.scans.contains_key(&known) {
                    known
                } else {
                    self.scan(row, ScanKind::Film)?
                };
                let area = match row.points(2)? {
                    Some(corners) => Rect::between(corners[0], corners[1]),
                    None => self.whole(&scan)?,
                };
                self.change(&id, |film| match film.grain {
                    _ if edge => film.edges.push(EdgeArea { scan, area }),
                    None => film.grain = Some(GrainArea::new(scan, area)),
                    Some(_) => film.further_grain.push(GrainArea::new(scan, area)),
                });
                Ok(())
            }
        }
    }

    fn frame(&mut self, row: &Row, id: &FilmId) -> Result<(), Problem> {
        let index = row.number("exposure_index")?.filter(|index| *index > 0.0).ok_or_else(|| {
            row.wrong(
                "exposure_index",
                "it is no number above 0.",
                "Write the index that the frame was metered at.",
            )
        })?;
        let scan = self.scan(row, ScanKind::Film)?;
        let patch = row.points(4)?.map(|c| Quad { corners: [c[0], c[1], c[2], c[3]] });
        self.change(id, |film| {
            let frames = &mut film.bracket.get_or_insert_default().frames;
            let name = (frames.len() + 1).to_string();
            frames.push(BracketFrame { scan: Some(scan), patch, ..BracketFrame::typed(name, index, 0.0) });
        });
        Ok(())
    }

    fn readings(
        &mut self,
        row: &Row,
        id: &FilmId,
        source: impl FnOnce(&mut Self, &TabletId) -> Result<ReadingsSource, Problem>,
    ) -> Result<(), Problem> {
        let further = self.series.film(id).is_some_and(|film| film.readings.is_some());
        let tablet = match row.get("tablet") {
            "" if further => self.series.film(id).and_then(|film| film.strip_tablet(0)).cloned(),
            name => Some(self.tablet(row, name)?),
        };
        let Some(tablet) = tablet else {
            return Err(row.wrong("tablet", "it is empty.", "Name the tablet of this strip."));
        };
        let source = source(self, &tablet)?;
        if further {
            return self.further(row, id, tablet, source);
        }
        let exposure = parse_exposure(row.get("exposure")).ok_or_else(|| {
            row.wrong(
                "exposure",
                format!("'{}' is no exposure.", row.get("exposure")),
                "Write 'absolute LGH', 'absolute LGH U', 'less STOPS', or nothing.",
            )
        })?;
        let seconds = row.number("seconds")?.filter(|seconds| *seconds > 0.0);
        self.change(id, |film| {
            film.readings = Some(source);
            let light_source = row.get("light_source").to_owned();
            film.tablet_exposure = Some(TabletExposure { tablet, exposure, light_source, seconds });
        });
        Ok(())
    }

    /// A further strip of a film that has its first already.
    fn further(
        &mut self,
        row: &Row,
        id: &FilmId,
        tablet: TabletId,
        source: ReadingsSource,
    ) -> Result<(), Problem> {
        let level = parse_level(row.get("exposure")).ok_or_else(|| {
            row.wrong(
                "exposure",
                format!("'{}' is no level of a further strip.", row.get("exposure")),
                "Write 'less STOPS' or 'less STOPS U' than the film's first strip, 'overlap', or nothing.",
            )
        })?;
        let name = Path::new(row.get("file")).file_stem().unwrap_or_default().to_string_lossy().into_owned();
        self.change(id, |film| {
            let own = (film.strip_tablet(0) != Some(&tablet)).then_some(tablet);
            film.further_strips.push(FurtherStrip { tablet: own, level, ..FurtherStrip::new(name, source) });
        });
        Ok(())
    }

    fn change(&mut self, id: &FilmId, change: impl FnOnce(&mut Film)) {
        if let Some(film) = self.series.film_mut(id) {
            change(film);
        }
    }
}

/// A density as lists and verbs write it: `DENSITY`, or `DENSITY U` with its standard uncertainty.
#[must_use]
pub fn parse_reading(text: &str) -> Option<TypedReading> {
    let numbers: Option<Vec<f64>> = text.split_whitespace().map(|word| word.parse().ok()).collect();
    match numbers?.as_slice() {
        [density] if density.is_finite() => {
            Some(TypedReading { density: *density, u: None, set_aside: false })
        }
        [density, u] if density.is_finite() && *u >= 0.0 => {
            Some(TypedReading { density: *density, u: Some(*u), set_aside: false })
        }
        _ => None,
    }
}

/// An exposure as lists and verbs write it: `absolute LGH`, `absolute LGH U`, `less STOPS`, or nothing for `less 0`.
#[must_use]
pub fn parse_exposure(text: &str) -> Option<Exposure> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let number = |text: &str| text.parse::<f64>().ok().filter(|number| number.is_finite());
    match words.as_slice() {
        [] => Some(Exposure::Relative { stops_less: 0.0 }),
        ["less", stops] => number(stops).map(|stops_less| Exposure::Relative { stops_less }),
        ["absolute", log_h] => number(log_h).map(|log_h| Exposure::Absolute { log_h, u: 0.0 }),
        ["absolute", log_h, u] => {
            let u = number(u).filter(|u| *u >= 0.0)?;
            number(log_h).map(|log_h| Exposure::Absolute { log_h, u })
        }
        _ => None,
    }
}

/// The level of a further strip as lists and verbs write it: `less STOPS` or `less STOPS U` than the first strip, or `overlap`
/// or nothing where it is to be found.
///
/// ```
/// # use twinwedge_core::document::StripLevel;
/// # use twinwedge_workbench::import::parse_level;
/// assert_eq!(parse_level("less 3 0.1"), Some(StripLevel::StopsLess { stops: 3.0, u: 0.1 }));
/// assert_eq!(parse_level("overlap"), Some(StripLevel::FromOverlap));
/// ```
#[must_use]
pub fn parse_level(text: &str) -> Option<StripLevel> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let number = |text: &str| text.parse::<f64>().ok().filter(|number| number.is_finite());
    match words.as_slice() {
        [] | ["overlap"] => Some(StripLevel::FromOverlap),
        ["less", stops] => Some(StripLevel::StopsLess { stops: number(stops)?, u: 0.0 }),
        ["less", stops, u] => {
            let u = number(u).filter(|u| *u >= 0.0)?;
            Some(StripLevel::StopsLess { stops: number(stops)?, u })
        }
        _ => None,
    }
}
