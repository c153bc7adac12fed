//! A scan of a tablet of known densities to a calibration file, with what remains step by step.

use std::path::{Path, PathBuf};

use clap::Args;
use twinwedge_workbench::core::document::{Calibration, CalibrationId, StripShape, ranges};
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::tablet::find::{Order, Wanted};
use twinwedge_workbench::engine::ask::{CalibrationOf, FoundStripOf};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{self, Sort, Source, Writing, paths};
use twinwedge_workbench::{export, import};

use super::answer::Answer;
use super::bench::{Bench, corners};
use super::files::CalibrationFile;
use super::reading::{ScanReading, Seen};
use super::{Done, output, within};

/// A scan of a tablet to a calibration.
#[derive(Debug, Args)]
pub(crate) struct CalibrateArguments {
    /// The scan of the tablet.
    scan: PathBuf,
    /// Densities of the tablet: a CSV, or 'nominal 21'.
    #[arg(long)]
    tablet: String,
    /// Four corners of the tablet in pixels, 'x,y x,y x,y x,y', along it from its thinnest step to its densest, then back. Without them it
    /// is found by itself.
    #[arg(long)]
    corners: Option<String>,
    /// What the scan shows.
    #[arg(long, value_enum, default_value_t)]
    seen: Seen,
    /// Resolution of the scan in dots per inch, in place of what the file says.
    #[arg(long, value_parser = within(&ranges::DPI))]
    dpi: Option<f64>,
    /// Writes the calibration file, for --calibration of other verbs.
    #[arg(long)]
    out: Option<PathBuf>,
    /// Replaces whatever file is there.
    #[arg(long)]
    force: bool,
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
    // Codes are set beside known densities: what they stand for is what is found.
    let mut bench = Bench::new(&ScanReading { dpi: arguments.dpi, ..ScanReading::default() });
    let scan = bench.scan(&arguments.scan, arguments.seen.into())?;
    let (shape, found) = match &arguments.corners {
        Some(text) => (StripShape::new(corners("--corners", text)?, steps), None),
        None => {
            let wanted = Wanted { steps: Some(steps), order: Order::Rising };
            let session = Session::of(bench.series.clone(), PathBuf::new());
            let found = session.wait(&FoundStripOf { scan: scan.clone(), wanted })?;
            (found.value.shape, Some(found))
        }
    };
    let tablet = bench.tablet(&arguments.tablet, tablet);
    let calibration = CalibrationId("calibration".to_owned());
    let made = Calibration::new(calibration.0.clone(), scan, shape, tablet);
    bench.series.calibrations.insert(calibration.clone(), made);
    let fit = bench.session().wait(&CalibrationOf { calibration })?;
    if let Some(out) = &arguments.out {
        write(arguments, &shape, out)?;
    }
    Answer::about("calibrate", &arguments.scan)
        .tell(export::calibration_json(&fit, found.as_deref()), Vec::new())
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
