//! What verbs write over: nothing that they read, and nothing of another kind, unless they are told to.

use std::path::Path;

use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::store::{NotWritten, Replace, held_by};

use super::tell;

/// The option by which a verb replaces what is there.
const FORCE: &str = "--force";

/// What may be replaced.
pub(super) fn replace(force: bool) -> Replace<'static> {
    if force { Replace::Anything } else { Replace::Unasked }
}

/// Why a file was not written, with the remedy that a verb has.
pub(super) fn problem(not: NotWritten) -> Problem {
    not.problem_of_verb(Some(FORCE))
}

/// Writes a file; where it was told to replace whatever is there, says what that was.
pub(super) fn written<T>(
    path: &Path,
    force: bool,
    write: impl FnOnce() -> Result<T, NotWritten>,
) -> Result<T, Problem> {
    let held = if force { held_by(path) } else { None };
    let done = write().map_err(problem)?;
    if let Some(held) = held {
        tell(format_args!("replaced {}, which was {held}", path.display()));
    }
    Ok(done)
}
