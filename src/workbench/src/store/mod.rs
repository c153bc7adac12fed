//! The series file: RON with a format version, saved whole or not at all.

pub(crate) mod claim;
mod differences;
pub mod folders;
mod format;
mod layout;
mod migrate;
pub mod paths;
pub mod recovery;
mod said;
mod scans;
mod whole;
mod written;

pub use differences::differences;
pub use format::{SERIES_LIMIT, parse, read, text, to_save, write};
pub use layout::{LAYOUT_EXTENSION, parse_layout, save_layout, write_layout};
pub use recovery::Recovery;
pub use said::parse_small;
pub use scans::{digest, digest_while, scan_entry};
pub(crate) use scans::{digest_of_text, digest_of_text_file, entry_of};
pub use whole::save;
pub(crate) use whole::{There, not_saved, put, put_by, there};
pub use written::{
    InTheWay, LAYOUT, NotWritten, Replace, SERIES, Sort, Source, Why, Writing, held_by, may_write,
    write as write_file,
};
pub(crate) use written::{is_missing, may_go};

/// Ending of series files.
pub const EXTENSION: &str = "twinwedge";
