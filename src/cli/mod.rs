//! The verbs: the same work as in the window, without one. Results go to stdout, progress to stderr.

mod answer;
mod bench;
mod calibrate;
mod curve;
mod detail;
mod edge;
mod encoding;
mod files;
mod folder;
mod grain;
mod greys;
mod help;
mod manual;
mod output;
mod prints;
mod reading;
mod scan;
mod series;
mod spectrum;
mod strip;
mod words;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use twinwedge_workbench::core::document::ranges::Range;
use twinwedge_workbench::core::problem::{Problem, Severity};
use twinwedge_workbench::core::words::Sentence;
use twinwedge_workbench::export;
use twinwedge_workbench::store::{self, Sort, Source, Writing};

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
    /// it a folder with a page for each; on paper it is one document. With --depth sheet it is one sheet a film.
    #[command(after_help = help::REPORT)]
    Report(series::ReportArguments),
    /// Write slides of each film for a talk: its verdict, curves, prints, grain and what it costs, each a picture.
    #[command(after_help = help::SLIDES)]
    Slides(series::SlidesArguments),
    /// Write a graph sheet at true scale as PDF: blank, or with a film's curve and its data.
    ///
    /// Log H and density are on one scale.
    #[command(after_help = "Examples: twinwedge graph --out blank.pdf
          twinwedge graph sample --film 'Plover 640' --scale 40 --out plover-graph.pdf")]
    Graph(series::GraphArguments),
    /// Print all measured figures of a series as JSON; an undefined figure is null with its reason.
    #[command(after_help = help::FIGURES)]
    Figures(series::SeriesArguments),
    /// Zones of both films rated alike, and what of them prints: as a table, or all of it as JSON.
    ///
    /// Density above base+fog and separation zone by zone at one exposure index. With --json also the subject laid on the
    /// films, the paper's figures, and which negative densities print blank or black.
    #[command(after_help = help::TONES)]
    Tones(series::TonesArguments),
    /// What can be said of all films of a series together: which is the fastest, the finest, the sharpest, and the place of each.
    ///
    /// Places hold for all films at once: of many films some two always differ by chance. Films that are not distinguishable share
    /// their places.
    #[command(after_help = help::CONCLUSIONS)]
    Conclusions(series::CheckArguments),
    /// Say what is missing or doubtful in a series.
    #[command(after_help = help::CHECK)]
    Check(series::CheckArguments),
    /// How a film answers to development time and temperature, and the time for the reference's contrast.
    #[command(after_help = help::DEVELOPMENT)]
    Development(series::DevelopmentArguments),
    /// Make a series from a folder of scans and tables, or from a CSV that says what each file is.
    ///
    /// Of a folder it prints what each file is taken for, and on stderr what is doubtful about that; doubtful files are taken
    /// as printed. A CSV in the folder with the columns of a list goes before what is told from the files.
    #[command(after_help = help::GATHER)]
    Gather(series::GatherArguments),
    /// Readings of a step tablet, or a scan of it, to the figures of their characteristic curve, as JSON.
    #[command(after_help = help::CURVE)]
    Curve(curve::CurveArguments),
    /// A scan of a step strip to the densities of its steps, as JSON; on request as CGATS text too.
    #[command(after_help = help::STRIP)]
    Strip(strip::StripArguments),
    /// A scan of a tablet of known densities to a calibration, with its residuals, as JSON; on request as a file.
    ///
    /// The tablet is found in the scan. The file is what --calibration of other verbs takes.
    #[command(after_help = help::CALIBRATE)]
    Calibrate(calibrate::CalibrateArguments),
    /// What a scan file says of itself, and what its pixels say of it: clipped, sharpened, denoised ..., as JSON.
    #[command(after_help = help::SCAN)]
    Scan(scan::ScanArguments),
    /// Two prints to their transform and the densities of a patch layout, as JSON.
    #[command(after_help = help::PATCHES)]
    Patches(prints::PatchesArguments),
    /// Save a series' patch layout to a file of its own, or take one in.
    #[command(after_help = help::LAYOUT)]
    Layout(series::LayoutArguments),
    /// Two prints to the map between them, with its uncertainty and doubts, as JSON.
    #[command(after_help = help::REGISTER)]
    Register(prints::RegisterArguments),
    /// Two prints of one scene to the detail that both carry, by spatial frequency and place, as JSON.
    ///
    /// A third film's print, or a uniform area on both, tells grain from blur.
    #[command(after_help = help::DETAIL)]
    Detail(detail::DetailArguments),
    /// A scan of uniform areas to their RMS granularity, through several apertures and over density, as JSON.
    #[command(after_help = help::GRAIN)]
    Grain(grain::GrainArguments),
    /// A scan of a uniform area to its noise power spectrum, and how its grain is seen in a print, as JSON; beside another
    /// film's field on request.
    #[command(after_help = help::SPECTRUM)]
    Spectrum(spectrum::SpectrumArguments),
    /// Densities of patches to the exposures that the film received, in stops from the grey card, as JSON; of two prints beside
    /// each other where the table has both.
    ///
    /// The neutral patches, whose densities on the target are known, give the print's own curve. Without four of them densities
    /// are not corrected for contrast, and tell nothing of colours.
    #[command(after_help = help::GREYS)]
    Greys(greys::GreysArguments),
    /// Patches of known reflectance to the light that the film takes its exposure from, as JSON.
    #[command(after_help = help::SENSITIVITY)]
    Sensitivity(greys::SensitivityArguments),
    /// A film's sensitivity and a light to the factors of filters, as JSON.
    #[command(after_help = help::FILTERS)]
    Filters(greys::FiltersArguments),
    /// A scan of a slanted edge to its modulation transfer function and overshoot, as JSON.
    #[command(after_help = help::EDGE)]
    Edge(edge::EdgeArguments),
    /// Write the manual pages of all verbs and the completions for bash, zsh and fish to a folder.
    #[command(after_help = "Example: twinwedge manual --out manual && man manual/twinwedge-curve.1")]
    Manual(manual::ManualArguments),
    /// Print the form of the JSON of all verbs, as JSON Schema.
    #[command(after_help = help::SCHEMA)]
    Schema,
}

/// Does what a verb says.
pub(crate) fn run(verb: Verb) -> ExitCode {
    let name = verb.name();
    let done = match verb {
        Verb::Report(arguments) => series::report(&arguments),
        Verb::Slides(arguments) => series::slides(&arguments),
        Verb::Graph(arguments) => series::graph(&arguments),
        Verb::Figures(arguments) => series::figures(&arguments),
        Verb::Tones(arguments) => series::tones(&arguments),
        Verb::Conclusions(arguments) => series::conclusions(&arguments),
        Verb::Check(arguments) => series::check(&arguments),
        Verb::Development(arguments) => series::development(&arguments),
        Verb::Gather(arguments) => series::gather(&arguments),
        Verb::Curve(arguments) => curve::curve(&arguments),
        Verb::Strip(arguments) => strip::strip(&arguments),
        Verb::Calibrate(arguments) => calibrate::calibrate(&arguments),
        Verb::Scan(arguments) => scan::scan(&arguments),
        Verb::Patches(arguments) => prints::patches(&arguments),
        Verb::Layout(arguments) => series::layout(&arguments),
        Verb::Register(arguments) => prints::register(&arguments),
        Verb::Detail(arguments) => detail::detail(&arguments),
        Verb::Grain(arguments) => grain::grain(&arguments),
        Verb::Spectrum(arguments) => spectrum::spectrum(&arguments),
        Verb::Greys(arguments) => greys::greys(&arguments),
        Verb::Sensitivity(arguments) => greys::film_sensitivity(&arguments),
        Verb::Filters(arguments) => greys::filters(&arguments),
        Verb::Edge(arguments) => edge::edge(&arguments),
        Verb::Manual(arguments) => manual::manual(&arguments),
        Verb::Schema => schema(),
    };
    match done {
        Ok(problems) => {
            let doubtful = answer::doubtful(&problems);
            for problem in problems {
                let problem = words::in_words_of(name, problem);
                tell(format_args!("{}: {problem}", word(problem.severity)));
            }
            ExitCode::from(code(if doubtful { DOUBTS } else { FINE }))
        }
        Err(problem) => {
            let problem = words::in_words_of(name, problem);
            tell(format_args!("{}: {problem}", word(problem.severity)));
            ExitCode::from(COULD_NOT)
        }
    }
}

impl Verb {
    /// Its name on the command line.
    fn name(&self) -> &'static str {
        match self {
            Self::Report(_) => "report",
            Self::Slides(_) => "slides",
            Self::Graph(_) => "graph",
            Self::Figures(_) => "figures",
            Self::Tones(_) => "tones",
            Self::Conclusions(_) => "conclusions",
            Self::Check(_) => "check",
            Self::Development(_) => "development",
            Self::Gather(_) => "gather",
            Self::Curve(_) => "curve",
            Self::Strip(_) => "strip",
            Self::Calibrate(_) => "calibrate",
            Self::Scan(_) => "scan",
            Self::Patches(_) => "patches",
            Self::Layout(_) => "layout",
            Self::Register(_) => "register",
            Self::Detail(_) => "detail",
            Self::Grain(_) => "grain",
            Self::Spectrum(_) => "spectrum",
            Self::Edge(_) => "edge",
            Self::Greys(_) => "greys",
            Self::Sensitivity(_) => "sensitivity",
            Self::Filters(_) => "filters",
            Self::Manual(_) => "manual",
            Self::Schema => "schema",
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
fn within(range: &'static Range) -> impl Fn(&str) -> Result<f64, Sentence> + Clone + Send + Sync + 'static {
    |text| range.parse(text)
}

/// Prints what a verb answers, with its head.
fn print_json(verb: &str, body: serde_json::Value) {
    say(export::json_text(&export::document(verb, body)));
}

/// Prints the schema of all answers.
fn schema() -> Done {
    say(export::SCHEMA.trim_end());
    Ok(Vec::new())
}

/// Densities as CGATS text. An older file of that kind is replaced.
static CGATS: Sort =
    Sort { words: "densities as CGATS text", is: |head| head.starts_with(b"CGATS.17"), derived: true };

/// Writes densities as CGATS text; never over `read`.
fn cgats(out: &Path, force: bool, text: &str, read: &[&Path]) -> Result<(), Problem> {
    let source = |path: &&Path| Source { path: path.to_path_buf(), what: "the scan that is read".to_owned() };
    let sources: Vec<Source> = read.iter().map(source).collect();
    let writing = Writing { sort: &CGATS, sources: &sources, replace: output::replace(force) };
    output::written(out, force, || store::write_file(out, text.as_bytes(), writing))
}
