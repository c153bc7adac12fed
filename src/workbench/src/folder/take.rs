//! A settled plan becomes one step of the history.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use rayon::prelude::*;
use twinwedge_core::document::Series;
use twinwedge_core::problem::{Problem, Subject};

use super::kinds::Kind;
use super::plan::{File, Plan};
use super::rows;
use crate::import::{self, Ready, ReadyFile, Row};
use crate::session::Edit;
use crate::store::paths;
use crate::{load, store};

/// What a plan takes in, read and ready.
#[derive(Debug)]
pub struct Prepared {
    label: String,
    title: String,
    folder: PathBuf,
    rows: Vec<Row>,
    ready: Ready,
}

/// Reads what a plan takes in: digests of scans, and tables. `go_on` is told the share of the bytes read, from several
/// threads, and answers whether to go on.
///
/// # Errors
/// A file has become unreadable since, or `go_on` said no.
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
    let ready = files
        .par_iter()
        .map(|file| {
            let mut told = |bytes: u64| {
                let read = read.fetch_add(bytes, Ordering::Relaxed) + bytes;
                go_on(read as f32 / total as f32)
            };
            Ok((paths::relative(series_folder, &file.path), read_file(file, &mut told)?))
        })
        .collect::<Result<Ready, Problem>>()?;
    let rows = rows::rows(plan, series, series_folder);
    let name = plan.folder.file_name().unwrap_or(plan.folder.as_os_str()).to_string_lossy().into_owned();
    Ok(Prepared {
        label: format!("take in {} files of the folder {name}", files.len()),
        title: name,
        folder: series_folder.to_path_buf(),
        rows,
        ready,
    })
}

fn read_file(file: &File, told: &mut dyn FnMut(u64) -> bool) -> Result<ReadyFile, Problem> {
    if file.scan {
        let size = load::size(&file.path)?;
        return Ok(ReadyFile::Scan(store::digest_while(&file.path, told)?, size));
    }
    let text = load::text(&file.path)?;
    let read = match file.kind.value {
        Kind::Tablet => ReadyFile::Tablet(load::tablet(&text, &file.shown)?),
        _ => ReadyFile::Readings(load::readings(&text, &file.shown)?),
    };
    told(text.len() as u64);
    Ok(read)
}

impl Prepared {
    /// The one step; no file is read in it.
    #[must_use]
    pub fn edit(self) -> Edit {
        let Self { label, title, folder, rows, ready } = self;
        Edit::fallible(label, move |series| {
            let (mut made, _) = import::take_rows(Series::clone(series), &folder, &rows, &ready, &|_| true)?;
            if made.title.is_empty() {
                made.title = title;
            }
            *series = made;
            Ok(())
        })
    }
}
