//! Files become part of the series, or are written, on a thread of their own.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use twinwedge_workbench::core::document::{
    Calibration, CalibrationId, EdgeArea, Exposure, Film, FilmId, FlatSource, FurtherStrip, GrainArea,
    GrainNoise, PaperTest, PrintChoice, ReadingsSource, ScanEntry, ScanId, ScanKind, Series, StripShape,
    Tablet, TabletExposure, TabletId, TypedReading,
};
use twinwedge_workbench::core::geometry::{Point, Quad, Rect};
use twinwedge_workbench::core::problem::{Problem, Severity, Subject};
use twinwedge_workbench::core::tablet::find::{Order, Wanted};
use twinwedge_workbench::session::{Edit, Session, find_again};
use twinwedge_workbench::store::{InTheWay, NotWritten, Replace, Source, Writing};
use twinwedge_workbench::{export, finding, import, load, sample, store};

use super::work::{Control, Work};
use crate::outbox::FileFor;

/// What came of a file.
#[derive(Debug)]
pub enum Taken {
    /// A series to lay on the bench.
    Opened(Box<Session>, Vec<Problem>),
    /// A change of the series at hand, and what is worth knowing about the file that it came from.
    Edit(Edit, Vec<Problem>),
    /// A file was written.
    Written(PathBuf),
    /// A file was not written, for another is in its way.
    Blocked(FileFor, Box<InTheWay>),
    /// A file that was found for a missing scan holds something else.
    Changed(ScanId, PathBuf),
}

/// Files under way.
#[derive(Debug, Default)]
pub struct Intake {
    jobs: Vec<Work<Taken>>,
}

impl Intake {
    /// Whether anything is under way.
    #[must_use]
    pub fn busy(&self) -> bool {
        !self.jobs.is_empty()
    }

    /// The first that is under way: its words, and the share done where that is known.
    #[must_use]
    pub fn first(&self) -> Option<(&str, Option<f32>)> {
        let job = self.jobs.first()?;
        let (done, total) = job.told();
        Some((job.label(), (total > 0).then(|| done as f32 / total as f32)))
    }

    /// Stops the first that is under way.
    pub fn stop(&mut self) {
        if !self.jobs.is_empty() {
            self.jobs.remove(0);
        }
    }

    /// Begins to take a file in.
    pub fn begin(&mut self, purpose: FileFor, path: PathBuf, session: &Session, ctx: &egui::Context) {
        let label = format!("{}: {}", purpose.title(), name(&path));
        let series = Series::clone(session.series());
        let folder = session.folder().to_path_buf();
        self.run(label, ctx, move |control, ctx| {
            let go_on = |share: f32| control.go_on_by_share(share, ctx);
            take(purpose, &path, &series, &folder, &go_on)
        });
    }

    /// Begins to write a file that is made from the series, over what a person has `seen` in its way. Saving is not done here: it
    /// belongs to the session.
    pub fn write(
        &mut self,
        purpose: FileFor,
        path: PathBuf,
        seen: Option<Box<InTheWay>>,
        session: &Session,
        ctx: &egui::Context,
    ) {
        let label = format!("{}: {}", purpose.title(), name(&path));
        let series = Series::clone(session.series());
        let (folder, sources) = (session.folder().to_path_buf(), session.sources());
        self.run(label, ctx, move |_, _| {
            let replace = seen.as_deref().map_or(Replace::Unasked, Replace::Seen);
            let written = match &purpose {
                FileFor::Export(candidate) => {
                    export(candidate.as_ref(), &path, series, folder, &sources, replace)
                }
                _ => save_layout(&path, &series, &sources, replace),
            };
            match written {
                Ok(path) => Ok(Taken::Written(path)),
                Err(NotWritten::InTheWay(way)) => Ok(Taken::Blocked(purpose, way)),
                Err(NotWritten::Unsure(problem) | NotWritten::Failed(problem)) => Err(problem),
            }
        });
    }

    /// Begins to find a missing scan again at `path`; one that holds something else is taken where `changed_too`.
    pub fn find(
        &mut self,
        scan: ScanId,
        path: PathBuf,
        changed_too: bool,
        session: &Session,
        ctx: &egui::Context,
    ) {
        let label = format!("Finding {} again", scan.0);
        let (series, folder) = (Arc::clone(session.series()), session.folder().to_path_buf());
        self.run(label, ctx, move |control, ctx| {
            let mut told = |share: f32| control.go_on_by_share(share, ctx);
            match find_again(&series, &folder, &scan, &path, changed_too, &mut told) {
                Ok(edit) => Ok(Taken::Edit(edit, Vec::new())),
                Err(problem) if problem.severity == Severity::Doubt => Ok(Taken::Changed(scan, path)),
                Err(problem) => Err(problem),
            }
        });
    }

    /// Begins to open the sample.
    pub fn open_sample(&mut self, ctx: &egui::Context) {
        self.run("Opening the sample".to_owned(), ctx, |_, _| {
            let path = sample::lay_out()?;
            Ok(Taken::Opened(Box::new(Session::open(&path)?), Vec::new()))
        });
    }

    fn run(
        &mut self,
        label: String,
        ctx: &egui::Context,
        work: impl FnOnce(&Control, &egui::Context) -> Result<Taken, Problem> + Send + 'static,
    ) {
        self.jobs.push(Work::begin(label, ctx, work));
    }

    /// What has come of files since it was last asked.
    pub fn news(&mut self) -> Vec<Result<Taken, Problem>> {
        let mut news = Vec::new();
        self.jobs.retain(|job| match job.news() {
            Some(taken) => {
                news.push(taken);
                false
            }
            None => true,
        });
        news
    }
}

/// Takes in a patch layout that was saved as a file of its own.
fn open_layout(path: &Path) -> Result<Edit, Problem> {
    let layout = store::parse_layout(&load::text(path)?, &path.display().to_string())?;
    Ok(Edit::new("take in a patch layout", move |series: &mut Series| series.layout = Some(layout)))
}

/// Writes the series' patch layout to a file of its own; the path with its ending.
fn save_layout(
    path: &Path,
    series: &Series,
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<PathBuf, NotWritten> {
    let path = match path.extension() {
        None => path.with_extension(store::LAYOUT_EXTENSION),
        Some(_) => path.to_path_buf(),
    };
    let layout = series.layout.as_ref().ok_or_else(|| {
        let cause = "The series has no patch layout.";
        NotWritten::Failed(Problem::error(Subject::Series, cause, "Lay a patch grid first."))
    })?;
    let writing = Writing { sort: &store::LAYOUT, sources, replace };
    store::write_file(&path, store::write_layout(layout).as_bytes(), writing)?;
    Ok(path)
}

/// Writes report, figures, table or sheet.
fn export(
    candidate: Option<&FilmId>,
    path: &Path,
    series: Series,
    folder: PathBuf,
    sources: &[Source],
    replace: Replace<'_>,
) -> Result<PathBuf, NotWritten> {
    // A session of its own: the one on the bench goes on being edited. It keeps nothing.
    let mut session = Session::of(series, folder);
    session.set_recovery_folder(None);
    export::to_file(&session, candidate, path, sources, replace)?;
    Ok(path.to_path_buf())
}

/// Is told the share done of what takes long, and answers whether to go on.
type GoOn<'a> = &'a (dyn Fn(f32) -> bool + Sync);

fn take(
    purpose: FileFor,
    path: &Path,
    series: &Series,
    folder: &Path,
    go_on: GoOn<'_>,
) -> Result<Taken, Problem> {
    match purpose {
        FileFor::OpenSeries => Ok(Taken::Opened(Box::new(Session::open(path)?), Vec::new())),
        FileFor::OpenList => {
            let (series, problems) = import::series_from_list_while(path, go_on)?;
            let folder = path.parent().unwrap_or(Path::new("")).to_path_buf();
            Ok(Taken::Opened(Box::new(Session::of(series, folder)), problems))
        }
        purpose => {
            let mut told = Vec::new();
            let edit = edit(purpose, path, (series, folder), &mut told, go_on)?;
            Ok(Taken::Edit(edit, told))
        }
    }
}

/// The edit by which a file becomes part of the series; what is worth knowing about the file goes into `told`.
fn edit(
    purpose: FileFor,
    path: &Path,
    (series, folder): (&Series, &Path),
    told: &mut Vec<Problem>,
    go_on: GoOn<'_>,
) -> Result<Edit, Problem> {
    let mut table = |path: &Path| -> Result<load::Table, Problem> {
        let mut table = load::table(&load::text(path)?, &name(path))?;
        told.append(&mut table.notes);
        Ok(table)
    };
    Ok(match purpose {
        FileFor::OpenSeries
        | FileFor::OpenList
        | FileFor::Export(_)
        | FileFor::SaveSeries
        | FileFor::SaveLayout
        | FileFor::Missing(_)
        | FileFor::Folder => {
            return Err(Problem::error(
                Subject::Series,
                "Saving, finding scans again and folders are not done here.",
                "Please report this as a fault of the program.",
            ));
        }
        FileFor::OpenLayout => open_layout(path)?,
        FileFor::Readings(film) => readings(&film, 0, "", table(path)?),
        FileFor::FurtherReadings(film, strip) => readings(&film, strip, &stem(path), table(path)?),
        FileFor::Tablet => {
            let tablet = load::tablet(&load::text(path)?, &name(path))?;
            let id = TabletId(stem(path));
            Edit::new(format!("read tablet {}", id.0), move |series| {
                take_tablet(series, &id, tablet);
            })
        }
        FileFor::PaperReadings => paper_readings(table(path)?.readings),
        FileFor::PaperStrip => {
            let size = load::size(path)?;
            let (stem, entry) = (stem(path), entry(path, folder, ScanKind::Print, series)?);
            let tablet = series.paper.as_ref().map(|test| &test.tablet);
            let found = find(path, &entry, &finding::wanted(series, tablet, Order::Falling), go_on)?;
            paper_strip(stem, entry, Place { found, size })
        }
        FileFor::Print(film) => {
            let (stem, entry) = (stem(path), entry(path, folder, ScanKind::Print, series)?);
            Edit::new(format!("take in the print of {}", film.0), move |series| {
                let scan = add_scan(series, &stem, entry);
                with_film(series, &film, |film| {
                    film.print = Some(PrintChoice::new(scan));
                });
            })
        }
        FileFor::Strip(film) => strip(film, 0, path, (folder, series), go_on)?,
        FileFor::FurtherStrip(film, number) => strip(film, number, path, (folder, series), go_on)?,
        FileFor::Grain(film) => {
            let (scan, area) = plain_field(path, series, folder)?;
            Edit::new(format!("take in the grain scan of {}", film.0), move |series| {
                let scan = add_scan(series, &scan.0, scan.1);
                with_film(series, &film, |film| film.grain = Some(GrainArea::new(scan, area)));
            })
        }
        FileFor::FurtherGrain(film) => {
            let (scan, area) = plain_field(path, series, folder)?;
            Edit::new(format!("take in a further grain scan of {}", film.0), move |series| {
                let scan = add_scan(series, &scan.0, scan.1);
                with_film(series, &film, |film| film.further_grain.push(GrainArea::new(scan, area)));
            })
        }
        FileFor::GrainRepeat(film, number) => {
            let (scan, _) = plain_field(path, series, folder)?;
            grain_repeat(film, number, scan)
        }
        FileFor::Edge(film) => edge(Some(film), path, series, folder)?,
        FileFor::ScannerEdge => edge(None, path, series, folder)?,
        FileFor::Blank(scan) => blank(scan, path, series, folder)?,
        FileFor::Repeat(id) => repeat(id, path, series, folder)?,
        FileFor::Frame(film, number) => {
            load::size(path)?;
            let (stem, entry) = (stem(path), entry(path, folder, ScanKind::Film, series)?);
            frame(film, number, stem, entry)
        }
        FileFor::Calibration => {
            let size = load::size(path)?;
            let (stem, entry) = (stem(path), entry(path, folder, ScanKind::Film, series)?);
            let found = find(path, &entry, &finding::wanted(series, None, Order::Rising), go_on)?;
            calibration(stem, entry, Place { found, size })
        }
    })
}

/// A scan of a plain field by the name it is given, and the middle of it.
fn plain_field(path: &Path, series: &Series, folder: &Path) -> Result<((String, ScanEntry), Rect), Problem> {
    let size = load::size(path)?;
    Ok(((stem(path), entry(path, folder, ScanKind::Film, series)?), middle(size, 0.5)))
}

/// A second scan of a plain area, which tells the scanner's noise.
fn grain_repeat(film: FilmId, number: usize, (stem, entry): (String, ScanEntry)) -> Edit {
    let label = format!("take in a second scan of plain area {} of {}", number + 1, film.0);
    Edit::new(label, move |series| {
        let scan = add_scan(series, &stem, entry);
        with_film(series, &film, |film| {
            if let Some(grain) = film.plain_area_mut(number).filter(|grain| grain.scan != scan) {
                grain.noise = GrainNoise::Repeat(scan);
            }
        });
    })
}

/// A scan of an edge on a film, or of the scanner's own.
fn edge(film: Option<FilmId>, path: &Path, series: &Series, folder: &Path) -> Result<Edit, Problem> {
    let area = middle(load::size(path)?, 0.9);
    let (stem, entry) = (stem(path), entry(path, folder, ScanKind::Film, series)?);
    let label = match &film {
        Some(film) => format!("take in an edge of {}", film.0),
        None => "take in the scanner's own edge".to_owned(),
    };
    Ok(Edit::new(label, move |series| {
        let edge = EdgeArea { scan: add_scan(series, &stem, entry), area };
        match &film {
            Some(film) => with_film(series, film, |film| film.edges.push(edge)),
            None => series.sharpness.scanner_edge = Some(edge),
        }
    }))
}

/// A blank scan, and the scan that it tells the falloff of.
fn blank(scan: ScanId, path: &Path, series: &Series, folder: &Path) -> Result<Edit, Problem> {
    let kind = series.scans.get(&scan).map_or(ScanKind::Print, |entry| entry.kind);
    let (stem, entry) = (stem(path), store::scan_entry(path, kind, folder)?);
    Ok(Edit::new(format!("take the falloff of {} from {stem}", scan.0), move |series| {
        let blank = add_scan(series, &stem, entry);
        if let Some(entry) = series.scans.get_mut(&scan).filter(|_| blank != scan) {
            entry.flat = FlatSource::Blank(blank);
        }
    }))
}

/// A second scan of a calibration's tablet.
fn repeat(id: CalibrationId, path: &Path, series: &Series, folder: &Path) -> Result<Edit, Problem> {
    let first = series.calibrations.get(&id).and_then(|made| series.scans.get(&made.scan));
    let kind = first.map_or(ScanKind::Film, |entry| entry.kind);
    let (stem, entry) = (stem(path), store::scan_entry(path, kind, folder)?);
    Ok(Edit::new(format!("take in the second scan of {}", id.0), move |series| {
        let repeat = add_scan(series, &stem, entry);
        if let Some(made) = series.calibrations.get_mut(&id).filter(|made| made.scan != repeat) {
            made.repeat = Some(repeat);
        }
    }))
}

/// Readings of a strip of a film, and the tablet behind them where only one fits. A strip that is not there yet is added
/// under `name`.
#[must_use]
pub fn readings(film: &FilmId, strip: usize, name: &str, table: load::Table) -> Edit {
    let (film, name) = (film.clone(), name.to_owned());
    let load::Table { readings: typed, stated, .. } = table;
    Edit::new(format!("enter {} readings of {}", typed.len(), film.0), move |series| {
        let steps = typed.len();
        put_strip(series, &film, (strip, &name), ReadingsSource::Typed(typed), steps);
        if strip == 0 {
            take_stated(series, &film, &stated);
        }
    })
}

/// What a table says beside its readings, where the film does not say it yet.
fn take_stated(series: &mut Series, film: &FilmId, stated: &load::Stated) {
    let tablet = stated.tablet.as_ref().map(|name| TabletId(stem(Path::new(name))));
    let tablet = tablet.filter(|tablet| series.tablets.contains_key(tablet));
    let base_fog = stated.base_fog.as_ref().and_then(|text| import::parse_reading(text).ok());
    let exposure = stated.exposure.as_ref().and_then(|text| import::parse_exposure(text).ok());
    let Some(film) = series.film_mut(film) else { return };
    film.base_fog = film.base_fog.or(base_fog);
    if let Some(exposed) = &mut film.tablet_exposure {
        exposed.tablet = tablet.unwrap_or_else(|| exposed.tablet.clone());
        let unsaid = exposed.exposure == Exposure::Relative { stops_less: 0.0 };
        exposed.exposure = exposure.filter(|_| unsaid).unwrap_or(exposed.exposure);
    }
}

/// What was told about a file, as one message.
pub fn in_one(told: &[Problem]) -> String {
    told.iter().map(|problem| problem.cause.as_str()).collect::<Vec<_>>().join(" ")
}

/// Reflection densities of the paper test; the test is begun where there is none.
#[must_use]
pub fn paper_readings(typed: Vec<TypedReading>) -> Edit {
    Edit::new(format!("enter {} densities of the paper", typed.len()), move |series| {
        let tablet = fitting_tablet(series, typed.len());
        with_paper(series, tablet, |test| test.readings = Some(ReadingsSource::Typed(typed)));
    })
}

/// Where a strip lies that is taken in: as it was found, or where nothing was found, a first place for the size of the scan.
struct Place {
    found: Option<StripShape>,
    size: (u32, u32),
}

impl Place {
    /// The number of steps that were found, else what is usual in the series.
    fn steps(&self, usual: usize) -> usize {
        self.found.map_or(usual, |shape| shape.steps as usize)
    }

    fn shape(&self, steps: usize) -> StripShape {
        self.found.unwrap_or_else(|| StripShape::new(first_strip(self.size), steps as u32))
    }
}

/// The strip that is seen in a scan; why none is seen is told by the page that shows the scan.
fn find(
    path: &Path,
    entry: &ScanEntry,
    wanted: &Wanted,
    go_on: GoOn<'_>,
) -> Result<Option<StripShape>, Problem> {
    let scan = load::scan(path, load::Limits::default(), go_on)?;
    // All of it is read by now.
    match finding::strip_of(&scan, entry.channel, wanted, &|| !go_on(1.0)) {
        Err(problem) if !go_on(1.0) => Err(problem),
        found => Ok(found.ok().map(|found| found.value.shape)),
    }
}

fn wanted_of(series: &Series, film: &FilmId, strip: usize) -> Wanted {
    let tablet = series.film(film).and_then(|film| film.strip_tablet(strip));
    finding::wanted(series, tablet, Order::Falling)
}

fn paper_strip(stem: String, entry: ScanEntry, place: Place) -> Edit {
    Edit::new("take in the print of the tablet".to_owned(), move |series| {
        let tablets = &series.tablets;
        let own = series.paper.as_ref().and_then(|test| tablets.get(&test.tablet));
        let steps = own.or_else(|| tablets.values().next()).map_or(21, |tablet| tablet.steps.len());
        let steps = place.steps(steps);
        let tablet = fitting_tablet(series, steps);
        let scan = add_scan(series, &stem, entry);
        let shape = place.shape(steps);
        with_paper(series, tablet, |test| test.readings = Some(ReadingsSource::Strip { scan, shape }));
    })
}

/// Changes the paper test, or begins one through `tablet`; without a tablet that fits it is begun through none that is known,
/// and the page asks for it.
fn with_paper(series: &mut Series, tablet: Option<TabletId>, change: impl FnOnce(&mut PaperTest)) {
    let fresh = || {
        let mut test = PaperTest::through(tablet.unwrap_or_else(|| TabletId::from("not chosen yet")));
        test.label.clone_from(&series.conditions.paper);
        test
    };
    let mut test = series.paper.take().unwrap_or_else(fresh);
    change(&mut test);
    series.paper = Some(test);
}

/// Puts a strip of so many steps into a film: in the place of what that strip was read from before, or as a new one.
fn put_strip(
    series: &mut Series,
    id: &FilmId,
    (strip, name): (usize, &str),
    source: ReadingsSource,
    steps: usize,
) {
    let first = series.film(id).and_then(|film| film.strip_tablet(0)).cloned();
    let fits = |series: &Series, tablet: &Option<TabletId>| {
        tablet
            .as_ref()
            .and_then(|id| series.tablets.get(id))
            .is_some_and(|tablet| tablet.steps.len() >= steps)
    };
    let own = match strip {
        0 => fitting_tablet(series, steps),
        _ if fits(series, &first) => None,
        _ => fitting_tablet(series, steps),
    };
    with_film(series, id, |film| {
        if strip == 0 {
            film.readings = Some(source);
            return expose(film, own);
        }
        match film.further_strip_mut(strip) {
            Some(there) => there.readings = source,
            None => {
                film.further_strips.push(FurtherStrip { tablet: own, ..FurtherStrip::new(name, source) });
            }
        }
    });
}

fn strip(
    film: FilmId,
    number: usize,
    path: &Path,
    (folder, series): (&Path, &Series),
    go_on: GoOn<'_>,
) -> Result<Edit, Problem> {
    let size = load::size(path)?;
    let (stem, entry) = (stem(path), entry(path, folder, ScanKind::Film, series)?);
    let found = find(path, &entry, &wanted_of(series, &film, number), go_on)?;
    let place = Place { found, size };
    Ok(Edit::new(format!("take in the strip of {}", film.0), move |series| {
        let steps = series.film(&film).and_then(|film| film.tablet_exposure.as_ref());
        let steps = steps
            .and_then(|exposure| series.tablets.get(&exposure.tablet))
            .or_else(|| series.tablets.values().next())
            .map_or(21, |tablet| tablet.steps.len());
        let steps = place.steps(steps);
        let scan = add_scan(series, &stem, entry);
        let shape = place.shape(steps);
        put_strip(series, &film, (number, &stem), ReadingsSource::Strip { scan, shape }, steps);
    }))
}

fn frame(film: FilmId, number: usize, stem: String, entry: ScanEntry) -> Edit {
    Edit::new(format!("take in the scan of a frame of {}", film.0), move |series| {
        let scan = add_scan(series, &stem, entry);
        with_film(series, &film, |film| {
            let frame = film.bracket.as_mut().and_then(|bracket| bracket.frames.get_mut(number));
            if let Some(frame) = frame {
                frame.scan = Some(scan);
                frame.patch = None;
            }
        });
    })
}

fn calibration(stem: String, entry: ScanEntry, place: Place) -> Edit {
    Edit::new(format!("calibrate by {stem}"), move |series| {
        let steps = series.tablets.values().next().map_or(21, |tablet| tablet.steps.len());
        // A tablet of a number that is not known yet is named by the tester; until then the first one stands in.
        let first = series.tablets.keys().next().cloned();
        let Some(tablet) = fitting_tablet(series, place.steps(steps)).or(first) else { return };
        let kind = entry.kind;
        let scan = add_scan(series, &stem, entry);
        let id = CalibrationId(stem.clone());
        let shape = place.shape(steps);
        let calibration = Calibration::new(stem, scan.clone(), shape, tablet);
        series.calibrations.insert(id.clone(), calibration);
        for (other, entry) in &mut series.scans {
            if *other != scan && entry.kind == kind && entry.calibration.is_none() {
                entry.calibration = Some(id.clone());
            }
        }
    })
}

/// A tablet's measured densities take the place of a nominal tablet that stood in for them, and serve films whose readings
/// they fit and that have none yet.
fn take_tablet(series: &mut Series, id: &TabletId, tablet: Tablet) {
    let steps = tablet.steps.len();
    let stands_in = |(name, other): (&TabletId, &Tablet)| {
        (other.nominal && other.steps.len() == steps && name != id).then(|| name.clone())
    };
    let replaced: Vec<TabletId> = series.tablets.iter().filter_map(stands_in).collect();
    for film in &mut series.films {
        let read = match &film.readings {
            Some(ReadingsSource::Typed(typed)) => typed.len(),
            Some(ReadingsSource::Strip { shape, .. }) => shape.steps as usize,
            None => 0,
        };
        let further = film.further_strips.iter_mut().filter_map(|strip| strip.tablet.as_mut());
        further.filter(|tablet| replaced.contains(tablet)).for_each(|tablet| *tablet = id.clone());
        match &mut film.tablet_exposure {
            Some(exposure) if replaced.contains(&exposure.tablet) => exposure.tablet = id.clone(),
            None if read == steps => expose(film, Some(id.clone())),
            _ => {}
        }
    }
    for calibration in series.calibrations.values_mut() {
        if replaced.contains(&calibration.tablet) {
            calibration.tablet = id.clone();
        }
    }
    series.tablets.retain(|name, _| !replaced.contains(name));
    series.tablets.insert(id.clone(), tablet);
}

/// The one tablet of the series with so many steps, else the nominal one of so many, put into the series.
fn fitting_tablet(series: &mut Series, steps: usize) -> Option<TabletId> {
    let fits = |(id, tablet): (&TabletId, &Tablet)| (tablet.steps.len() == steps).then(|| id.clone());
    if let Some(id) = series.tablets.iter().find_map(fits) {
        return Some(id);
    }
    let tablet = Tablet::nominal(u32::try_from(steps).ok()?)?;
    let id = TabletId(format!("{steps} steps nominal"));
    series.tablets.insert(id.clone(), tablet);
    Some(id)
}

fn expose(film: &mut Film, tablet: Option<TabletId>) {
    if let (None, Some(tablet)) = (&film.tablet_exposure, tablet) {
        let exposure = Exposure::Relative { stops_less: 0.0 };
        film.tablet_exposure = Some(TabletExposure::new(tablet, exposure));
    }
}

fn with_film(series: &mut Series, id: &FilmId, change: impl FnOnce(&mut Film)) {
    if let Some(film) = series.film_mut(id) {
        change(film);
    }
}

fn add_scan(series: &mut Series, stem: &str, entry: ScanEntry) -> ScanId {
    // The same file taken in twice is one scan.
    let same = series.scans.iter().find(|(_, old)| old.path == entry.path && old.kind == entry.kind);
    if let Some((id, _)) = same {
        return id.clone();
    }
    let id = series.free_scan_id(stem);
    series.scans.insert(id.clone(), entry);
    id
}

fn entry(path: &Path, folder: &Path, kind: ScanKind, series: &Series) -> Result<ScanEntry, Problem> {
    // A calibration serves scans of the kind that it was made from; with several, the tester chooses.
    let mut fitting = series
        .calibrations
        .iter()
        .filter(|(_, made)| series.scans.get(&made.scan).is_some_and(|scan| scan.kind == kind));
    let calibration = match (fitting.next(), fitting.next()) {
        (Some((id, _)), None) => Some(id.clone()),
        _ => None,
    };
    Ok(ScanEntry { calibration, ..store::scan_entry(path, kind, folder)? })
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

    #[test]
    fn measured_densities_take_the_place_of_nominal_ones() {
        let film = |label: &str| Film::named(FilmId::from(label), label);
        let mut series = Series { films: vec![film("Tern 160"), film("Plover 640")], ..Series::default() };
        let nominal = Tablet::nominal(21).unwrap();
        series.tablets.insert(TabletId::from("stand-in"), nominal.clone());
        series.tablets.insert(TabletId::from("other"), Tablet::nominal(11).unwrap());
        expose(&mut series.films[0], Some(TabletId::from("stand-in")));
        let reading = TypedReading::new(1.0);
        series.films[1].readings = Some(ReadingsSource::Typed(vec![reading; 21]));
        let id = TabletId::from("measured");
        take_tablet(&mut series, &id, Tablet { nominal: false, ..nominal });
        for film in &series.films {
            assert_eq!(film.tablet_exposure.as_ref().unwrap().tablet, id, "{}", film.label);
        }
        let names: Vec<&str> = series.tablets.keys().map(|id| id.0.as_str()).collect();
        assert_eq!(names, ["measured", "other"]);
    }

    #[test]
    fn readings_bring_the_nominal_tablet_that_fits_them() {
        let mut series = Series::default();
        series.films.push(Film::named("Dunlin".into(), "Dunlin 40"));
        let typed = vec![TypedReading::new(0.1); 21];
        let edit = readings(&"Dunlin".into(), 0, "", typed);
        (edit.change)(&mut series).unwrap();
        let exposure = series.films[0].tablet_exposure.as_ref().unwrap();
        assert_eq!(series.tablets[&exposure.tablet].steps.len(), 21);
    }
}
