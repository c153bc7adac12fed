//! Remembering, scheduling, cancelling: derived results by what they were made from.
//!
//! Every result has a *key*: the digest of what it is made from. A key is had without the result (from the document, the
//! stamps of files and the digests of other results), so an edit that leaves what a result is made from bit for bit as it
//! was recomputes nothing, and neither does undo. [`Ask`] says for each kind of question how its key is had and how it is
//! answered; the `rules` are the answers.

pub mod ask;
mod fingerprint;
mod rules;
mod schedule;
mod table;
mod view;

use std::sync::Arc;

use twinwedge_core::document::Series;
use twinwedge_core::problem::Problem;

pub use fingerprint::{Key, Recipe};
pub(crate) use rules::missing;
pub use rules::tone_chain;
pub(crate) use schedule::Shared;
pub use table::{Kind, Table, Tables};
pub use view::{Halt, View};
pub(crate) use view::{Look, World};

/// What is known of a result now.
#[derive(Debug)]
pub enum Slot<T> {
    /// Up to date.
    Ready(Arc<T>),
    /// The previous result while the new one is computed; show it greyed.
    Stale(Arc<T>, Progress),
    /// Being computed for the first time.
    Pending(Progress),
    /// Cannot be had, and why.
    Failed(Problem),
}

// By hand: a derived one would ask that `T` be `Clone`.
impl<T> Clone for Slot<T> {
    fn clone(&self) -> Self {
        match self {
            Self::Ready(value) => Self::Ready(Arc::clone(value)),
            Self::Stale(value, progress) => Self::Stale(Arc::clone(value), *progress),
            Self::Pending(progress) => Self::Pending(*progress),
            Self::Failed(problem) => Self::Failed(problem.clone()),
        }
    }
}

impl<T> Slot<T> {
    /// The result, fresh or stale.
    #[must_use]
    pub fn value(&self) -> Option<&Arc<T>> {
        match self {
            Self::Ready(value) | Self::Stale(value, _) => Some(value),
            Self::Pending(_) | Self::Failed(_) => None,
        }
    }
}

/// How far a computation is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Progress {
    /// Share done, 0..=1; `None` where it cannot be told.
    pub done: Option<f32>,
}

/// A work in progress, as the status line shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Work {
    /// To cancel it by.
    pub id: u64,
    /// 'Reading plover-640-print.tif'.
    pub label: String,
    /// How far.
    pub progress: Progress,
    /// Seconds left by the pace so far.
    pub seconds_left: Option<f32>,
}

/// A question to the session; see [`ask`] for all of them, and `rules` for how each is answered.
///
/// Both `key` and `make` see one and the same document; neither may look at anything but the document and the view, and
/// `make` must use nothing that `key` did not count.
pub trait Ask: std::fmt::Debug + Clone + Eq + std::hash::Hash + Send + Sync + 'static {
    /// What answers it.
    type Output: Send + Sync + 'static;
    /// What it is counted as.
    const KIND: Kind;
    /// The key stands for the answer too. So it is for pixels: what they were made from tells them apart, and dependents
    /// get their keys though the pixels themselves were dropped from memory. Other answers are told apart by content, so
    /// that a change which leaves them as they were goes no further.
    const BY_RECIPE: bool = false;

    /// Where its answers are remembered.
    fn table(tables: &Tables) -> &Table<Self>;

    /// What the status line says while it is made.
    fn label(&self, series: &Series) -> String;

    /// What the answer would be made from. Cheap: it opens no file and touches no pixel.
    ///
    /// # Errors
    /// It cannot be had, or what it is made from is not known yet.
    fn key(&self, view: &View<'_>) -> Result<Key, Halt>;

    /// The answer.
    ///
    /// # Errors
    /// It cannot be had, or the work was stopped.
    fn make(&self, view: &View<'_>) -> Result<Self::Output, Halt>;

    /// The digest of an answer by its content; `key` itself where [`Ask::BY_RECIPE`] holds.
    fn digest(output: &Self::Output, key: Key) -> Key;

    /// Bytes that an answer takes in memory, about.
    fn bytes(output: &Self::Output) -> usize;

    /// Long work that must not hold up the screen.
    fn slow(&self) -> bool {
        false
    }
}
