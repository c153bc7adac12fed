//! A series from a folder of files and a CSV that says what each is.

use std::path::Path;

use twinwedge_core::document::Series;
use twinwedge_core::problem::Problem;

/// Makes a series from `list`, a CSV beside the files it names. Nothing is copied or changed.
///
/// # Errors
/// Names file, line and column of what is wrong.
pub fn series_from_list(list: &Path) -> Result<(Series, Vec<Problem>), Problem> {
    todo!("{list:?}")
}
