//! Strips that are found in scans by themselves: in files that are taken in, and for what a page shows.

use std::path::Path;

use twinwedge_core::document::{Channel, Series, TabletId};
use twinwedge_core::found::Found;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::{Scan, ToneTable};
use twinwedge_core::tablet::find::{FoundStrip, Order, Wanted, find_strip};

use crate::load;

/// The strip that is seen in a scan. It is looked for by the file's own tone curve and not by a calibration, which may be made
/// from this very scan.
///
/// # Errors
/// No strip is seen, or `stop` said so.
pub fn strip_of(
    scan: &Scan,
    channel: Channel,
    wanted: &Wanted,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Found<FoundStrip>, Problem> {
    find_strip(scan.plane(channel), &ToneTable::uncalibrated(scan), wanted, stop)
}

/// The strip that is seen in a scan file.
///
/// # Errors
/// The file cannot be read, no strip is seen in it, or `stop` said so.
pub fn strip_in(
    path: &Path,
    channel: Channel,
    wanted: &Wanted,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Found<FoundStrip>, Problem> {
    let scan = load::scan(path, load::Limits::default(), &|_| !stop())?;
    strip_of(&scan, channel, wanted, stop).map_err(|problem| {
        let path = path.display().to_string();
        problem.about(Subject::File { path, place: None })
    })
}

/// What to look for when a strip is taken in: as many steps as its tablet has, or as the only tablet of the series.
#[must_use]
pub fn wanted(series: &Series, tablet: Option<&TabletId>, order: Order) -> Wanted {
    let only = || Some(series.tablets.values().next()?).filter(|_| series.tablets.len() == 1);
    let known = tablet.and_then(|id| series.tablets.get(id)).or_else(only);
    Wanted { steps: known.and_then(|tablet| u32::try_from(tablet.steps.len()).ok()), order }
}
