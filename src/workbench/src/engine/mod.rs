//! Remembering, scheduling, cancelling: derived results by what they were made from.

pub mod ask;

use std::sync::Arc;

use twinwedge_core::problem::Problem;

/// What is known of a result now.
#[derive(Debug, Clone)]
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

/// A question to the session; see [`ask`] for all of them.
pub trait Ask: std::fmt::Debug + Clone {
    /// What answers it.
    type Output: Send + Sync + 'static;
}
