//! The builder's own command: `cargo dev check | sample | bench`.

mod sample;
mod tiff;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

const HELP: &str = "cargo dev sample   write sample-projects/saltmarsh again\n";

/// The top of the repository.
fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn main() -> ExitCode {
    let word = std::env::args().nth(1).unwrap_or_default();
    let done = match word.as_str() {
        "sample" => sample::write(&top().join("sample-projects/saltmarsh")),
        _ => Err(HELP.into()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            // Where even this cannot be written there is nobody to tell.
            let _ = write!(std::io::stderr(), "{failure}");
            ExitCode::FAILURE
        }
    }
}
