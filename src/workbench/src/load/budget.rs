//! How much may be made of a file: checked by its header before anything is decoded, and again wherever memory is taken for a
//! number that stands in a file.

use bytemuck::Zeroable;
use twinwedge_core::problem::Problem;

use super::damage::Source;
use super::memory;
use crate::words::{File, Remedy};
use twinwedge_core::words::Sentence;

/// Most bytes of a colour profile or of what else a file says of itself, unpacked. Real profiles hold a few kilobytes, those
/// with tables a few megabytes.
pub(super) const ASIDE: u64 = 16 << 20;

/// Size of a picture as its header says.
#[derive(Debug, Clone, Copy)]
pub(super) struct Size {
    pub(super) width: u32,
    pub(super) height: u32,
    pub(super) channels: usize,
    /// Bytes of a sample.
    pub(super) bytes: usize,
}

impl Size {
    /// Bytes of all samples.
    pub(super) fn decoded(self) -> u64 {
        let pixels = u64::from(self.width) * u64::from(self.height);
        pixels.saturating_mul(self.channels as u64).saturating_mul(self.bytes as u64)
    }

    /// The size in words, with which a problem begins.
    fn told(self) -> File {
        let Self { width, height, channels, bytes } = self;
        File::Size { width, height, channels, bits: bytes * 8, decoded: human(self.decoded()) }
    }
}

impl Source<'_> {
    /// Checks a size against the limits before anything is decoded.
    pub(super) fn within(&self, size: Size) -> Result<(), Problem> {
        let Size { width, height, .. } = size;
        let limits = self.limits();
        if width == 0 || height == 0 {
            return Err(self.damaged(format_args!("it says it is {width} x {height} pixels")));
        }
        if width.max(height) > limits.side {
            return Err(self.problem(
                File::TooManyPixels { size: size.told().into(), side: limits.side },
                Remedy::CutOrScanLower,
            ));
        }
        if size.decoded() > limits.bytes {
            return Err(self.problem(
                File::TooManyBytes { size: size.told().into(), most: human(limits.bytes) },
                Remedy::CutOrScanGrey,
            ));
        }
        Ok(())
    }

    /// Checks that there is room for the samples, the smaller copies of them for the screen, which take a third more, and
    /// `beside` bytes that decoding takes. The number of samples if there is.
    pub(super) fn room(&self, size: Size, beside: u64) -> Result<usize, Problem> {
        let decoded = size.decoded();
        let needs = decoded.saturating_add(decoded / 3).saturating_add(beside);
        let told = File::Needs {
            size: size.told().into(),
            copies: human(decoded.saturating_add(decoded / 3)),
            decoding: (beside > 0).then(|| human(beside)),
        };
        self.has(needs, told.into())?;
        usize::try_from(decoded / size.bytes as u64)
            .map_err(|_| self.problem(size.told(), Remedy::WiderComputer))
    }

    /// Checks that there is room for so many bytes; `told` begins the problem otherwise.
    pub(super) fn has(&self, needs: u64, told: Sentence) -> Result<(), Problem> {
        // Asked now where nobody asked before.
        let room = self.limits().room.or_else(|| memory::room(None));
        match room.filter(|room| needs > room.bytes) {
            None => Ok(()),
            Some(room) => Err(self.problem(
                File::NoRoom { needs: told, room: room.words(human) },
                Remedy::ScanLowerOr { more: room.remedy() },
            )),
        }
    }

    /// Zeros, so many as a file says: the one place where memory is taken for a number that a file states.
    pub(super) fn zeros<T: Zeroable>(&self, count: usize) -> Result<Vec<T>, Problem> {
        let bytes = count.checked_mul(size_of::<T>()).map_or(u64::MAX, |bytes| bytes as u64);
        let most = self.limits().bytes.saturating_add(ASIDE);
        let refused = |most: Option<String>| {
            self.problem(File::AtOnce { bytes: human(bytes), most }, Remedy::CloseOrWithoutTiles)
        };
        if bytes > most {
            return Err(refused(Some(human(most))));
        }
        bytemuck::allocation::try_zeroed_slice_box(count).map(<[T]>::into_vec).map_err(|()| refused(None))
    }
}

/// A number of bytes for people.
pub(super) fn human(bytes: u64) -> String {
    let bytes = bytes as f64;
    match bytes {
        b if b >= 1e9 => format!("{:.1} GB", b / 1e9),
        b if b >= 1e6 => format!("{:.1} MB", b / 1e6),
        b => format!("{:.1} kB", b / 1e3),
    }
}
