//! What a scan file says of itself, and what its pixels say of it.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use twinwedge_workbench::core::document::ranges::{self, DENSITY, DENSITY_U};
use twinwedge_workbench::core::document::{FlatSource, KnownPatch};
use twinwedge_workbench::core::geometry::Rect;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::core::shown::Shown;
use twinwedge_workbench::core::words::Sentence;
use twinwedge_workbench::engine::ask::{DriftOf, ExaminedOf, FlatOf, ScanOf};
use twinwedge_workbench::{export, typed};

use super::answer::Answer;
use super::bench::{Bench, usage};
use super::encoding;
use super::reading::{ScanReading, Seen};
use super::{Done, within};

/// A scan file to what is known of it.
#[derive(Debug, Args)]
pub(crate) struct ScanArguments {
    /// The scan that is looked at.
    scan: PathBuf,
    #[command(flatten)]
    reading: ScanReading,
    /// A blank scan of the same frame: measures the falloff of light.
    #[arg(long, conflicts_with = "border")]
    blank_scan: Option<PathBuf>,
    /// The paper's white, so many pixels wide along the four sides of the scan: measures the falloff of light.
    #[arg(long, value_parser = within(&ranges::BORDER))]
    border: Option<f64>,
    /// A place of known density: 'x,y x,y DENSITY' or 'x,y x,y DENSITY U'; tells drift.
    #[arg(long)]
    known: Option<String>,
    /// What the scan shows.
    #[arg(long, value_enum, default_value_t)]
    seen: Seen,
}

/// A scan file to what is known of it.
pub(crate) fn scan(arguments: &ScanArguments) -> Done {
    let kind = arguments.seen.into();
    let mut bench = Bench::new(&arguments.reading);
    let id = bench.scan(&arguments.scan, kind)?;
    let flat = match (&arguments.blank_scan, arguments.border) {
        (Some(blank), _) => FlatSource::Blank(bench.bare_scan(blank, kind)?),
        (None, Some(width)) => FlatSource::Border(width),
        (None, None) => FlatSource::Nothing,
    };
    let known = arguments.known.as_deref().map(known_patch).transpose()?;
    bench.entry(&id, |entry| (entry.flat, entry.known) = (flat.clone(), known));
    let mut session = bench.session();
    let falloff = match flat {
        FlatSource::Nothing => None,
        FlatSource::Blank(_) | FlatSource::Border(_) => Some(session.wait(&FlatOf { scan: id.clone() })?),
    };
    let drift = known.map(|_| session.wait(&DriftOf { scan: id.clone() })).transpose()?;
    let scan = session.wait(&ScanOf { scan: id.clone() })?;
    let examined = session.wait(&ExaminedOf { scan: id.clone() })?;
    let mut body = json!({
        "scan": arguments.scan.display().to_string(),
        "file": export::scan_json(&scan),
        "examination": export::examined_json(&examined),
        "falloff": falloff.as_deref().map(export::flat_json),
        "drift": drift.as_deref().map(export::drift_json),
    });
    let mut problems = session.problems_of_scan(&id);
    let guessed = encoding::tell_of(&mut body, &mut session, &[id], None)?;
    if arguments.known.is_some() || arguments.blank_scan.is_some() || arguments.border.is_some() {
        problems.extend(guessed);
    }
    Answer::about("scan", &arguments.scan).tell(body, problems)
}

/// 'x,y x,y DENSITY' or 'x,y x,y DENSITY U'.
fn known_patch(text: &str) -> Result<KnownPatch, Problem> {
    let wrong = |cause: Sentence| usage("--known", cause, "Write 'x,y x,y DENSITY' or 'x,y x,y DENSITY U'.");
    let words: Vec<&str> = text.split_whitespace().collect();
    let (corners, density, u) = match *words.as_slice() {
        [first, second, density] => ([first, second], density, "0"),
        [first, second, density, u] => ([first, second], density, u),
        _ => return Err(wrong(format!("'{}' is not two corners and a density.", Shown(text)).into())),
    };
    let corners = typed::parse_points(&corners.join(" "), 2).map_err(wrong)?;
    let density = DENSITY.parse(density).map_err(wrong)?;
    let u = DENSITY_U.parse(u).map_err(wrong)?;
    Ok(KnownPatch { area: Rect::between(corners[0], corners[1]), density, u, applied: false })
}
