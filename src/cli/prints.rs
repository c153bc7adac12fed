//! Two prints to the map between them, and to the densities of a patch layout.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::{Value, json};
use twinwedge_workbench::core::document::{FilmId, GridShape, PrintChoice, ScanKind};
use twinwedge_workbench::core::geometry::Model;
use twinwedge_workbench::core::patch::PatchSample;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::engine::ask::{ComparisonOf, PatchesOf, RegistrationOf};
use twinwedge_workbench::session::Session;
use twinwedge_workbench::{export, load, store};

use super::Done;
use super::answer::Answer;
use super::bench::{Bench, corners};
use super::encoding::{self, Figure};
use super::files::{self, LayoutFile};
use super::reading::ScanReading;

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
    #[command(flatten)]
    reading: ScanReading,
    /// Writes the densities as CGATS text too, a row a patch of each print.
    #[arg(long)]
    cgats: Option<PathBuf>,
    /// Replaces whatever file is there.
    #[arg(long)]
    force: bool,
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
    #[command(flatten)]
    reading: ScanReading,
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
    let mut bench = Bench::new(&arguments.reading);
    let mut print = |label: &str, path: &Path, grid| -> Result<FilmId, Problem> {
        let scan = bench.scan(path, ScanKind::Print)?;
        Ok(bench.film(label, |film| film.print = Some(PrintChoice { grid, ..PrintChoice::new(scan) })))
    };
    let reference = print("reference", &arguments.reference, Some(grid))?;
    let candidate = print("candidate", &arguments.candidate, None)?;
    bench.series.reference = Some(reference.clone());
    bench.series.layout = Some(layout);
    let mut session = bench.session();
    let of_reference = session.wait(&PatchesOf { film: reference.clone() })?;
    let of_candidate = session.wait(&PatchesOf { film: candidate.clone() })?;
    if let Some(out) = &arguments.cgats {
        let text = export::cgats_patches(&[("reference", &of_reference), ("candidate", &of_candidate)]);
        super::cgats(out, arguments.force, &text, &[&arguments.reference, &arguments.candidate])?;
    }
    let film = |role: &str, path: &Path, patches: &[PatchSample]| {
        let patches: Vec<Value> = patches.iter().map(export::patch_json).collect();
        json!({ "film": path.display().to_string(), "role": role, "patches": patches })
    };
    let films = [
        film("reference", &arguments.reference, &of_reference),
        film("candidate", &arguments.candidate, &of_candidate),
    ];
    let registration = session.wait(&RegistrationOf { film: candidate.clone() })?;
    let comparison = session.wait(&ComparisonOf { film: candidate.clone() })?;
    let mut body = json!({
        "registration": export::registration_json(&registration),
        "films": films,
        "patch_differences": export::patch_differences_json(&comparison.patches),
        "greys_corrected_for_contrast": false,
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
    let doubts = encoding::tell(&mut body, &mut session, Some(&figure))?;
    Answer::about("patches", &arguments.candidate).tell(body, doubts)
}

/// Two prints to the map between them.
pub(crate) fn register(arguments: &RegisterArguments) -> Done {
    let mut bench = Bench::new(&arguments.reading);
    let mut print = |label: &str, path: &Path, model| -> Result<FilmId, Problem> {
        let scan = bench.scan(path, ScanKind::Print)?;
        Ok(bench.film(label, |film| film.print = Some(PrintChoice { model, ..PrintChoice::new(scan) })))
    };
    let reference = print("reference", &arguments.reference, None)?;
    let candidate = print("candidate", &arguments.candidate, arguments.model.map(Model::from))?;
    bench.series.reference = Some(reference);
    let registration = bench.session().wait(&RegistrationOf { film: candidate })?;
    Answer::about("register", &arguments.candidate).tell(export::registration_json(&registration), Vec::new())
}
