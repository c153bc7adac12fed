//! What rules may look at: the document to say what an answer is made from, and other answers to make it.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use serde::{Serialize, Serializer};
use twinwedge_core::document::{Film, FilmId, ScanEntry, ScanId, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::query::tried;
use super::schedule::{Activity, Run, Shared};
use super::snapshot::Snapshot;
use super::{Key, NoAnswer, Query};
use crate::words::{Remedy, Rule};

/// What the inputs of an answer are taken from: the document, the stamps of files, and the digests of other answers.
#[derive(Clone, Copy)]
pub struct View<'a> {
    pub(super) shared: &'a Shared,
    pub(super) snapshot: &'a Snapshot,
    /// Set where missing answers are computed; else they are [`NoAnswer::NotYet`].
    pub(super) run: Option<&'a Run>,
}

impl std::fmt::Debug for View<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("View").field("revision", &self.snapshot.revision).finish_non_exhaustive()
    }
}

impl View<'_> {
    /// The document that questions are asked of.
    #[must_use]
    pub fn series(&self) -> &Series {
        &self.snapshot.series
    }

    /// The film of that name.
    #[must_use]
    pub fn film(&self, id: &FilmId) -> Option<&Film> {
        self.series().films.get(self.snapshot.place(id)?)
    }

    /// The reference film, if one is chosen and present.
    #[must_use]
    pub fn reference_film(&self) -> Option<&Film> {
        self.film(self.series().reference.as_ref()?)
    }

    /// A scan's entry.
    ///
    /// # Errors
    /// The series has no scan of that name.
    pub fn scan_entry(&self, scan: &ScanId) -> Result<&ScanEntry, Problem> {
        self.series()
            .scans
            .get(scan)
            .ok_or_else(|| Problem::error(Subject::Scan(scan.clone()), Rule::NoScan, Remedy::AddScan))
    }

    /// Where a scan's file lies.
    #[must_use]
    pub fn path_of(&self, entry: &ScanEntry) -> PathBuf {
        crate::store::paths::absolute(&self.snapshot.folder, &entry.path)
    }

    /// Size and time of change of a file, as last looked at; `None` where it is missing.
    ///
    /// # Errors
    /// Not looked at yet, and this view does not look.
    pub fn stamp(&self, path: &Path) -> Result<Option<(u64, u128)>, NoAnswer> {
        match self.shared.known_stamp(path) {
            Some(stamp) => Ok(stamp),
            None if self.run.is_some() => Ok(self.shared.look_at_file(path)),
            None => Err(NoAnswer::NotYet),
        }
    }

    /// Most bytes that a scan and its smaller copies may take, where a person has set that.
    pub(super) fn scan_limit(&self) -> Option<u64> {
        self.shared.scan_limit()
    }

    /// Another answer to make this one from.
    ///
    /// # Errors
    /// It cannot be had, or not yet.
    pub fn handle<Q: Query>(&self, query: Q) -> Result<Handle<Q>, NoAnswer> {
        let digest = self.digest(&query)?;
        Ok(Handle { query, digest })
    }

    /// Another answer that this one can do without.
    ///
    /// # Errors
    /// Not yet, or the work was stopped.
    pub fn try_handle<Q: Query>(&self, query: Q) -> Result<Tried<Q>, NoAnswer> {
        tried(self.handle(query))
    }

    fn digest<Q: Query>(&self, query: &Q) -> Result<Key, NoAnswer> {
        let key = self.shared.key_of(query, self)?;
        if Q::BY_INPUTS {
            return Ok(key);
        }
        match Q::table(self.shared.tables()).digest(key, self.shared.moment()) {
            Some(known) => known,
            None => match self.run {
                Some(run) => self.shared.compute(query, self.snapshot, run).map(|(_, digest)| digest),
                None => Err(NoAnswer::NotYet),
            },
        }
    }
}

/// An answer that another one is made from. It has the digest of that answer without the answer: nothing is decoded or
/// computed again before [`Computation::get`] wants it.
#[derive(Debug, Clone)]
pub struct Handle<Q> {
    query: Q,
    digest: Key,
}

impl<Q> Serialize for Handle<Q> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.digest.serialize(serializer)
    }
}

/// An answer that a result can do without: its handle, or the problem why there is none.
pub type Tried<Q> = Result<Handle<Q>, Problem>;

/// The computation of one key, as others see it.
pub(super) struct Job<'a> {
    pub(super) activity: &'a Activity,
    /// Whether the newest document still asks for this key.
    pub(super) wanted: &'a (dyn Fn(&Snapshot) -> bool + Sync),
    /// The revision for which that was last found out.
    pub(super) checked: AtomicU64,
    pub(super) unwanted: AtomicBool,
}

/// What an answer is made with, besides its inputs: the answers that their handles name, and whether to go on.
///
/// It keeps the document to itself: rules have no other way to it than through their inputs.
pub struct Computation<'a> {
    shared: &'a Shared,
    snapshot: &'a Snapshot,
    run: &'a Run,
    job: &'a Job<'a>,
}

impl std::fmt::Debug for Computation<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Computation").field("revision", &self.snapshot.revision).finish_non_exhaustive()
    }
}

impl<'a> Computation<'a> {
    pub(super) fn new(shared: &'a Shared, snapshot: &'a Snapshot, run: &'a Run, job: &'a Job<'a>) -> Self {
        Self { shared, snapshot, run, job }
    }

    /// The answer that a handle names; computed again where it has left memory.
    ///
    /// # Errors
    /// It cannot be had, or a file was changed since the handle was made: then this work is for an older state of things.
    pub fn get<Q: Query>(&self, handle: &Handle<Q>) -> Result<Arc<Q::Output>, NoAnswer> {
        let (answer, digest) = self.shared.compute(&handle.query, self.snapshot, self.run)?;
        if digest == handle.digest { Ok(answer) } else { Err(NoAnswer::Dropped) }
    }

    /// The answer that a handle names, or the problem why there is none: for results that do without it.
    ///
    /// # Errors
    /// The work was stopped.
    pub fn try_get<Q: Query>(&self, handle: &Tried<Q>) -> Result<Result<Arc<Q::Output>, Problem>, NoAnswer> {
        match handle {
            Ok(handle) => tried(self.get(handle)),
            Err(problem) => Ok(Err(problem.clone())),
        }
    }

    /// Whether to stop: cancelled, or wanted no more. Cheap enough to be asked for each row of pixels.
    #[must_use]
    pub fn stop(&self) -> bool {
        let job = self.job;
        if job.activity.is_cancelled() || job.unwanted.load(Ordering::Relaxed) {
            return true;
        }
        let newest = self.shared.revision();
        if self.run.is_waited_for() || job.checked.swap(newest, Ordering::Relaxed) == newest {
            return false;
        }
        let unwanted = !(job.wanted)(&self.shared.snapshot());
        job.unwanted.fetch_or(unwanted, Ordering::Relaxed);
        unwanted
    }

    /// Notes the share done and says whether to go on.
    #[must_use]
    pub fn progress(&self, done: f32) -> bool {
        self.job.activity.set_done(done);
        self.shared.progress_news();
        !self.stop()
    }
}
