//! Two prints to the detail that survived in both.

use std::path::{Path, PathBuf};

use clap::Args;
use twinwedge_workbench::core::document::{FilmId, GrainArea, PrintChoice, ScanKind, ranges};
use twinwedge_workbench::core::geometry::Rect;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::engine::ask::DetailOf;
use twinwedge_workbench::export;

use super::encoding::{self, EncodingArguments};
use super::measure::{Bench, rectangle};
use super::{Done, print_json, within};

/// Two prints to surviving detail.
#[derive(Debug, Args)]
pub(crate) struct DetailArguments {
    /// Scan of the reference's print.
    reference: PathBuf,
    /// Scan of the candidate's print.
    candidate: PathBuf,
    /// Scan of a third film's print of the same scene.
    #[arg(long)]
    third: Option<PathBuf>,
    /// Where, in the reference's print: two opposite corners 'x,y x,y'; wherever the prints overlap otherwise.
    #[arg(long)]
    area: Option<String>,
    /// A uniform area for grain on the reference's print, 'x,y x,y'.
    #[arg(long, requires = "plain_candidate")]
    plain_reference: Option<String>,
    /// A uniform area for grain on the candidate's print, 'x,y x,y'.
    #[arg(long, requires = "plain_reference")]
    plain_candidate: Option<String>,
    /// Resolution of the scans in dots per inch, where the files do not say.
    #[arg(long, value_parser = within(&ranges::DPI))]
    dpi: Option<f64>,
    /// Linear enlargement from negative to print; without it frequencies are those on the print.
    #[arg(long, value_parser = within(&ranges::ENLARGEMENT))]
    enlargement: Option<f64>,
    /// A calibration file (see 'twinwedge strip --help'); without it densities are those of --encoding, and marked uncalibrated.
    #[arg(long)]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    encoding: EncodingArguments,
}

/// Two prints to surviving detail.
pub(crate) fn detail(arguments: &DetailArguments) -> Done {
    let rect = |option: &str, text: &Option<String>| -> Result<Option<Rect>, Problem> {
        text.as_deref().map(|text| rectangle(option, text)).transpose()
    };
    let mut bench = Bench::new(&arguments.encoding);
    bench.series_mut().detail_area = rect("--area", &arguments.area)?;
    bench.series_mut().conditions.enlargement = arguments.enlargement;
    let mut print = |label: &str, path: &Path, plain: Option<Rect>| -> Result<FilmId, Problem> {
        let scan = bench.scan(path, ScanKind::Print, arguments.dpi, arguments.calibration.as_deref())?;
        Ok(bench.film(label, |film| {
            film.print = Some(PrintChoice::new(scan.clone()));
            film.uniform_areas.extend(plain.map(|area| GrainArea::new(scan, area)));
        }))
    };
    let plain = rect("--plain-reference", &arguments.plain_reference)?;
    let reference = print("reference", &arguments.reference, plain)?;
    let plain = rect("--plain-candidate", &arguments.plain_candidate)?;
    let candidate = print("candidate", &arguments.candidate, plain)?;
    if let Some(third) = &arguments.third {
        print("third film", third, None)?;
    }
    bench.series_mut().reference = Some(reference);
    let mut session = bench.session();
    let found = session.wait(&DetailOf { film: candidate, quick: false })?;
    let mut answer = export::detail_json(&found);
    let guessed = encoding::tell(&mut answer, &mut session, None)?;
    print_json(&answer);
    let doubt = |note: &String| Problem::note(Subject::Series, note.clone(), "It stands in the result too.");
    Ok(found.detail.notes.iter().map(doubt).chain(guessed).collect())
}
