//! What is remembered of each kind of question.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

use twinwedge_core::problem::Problem;

use super::ask::Tables;
use super::schedule::{Activity, Run};
use super::{Key, Names, NoAnswer, Question};

/// What became of a computation.
#[derive(Debug)]
pub(super) enum Outcome<T> {
    /// It was answered.
    Answer(Arc<T>),
    /// It cannot be had.
    Failed(Problem),
    /// A person stopped it.
    Cancelled(Problem),
}

// By hand: a derived one would ask that `T` be `Clone`.
impl<T> Clone for Outcome<T> {
    fn clone(&self) -> Self {
        match self {
            Self::Answer(answer) => Self::Answer(Arc::clone(answer)),
            Self::Failed(problem) => Self::Failed(problem.clone()),
            Self::Cancelled(problem) => Self::Cancelled(problem.clone()),
        }
    }
}

struct Entry<T> {
    outcome: Outcome<T>,
    /// The answer with labels in its sentences, and the labels.
    labelled: Option<(Arc<Names>, Arc<T>)>,
    bytes: usize,
    used: u64,
    /// The newest revision when it was made.
    made: u64,
}

impl<T> Entry<T> {
    /// Failures hold until all are tried again, cancellations until the document changes.
    fn holds(&self, moment: Moment) -> bool {
        match self.outcome {
            Outcome::Answer(_) => true,
            Outcome::Failed(_) => self.made >= moment.retried,
            Outcome::Cancelled(_) => self.made >= moment.revision,
        }
    }
}

/// When something is looked up or noted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    /// Rises with every look.
    pub(super) now: u64,
    /// The newest revision.
    pub(super) revision: u64,
    /// The revision at which failures were last forgotten.
    pub(super) retried: u64,
}

/// What was found for a question at one revision of the document.
#[derive(Debug, Clone)]
enum Found {
    /// The key that its inputs have.
    Key(Key),
    /// It has no key, and why.
    Problem(Problem),
}

#[derive(Debug)]
struct Seen {
    revision: u64,
    found: Found,
    /// Key of the last answer that was given.
    last_good: Option<Key>,
}

struct Inner<Q: Question> {
    seen: HashMap<Q, Seen>,
    memo: HashMap<Key, Entry<Q::Output>>,
    /// Digests of answers, also of those no longer in memory: dependents get their keys without them.
    digests: HashMap<Key, Key>,
    running: HashMap<Key, Arc<Activity>>,
    requested: HashMap<Q, Arc<Run>>,
    /// Of all that is in `memo`.
    bytes: usize,
    /// So many of `seen` make it forget older revisions.
    most_seen: usize,
}

/// All that is remembered of one kind of question.
pub struct Table<Q: Question> {
    inner: Mutex<Inner<Q>>,
    finished: Condvar,
}

impl<Q: Question> std::fmt::Debug for Table<Q> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Table").field("remembered", &self.lock().memo.len()).finish_non_exhaustive()
    }
}

impl<Q: Question> Default for Table<Q> {
    fn default() -> Self {
        let inner = Inner {
            seen: HashMap::new(),
            memo: HashMap::new(),
            digests: HashMap::new(),
            running: HashMap::new(),
            requested: HashMap::new(),
            bytes: 0,
            most_seen: SEEN,
        };
        Self { inner: Mutex::new(inner), finished: Condvar::new() }
    }
}

/// Who computes a key.
pub(super) enum Claim<T> {
    /// Nobody needs to.
    Known(Outcome<T>),
    /// The caller, under this activity.
    Mine,
}

/// More questions than any page shows: what was seen at older revisions is forgotten beyond it.
const SEEN: usize = 20_000;

impl<Q: Question> Table<Q> {
    fn lock(&self) -> MutexGuard<'_, Inner<Q>> {
        // Nothing that can panic runs under the lock, so a poisoned one is whole.
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The key (or the lack of one) found at this revision.
    pub(super) fn seen(&self, query: &Q, revision: u64) -> Option<Result<Key, Problem>> {
        let inner = self.lock();
        let seen = inner.seen.get(query).filter(|seen| seen.revision == revision)?;
        Some(match &seen.found {
            Found::Key(key) => Ok(*key),
            Found::Problem(problem) => Err(problem.clone()),
        })
    }

    /// Notes the key (or the lack of one) found at a revision.
    pub(super) fn note(&self, query: &Q, revision: u64, found: Result<Key, Problem>) {
        let mut inner = self.lock();
        if inner.seen.len() >= inner.most_seen {
            inner.seen.retain(|_, seen| seen.revision == revision);
            // What is left may be as many: then it is not looked through again before there are twice as many.
            inner.most_seen = SEEN.max(2 * inner.seen.len());
        }
        let before = inner.seen.get(query);
        if before.is_some_and(|seen| seen.revision > revision) {
            return; // Work for an older document must not hide what is known of the newer one.
        }
        let last_good = before.and_then(|seen| seen.last_good);
        let found = found.map_or_else(Found::Problem, Found::Key);
        inner.seen.insert(query.clone(), Seen { revision, found, last_good });
    }

    /// What is remembered under a key, and marks it as used.
    pub(super) fn recall(&self, query: &Q, key: Key, moment: Moment) -> Option<Outcome<Q::Output>> {
        let mut inner = self.lock();
        let entry = inner.memo.get_mut(&key).filter(|entry| entry.holds(moment))?;
        entry.used = moment.now;
        let outcome = entry.outcome.clone();
        if let (Outcome::Answer(_), Some(seen)) = (&outcome, inner.seen.get_mut(query)) {
            seen.last_good = Some(key);
        }
        Some(outcome)
    }

    /// The digest of the answer under a key, if it was ever had; or why it cannot be had.
    pub(super) fn digest(&self, key: Key, moment: Moment) -> Option<Result<Key, NoAnswer>> {
        let inner = self.lock();
        if let Some(digest) = inner.digests.get(&key) {
            return Some(Ok(*digest));
        }
        let entry = inner.memo.get(&key).filter(|entry| entry.holds(moment))?;
        Result::from(entry.outcome.clone()).err().map(Err)
    }

    /// The last answer that was given to `query`, whatever it was made from, and its key.
    pub(super) fn previous(&self, query: &Q) -> Option<(Key, Arc<Q::Output>)> {
        let inner = self.lock();
        let key = inner.seen.get(query)?.last_good?;
        match &inner.memo.get(&key)?.outcome {
            Outcome::Answer(answer) => Some((key, Arc::clone(answer))),
            Outcome::Failed(_) | Outcome::Cancelled(_) => None,
        }
    }

    /// The outcome under a key, or the task of computing it. Waits where another thread is at it.
    pub(super) fn claim(
        &self,
        key: Key,
        activity: &Arc<Activity>,
        run: &Run,
        moment: Moment,
    ) -> Claim<Q::Output> {
        let mut inner = self.lock();
        loop {
            if let Some(entry) = inner.memo.get_mut(&key).filter(|entry| entry.holds(moment)) {
                entry.used = moment.now;
                return Claim::Known(entry.outcome.clone());
            }
            let Some(other) = inner.running.get(&key) else {
                inner.running.insert(key, Arc::clone(activity));
                run.follow(Some(Arc::clone(activity)));
                return Claim::Mine;
            };
            run.follow(Some(Arc::clone(other)));
            inner = self.finished.wait(inner).unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// Ends a claim: with an outcome that is remembered, or with none if the work was dropped.
    pub(super) fn finish(
        &self,
        key: Key,
        outcome: Option<(Outcome<Q::Output>, usize)>,
        digest: Option<Key>,
        moment: Moment,
    ) {
        let mut inner = self.lock();
        inner.running.remove(&key);
        if let Some((outcome, bytes)) = outcome {
            let entry = Entry { outcome, labelled: None, bytes, used: moment.now, made: moment.revision };
            let replaced = inner.memo.insert(key, entry).map_or(0, |entry| entry.bytes);
            inner.bytes = inner.bytes + bytes - replaced;
        }
        if let Some(digest) = digest {
            inner.digests.insert(key, digest);
        }
        drop(inner);
        self.finished.notify_all();
    }

    /// An answer with labels in its sentences; kept beside it until a label changes.
    pub(super) fn labelled(&self, key: Key, answer: Arc<Q::Output>, names: &Arc<Names>) -> Arc<Q::Output> {
        let known = |(of, labelled): &(Arc<Names>, _)| Arc::ptr_eq(of, names).then(|| Arc::clone(labelled));
        if let Some(labelled) =
            self.lock().memo.get(&key).and_then(|entry| entry.labelled.as_ref()).and_then(known)
        {
            return labelled;
        }
        let Some(labelled) = Q::labelled(&answer, names) else { return answer };
        let mut inner = self.lock();
        let mut more = 0;
        if let Some(entry) = inner.memo.get_mut(&key)
            && entry.labelled.replace((Arc::clone(names), Arc::clone(&labelled))).is_none()
        {
            more = entry.bytes;
            entry.bytes += more;
        }
        inner.bytes += more;
        labelled
    }

    /// The run that will answer `query`, made by `begin` if there is none; says whether it was made now.
    pub(super) fn request(&self, query: &Q, begin: impl FnOnce() -> Arc<Run>) -> (Arc<Run>, bool) {
        let mut inner = self.lock();
        if let Some(run) = inner.requested.get(query) {
            return (Arc::clone(run), false);
        }
        let run = begin();
        inner.requested.insert(query.clone(), Arc::clone(&run));
        (run, true)
    }

    /// The run of `query` is over.
    pub(super) fn answered(&self, query: &Q) {
        self.lock().requested.remove(query);
    }
}

/// What all tables have in common.
pub(super) trait Remembers {
    /// How many bytes of answers are remembered.
    fn bytes(&self) -> usize;
    /// What could be dropped: not in use elsewhere and not among the two used last; when used, bytes, key.
    fn droppable(&self) -> Vec<(u64, usize, Key)>;
    /// Forgets the answers under these keys.
    fn drop_keys(&self, keys: &HashSet<Key>);
}

impl<Q: Question> Remembers for Table<Q> {
    fn bytes(&self) -> usize {
        self.lock().bytes
    }

    fn droppable(&self) -> Vec<(u64, usize, Key)> {
        let inner = self.lock();
        let idle = |entry: &Entry<Q::Output>| match &entry.outcome {
            Outcome::Answer(answer) => {
                let shown = entry.labelled.as_ref().map_or(1, |(_, shown)| Arc::strong_count(shown));
                Arc::strong_count(answer) == 1 && shown == 1
            }
            Outcome::Failed(_) | Outcome::Cancelled(_) => false,
        };
        let mut newest: Vec<u64> = inner.memo.values().map(|entry| entry.used).collect();
        newest.sort_unstable_by(|a, b| b.cmp(a));
        let kept = newest.get(1).or(newest.first()).copied().unwrap_or(0);
        let candidates = inner.memo.iter().filter(|(_, entry)| entry.used < kept && idle(entry));
        candidates.map(|(key, entry)| (entry.used, entry.bytes, *key)).collect()
    }

    fn drop_keys(&self, keys: &HashSet<Key>) {
        let mut inner = self.lock();
        for key in keys {
            let dropped = inner.memo.remove(key).map_or(0, |entry| entry.bytes);
            inner.bytes -= dropped;
        }
    }
}

/// Which budget a kind of answer draws on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pool {
    /// Scans, their smaller copies, tiles: large, and made again from files.
    Pixels,
    /// Curves with all their resamplings: a hundred times as large as the figures that are taken from them.
    Curves,
    /// Everything else: small, and many of them.
    Numbers,
}

impl Tables {
    /// Bytes remembered in a pool.
    pub(super) fn held(&self, pool: Pool) -> usize {
        self.pool(pool).iter().map(|table| table.bytes()).sum()
    }

    /// Drops what was not used for longest until a pool is within nine tenths of its budget, if it is beyond it. What is
    /// in use, and the two answers of a kind that were used last (both films on the bench), stay.
    pub(super) fn keep_within(&self, pool: Pool, budget: usize) {
        let mut held = self.held(pool);
        if held <= budget {
            return;
        }
        let tables = self.pool(pool);
        let mut candidates: Vec<(u64, usize, Key)> =
            tables.iter().flat_map(|table| table.droppable()).collect();
        candidates.sort_unstable_by_key(|(used, _, _)| *used);
        let mut dropped = HashSet::new();
        for (_, bytes, key) in candidates {
            if held <= budget / 10 * 9 {
                break;
            }
            held = held.saturating_sub(bytes);
            dropped.insert(key);
        }
        for table in tables {
            table.drop_keys(&dropped);
        }
    }
}
