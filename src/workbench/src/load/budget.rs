//! How much may be made of a file: checked by its header before anything is decoded, and again wherever memory is taken for a
//! number that stands in a file.

use bytemuck::Zeroable;
use twinwedge_core::problem::Problem;

use super::damage::Source;
use super::memory;

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
    fn told(self) -> String {
        let Self { width, height, channels, bytes } = self;
        format!(
            "The picture is {width} x {height} pixels, {channels} x {} bits: {} decoded.",
            bytes * 8,
            human(self.decoded())
        )
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
                format!("{} The limit is {} pixels on a side.", size.told(), limits.side),
                "Cut it into smaller pieces, or scan at a lower resolution.",
            ));
        }
        if size.decoded() > limits.bytes {
            return Err(self.problem(
                format!("{} The limit is {}.", size.told(), human(limits.bytes)),
                "Cut it into smaller pieces, or scan at a lower resolution or in grey.",
            ));
        }
        Ok(())
    }

    /// Checks that there is room for the samples, the smaller copies of them for the screen, which take a third more, and
    /// `beside` bytes that decoding takes. The number of samples if there is.
    pub(super) fn room(&self, size: Size, beside: u64) -> Result<usize, Problem> {
        let decoded = size.decoded();
        let copies =
            format!("With its smaller copies it needs {}", human(decoded.saturating_add(decoded / 3)));
        let needs = decoded.saturating_add(decoded / 3).saturating_add(beside);
        let words = if beside == 0 { copies } else { format!("{copies} and {} for decoding", human(beside)) };
        self.has(needs, &format!("{} {words}", size.told()))?;
        usize::try_from(decoded / size.bytes as u64)
            .map_err(|_| self.problem(size.told(), "Use a 64-bit computer."))
    }

    /// Checks that there is room for so many bytes; `told` begins the problem otherwise.
    pub(super) fn has(&self, needs: u64, told: &str) -> Result<(), Problem> {
        // Asked now where nobody asked before.
        let room = self.limits().room.or_else(|| memory::room(None));
        match room.filter(|room| needs > room.bytes) {
            None => Ok(()),
            Some(room) => Err(self.problem(
                format!("{told}, and {}.", room.words(human)),
                format!(
                    "Scan at a lower resolution or in grey, cut it into smaller pieces, {}.",
                    room.remedy()
                ),
            )),
        }
    }

    /// Zeros, so many as a file says: the one place where memory is taken for a number that a file states.
    pub(super) fn zeros<T: Zeroable>(&self, count: usize) -> Result<Vec<T>, Problem> {
        let bytes = count.checked_mul(size_of::<T>()).map_or(u64::MAX, |bytes| bytes as u64);
        let most = self.limits().bytes.saturating_add(ASIDE);
        let refused = |why: String| {
            self.problem(
                format!("Reading the file takes {} at once, {why}.", human(bytes)),
                "Close other programs, scan at a lower resolution, or save the picture without tiles.",
            )
        };
        if bytes > most {
            return Err(refused(format!("more than the limit of {}", human(most))));
        }
        bytemuck::allocation::try_zeroed_slice_box(count)
            .map(<[T]>::into_vec)
            .map_err(|()| refused("more than the machine has free".to_owned()))
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
