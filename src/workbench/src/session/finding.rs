//! Finding scans again.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use twinwedge_core::document::{FileDigest, ScanEntry, ScanId, Series};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::words;

use super::Session;
use crate::edits::ScanEdit;
use crate::store::{self, paths};

impl Session {
    /// A missing scan was found at `path`. Others that are missing and lie there too, with the same contents, are found
    /// with it. One step in the history.
    ///
    /// # Errors
    /// The file cannot be read, or holds something else than the scan did; where `changed_too` it is taken all the same.
    pub fn relocate(&mut self, scan: &ScanId, path: &Path, changed_too: bool) -> Result<(), Problem> {
        let series = Arc::clone(self.series());
        let edit = find_again(&series, self.folder(), scan, path, changed_too, &mut |_| true)?;
        self.carry_out(edit).map(drop)
    }
}

/// The step that finds a missing scan again at `path`, and with it others that are missing and moved the same way. Reads the
/// files that it is about: for a thread of its own. `go_on` is told the share of the bytes read of the file at hand, and
/// answers whether to go on.
///
/// # Errors
/// As [`Session::relocate`]; or `go_on` said no.
pub fn find_again(
    series: &Series,
    folder: &Path,
    scan: &ScanId,
    path: &Path,
    changed_too: bool,
    go_on: &mut dyn FnMut(f32) -> bool,
) -> Result<ScanEdit, Problem> {
    let entry = series.scans.get(scan).ok_or_else(|| {
        Problem::error(Subject::Scan(scan.clone()), words::Series::NoSuchScan, words::Remedy::ChooseScan)
    })?;
    let mut digest = |path: &Path| {
        let total = std::fs::metadata(path).map_or(1, |meta| meta.len().max(1)) as f32;
        let mut read = 0;
        store::digest_while(path, &mut |bytes| {
            read += bytes;
            go_on(read as f32 / total)
        })
    };
    let held = digest(path).map_err(|problem| problem.about(Subject::Scan(scan.clone())))?;
    if !changed_too && entry.digest.as_ref().is_some_and(|known| *known != held) {
        return Err(Problem::doubt(
            Subject::Scan(scan.clone()),
            words::Series::OtherFile { path: path.display().to_string() },
            words::Remedy::ChooseFile,
        ));
    }
    let mut found: BTreeMap<ScanId, (String, FileDigest)> = BTreeMap::new();
    found.insert(scan.clone(), (paths::relative(folder, path), held));
    for (id, candidate) in moved_alike(series, folder, entry, path) {
        if found.contains_key(&id) {
            continue;
        }
        if let Ok(held) = digest(&candidate)
            && series.scans.get(&id).is_some_and(|other| other.digest.as_ref() == Some(&held))
        {
            found.insert(id, (paths::relative(folder, &candidate), held));
        }
    }
    Ok(ScanEdit::FoundAgain { scan: scan.clone(), files: found })
}

/// Missing scans for which a file of the same size lies where it would if it had moved as the one from `entry` to `path`.
fn moved_alike(series: &Series, folder: &Path, entry: &ScanEntry, path: &Path) -> Vec<(ScanId, PathBuf)> {
    let old = paths::absolute(folder, &entry.path);
    let (Some(old_folder), Some(new_folder)) = (old.parent(), path.parent()) else { return Vec::new() };
    let candidate = |(id, other): (&ScanId, &ScanEntry)| {
        let was = paths::absolute(folder, &other.path);
        let held = other.digest.as_ref()?;
        let candidate = new_folder.join(was.strip_prefix(old_folder).ok()?);
        let same_size = std::fs::metadata(&candidate).is_ok_and(|meta| meta.len() == held.bytes);
        (!was.exists() && same_size).then(|| (id.clone(), candidate))
    };
    series.scans.iter().filter_map(candidate).collect()
}
