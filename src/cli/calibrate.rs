//! A scan of a tablet of known densities to a calibration file, with what remains step by step.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};
use twinwedge_workbench::core::document::{Calibration, CalibrationId, ScanKind, StripShape, ranges};
use twinwedge_workbench::core::found::Found;
use twinwedge_workbench::core::measured::Flags;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::scan::CalibrationFit;
use twinwedge_workbench::core::tablet::find::{FoundStrip, Order, Wanted};
use twinwedge_workbench::core::words;
use twinwedge_workbench::engine::ask::{CalibrationOf, FoundStripOf};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{self, Sort, Source, Writing, paths};
use twinwedge_workbench::{export, import};

use super::encoding::EncodingArguments;
use super::files::CalibrationFile;
use super::measure::{Bench, corners};
use super::{Done, output, print_json, within};

/// A scan of a tablet to a calibration.
#[derive(Debug, Args)]
pub(crate) struct CalibrateArguments {
    /// The scan of the tablet.
    scan: PathBuf,
    /// Densities of the tablet: a CSV, or 'nominal 21'.
    #[arg(long)]
    tablet: String,
    /// Four corners of the tablet 'x,y x,y x,y x,y', along it from its thinnest step to its densest, then back. Without them it
    /// is found by itself.
    #[arg(long)]
    corners: Option<String>,
    /// What the tablet is: film by transmitted light, or a print by reflected light.
    #[arg(long, default_value = "film")]
    seen: Seen,
    /// Resolution in dots per inch, where the file does not say.
    #[arg(long, value_parser = within(&ranges::DPI))]
    dpi: Option<f64>,
    /// Writes the calibration file, for --calibration of other verbs.
    #[arg(long)]
    out: Option<PathBuf>,
    /// Replaces whatever file is there.
    #[arg(long)]
    force: bool,
}

/// What a tablet is.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Seen {
    Film,
    Print,
}

/// A calibration file. Its corners may have been measured by hand: an older one is not replaced unasked.
static FILE: Sort = Sort { words: "a calibration file", is: is_calibration_file, derived: false };

fn is_calibration_file(head: &[u8]) -> bool {
    head.starts_with(b"(scan:")
}

/// Finds the tablet, fits the calibration, prints it with its residuals, and writes the file.
pub(crate) fn calibrate(arguments: &CalibrateArguments) -> Done {
    let tablet = import::tablet_by_name(&arguments.tablet, Path::new(""))?;
    let steps = u32::try_from(tablet.steps.len()).unwrap_or(u32::MAX);
    let kind = match arguments.seen {
        Seen::Film => ScanKind::Film,
        Seen::Print => ScanKind::Print,
    };
    // Codes are set beside known densities: what they stand for is what is found.
    let mut bench = Bench::new(&EncodingArguments { encoding: None });
    let scan = bench.scan(&arguments.scan, kind, arguments.dpi, None)?;
    let (shape, found) = match &arguments.corners {
        Some(text) => (StripShape::new(corners("--corners", text)?, steps), None),
        None => {
            let wanted = Wanted { steps: Some(steps), order: Order::Rising };
            let session = Session::of(bench.series_mut().clone(), PathBuf::new());
            let found = session.wait(&FoundStripOf { scan: scan.clone(), wanted })?;
            (found.value.shape, Some(found))
        }
    };
    let tablet = bench.tablet(&arguments.tablet, tablet);
    let calibration = CalibrationId("calibration".to_owned());
    let made = Calibration::new(calibration.0.clone(), scan, shape, tablet);
    bench.series_mut().calibrations.insert(calibration.clone(), made);
    let fit = bench.session().wait(&CalibrationOf { calibration })?;
    if let Some(out) = &arguments.out {
        write(arguments, &shape, out)?;
    }
    print_json(&answer(&fit, found.as_deref()));
    Ok(doubts(arguments, &fit, found.as_deref()))
}

fn answer(fit: &CalibrationFit, found: Option<&Found<FoundStrip>>) -> Value {
    let points = fit.points.iter().zip(&fit.residuals).map(|(point, residual)| {
        json!({
            "step": point.step,
            "density": point.density,
            "density_u": point.density_u,
            "code": point.code,
            "code_u": point.code_u,
            "used": residual.is_some(),
            "residual": residual,
            "flags": point.flags.words(),
        })
    });
    let stray = match &fit.flare {
        Ok(flare) => json!({
            "share_of_full_light": flare.veil,
            "low": flare.interval.0,
            "high": flare.interval.1,
            "distinguishable": flare.separated,
        }),
        Err(why) => json!({ "share_of_full_light": null, "reason": words::no_flare(why) }),
    };
    let mut answer = json!({
        "steps": points.collect::<Vec<Value>>(),
        "residual_rms": fit.rms,
        "stray_light": stray,
        "notes": fit.notes,
    });
    if let Some(found) = found {
        answer["found"] = export::found_strip_json(found);
    }
    answer
}

/// What speaks against it: doubts about where the tablet lies, and steps that were not used.
fn doubts(
    arguments: &CalibrateArguments,
    fit: &CalibrationFit,
    found: Option<&Found<FoundStrip>>,
) -> Vec<Problem> {
    let subject = || Subject::File { path: arguments.scan.display().to_string(), place: None };
    let place = "Give the corners of the tablet with --corners.";
    let placed = found.into_iter().flat_map(|found| &found.doubts);
    let placed = placed.map(|doubt| Problem::doubt(subject(), doubt.clone(), place));
    let clipped = fit.points.iter().filter(|point| point.flags.contains(Flags::CLIPPED)).count();
    let clipped = (clipped > 0).then(|| {
        Problem::doubt(
            subject(),
            format!("{clipped} steps are clipped in the scan and were not used: the calibration does not reach them."),
            "Scan the tablet with less exposure, or go without densities beyond the others.",
        )
    });
    placed.chain(clipped).collect()
}

/// Writes the file; paths in it are relative to it.
fn write(arguments: &CalibrateArguments, shape: &StripShape, out: &Path) -> Result<(), Problem> {
    let folder = paths::folder_of(out);
    let kept = |path: &Path| paths::relative(&folder, path);
    let nominal = arguments.tablet.starts_with("nominal");
    let tablet = if nominal { arguments.tablet.clone() } else { kept(Path::new(&arguments.tablet)) };
    let file = CalibrationFile::new(kept(&arguments.scan), tablet, &shape.quad);
    let source = |path: &Path, what: &str| Source { path: path.to_owned(), what: what.to_owned() };
    let mut sources = vec![source(&arguments.scan, "the scan that is read")];
    if !nominal {
        sources.push(source(Path::new(&arguments.tablet), "the tablet that is read"));
    }
    let writing = Writing { sort: &FILE, sources: &sources, replace: output::replace(arguments.force) };
    let text = file.text().map_err(|cause| {
        Problem::error(
            Subject::File { path: out.display().to_string(), place: None },
            cause,
            "Choose other names.",
        )
    })?;
    output::written(out, arguments.force, || store::write_file(out, text.as_bytes(), writing))
}
