//! Our side of each workload, in a process of its own so that its peak memory is its own.

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use serde_json::{Value, json};
use twinwedge_core::curve::{FitSettings, Reading, Readings, Sources, fit};
use twinwedge_core::detail::{self, Asked, Other, Sheet};
use twinwedge_core::document::{Channel, Film, Series, Settings};
use twinwedge_core::figures::of_curve;
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::grain::spectrum::{SpectrumSettings, spectrum};
use twinwedge_core::grain::{GrainSettings, granularity};
use twinwedge_core::measured::Flags;
use twinwedge_core::register::{Picture, Registration};
use twinwedge_core::scan::{Pyramid, ToneTable};
use twinwedge_core::tablet::sample_disc;
use twinwedge_core::units::Micrometres;
use twinwedge_workbench::engine::ask::{RegistrationOf, ScanOf, ToneOf};
use twinwedge_workbench::export::{self, Depth, ReportOf};
use twinwedge_workbench::load::{self, Limits};
use twinwedge_workbench::sample::{self, Sample};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{NotWritten, Replace};

use super::{Cost, growth, inputs, registration};
use crate::{Failure, say};

/// Starts this program again for one workload.
pub(super) fn start(workload: &str, folder: &Path) -> Result<Cost, Failure> {
    Cost::read(&answer(workload, folder)?)
}

/// Starts this program again for one workload and gives what it printed.
pub(super) fn answer(workload: &str, folder: &Path) -> Result<Value, Failure> {
    let output = Command::new(std::env::current_exe()?).arg("bench").arg(workload).arg(folder).output()?;
    if !output.status.success() {
        return Err(format!("{workload}: {}", String::from_utf8_lossy(&output.stderr)).into());
    }
    Ok(serde_json::from_slice(&output.stdout)?)
}

/// Runs one workload and prints what it took.
///
/// # Errors
/// The workload is unknown or failed.
pub(crate) fn run(workload: &str, folder: &Path) -> Result<(), Failure> {
    if workload == "register" {
        let (seconds, matrices) = registration::measured(folder)?;
        say(format_args!("{}", json!({ "seconds": seconds, "peak_mb": peak_mb(), "matrices": matrices })));
        return Ok(());
    }
    if let Some((from, films)) = growth::asked(workload) {
        let seconds = figures(&growth::series_file(folder, from, films)?)?;
        say(format_args!("{}", json!({ "seconds": seconds, "peak_mb": peak_mb() })));
        return Ok(());
    }
    let seconds = match workload {
        "open-plain" | "open-deflate" | "open-lzw" | "open-huge" => open(&inputs::large(folder, workload))?,
        "click" => click(folder)?,
        "grain" => grain(&inputs::grain(folder))?,
        "spectrum" => noise_power(&inputs::grain(folder), false)?,
        "spectrum-quick" => noise_power(&inputs::grain(folder), true)?,
        "detail" => detail(folder, false)?,
        "detail-quick" => detail(folder, true)?,
        "curves" => curves()?,
        "drag" => drag()?,
        "report-html" | "report-pdf" | "sheets-pdf" => report(folder, workload)?,
        _ => return Err(format!("no workload is called {workload}").into()),
    };
    say(format_args!("{}", json!({ "seconds": seconds, "peak_mb": peak_mb() })));
    Ok(())
}

/// Most memory this process has held, in MB; 0 where the system does not tell.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap_or_default();
    line.split_whitespace().nth(1).and_then(|kb| kb.parse::<f64>().ok()).unwrap_or_default() / 1024.0
}

/// Decodes a scan and makes its smaller copies: from then on a page can be panned.
fn open(path: &Path) -> Result<f64, Failure> {
    let start = Instant::now();
    let scan = load::scan(path, Limits::default(), &|_| true)?;
    let table = ToneTable::uncalibrated(&scan);
    let pyramid = Pyramid::build(&scan, Some(&table.light), &|| false).ok_or("stopped")?;
    let seconds = start.elapsed().as_secs_f64();
    black_box((&scan, &pyramid));
    Ok(seconds)
}

/// A click in the sample's first pair of prints: the same spot in both. Mean over many places.
fn click(folder: &Path) -> Result<f64, Failure> {
    let sample = PathBuf::from(std::fs::read_to_string(folder.join("series.txt"))?);
    let session = Session::open(&sample.join("saltmarsh.twinwedge"))?;
    let series = session.series();
    let reference = series.reference_film().ok_or("no reference")?;
    let candidate = series.candidates().next().ok_or("no candidate")?;
    let print = |film: &Film| film.print.as_ref().map(|print| print.scan.clone());
    let prints = [print(reference).ok_or("no print")?, print(candidate).ok_or("no print")?];
    let mut sides = Vec::new();
    for scan in &prints {
        let ask = (ScanOf { scan: scan.clone() }, ToneOf { scan: scan.clone() });
        sides.push((session.wait(&ask.0)?, session.wait(&ask.1)?));
    }
    let transform = session.wait(&RegistrationOf { film: candidate.id.clone() })?.transform;
    const PLACES: u32 = 500;
    let start = Instant::now();
    for place in 0..PLACES {
        let at = Point::new(200.0 + f64::from(place), 200.0 + 0.8 * f64::from(place));
        for ((scan, table), at) in sides.iter().zip([at, transform.map(at)]) {
            black_box(sample_disc(scan.plane(Channel::default()), table, at, 12.0)?);
        }
    }
    Ok(start.elapsed().as_secs_f64() / f64::from(PLACES))
}

fn grain(path: &Path) -> Result<f64, Failure> {
    let scan = load::scan(path, Limits::default(), &|_| true)?;
    let table = ToneTable::uncalibrated(&scan);
    let area = Rect::between(Point::new(0.0, 0.0), Point::new(scan.width as f64, scan.height as f64));
    let settings = GrainSettings {
        pitch: Micrometres::per_sample(f64::from(inputs::GRAIN_DPI)),
        aperture: Micrometres(48.0),
    };
    let start = Instant::now();
    let found = granularity(scan.plane(Channel::default()), &table, area, settings, &|| false)?;
    let seconds = start.elapsed().as_secs_f64();
    black_box(found);
    Ok(seconds)
}

fn noise_power(path: &Path, quick: bool) -> Result<f64, Failure> {
    let scan = load::scan(path, Limits::default(), &|_| true)?;
    let table = ToneTable::uncalibrated(&scan);
    let area = Rect::between(Point::new(0.0, 0.0), Point::new(scan.width as f64, scan.height as f64));
    let pitch = Micrometres::per_sample(f64::from(inputs::GRAIN_DPI));
    let settings = SpectrumSettings { pitch, block: Some(256), quick };
    let unknown = Err("The benchmark has no scanner.".into());
    let start = Instant::now();
    let found = spectrum(scan.plane(Channel::default()), &table, area, settings, unknown, &|| false)?;
    let seconds = start.elapsed().as_secs_f64();
    black_box(found);
    Ok(seconds)
}

/// What detail two prints share; quickly: within a box, from a part of its blocks. Their files are read before.
fn detail(folder: &Path, quick: bool) -> Result<f64, Failure> {
    let sheet = |path: PathBuf| -> Result<Sheet, Failure> {
        let scan = load::scan(&path, Limits::default(), &|_| true)?;
        let table: Vec<f32> = ToneTable::uncalibrated(&scan).density.iter().map(|d| *d as f32).collect();
        let plane = scan.plane(Channel::default());
        let (width, height) = (plane.width(), plane.height());
        let mut tones = vec![0.0; width * height];
        for (y, row) in tones.chunks_mut(width).enumerate() {
            plane.look_up(&table, y, 0, row);
        }
        Ok(Sheet { picture: Picture { width, height, tones, scale: 1.0 }, origin: Point::default() })
    };
    let [first, second] = inputs::prints(folder).map(sheet);
    let (first, second) = (first?, second?);
    let registration = Registration::exact();
    let area = Rect::between(Point::new(700.0, 500.0), Point::new(2300.0, 1900.0));
    let asked = Asked {
        area: quick.then_some(area),
        per_mm: 600.0 / 25.4,
        enlargement: Some(6.5),
        plain: [None, None],
        quick,
    };
    let start = Instant::now();
    let found =
        detail::detail(&first, Other { sheet: &second, registration: &registration }, None, &asked, &|| {
            false
        })?;
    let seconds = start.elapsed().as_secs_f64();
    black_box(found);
    Ok(seconds)
}

/// All figures of a series, as the verb asks for them.
fn figures(series: &Path) -> Result<f64, Failure> {
    let start = Instant::now();
    let mut session = Session::open(series)?;
    session.set_recovery_folder(None);
    black_box(export::FiguresText::of(&session)?.write(&mut std::io::sink())?);
    Ok(start.elapsed().as_secs_f64())
}

/// Films of the report workloads.
pub(super) const REPORTED: usize = 50;

/// The report of a series of films each of which has a curve of its own and the prints, grain, edges and bracket of the sample's
/// candidate, from opening the scans to the last file.
fn report(folder: &Path, workload: &str) -> Result<f64, Failure> {
    let sample = Session::open(&sample::lay_out(Sample::Three)?)?;
    let mut series = Series::clone(sample.series());
    let grown = Session::open(&growth::series_file(folder, growth::Source::Readings, REPORTED)?)?;
    let like = series.candidates().next().ok_or("the sample has no candidate")?.clone();
    series.films.retain(|film| series.reference.as_ref() == Some(&film.id));
    let grown = grown.series();
    series.tablets.extend(grown.tablets.clone());
    series.films.extend(grown.films.iter().map(|film| Film {
        print: like.print.clone(),
        uniform_areas: like.uniform_areas.clone(),
        edges: like.edges.clone(),
        bracket: like.bracket.clone(),
        ..film.clone()
    }));
    let sample_folder = sample.folder().to_path_buf();
    let out = folder.join("report");
    std::fs::create_dir_all(&out)?;
    let start = Instant::now();
    let mut session = Session::of(series, sample_folder);
    session.set_recovery_folder(None);
    let ending = if workload == "report-html" { "html" } else { "pdf" };
    let depth = if workload == "sheets-pdf" { Depth::Sheet } else { Depth::Whole };
    let of = ReportOf { depth, ..ReportOf::default() };
    let path = out.join(format!("{workload}.{ending}"));
    black_box(export::to_file_on(&session, of, &path, &[], Replace::Anything).map_err(NotWritten::problem)?);
    Ok(start.elapsed().as_secs_f64())
}

/// Readings of a film of the curves workload.
fn readings((log_h, density): &(Vec<f64>, Vec<f64>)) -> Readings {
    let reading = |(step, (log_h, density)): (usize, (&f64, &f64))| Reading {
        strip: 0,
        step: step as u32 + 1,
        log_h: *log_h,
        log_h_u: 0.0,
        density: *density,
        density_u: inputs::DENSITY_U,
        set_aside: false,
        flags: Flags::empty(),
    };
    Readings {
        points: log_h.iter().zip(density).enumerate().map(reading).collect(),
        absolute: true,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog: Some((inputs::BASE, inputs::DENSITY_U)),
        flags: Flags::empty(),
    }
}

/// Fit, resamplings and all figures of every film.
fn curves() -> Result<f64, Failure> {
    let films = inputs::films();
    let start = Instant::now();
    for film in &films {
        let curve = fit(readings(film), FitSettings { resamplings: inputs::RESAMPLINGS, seed: 1 })?;
        black_box(of_curve(&curve, &Settings::default()));
    }
    Ok(start.elapsed().as_secs_f64())
}

/// What one frame of a drag asks for: one film again, a point of it moved. The slowest of many.
fn drag() -> Result<f64, Failure> {
    let films = inputs::films();
    let mut slowest = 0.0_f64;
    for frame in 0..60 {
        let mut film = films[25].clone();
        film.1[8] += 0.001 * f64::from(frame);
        let start = Instant::now();
        let curve = fit(readings(&film), FitSettings { resamplings: inputs::RESAMPLINGS, seed: 1 })?;
        black_box(of_curve(&curve, &Settings::default()));
        slowest = slowest.max(start.elapsed().as_secs_f64());
    }
    Ok(slowest)
}
