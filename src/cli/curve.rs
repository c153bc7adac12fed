//! Readings of a step tablet, or a scan of it, to the figures of a characteristic curve.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};
use twinwedge_workbench::core::curve::{Outlier, Standing};
use twinwedge_workbench::core::document::{
    Exposure, FilmId, ReadingsSource, ScanKind, Strip, StripLevel, TabletExposure, TabletId, ranges,
};
use twinwedge_workbench::core::figures;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::shown::Quoted;
use twinwedge_workbench::core::spectra::density::DensityKind;
use twinwedge_workbench::core::tablet::find::Order;
use twinwedge_workbench::core::words::Sentence;
use twinwedge_workbench::engine::ask::{CurveOf, FitQualityOf};
use twinwedge_workbench::session::{FEWER_STEPS, Session, fewer_steps};
use twinwedge_workbench::{export, import, load, typed};

use super::Done;
use super::answer::Answer;
use super::bench::{Bench, usage};
use super::encoding;
use super::reading::{ScanReading, Seen, is_scan};
use super::strip::{self, Placed, StripPlace};

/// Readings to figures.
#[derive(Debug, Args)]
pub(crate) struct CurveArguments {
    /// A scan of the strip, or readings: a table of density, or step and density, or step, density and uncertainty, or step and several densities
    /// that are repeat readings, or CGATS text of densities or spectra; a first line may name the columns. Lines as 'tablet: FILE', 'exposure: less 2' and
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
    /// An additional strip of the roll: its readings or scan, then after commas 'stops=STOPS' and 'u=U' where it is known how many stops
    /// less light it had and how surely, and 'tablet=NAME' where it is another tablet. May be given again.
    #[arg(long)]
    strip: Vec<String>,
    /// A figure that must be there, by its key in the answer: the verb ends with code 1 where it is missing or in doubt. May be
    /// given again; without it these are base+fog, speed point, average gradient, contrast index, gamma and maximum gradient,
    /// and with an absolute exposure the speed at 0.10 above base+fog.
    #[arg(long, value_parser = figure_key)]
    want: Vec<String>,
    /// The density that is computed where the readings are CGATS text with spectra: visual without this. A name that is not known
    /// is answered with those that are.
    #[arg(long, value_parser = density_kind)]
    density: Option<DensityKind>,
    #[command(flatten)]
    place: StripPlace,
    /// What the scan shows.
    #[arg(long, value_enum, default_value_t)]
    seen: Seen,
    #[command(flatten)]
    reading: ScanReading,
    /// Print the fitted curve too, at so many evenly spaced log exposures.
    #[arg(long, value_parser = clap::value_parser!(u32).range(2..=100_000))]
    points: Option<u32>,
}

/// Readings or a scan to figures.
pub(crate) fn curve(arguments: &CurveArguments) -> Done {
    let name = arguments.readings.display().to_string();
    let mut strips = Strips::of(arguments);
    let table = if is_scan(&arguments.readings) { None } else { Some(strips.read(&arguments.readings)?) };
    let stated = table.as_ref().map(|table| table.stated.clone()).unwrap_or_default();
    let told = Told { name: &name, folder: arguments.readings.parent().unwrap_or(Path::new("")) };
    let tablet_name = arguments.tablet.as_ref().or(stated.tablet.as_ref()).ok_or_else(|| {
        usage(
            "--tablet",
            "Nothing says through which tablet the strip was exposed.".to_owned(),
            "Give its densities: a CSV, or 'nominal 21'.",
        )
    })?;
    let tablet = import::tablet_by_name(tablet_name, told.folder_of(arguments.tablet.is_some()))?;
    let exposure = told.read("exposure", &arguments.exposure, &stated.exposure, typed::parse_exposure)?;
    let base_fog = told.read("base_fog", &arguments.base_fog, &stated.base_fog, typed::parse_reading)?;
    let exposure = exposure.unwrap_or(Exposure::Relative { stops_less: 0.0 });
    let absolute = matches!(exposure, Exposure::Absolute { .. });
    let tablet = strips.bench.tablet(tablet_name, tablet);
    let stem =
        arguments.readings.file_stem().map_or(name.clone(), |stem| stem.to_string_lossy().into_owned());
    let label = stated.film.clone().unwrap_or(stem);
    let readings = strips.taken(table, &arguments.readings, &arguments.place, &tablet)?;
    let mut all = vec![Strip { density: stated.density, ..Strip::from(readings) }];
    for text in &arguments.strip {
        all.push(strips.additional(text, &tablet)?);
    }
    let steps: Vec<usize> = all.iter().map(Strip::steps).collect();
    let places = |texts: &[String], option: &str| {
        texts.iter().map(|text| place_of(text, option, &steps)).collect::<Result<Vec<_>, Problem>>()
    };
    let (aside, kept) = (places(&arguments.set_aside, "--set-aside")?, places(&arguments.keep, "--keep")?);
    let film = strips.bench.film(&label, |film| {
        film.strips = all;
        film.base_fog = base_fog;
        film.tablet_exposure = Some(TabletExposure::new(tablet, exposure));
        aside.iter().for_each(|(strip, step)| film.strips[*strip].set_step_aside(*step, true));
        kept.iter().for_each(|(strip, step)| film.strips[*strip].keep_step(*step, true));
    });
    let mut answer = Answer::about("curve", &arguments.readings);
    if absolute {
        answer = answer.also("figures/fixed_density_speed", "speed at 0.10 above base+fog");
    }
    answered(answer.only_figures(&arguments.want), strips, &film, &name, arguments.points)
}

/// Asks for the curve of the film and tells it.
fn answered(answer: Answer, strips: Strips, film: &FilmId, name: &str, points: Option<u32>) -> Done {
    let Strips { bench, mut notes, found, .. } = strips;
    let mut session = bench.session();
    let mut body = export::figures_json(&session)?["films"][0].take();
    if let Some(points) = points {
        let curve = session.wait(&CurveOf { film: film.clone() })?;
        body["curve"]["grid"] = export::grid_json(&curve.curve, points as usize);
    }
    if !found.is_empty() {
        body["strips"] = found.into();
    }
    let series = session.series();
    let about = |cause: String| {
        Problem::note(Subject::File { path: name.to_owned(), place: None }, cause, FEWER_STEPS)
    };
    notes.extend(series.film(film).into_iter().flat_map(|film| fewer_steps(series, film)).map(about));
    notes.extend(contradicted(&session, film, name));
    if !session.series().scans.is_empty() {
        notes.extend(encoding::tell(&mut body, &mut session, None)?);
    }
    answer.tell(body, notes)
}

/// A density by its name.
fn density_kind(text: &str) -> Result<DensityKind, String> {
    let named = DensityKind::ALL.into_iter().find(|kind| kind.key() == text);
    let keys = || DensityKind::ALL.map(DensityKind::key).join(", ");
    named.ok_or_else(|| format!("it must be one of {}", keys()))
}

/// A name of the registry of figures, as JSON and tables write it.
fn figure_key(text: &str) -> Result<String, String> {
    let known = figures::registry().iter().map(|spec| spec.key);
    if known.clone().any(|key| key == text) {
        return Ok(text.to_owned());
    }
    Err(format!("it must be one of {}", known.collect::<Vec<&str>>().join(", ")))
}

/// The strips of one roll as they are taken in, from tables or scans.
struct Strips {
    bench: Bench,
    seen: ScanKind,
    density: Option<DensityKind>,
    notes: Vec<Problem>,
    /// Where strips were found in their scans.
    found: Vec<Value>,
}

impl Strips {
    fn of(arguments: &CurveArguments) -> Self {
        let bench = Bench::new(&arguments.reading);
        let (seen, density) = (arguments.seen.into(), arguments.density);
        Self { bench, seen, density, notes: Vec::new(), found: Vec::new() }
    }

    /// A table of readings.
    fn read(&self, path: &Path) -> Result<load::Table, Problem> {
        let (text, name) = (load::text(path)?, path.display().to_string());
        match self.density {
            None => load::table(&text, &name),
            Some(kind) => load::table_from_spectra(&text, &name, kind),
        }
    }

    /// The readings of a table, else those of a strip in a scan, which has as many steps as its tablet.
    fn taken(
        &mut self,
        table: Option<load::Table>,
        path: &Path,
        at: &StripPlace,
        tablet: &TabletId,
    ) -> Result<ReadingsSource, Problem> {
        if let Some(table) = table {
            self.notes.extend(table.notes);
            return Ok(ReadingsSource::Typed(table.readings));
        }
        let scan = self.bench.scan(path, self.seen)?;
        let steps = strip::steps_of(&self.bench.series, tablet);
        // The strip shows the whole tablet: its number of steps settles where it ends.
        let at = StripPlace { steps: at.steps.or(steps), ..at.clone() };
        let Placed { shape, found } = strip::place(&self.bench, &scan, &at, steps, Order::Falling)?;
        strip::fits_tablet(&self.bench.series, tablet, shape.steps, path)?;
        let shown = path.display().to_string();
        self.found
            .extend(found.map(|found| json!({ "scan": shown, "found": export::found_strip_json(&found) })));
        Ok(ReadingsSource::Strip { scan, shape })
    }

    /// An additional strip as the argument says it: 'FILE', then ',stops=STOPS', ',u=U', ',tablet=NAME' in any order.
    fn additional(&mut self, text: &str, first: &TabletId) -> Result<Strip, Problem> {
        let wrong = |cause: Sentence| {
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
                _ => return Err(wrong(format!("'{}' is not understood.", Quoted(part)).into())),
            }
        }
        let level = match (stops, u) {
            (Some(stops), u) => StripLevel::StopsLess { stops, u: u.unwrap_or(0.0) },
            (None, None) => StripLevel::FromOverlap,
            (None, Some(_)) => {
                return Err(wrong(format!("'{}' has an uncertainty without stops.", Quoted(text)).into()));
            }
        };
        let path = Path::new(file);
        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let folder = if tablet.is_some() { Path::new("") } else { path.parent().unwrap_or(Path::new("")) };
        let table = if is_scan(path) { None } else { Some(self.read(path)?) };
        let density = table.as_ref().and_then(|table| table.stated.density);
        let named = tablet.or_else(|| table.as_ref()?.stated.tablet.clone());
        let tablet = match named {
            Some(name) => {
                let read = import::tablet_by_name(&name, folder)?;
                Some(self.bench.tablet(&name, read))
            }
            None => None,
        };
        let readings = self.taken(table, path, &StripPlace::default(), tablet.as_ref().unwrap_or(first))?;
        Ok(Strip { tablet, level, density, ..Strip::additional(name, readings) })
    }
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
        read: impl Fn(&str) -> Result<T, Sentence>,
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
            |cause: Sentence| Problem::error(subject(), cause, format!("{remedy} Or give {option_name}."));
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
