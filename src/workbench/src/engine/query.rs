//! Questions and how they are answered: what an answer is made from is one value, and the answer a function of that value.

use std::fmt::Debug;
use std::hash::Hash;
use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::document::Series;
use twinwedge_core::problem::{Problem, Subject};

use super::{Computation, Key, Kind, Names, Table, Tables, View};

/// What can be asked, and where its answers are remembered: written by the list in [`super::ask`].
pub trait Question: Debug + Clone + Eq + Hash + Send + Sync + 'static {
    /// What answers it.
    type Output: Send + Sync + 'static;
    /// What it is counted as.
    const KIND: Kind;
    /// The key of its inputs stands for the answer too. So it is for pixels: what they were made from tells them apart, and
    /// dependents get their keys though the pixels themselves were dropped from memory. Other answers are told apart by
    /// their contents, so that a change which leaves them as they were goes no further.
    const BY_INPUTS: bool = false;
    /// Long work that must not hold up the screen.
    const SLOW: bool = false;
    /// Not worth computing if nobody looks any more.
    const FLEETING: bool = false;

    /// Where its answers are remembered.
    fn table(tables: &Tables) -> &Table<Self>;

    /// What tells an answer from others, and the bytes that it takes in memory, about; `key` is that of its inputs.
    fn weigh(output: &Self::Output, key: Key) -> (Key, usize);

    /// What the status line says while one of this kind is made.
    fn usual_label(&self, _: &Series) -> String {
        String::new()
    }

    /// The answer with labels of films in its sentences, where it has sentences that may speak of films.
    fn labelled(_: &Self::Output, _: &Names) -> Option<Arc<Self::Output>> {
        None
    }
}

/// A question with its rule.
///
/// What the answer depends on is declared once, as [`Query::Inputs`]: parts of the document, and handles of other answers.
/// The digest of that value is the key under which the answer is remembered, and [`Query::compute`] sees nothing else: it
/// cannot use what was not counted.
pub trait Query: Question {
    /// All that an answer is made from.
    type Inputs: Serialize;

    /// What the status line says while it is made: the usual, if that says which it is.
    fn label(&self, series: &Series) -> String {
        self.usual_label(series)
    }

    /// What the answer would be made from. Cheap: it opens no file and touches no pixel.
    ///
    /// # Errors
    /// It cannot be had, or what it is made from is not known yet.
    fn inputs(&self, view: &View<'_>) -> Result<Self::Inputs, NoAnswer>;

    /// The answer.
    ///
    /// # Errors
    /// It cannot be had, or the work was stopped.
    fn compute(inputs: &Self::Inputs, work: &Computation<'_>) -> Result<Self::Output, NoAnswer>;

    /// Bytes of an answer that no key needs to count.
    fn uncounted_bytes(_: &Self::Output) -> usize {
        0
    }

    /// As [`Question::SLOW`] says, if not all of a kind are alike.
    fn slow(&self) -> bool {
        Self::SLOW
    }
}

/// Why there is no answer.
#[derive(Debug, Clone)]
pub enum NoAnswer {
    /// What it is made from is not known yet.
    NotYet,
    /// It cannot be had.
    Problem(Problem),
    /// A person cancelled it, or something it is made from.
    Cancelled(Problem),
    /// Nobody wants it any more: the document moved on.
    Dropped,
}

impl NoAnswer {
    /// The same, about something else where it is a problem.
    #[must_use]
    pub fn about(self, subject: &Subject) -> Self {
        match self {
            Self::Problem(problem) => Self::Problem(problem.about(subject.clone())),
            other => other,
        }
    }
}

impl From<Problem> for NoAnswer {
    fn from(problem: Problem) -> Self {
        Self::Problem(problem)
    }
}

/// What can be done without: the problem where there is no answer.
pub(super) fn tried<T>(found: Result<T, NoAnswer>) -> Result<Result<T, Problem>, NoAnswer> {
    match found {
        Ok(answer) => Ok(Ok(answer)),
        Err(NoAnswer::Problem(problem)) => Ok(Err(problem)),
        Err(other) => Err(other),
    }
}
