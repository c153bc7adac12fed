//! A settled plan becomes one step of the history.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;
use twinwedge_core::document::Series;
use twinwedge_core::problem::{Problem, Subject};

use super::kinds::Kind;
use super::plan::{File, Plan};
use super::rows;
use crate::edits::{MadeReady, Operation};
use crate::import::{self, ListRow, Ready, ReadyFile};
use crate::store::paths;
use crate::{load, store};

/// What a plan takes in, read and ready: one step of the history.
#[derive(Debug, Clone)]
pub struct Prepared {
    label: String,
    title: String,
    folder: PathBuf,
    rows: Vec<ListRow>,
    ready: Ready,
    notes: Vec<Problem>,
}

/// Reads what a plan takes in: digests of scans, and tables; and finds the strips that neither the plan nor a list of the
/// folder places. `go_on` is told the share done, from several threads, and answers whether to go on.
///
/// # Errors
/// A file has become unreadable since, a list of the folder does not fit the series, or `go_on` said no.
pub fn prepare(
    plan: &Plan,
    series: &Series,
    series_folder: &Path,
    go_on: &(dyn Fn(f32) -> bool + Sync),
) -> Result<Prepared, Problem> {
    let takes = plan.takes();
    let files: Vec<&File> = takes.iter().filter_map(|index| plan.files.get(*index)).collect();
    if files.is_empty() {
        let subject = Subject::File { path: plan.folder.display().to_string(), place: None };
        return Err(Problem::error(
            subject,
            "Nothing of the folder would be taken in.",
            "Say what its files are.",
        ));
    }
    let bytes = |file: &&File| std::fs::metadata(&file.path).map_or(0, |meta| meta.len());
    let total = files.iter().map(bytes).sum::<u64>().max(1);
    let read = AtomicU64::new(0);
    let read_files = files
        .par_iter()
        .map(|file| {
            let mut told = |bytes: u64| {
                let read = read.fetch_add(bytes, Ordering::Relaxed) + bytes;
                go_on(0.5 * read as f32 / total as f32)
            };
            Ok((paths::relative(series_folder, &file.path), read_file(file, &mut told)?))
        })
        .collect::<Result<_, Problem>>()?;
    let mut ready = Ready::of(read_files);
    let rows = rows::rows(plan, series, series_folder);
    import::make_ready(series, series_folder, &rows, &mut ready, &|share| go_on(0.5 + 0.5 * share))?;
    let (_, notes) = import::take_rows(series.clone(), series_folder, &rows, &mut ready)?;
    let name = plan.folder.file_name().unwrap_or(plan.folder.as_os_str()).to_string_lossy().into_owned();
    Ok(Prepared {
        label: format!("take in {} files of the folder {name}", takes.len()),
        title: name,
        folder: series_folder.to_path_buf(),
        rows,
        ready,
        notes,
    })
}

fn read_file(file: &File, told: &mut dyn FnMut(u64) -> bool) -> Result<ReadyFile, Problem> {
    if file.scan {
        let size = load::size(&file.path)?;
        return Ok(ReadyFile::Scan(store::digest_while(&file.path, told)?, Some(size)));
    }
    let text = load::text(&file.path)?;
    let read = match file.kind.value {
        Kind::Tablet => ReadyFile::Tablet(load::tablet(&text, &file.shown)?),
        _ => ReadyFile::Readings(load::table(&text, &file.shown)?),
    };
    told(text.len() as u64);
    Ok(read)
}

impl Prepared {
    /// What is doubtful about strips that were found only now.
    #[must_use]
    pub fn notes(&self) -> &[Problem] {
        &self.notes
    }
}

impl MadeReady for Prepared {
    fn label(&self) -> &str {
        &self.label
    }

    /// No scan is read in it.
    fn apply(&self, series: &mut Series) -> Result<(), Problem> {
        let Self { label: _, title, folder, rows, ready, notes: _ } = self;
        let (mut made, _) = import::take_rows(series.clone(), folder, rows, &mut ready.clone())?;
        if made.title.is_empty() {
            made.title.clone_from(title);
        }
        *series = made;
        Ok(())
    }
}

impl From<Prepared> for Operation {
    fn from(prepared: Prepared) -> Self {
        Self::Ready(Arc::new(prepared))
    }
}
