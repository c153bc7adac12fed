//! Plain fields to granularity.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use twinwedge_workbench::core::document::{GrainArea, GrainNoise, TypedReading, ranges};
use twinwedge_workbench::core::geometry::Rect;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::engine::ask::{ApertureLawOf, GrainOf, GranularityCurveOf};
use twinwedge_workbench::export;
use twinwedge_workbench::session::Session;

use super::answer::Answer;
use super::bench::{Bench, area, rectangle};
use super::encoding::{self, Figure};
use super::reading::{ScanReading, Seen, circle_um};
use super::{Done, within};

/// A uniform area to granularity.
#[derive(Debug, Args)]
pub(crate) struct GrainArguments {
    /// The scan that shows the area.
    scan: PathBuf,
    /// Two opposite corners 'x,y x,y'; the whole picture otherwise. Given several times: areas of several densities.
    #[arg(long)]
    area: Vec<String>,
    /// The aperture, a circle: 'SIZE' or 'circle SIZE', in micrometres or with its unit ('0.048mm').
    #[arg(long, default_value = "circle 48um")]
    aperture: String,
    /// A second scan of the same film with nothing moved: its noise is taken off.
    #[arg(long, conflicts_with = "blank_area")]
    repeat: Option<PathBuf>,
    /// Two opposite corners of an area without grain, of like density, in the same scan: its noise is taken off.
    #[arg(long)]
    blank_area: Option<String>,
    /// Density of base+fog, for net densities.
    #[arg(long, value_parser = within(&ranges::DENSITY))]
    base_fog: Option<f64>,
    /// Scan of a knife edge by the same scanner at the same resolution: tells what the scanner's blur took.
    #[arg(long)]
    scanner_edge: Option<PathBuf>,
    /// Two opposite corners in it, 'x,y x,y'; the whole picture otherwise.
    #[arg(long, requires = "scanner_edge")]
    scanner_area: Option<String>,
    /// What the scans show.
    #[arg(long, value_enum, default_value_t)]
    seen: Seen,
    #[command(flatten)]
    reading: ScanReading,
}

/// Plain fields to granularity, through the aperture and others, and over density where there are several.
pub(crate) fn grain(arguments: &GrainArguments) -> Done {
    let mut areas: Vec<Rect> =
        arguments.area.iter().map(|text| rectangle("--area", text)).collect::<Result<_, Problem>>()?;
    if areas.is_empty() {
        areas.push(area("--area", &arguments.scan, None)?);
    }
    let mut bench = Bench::new(&arguments.reading);
    bench.series.settings.aperture_um = circle_um(&arguments.aperture)?;
    let kind = arguments.seen.into();
    let scan = bench.scan(&arguments.scan, kind)?;
    if let Some(path) = &arguments.scanner_edge {
        bench.scanner_edge(path, arguments.scanner_area.as_deref(), kind)?;
    }
    let noise = match (&arguments.repeat, &arguments.blank_area) {
        (Some(path), _) => GrainNoise::Repeat(bench.scan(path, kind)?),
        (None, Some(text)) => {
            GrainNoise::Blank { scan: scan.clone(), area: rectangle("--blank-area", text)? }
        }
        (None, None) => GrainNoise::Calibration,
    };
    let marked =
        areas.iter().map(|area| GrainArea { noise: noise.clone(), ..GrainArea::new(scan.clone(), *area) });
    let film = bench.film("field", |film| {
        film.uniform_areas = marked.collect();
        film.base_fog = arguments.base_fog.map(TypedReading::new);
    });
    let mut session = bench.session();
    let mut found = Vec::new();
    for area in 0..areas.len() {
        let mut json = export::grain_json(&*session.wait(&GrainOf { film: film.clone(), area })?);
        let law = match session.wait(&ApertureLawOf { film: film.clone(), area }) {
            Ok(law) => export::law_json(&law),
            Err(problem) => json!({ "slope": { "value": null, "reason": problem.to_string() } }),
        };
        json["law_of_apertures"] = law;
        found.push(json);
    }
    let curve = export::granularity_curve_json(&*session.wait(&GranularityCurveOf { film: film.clone() })?);
    let mut body = json!({ "areas": found, "curve": curve });
    let granularity =
        |session: &Session| Ok(session.wait(&GrainOf { film: film.clone(), area: 0 })?.rms.number());
    let figure = Figure { key: "granularity", words: "RMS granularity", digits: 4, of: &granularity };
    let doubts = encoding::tell(&mut body, &mut session, Some(&figure))?;
    let mut answer = Answer::about("grain", &arguments.scan);
    if arguments.base_fog.is_some() {
        answer = answer.also("curve/at_net_density_1/granularity", "granularity at net density 1");
    }
    answer.tell(body, doubts)
}
