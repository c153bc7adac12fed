//! Scans, their smaller copies and their tone tables.

use std::path::{Path, PathBuf};

use serde::{Serialize, Serializer};
use twinwedge_core::document::{Channel, ScanId, Series};
use twinwedge_core::found::Found;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::{Pyramid, Scan, ToneTable};
use twinwedge_core::tablet::find::{FoundStrip, Wanted};

use super::measurable::{Base, Codes, Patch, Stray};
use crate::engine::ask::{
    FoundStripOf, PyramidOf, ScanOf, ScanSettings, ScanSettingsOf, ScanSize, ScanSizeOf, ToneOf,
};
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};
use crate::{finding, load};

/// The name of a scan's file, for the status line and for problems.
pub(in crate::engine) fn file_name(series: &Series, scan: &ScanId) -> String {
    let path = series.scans.get(scan).map(|entry| Path::new(&entry.path));
    path.and_then(Path::file_name).map_or_else(|| scan.0.clone(), |name| name.to_string_lossy().into_owned())
}

/// A file as it was last looked at.
#[derive(Debug, Serialize)]
pub struct File {
    scan: ScanId,
    #[serde(serialize_with = "bytes")]
    path: PathBuf,
    /// Size and time of change.
    stamp: (u64, u128),
    /// Most bytes that it may take decoded, where a person has set that.
    limit: Option<u64>,
}

/// A path by its bytes: not all paths are text.
fn bytes<S: Serializer>(path: &Path, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_bytes(path.as_os_str().as_encoded_bytes())
}

impl Query for ScanOf {
    type Inputs = File;

    fn inputs(&self, view: &View<'_>) -> Result<File, NoAnswer> {
        let path = view.path_of(view.scan_entry(&self.scan)?);
        let stamp = view.stamp(&path)?.ok_or_else(|| missing(&self.scan, &path))?;
        Ok(File { scan: self.scan.clone(), path, stamp, limit: view.scan_limit() })
    }

    fn compute(file: &File, work: &Computation<'_>) -> Result<Scan, NoAnswer> {
        let limits = load::Limits::of_machine(file.limit);
        let read = load::scan(&file.path, limits, &|done| work.progress(done));
        Ok(read.map_err(|problem| of_file(problem, &file.scan))?)
    }
}

impl Query for ScanSizeOf {
    type Inputs = Handle<ScanOf>;

    fn inputs(&self, view: &View<'_>) -> Result<Handle<ScanOf>, NoAnswer> {
        view.handle(ScanOf { scan: self.scan.clone() })
    }

    fn compute(scan: &Handle<ScanOf>, work: &Computation<'_>) -> Result<ScanSize, NoAnswer> {
        let scan = work.get(scan)?;
        Ok(ScanSize {
            width: scan.width,
            height: scan.height,
            bits: if scan.levels() == 256 { 8 } else { 16 },
            dpi: scan.meta.dpi.map(|(across, _)| across),
            grey: scan.channels == 1,
        })
    }
}

impl Query for ScanSettingsOf {
    type Inputs = Handle<ScanOf>;

    fn inputs(&self, view: &View<'_>) -> Result<Handle<ScanOf>, NoAnswer> {
        view.handle(ScanOf { scan: self.scan.clone() })
    }

    fn compute(scan: &Handle<ScanOf>, work: &Computation<'_>) -> Result<ScanSettings, NoAnswer> {
        let scan = work.get(scan)?;
        Ok(ScanSettings { meta: scan.meta.clone(), levels: scan.levels(), channels: scan.channels })
    }
}

/// The problem of a scan whose file is not there.
pub(crate) fn missing(scan: &ScanId, path: &Path) -> Problem {
    Problem::error(
        Subject::Scan(scan.clone()),
        Rule::FileMissing { path: path.display().to_string() },
        Remedy::FindFile,
    )
}

/// A problem of a file as the problem of the scan that it is.
fn of_file(problem: Problem, scan: &ScanId) -> Problem {
    let place = match &problem.subject {
        Subject::File { path, place: Some(place) } => format!("{path}, {place}"),
        Subject::File { path, place: None } => path.clone(),
        _ => String::new(),
    };
    Problem { cause: problem.cause.at(&place), ..problem }.about(Subject::Scan(scan.clone()))
}

impl Query for PyramidOf {
    type Inputs = Codes;

    fn inputs(&self, view: &View<'_>) -> Result<Codes, NoAnswer> {
        Codes::of(view, &self.scan)
    }

    /// Averages light by the file's own tone curve, not by its calibration: calibrating anew touches no pixel.
    fn compute(codes: &Codes, work: &Computation<'_>) -> Result<Pyramid, NoAnswer> {
        let scan = codes.get(work)?;
        let table = ToneTable::uncalibrated(&scan);
        Pyramid::build(&scan, Some(&table.light), &|| work.stop()).ok_or(NoAnswer::Dropped)
    }
}

/// Where a strip is looked for, and what for.
#[derive(Debug, Serialize)]
pub struct Searched {
    scan: ScanId,
    codes: Handle<ScanOf>,
    channel: Channel,
    wanted: Wanted,
}

impl Query for FoundStripOf {
    type Inputs = Searched;

    fn inputs(&self, view: &View<'_>) -> Result<Searched, NoAnswer> {
        let codes = view.handle(ScanOf { scan: self.scan.clone() })?;
        let channel = view.scan_entry(&self.scan)?.channel;
        Ok(Searched { scan: self.scan.clone(), codes, channel, wanted: self.wanted })
    }

    fn compute(searched: &Searched, work: &Computation<'_>) -> Result<Found<FoundStrip>, NoAnswer> {
        let Searched { scan, codes, channel, wanted } = searched;
        let found = finding::strip_of(&*work.get(codes)?, *channel, wanted, &|| work.stop());
        Ok(found.map_err(|problem| problem.about(Subject::Scan(scan.clone())))?)
    }
}

/// What a tone table is made from: that of its calibration, and what is taken out of it.
#[derive(Debug, Serialize)]
pub struct Toned {
    base: Base,
    stray: Option<Stray>,
    patch: Option<Patch>,
}

impl Query for ToneOf {
    type Inputs = Toned;

    fn inputs(&self, view: &View<'_>) -> Result<Toned, NoAnswer> {
        let entry = view.scan_entry(&self.scan)?;
        let base = Base::of(view, &self.scan)?;
        let stray = if entry.flare_corrected { Stray::of(view, &self.scan)? } else { None };
        let applied = entry.known.filter(|known| known.applied);
        let patch = applied.map(|known| Patch::of(view, &self.scan, known)).transpose()?;
        Ok(Toned { base, stray, patch })
    }

    fn compute(toned: &Toned, work: &Computation<'_>) -> Result<ToneTable, NoAnswer> {
        let mut table = toned.base.table(work)?;
        if let Some(stray) = &toned.stray
            && let Some((light, u)) = stray.light(work, &table)?
        {
            table = table.without_stray(light, u);
        }
        if let Some(patch) = &toned.patch {
            let drift = patch.drift(work, &table)?.difference;
            table = table.shifted(-drift.number(), drift.u);
        }
        Ok(table)
    }
}
