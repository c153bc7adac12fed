//! A scan of a strip to the densities of its steps.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde_json::{Value, json};
use twinwedge_workbench::core::document::{
    Calibration, CalibrationId, Exposure, ReadingsSource, ScanId, Series, StripShape, TabletExposure,
    TabletId,
};
use twinwedge_workbench::core::found::Found;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::shown::Quoted;
use twinwedge_workbench::core::tablet::find::{FoundStrip, Order, Wanted};
use twinwedge_workbench::engine::ask::{FoundStripOf, StepsSeenOf, StripOf};
use twinwedge_workbench::session::{Session, other_number};
use twinwedge_workbench::{export, import};

use super::Done;
use super::answer::Answer;
use super::bench::{Bench, corners, usage};
use super::encoding::{self, Figure};
use super::reading::{ScanReading, Seen, aperture};

/// A strip to step densities.
#[derive(Debug, Args)]
pub(crate) struct StripArguments {
    /// The scan that shows the strip.
    scan: PathBuf,
    #[command(flatten)]
    place: StripPlace,
    /// How density goes with the number of the step: 'falling' for film exposed through a tablet, 'rising' for the tablet
    /// itself.
    #[arg(long, default_value = "falling")]
    order: StepOrder,
    /// Densities of the tablet: a CSV, or 'nominal 21'. Its steps must be as many as the strip's, and its densities help to tell
    /// what the codes of the scan stand for.
    #[arg(long)]
    tablet: Option<String>,
    /// What the scan shows.
    #[arg(long, value_enum, default_value_t)]
    seen: Seen,
    #[command(flatten)]
    reading: ScanReading,
    /// Writes the densities as CGATS text too, a row a step.
    #[arg(long)]
    cgats: Option<PathBuf>,
    /// Replaces whatever file is there.
    #[arg(long)]
    force: bool,
}

/// Where a strip lies in its scan, and what is read of it.
#[derive(Debug, Clone, Default, Args)]
pub(super) struct StripPlace {
    /// Four corners of the strip in pixels, 'x,y x,y x,y x,y', along it from the first step to the last, then back. Without them
    /// the strip is found by itself, and borders, confidence and doubts are printed too.
    #[arg(long)]
    pub(super) corners: Option<String>,
    /// Number of steps; where the strip is found by itself, they are counted if it is not given.
    #[arg(long, value_parser = clap::value_parser!(u32).range(2..=1000))]
    pub(super) steps: Option<u32>,
    /// What is read of each step: 'circle SIZE' or 'square SIZE', in micrometres or with its unit ('circle 2mm'), by the scan's
    /// resolution; else a share of 0.6 of it.
    #[arg(long)]
    pub(super) aperture: Option<String>,
}

/// How density goes with the number of the step.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum StepOrder {
    Falling,
    Rising,
}

/// A strip as it lies in its scan, and how it was found where it was.
pub(super) struct Placed {
    pub(super) shape: StripShape,
    pub(super) found: Option<std::sync::Arc<Found<FoundStrip>>>,
}

/// Where a strip lies: as the options say, else as it is found. `steps` is how many the tablet has.
pub(super) fn place(
    bench: &Bench,
    scan: &ScanId,
    place: &StripPlace,
    steps: Option<u32>,
    order: Order,
) -> Result<Placed, Problem> {
    let aperture = place.aperture.as_deref().map(aperture).transpose()?;
    let (mut shape, found) = match (&place.corners, place.steps.or(steps)) {
        (Some(text), Some(steps)) => (StripShape::new(corners("--corners", text)?, steps), None),
        (Some(_), None) => {
            let cause = "Four corners alone do not say how many steps lie between them.".to_owned();
            return Err(usage("--corners", cause, "Give --steps, or the --tablet."));
        }
        (None, _) => {
            let wanted = Wanted { steps: place.steps, order };
            let session = Session::of(bench.series.clone(), PathBuf::new());
            let found = session.wait(&FoundStripOf { scan: scan.clone(), wanted })?;
            (found.value.shape, Some(found))
        }
    };
    shape.aperture = aperture.unwrap_or(shape.aperture);
    Ok(Placed { shape, found })
}

/// Steps that a tablet of the series has.
pub(super) fn steps_of(series: &Series, tablet: &TabletId) -> Option<u32> {
    u32::try_from(series.tablets.get(tablet)?.steps.len()).ok()
}

/// A strip to step densities.
pub(crate) fn strip(arguments: &StripArguments) -> Done {
    let mut bench = Bench::new(&arguments.reading);
    let scan = bench.scan(&arguments.scan, arguments.seen.into())?;
    let order = match arguments.order {
        StepOrder::Falling => Order::Falling,
        StepOrder::Rising => Order::Rising,
    };
    let tablet = match &arguments.tablet {
        Some(name) => Some(bench.tablet(name, import::tablet_by_name(name, Path::new(""))?)),
        None => None,
    };
    let steps = tablet.as_ref().and_then(|tablet| steps_of(&bench.series, tablet));
    let Placed { shape, found } = place(&bench, &scan, &arguments.place, steps, order)?;
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
    let mut body = json!({ "steps": steps.iter().map(export::step_json).collect::<Vec<Value>>() });
    let mut doubts = Vec::new();
    match found {
        Some(found) => body["found"] = export::found_strip_json(&found),
        None => {
            let seen = session.wait(&StepsSeenOf { film: film.clone(), strip: 0 })?;
            body["steps_seen"] = json!(*seen);
            let other = (*seen).filter(|seen| *seen != shape.steps);
            let subject = Subject::File { path: arguments.scan.display().to_string(), place: None };
            doubts.extend(other.map(|seen| other_number(subject, shape.steps, seen)));
        }
    }
    if let Some(out) = &arguments.cgats {
        let rows = export::cgats_steps(&steps);
        super::cgats(out, arguments.force, &rows, &[&arguments.scan])?;
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
    doubts.extend(encoding::tell(&mut body, &mut session, Some(&figure))?);
    Answer::about("strip", &arguments.scan).tell(body, doubts)
}

/// Whether a strip has as many steps as its tablet.
pub(super) fn fits_tablet(
    series: &Series,
    tablet: &TabletId,
    steps: u32,
    scan: &Path,
) -> Result<(), Problem> {
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
