//! Problems with a file, in the same words for every format.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};

use twinwedge_core::problem::{Problem, Subject};
use zune_jpeg::zune_core::bytestream::{ZByteIoError, ZByteReaderTrait, ZCursor, ZSeekFrom};

use super::Limits;

/// The file that is being read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Source<'a> {
    path: &'a Path,
}

impl<'a> Source<'a> {
    pub(super) fn new(path: &'a Path) -> Self {
        Self { path }
    }

    pub(super) fn path(&self) -> &'a Path {
        self.path
    }

    pub(super) fn problem(&self, cause: impl Into<String>, remedy: impl Into<String>) -> Problem {
        Problem::error(Subject::File { path: self.path.display().to_string(), place: None }, cause, remedy)
    }

    /// The file cannot be opened or read.
    pub(super) fn unreadable(&self, error: &io::Error) -> Problem {
        match error.kind() {
            io::ErrorKind::NotFound => {
                self.problem("There is no such file.", "Check its name and folder, or show where it is now.")
            }
            io::ErrorKind::PermissionDenied => {
                self.problem("The file may not be read.", "Give yourself the right to read it.")
            }
            io::ErrorKind::IsADirectory => {
                self.problem("This is a folder, not a file.", "Choose a file in it.")
            }
            io::ErrorKind::UnexpectedEof => self.truncated(),
            _ => self.problem(
                format!("The file cannot be read: {error}."),
                "Check the disk or the network, and try again.",
            ),
        }
    }

    /// The file is shorter than it says.
    pub(super) fn truncated(&self) -> Problem {
        self.problem("The file is truncated: it ends before its picture does.", "Copy or scan it again.")
    }

    /// The file contradicts itself.
    pub(super) fn damaged(&self, how: impl std::fmt::Display) -> Problem {
        self.problem(format!("The file is damaged: {how}."), "Copy or scan it again.")
    }

    /// The file is sound but holds what cannot be measured here.
    pub(super) fn unsupported(&self, what: impl std::fmt::Display) -> Problem {
        self.problem(
            format!("The file is {what}, which is not supported."),
            "Save it as 8- or 16-bit grey or RGB, TIFF or PNG, from the original scan.",
        )
    }

    /// Checks a size against the limits before anything is decoded; the number of samples if it is within.
    pub(super) fn samples(&self, size: Size, limits: Limits) -> Result<usize, Problem> {
        let Size { width, height, channels, bytes } = size;
        let samples = u64::from(width) * u64::from(height) * channels as u64;
        let decoded = samples.saturating_mul(bytes as u64);
        let told = format!(
            "The picture is {width} x {height} pixels, {channels} x {} bits: {} decoded.",
            bytes * 8,
            human(decoded)
        );
        if width == 0 || height == 0 {
            return Err(self.damaged(format_args!("it says it is {width} x {height} pixels")));
        }
        if width.max(height) > limits.side {
            return Err(self.problem(
                format!("{told} The limit is {} pixels on a side.", limits.side),
                "Cut it into smaller pieces, or scan at a lower resolution.",
            ));
        }
        if decoded > limits.bytes {
            return Err(self.problem(
                format!("{told} The limit is {}.", human(limits.bytes)),
                "Cut it into smaller pieces, or scan at a lower resolution or in grey.",
            ));
        }
        // Its smaller copies for the screen take a third more.
        let needs = decoded.saturating_add(decoded / 3);
        if let Some(room) = limits.room.filter(|room| needs > room.bytes) {
            return Err(self.problem(
                format!(
                    "{told} With its smaller copies it needs {}, and {}.",
                    human(needs),
                    room.words(human)
                ),
                format!(
                    "Scan at a lower resolution or in grey, cut it into smaller pieces, {}.",
                    room.remedy()
                ),
            ));
        }
        usize::try_from(samples).map_err(|_| self.problem(told, "Use a 64-bit computer."))
    }
}

/// Size of a picture as its header says.
#[derive(Debug, Clone, Copy)]
pub(super) struct Size {
    pub(super) width: u32,
    pub(super) height: u32,
    pub(super) channels: usize,
    /// Bytes of a sample.
    pub(super) bytes: usize,
}

fn human(bytes: u64) -> String {
    let bytes = bytes as f64;
    match bytes {
        b if b >= 1e9 => format!("{:.1} GB", b / 1e9),
        b if b >= 1e6 => format!("{:.1} MB", b / 1e6),
        b => format!("{:.1} kB", b / 1e3),
    }
}

/// How much was decoded and read, and whether the rest is still wanted.
pub(super) struct Progress<'a> {
    tell: &'a (dyn Fn(f32) -> bool + Sync),
    done: AtomicUsize,
    total: AtomicUsize,
    /// Bytes read of the file.
    read: AtomicU64,
    bytes: u64,
    refused: AtomicBool,
}

impl<'a> Progress<'a> {
    pub(super) fn new(tell: &'a (dyn Fn(f32) -> bool + Sync), source: &Source<'_>) -> Self {
        let bytes = std::fs::metadata(source.path()).map_or(0, |meta| meta.len());
        Self {
            tell,
            done: AtomicUsize::new(0),
            total: AtomicUsize::new(1),
            read: AtomicU64::new(0),
            bytes: bytes.max(1),
            refused: AtomicBool::new(false),
        }
    }

    /// How many chunks are to be decoded.
    pub(super) fn expect(&self, chunks: usize) {
        self.total.store(chunks.max(1), Ordering::Relaxed);
    }

    /// One more chunk is done.
    pub(super) fn step(&self, source: &Source<'_>) -> Result<(), Problem> {
        self.done.fetch_add(1, Ordering::Relaxed);
        if self.ask() { Ok(()) } else { Err(cancelled(source)) }
    }

    /// So many bytes more were read: asked now and then, so that one huge chunk can be broken off, too.
    fn read(&self, bytes: u64) -> io::Result<()> {
        self.read.fetch_add(bytes, Ordering::Relaxed);
        if self.ask() { Ok(()) } else { Err(io::Error::other("no longer wanted")) }
    }

    fn ask(&self) -> bool {
        let chunks = self.done.load(Ordering::Relaxed) as f32 / self.total.load(Ordering::Relaxed) as f32;
        let bytes = self.read.load(Ordering::Relaxed) as f32 / self.bytes as f32;
        let wanted = (self.tell)(chunks.max(bytes.min(0.99)).min(1.0));
        self.refused.fetch_or(!wanted, Ordering::Relaxed);
        wanted
    }

    /// Whether it was said that the rest is not wanted: what failed after that failed for it.
    pub(super) fn refused(&self) -> bool {
        self.refused.load(Ordering::Relaxed)
    }
}

pub(super) fn cancelled(source: &Source<'_>) -> Problem {
    source.problem("Opening was cancelled.", "Open the file again when it is wanted.")
}

/// Bytes read between two looks at whether to go on.
const PIECE: u64 = 1 << 20;

/// A file that is read for as long as it is wanted.
pub(super) struct Watched<'a> {
    file: File,
    progress: Option<&'a Progress<'a>>,
    since: u64,
}

impl<'a> Watched<'a> {
    pub(super) fn open(source: &Source<'_>, progress: Option<&'a Progress<'a>>) -> Result<Self, Problem> {
        let file = File::open(source.path()).map_err(|error| source.unreadable(&error))?;
        Ok(Self { file, progress, since: 0 })
    }
}

impl Read for Watched<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.file.read(buffer)?;
        self.since += read as u64;
        if let Some(progress) = self.progress.filter(|_| self.since >= PIECE) {
            progress.read(std::mem::take(&mut self.since))?;
        }
        Ok(read)
    }
}

impl Seek for Watched<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

/// The bytes of a file in memory, handed out for as long as they are wanted.
pub(super) struct Bytes<'a> {
    cursor: ZCursor<&'a [u8]>,
    progress: Option<&'a Progress<'a>>,
    since: u64,
    /// No longer wanted. The decoder passes over errors of some readings, but not of asking for the end.
    over: bool,
}

impl<'a> Bytes<'a> {
    pub(super) fn new(bytes: &'a [u8], progress: Option<&'a Progress<'a>>) -> Self {
        Self { cursor: ZCursor::new(bytes), progress, since: 0, over: false }
    }

    fn given(&mut self, bytes: usize) -> Result<(), ZByteIoError> {
        self.since += bytes as u64;
        if let Some(progress) = self.progress.filter(|_| !self.over && self.since >= PIECE / 8) {
            self.over = progress.read(std::mem::take(&mut self.since)).is_err();
        }
        if self.over { Err(ZByteIoError::Generic("no longer wanted")) } else { Ok(()) }
    }
}

impl ZByteReaderTrait for Bytes<'_> {
    fn read_byte_no_error(&mut self) -> u8 {
        // Of single bytes an error cannot be told: the next larger piece tells it.
        self.since += 1;
        self.cursor.read_byte_no_error()
    }

    fn read_exact_bytes(&mut self, buffer: &mut [u8]) -> Result<(), ZByteIoError> {
        self.given(buffer.len())?;
        self.cursor.read_exact_bytes(buffer)
    }

    fn read_bytes(&mut self, buffer: &mut [u8]) -> Result<usize, ZByteIoError> {
        self.given(buffer.len())?;
        self.cursor.read_bytes(buffer)
    }

    fn peek_bytes(&mut self, buffer: &mut [u8]) -> Result<usize, ZByteIoError> {
        self.cursor.peek_bytes(buffer)
    }

    fn peek_exact_bytes(&mut self, buffer: &mut [u8]) -> Result<(), ZByteIoError> {
        self.cursor.peek_exact_bytes(buffer)
    }

    fn z_seek(&mut self, from: ZSeekFrom) -> Result<u64, ZByteIoError> {
        self.cursor.z_seek(from)
    }

    fn is_eof(&mut self) -> Result<bool, ZByteIoError> {
        self.given(0)?;
        self.cursor.is_eof()
    }

    fn z_position(&mut self) -> Result<u64, ZByteIoError> {
        self.cursor.z_position()
    }

    fn read_remaining(&mut self, sink: &mut Vec<u8>) -> Result<usize, ZByteIoError> {
        self.cursor.read_remaining(sink)
    }
}
