//! The verbs: the same work as in the window, without one. Results go to stdout, progress to stderr.

mod calibrate;
mod detail;
mod edge;
mod encoding;
mod files;
mod folder;
mod measure;
mod output;
mod scan;
mod series;
mod spectrum;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use twinwedge_workbench::core::document::ranges::Range;
use twinwedge_workbench::core::problem::{Problem, Severity};
use twinwedge_workbench::export;

use crate::ending::{COULD_NOT, DOUBTS, EXIT_CODES, FINE, code};
use crate::terminal::{print_by, say, tell};

/// Puts a black-and-white film beside a reference film and says, with numbers and pictures, how they differ.
///
/// Without a verb it opens the window: on SERIES, else on the series that was open last, else on the sample.
#[derive(Debug, Parser)]
#[command(name = "twinwedge", version, args_conflicts_with_subcommands = true, after_help = EXIT_CODES)]
pub(crate) struct Arguments {
    /// Series to open in the window.
    pub(crate) series: Option<PathBuf>,
    /// Work without a window.
    #[command(subcommand)]
    pub(crate) verb: Option<Verb>,
}

/// Everything that is done without a window.
#[derive(Debug, Subcommand)]
pub(crate) enum Verb {
    /// Write the comparison report of a series.
    ///
    /// The ending of the output says what is written: .html the report, .pdf the same on paper, .json all figures, .csv the
    /// table, .svg a contact sheet of the grain of all films. The HTML report of more than 12 films is a first page, and beside
    /// it a folder with a page for each; on paper it is one document.
    #[command(after_help = "Example: twinwedge report sample --film 'Plover 640' --out plover.html")]
    Report(series::ReportArguments),
    /// Write a graph sheet at true scale as PDF: blank, or with a film's curve and its data.
    ///
    /// Log H and density are on one scale.
    #[command(after_help = "Examples: twinwedge graph --out blank.pdf
          twinwedge graph sample --film 'Plover 640' --scale 40 --out plover-graph.pdf")]
    Graph(series::GraphArguments),
    /// Print all measured figures of a series as JSON; an undefined figure is null with its reason.
    #[command(after_help = "Example: twinwedge figures sample > figures.json")]
    Figures(series::SeriesArguments),
    /// Zones of both films rated alike, and what of them prints: as a table, or all of it as JSON.
    ///
    /// Density above base+fog and separation zone by zone at one exposure index. With --json also the subject laid on the
    /// films, the paper's figures, and which negative densities print blank or black.
    #[command(after_help = "Example: twinwedge tones sample --film 'Plover 640' --index 160")]
    Tones(series::TonesArguments),
    /// Say what is missing or doubtful in a series.
    #[command(after_help = "Example: twinwedge check house-films.twinwedge")]
    Check(series::SeriesArguments),
    /// How a film answers to development time and temperature, and the time for the reference's contrast.
    #[command(after_help = "Example: twinwedge development sample --film 'Plover 640'")]
    Development(series::DevelopmentArguments),
    /// Make a series from a folder of scans and tables, or from a CSV that says what each file is.
    ///
    /// Of a folder it prints what each file is taken for, and on stderr what is doubtful about that; doubtful files are taken
    /// as printed. A CSV in the folder with the columns of a list goes before what is told from the files.
    #[command(after_help = GATHER_HELP)]
    Gather(series::GatherArguments),
    /// Tablet readings to the figures of their characteristic curve, as JSON.
    #[command(
        after_help = "Example: twinwedge curve tern.csv --tablet tablet.csv --exposure 'absolute 0.5 0.02'"
    )]
    Curve(measure::CurveArguments),
    /// A scan of a step strip to the densities of its steps, as JSON.
    #[command(after_help = STRIP_HELP)]
    Strip(measure::StripArguments),
    /// A scan of a tablet of known densities to a calibration, with its residuals, as JSON; on request as a file.
    ///
    /// The tablet is found in the scan. The file is what --calibration of other verbs takes.
    #[command(after_help = "Example: twinwedge calibrate tablet.tif --tablet tablet.csv --out scanner.ron")]
    Calibrate(calibrate::CalibrateArguments),
    /// What a scan file says of itself, and what its pixels say of it: clipped, sharpened, denoised ..., as JSON.
    #[command(after_help = "Example: twinwedge scan tern.tif --calibration scanner.ron")]
    Scan(scan::ScanArguments),
    /// Two prints to their transform and the densities of a patch layout, as JSON.
    #[command(after_help = PATCHES_HELP)]
    Patches(measure::PatchesArguments),
    /// Save a series' patch layout to a file of its own, or take one in.
    #[command(after_help = "Example: twinwedge layout sample --save target.patches")]
    Layout(series::LayoutArguments),
    /// Two prints to the map between them, with its uncertainty and doubts, as JSON.
    #[command(after_help = "Example: twinwedge register tern-print.tif plover-print.tif")]
    Register(measure::RegisterArguments),
    /// Two prints of one scene to the detail that both carry, by spatial frequency and place, as JSON.
    ///
    /// A third film's print, or a plain area on both, tells grain from blur.
    #[command(after_help = DETAIL_HELP)]
    Detail(detail::DetailArguments),
    /// A scan of plain fields to their RMS granularity, through several apertures and over density, as JSON.
    #[command(after_help = GRAIN_HELP)]
    Grain(measure::GrainArguments),
    /// A scan of a plain field to its noise power spectrum, and how its grain is seen in a print, as JSON; beside another
    /// film's field on request.
    #[command(after_help = "Example: twinwedge spectrum tern.tif --against plover.tif --enlargement 10")]
    Spectrum(spectrum::SpectrumArguments),
    /// A scan of a slanted edge to its modulation transfer function and overshoot, as JSON.
    #[command(
        after_help = "Example: twinwedge edge edge.tif --dpi 4000 --area '100,100 400,600' --scanner-edge knife.tif"
    )]
    Edge(edge::EdgeArguments),
}

const GATHER_HELP: &str = "Examples: twinwedge gather scans --out house-films.twinwedge
          twinwedge gather scans/list.csv --out scans/house-films.twinwedge

Columns of the list, named in its first row, in any order; only file and kind are always needed:
  file         path relative to the list
  kind         tablet (CSV of known densities), calibration (scan of a tablet), readings (CSV), strip, print, grain,
               edge, frame (of a bracket), paper (CSV of a tablet's print), paper scan
  film         label of the film the file belongs to
  role         reference or candidate
  tablet       file of a tablet row, or 'nominal 21' (11, 31, 41)
  exposure     'absolute LGH', 'absolute LGH U' (lg of lux seconds before the tablet), or 'less STOPS'
               a second row of readings or strip of a film is a further strip of its roll: 'less STOPS' or
               'less STOPS U' than its first, 'overlap' or nothing where that is to be found
  calibration  file of a calibration row
  encoding     of a scan without one: what its codes stand for, linear, srgb, power:2.2, density:0..4 or profile
  resolution   dots per inch, where the file does not say
  place        corners 'x,y x,y x,y x,y' in pixels; for grain and edge 'x,y x,y', further rows of a film's grain are
               areas of other densities; empty: a strip is
               looked for, else the whole picture; for a frame its shadow patch, on one of the reference alone
  steps        number of steps, where the strip does not show the whole tablet
  seen         of a calibration: film or print
  exposure_index
               of a frame: the index that it was metered at
  box_speed    arithmetic
  base_fog     density of an unexposed area (of a paper: its white), 'DENSITY' or 'DENSITY U'
  roll_of      label of the film of which this is another roll
  light_source, seconds
               of the tablet's exposure
  developer, dilution, temperature (degrees Celsius), minutes, agitation
               how the film was developed";

const GRAIN_HELP: &str = "Examples: twinwedge grain field.tif --dpi 4000 --area '100,100 1100,1100'
          twinwedge grain fields.tif --area '8,8 312,312' --area '328,8 632,312' --base-fog 0.27 --aperture 96";

const STRIP_HELP: &str = "Examples: twinwedge strip tern.tif
          twinwedge strip tern.tif --corners '80,60 2010,64 2008,190 78,186' --steps 21 \
--calibration scanner.ron
          twinwedge strip tern.tif --encoding linear

A calibration file is RON; paths in it are relative to it, and the tablet may also be \"nominal 21\":
  (scan: \"tablet.tif\", tablet: \"tablet.csv\", corners: ((80, 60), (2010, 64), (2008, 190), (78, 186)))";

const DETAIL_HELP: &str = "Example: twinwedge detail tern-print.tif plover-print.tif --third dunlin-print.tif \
--dpi 600 --enlargement 6.5 --area '200,200 1800,1400'";

const PATCHES_HELP: &str = "Example: twinwedge patches tern.tif plover.tif --layout target.ron

A layout file is RON, corners in the first print's pixels, patches row by row:
  (rows: 1, columns: 3, corners: ((100, 100), (400, 100), (400, 200), (100, 200)),
   patches: [\"white\", \"grey card\", \"shadow\"])";

/// Does what a verb says.
pub(crate) fn run(verb: Verb) -> ExitCode {
    let done = match verb {
        Verb::Report(arguments) => series::report(&arguments),
        Verb::Graph(arguments) => series::graph(&arguments),
        Verb::Figures(arguments) => series::figures(&arguments),
        Verb::Tones(arguments) => series::tones(&arguments),
        Verb::Check(arguments) => series::check(&arguments),
        Verb::Development(arguments) => series::development(&arguments),
        Verb::Gather(arguments) => series::gather(&arguments),
        Verb::Curve(arguments) => measure::curve(&arguments),
        Verb::Strip(arguments) => measure::strip(&arguments),
        Verb::Calibrate(arguments) => calibrate::calibrate(&arguments),
        Verb::Scan(arguments) => scan::scan(&arguments),
        Verb::Patches(arguments) => measure::patches(&arguments),
        Verb::Layout(arguments) => series::layout(&arguments),
        Verb::Register(arguments) => measure::register(&arguments),
        Verb::Detail(arguments) => detail::detail(&arguments),
        Verb::Grain(arguments) => measure::grain(&arguments),
        Verb::Spectrum(arguments) => spectrum::spectrum(&arguments),
        Verb::Edge(arguments) => edge::edge(&arguments),
    };
    match done {
        Ok(problems) => {
            for problem in &problems {
                tell(format_args!("{}: {problem}", word(problem.severity)));
            }
            let doubtful = problems.iter().any(|problem| problem.severity != Severity::Note);
            ExitCode::from(code(if doubtful { DOUBTS } else { FINE }))
        }
        Err(problem) => {
            tell(format_args!("{}: {problem}", word(problem.severity)));
            ExitCode::from(COULD_NOT)
        }
    }
}

/// What a verb that finished has to tell beside its result.
type Done = Result<Vec<Problem>, Problem>;

fn word(severity: Severity) -> &'static str {
    match severity {
        Severity::Note => "note",
        Severity::Doubt => "doubt",
        Severity::Error => "error",
    }
}

/// A number as an option takes it: within the range of what it stands for.
fn within(range: &'static Range) -> impl Fn(&str) -> Result<f64, String> + Clone + Send + Sync + 'static {
    |text| range.parse(text)
}

/// Prints a result.
fn print_json(value: &serde_json::Value) {
    say(export::json_text(value));
}
