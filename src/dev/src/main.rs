//! The builder's own command: `cargo dev check | sample | bench | study | fuzz`.

mod bench;
mod check;
mod fuzz;
mod sample;
mod study;
mod tiff;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

const HELP: &str = "\
cargo dev check    everything that a change must pass
cargo dev sample   write sample-projects/saltmarsh again
cargo dev bench    measure speed and memory beside other libraries, in a release build
cargo dev study    how often stated intervals hold the truth: [--series N] [--seed S] [--by base-fog],
                   and how often findings are true: [--claims PAIRS]
cargo dev fuzz     search for inputs that do harm: MINUTES [TARGET], in a build of its own
";

/// A failure, told as it is.
type Failure = Box<dyn std::error::Error + Send + Sync>;

/// The top of the repository.
fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// One line on the standard output.
fn say(line: std::fmt::Arguments<'_>) {
    // A closed pipe ends the listening, not the work.
    let _ = writeln!(std::io::stdout(), "{line}");
}

/// Runs the study of intervals and prints its table.
fn study(options: &[&str]) -> Result<(), Failure> {
    let (mut series, mut seed, mut by) = (1_000, 1, study::By::Nothing);
    for option in options.chunks(2) {
        match option {
            ["--series", number] => series = number.parse()?,
            ["--seed", number] => seed = number.parse()?,
            ["--by", "base-fog"] => by = study::By::BaseFog,
            ["--claims", pairs] => {
                say(format_args!("{}", study::claims::of_curves(pairs.parse()?, seed)?.table()));
                return Ok(());
            }
            _ => return Err(HELP.into()),
        }
    }
    let tally = study::run(series, seed)?;
    say(format_args!("{}", tally.table(by)));
    let lines = study::widths::run(&tally, series, seed)?;
    say(format_args!("{}", study::widths::table(&lines)));
    let missed = tally.promised().iter().filter(|verdict| !verdict.passes()).count();
    if missed == 0 { Ok(()) } else { Err(format!("{missed} promised figures miss 93 to 97 %").into()) }
}

fn fuzz(minutes: &str, target: Option<&str>) -> Result<(), Failure> {
    fuzz::run(&top(), minutes.parse().map_err(|_| HELP)?, target)
}

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        ["check"] => check::run(&top()),
        ["sample"] => sample::write(&top().join("sample-projects/saltmarsh")),
        ["bench"] => bench::run(&top()),
        // One workload in a process of its own, for its peak memory; the benchmark starts it.
        ["bench", workload, folder] => bench::ours::run(workload, Path::new(folder)),
        ["study", options @ ..] => study(options),
        ["fuzz", minutes] => fuzz(minutes, None),
        ["fuzz", minutes, target] => fuzz(minutes, Some(target)),
        _ => Err(HELP.into()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            // Where even this cannot be written there is nobody to tell.
            let _ = writeln!(std::io::stderr(), "{failure}");
            ExitCode::FAILURE
        }
    }
}
