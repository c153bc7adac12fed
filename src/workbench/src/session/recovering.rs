//! Keeping what a crash would lose.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use twinwedge_core::document::{FileDigest, Series};
use twinwedge_core::problem::Problem;

use super::Session;
use super::saving::Place;
use crate::engine::Shared;
use crate::store::claim::Claim;
use crate::store::recovery::{self, Kept, Offer, Recovery};

/// Quiet after a change before it is kept.
const QUIET: Duration = Duration::from_secs(2);
/// Longest time that unsaved changes go unkept, however busy the tester is.
const LONGEST: Duration = Duration::from_secs(30);
/// How often files of scans, and the series' own, are looked at for changes.
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
    /// Rises with everything that is to be kept, and with every save.
    turn: u64,
    keeper: Arc<Mutex<Keeper>>,
}

/// What the threads share that keep and discard.
#[derive(Debug, Default)]
struct Keeper {
    /// This session's own recovery files; none before the first.
    claim: Option<Claim>,
    /// Nothing older than this is kept any more.
    turn: u64,
}

/// What is to be kept.
#[derive(Debug)]
struct Keeping {
    turn: u64,
    recoveries: PathBuf,
    original: Option<PathBuf>,
    folder: PathBuf,
    base: Option<FileDigest>,
    series: Arc<Series>,
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
            turn: 0,
            keeper: Arc::default(),
        }
    }
}

fn locked(keeper: &Mutex<Keeper>) -> MutexGuard<'_, Keeper> {
    keeper.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Keeper {
    /// Writes a recovery file, unless something newer was kept or saved meanwhile.
    fn keep(&mut self, keeping: &Keeping) -> Result<(), Problem> {
        if keeping.turn <= self.turn {
            return Ok(());
        }
        if self.claim.is_none() {
            self.claim = Some(recovery::claim(&keeping.recoveries)?);
        }
        if let Some(claim) = &mut self.claim {
            let kept = Kept {
                original: keeping.original.as_deref(),
                folder: &keeping.folder,
                base: keeping.base.as_ref(),
                series: &keeping.series,
            };
            recovery::keep(claim, kept)?;
            self.turn = keeping.turn;
        }
        Ok(())
    }
}

impl Recovering {
    pub(super) fn changed(&mut self) {
        self.news = true;
    }

    /// What was to be kept is saved: this session's recovery files go, and those that are just being written with them.
    pub(super) fn saved(&mut self) {
        self.end(|claim| {
            recovery::discard(claim);
            Ok(())
        });
    }

    fn end(&mut self, how: impl FnOnce(&Claim) -> Result<(), Problem>) {
        self.turn += 1;
        self.kept = None;
        let mut keeper = locked(&self.keeper);
        keeper.turn = self.turn;
        if let Some(claim) = &keeper.claim {
            // What stays is offered again; there is nothing else to do about it.
            let _ = how(claim);
        }
    }
}

impl Session {
    /// Opens what was recovered: unsaved, at the place where the series is saved. Saving it compares with the file that the changes
    /// were made on: where that was saved again since, it is in the way. The recovery files are this session's own from now on,
    /// unless another living session has them.
    #[must_use]
    pub fn recovered(recovery: Recovery) -> Self {
        let claim = recovery.claim();
        let recoveries = recovery.file.parent().map(Path::to_owned);
        let mut session = Self::of(recovery.series, recovery.folder);
        session.place = recovery.original.map(|path| Place::new(path, recovery.base, None));
        session.recovering.folder = recoveries;
        locked(&session.recovering.keeper).claim = claim;
        session
    }

    /// Where recovery files are kept; `None` keeps none, and leaves all that are there alone. At first the program's own folder.
    pub fn set_recovery_folder(&mut self, folder: Option<PathBuf>) {
        if folder != self.recovering.folder {
            self.recovering.folder = folder;
            self.recovering.turn += 1;
            let mut keeper = locked(&self.recovering.keeper);
            keeper.turn = self.recovering.turn;
            keeper.claim = None;
        }
    }

    /// To be called now and then (each frame will do): keeps unsaved changes in a recovery file two seconds after the last
    /// of them, and every thirty at the longest; looks whether files of scans or the series file changed. Never blocks: all of
    /// it happens on another thread. Says when to call next at the latest, if nothing else happens.
    pub fn tick(&mut self, now: Instant) -> Duration {
        let unsaved = self.unsaved();
        let recovering = &mut self.recovering;
        if std::mem::take(&mut recovering.news) {
            recovering.last_change = Some(now);
        }
        if recovering.last_files.is_none_or(|last| now.duration_since(last) >= FILES) {
            recovering.last_files = Some(now);
            self.shared.spawn(Shared::refresh_files);
            if let Some(place) = &self.place {
                let look = place.look();
                self.shared.spawn(move |shared| look(shared));
            }
        }
        let fresh = recovering.kept.as_ref().is_some_and(|kept| Arc::ptr_eq(kept, &self.snapshot.series));
        let Some(changed) = recovering.last_change.filter(|_| unsaved && !fresh) else {
            return FILES;
        };
        let quiet = now.duration_since(changed);
        let since_kept = recovering.last_kept.unwrap_or(changed);
        if quiet < QUIET && now.duration_since(since_kept) < LONGEST {
            return QUIET.saturating_sub(quiet);
        }
        recovering.last_kept = Some(now);
        if let Some(keeping) = self.keeping() {
            let keeper = Arc::clone(&self.recovering.keeper);
            self.shared.spawn(move |_| {
                // A folder that cannot be written is told when the tester saves; there is nothing to do about it here.
                let _ = locked(&keeper).keep(&keeping);
            });
        }
        FILES
    }

    /// Keeps unsaved changes now, on this thread: before the program ends in an orderly way without saving.
    ///
    /// # Errors
    /// The recovery folder cannot be written.
    pub fn keep_now(&mut self) -> Result<(), Problem> {
        let Some(keeping) = self.keeping().filter(|_| self.unsaved()) else { return Ok(()) };
        locked(&self.recovering.keeper).keep(&keeping)
    }

    /// What was kept before is older than what is about to be saved. After a crash between saving and removing it, it would be offered
    /// as if it were newer: so what is saved is kept, too, and found to be the same.
    pub(super) fn keep_before_saving(&mut self) {
        let fresh =
            self.recovering.kept.as_ref().is_some_and(|kept| Arc::ptr_eq(kept, &self.snapshot.series));
        if !fresh && locked(&self.recovering.keeper).claim.is_some() {
            // Whatever hinders this hinders saving, too, which says so.
            let _ = self.keep_now();
        }
    }

    /// What would be kept now; counts as kept.
    fn keeping(&mut self) -> Option<Keeping> {
        self.recovering.kept = Some(Arc::clone(&self.snapshot.series));
        let recoveries = self.recovering.folder.clone()?;
        self.recovering.turn += 1;
        Some(Keeping {
            turn: self.recovering.turn,
            recoveries,
            original: self.path().map(recovery::whole_path),
            folder: self.folder().to_owned(),
            base: self.place.as_ref().and_then(|place| place.base.clone()),
            series: Arc::clone(&self.snapshot.series),
        })
    }

    /// The tester leaves this series without saving: what this session kept is put aside and not offered again.
    pub fn discard_recoveries(&mut self) {
        self.recovering.end(recovery::put_aside);
    }

    /// What can be recovered of the series at `path`, from the folder that this session keeps recovery files in; newest first.
    #[must_use]
    pub fn recoveries_of(&self, path: &Path) -> Vec<Offer> {
        self.recovering.folder.as_deref().map_or_else(Vec::new, |folder| recovery::list_of(folder, path))
    }

    /// Everything that can be recovered, of whichever series; newest first.
    #[must_use]
    pub fn recoveries(&self) -> Vec<Offer> {
        self.recovering.folder.as_deref().map_or_else(Vec::new, recovery::list)
    }
}
