//! Threads, their queue, and what they are at.
//!
//! For each question there is one run at most, waiting or running, and it takes the newest document when it starts: a drag
//! never builds a queue. What is looked at now comes first. One thread takes only short work, so that a long measurement
//! never holds up the screen; the other takes long work first.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU32, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant, UNIX_EPOCH};

use super::snapshot::Snapshot;
use super::table::{Moment, Pool};
use super::{Kind, Names, NoAnswer, Progress, Query, Tables, Work};

/// Bytes of pixels kept by default.
const PIXELS: usize = 1536 << 20;
/// Bytes of curves with all their resamplings kept: hundreds of them, for those of thousands of films are asked one after the
/// other.
const CURVES: usize = 192 << 20;
/// Bytes of everything else kept: results of thousands of films.
const NUMBERS: usize = 384 << 20;
/// Work shorter than this is not shown: it would flicker.
const SHOWN_AFTER: Duration = Duration::from_millis(100);
/// Least time between two calls for a new frame because of progress alone.
const PROGRESS_EVERY: Duration = Duration::from_millis(50);
/// What is fleeting and was not looked at for so long is not made before somebody looks again.
const FORGOTTEN_AFTER: Duration = Duration::from_secs(2);

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // Nothing that can panic runs under these locks, so a poisoned one is whole.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// One computation while it runs.
#[derive(Debug)]
pub(crate) struct Activity {
    id: u64,
    label: String,
    started: Instant,
    /// Bits of an `f32`; negative while it cannot be told.
    done: AtomicU32,
    cancelled: AtomicBool,
}

impl Activity {
    pub(super) fn new(id: u64, label: String) -> Self {
        Self {
            id,
            label,
            started: Instant::now(),
            done: AtomicU32::new((-1.0_f32).to_bits()),
            cancelled: AtomicBool::new(false),
        }
    }

    pub(super) fn label(&self) -> &str {
        &self.label
    }

    pub(super) fn is_cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }

    pub(super) fn set_done(&self, done: f32) {
        self.done.store(done.clamp(0.0, 1.0).to_bits(), Ordering::Relaxed);
    }

    fn progress(&self) -> Progress {
        let done = f32::from_bits(self.done.load(Ordering::Relaxed));
        Progress { done: (done >= 0.0).then_some(done) }
    }

    fn work(&self, names: &Names) -> Work {
        let progress = self.progress();
        let elapsed = self.started.elapsed().as_secs_f32();
        let seconds_left =
            progress.done.filter(|done| *done > 0.05).map(|done| elapsed / done * (1.0 - done));
        let mut label = self.label.clone();
        names.put_into(&mut label);
        Work { id: self.id, label, progress, seconds_left }
    }
}

/// The answering of one question: by a thread of the queue, or by one that waits for it.
#[derive(Debug)]
pub(crate) struct Run {
    /// Somebody blocks until it is there: it is never dropped because the document moved on.
    waited_for: bool,
    /// Order of asking.
    id: u64,
    /// When it was last looked at, milliseconds since the start.
    touched: AtomicU64,
    /// What is being computed for it now.
    following: Mutex<Option<Arc<Activity>>>,
}

impl Run {
    pub(super) fn is_waited_for(&self) -> bool {
        self.waited_for
    }

    pub(super) fn follow(&self, activity: Option<Arc<Activity>>) {
        *lock(&self.following) = activity;
    }

    fn progress(&self) -> Progress {
        lock(&self.following).as_ref().map_or_else(Progress::default, |activity| activity.progress())
    }
}

type Task = Box<dyn FnOnce(&Arc<Shared>) + Send>;

struct Queued {
    run: Arc<Run>,
    slow: bool,
    /// Not worth computing if nobody looks any more.
    fleeting: bool,
    task: Task,
    /// What to do in place of the task when it is dropped.
    forget: Task,
}

impl std::fmt::Debug for Queued {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Queued").field("run", &self.run).field("slow", &self.slow).finish_non_exhaustive()
    }
}

#[derive(Debug, Default)]
struct Queue {
    waiting: Vec<Queued>,
    /// How many tasks the threads are at.
    at_work: usize,
    threads: bool,
    closed: bool,
}

type Wake = Arc<dyn Fn() + Send + Sync>;

/// Size and time of change (nanoseconds since 1970) of a file; `None` where it is missing.
type Stamp = Option<(u64, u128)>;

/// Clocks and counters.
#[derive(Debug)]
struct Counters {
    started: Instant,
    ids: AtomicU64,
    uses: AtomicU64,
    last_progress: AtomicU64,
    ended: AtomicU64,
    retried: AtomicU64,
    computations: Vec<AtomicU64>,
}

/// What the session and its threads share.
pub(crate) struct Shared {
    tables: Tables,
    snapshot: Mutex<Snapshot>,
    revision: AtomicU64,
    files: Mutex<HashMap<PathBuf, Stamp>>,
    queue: Mutex<Queue>,
    queue_news: Condvar,
    activities: Mutex<Vec<Arc<Activity>>>,
    wake: Mutex<Option<Wake>>,
    counters: Counters,
    /// Bytes of pixels, and bytes of curves, that are kept.
    budget: AtomicUsize,
    curve_budget: AtomicUsize,
    /// Most bytes that a scan and its smaller copies may take where a person has set that; 0 where not.
    scan_limit: AtomicU64,
}

impl std::fmt::Debug for Shared {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Shared").field("revision", &self.revision).finish_non_exhaustive()
    }
}

impl Shared {
    pub(crate) fn new(snapshot: Snapshot) -> Arc<Self> {
        let counters = Counters {
            started: Instant::now(),
            ids: AtomicU64::new(1),
            uses: AtomicU64::new(1),
            last_progress: AtomicU64::new(0),
            ended: AtomicU64::new(0),
            retried: AtomicU64::new(0),
            computations: Kind::ALL.iter().map(|_| AtomicU64::new(0)).collect(),
        };
        Arc::new(Self {
            tables: Tables::default(),
            revision: AtomicU64::new(snapshot.revision),
            snapshot: Mutex::new(snapshot),
            files: Mutex::default(),
            queue: Mutex::default(),
            queue_news: Condvar::new(),
            activities: Mutex::default(),
            wake: Mutex::default(),
            counters,
            budget: AtomicUsize::new(PIXELS),
            curve_budget: AtomicUsize::new(CURVES),
            scan_limit: AtomicU64::new(0),
        })
    }

    pub(super) fn tables(&self) -> &Tables {
        &self.tables
    }

    /// The newest document.
    pub(crate) fn snapshot(&self) -> Snapshot {
        lock(&self.snapshot).clone()
    }

    /// Whether a document and its files are as this session knows them now.
    pub(crate) fn is_newest(&self, snapshot: &Snapshot) -> bool {
        snapshot.revision == self.revision()
    }

    /// Rises with every change of the document and every computation that ends: what is known is the same while it is.
    pub(crate) fn state(&self) -> (u64, u64) {
        (self.revision(), self.counters.ended.load(Ordering::Acquire))
    }

    pub(super) fn revision(&self) -> u64 {
        self.revision.load(Ordering::Acquire)
    }

    /// Makes a document the newest; gives it the next revision. What was cancelled may be asked for again.
    pub(crate) fn publish(&self, change: impl FnOnce(&mut Snapshot)) -> Snapshot {
        let mut snapshot = lock(&self.snapshot);
        *snapshot = snapshot.next(change);
        self.revision.store(snapshot.revision, Ordering::Release);
        snapshot.clone()
    }

    /// Forgets failures and cancellations, and looks at all files again.
    pub(crate) fn forget_failures(&self) {
        lock(&self.files).clear();
        let snapshot = self.publish(|_| {});
        self.counters.retried.store(snapshot.revision, Ordering::Release);
        self.news();
    }

    pub(super) fn next_id(&self) -> u64 {
        self.counters.ids.fetch_add(1, Ordering::Relaxed)
    }

    pub(super) fn moment(&self) -> Moment {
        Moment {
            now: self.counters.uses.fetch_add(1, Ordering::Relaxed),
            revision: self.revision(),
            retried: self.counters.retried.load(Ordering::Acquire),
        }
    }

    /// How often answers of a kind were computed since the session began.
    pub(crate) fn computations(&self, kind: Kind) -> u64 {
        self.counters.computations.get(kind as usize).map_or(0, |count| count.load(Ordering::Relaxed))
    }

    /// Sets the budget for pixels.
    pub(crate) fn set_budget(&self, bytes: usize) {
        self.budget.store(bytes, Ordering::Relaxed);
        self.keep_within_budget();
    }

    /// Sets the budget for curves.
    pub(crate) fn set_curve_budget(&self, bytes: usize) {
        self.curve_budget.store(bytes, Ordering::Relaxed);
        self.keep_within_budget();
    }

    /// Sets the most bytes that a scan may take; `None` leaves it to what the machine has free.
    pub(crate) fn set_scan_limit(&self, bytes: Option<u64>) {
        self.scan_limit.store(bytes.unwrap_or(0), Ordering::Relaxed);
    }

    pub(super) fn scan_limit(&self) -> Option<u64> {
        Some(self.scan_limit.load(Ordering::Relaxed)).filter(|bytes| *bytes > 0)
    }

    /// Bytes of pixels that are kept now.
    pub(crate) fn pixels_held(&self) -> usize {
        self.tables.held(Pool::Pixels)
    }

    /// Bytes of everything else that is kept now.
    pub(crate) fn results_held(&self) -> usize {
        self.tables.held(Pool::Curves) + self.tables.held(Pool::Numbers)
    }

    pub(super) fn keep_within_budget(&self) {
        self.tables.keep_within(Pool::Pixels, self.budget.load(Ordering::Relaxed));
        self.tables.keep_within(Pool::Curves, self.curve_budget.load(Ordering::Relaxed));
        self.tables.keep_within(Pool::Numbers, NUMBERS);
    }

    pub(super) fn known_stamp(&self, path: &Path) -> Option<Stamp> {
        lock(&self.files).get(path).copied()
    }

    pub(super) fn look_at_file(&self, path: &Path) -> Stamp {
        let stamp = stamp(path);
        lock(&self.files).insert(path.to_owned(), stamp);
        stamp
    }

    /// The stamp of a file as last looked at; looks where asked to.
    pub(crate) fn stamp_of(&self, path: &Path, look: bool) -> Option<Stamp> {
        self.known_stamp(path).or_else(|| look.then(|| self.look_at_file(path)))
    }

    /// Looks at every scan file of the series (again); a change begins a new revision.
    pub(crate) fn refresh_files(&self) {
        let Snapshot { series, folder, .. } = self.snapshot();
        let paths = series.scans.values().map(|entry| crate::store::paths::absolute(&folder, &entry.path));
        let newer: Vec<(PathBuf, Stamp)> = paths
            .map(|path| (stamp(&path), path))
            .filter(|(new, path)| self.known_stamp(path).as_ref() != Some(new))
            .map(|(new, path)| (path, new))
            .collect();
        if !newer.is_empty() {
            lock(&self.files).extend(newer);
            self.publish(|_| {});
            self.news();
        }
    }

    pub(crate) fn set_wake(&self, wake: Wake) {
        *lock(&self.wake) = Some(wake);
    }

    /// Calls for a new frame.
    pub(crate) fn news(&self) {
        let wake = lock(&self.wake).clone();
        if let Some(wake) = wake {
            wake();
        }
    }

    fn now_ms(&self) -> u64 {
        u64::try_from(self.counters.started.elapsed().as_millis()).unwrap_or(u64::MAX)
    }

    /// Calls for a new frame because of progress, not too often.
    pub(super) fn progress_news(&self) {
        let now = self.now_ms();
        let last = self.counters.last_progress.load(Ordering::Relaxed);
        let due = now >= last + u64::try_from(PROGRESS_EVERY.as_millis()).unwrap_or(0);
        let mine =
            self.counters.last_progress.compare_exchange(last, now, Ordering::Relaxed, Ordering::Relaxed);
        if due && mine.is_ok() {
            self.news();
        }
    }

    pub(super) fn begin(&self, kind: Kind, activity: &Arc<Activity>) {
        if let Some(count) = self.counters.computations.get(kind as usize) {
            count.fetch_add(1, Ordering::Relaxed);
        }
        lock(&self.activities).push(Arc::clone(activity));
    }

    pub(super) fn end(&self, activity: &Activity) {
        lock(&self.activities).retain(|other| other.id != activity.id);
        self.counters.ended.fetch_add(1, Ordering::Release);
    }

    /// Work in progress, oldest first.
    pub(crate) fn work(&self) -> Vec<Work> {
        let names = lock(&self.snapshot).names.clone();
        let activities = lock(&self.activities);
        let shown = activities.iter().filter(|activity| activity.started.elapsed() >= SHOWN_AFTER);
        shown.map(|activity| activity.work(&names)).collect()
    }

    /// Whether nothing is being computed, and nothing waits to be.
    pub(crate) fn is_at_rest(&self) -> bool {
        let queue = lock(&self.queue);
        queue.waiting.is_empty() && queue.at_work == 0 && lock(&self.activities).is_empty()
    }

    /// Cancels one computation.
    pub(crate) fn cancel(&self, id: u64) {
        for activity in lock(&self.activities).iter().filter(|activity| activity.id == id) {
            activity.cancelled.store(true, Ordering::Relaxed);
        }
    }

    pub(super) fn new_run(&self, waited_for: bool) -> Run {
        Run { waited_for, id: self.next_id(), touched: AtomicU64::new(0), following: Mutex::default() }
    }

    /// Sees to it that `query` is being answered, and says how far it is.
    pub(crate) fn request<Q: Query>(self: &Arc<Self>, query: &Q) -> Progress {
        let table = Q::table(&self.tables);
        let (run, new) = table.request(query, || Arc::new(self.new_run(false)));
        run.touched.store(self.now_ms(), Ordering::Relaxed);
        if new {
            let (task_run, task_query, forget_query) = (Arc::clone(&run), query.clone(), query.clone());
            let task: Task = Box::new(move |shared| shared.answer(&task_query, &task_run));
            let forget: Task = Box::new(move |shared| Q::table(&shared.tables).answered(&forget_query));
            let slow = query.slow();
            self.enqueue(Queued { run: Arc::clone(&run), slow, fleeting: Q::FLEETING, task, forget });
        }
        run.progress()
    }

    /// Answers a question on a thread of the queue.
    fn answer<Q: Query>(self: &Arc<Self>, query: &Q, run: &Run) {
        let snapshot = self.snapshot();
        let table = Q::table(&self.tables);
        let computed =
            std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| self.compute(query, &snapshot, run)));
        // Faults of computing are outcomes already; this one is of finding the inputs, and would come again and again.
        let fault = || NoAnswer::Problem(super::compute::of_panic(&query.label(&snapshot.series)));
        if let Err(NoAnswer::Problem(problem)) = computed.unwrap_or_else(|_| Err(fault()))
            && table.seen(query, snapshot.revision).is_none()
        {
            table.note(query, snapshot.revision, Err(problem));
        }
        table.answered(query);
        self.news();
    }

    /// Runs a task on a thread of the queue.
    pub(crate) fn spawn(self: &Arc<Self>, task: impl FnOnce(&Self) + Send + 'static) {
        let run = Arc::new(self.new_run(false));
        let task: Task = Box::new(move |shared| task(shared));
        self.enqueue(Queued { run, slow: false, fleeting: false, task, forget: Box::new(|_| {}) });
    }

    fn enqueue(self: &Arc<Self>, queued: Queued) {
        let mut queue = lock(&self.queue);
        queue.waiting.push(queued);
        if !queue.threads {
            queue.threads = true;
            for (name, long) in [("twinwedge-look", false), ("twinwedge-measure", true)] {
                let shared = Arc::clone(self);
                let thread = std::thread::Builder::new().name(name.to_owned());
                // Where no thread can be had, the other (or whoever waits) does the work.
                let _ = thread.spawn(move || shared.serve(long));
            }
        }
        drop(queue);
        self.queue_news.notify_all();
    }

    /// Ends the threads after what they are at, which is told to stop.
    pub(crate) fn close(&self) {
        lock(&self.queue).closed = true;
        for activity in lock(&self.activities).iter() {
            activity.cancelled.store(true, Ordering::Relaxed);
        }
        self.queue_news.notify_all();
    }

    /// Takes tasks until the session is closed.
    fn serve(self: Arc<Self>, long: bool) {
        while let Some(queued) = self.next(long) {
            let seen = Duration::from_millis(queued.run.touched.load(Ordering::Relaxed));
            let now = Duration::from_millis(self.now_ms());
            if queued.fleeting && now.saturating_sub(seen) > FORGOTTEN_AFTER {
                (queued.forget)(&self);
                self.news();
            } else {
                (queued.task)(&self);
            }
            lock(&self.queue).at_work -= 1;
        }
    }

    /// The next task: what was looked at within the same moment in the order of asking, the latest moment first.
    fn next(&self, long: bool) -> Option<Queued> {
        let mut queue = lock(&self.queue);
        loop {
            if queue.closed {
                return None;
            }
            let fits = queue.waiting.iter().enumerate().filter(|(_, queued)| long || !queued.slow);
            let best = fits.max_by_key(|(_, queued)| {
                let moment = queued.run.touched.load(Ordering::Relaxed) / 50;
                (long && queued.slow, moment, std::cmp::Reverse(queued.run.id))
            });
            if let Some((index, _)) = best {
                queue.at_work += 1;
                return Some(queue.waiting.swap_remove(index));
            }
            queue = self.queue_news.wait(queue).unwrap_or_else(PoisonError::into_inner);
        }
    }
}

/// Size and time of change of a file.
fn stamp(path: &Path) -> Stamp {
    let stamp = crate::disk::stamp(path).ok()?;
    let changed = stamp.changed.and_then(|time| time.duration_since(UNIX_EPOCH).ok());
    Some((stamp.length, changed.map_or(0, |time| time.as_nanos())))
}
