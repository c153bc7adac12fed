//! A uniform area to its noise power spectrum, alone or beside another.

use std::path::{Path, PathBuf};

use clap::Args;
use serde_json::json;
use twinwedge_workbench::core::document::{FilmId, GrainArea, GrainNoise, ranges};
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::engine::ask::{SpectrumOf, ViewedOf};
use twinwedge_workbench::export;
use twinwedge_workbench::session::Session;

use super::answer::Answer;
use super::bench::{Bench, area, rectangle};
use super::encoding::{self, Figure};
use super::reading::{ScanReading, Seen};
use super::{Done, within};

/// A uniform area to its spectrum.
#[derive(Debug, Args)]
pub(crate) struct SpectrumArguments {
    /// The scan that shows the area.
    scan: PathBuf,
    /// Two opposite corners 'x,y x,y'; the whole picture otherwise.
    #[arg(long)]
    area: Option<String>,
    /// Another film's field, to compare with: the first is the reference.
    #[arg(long)]
    against: Option<PathBuf>,
    /// Two opposite corners of its field, 'x,y x,y'; the whole picture otherwise.
    #[arg(long, requires = "against")]
    against_area: Option<String>,
    /// A second scan of the same film with nothing moved: its noise is taken off.
    #[arg(long, conflicts_with = "blank_area")]
    repeat: Option<PathBuf>,
    /// Two opposite corners of an area without grain, of like density, in the same scan: its noise is taken off.
    #[arg(long)]
    blank_area: Option<String>,
    /// A second scan of the other film: its noise is taken off.
    #[arg(long, requires = "against", conflicts_with = "against_blank_area")]
    against_repeat: Option<PathBuf>,
    /// Two opposite corners of an area without grain in the scan of the other film.
    #[arg(long, requires = "against")]
    against_blank_area: Option<String>,
    /// What the scans show.
    #[arg(long, value_enum, default_value_t)]
    seen: Seen,
    #[command(flatten)]
    reading: ScanReading,
    /// Linear enlargement of the print that grain is seen in.
    #[arg(long, default_value_t = 8.0, value_parser = within(&ranges::ENLARGEMENT))]
    enlargement: f64,
    /// Distance of the eye from the print in millimetres.
    #[arg(long, default_value_t = 250.0, value_parser = within(&ranges::DISTANCE))]
    distance: f64,
    /// Density of the print where grain is looked at.
    #[arg(long, default_value_t = 0.7, value_parser = within(&ranges::PRINT_DENSITY))]
    print_density: f64,
}

/// A uniform area to its spectrum.
pub(crate) fn spectrum(arguments: &SpectrumArguments) -> Done {
    let mut bench = Bench::new(&arguments.reading);
    let first = Field {
        option: "--area",
        path: &arguments.scan,
        area: arguments.area.as_deref(),
        repeat: arguments.repeat.as_deref(),
        blank: ("--blank-area", arguments.blank_area.as_deref()),
    };
    let second = arguments.against.as_ref().map(|path| Field {
        option: "--against-area",
        path,
        area: arguments.against_area.as_deref(),
        repeat: arguments.against_repeat.as_deref(),
        blank: ("--against-blank-area", arguments.against_blank_area.as_deref()),
    });
    let reference = first.film(&mut bench, arguments)?;
    let candidate = second.map(|second| second.film(&mut bench, arguments)).transpose()?;
    let series = &mut bench.series;
    series.viewing.enlargement = arguments.enlargement;
    series.viewing.distance_mm = arguments.distance;
    series.viewing.print_density = arguments.print_density;
    series.reference = Some(reference.clone());
    let mut session = bench.session();
    let of = |film: &FilmId| {
        let found = session.wait(&SpectrumOf { film: film.clone(), area: 0, quick: false })?;
        Ok::<_, Problem>(export::spectrum_json(&found))
    };
    let last = candidate.as_ref().unwrap_or(&reference);
    let viewed = session.wait(&ViewedOf { film: last.clone() })?;
    let mut body = json!({ "spectrum": of(&reference)?, "viewed": export::viewed_json(&viewed) });
    if let Some(candidate) = &candidate {
        body["against"] = of(candidate)?;
    }
    let zero = |session: &Session| {
        Ok(session.wait(&SpectrumOf { film: reference.clone(), area: 0, quick: false })?.zero.number())
    };
    let figure =
        Figure {
            key: "power_at_zero", words: "Noise power at frequency zero, D² µm²", digits: 3, of: &zero
        };
    let doubts = encoding::tell(&mut body, &mut session, Some(&figure))?;
    Answer::about("spectrum", &arguments.scan).tell(body, doubts)
}

/// A uniform area and where its noise is known from.
struct Field<'a> {
    option: &'a str,
    path: &'a Path,
    area: Option<&'a str>,
    repeat: Option<&'a Path>,
    blank: (&'a str, Option<&'a str>),
}

impl Field<'_> {
    /// A film of which no more is known than this field.
    fn film(&self, bench: &mut Bench, arguments: &SpectrumArguments) -> Result<FilmId, Problem> {
        let area = area(self.option, self.path, self.area)?;
        let mut scan = |path: &Path| bench.scan(path, arguments.seen.into());
        let read = scan(self.path)?;
        let noise = match (self.repeat, self.blank) {
            (Some(path), _) => GrainNoise::Repeat(scan(path)?),
            (None, (option, Some(text))) => {
                GrainNoise::Blank { scan: read.clone(), area: rectangle(option, text)? }
            }
            (None, (_, None)) => GrainNoise::Calibration,
        };
        let label = self.path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        Ok(bench.film(&label, |film| {
            film.uniform_areas = vec![GrainArea { noise, ..GrainArea::new(read, area) }];
        }))
    }
}
