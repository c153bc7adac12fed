//! The sample series that the program carries.

use std::path::PathBuf;

use twinwedge_core::problem::Problem;

/// Lays the sample series out in the program's own data folder (again, if it was changed) and gives its series file.
///
/// # Errors
/// The folder cannot be written.
pub fn lay_out() -> Result<PathBuf, Problem> {
    todo!()
}
