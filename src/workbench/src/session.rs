//! The session: one open series, its history, and everything derived from it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use twinwedge_core::document::Series;
use twinwedge_core::problem::Problem;

use crate::engine::{Ask, Slot, Work};

/// One change of the document: what it is called in the menu, and what it does.
pub struct Edit {
    /// Named after 'Undo', e.g. 'move a corner of Plover 640'.
    pub label: String,
    /// The change. A problem leaves the document as it was.
    pub change: Box<dyn FnOnce(&mut Series) -> Result<(), Problem> + Send>,
}

impl std::fmt::Debug for Edit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Edit").field("label", &self.label).finish_non_exhaustive()
    }
}

impl Edit {
    /// An edit that cannot fail.
    pub fn new(label: impl Into<String>, change: impl FnOnce(&mut Series) + Send + 'static) -> Self {
        Self {
            label: label.into(),
            change: Box::new(move |series| {
                change(series);
                Ok(())
            }),
        }
    }

    /// An edit that may find a problem.
    pub fn fallible(
        label: impl Into<String>,
        change: impl FnOnce(&mut Series) -> Result<(), Problem> + Send + 'static,
    ) -> Self {
        Self { label: label.into(), change: Box::new(change) }
    }
}

/// An open series.
#[derive(Debug)]
pub struct Session {}

impl Session {
    /// A session on a new, empty, unsaved series.
    #[must_use]
    pub fn empty() -> Self {
        todo!()
    }

    /// Opens a series file. Missing or changed scans are problems of the session, not failures.
    ///
    /// # Errors
    /// The file cannot be read, is no series, or is from a newer version.
    pub fn open(path: &Path) -> Result<Self, Problem> {
        todo!("{path:?}")
    }

    /// A session on a series that was just made, saved nowhere; scan paths are relative to `folder`.
    #[must_use]
    pub fn of(series: Series, folder: PathBuf) -> Self {
        todo!("{series:?} {folder:?}")
    }

    /// Called (from any thread) when something that was asked for is there: the window asks for a new frame.
    pub fn on_news(&self, wake: impl Fn() + Send + Sync + 'static) {
        let _ = wake;
        todo!()
    }

    /// The document as it stands, gesture included.
    #[must_use]
    pub fn series(&self) -> &Arc<Series> {
        todo!()
    }

    /// Where it is saved, if it is.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        todo!()
    }

    /// The folder that scan paths are relative to.
    #[must_use]
    pub fn folder(&self) -> &Path {
        todo!()
    }

    /// Whether there are changes that are not saved.
    #[must_use]
    pub fn unsaved(&self) -> bool {
        todo!()
    }

    /// Makes one change, one step in the history. A change that changes nothing leaves no step.
    ///
    /// # Errors
    /// What the edit found; the document is as before.
    pub fn apply(&mut self, edit: Edit) -> Result<(), Problem> {
        todo!("{edit:?}")
    }

    /// Begins a gesture (a drag): previews follow, then commit or abort. Begun twice is once.
    pub fn begin(&mut self, label: &str) {
        todo!("{label}")
    }

    /// Shows the document as the gesture would leave it: the change is applied to the document as it was at `begin`.
    ///
    /// # Errors
    /// What the change found; the document is as at `begin`.
    pub fn preview(
        &mut self,
        change: impl FnOnce(&mut Series) -> Result<(), Problem>,
    ) -> Result<(), Problem> {
        let _ = change;
        todo!()
    }

    /// Ends the gesture as one step in the history (none if nothing changed).
    pub fn commit(&mut self) {
        todo!()
    }

    /// Ends the gesture as if it had not been.
    pub fn abort(&mut self) {
        todo!()
    }

    /// What `undo` would undo.
    #[must_use]
    pub fn undo_label(&self) -> Option<&str> {
        todo!()
    }

    /// What `redo` would redo.
    #[must_use]
    pub fn redo_label(&self) -> Option<&str> {
        todo!()
    }

    /// Takes the last step back.
    pub fn undo(&mut self) {
        todo!()
    }

    /// Makes the step taken back again.
    pub fn redo(&mut self) {
        todo!()
    }

    /// Saves where the series is saved.
    ///
    /// # Errors
    /// It has no place yet, or the file cannot be written; the old file is whole.
    pub fn save(&mut self) -> Result<(), Problem> {
        todo!()
    }

    /// Saves at `path`, which becomes its place; scan paths are rewritten relative to it.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn save_as(&mut self, path: &Path) -> Result<(), Problem> {
        todo!("{path:?}")
    }

    /// What is known of `ask` now. Never blocks; asks for it to be computed if it is not.
    pub fn peek<A: Ask>(&self, ask: &A) -> Slot<A::Output> {
        todo!("{ask:?}")
    }

    /// The answer to `ask`, computed now if need be, on this thread and its helpers.
    ///
    /// # Errors
    /// Why it cannot be had.
    pub fn wait<A: Ask>(&self, ask: &A) -> Result<Arc<A::Output>, Problem> {
        todo!("{ask:?}")
    }

    /// All problems of the series: missing scans, doubtful calibrations, curves that cannot be fitted ... as far as they
    /// are known now. `check` waits for all of it.
    #[must_use]
    pub fn problems(&self) -> Vec<Problem> {
        todo!()
    }

    /// Everything that is missing or doubtful, after computing all of it.
    #[must_use]
    pub fn check(&self) -> Vec<Problem> {
        todo!()
    }

    /// Work in progress, oldest first.
    #[must_use]
    pub fn work(&self) -> Vec<Work> {
        todo!()
    }

    /// Cancels one work; its slot fails with 'cancelled' until asked again by an edit or [`Session::retry`].
    pub fn cancel(&self, work: u64) {
        todo!("{work}")
    }

    /// Forgets failures and cancellations, so that they are tried again.
    pub fn retry(&self) {
        todo!()
    }
}
