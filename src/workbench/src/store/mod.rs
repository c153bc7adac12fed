//! The series file: RON with a format version, saved whole or not at all.

pub mod folders;
mod format;
mod layout;
pub mod paths;
pub mod recovery;
mod said;
mod scans;
mod whole;

pub use format::{SERIES_LIMIT, parse, read, text, to_save, write};
pub use layout::{LAYOUT_EXTENSION, parse_layout, write_layout};
pub use recovery::{Recovery, recovery_for};
pub use said::parse_small;
pub(crate) use scans::entry_of;
pub use scans::{digest, digest_while, scan_entry};
pub use whole::{save, save_by};

/// Ending of series files.
pub const EXTENSION: &str = "twinwedge";
