//! Problems with a file, in the same words for every format.

use std::io;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use twinwedge_core::problem::{Problem, Subject};

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

/// Counts chunks done and asks whether to go on.
pub(super) struct Progress<'a> {
    tell: &'a (dyn Fn(f32) -> bool + Sync),
    done: AtomicUsize,
    total: usize,
}

impl<'a> Progress<'a> {
    pub(super) fn new(tell: &'a (dyn Fn(f32) -> bool + Sync), total: usize) -> Self {
        Self { tell, done: AtomicUsize::new(0), total: total.max(1) }
    }

    /// One more chunk is done.
    pub(super) fn step(&self, source: &Source<'_>) -> Result<(), Problem> {
        let done = self.done.fetch_add(1, Ordering::Relaxed) + 1;
        if (self.tell)(done as f32 / self.total as f32) {
            return Ok(());
        }
        Err(source.problem("Opening was cancelled.", "Open the file again when it is wanted."))
    }
}
