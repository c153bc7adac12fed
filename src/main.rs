//! The program `twinwedge`: a window, or with a verb the same work without one.

mod cli;
mod ending;
mod terminal;

use std::path::Path;
use std::process::ExitCode;

use clap::Parser;
use ending::{COULD_NOT, Work};
use terminal::{tell, written};
#[cfg(feature = "window")]
use twinwedge_workbench::sample::{self, Sample};
#[cfg(feature = "window")]
use twinwedge_workbench::session::Session;

fn main() -> ExitCode {
    let arguments = match cli::Arguments::try_parse() {
        Ok(arguments) => arguments,
        // Help and version are what was asked for; complaints about the arguments are said beside it.
        Err(told) if told.use_stderr() => {
            tell(told.render().to_string().trim_end());
            return ExitCode::from(COULD_NOT);
        }
        Err(told) => {
            written(told.print());
            return ExitCode::from(ending::FINE);
        }
    };
    match arguments.verb {
        Some(verb) => {
            ending::prepare(Work::Verb);
            ending::guarded(|| cli::run(verb))
        }
        None => window(arguments.series.as_deref()),
    }
}

/// Opens the window on a series; without one, on the last one that still opens, or the sample.
#[cfg(feature = "window")]
fn window(series: Option<&Path>) -> ExitCode {
    ending::prepare(Work::Window);
    let session = match series {
        Some(path) => Session::open(path),
        None => match twinwedge_desktop::last_series().and_then(|path| Session::open(&path).ok()) {
            Some(session) => Ok(session),
            None => sample::lay_out(Sample::Three).and_then(|path| Session::open(&path)),
        },
    };
    let session = match session {
        Ok(session) => session,
        Err(problem) => {
            tell(format_args!("error: {problem}"));
            return ExitCode::from(COULD_NOT);
        }
    };
    match twinwedge_desktop::run(session) {
        Ok(()) => ExitCode::from(ending::code(ending::FINE)),
        Err(why) => {
            tell(why);
            tell("Without a window: 'twinwedge report sample --out report.html' does the same work.");
            ExitCode::from(COULD_NOT)
        }
    }
}

/// This build has no window.
#[cfg(not(feature = "window"))]
fn window(_series: Option<&Path>) -> ExitCode {
    tell("This build has no window; 'twinwedge --help' lists what it does without one.");
    ExitCode::from(COULD_NOT)
}
