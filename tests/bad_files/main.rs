//! Files that are damaged, of the wrong kind or beyond the limits: each gives one clear problem and no panic. And sound
//! files, so that the same readers are seen to read.
#![allow(clippy::print_stdout, reason = "tables of what was tried are printed")]
#![allow(clippy::unwrap_used, reason = "what a test prepares itself is there")]

mod damage;
mod demand;
mod escaped;
mod habits;
mod large;
mod leaves;
mod lists;
mod make;
mod messages;
mod scans;
mod series;
#[path = "../shared/mod.rs"]
#[allow(dead_code, reason = "shared by several test crates, of which none needs all of it")]
mod shared;
mod sound;
mod tables;
mod values;
mod waiting;

use std::path::Path;

use twinwedge_core::problem::{Problem, Severity, Subject};

/// Counts what is asked for, whatever gives it.
#[global_allocator]
static PEAK: peak_alloc::PeakAlloc = peak_alloc::PeakAlloc;

/// Asserts that a problem is an error about that file, with these words in its cause and something to do about it.
fn clear(problem: &Problem, path: &Path, words: &[&str]) {
    let name = path.display().to_string();
    assert_eq!(problem.severity, Severity::Error, "{name}");
    match &problem.subject {
        Subject::File { path, .. } => assert_eq!(path, &name, "the subject names the file"),
        other => panic!("{name}: about {other:?}"),
    }
    for word in words {
        assert!(problem.to_string().contains(word), "{name}: '{word}' is not in: {problem}");
    }
    assert!(
        problem.cause.to_string().ends_with('.') && problem.cause.to_string().len() > 15,
        "a sentence: {problem}"
    );
    assert!(
        problem.remedy.to_string().ends_with('.') && problem.remedy.to_string().len() > 10,
        "something to do: {problem}"
    );
}
