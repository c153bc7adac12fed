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

/// Most files of a folder that are looked at.
const MOST_FILES: usize = 100_000;

/// The step that finds all missing scans that lie in `within` or a folder in it: by name and contents, wherever they stand. Reads
/// the files that it is about: for a thread of its own. `go_on` is told the share of the scans looked for, and answers whether to
/// go on.
///
/// # Errors
/// Nothing is missing, none of it lies there, or `go_on` said no.
pub fn find_all(
    series: &Series,
    folder: &Path,
    within: &Path,
    go_on: &mut dyn FnMut(f32) -> bool,
) -> Result<ScanEdit, Problem> {
    let missing: Vec<_> =
        series.scans.iter().filter(|(_, entry)| !paths::absolute(folder, &entry.path).exists()).collect();
    let told = |cause: &str, remedy: &str| {
        Problem::note(Subject::File { path: within.display().to_string(), place: None }, cause, remedy)
    };
    if missing.is_empty() {
        return Err(told("No scan of the series is missing.", "There is nothing to find."));
    }
    let mut there: BTreeMap<std::ffi::OsString, Vec<PathBuf>> = BTreeMap::new();
    let (mut open, mut seen) = (vec![within.to_path_buf()], 0);
    while let Some(next) = open.pop() {
        for entry in
            std::fs::read_dir(&next).into_iter().flatten().flatten().take(MOST_FILES - seen.min(MOST_FILES))
        {
            seen += 1;
            match entry.file_type() {
                Ok(kind) if kind.is_dir() => open.push(entry.path()),
                Ok(kind) if kind.is_file() => there.entry(entry.file_name()).or_default().push(entry.path()),
                _ => {}
            }
        }
        if !go_on(0.0) {
            return Err(told("Looking for scans was cancelled.", "Nothing was changed."));
        }
    }
    let mut files = BTreeMap::new();
    for (number, (id, entry)) in missing.iter().enumerate() {
        let share = number as f32 / missing.len() as f32;
        let was = paths::absolute(folder, &entry.path);
        for path in was.file_name().and_then(|name| there.get(name)).into_iter().flatten() {
            let fits =
                |known: &FileDigest| std::fs::metadata(path).is_ok_and(|meta| meta.len() == known.bytes);
            if !entry.digest.as_ref().is_some_and(fits) {
                continue;
            }
            let held = store::digest_while(path, &mut |_| go_on(share))
                .map_err(|problem| problem.about(Subject::Scan((*id).clone())))?;
            if entry.digest.as_ref() == Some(&held) {
                files.insert((*id).clone(), (paths::relative(folder, path), held));
                break;
            }
        }
    }
    let first = files.keys().next().cloned();
    first.map(|scan| ScanEdit::FoundAgain { scan, files }).ok_or_else(|| {
        let cause = format!("None of the {} missing scans lies there with the same contents.", missing.len());
        told(&cause, "Choose another folder, or find one scan by its file.")
    })
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

#[cfg(test)]
mod tests {
    use twinwedge_core::document::ScanKind;

    use super::*;

    #[test]
    fn missing_scans_are_found_by_name_and_contents_wherever_they_stand() {
        let folder = tempfile::tempdir().unwrap();
        let (old, new) = (folder.path().join("old"), folder.path().join("new/deeper"));
        std::fs::create_dir_all(&old).unwrap();
        std::fs::create_dir_all(&new).unwrap();
        let mut series = Series::default();
        for (name, bytes) in [("a.tif", "one"), ("b.tif", "two"), ("c.tif", "three")] {
            std::fs::write(old.join(name), bytes).unwrap();
            let entry = store::scan_entry(&old.join(name), ScanKind::Film, folder.path()).unwrap();
            series.scans.insert(ScanId::from(name), entry);
        }
        let find =
            |series: &Series| find_all(series, folder.path(), &folder.path().join("new"), &mut |_| true);
        assert!(find(&series).unwrap_err().cause.contains("No scan"));
        std::fs::rename(old.join("a.tif"), new.join("a.tif")).unwrap();
        // Of the same name and size, and something else.
        std::fs::remove_file(old.join("b.tif")).unwrap();
        std::fs::write(new.join("b.tif"), "owt").unwrap();
        let ScanEdit::FoundAgain { files, .. } = find(&series).unwrap() else { panic!("found") };
        let found: Vec<_> = files.iter().map(|(id, (path, _))| (id.0.as_str(), path.as_str())).collect();
        assert_eq!(found, [("a.tif", "new/deeper/a.tif")]);
        std::fs::remove_file(new.join("a.tif")).unwrap();
        assert!(find(&series).unwrap_err().cause.contains("None of the 2 missing scans"));
    }
}
