//! Where the platform keeps a program's own files: the XDG base directories on Linux, the Library on macOS, `AppData` on Windows.

use std::path::PathBuf;

use etcetera::base_strategy::{BaseStrategy, choose_native_strategy};

/// The program's own data: the sample, recovery files. `None` where the platform names no home.
#[must_use]
pub fn data() -> Option<PathBuf> {
    Some(choose_native_strategy().ok()?.data_dir().join("twinwedge"))
}

/// The program's settings. `None` where the platform names no home.
#[must_use]
pub fn settings() -> Option<PathBuf> {
    Some(choose_native_strategy().ok()?.config_dir().join("twinwedge"))
}
