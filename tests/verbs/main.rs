//! The program without a window, as a person who scripts would use it: files in, JSON and exit codes out. Truths are those
//! of the sample's simulator (`expected.json`), which shares no code with the program, and published check values.

mod chequered;
mod detail;
mod doubts;
mod edges;
#[path = "../simulated/scans/encoded.rs"]
#[expect(dead_code, reason = "shared with the studies, which use more of it")]
mod encoded;
mod encodings;
mod every;
mod examples;
mod files;
mod folder;
mod grain;
mod greys;
mod memory;
mod output;
mod pipes;
mod readings;
mod refusals;
mod rules;
mod scans;
mod schema;
mod series;
#[path = "../shared/mod.rs"]
#[allow(dead_code, reason = "shared by several test crates, of which none needs all of it")]
mod shared;
mod signals;
mod spectrum;
mod strips;
mod tables;

use std::path::PathBuf;
use std::process::{Command, Output};

use serde_json::Value;

/// Runs the program with a data folder of its own.
fn twinwedge(arguments: &[&str]) -> Output {
    let home = tempfile::tempdir().expect("a folder");
    Command::new(env!("CARGO_BIN_EXE_twinwedge"))
        .args(arguments)
        .env("XDG_DATA_HOME", home.path())
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .output()
        .expect("the program runs")
}

/// What it printed, as JSON; panics with what it said if it failed.
fn json(arguments: &[&str]) -> Value {
    let output = twinwedge(arguments);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {said}");
    serde_json::from_slice(&output.stdout).expect("JSON on stdout")
}

/// Exit code, what it printed as JSON (null where that is none), and what it said beside it.
fn answer(arguments: &[&str]) -> (Option<i32>, Value, String) {
    let output = twinwedge(arguments);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code(), serde_json::from_slice(&output.stdout).unwrap_or_default(), said)
}

/// What it printed, where that may be in doubt.
fn doubtful_json(arguments: &[&str]) -> Value {
    let (code, found, said) = answer(arguments);
    assert!(matches!(code, Some(0 | 1)) && !found.is_null(), "{arguments:?}: {said}");
    found
}

/// A file of the sample.
fn sample(file: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-projects/saltmarsh").join(file)
}

/// The truth of the sample.
fn truth() -> Value {
    let text = std::fs::read_to_string(sample("expected.json")).expect("the sample's truth");
    serde_json::from_str(&text).expect("JSON")
}

/// A number.
fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is a number"))
}
