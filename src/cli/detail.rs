//! Two prints to the detail that survived in both.

use std::path::{Path, PathBuf};

use clap::Args;
use twinwedge_workbench::core::document::{FilmId, GrainArea, PrintChoice, ScanKind, ranges};
use twinwedge_workbench::core::geometry::Rect;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::words::Sentence;
use twinwedge_workbench::engine::ask::DetailOf;
use twinwedge_workbench::export;

use super::answer::Answer;
use super::bench::{Bench, rectangle};
use super::encoding;
use super::reading::ScanReading;
use super::{Done, within};

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
    /// Two opposite corners in the reference's print, 'x,y x,y'; wherever the prints overlap otherwise.
    #[arg(long)]
    area: Option<String>,
    /// Two opposite corners of a uniform area on the reference's print, 'x,y x,y': tells its grain.
    #[arg(long, requires = "candidate_uniform_area")]
    reference_uniform_area: Option<String>,
    /// Two opposite corners of a uniform area on the candidate's print, 'x,y x,y': tells its grain.
    #[arg(long, requires = "reference_uniform_area")]
    candidate_uniform_area: Option<String>,
    /// Linear enlargement from negative to print; without it frequencies are those on the print.
    #[arg(long, value_parser = within(&ranges::ENLARGEMENT))]
    enlargement: Option<f64>,
    #[command(flatten)]
    reading: ScanReading,
}

/// Two prints to surviving detail.
pub(crate) fn detail(arguments: &DetailArguments) -> Done {
    let rect = |option: &str, text: &Option<String>| -> Result<Option<Rect>, Problem> {
        text.as_deref().map(|text| rectangle(option, text)).transpose()
    };
    let mut bench = Bench::new(&arguments.reading);
    bench.series.detail_area = rect("--area", &arguments.area)?;
    bench.series.conditions.enlargement = arguments.enlargement;
    let mut print = |label: &str, path: &Path, plain: Option<Rect>| -> Result<FilmId, Problem> {
        let scan = bench.scan(path, ScanKind::Print)?;
        Ok(bench.film(label, |film| {
            film.print = Some(PrintChoice::new(scan.clone()));
            film.uniform_areas.extend(plain.map(|area| GrainArea::new(scan, area)));
        }))
    };
    let plain = rect("--reference-uniform-area", &arguments.reference_uniform_area)?;
    let reference = print("reference", &arguments.reference, plain)?;
    let plain = rect("--candidate-uniform-area", &arguments.candidate_uniform_area)?;
    let candidate = print("candidate", &arguments.candidate, plain)?;
    if let Some(third) = &arguments.third {
        print("third film", third, None)?;
    }
    bench.series.reference = Some(reference);
    let mut session = bench.session();
    let found = session.wait(&DetailOf { film: candidate, quick: false })?;
    let mut body = export::detail_json(&found);
    let mut told = encoding::tell(&mut body, &mut session, None)?;
    let note = |note: &Sentence| Problem::note(Subject::Series, note.clone(), "It stands in the answer too.");
    told.extend(found.detail.notes.iter().map(note));
    let mut answer = Answer::about("detail", &arguments.candidate);
    if arguments.third.is_some() || arguments.reference_uniform_area.is_some() {
        // What tells grain from blur was given: how far each film carries detail is wanted.
        answer = answer
            .also("limits/reference", "limit of the reference")
            .also("limits/candidate", "limit of the candidate");
    }
    answer.tell(body, told)
}
