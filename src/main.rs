//! The program `twinwedge`: a window, or with a verb the same work without one.

mod cli;

use std::path::Path;
use std::process::ExitCode;

#[cfg(feature = "window")]
use twinwedge_workbench::{sample, session::Session};

fn main() -> ExitCode {
    let arguments = cli::arguments();
    match arguments.verb {
        Some(verb) => cli::run(verb),
        None => window(arguments.series.as_deref()),
    }
}

/// Opens the window on a series; without one, on the last one that still opens, or the sample.
#[cfg(feature = "window")]
fn window(series: Option<&Path>) -> ExitCode {
    let session = match series {
        Some(path) => Session::open(path),
        None => match twinwedge_desktop::last_series().and_then(|path| Session::open(&path).ok()) {
            Some(session) => Ok(session),
            None => sample::lay_out().and_then(|path| Session::open(&path)),
        },
    };
    let session = match session {
        Ok(session) => session,
        Err(problem) => {
            cli::tell(format_args!("error: {problem}"));
            return ExitCode::from(cli::COULD_NOT);
        }
    };
    match twinwedge_desktop::run(session) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            cli::tell(why);
            cli::tell("Without a window: 'twinwedge report sample --out report.html' does the same work.");
            ExitCode::from(cli::COULD_NOT)
        }
    }
}

/// This build has no window.
#[cfg(not(feature = "window"))]
fn window(_series: Option<&Path>) -> ExitCode {
    cli::tell("This build has no window; 'twinwedge --help' lists what it does without one.");
    ExitCode::from(cli::COULD_NOT)
}
