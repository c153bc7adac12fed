//! Whose recovery files are whose.
//!
//! Recovery files of one session share an owner, the first part of their names. While the session lives it holds the lock
//! `OWNER.session` beside them; a crash releases it, and whoever finds the files may then take up their owner.

use std::hash::{BuildHasher, Hasher, RandomState};
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::disk::Lock;

/// Letters of an owner's name.
const OWNER: usize = 20;
/// How long a look of somebody else at the lock is waited for.
const PATIENCE: Duration = Duration::from_millis(300);

/// The recovery files of one owner, held by this session alone.
#[derive(Debug)]
pub(crate) struct Claim {
    folder: PathBuf,
    owner: String,
    /// The number of the last file.
    number: u128,
    /// Dropped with the claim: then somebody else may take it up.
    _lock: Lock,
}

impl Claim {
    /// An owner of its own in a folder that is there.
    ///
    /// # Errors
    /// The folder cannot be written.
    pub(crate) fn new(folder: &Path) -> std::io::Result<Self> {
        loop {
            let owner = name();
            if let Some(lock) = Lock::take(&marker(folder, &owner), Duration::ZERO)? {
                return Ok(Self { folder: folder.to_owned(), owner, number: 0, _lock: lock });
            }
        }
    }

    /// Takes up the files of an owner; `None` where a living session holds them.
    pub(crate) fn take_up(folder: &Path, owner: &str) -> Option<Self> {
        let lock = Lock::take(&marker(folder, owner), PATIENCE).ok()??;
        Some(Self { folder: folder.to_owned(), owner: owner.to_owned(), number: 0, _lock: lock })
    }

    /// The number of the next file, above all that are there and all that were: those that were declined keep their names.
    pub(crate) fn next_number(&mut self, newest: u128) -> u128 {
        self.number = self.number.max(newest) + 1;
        self.number
    }

    pub(crate) fn folder(&self) -> &Path {
        &self.folder
    }

    pub(crate) fn owner(&self) -> &str {
        &self.owner
    }
}

/// Whether an owner is one session. Older versions had one owner for all sessions on a series, with a shorter name.
pub(crate) fn is_of_session(owner: &str) -> bool {
    owner.len() == OWNER && owner.bytes().all(|byte| byte.is_ascii_hexdigit())
}

/// Whether a living session holds the files of an owner.
pub(crate) fn is_held(folder: &Path, owner: &str) -> bool {
    Lock::is_held(&marker(folder, owner))
}

fn marker(folder: &Path, owner: &str) -> PathBuf {
    folder.join(format!("{owner}.session"))
}

/// A name that nobody has: keys that the system draws at random, with the process in them.
fn name() -> String {
    let drawn = || RandomState::new().build_hasher().finish();
    let mut hasher = blake3::Hasher::new();
    for number in [drawn(), drawn(), u64::from(std::process::id())] {
        hasher.update(&number.to_le_bytes());
    }
    hasher.finalize().to_hex()[..OWNER].to_owned()
}
