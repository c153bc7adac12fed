//! How questions are looked up and answered: without blocking, or by computing.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use twinwedge_core::problem::{Problem, Subject};

use super::schedule::{Activity, Run, Shared};
use super::snapshot::Snapshot;
use super::table::{Claim, Outcome};
use super::view::Job;
use super::{Computation, Key, NoAnswer, Query, View};
use crate::words::{Remedy, Work};

impl<T> From<Outcome<T>> for Result<Arc<T>, NoAnswer> {
    fn from(outcome: Outcome<T>) -> Self {
        match outcome {
            Outcome::Answer(answer) => Ok(answer),
            Outcome::Failed(problem) => Err(NoAnswer::Problem(problem)),
            Outcome::Cancelled(problem) => Err(NoAnswer::Cancelled(problem)),
        }
    }
}

/// What is known of a question without computing.
#[derive(Debug)]
pub(crate) enum Known<T> {
    /// The answer is there.
    Ready(Arc<T>),
    /// It cannot be had.
    Failed(Problem),
    /// A person cancelled it.
    Cancelled(Problem),
    /// It has to be computed.
    NotYet,
}

impl Shared {
    /// What is known of a question, without computing; with labels in its sentences.
    pub(crate) fn look<Q: Query>(&self, query: &Q, snapshot: &Snapshot) -> Known<Q::Output> {
        let view = View { shared: self, snapshot, run: None };
        let names = &snapshot.names;
        let found = self.key_of(query, &view).and_then(|key| {
            match Q::table(self.tables()).recall(query, key, self.moment()) {
                Some(outcome) => Ok(self.labelled::<Q>(key, Result::from(outcome)?, snapshot)),
                None => Err(NoAnswer::NotYet),
            }
        });
        match found {
            Ok(answer) => Known::Ready(answer),
            Err(NoAnswer::Problem(problem)) => Known::Failed(names.put_into_problem(problem)),
            Err(NoAnswer::Cancelled(problem)) => Known::Cancelled(names.put_into_problem(problem)),
            Err(NoAnswer::NotYet | NoAnswer::Dropped) => Known::NotYet,
        }
    }

    /// The answer, computed on this thread where nobody else is at it; with labels in its sentences.
    ///
    /// # Errors
    /// Why it cannot be had.
    pub(crate) fn wait<Q: Query>(&self, query: &Q) -> Result<Arc<Q::Output>, Problem> {
        let run = self.new_run(true);
        for _ in 0..TRIES {
            let snapshot = self.snapshot();
            match self.compute(query, &snapshot, &run) {
                // Whoever waits asks once: the copy with labels is not kept.
                Ok((answer, _)) => return Ok(Q::labelled(&answer, &snapshot.names).unwrap_or(answer)),
                Err(NoAnswer::Problem(problem) | NoAnswer::Cancelled(problem)) => {
                    return Err(snapshot.names.put_into_problem(problem));
                }
                // A file was changed meanwhile: what is there now is asked.
                Err(NoAnswer::NotYet | NoAnswer::Dropped) => {}
            }
        }
        let snapshot = self.snapshot();
        Err(snapshot.names.put_into_problem(Problem::error(
            Subject::Series,
            Work::Interrupted { label: query.label(&snapshot.series) },
            Remedy::TryAgain,
        )))
    }

    /// The last answer that was given to a question, whatever it was made from.
    pub(crate) fn previous<Q: Query>(&self, query: &Q, snapshot: &Snapshot) -> Option<Arc<Q::Output>> {
        let (key, answer) = Q::table(self.tables()).previous(query)?;
        Some(self.labelled::<Q>(key, answer, snapshot))
    }

    /// An answer as it is shown again and again: with labels of films in its sentences.
    fn labelled<Q: Query>(&self, key: Key, answer: Arc<Q::Output>, snapshot: &Snapshot) -> Arc<Q::Output> {
        Q::table(self.tables()).labelled(key, answer, &snapshot.names)
    }

    /// The key of a question in the document of `view`; found once for each revision.
    pub(super) fn key_of<Q: Query>(&self, query: &Q, view: &View<'_>) -> Result<Key, NoAnswer> {
        let table = Q::table(self.tables());
        let revision = view.snapshot.revision;
        if let Some(found) = table.seen(query, revision) {
            return Ok(found?);
        }
        let found = query.inputs(view).map(|inputs| Key::of(&inputs));
        match &found {
            Ok(key) => table.note(query, revision, Ok(*key)),
            Err(NoAnswer::Problem(problem)) => table.note(query, revision, Err(problem.clone())),
            Err(NoAnswer::NotYet | NoAnswer::Cancelled(_) | NoAnswer::Dropped) => {}
        }
        found
    }

    /// The answer and its digest, computed on this thread where nobody else is at it.
    ///
    /// # Errors
    /// It cannot be had, or was stopped.
    pub(super) fn compute<Q: Query>(
        &self,
        query: &Q,
        snapshot: &Snapshot,
        run: &Run,
    ) -> Result<(Arc<Q::Output>, Key), NoAnswer> {
        let view = View { shared: self, snapshot, run: Some(run) };
        let key = self.key_of(query, &view)?;
        let table = Q::table(self.tables());
        let digest = || table.digest(key, self.moment()).and_then(Result::ok).unwrap_or(key);
        if let Some(outcome) = table.recall(query, key, self.moment()) {
            return Ok((Result::from(outcome)?, digest()));
        }
        let activity = Arc::new(Activity::new(self.next_id(), query.label(&snapshot.series)));
        if let Claim::Known(outcome) = table.claim(key, &activity, run, self.moment()) {
            return Ok((Result::from(outcome)?, digest()));
        }
        self.begin(Q::KIND, &activity);
        let wanted = |newest: &Snapshot| {
            let view = View { shared: self, snapshot: newest, run: None };
            matches!(self.key_of(query, &view), Ok(wanted) if wanted == key)
        };
        let job = Job {
            activity: &activity,
            wanted: &wanted,
            checked: AtomicU64::new(snapshot.revision),
            unwanted: AtomicBool::new(false),
        };
        let work = Computation::new(self, snapshot, run, &job);
        let made = catch_unwind(AssertUnwindSafe(|| {
            let inputs = query.inputs(&view)?;
            // Files may have been changed since the key was found.
            if Key::of(&inputs) == key { Q::compute(&inputs, &work) } else { Err(NoAnswer::Dropped) }
        }));
        let made = made.unwrap_or_else(|_| Err(NoAnswer::Problem(of_panic(activity.label()))));
        let outcome = settle(made, &job);
        let (digest, bytes) = match &outcome {
            Ok(Outcome::Answer(answer)) => {
                let (digest, bytes) = Q::weigh(answer, key);
                (Some(digest), bytes + Q::uncounted_bytes(answer))
            }
            Ok(Outcome::Failed(_) | Outcome::Cancelled(_)) | Err(_) => (None, 0),
        };
        let remembered = outcome.as_ref().ok().cloned().map(|outcome| (outcome, bytes));
        table.finish(key, remembered, digest, self.moment());
        self.end(&activity);
        run.follow(None);
        let answer = Result::from(outcome?)?;
        self.keep_within_budget();
        Ok((answer, digest.unwrap_or(key)))
    }
}

/// How often work that is waited for begins anew because its files were changed meanwhile.
const TRIES: usize = 3;

/// What is to be remembered of what was made; an error where nothing is.
fn settle<T>(made: Result<T, NoAnswer>, job: &Job<'_>) -> Result<Outcome<T>, NoAnswer> {
    if job.activity.is_cancelled() && made.is_err() {
        return Ok(Outcome::Cancelled(cancelled(job.activity.label())));
    }
    match made {
        Ok(answer) => Ok(Outcome::Answer(Arc::new(answer))),
        // A problem of a stopped computation is no problem of what it was to compute.
        Err(_) if job.unwanted.load(Ordering::Relaxed) => Err(NoAnswer::Dropped),
        Err(NoAnswer::Problem(problem)) => Ok(Outcome::Failed(problem)),
        Err(NoAnswer::Cancelled(problem)) => Ok(Outcome::Cancelled(problem)),
        Err(none @ (NoAnswer::NotYet | NoAnswer::Dropped)) => Err(none),
    }
}

/// The problem of work that a person stopped.
fn cancelled(label: &str) -> Problem {
    Problem::note(Subject::Series, Work::Cancelled { label: label.to_owned() }, Remedy::ChangeOrTryAgain)
}

/// The problem of work that broke: a fault of the program, shown like any other problem. What the fault says of itself is no
/// help to a reader and not part of it.
pub(super) fn of_panic(label: &str) -> Problem {
    Problem::error(Subject::Series, Work::Broke { label: label.to_owned() }, Remedy::ReportFault)
}
