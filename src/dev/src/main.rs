//! The builder's own command: `cargo dev test | check | sample | bench | study | fuzz | package`.

#[cfg(feature = "measuring")]
mod bench;
mod check;
mod fuzz;
#[cfg(feature = "measuring")]
mod measuring;
mod package;
#[cfg(feature = "measuring")]
mod sample;
#[cfg(feature = "measuring")]
mod study;
#[cfg(feature = "measuring")]
mod tiff;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

const HELP: &str = "\
cargo dev test     formatting, lints and all tests
cargo dev check    everything that a change must pass: the tests, documentation, licences
cargo dev sample   write both series of sample-projects again
cargo dev bench    measure speed and memory beside other libraries, in a release build
cargo dev study    how often stated intervals hold the truth: [--series N] [--seed S] [--by base-fog],
                   and how often findings are true: [--claims PAIRS]
cargo dev fuzz     search for inputs that do harm: MINUTES [TARGET], in a build of its own
cargo dev package  a Debian package and an archive of the finished program, in target/package
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

/// Builds this command anew, with all that measures and as fast as the program itself, and has that do the work.
#[cfg(not(feature = "measuring"))]
mod measuring {
    use std::process::Command;

    use super::{Failure, HELP, top};

    pub(crate) fn run(words: &[&str]) -> Result<(), Failure> {
        let features = match words {
            ["bench", ..] => "window",
            ["sample" | "study", ..] => "measuring",
            _ => return Err(HELP.into()),
        };
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
        let status = Command::new(cargo)
            .args(["run", "--quiet", "--release", "--package", "twinwedge-dev", "--features", features, "--"])
            .args(words)
            .current_dir(top())
            .status()?;
        if status.success() { Ok(()) } else { Err(format!("cargo dev {} failed", words.join(" ")).into()) }
    }
}

fn fuzz(minutes: &str, target: Option<&str>) -> Result<(), Failure> {
    fuzz::run(&top(), minutes.parse().map_err(|_| HELP)?, target)
}

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        ["test"] => check::test(&top()),
        ["check"] => check::run(&top()),
        ["fuzz", minutes] => fuzz(minutes, None),
        ["fuzz", minutes, target] => fuzz(minutes, Some(target)),
        ["package"] => package::run(&top()),
        words => measuring::run(words),
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
