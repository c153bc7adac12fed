//! How questions are looked up and answered: without blocking, or by computing.

use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use twinwedge_core::document::{Film, FilmId, ScanEntry, ScanId, Series};
use twinwedge_core::problem::{Problem, Subject};

use super::schedule::{Activity, Run, Shared};
use super::table::{Claim, Outcome};
use super::{Ask, Key};

/// What derived results are derived from: the document at one moment, and where its files lie.
#[derive(Debug, Clone)]
pub(crate) struct World {
    /// The document.
    pub(crate) series: Arc<Series>,
    /// Where each film stands in it.
    places: Arc<HashMap<FilmId, usize>>,
    /// The folder that scan paths are relative to.
    pub(crate) folder: Arc<Path>,
    /// Rises with every change of document or files.
    pub(crate) revision: u64,
}

impl World {
    pub(crate) fn new(series: Arc<Series>, folder: Arc<Path>) -> Self {
        Self { places: places(&series), series, folder, revision: 0 }
    }

    /// The next revision, with what `change` made of this one.
    pub(super) fn next(&self, change: impl FnOnce(&mut Self)) -> Self {
        let mut next = self.clone();
        change(&mut next);
        if !Arc::ptr_eq(&next.series, &self.series) {
            next.places = places(&next.series);
        }
        Self { revision: self.revision + 1, ..next }
    }

    /// Where a film stands in the document: found as fast among thousands as among ten.
    pub(crate) fn place(&self, id: &FilmId) -> Option<usize> {
        self.places.get(id).copied()
    }
}

/// Where each film stands; of two of one name the first.
fn places(series: &Series) -> Arc<HashMap<FilmId, usize>> {
    // From the last, so that the first of a name is what remains.
    Arc::new(series.films.iter().enumerate().rev().map(|(place, film)| (film.id.clone(), place)).collect())
}

/// Why there is no answer.
#[derive(Debug, Clone)]
pub enum Halt {
    /// What it is made from is not known yet.
    NotYet,
    /// It cannot be had.
    Problem(Problem),
    /// A person cancelled it, or something it is made from.
    Cancelled(Problem),
    /// Nobody wants it any more: the document moved on.
    Dropped,
}

impl Halt {
    /// The same, about something else where it is a problem.
    pub fn about(self, subject: &Subject) -> Self {
        match self {
            Self::Problem(problem) => Self::Problem(problem.about(subject.clone())),
            other => other,
        }
    }
}

impl From<Problem> for Halt {
    fn from(problem: Problem) -> Self {
        Self::Problem(problem)
    }
}

impl<T> From<Outcome<T>> for Result<Arc<T>, Halt> {
    fn from(outcome: Outcome<T>) -> Self {
        match outcome {
            Outcome::Answer(answer) => Ok(answer),
            Outcome::Failed(problem) => Err(Halt::Problem(problem)),
            Outcome::Cancelled(problem) => Err(Halt::Cancelled(problem)),
        }
    }
}

/// What is known of a question without computing.
#[derive(Debug)]
pub(crate) enum Look<T> {
    /// The answer.
    Ready(Arc<T>),
    /// It cannot be had.
    Failed(Problem),
    /// It has to be computed.
    NotYet,
}

/// The computation of one key.
struct Job<'a> {
    activity: &'a Activity,
    /// Whether the newest document still asks for this key.
    wanted: &'a (dyn Fn(&World) -> bool + Sync),
    /// The revision for which that was last found out.
    checked: AtomicU64,
    unwanted: AtomicBool,
}

/// What an answer may look at: the document, the stamps of files, and other answers.
pub struct View<'a> {
    shared: &'a Shared,
    world: &'a World,
    /// Set where missing answers are computed; else they are [`Halt::NotYet`].
    run: Option<&'a Run>,
    job: Option<&'a Job<'a>>,
}

impl std::fmt::Debug for View<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("View").field("revision", &self.world.revision).finish_non_exhaustive()
    }
}

impl View<'_> {
    /// The document.
    #[must_use]
    pub fn series(&self) -> &Series {
        &self.world.series
    }

    /// The film of that name.
    #[must_use]
    pub fn film(&self, id: &FilmId) -> Option<&Film> {
        self.series().films.get(self.world.place(id)?)
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
        self.series().scans.get(scan).ok_or_else(|| {
            Problem::error(
                Subject::Scan(scan.clone()),
                "The series refers to a scan that is not in it.",
                "Add the scan again, or choose another one.",
            )
        })
    }

    /// Where a scan's file lies.
    #[must_use]
    pub fn path_of(&self, entry: &ScanEntry) -> PathBuf {
        crate::store::paths::absolute(&self.world.folder, &entry.path)
    }

    /// Size and time of change of a file, as last looked at; `None` where it is missing.
    ///
    /// # Errors
    /// Not looked at yet, and this view does not look.
    pub fn stamp(&self, path: &Path) -> Result<Option<(u64, u128)>, Halt> {
        match self.shared.known_stamp(path) {
            Some(stamp) => Ok(stamp),
            None if self.run.is_some() => Ok(self.shared.look_at_file(path)),
            None => Err(Halt::NotYet),
        }
    }

    /// Another answer.
    ///
    /// # Errors
    /// It cannot be had, or not yet.
    pub fn get<A: Ask>(&self, ask: &A) -> Result<Arc<A::Output>, Halt> {
        match self.run {
            Some(run) => self.shared.compute(ask, self.world, run).map(|(answer, _)| answer),
            None => match self.shared.look(ask, self.world)? {
                Look::Ready(answer) => Ok(answer),
                Look::Failed(problem) => Err(Halt::Problem(problem)),
                Look::NotYet => Err(Halt::NotYet),
            },
        }
    }

    /// Another answer, or the problem why there is none: for results that do without it.
    ///
    /// # Errors
    /// Not yet, or the work was stopped.
    pub fn try_get<A: Ask>(&self, ask: &A) -> Result<Result<Arc<A::Output>, Problem>, Halt> {
        match self.get(ask) {
            Ok(answer) => Ok(Ok(answer)),
            Err(Halt::Problem(problem)) => Ok(Err(problem)),
            Err(halt) => Err(halt),
        }
    }

    /// The digest of another answer, to make a key of.
    ///
    /// # Errors
    /// It cannot be had, or not yet.
    pub fn digest<A: Ask>(&self, ask: &A) -> Result<Key, Halt> {
        let key = self.shared.key_of(ask, self)?;
        if A::BY_RECIPE {
            return Ok(key);
        }
        match A::table(self.shared.tables()).digest(key, self.shared.moment()) {
            Some(Ok(digest)) => Ok(digest),
            Some(Err(outcome)) => Err(Result::from(outcome).err().unwrap_or(Halt::NotYet)),
            None => match self.run {
                Some(run) => self.shared.compute(ask, self.world, run).map(|(_, digest)| digest),
                None => Err(Halt::NotYet),
            },
        }
    }

    /// The digest of another answer, or the problem why there is none.
    ///
    /// # Errors
    /// Not yet, or the work was stopped.
    pub fn try_digest<A: Ask>(&self, ask: &A) -> Result<Result<Key, Problem>, Halt> {
        match self.digest(ask) {
            Ok(digest) => Ok(Ok(digest)),
            Err(Halt::Problem(problem)) => Ok(Err(problem)),
            Err(halt) => Err(halt),
        }
    }

    /// Whether to stop: cancelled, or wanted no more. Cheap enough to be asked for each row of pixels.
    #[must_use]
    pub fn stop(&self) -> bool {
        let Some(job) = self.job else { return false };
        if job.activity.is_cancelled() || job.unwanted.load(Ordering::Relaxed) {
            return true;
        }
        let newest = self.shared.revision();
        let waited_for = self.run.is_some_and(Run::is_waited_for);
        if waited_for || job.checked.swap(newest, Ordering::Relaxed) == newest {
            return false;
        }
        let unwanted = !(job.wanted)(&self.shared.world());
        job.unwanted.fetch_or(unwanted, Ordering::Relaxed);
        unwanted
    }

    /// Most bytes that a scan and its smaller copies may take, where a person has set that.
    pub(super) fn scan_limit(&self) -> Option<u64> {
        self.shared.scan_limit()
    }

    /// Notes the share done and says whether to go on.
    #[must_use]
    pub fn progress(&self, done: f32) -> bool {
        if let Some(job) = self.job {
            job.activity.set_done(done);
            self.shared.progress_news();
        }
        !self.stop()
    }
}

impl Shared {
    /// What is known of a question, without computing.
    ///
    /// # Errors
    /// A cancelled one.
    pub(crate) fn look<A: Ask>(&self, ask: &A, world: &World) -> Result<Look<A::Output>, Halt> {
        let view = View { shared: self, world, run: None, job: None };
        let key = match self.key_of(ask, &view) {
            Ok(key) => key,
            Err(Halt::Problem(problem)) => return Ok(Look::Failed(problem)),
            Err(Halt::NotYet | Halt::Dropped) => return Ok(Look::NotYet),
            Err(halt @ Halt::Cancelled(_)) => return Err(halt),
        };
        match A::table(self.tables()).recall(ask, key, self.moment()) {
            Some(Outcome::Answer(answer)) => Ok(Look::Ready(answer)),
            Some(Outcome::Failed(problem)) => Ok(Look::Failed(problem)),
            Some(Outcome::Cancelled(problem)) => Err(Halt::Cancelled(problem)),
            None => Ok(Look::NotYet),
        }
    }

    /// The key of a question in the world of `view`; found once for each revision.
    fn key_of<A: Ask>(&self, ask: &A, view: &View<'_>) -> Result<Key, Halt> {
        let table = A::table(self.tables());
        let revision = view.world.revision;
        if let Some(found) = table.seen(ask, revision) {
            return Ok(found?);
        }
        // Computing goes on below, whoever is watching above: the key is found without the job's own stop.
        let plain = View { job: None, ..*view };
        let found = ask.key(&plain);
        match &found {
            Ok(key) => table.note(ask, revision, Ok(*key)),
            Err(Halt::Problem(problem)) => table.note(ask, revision, Err(problem.clone())),
            Err(Halt::NotYet | Halt::Cancelled(_) | Halt::Dropped) => {}
        }
        found
    }

    /// The answer and its digest, computed on this thread where nobody else is at it.
    ///
    /// # Errors
    /// It cannot be had, or was stopped.
    pub(crate) fn compute<A: Ask>(
        &self,
        ask: &A,
        world: &World,
        run: &Run,
    ) -> Result<(Arc<A::Output>, Key), Halt> {
        let view = View { shared: self, world, run: Some(run), job: None };
        let key = self.key_of(ask, &view)?;
        let table = A::table(self.tables());
        let digest =
            |table: &super::Table<A>| table.digest(key, self.moment()).and_then(Result::ok).unwrap_or(key);
        if let Some(outcome) = table.recall(ask, key, self.moment()) {
            return Ok((Result::from(outcome)?, digest(table)));
        }
        let activity = Arc::new(Activity::new(self.next_id(), ask.label(&world.series)));
        if let Claim::Known(outcome) = table.claim(key, &activity, run, self.moment()) {
            return Ok((Result::from(outcome)?, digest(table)));
        }
        self.begin(A::KIND, &activity);
        let wanted = |newest: &World| {
            let view = View { shared: self, world: newest, run: None, job: None };
            matches!(self.key_of(ask, &view), Ok(wanted) if wanted == key)
        };
        let job = Job {
            activity: &activity,
            wanted: &wanted,
            checked: AtomicU64::new(world.revision),
            unwanted: AtomicBool::new(false),
        };
        let view = View { shared: self, world, run: Some(run), job: Some(&job) };
        let made = catch_unwind(AssertUnwindSafe(|| ask.make(&view)));
        let made = made.unwrap_or_else(|panic| Err(Halt::Problem(of_panic(&activity, &*panic))));
        let outcome = self.settle(made, &job);
        let remembered = outcome.as_ref().ok().cloned();
        let digest = match &remembered {
            Some(Outcome::Answer(answer)) => Some(A::digest(answer, key)),
            Some(Outcome::Failed(_) | Outcome::Cancelled(_)) | None => None,
        };
        let bytes = match &remembered {
            Some(Outcome::Answer(answer)) => A::bytes(answer),
            Some(Outcome::Failed(_) | Outcome::Cancelled(_)) | None => 0,
        };
        table.finish(key, remembered.map(|outcome| (outcome, bytes)), digest, self.moment());
        self.end(&activity);
        run.follow(None);
        let answer = Result::from(outcome?)?;
        self.keep_within_budget();
        Ok((answer, digest.unwrap_or(key)))
    }

    /// What is to be remembered of what was made; an error where nothing is.
    fn settle<T>(&self, made: Result<T, Halt>, job: &Job<'_>) -> Result<Outcome<T>, Halt> {
        if job.activity.is_cancelled() && made.is_err() {
            return Ok(Outcome::Cancelled(cancelled(job.activity.label())));
        }
        match made {
            Ok(answer) => Ok(Outcome::Answer(Arc::new(answer))),
            // A problem of a stopped computation is no problem of what it was to compute.
            Err(_) if job.unwanted.load(Ordering::Relaxed) => Err(Halt::Dropped),
            Err(Halt::Problem(problem)) => Ok(Outcome::Failed(problem)),
            Err(Halt::Cancelled(problem)) => Ok(Outcome::Cancelled(problem)),
            Err(halt @ (Halt::NotYet | Halt::Dropped)) => Err(halt),
        }
    }
}

/// The problem of work that a person stopped.
fn cancelled(label: &str) -> Problem {
    Problem::note(
        Subject::Series,
        format!("'{label}' was cancelled."),
        "Change something it is made from, or try again.",
    )
}

/// The problem of work that broke: a fault of the program, shown like any other problem.
pub(super) fn of_panic(activity: &Activity, panic: &(dyn std::any::Any + Send)) -> Problem {
    let text = panic.downcast_ref::<String>().map(String::as_str).or(panic.downcast_ref::<&str>().copied());
    Problem::error(
        Subject::Series,
        format!(
            "'{}' failed by a fault of the program: {}.",
            activity.label(),
            text.unwrap_or("no more is known")
        ),
        "Everything else goes on; save the series. Please report this with the file that it was about.",
    )
}
