//! Files into values: scans to codes, text to readings. Limits are checked before anything is decoded.

mod budget;
mod damage;
mod encoding;
mod from_jpeg;
mod from_png;
mod jpeg;
mod memory;
mod patches;
mod png_check;
mod profile;
mod reading;
mod small;
mod spectra;
mod table;
mod tiff;

use std::io::Read as _;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::Scan;

use damage::{Source, problem, unreadable};
use reading::{Progress, cancelled};

use crate::disk;

use crate::words::{File, Remedy};
pub use memory::Room;
pub use patches::{PatchRead, patches};
pub use small::{SmallCopy, small};
pub use spectra::{Spectra, spectra, spectrum};
pub use table::{Stated, Table, readings, table, table_from_spectra, tablet};
pub(crate) use table::{grid, number_in};

/// Limits on what is decoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most bytes of decoded samples.
    pub bytes: u64,
    /// Most pixels on a side.
    pub side: u32,
    /// Memory that there is for a scan and its smaller copies; where `None`, what is free when the scan is opened.
    pub room: Option<Room>,
}

impl Default for Limits {
    fn default() -> Self {
        Self { bytes: 4 << 30, side: 200_000, room: None }
    }
}

impl Limits {
    /// The usual limits, and what memory is free on this machine now, or less where a person has set less.
    #[must_use]
    pub fn of_machine(set: Option<u64>) -> Self {
        Self { room: memory::room(set), ..Self::default() }
    }
}

/// Most bytes of a text file.
const TEXT_LIMIT: u64 = 16 << 20;

/// Decodes a TIFF, PNG or JPEG file; which of them it is, its first bytes say, not its name. `progress` is told the share
/// done and answers whether to go on; it is asked for every strip, tile or band of rows, and for every piece read of the file
/// within them.
///
/// Codes stay as they are in the file, but for three things that `meta.notes` tells of: white-is-zero is turned round, an
/// alpha channel is dropped, and floating point light `v` is kept as the 16-bit code of its square root. Pictures with a
/// palette are refused: at most 256 tones, chosen by a program that did not know that they would be measured.
///
/// # Errors
/// The file is missing, unreadable, of an unknown or unsupported kind, damaged, or larger than the limits; or `progress`
/// said no.
pub fn scan(path: &Path, limits: Limits, progress: &(dyn Fn(f32) -> bool + Sync)) -> Result<Scan, Problem> {
    guarded(path, limits, |source, kind| {
        let progress = Progress::new(progress, source);
        let read = match kind {
            Kind::Tiff => tiff::load(source, &progress),
            Kind::Png => from_png::load(source, &progress),
            Kind::Jpeg => from_jpeg::load(source, &progress),
        };
        // A decoder that is cut off in the middle complains of the file.
        if progress.refused() { Err(cancelled(source)) } else { read }
    })
}

/// Width and height of a scan file in pixels, from its header alone.
///
/// # Errors
/// As [`scan`], as far as the header shows it.
pub fn size(path: &Path) -> Result<(u32, u32), Problem> {
    guarded(path, Limits::default(), |source, kind| match kind {
        Kind::Tiff => tiff::size(source),
        Kind::Png => from_png::size(source),
        Kind::Jpeg => from_jpeg::size(source),
    })
}

/// The formats that are read.
#[derive(Debug, Clone, Copy)]
enum Kind {
    Tiff,
    Png,
    Jpeg,
}

/// Looks which format a file has and reads it.
fn guarded<T>(
    path: &Path,
    limits: Limits,
    read: impl FnOnce(&Source<'_>, Kind) -> Result<T, Problem>,
) -> Result<T, Problem> {
    let (source, file) = Source::begin(path, limits)?;
    let mut start = Vec::with_capacity(16);
    file.take(16).read_to_end(&mut start).map_err(|error| source.unreadable(&error))?;
    let kind = match start.as_slice() {
        [] => return Err(source.problem(File::Empty, Remedy::ScanAgain)),
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Kind::Tiff,
        [0x89, b'P', b'N', b'G', ..] => Kind::Png,
        [0xFF, 0xD8, 0xFF, ..] => Kind::Jpeg,
        other => return Err(unknown_kind(&source, other)),
    };
    // Decoders meet damage that their authors did not foresee; whatever happens there is this file's problem alone.
    let made = catch_unwind(AssertUnwindSafe(|| read(&source, kind)))
        .unwrap_or_else(|_| Err(source.damaged("the decoder could make nothing of it")));
    // Of a file that changed meanwhile nothing is true, neither what was read nor what was wrong with it.
    source.unchanged()?;
    made
}

/// Reads a text file: UTF-8, UTF-16 or, where it is neither, Windows-1252, with or without a byte order mark.
///
/// # Errors
/// It cannot be read, is no text, or is larger than 16 MiB.
pub fn text(path: &Path) -> Result<String, Problem> {
    let bytes =
        disk::read(path, TEXT_LIMIT).map_err(|error| unreadable(path, &error))?.map_err(|length| {
            problem(path, File::LongText { length: budget::human(length) }, Remedy::RightFile)
        })?;
    encoding::decoded(bytes)
        .map_err(|at| problem(path, File::NotText { byte: at + 1 }, Remedy::RightFileOrText))
}

/// Whether a scan can have so many dots per inch, across and down: a pixel of a scan is larger than 25 nanometres.
fn is_scan_resolution((x, y): &(f64, f64)) -> bool {
    const FINEST: f64 = 1e6;
    [*x, *y].iter().all(|dpi| dpi.is_finite() && *dpi > 0.0 && *dpi <= FINEST)
}

fn unknown_kind(source: &Source<'_>, start: &[u8]) -> Problem {
    let kind = match start {
        [b'%', b'P', b'D', b'F', ..] => "a PDF document",
        [b'G', b'I', b'F', b'8', ..] => "a GIF picture",
        [b'B', b'M', ..] => "a BMP picture",
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => "a WebP picture",
        [0, 0, 0, 12, b'j', b'P', ..] => "a JPEG 2000 picture",
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => "a HEIF or AVIF picture or a film clip",
        [b'P', b'K', 3, 4, ..] => "a ZIP archive",
        text if text.iter().all(|byte| byte.is_ascii_graphic() || byte.is_ascii_whitespace()) => "text",
        _ => "of no kind that is known here",
    };
    source.problem(File::NotAPicture { kind }, Remedy::ScanToTiff)
}

pub(crate) fn not_utf8(path: &Path, error: &std::string::FromUtf8Error) -> Problem {
    let byte = error.utf8_error().valid_up_to();
    let line = error.as_bytes()[..byte].iter().filter(|b| **b == b'\n').count() + 1;
    let place = Some(format!("line {line}, byte {}", byte + 1));
    Problem::error(
        Subject::File { path: path.display().to_string(), place },
        File::NotUtf8 { byte: byte + 1, value: error.as_bytes()[byte] },
        Remedy::SaveUtf8,
    )
}
