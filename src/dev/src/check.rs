//! `cargo dev test` and `cargo dev check`: what a change must pass, one step after the other.

use std::ffi::OsStr;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::{Failure, say};

/// What all steps that build have in common: one choice of packages and features, so that what one of them built serves the next.
/// The unit is the whole workspace with everything that measures.
const MEASURING: &str = "twinwedge-dev/measuring";

/// A step: what it is called, its arguments to cargo.
type Step = (&'static str, &'static [&'static str]);

/// What must hold on any machine. The compiler that builds for these steps is `.ci/lint`: each file is compiled once, and linted in
/// the same go.
const TESTS: [Step; 4] = [
    ("formatting", &["fmt", "--all", "--check"]),
    ("lints and tests", &["test", "--workspace", "--all-targets", "--features", MEASURING]),
    (
        "lints without a window",
        &[
            "test",
            "--workspace",
            "--bin",
            "twinwedge",
            "--no-run",
            "--no-default-features",
            "--features",
            MEASURING,
        ],
    ),
    ("examples in the documentation", &["test", "--workspace", "--doc", "--features", MEASURING]),
];

const DOCUMENTATION: Step = ("documentation", &["doc", "--workspace", "--no-deps", "--features", MEASURING]);

/// Formatting, lints and all tests in `top`; stops at the first that fails.
///
/// # Errors
/// The step that failed.
pub(crate) fn test(top: &Path) -> Result<(), Failure> {
    for (name, arguments) in TESTS {
        step(top, name, arguments, Some(&top.join(".ci/lint")))?;
    }
    say(format_args!("all tests passed"));
    Ok(())
}

/// The tests, and what needs longer or more tools: the documentation, and licences and advisories where `cargo deny` is
/// installed; where it is not, they are said to be unchecked.
///
/// # Errors
/// The step that failed.
pub(crate) fn run(top: &Path) -> Result<(), Failure> {
    test(top)?;
    step(top, DOCUMENTATION.0, DOCUMENTATION.1, None)?;
    if succeeds(Command::new(cargo()).args(["deny", "--version"])) {
        // The dependencies of all platforms are looked at, also those that were never needed on this machine.
        let here = ["metadata", "--offline", "--all-features", "--format-version", "1"];
        if succeeds(Command::new(cargo()).args(here).current_dir(top)) {
            let checked = ["deny", "--offline", "check", "licenses", "bans", "sources"];
            step(top, "licences and sources", &checked, None)?;
        } else {
            step(top, "licences and sources", &["deny", "check", "licenses", "bans", "sources"], None)?;
        }
        if has_advisories() {
            step(top, "advisories", &["deny", "--offline", "check", "advisories"], None)?;
        } else {
            say(format_args!("advisories: not checked; `cargo deny fetch` gets their database"));
        }
    } else {
        say(format_args!(
            "licences and advisories: not checked; `cargo install cargo-deny` has them checked"
        ));
    }
    say(format_args!("all checks passed"));
    Ok(())
}

/// Whether a copy of the advisory database is on this machine.
fn has_advisories() -> bool {
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home.or_else(|| std::env::home_dir().map(|home| home.join(".cargo")));
    let databases = home.and_then(|home| std::fs::read_dir(home.join("advisory-dbs")).ok());
    databases.is_some_and(|databases| {
        databases.flatten().any(|entry| entry.file_name().to_string_lossy().starts_with("advisory-db-"))
    })
}

fn cargo() -> impl AsRef<OsStr> {
    std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into())
}

fn step(top: &Path, name: &str, arguments: &[&str], compiler: Option<&Path>) -> Result<(), Failure> {
    say(format_args!("== {name}: cargo {}", arguments.join(" ")));
    std::io::stdout().flush()?;
    let mut command = Command::new(cargo());
    command.args(arguments).current_dir(top).env("RUSTDOCFLAGS", "-D warnings");
    // Some tests wait for windows, browsers and other processes: others work meanwhile.
    if std::env::var_os("RUST_TEST_THREADS").is_none() {
        let processors = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        command.env("RUST_TEST_THREADS", (2 * processors).to_string());
    }
    if let Some(compiler) = compiler {
        command.env("RUSTC_WORKSPACE_WRAPPER", compiler);
    }
    if command.status()?.success() { Ok(()) } else { Err(format!("{name} failed").into()) }
}

fn succeeds(command: &mut Command) -> bool {
    command.output().is_ok_and(|output| output.status.success())
}
