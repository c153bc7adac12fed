//! What a film takes among few and among many: all figures of series of invented films, made from seeds.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

use rand::RngExt;
use rand_pcg::Pcg64;
use rayon::prelude::*;
use twinwedge_core::document::{
    Calibration, CalibrationId, Exposure, Film, FilmId, Process, ReadingsSource, ScanEntry, ScanId, ScanKind,
    Series, StripShape, Tablet, TabletExposure, TabletId, TypedReading,
};
use twinwedge_core::geometry::{Point, Quad, Rect};
use twinwedge_workbench::store;

use super::{ours, time};
use crate::tiff::{Packing, grey16};
use crate::{Failure, say};

/// What the films of a series are read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Source {
    /// Densities as they were typed.
    Readings,
    /// A scan of each film's strip, of some 12 MB: 150 of them are more than a session keeps in memory.
    Scans,
}

impl Source {
    /// In words and in names of folders.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Readings => "readings",
            Self::Scans => "scans",
        }
    }
}

/// What a workload called `growth-readings-100` asks for.
pub(super) fn asked(workload: &str) -> Option<(Source, usize)> {
    let (from, films) = workload.strip_prefix("growth-")?.split_once('-')?;
    let from = [Source::Readings, Source::Scans].into_iter().find(|known| known.word() == from)?;
    Some((from, films.parse().ok()?))
}

/// The series that are measured; of each kind the first is what the others are held against.
const SERIES: [(Source, &[usize]); 2] =
    [(Source::Readings, &[10, 100, 1000, 2000]), (Source::Scans, &[100, 150])];
/// A film among many may take so many times what it takes among few.
const LEVEL: f64 = 1.5;

/// Measures all of them and prints a line for each.
///
/// # Errors
/// A series cannot be written, or a workload failed.
pub(super) fn run(folder: &Path) -> Result<(), Failure> {
    say(format_args!(
        "\n{:<40} {:>10} {:>10} {:>9} {:>12}   target",
        "all figures of a series", "takes", "a film", "peak MB", "MB a film"
    ));
    for (from, sizes) in SERIES {
        let mut first: Option<(f64, f64)> = None;
        for films in sizes {
            // Before it is measured: writing it would be measured, too.
            series_file(folder, from, *films)?;
            let cost = ours::start(&format!("growth-{}-{films}", from.word()), folder)?;
            let each = (cost.seconds / *films as f64, cost.peak_mb / *films as f64);
            let (seconds, mb) = *first.get_or_insert(each);
            let met = each.0 <= LEVEL * seconds && each.1 <= LEVEL * mb;
            say(format_args!(
                "{:<40} {:>10} {:>10} {:>9.0} {:>12.2}   time and memory of a film within {LEVEL} times those among \
                 {}: {}",
                format!("{films} films from {}", from.word()),
                time(cost.seconds),
                time(each.0),
                cost.peak_mb,
                each.1,
                sizes[0],
                if met { "met" } else { "MISSED" }
            ));
        }
    }
    Ok(())
}

const STEPS: u32 = 21;
/// A step of a strip in its scan, in pixels along it.
const STEP: u32 = 120;
/// What lies around a strip in its scan, in pixels.
const MARGIN: u32 = 90;
/// Width and height of the scan of a strip.
const SCAN: (u32, u32) = (STEPS * STEP + 2 * MARGIN, 2300);
/// Different scans; further films have copies of them under names of their own.
const DIFFERENT: usize = 12;
const TABLET: &str = "step tablet 7";
const CALIBRATION: &str = "film scanner";
/// lg of the light before the tablet, in lux seconds.
const LIGHT: f64 = 0.4;
/// Names of films, after waders.
const NAMES: [&str; 8] =
    ["Plover", "Dunlin", "Godwit", "Curlew", "Knot", "Sanderling", "Turnstone", "Whimbrel"];

/// The file of a series of so many films, written where it is not there yet.
///
/// # Errors
/// It cannot be written.
pub(super) fn series_file(folder: &Path, from: Source, films: usize) -> Result<PathBuf, Failure> {
    let folder = folder.join(format!("growth/{}-{films}", from.word()));
    let path = folder.join("series.twinwedge");
    if !path.exists() {
        std::fs::create_dir_all(&folder)?;
        let series = series(&folder, from, films)?;
        // Last, so that one that is there is whole.
        store::save(&path, store::write(&series).as_bytes())?;
    }
    Ok(path)
}

fn series(folder: &Path, from: Source, films: usize) -> Result<Series, Failure> {
    let mut series = Series { title: "Invented films, to measure growth".to_owned(), ..Series::default() };
    series.tablets.insert(TabletId::from(TABLET), tablet());
    let scans = match from {
        Source::Readings => Vec::new(),
        Source::Scans => {
            calibrate(folder, &mut series)?;
            (0..films.min(DIFFERENT))
                .into_par_iter()
                .map(|number| {
                    let path = folder.join(format!("strip-{number}.tif"));
                    std::fs::write(&path, strip(number as u64, |step| truth(number).density(step))?)?;
                    Ok(path)
                })
                .collect::<Result<Vec<PathBuf>, Failure>>()?
        }
    };
    for number in 0..films {
        let mut film = described(number);
        let readings = match from {
            Source::Readings => ReadingsSource::Typed(readings(number)),
            Source::Scans => {
                let name = format!("strip-{number}.tif");
                if number >= scans.len() {
                    link(&scans[number % scans.len()], &folder.join(&name))?;
                }
                ReadingsSource::Strip { scan: take_in(folder, &name, &mut series)?, shape: shape() }
            }
        };
        film.strips.push(readings.into());
        series.films.push(film);
    }
    series.reference = series.films.first().map(|film| film.id.clone());
    Ok(series)
}

/// A second name for a file, or a copy of it where the disk knows no second names.
fn link(from: &Path, to: &Path) -> Result<(), Failure> {
    if to.exists() {
        return Ok(());
    }
    if std::fs::hard_link(from, to).is_err() {
        std::fs::copy(from, to)?;
    }
    Ok(())
}

/// A film's label, box and process.
fn described(number: usize) -> Film {
    let label = match number {
        0 => "Tern 160".to_owned(),
        _ => format!("{} {number}", NAMES[number % NAMES.len()]),
    };
    let mut film = Film::named(FilmId(label.clone()), label);
    film.box_speed = Some([100.0, 160.0, 400.0][number % 3]);
    film.process = Process {
        developer: "Samphire fine-grain (invented)".to_owned(),
        temperature_c: Some(20.0),
        minutes: Some(8.0 + (number % 7) as f64 * 0.5),
        ..Process::default()
    };
    film.tablet_exposure =
        Some(TabletExposure::new(TabletId::from(TABLET), Exposure::Absolute { log_h: LIGHT, u: 0.01 }));
    film
}

fn tablet() -> Tablet {
    let nominal = Tablet::nominal(STEPS).unwrap_or_else(|| unreachable!("the trade knows 21 steps"));
    Tablet { label: TABLET.to_owned(), nominal: false, shared_u: 0.003, ..nominal }
}

/// The true curve of a film: a toe, a line, and a shoulder.
#[derive(Debug, Clone, Copy)]
struct Truth {
    base: f64,
    gradient: f64,
    toe: f64,
    most: f64,
}

fn truth(number: usize) -> Truth {
    let mut chance = Pcg64::new(number as u128, 5);
    let mut between = |least: f64, most: f64| least + (most - least) * chance.random::<f64>();
    Truth {
        base: between(0.15, 0.35),
        gradient: between(0.45, 0.75),
        toe: between(-2.2, -1.8),
        most: between(1.8, 2.4),
    }
}

impl Truth {
    /// Density behind a step of the tablet, counted from 0.
    fn density(&self, step: u32) -> f64 {
        let log_h = LIGHT - tablet_density(step);
        let line = self.gradient / 2.0 * (1.0 + 10_f64.powf(2.0 * (log_h - self.toe))).log10();
        self.base + line / (1.0 + (line / self.most).powi(4)).powf(0.25)
    }
}

/// Density of a step of the tablet, counted from 0.
fn tablet_density(step: u32) -> f64 {
    0.05 + 0.15 * f64::from(step)
}

/// A number of standard normal distribution: G. E. P. Box and M. E. Muller, Ann. Math. Statist. 29 (1958).
fn normal(chance: &mut Pcg64) -> f64 {
    let (a, b) = (1.0 - chance.random::<f64>(), chance.random::<f64>());
    (-2.0 * a.ln()).sqrt() * (TAU * b).cos()
}

/// What a densitometer of two decimals reads.
fn readings(number: usize) -> Vec<TypedReading> {
    let mut chance = Pcg64::new(number as u128, 6);
    let truth = truth(number);
    let read = |step| {
        let density = truth.density(step) + 0.006 * normal(&mut chance);
        TypedReading::new((100.0 * density).round() / 100.0)
    };
    (0..STEPS).map(read).collect()
}

fn shape() -> StripShape {
    let corner = |x: u32, y: u32| Point::new(f64::from(x), f64::from(y));
    let area = Rect::between(corner(MARGIN, MARGIN), corner(SCAN.0 - MARGIN, SCAN.1 - MARGIN));
    StripShape::new(Quad::upright(area), STEPS)
}

/// The scan of a strip on bright ground: codes by a gamma of 2.2, grain of 2 % of the light.
fn strip(seed: u64, density: impl Fn(u32) -> f64 + Sync) -> Result<Vec<u8>, Failure> {
    let (width, height) = SCAN;
    let light: Vec<f64> = (0..STEPS).map(|step| 10_f64.powf(-density(step))).collect();
    let row = |y: u32| {
        let mut chance = Pcg64::new(u128::from(seed) << 64 | u128::from(y), 7);
        let light = &light;
        (0..width).map(move |x| {
            let inside = (MARGIN..height - MARGIN).contains(&y) && (MARGIN..width - MARGIN).contains(&x);
            let light = if inside { light[((x - MARGIN) / STEP) as usize] } else { 0.9 };
            // Two evenly spread numbers have variance 1/6 together.
            let even = chance.random::<f64>() + chance.random::<f64>() - 1.0;
            let light = light * (1.0 + 0.02 * 6.0_f64.sqrt() * even);
            (65_535.0 * light.clamp(0.0, 1.0).powf(1.0 / 2.2)) as u16
        })
    };
    let codes: Vec<u16> = (0..height).into_par_iter().flat_map_iter(row).collect();
    Ok(grey16(width, height, &codes, 1200, Packing::Plain)?)
}

/// The scan of a file of the folder, as one of the series.
fn take_in(folder: &Path, name: &str, series: &mut Series) -> Result<ScanId, Failure> {
    let id = ScanId::from(name);
    let mut entry: ScanEntry = store::scan_entry(&folder.join(name), ScanKind::Film, folder)?;
    entry.calibration = Some(CalibrationId::from(CALIBRATION));
    series.scans.insert(id.clone(), entry);
    Ok(id)
}

/// A scan of the tablet itself calibrates all others.
fn calibrate(folder: &Path, series: &mut Series) -> Result<(), Failure> {
    let name = "tablet.tif";
    std::fs::write(folder.join(name), strip(u64::MAX, tablet_density)?)?;
    let scan = take_in(folder, name, series)?;
    if let Some(entry) = series.scans.get_mut(&scan) {
        entry.calibration = None;
    }
    let calibration = Calibration::new(CALIBRATION.to_owned(), scan, shape(), TabletId::from(TABLET));
    series.calibrations.insert(CalibrationId::from(CALIBRATION), calibration);
    Ok(())
}
