//! Keeping what a crash would lose.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use twinwedge_core::document::Series;
use twinwedge_core::problem::Problem;

use super::Session;
use crate::engine::Shared;
use crate::store::recovery::{self, Recovery};

/// Quiet after a change before it is kept.
const QUIET: Duration = Duration::from_secs(2);
/// Longest time that unsaved changes go unkept, however busy the tester is.
const LONGEST: Duration = Duration::from_secs(30);
/// How often files of scans are looked at for changes.
const FILES: Duration = Duration::from_secs(3);

/// When what is to be kept, and where.
#[derive(Debug)]
pub(super) struct Recovering {
    folder: Option<PathBuf>,
    /// The document changed since the last tick.
    news: bool,
    last_change: Option<Instant>,
    last_kept: Option<Instant>,
    last_files: Option<Instant>,
    kept: Option<Arc<Series>>,
}

impl Default for Recovering {
    fn default() -> Self {
        Self {
            folder: recovery::default_folder(),
            news: false,
            last_change: None,
            last_kept: None,
            last_files: None,
            kept: None,
        }
    }
}

impl Recovering {
    pub(super) fn changed(&mut self) {
        self.news = true;
    }
}

impl Session {
    /// Opens what was recovered: unsaved, at the place where the series is saved.
    #[must_use]
    pub fn recovered(recovery: Recovery) -> Self {
        let mut session = Self::of(recovery.series, recovery.folder);
        session.path = recovery.original;
        session
    }

    /// Where recovery files are kept; `None` keeps none. At first the program's own folder.
    pub fn set_recovery_folder(&mut self, folder: Option<PathBuf>) {
        self.recovering.folder = folder;
    }

    /// To be called now and then (each frame will do): keeps unsaved changes in a recovery file two seconds after the last
    /// of them, and every thirty at the longest; looks whether files of scans changed. Never blocks: both happen on
    /// another thread. Says when to call next at the latest, if nothing else happens.
    pub fn tick(&mut self, now: Instant) -> Duration {
        let unsaved = self.unsaved();
        let recovering = &mut self.recovering;
        if std::mem::take(&mut recovering.news) {
            recovering.last_change = Some(now);
        }
        if recovering.last_files.is_none_or(|last| now.duration_since(last) >= FILES) {
            recovering.last_files = Some(now);
            self.shared.spawn(Shared::refresh_files);
        }
        let fresh = recovering.kept.as_ref().is_some_and(|kept| Arc::ptr_eq(kept, &self.world.series));
        let Some(changed) = recovering.last_change.filter(|_| unsaved && !fresh) else {
            return FILES;
        };
        let quiet = now.duration_since(changed);
        let since_kept = recovering.last_kept.unwrap_or(changed);
        if quiet < QUIET && now.duration_since(since_kept) < LONGEST {
            return QUIET.saturating_sub(quiet);
        }
        recovering.last_kept = Some(now);
        recovering.kept = Some(Arc::clone(&self.world.series));
        if let Some(folder) = recovering.folder.clone() {
            let (series, original) = (Arc::clone(&self.world.series), self.original());
            let of = std::path::absolute(self.folder()).unwrap_or_else(|_| self.folder().to_owned());
            self.shared.spawn(move |_| {
                // A folder that cannot be written is told when the tester saves; there is nothing to do about it here.
                let _ = recovery::keep(&folder, original.as_deref(), &of, &series);
            });
        }
        FILES
    }

    /// Keeps unsaved changes now, on this thread: before the program ends in an orderly way without saving.
    ///
    /// # Errors
    /// The recovery folder cannot be written.
    pub fn keep_now(&mut self) -> Result<(), Problem> {
        let Some(folder) = self.recovering.folder.clone().filter(|_| self.unsaved()) else { return Ok(()) };
        let of = std::path::absolute(self.folder()).unwrap_or_else(|_| self.folder().to_owned());
        recovery::keep(&folder, self.original().as_deref(), &of, self.series())?;
        self.recovering.kept = Some(Arc::clone(&self.world.series));
        Ok(())
    }

    fn original(&self) -> Option<PathBuf> {
        self.path.as_deref().map(recovery::whole_path)
    }

    /// Drops the recovery files of this series: it was saved, or the tester does not want them.
    pub fn discard_recoveries(&self) {
        if let Some(folder) = &self.recovering.folder {
            recovery::discard(folder, self.original().as_deref());
        }
    }

    /// What can be recovered of the series at `path`, from the folder that this session keeps recovery files in.
    #[must_use]
    pub fn recovery_of(&self, path: &Path) -> Option<Recovery> {
        let folder = self.recovering.folder.as_deref()?;
        recovery::recovery_in(folder, Some(&recovery::whole_path(path)))
    }
}
