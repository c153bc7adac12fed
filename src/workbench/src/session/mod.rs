//! The session: one open series, its history, and everything derived from it.

mod bracket_problems;
mod edit;
mod encoding_problems;
mod finding;
mod history;
mod problems;
mod recovering;
mod saving;
mod scan_problems;

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use twinwedge_core::document::{Channel, FilmId, FlatSource, ScanEntry, ScanId, Series};
use twinwedge_core::geometry::Point;
use twinwedge_core::problem::Problem;
use twinwedge_core::tablet::{StepSample, sample_disc};

use crate::edits::Operation;
use crate::engine::ask::{CurveOf, FilmCurve, FlatOf, MixOf, PredictedOf, ScanOf, ToneOf};
use crate::engine::{Kind, Known, Query, Shared, Slot, Snapshot, Work};
use crate::store::paths;
use history::History;
use recovering::Recovering;
use saving::Place;

pub use edit::{Change, Edit};
pub use encoding_problems::{guess_in_words, other_number, under_each};
pub use finding::{find_again, find_all};
pub use problems::{Check, FEWER_STEPS, count, fewer_steps};
pub use saving::OnDisk;

/// What [`Session::problems`] last found, and what was known then.
#[derive(Debug)]
struct Told {
    state: (u64, u64),
    problems: Vec<Problem>,
}

/// An open series.
#[derive(Debug)]
pub struct Session {
    shared: Arc<Shared>,
    snapshot: Snapshot,
    history: History,
    place: Option<Place>,
    /// The document as it was last saved.
    saved: Option<Arc<Series>>,
    unsaved: bool,
    recovering: Recovering,
    problems: Mutex<Option<Told>>,
    /// Another session's answers are read; they stay when this one ends.
    reads_another: bool,
}

impl Drop for Session {
    fn drop(&mut self) {
        if !self.reads_another {
            self.shared.close();
        }
    }
}

/// A session's document and answers, for another thread: to ask, not to change. What is asked is answered for the document as
/// it stands then in the session that it was made from.
#[derive(Debug)]
pub struct Reading(Session);

impl std::ops::Deref for Reading {
    type Target = Session;

    fn deref(&self) -> &Session {
        &self.0
    }
}

impl Session {
    /// A session on a new, empty, unsaved series.
    #[must_use]
    pub fn empty() -> Self {
        let mut session = Self::of(Series::default(), PathBuf::new());
        // Nothing would be lost yet.
        session.saved = Some(Arc::clone(&session.snapshot.series));
        session.unsaved = false;
        session
    }

    /// Opens a series file. Missing or changed scans are problems of the session, not failures.
    ///
    /// # Errors
    /// The file cannot be read, is no series, or is from a newer version.
    pub fn open(path: &Path) -> Result<Self, Problem> {
        let (series, place) = saving::read(path)?;
        let mut session = Self::of(series, paths::folder_of(path));
        session.saved = Some(Arc::clone(&session.snapshot.series));
        session.unsaved = false;
        session.place = Some(place);
        Ok(session)
    }

    /// A session on a series that was just made, saved nowhere; scan paths are relative to `folder`.
    #[must_use]
    pub fn of(series: Series, folder: PathBuf) -> Self {
        let snapshot = Snapshot::new(Arc::new(series), folder.into());
        Self {
            shared: Shared::new(snapshot.clone()),
            snapshot,
            history: History::default(),
            place: None,
            saved: None,
            unsaved: true,
            recovering: Recovering::default(),
            problems: Mutex::default(),
            reads_another: false,
        }
    }

    /// The document and what is known of it, to be read from another thread.
    #[must_use]
    pub fn reading(&self) -> Reading {
        Reading(Self {
            shared: Arc::clone(&self.shared),
            snapshot: self.snapshot.clone(),
            history: History::default(),
            place: None,
            saved: None,
            unsaved: false,
            recovering: Recovering::default(),
            problems: Mutex::default(),
            reads_another: true,
        })
    }

    /// Called (from any thread) when something that was asked for is there: the window asks for a new frame.
    pub fn on_news(&self, wake: impl Fn() + Send + Sync + 'static) {
        self.shared.set_wake(Arc::new(wake));
    }

    /// The document as it stands, gesture included.
    #[must_use]
    pub fn series(&self) -> &Arc<Series> {
        &self.snapshot.series
    }

    /// Where it is saved, if it is.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        self.place.as_ref().map(|place| place.path.as_path())
    }

    /// The folder that scan paths are relative to.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.snapshot.folder
    }

    /// Whether there are changes that are not saved.
    #[must_use]
    pub fn unsaved(&self) -> bool {
        self.unsaved
    }

    /// Makes `series` the document: in memory only; the history is the caller's.
    fn show(&mut self, series: Arc<Series>) {
        if Arc::ptr_eq(&series, &self.snapshot.series) {
            return;
        }
        self.unsaved =
            !self.saved.as_ref().is_some_and(|saved| Arc::ptr_eq(saved, &series) || *saved == series);
        self.snapshot = self.shared.publish(|snapshot| snapshot.series = series);
        self.recovering.changed();
    }

    /// Makes one change, one step in the history. A change that changes nothing leaves no step. A gesture under way is
    /// committed first.
    ///
    /// # Errors
    /// What the edit found, or a value that its field may not hold; the document is as before.
    pub fn apply(&mut self, edit: Edit) -> Result<(), Problem> {
        self.commit();
        let mut series = Series::clone(&self.snapshot.series);
        (edit.change)(&mut series)?;
        if series != *self.snapshot.series {
            series.check().map_err(|fault| Problem::of_fault(*fault))?;
            let before = Arc::clone(&self.snapshot.series);
            self.history.step(edit.label, before);
            self.show(Arc::new(series));
        }
        Ok(())
    }

    /// Carries out an operation as one step of the history; answers what the step is called, or nothing where nothing changed.
    ///
    /// # Errors
    /// As [`Self::apply`].
    pub fn carry_out(&mut self, operation: impl Into<Operation>) -> Result<Option<String>, Problem> {
        self.commit();
        let operation = operation.into();
        let label = operation.label(&self.snapshot.series);
        let before = Arc::clone(&self.snapshot.series);
        self.apply(Edit::fallible(label.clone(), move |series| operation.apply(series)))?;
        Ok((!Arc::ptr_eq(&before, &self.snapshot.series)).then_some(label))
    }

    /// Begins a gesture (a drag): previews follow, then commit or abort. Begun twice is once.
    pub fn begin(&mut self, label: &str) {
        self.history.begin(label, &self.snapshot.series);
    }

    /// Shows the document as a gesture would leave it that does this operation to the document as it was at its begin. The
    /// first preview begins the gesture, which is called as its operation is.
    ///
    /// # Errors
    /// As [`Self::preview_with`].
    pub fn preview(&mut self, operation: impl Into<Operation>) -> Result<(), Problem> {
        let operation = operation.into();
        let before = self.history.gesture_start().unwrap_or(&self.snapshot.series);
        let label = operation.label(before);
        self.begin(&label);
        self.preview_with(move |series| operation.apply(series))
    }

    /// The same with any change; without a gesture it begins one named 'change'.
    ///
    /// # Errors
    /// What the change found, or a value that its field may not hold; the document is as at `begin`.
    pub fn preview_with(
        &mut self,
        change: impl FnOnce(&mut Series) -> Result<(), Problem>,
    ) -> Result<(), Problem> {
        self.begin("change");
        let before =
            self.history.gesture_start().map_or_else(|| Arc::clone(&self.snapshot.series), Arc::clone);
        let mut series = Series::clone(&before);
        let changed = change(&mut series).and_then(|()| {
            if series == *before { Ok(()) } else { series.check().map_err(|fault| Problem::of_fault(*fault)) }
        });
        let shown = if changed.is_ok() && series != *before { Arc::new(series) } else { before };
        self.show(shown);
        changed
    }

    /// Ends the gesture as one step in the history (none if nothing changed).
    pub fn commit(&mut self) {
        self.history.commit(&self.snapshot.series);
    }

    /// Ends the gesture as if it had not been.
    pub fn abort(&mut self) {
        if let Some(before) = self.history.abort() {
            self.show(before);
        }
    }

    /// What `undo` would undo.
    #[must_use]
    pub fn undo_label(&self) -> Option<&str> {
        self.history.undo_label()
    }

    /// What `redo` would redo.
    #[must_use]
    pub fn redo_label(&self) -> Option<&str> {
        self.history.redo_label()
    }

    /// Takes the last step back; a gesture under way is that step.
    pub fn undo(&mut self) {
        self.commit();
        if let Some(series) = self.history.undo(&self.snapshot.series) {
            self.show(series);
        }
    }

    /// Makes the step taken back again.
    pub fn redo(&mut self) {
        self.commit();
        if let Some(series) = self.history.redo(&self.snapshot.series) {
            self.show(series);
        }
    }

    /// What is known of `query` now. Never blocks; asks for it to be computed if it is not.
    pub fn peek<Q: Query>(&self, query: &Q) -> Slot<Q::Output> {
        match self.look(query) {
            Known::Ready(answer) => Slot::Ready(answer),
            Known::Failed(problem) | Known::Cancelled(problem) => Slot::Failed(problem),
            Known::NotYet => {
                let progress = self.shared.request(query);
                match self.shared.previous(query, &self.snapshot) {
                    Some(previous) => Slot::Stale(previous, progress),
                    None => Slot::Pending(progress),
                }
            }
        }
    }

    /// What is known without asking for more.
    fn look<Q: Query>(&self, query: &Q) -> Known<Q::Output> {
        // Files may have changed on the disk since the last edit: that has made a revision of its own.
        if self.shared.is_newest(&self.snapshot) {
            self.shared.look(query, &self.snapshot)
        } else {
            self.shared.look(query, &self.shared.snapshot())
        }
    }

    /// The answer to `query`, computed now if need be, on this thread and its helpers.
    ///
    /// # Errors
    /// Why it cannot be had.
    pub fn wait<Q: Query>(&self, query: &Q) -> Result<Arc<Q::Output>, Problem> {
        self.shared.wait(query)
    }

    /// The curve of a film that comparisons use, as measured or as predicted. Never blocks.
    pub fn peek_compared(&self, film: &FilmId) -> Slot<FilmCurve> {
        if self.series().predicts(film) {
            self.peek(&PredictedOf { film: film.clone() })
        } else {
            self.peek(&CurveOf { film: film.clone() })
        }
    }

    /// The same, computed now if need be.
    ///
    /// # Errors
    /// Why it cannot be had.
    pub fn wait_compared(&self, film: &FilmId) -> Result<Arc<FilmCurve>, Problem> {
        if self.series().predicts(film) {
            self.wait(&PredictedOf { film: film.clone() })
        } else {
            self.wait(&CurveOf { film: film.clone() })
        }
    }

    /// What a pointer at `at` (in the scan's pixels) reads over a disc of `radius` pixels; `None` while the scan is not
    /// there yet. Never waits; asks for the scan.
    #[must_use]
    pub fn sample_at(&self, scan: &ScanId, at: Point, radius: f64) -> Option<Result<StepSample, Problem>> {
        let entry = self.series().scans.get(scan)?;
        self.sample_now(scan, entry, at, radius).transpose()
    }

    fn sample_now(
        &self,
        scan: &ScanId,
        entry: &ScanEntry,
        at: Point,
        radius: f64,
    ) -> Result<Option<StepSample>, Problem> {
        let Some(mut codes) = self.known(&ScanOf { scan: scan.clone() })? else { return Ok(None) };
        if codes.channels == 3 && matches!(entry.channel, Channel::Mix { .. }) {
            let Some(mix) = self.known(&MixOf { scan: scan.clone() })? else { return Ok(None) };
            codes = mix;
        }
        let flat = match entry.flat {
            FlatSource::Nothing => None,
            FlatSource::Blank(_) | FlatSource::Border(_) => {
                let Some(flat) = self.known(&FlatOf { scan: scan.clone() })? else { return Ok(None) };
                Some(flat)
            }
        };
        let Some(table) = self.known(&ToneOf { scan: scan.clone() })? else { return Ok(None) };
        let plane = codes.plane(entry.channel).corrected(flat.as_deref());
        sample_disc(plane, &table, at, radius).map(Some)
    }

    /// An up-to-date answer, if it is there; asks for it.
    fn known<Q: Query>(&self, query: &Q) -> Result<Option<Arc<Q::Output>>, Problem> {
        match self.peek(query) {
            Slot::Ready(answer) => Ok(Some(answer)),
            Slot::Failed(problem) => Err(problem),
            Slot::Stale(..) | Slot::Pending(_) => Ok(None),
        }
    }

    /// Work in progress, oldest first; what takes less than a tenth of a second is not told.
    #[must_use]
    pub fn work(&self) -> Vec<Work> {
        self.shared.work()
    }

    /// Whether nothing is being computed and nothing waits to be, however short it is.
    #[must_use]
    pub fn is_at_rest(&self) -> bool {
        self.shared.is_at_rest()
    }

    /// Cancels one work; its slot fails with 'cancelled' until asked again by an edit or [`Session::retry`].
    pub fn cancel(&self, work: u64) {
        self.shared.cancel(work);
    }

    /// Forgets failures and cancellations, so that they are tried again.
    pub fn retry(&self) {
        self.shared.forget_failures();
    }

    /// How often answers of a kind were computed since the session began.
    #[must_use]
    pub fn computations(&self, kind: Kind) -> u64 {
        self.shared.computations(kind)
    }

    /// Sets how many bytes of scans, their smaller copies and tiles are kept in memory; what is in use stays.
    pub fn set_memory(&self, bytes: usize) {
        self.shared.set_budget(bytes);
    }

    /// Sets how many bytes of curves with their resamplings are kept in memory; what is in use stays, and so do all figures.
    pub fn set_curve_memory(&self, bytes: usize) {
        self.shared.set_curve_budget(bytes);
    }

    /// Sets the most bytes that one scan and its smaller copies may take; `None` leaves it to what the machine has free when
    /// the scan is opened. A scan that needs more is refused before it is decoded.
    pub fn set_scan_limit(&self, bytes: Option<u64>) {
        self.shared.set_scan_limit(bytes);
    }

    /// Bytes of scans, their smaller copies and tiles in memory.
    #[must_use]
    pub fn memory(&self) -> usize {
        self.shared.pixels_held()
    }

    /// Bytes of curves, figures and all other results in memory, about.
    #[must_use]
    pub fn memory_of_results(&self) -> usize {
        self.shared.results_held()
    }
}
