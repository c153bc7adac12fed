//! Remembering, scheduling, cancelling: derived results by what they were made from.
//!
//! Every result has a *key*: the digest of its inputs, one value that declares all it is made from. A key is had without the
//! result (from the document, the stamps of files and the digests of other results), so an edit that leaves what a result is
//! made from bit for bit as it was recomputes nothing, and neither does undo. [`Query`] says for each question what its
//! inputs are and how it is answered from them; the `rules` are the answers.

pub mod ask;
mod compute;
mod fingerprint;
mod names;
mod query;
mod rules;
mod schedule;
mod snapshot;
mod table;
mod view;

use std::sync::Arc;

use twinwedge_core::problem::Problem;

pub use ask::{Kind, Tables};
pub(crate) use compute::Known;
pub use fingerprint::Key;
pub use names::Names;
pub use query::{NoAnswer, Query, Question};
pub(crate) use rules::missing;
pub use rules::tone_chain;
pub(crate) use schedule::Shared;
pub(crate) use snapshot::Snapshot;
pub use table::Table;
pub use view::{Computation, Handle, Tried, View};

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
    /// What is done, for the status line: 'Reading plover-640-print.tif'.
    pub label: String,
    /// How far the work has come.
    pub progress: Progress,
    /// Seconds left by the pace so far.
    pub seconds_left: Option<f32>,
}
