//! What a scan file says of itself, and what its pixels say of it.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::json;
use twinwedge_workbench::core::document::ScanKind;
use twinwedge_workbench::engine::ask::{ExaminedOf, ScanOf};
use twinwedge_workbench::export;

use super::measure::Bench;
use super::{Done, print_json};

/// A scan file to what is known of it.
#[derive(Debug, Args)]
pub(crate) struct ScanArguments {
    /// The scan.
    scan: PathBuf,
    /// A calibration file of the scanner (see 'twinwedge strip --help'): tells its noise, and whether settings differ.
    #[arg(long)]
    calibration: Option<PathBuf>,
    /// What it shows.
    #[arg(long, value_enum, default_value_t = Seen::Film)]
    seen: Seen,
}

/// What a scan shows.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum Seen {
    /// Film, seen through.
    Film,
    /// A print, by reflection.
    Print,
}

/// A scan file to what is known of it.
pub(crate) fn scan(arguments: &ScanArguments) -> Done {
    let kind = match arguments.seen {
        Seen::Film => ScanKind::Film,
        Seen::Print => ScanKind::Print,
    };
    let mut bench = Bench::new();
    let id = bench.scan(&arguments.scan, kind, None, arguments.calibration.as_deref())?;
    let session = bench.session();
    let scan = session.wait(&ScanOf { scan: id.clone() })?;
    let examined = session.wait(&ExaminedOf { scan: id.clone() })?;
    print_json(&json!({
        "scan": arguments.scan.display().to_string(),
        "file": export::scan_json(&scan),
        "examination": export::examined_json(&examined),
    }));
    Ok(session.problems_of_scan(&id))
}
