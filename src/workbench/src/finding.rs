//! Strips that are found in scans by themselves: in files that are taken in, and for what a page shows.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;
use twinwedge_core::document::{Channel, Series, TabletId};
use twinwedge_core::found::Found;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::{Scan, ToneTable};
use twinwedge_core::tablet::find::{FoundStrip, Order, Wanted, find_strip};

use crate::load;

/// Scans of more pixels are read one after another, so that no two of them are in memory.
const LARGE: u64 = 40_000_000;

/// A strip that is looked for in a file.
#[derive(Debug, Clone)]
pub(crate) struct Sought {
    /// The file of the scan.
    pub(crate) path: PathBuf,
    /// Where it is measured.
    pub(crate) channel: Channel,
    /// What is looked for.
    pub(crate) wanted: Wanted,
}

/// The strip of a file, or why none is seen.
pub(crate) type Seen = Result<Found<FoundStrip>, Problem>;

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
    let scan = load::scan(path, load::Limits::of_machine(None), &|_| !stop())?;
    strip_of(&scan, channel, wanted, stop).map_err(|problem| {
        let path = path.display().to_string();
        problem.about(Subject::File { path, place: None })
    })
}

/// The strips that are seen in files, in their order. `go_on` is told how many files are done, from several threads; `None` if
/// it said no.
pub(crate) fn strips_in(sought: &[Sought], go_on: &(dyn Fn(usize) -> bool + Sync)) -> Option<Vec<Seen>> {
    let paths: Vec<&Path> = sought.iter().map(|sought| sought.path.as_path()).collect();
    let look = |index: usize, stop: &(dyn Fn() -> bool + Sync)| {
        let Sought { path, channel, wanted } = &sought[index];
        strip_in(path, *channel, wanted, stop)
    };
    of_each(&paths, &look, go_on)
}

/// What `look` makes of each of some scan files, in their order; it is given the number of the file and asked to stop where
/// `go_on` says no. `go_on` is told how many files are done, from several threads; `None` if it said no.
pub(crate) fn of_each<T: Send>(
    paths: &[&Path],
    look: &(dyn Fn(usize, &(dyn Fn() -> bool + Sync)) -> T + Sync),
    go_on: &(dyn Fn(usize) -> bool + Sync),
) -> Option<Vec<T>> {
    let done = AtomicUsize::new(0);
    let asked = || go_on(done.load(Ordering::Relaxed));
    let look = |index: usize| {
        let seen = look(index, &|| !asked());
        done.fetch_add(1, Ordering::Relaxed);
        asked().then_some((index, seen))
    };
    let pixels =
        |path: &Path| load::size(path).map_or(0, |(width, height)| u64::from(width) * u64::from(height));
    let (large, small): (Vec<usize>, Vec<usize>) =
        (0..paths.len()).partition(|index| pixels(paths[*index]) > LARGE);
    let mut seen: Vec<(usize, T)> = small.into_par_iter().map(look).collect::<Option<_>>()?;
    for index in large {
        seen.push(look(index)?);
    }
    seen.sort_by_key(|(index, _)| *index);
    Some(seen.into_iter().map(|(_, seen)| seen).collect())
}

/// What to look for when a strip is taken in: as many steps as its tablet has, or as the only tablet of the series.
#[must_use]
pub fn wanted(series: &Series, tablet: Option<&TabletId>, order: Order) -> Wanted {
    let only = || Some(series.tablets.values().next()?).filter(|_| series.tablets.len() == 1);
    let known = tablet.and_then(|id| series.tablets.get(id)).or_else(only);
    Wanted { steps: known.and_then(|tablet| u32::try_from(tablet.steps.len()).ok()), order }
}
