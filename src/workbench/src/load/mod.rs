//! Files into values: scans to codes, text to readings. Limits are checked before anything is decoded.

use std::path::Path;

use twinwedge_core::document::{Tablet, TypedReading};
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::Scan;

/// Limits on what is decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most bytes of decoded samples.
    pub bytes: u64,
    /// Most pixels on a side.
    pub side: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Self { bytes: 4 << 30, side: 200_000 }
    }
}

/// Decodes a TIFF, PNG or JPEG file. `progress` is told the share done and answers whether to go on.
///
/// # Errors
/// The file is missing, unreadable, of an unknown or unsupported kind, damaged, or larger than the limits; or `progress`
/// said no.
pub fn scan(path: &Path, limits: Limits, progress: &(dyn Fn(f32) -> bool + Sync)) -> Result<Scan, Problem> {
    let _ = progress;
    todo!("{path:?} {limits:?}")
}

/// Reads densitometer readings from text: CSV, TSV, semicolons or blanks; decimal point or comma; header or none; byte
/// order mark; one column (density), or step and density, or step, density and uncertainty; in either direction of steps.
/// `name` stands in problems.
///
/// # Errors
/// Names line and column: text where numbers belong, a step twice or missing, a density outside -0.5..=6, no reading.
pub fn readings(text: &str, name: &str) -> Result<Vec<TypedReading>, Problem> {
    todo!("{text} {name}")
}

/// Reads a tablet's known densities in the same forms.
///
/// # Errors
/// As [`readings`], and densities that do not rise from step to step.
pub fn tablet(text: &str, name: &str) -> Result<Tablet, Problem> {
    todo!("{text} {name}")
}

/// Reads a text file as UTF-8 (byte order mark allowed).
///
/// # Errors
/// It cannot be read, is not UTF-8 (says at which byte), or is larger than 16 MiB.
pub fn text(path: &Path) -> Result<String, Problem> {
    todo!("{path:?}")
}

/// Width and height of a scan file in pixels, from its header alone.
///
/// # Errors
/// As [`scan`], as far as the header shows it.
pub fn size(path: &Path) -> Result<(u32, u32), Problem> {
    todo!("{path:?}")
}
