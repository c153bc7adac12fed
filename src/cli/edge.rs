//! A scan of an edge to its sharpness.

use std::path::{Path, PathBuf};

use clap::Args;
use twinwedge_workbench::core::document::{
    EdgeArea, Exposure, ReadingsSource, ScanKind, TabletExposure, ranges,
};
use twinwedge_workbench::core::measured::Measured;
use twinwedge_workbench::core::problem::{Problem, Subject};
use twinwedge_workbench::core::sharpness::EdgeSpace;
use twinwedge_workbench::engine::ask::EdgeOf;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::{export, import, load};

use super::encoding::{self, EncodingArguments, Figure};
use super::measure::{Bench, area};
use super::{Done, print_json, within};

/// A slanted edge to its modulation transfer function.
#[derive(Debug, Args)]
pub(crate) struct EdgeArguments {
    /// The scan of film.
    scan: PathBuf,
    /// Two opposite corners 'x,y x,y' of a box around one straight edge; the whole picture otherwise.
    #[arg(long)]
    area: Option<String>,
    /// Resolution in dots per inch, where the file does not say.
    #[arg(long, value_parser = within(&ranges::DPI))]
    dpi: Option<f64>,
    /// A calibration file (see 'twinwedge strip --help'); without it the result is marked uncalibrated.
    #[arg(long)]
    calibration: Option<PathBuf>,
    #[command(flatten)]
    encoding: EncodingArguments,
    /// Readings of the film's step tablet (CSV): with them the edge is measured in exposure, not in light.
    #[arg(long, requires = "tablet")]
    readings: Option<PathBuf>,
    /// Densities of that tablet: a CSV, or 'nominal 21'.
    #[arg(long)]
    tablet: Option<String>,
    /// Scan of a knife edge by the same scanner at the same resolution, to divide its own sharpness out.
    #[arg(long)]
    scanner_edge: Option<PathBuf>,
    /// The box in it, 'x,y x,y'.
    #[arg(long, requires = "scanner_edge")]
    scanner_area: Option<String>,
    /// It is a print of so many times enlargement: frequencies are brought back to the film.
    #[arg(long, value_parser = within(&ranges::ENLARGEMENT))]
    enlargement: Option<f64>,
    /// The scan is one of a print.
    #[arg(long)]
    print: bool,
}

/// A slanted edge to its modulation transfer function.
pub(crate) fn edge(arguments: &EdgeArguments) -> Done {
    let mut bench = Bench::new(&arguments.encoding);
    let calibration = arguments.calibration.as_deref();
    let kind =
        if arguments.print || arguments.enlargement.is_some() { ScanKind::Print } else { ScanKind::Film };
    bench.series_mut().conditions.enlargement = arguments.enlargement;
    if let Some(path) = &arguments.scanner_edge {
        bench.scanner_edge(path, arguments.scanner_area.as_deref(), arguments.dpi, calibration)?;
    }
    let area = area("--area", &arguments.scan, arguments.area.as_deref())?;
    let scan = bench.scan(&arguments.scan, kind, arguments.dpi, calibration)?;
    let readings = match (&arguments.readings, &arguments.tablet) {
        (Some(path), Some(name)) => {
            let readings = load::readings(&load::text(path)?, &path.display().to_string())?;
            let tablet = import::tablet_by_name(name, Path::new(""))?;
            Some((ReadingsSource::Typed(readings), bench.tablet(name, tablet)))
        }
        _ => {
            bench.series_mut().sharpness.space = EdgeSpace::Light;
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
    let mut answer = export::edge_json(&edge);
    let mtf50 = |session: &Session| {
        let edge = session.wait(&ask)?;
        edge.mtf50
            .known()
            .map(Measured::number)
            .ok_or_else(|| Problem::note(Subject::Series, "It is not defined.", "Mark another edge."))
    };
    let figure = Figure { key: "mtf50", words: "Frequency at half modulation, c/mm", digits: 1, of: &mtf50 };
    let doubts = encoding::tell(&mut answer, &mut session, Some(&figure))?;
    print_json(&answer);
    Ok(doubts)
}
