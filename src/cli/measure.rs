//! Verbs on files alone. Each lays its files into a small series of its own and asks the same session as the window.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};
use twinwedge_workbench::core::curve::{Outlier, Standing};
use twinwedge_workbench::core::document::{
    Aperture, Calibration, CalibrationId, EdgeArea, Encoding, Exposure, Film, FilmId, GrainArea, GrainNoise,
    GridShape, PrintChoice, ReadingsSource, ScanEntry, ScanId, ScanKind, Series, Strip, StripLevel,
    StripShape, Tablet, TabletExposure, TabletId, TypedReading, ranges,
};
use twinwedge_workbench::core::geometry::{Model, Point, Quad, Rect};
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::register::Registration;
use twinwedge_workbench::core::shown::Quoted;
use twinwedge_workbench::core::tablet::find::{Order, Wanted};
use twinwedge_workbench::engine::ask::{
    ApertureLawOf, CurveOf, FitQualityOf, FoundStripOf, GrainOf, GranularityCurveOf, PatchesOf,
    RegistrationOf, StepsSeenOf, StripOf,
};
use twinwedge_workbench::session::{FEWER_STEPS, Session, fewer_steps, other_number};
use twinwedge_workbench::{export, import, load, store};

use super::encoding::{self, EncodingArguments, Figure};
use super::files::{self, CalibrationFile, LayoutFile};
use super::{Done, print_json, within};

/// Readings to figures.
#[derive(Debug, Args)]
pub(crate) struct CurveArguments {
    /// Readings: a table of density, or step and density, or step, density and uncertainty, or step and several densities
    /// that are repeat readings; a first line may name the columns. Lines as 'tablet: FILE', 'exposure: less 2' and
    /// 'base+fog: 0.21' before the table stand for the options of these names where they are not given.
    readings: PathBuf,
    /// Densities of the tablet: a CSV, or 'nominal 21'.
    #[arg(long)]
    tablet: Option<String>,
    /// What is known of the light: 'absolute LGH', 'absolute LGH U', or 'less STOPS'; 'less 0' where nothing is said.
    #[arg(long)]
    exposure: Option<String>,
    /// Density read on an unexposed area, 'DENSITY' or 'DENSITY U'.
    #[arg(long)]
    base_fog: Option<String>,
    /// A step that is not to be fitted, 'STEP', or 'STRIP:STEP' of an additional strip (the first is 1). May be given again.
    #[arg(long)]
    set_aside: Vec<String>,
    /// A step that stays in the fit although the others contradict it, named alike. May be given again.
    #[arg(long)]
    keep: Vec<String>,
    /// An additional strip of the roll: its readings, then after commas 'stops=STOPS' and 'u=U' where it is known how many stops
    /// less light it had and how surely, and 'tablet=NAME' where it is another tablet. May be given again.
    #[arg(long)]
    strip: Vec<String>,
    /// Print the fitted curve too, at so many evenly spaced log exposures.
    #[arg(long, value_parser = clap::value_parser!(u32).range(2..=100_000))]
    points: Option<u32>,
}

/// A strip to step densities.
#[derive(Debug, Args)]
pub(crate) struct StripArguments {
    /// The scan.
    scan: PathBuf,
    /// Four corners of the strip 'x,y x,y x,y x,y', along it from the first step to the last, then back. Without them the
    /// strip is found by itself, and borders, confidence and doubts are printed too.
    #[arg(long)]
    corners: Option<String>,
    /// Number of steps; where the strip is found by itself, they are counted if it is not given.
    #[arg(long, value_parser = clap::value_parser!(u32).range(2..=1000))]
    steps: Option<u32>,
    /// How density goes with the number of the step: 'falling' for film exposed through a tablet, 'rising' for the tablet
    /// itself.
    #[arg(long, default_value = "falling")]
    order: StepOrder,
    /// Densities of the tablet: a CSV, or 'nominal 21'. Its steps must be as many as the strip's, and its densities help to tell
    /// what the codes of the scan stand for.
    #[arg(long)]
    tablet: Option<String>,
    /// A calibration file (see below); without it the densities are marked uncalibrated.
    #[arg(long)]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    encoding: EncodingArguments,
    /// What is read of each step: 'circle MM' or 'square MM', by the scan's resolution; else a share of 0.6 of it.
    #[arg(long)]
    aperture: Option<String>,
    /// Resolution in dots per inch, where the file does not say.
    #[arg(long, value_parser = within(&ranges::DPI))]
    dpi: Option<f64>,
}

/// How density goes with the number of the step.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum StepOrder {
    Falling,
    Rising,
}

/// Two prints to transform and patches.
#[derive(Debug, Args)]
pub(crate) struct PatchesArguments {
    /// Scan of the reference's print.
    reference: PathBuf,
    /// Scan of the candidate's print.
    candidate: PathBuf,
    /// The patch layout file (see below), or a layout saved from a series together with --corners.
    #[arg(long)]
    layout: PathBuf,
    /// Where a saved layout lies: the grid's corners in the reference's print, 'x,y x,y x,y x,y' along its first row, then
    /// back.
    #[arg(long)]
    corners: Option<String>,
    /// A calibration file of the scanner for prints; without it the densities are marked uncalibrated.
    #[arg(long)]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    encoding: EncodingArguments,
}

/// Two prints to the map between them.
#[derive(Debug, Args)]
pub(crate) struct RegisterArguments {
    /// Scan of the reference's print.
    reference: PathBuf,
    /// Scan of the candidate's print.
    candidate: PathBuf,
    /// What the map may do; without it the prints choose.
    #[arg(long)]
    model: Option<ModelWord>,
    /// A calibration file of the scanner for prints; without it the densities are marked uncalibrated.
    #[arg(long)]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    encoding: EncodingArguments,
}

/// A model on the command line.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum ModelWord {
    /// A turn, a size and a shift.
    Similarity,
    /// Two sizes and a shear beside turn and shift.
    Affine,
    /// Straight lines stay straight: a print photographed aslant.
    Homography,
}

impl From<ModelWord> for Model {
    fn from(word: ModelWord) -> Self {
        match word {
            ModelWord::Similarity => Self::Similarity,
            ModelWord::Affine => Self::Affine,
            ModelWord::Homography => Self::Homography,
        }
    }
}

/// A uniform area to granularity.
#[derive(Debug, Args)]
pub(crate) struct GrainArguments {
    /// The scan of film.
    scan: PathBuf,
    /// Two opposite corners 'x,y x,y'; the whole picture otherwise. Given several times: areas of several densities.
    #[arg(long)]
    area: Vec<String>,
    /// Resolution in dots per inch, where the file does not say.
    #[arg(long, value_parser = within(&ranges::DPI))]
    dpi: Option<f64>,
    /// Diameter of the aperture in micrometres.
    #[arg(long, default_value_t = 48.0, value_parser = within(&ranges::APERTURE_UM))]
    aperture: f64,
    /// A second scan of the same film with nothing moved: its noise is taken off.
    #[arg(long, conflicts_with = "blank")]
    repeat: Option<PathBuf>,
    /// Two opposite corners of an area without grain, of like density, in the same scan: its noise is taken off.
    #[arg(long)]
    blank: Option<String>,
    /// Density of base+fog, for net densities.
    #[arg(long, value_parser = within(&ranges::DENSITY))]
    base_fog: Option<f64>,
    /// Scan of a knife edge by the same scanner at the same resolution: tells what the scanner's blur took.
    #[arg(long)]
    scanner_edge: Option<PathBuf>,
    /// The box in it, 'x,y x,y'; the whole picture otherwise.
    #[arg(long, requires = "scanner_edge")]
    scanner_area: Option<String>,
    /// A calibration file (see 'twinwedge strip --help'); without it the result is marked uncalibrated.
    #[arg(long)]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    encoding: EncodingArguments,
}

/// Readings to figures.
pub(crate) fn curve(arguments: &CurveArguments) -> Done {
    let name = arguments.readings.display().to_string();
    let load::Table { readings, stated, mut notes } = load::table(&load::text(&arguments.readings)?, &name)?;
    let told = Told { name: &name, folder: arguments.readings.parent().unwrap_or(Path::new("")) };
    let tablet_name = arguments.tablet.as_ref().or(stated.tablet.as_ref()).ok_or_else(|| {
        usage(
            "--tablet",
            "Nothing says through which tablet the strip was exposed.".to_owned(),
            "Give its densities: a CSV, or 'nominal 21'.",
        )
    })?;
    let tablet = import::tablet_by_name(tablet_name, told.folder_of(arguments.tablet.is_some()))?;
    let exposure = told.read("exposure", &arguments.exposure, &stated.exposure, import::parse_exposure)?;
    let base_fog = told.read("base_fog", &arguments.base_fog, &stated.base_fog, import::parse_reading)?;
    let exposure = exposure.unwrap_or(Exposure::Relative { stops_less: 0.0 });
    let mut bench = Bench::new(&EncodingArguments { encoding: None });
    let tablet = bench.tablet(tablet_name, tablet);
    let stem =
        arguments.readings.file_stem().map_or(name.clone(), |stem| stem.to_string_lossy().into_owned());
    let label = stated.film.clone().unwrap_or(stem);
    let mut strips = vec![Strip::from(ReadingsSource::Typed(readings))];
    for text in &arguments.strip {
        strips.push(additional_strip(&mut bench, text, &mut notes)?);
    }
    let steps: Vec<usize> = strips.iter().map(Strip::steps).collect();
    let places = |texts: &[String], option: &str| {
        texts.iter().map(|text| place_of(text, option, &steps)).collect::<Result<Vec<_>, Problem>>()
    };
    let (aside, kept) = (places(&arguments.set_aside, "--set-aside")?, places(&arguments.keep, "--keep")?);
    let film = bench.film(&label, |film| {
        film.strips = strips;
        film.base_fog = base_fog;
        film.tablet_exposure = Some(TabletExposure::new(tablet, exposure));
        aside.iter().for_each(|(strip, step)| film.strips[*strip].set_step_aside(*step, true));
        kept.iter().for_each(|(strip, step)| film.strips[*strip].keep_step(*step, true));
    });
    let session = bench.session();
    let mut answer = export::figures_json(&session)?["films"][0].take();
    if let Some(points) = arguments.points {
        let curve = session.wait(&CurveOf { film: film.clone() })?;
        answer["curve"]["grid"] = export::grid_json(&curve.curve, points as usize);
    }
    print_json(&answer);
    let series = session.series();
    let about =
        |cause: String| Problem::note(Subject::File { path: name.clone(), place: None }, cause, FEWER_STEPS);
    notes.extend(series.film(&film).into_iter().flat_map(|film| fewer_steps(series, film)).map(about));
    notes.extend(contradicted(&session, &film, &name));
    Ok(notes)
}

/// What a table of readings says beside them, where no option says it.
struct Told<'a> {
    name: &'a str,
    folder: &'a Path,
}

impl<'a> Told<'a> {
    /// The folder that a file's name is relative to: the table's own for one that the table names.
    fn folder_of(&self, option: bool) -> &'a Path {
        if option { Path::new("") } else { self.folder }
    }

    /// What `read` makes of the option, else of what the table says.
    fn read<T>(
        &self,
        key: &str,
        option: &Option<String>,
        stated: &Option<String>,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Result<Option<T>, Problem> {
        let remedy = match key {
            "exposure" => "Write 'absolute LGH', 'absolute LGH U' or 'less STOPS'.",
            _ => "Write 'DENSITY' or 'DENSITY U'.",
        };
        let option_name = format!("--{}", key.replace('_', "-"));
        if let Some(text) = option {
            return read(text).map(Some).map_err(|cause| usage(&option_name, cause, remedy));
        }
        let subject = || Subject::File { path: self.name.to_owned(), place: Some(format!("'{key}'")) };
        let wrong =
            |cause: String| Problem::error(subject(), cause, format!("{remedy} Or give {option_name}."));
        stated.as_deref().map(read).transpose().map_err(wrong)
    }
}

/// A step as '7', or '2:7' of the second strip: its strip, 0 first, and its number. `steps` are those of each strip.
fn place_of(text: &str, option: &str, steps: &[usize]) -> Result<(usize, u32), Problem> {
    let (strip, step) = text.split_once(':').unwrap_or(("1", text));
    let number = |text: &str| text.trim().parse::<u32>().ok().filter(|number| *number > 0);
    let place = number(strip).zip(number(step)).map(|(strip, step)| (strip as usize - 1, step));
    let there =
        |(strip, step): &(usize, u32)| steps.get(*strip).is_some_and(|steps| *step as usize <= *steps);
    place.filter(there).ok_or_else(|| {
        let cause = format!("'{}' is no step of these readings.", Quoted(text));
        usage(option, cause, "Write its number, or 'STRIP:STEP' of an additional strip.")
    })
}

/// What the fit made of readings that the others contradict.
fn contradicted(session: &Session, film: &FilmId, name: &str) -> Vec<Problem> {
    let Ok(found) = session.wait(&FitQualityOf { film: film.clone() }) else { return Vec::new() };
    let subject = || Subject::File { path: name.to_owned(), place: None };
    let told = |(sentence, outlier): &(String, Outlier)| {
        let place = match outlier.strip {
            0 => outlier.step.to_string(),
            strip => format!("{}:{}", strip + 1, outlier.step),
        };
        let remedy = match outlier.standing {
            Standing::Kept => format!("Read the step again, or leave '--keep {place}' out."),
            Standing::Exchanged { .. } => "Exchange both in the table if they are.".to_owned(),
            Standing::SetAside | Standing::OneOfTwo { .. } => {
                format!("Read the step again; if it is right, add '--keep {place}'.")
            }
        };
        Problem::doubt(subject(), sentence.clone(), remedy)
    };
    found.outliers.iter().map(told).collect()
}

/// An additional strip as the argument says it: 'FILE', then ',stops=STOPS', ',u=U', ',tablet=NAME' in any order.
fn additional_strip(bench: &mut Bench, text: &str, notes: &mut Vec<Problem>) -> Result<Strip, Problem> {
    let wrong = |cause: String| {
        usage("--strip", cause, "Write 'FILE', or 'FILE,stops=STOPS,u=U', or 'FILE,tablet=NAME'.")
    };
    let mut parts = text.split(',');
    let file = parts.next().unwrap_or_default().trim();
    let (mut stops, mut u, mut tablet) = (None, None, None);
    for part in parts {
        let (key, value) = part.split_once('=').map_or((part.trim(), ""), |(k, v)| (k.trim(), v.trim()));
        match key {
            "stops" => stops = Some(ranges::STOPS.parse(value).map_err(wrong)?),
            "u" => u = Some(ranges::STOPS_U.parse(value).map_err(wrong)?),
            "tablet" => tablet = Some(value.to_owned()),
            _ => return Err(wrong(format!("'{}' is not understood.", Quoted(part)))),
        }
    }
    let level = match (stops, u) {
        (Some(stops), u) => StripLevel::StopsLess { stops, u: u.unwrap_or(0.0) },
        (None, None) => StripLevel::FromOverlap,
        (None, Some(_)) => {
            return Err(wrong(format!("'{}' has an uncertainty without stops.", Quoted(text))));
        }
    };
    let path = Path::new(file);
    let load::Table { readings, stated, notes: told } = load::table(&load::text(path)?, file)?;
    notes.extend(told);
    let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let folder = if tablet.is_some() { Path::new("") } else { path.parent().unwrap_or(Path::new("")) };
    let tablet = match tablet.or(stated.tablet) {
        Some(name) => {
            let read = import::tablet_by_name(&name, folder)?;
            Some(bench.tablet(&name, read))
        }
        None => None,
    };
    Ok(Strip { tablet, level, ..Strip::additional(name, ReadingsSource::Typed(readings)) })
}

/// A strip to step densities.
pub(crate) fn strip(arguments: &StripArguments) -> Done {
    let aperture = arguments.aperture.as_deref().map(aperture).transpose()?;
    let mut bench = Bench::new(&arguments.encoding);
    let scan =
        bench.scan(&arguments.scan, ScanKind::Film, arguments.dpi, arguments.calibration.as_deref())?;
    let order = match arguments.order {
        StepOrder::Falling => Order::Falling,
        StepOrder::Rising => Order::Rising,
    };
    let tablet = match &arguments.tablet {
        Some(name) => Some(bench.tablet(name, import::tablet_by_name(name, Path::new(""))?)),
        None => None,
    };
    let steps = arguments.steps.or_else(|| {
        let steps = bench.series.tablets.get(tablet.as_ref()?)?.steps.len();
        u32::try_from(steps).ok()
    });
    let placed = match (&arguments.corners, steps) {
        (Some(text), Some(steps)) => Some(StripShape::new(corners("--corners", text)?, steps)),
        (Some(_), None) => {
            let cause = "Four corners alone do not say how many steps lie between them.".to_owned();
            return Err(usage("--corners", cause, "Give --steps, or the --tablet."));
        }
        _ => None,
    };
    let (mut shape, found) = match placed {
        Some(shape) => (shape, None),
        None => {
            let wanted = Wanted { steps: arguments.steps, order };
            let session = Session::of(bench.series.clone(), PathBuf::new());
            let found = session.wait(&FoundStripOf { scan: scan.clone(), wanted })?;
            (found.value.shape, Some(found))
        }
    };
    shape.aperture = aperture.unwrap_or(shape.aperture);
    if let Some(tablet) = &tablet {
        fits_tablet(&bench.series, tablet, shape.steps, &arguments.scan)?;
    }
    let seen_on_it = tablet.clone().filter(|_| order == Order::Rising);
    let film = bench.film("strip", |film| {
        film.strips = vec![ReadingsSource::Strip { scan: scan.clone(), shape }.into()];
        let exposed = tablet.filter(|_| order == Order::Falling);
        film.tablet_exposure =
            exposed.map(|tablet| TabletExposure::new(tablet, Exposure::Relative { stops_less: 0.0 }));
    });
    if let Some(tablet) = seen_on_it {
        // The tablet itself: its densities help to tell what codes stand for.
        let made = Calibration::new(tablet.0.clone(), scan.clone(), shape, tablet.clone());
        bench.series.calibrations.insert(CalibrationId(tablet.0), made);
    }
    let mut session = bench.session();
    let steps = session.wait(&StripOf { film: film.clone(), strip: 0 })?;
    let mut answer = json!({ "steps": steps.iter().map(export::step_json).collect::<Vec<Value>>() });
    let mut doubts = Vec::new();
    match found {
        Some(found) => answer["found"] = export::found_strip_json(&found),
        None => {
            let seen = session.wait(&StepsSeenOf { film: film.clone(), strip: 0 })?;
            answer["steps_seen"] = json!(*seen);
            let other = (*seen).filter(|seen| *seen != shape.steps);
            let subject = Subject::File { path: arguments.scan.display().to_string(), place: None };
            doubts.extend(other.map(|seen| other_number(subject, shape.steps, seen)));
        }
    }
    let darkest = |session: &Session| {
        let steps = session.wait(&StripOf { film: film.clone(), strip: 0 })?;
        Ok(steps.iter().map(|step| step.density.number()).fold(f64::NEG_INFINITY, f64::max))
    };
    let figure = Figure {
        key: "density_of_darkest_step",
        words: "Density of its darkest step",
        digits: 2,
        of: &darkest,
    };
    doubts.extend(encoding::tell(&mut answer, &mut session, Some(&figure))?);
    print_json(&answer);
    Ok(doubts)
}

/// Whether a strip has as many steps as its tablet.
fn fits_tablet(series: &Series, tablet: &TabletId, steps: u32, scan: &Path) -> Result<(), Problem> {
    let of_tablet = series.tablets.get(tablet).map_or(0, |tablet| tablet.steps.len());
    if of_tablet == steps as usize {
        return Ok(());
    }
    Err(Problem::error(
        Subject::File { path: scan.display().to_string(), place: None },
        format!(
            "The tablet {} has {of_tablet} steps, and the strip in the scan has {steps}.",
            Quoted(&tablet.0)
        ),
        "Give the densities of the tablet that was used, of every step of it.",
    ))
}

fn aperture(text: &str) -> Result<Aperture, Problem> {
    let wrong = |cause: String| usage("--aperture", cause, "Write 'circle MM' or 'square MM'.");
    let (shape, mm) = text.split_once(' ').unwrap_or((text, ""));
    let size = || ranges::APERTURE_MM.parse(mm).map_err(wrong);
    match shape {
        "circle" => Ok(Aperture::Circle(size()?)),
        "square" => Ok(Aperture::Square(size()?)),
        _ => Err(wrong(format!("'{}' is no aperture.", Quoted(text)))),
    }
}

/// Two prints to transform and patches.
pub(crate) fn patches(arguments: &PatchesArguments) -> Done {
    let (layout, grid) = match &arguments.corners {
        None => files::read::<LayoutFile>(&arguments.layout)?.grid(&arguments.layout)?,
        Some(text) => {
            let shape = GridShape::new(corners("--corners", text)?);
            let name = arguments.layout.display().to_string();
            (store::parse_layout(&load::text(&arguments.layout)?, &name)?, shape)
        }
    };
    let mut bench = Bench::new(&arguments.encoding);
    let calibration = arguments.calibration.as_deref();
    let mut print = |label: &str, path: &Path, grid| -> Result<FilmId, Problem> {
        let scan = bench.scan(path, ScanKind::Print, None, calibration)?;
        Ok(bench.film(label, |film| film.print = Some(PrintChoice { grid, ..PrintChoice::new(scan) })))
    };
    let reference = print("reference", &arguments.reference, Some(grid))?;
    let candidate = print("candidate", &arguments.candidate, None)?;
    bench.series.reference = Some(reference.clone());
    bench.series.layout = Some(layout);
    let mut session = bench.session();
    let patches = |film: &FilmId| -> Result<Value, Problem> {
        Ok(session.wait(&PatchesOf { film: film.clone() })?.iter().map(export::patch_json).collect())
    };
    let registration = session.wait(&RegistrationOf { film: candidate.clone() })?;
    let mut answer = json!({
        "registration": export::registration_json(&registration),
        "reference": patches(&reference)?,
        "candidate": patches(&candidate)?,
        "corrected_for_contrast": false,
    });
    let darkest = |session: &Session| {
        let patches = session.wait(&PatchesOf { film: reference.clone() })?;
        let densities = patches.iter().map(|patch| patch.sample.density.number());
        Ok(densities.fold(f64::NEG_INFINITY, f64::max))
    };
    let figure = Figure {
        key: "density_of_darkest_patch",
        words: "Density of the darkest patch of the reference",
        digits: 2,
        of: &darkest,
    };
    let mut found = doubts(&registration, &arguments.candidate);
    found.extend(encoding::tell(&mut answer, &mut session, Some(&figure))?);
    print_json(&answer);
    Ok(found)
}

/// Two prints to the map between them.
pub(crate) fn register(arguments: &RegisterArguments) -> Done {
    let mut bench = Bench::new(&arguments.encoding);
    let calibration = arguments.calibration.as_deref();
    let mut print = |label: &str, path: &Path, model| -> Result<FilmId, Problem> {
        let scan = bench.scan(path, ScanKind::Print, None, calibration)?;
        Ok(bench.film(label, |film| film.print = Some(PrintChoice { model, ..PrintChoice::new(scan) })))
    };
    let reference = print("reference", &arguments.reference, None)?;
    let candidate = print("candidate", &arguments.candidate, arguments.model.map(Model::from))?;
    bench.series.reference = Some(reference);
    let registration = bench.session().wait(&RegistrationOf { film: candidate })?;
    print_json(&export::registration_json(&registration));
    Ok(doubts(&registration, &arguments.candidate))
}

/// What speaks against a registration, about the second print's file.
fn doubts(registration: &Registration, path: &Path) -> Vec<Problem> {
    let remedy = "Look at both prints in the window, and set two pairs of points by hand where they do not lie on each other.";
    let subject = || Subject::File { path: path.display().to_string(), place: None };
    registration.doubts.iter().map(|doubt| Problem::doubt(subject(), doubt.clone(), remedy)).collect()
}

/// Uniform areas to granularity, through the aperture and others, and over density where there are several.
pub(crate) fn grain(arguments: &GrainArguments) -> Done {
    let mut areas: Vec<Rect> =
        arguments.area.iter().map(|text| rectangle("--area", text)).collect::<Result<_, Problem>>()?;
    if areas.is_empty() {
        areas.push(area("--area", &arguments.scan, None)?);
    }
    let mut bench = Bench::new(&arguments.encoding);
    bench.series.settings.aperture_um = arguments.aperture;
    let calibration = arguments.calibration.as_deref();
    let scan = bench.scan(&arguments.scan, ScanKind::Film, arguments.dpi, calibration)?;
    if let Some(path) = &arguments.scanner_edge {
        bench.scanner_edge(path, arguments.scanner_area.as_deref(), arguments.dpi, calibration)?;
    }
    let noise = match (&arguments.repeat, &arguments.blank) {
        (Some(path), _) => {
            GrainNoise::Repeat(bench.scan(path, ScanKind::Film, arguments.dpi, calibration)?)
        }
        (None, Some(text)) => GrainNoise::Blank { scan: scan.clone(), area: rectangle("--blank", text)? },
        (None, None) => GrainNoise::Calibration,
    };
    let marked =
        areas.iter().map(|area| GrainArea { noise: noise.clone(), ..GrainArea::new(scan.clone(), *area) });
    let film = bench.film("field", |film| {
        film.uniform_areas = marked.collect();
        film.base_fog = arguments.base_fog.map(TypedReading::new);
    });
    let mut session = bench.session();
    let mut found = Vec::new();
    for area in 0..areas.len() {
        let mut json = export::grain_json(&*session.wait(&GrainOf { film: film.clone(), area })?);
        let law = match session.wait(&ApertureLawOf { film: film.clone(), area }) {
            Ok(law) => export::law_json(&law),
            Err(problem) => json!({ "slope": null, "reason": problem.to_string() }),
        };
        json["law_of_apertures"] = law;
        found.push(json);
    }
    let curve = export::granularity_curve_json(&*session.wait(&GranularityCurveOf { film: film.clone() })?);
    let mut answer = match (found.len(), arguments.base_fog) {
        (1, None) => found.remove(0),
        _ => json!({ "areas": found, "curve": curve }),
    };
    let granularity =
        |session: &Session| Ok(session.wait(&GrainOf { film: film.clone(), area: 0 })?.rms.number());
    let figure = Figure { key: "granularity", words: "RMS granularity", digits: 4, of: &granularity };
    let doubts = encoding::tell(&mut answer, &mut session, Some(&figure))?;
    print_json(&answer);
    Ok(doubts)
}

/// A series in the making, with scan paths as they were given.
pub(super) struct Bench {
    series: Series,
    /// What the codes of its scans stand for, where that is said.
    encoding: Option<Encoding>,
}

impl Bench {
    pub(super) fn new(encoding: &EncodingArguments) -> Self {
        Self { series: Series::default(), encoding: encoding.encoding }
    }

    pub(super) fn session(self) -> Session {
        Session::of(self.series, PathBuf::new())
    }

    pub(super) fn tablet(&mut self, name: &str, tablet: Tablet) -> TabletId {
        let id = TabletId(name.to_owned());
        self.series.tablets.insert(id.clone(), tablet);
        id
    }

    pub(super) fn series_mut(&mut self) -> &mut Series {
        &mut self.series
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

    pub(super) fn scan(
        &mut self,
        path: &Path,
        kind: ScanKind,
        dpi: Option<f64>,
        calibration: Option<&Path>,
    ) -> Result<ScanId, Problem> {
        let calibration = calibration.map(|file| self.calibration(file, kind)).transpose()?;
        let mut entry = store::scan_entry(path, kind, Path::new(""))?;
        entry.dpi = dpi;
        entry.encoding = self.encoding;
        entry.calibration = calibration;
        let id = self.series.free_scan_id(&path.display().to_string());
        self.series.scans.insert(id.clone(), entry);
        Ok(id)
    }

    /// The series' edge of the scanner, in a box or the whole picture.
    pub(super) fn scanner_edge(
        &mut self,
        path: &Path,
        text: Option<&str>,
        dpi: Option<f64>,
        calibration: Option<&Path>,
    ) -> Result<(), Problem> {
        let area = area("--scanner-area", path, text)?;
        let scan = self.scan(path, ScanKind::Film, dpi, calibration)?;
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
        let scan = self.scan(&store::paths::absolute(folder, &read.scan), kind, None, None)?;
        let shape = StripShape::new(read.quad(file)?, steps);
        self.series.calibrations.insert(id.clone(), Calibration::new(id.0.clone(), scan, shape, tablet));
        Ok(id)
    }
}

/// Two opposite corners.
pub(super) fn rectangle(option: &str, text: &str) -> Result<Rect, Problem> {
    let points = import::parse_points(text, 2).map_err(|cause| usage(option, cause, "Give 'x,y x,y'."))?;
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

pub(super) fn corners(option: &str, text: &str) -> Result<Quad, Problem> {
    let points = import::parse_points(text, 4)
        .map_err(|cause| usage(option, cause, "Give four points 'x,y x,y x,y x,y'."))?;
    Ok(Quad { corners: [points[0], points[1], points[2], points[3]] })
}

pub(super) fn usage(option: &str, cause: String, remedy: &str) -> Problem {
    Problem::error(Subject::File { path: option.to_owned(), place: None }, cause, remedy)
}
