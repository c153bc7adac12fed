//! A file that is read: for as long as it is wanted, and whole or not at all.

use std::io::{self, Read, Seek, SeekFrom};
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};

use twinwedge_core::problem::Problem;
use zune_jpeg::zune_core::bytestream::{ZByteIoError, ZByteReaderTrait, ZCursor, ZSeekFrom};

use super::damage::Source;
use crate::disk::Input;
use crate::words::{File, Remedy};

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
        Self {
            tell,
            done: AtomicUsize::new(0),
            total: AtomicUsize::new(1),
            read: AtomicU64::new(0),
            bytes: source.length().max(1),
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

    /// Asks whether the rest is still wanted, where nothing is told.
    pub(super) fn go_on(&self) -> bool {
        self.ask()
    }

    /// Whether it was said that the rest is not wanted: what failed after that failed for it.
    pub(super) fn refused(&self) -> bool {
        self.refused.load(Ordering::Relaxed)
    }
}

pub(super) fn cancelled(source: &Source<'_>) -> Problem {
    source.problem(File::Cancelled, Remedy::OpenWhenWanted)
}

/// Bytes read between two looks at whether to go on.
const PIECE: u64 = 1 << 20;

/// A file that is read for as long as it is wanted.
pub(super) struct Watched<'a> {
    file: Input,
    progress: Option<&'a Progress<'a>>,
    since: u64,
}

impl<'a> Watched<'a> {
    pub(super) fn open(source: &Source<'_>, progress: Option<&'a Progress<'a>>) -> Result<Self, Problem> {
        Ok(Self { file: source.open()?, progress, since: 0 })
    }
}

impl Read for Watched<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = loop {
            match self.file.read(buffer) {
                // Some decoders take an interruption for a failure.
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                other => break other?,
            }
        };
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
