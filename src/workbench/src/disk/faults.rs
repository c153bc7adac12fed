//! For tests: lets operations on the disk fail, or do less than was asked, or be recorded.

use std::io;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, RwLock};

pub use super::Operation;

/// What becomes of an operation.
#[derive(Debug)]
pub enum Verdict {
    /// It is done.
    Go,
    /// At most so many bytes of it are done.
    Short(usize),
    /// The operation fails with this error.
    Fail(io::Error),
}

/// Sees every operation before it is done, from whichever thread.
pub trait Watcher: Send + Sync {
    /// Decides what becomes of it.
    fn before(&self, operation: Operation<'_>) -> Verdict;
}

static WATCHER: RwLock<Option<Arc<dyn Watcher>>> = RwLock::new(None);
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

/// While this lives, the watcher watches the whole process.
#[must_use]
pub struct Watching(#[expect(dead_code, reason = "held, not read")] MutexGuard<'static, ()>);

impl std::fmt::Debug for Watching {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Watching")
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        *WATCHER.write().unwrap_or_else(PoisonError::into_inner) = None;
    }
}

/// Sets a watcher; waits while there is another one.
pub fn watch(watcher: Arc<dyn Watcher>) -> Watching {
    let turn = ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner);
    *WATCHER.write().unwrap_or_else(PoisonError::into_inner) = Some(watcher);
    Watching(turn)
}

pub(super) fn about_to(operation: Operation<'_>) -> io::Result<usize> {
    let watcher = WATCHER.read().unwrap_or_else(PoisonError::into_inner).clone();
    match watcher.map_or(Verdict::Go, |watcher| watcher.before(operation)) {
        Verdict::Go => Ok(usize::MAX),
        Verdict::Short(most) => Ok(most.max(1)),
        Verdict::Fail(error) => Err(error),
    }
}
