//! A scan of an edge to its sharpness.

use std::path::{Path, PathBuf};

use clap::Args;
use twinwedge_workbench::core::document::{EdgeArea, Exposure, ReadingsSource, TabletExposure, ranges};
use twinwedge_workbench::core::measured::Measured;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::sharpness::EdgeSpace;
use twinwedge_workbench::engine::ask::EdgeOf;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::{export, import, load};

use super::answer::Answer;
use super::bench::{Bench, area};
use super::encoding::{self, Figure};
use super::reading::{ScanReading, Seen};
use super::{Done, within};

/// A slanted edge to its modulation transfer function.
#[derive(Debug, Args)]
pub(crate) struct EdgeArguments {
    /// The scan that shows the edge.
    scan: PathBuf,
    /// Two opposite corners 'x,y x,y' around one straight edge; the whole picture otherwise.
    #[arg(long)]
    area: Option<String>,
    /// What the scans show.
    #[arg(long, value_enum, default_value_t)]
    seen: Seen,
    #[command(flatten)]
    reading: ScanReading,
    /// Readings of the film's step tablet (CSV): with them the edge is measured in exposure, not in light.
    #[arg(long, requires = "tablet")]
    readings: Option<PathBuf>,
    /// Densities of that tablet: a CSV, or 'nominal 21'.
    #[arg(long)]
    tablet: Option<String>,
    /// Scan of a knife edge by the same scanner at the same resolution, to divide its own sharpness out.
    #[arg(long)]
    scanner_edge: Option<PathBuf>,
    /// Two opposite corners in it, 'x,y x,y'; the whole picture otherwise.
    #[arg(long, requires = "scanner_edge")]
    scanner_area: Option<String>,
    /// The scan shows a print of so many times enlargement: frequencies are brought back to the film.
    #[arg(long, value_parser = within(&ranges::ENLARGEMENT))]
    enlargement: Option<f64>,
}

/// A slanted edge to its modulation transfer function.
pub(crate) fn edge(arguments: &EdgeArguments) -> Done {
    let mut bench = Bench::new(&arguments.reading);
    let seen = if arguments.enlargement.is_some() { Seen::Print } else { arguments.seen };
    bench.series.conditions.enlargement = arguments.enlargement;
    if let Some(path) = &arguments.scanner_edge {
        bench.scanner_edge(path, arguments.scanner_area.as_deref(), seen.into())?;
    }
    let area = area("--area", &arguments.scan, arguments.area.as_deref())?;
    let scan = bench.scan(&arguments.scan, seen.into())?;
    let readings = match (&arguments.readings, &arguments.tablet) {
        (Some(path), Some(name)) => {
            let readings = load::readings(&load::text(path)?, &path.display().to_string())?;
            let tablet = import::tablet_by_name(name, Path::new(""))?;
            Some((ReadingsSource::Typed(readings), bench.tablet(name, tablet)))
        }
        _ => {
            bench.series.sharpness.space = EdgeSpace::Light;
            None
        }
    };
    let film = bench.film("edge", |film| {
        film.edges = vec![EdgeArea { scan, area }];
        if let Some((readings, tablet)) = readings {
            film.strips = vec![readings.into()];
            let unknown = Exposure::Relative { stops_less: 0.0 };
            film.tablet_exposure = Some(TabletExposure::new(tablet, unknown));
        }
    });
    let mut session = bench.session();
    let ask = EdgeOf { film, edge: 0, quick: false };
    let edge = session.wait(&ask)?;
    let mut body = export::edge_json(&edge);
    let mtf50 = |session: &Session| {
        let edge = session.wait(&ask)?;
        edge.mtf50.known().map(Measured::number).ok_or_else(|| {
            Problem::note(Subject::Series, "It is not defined.", "Choose another with --area.")
        })
    };
    let figure = Figure { key: "mtf50", words: "Frequency at half modulation, c/mm", digits: 1, of: &mtf50 };
    let doubts = encoding::tell(&mut body, &mut session, Some(&figure))?;
    Answer::about("edge", &arguments.scan).tell(body, doubts)
}
