//! Scans as decoded, and the tables that turn their codes into light and density.
//!
//! A scan stays as its decoder gave it; a tone table over its codes is all that calibration changes, so calibrating anew
//! touches no pixel.

mod calibration;
pub mod encoding;
pub mod examine;
mod flare;
mod flat;
mod mixed;
mod noise;
mod pyramid;
mod settings;
mod shared;
mod smooth;
mod tone;

pub use crate::document::srgb_to_linear;
pub use calibration::{CalibrationFit, CalibrationPoint, calibrate};
pub use encoding::{Certainty, Judged, StatedBy, Statement};
pub(crate) use examine::white_of;
pub use flare::{Flare, estimate as estimate_flare};
pub use flat::{FlatField, MAP as FLAT_MAP};
pub use mixed::{mixed, mixed_table};
pub(crate) use noise::slope;
pub use noise::{NoiseModel, NoisePoint, NoiseSource};
pub use pyramid::{Level, Pyramid};
pub use settings::{Difference, Settings, day, differences};
pub use shared::{ScaleErrors, SharedError};
pub use tone::{ToneSource, ToneTable};

use crate::document::{Channel, Encoding};
use crate::numeric::wide::wide;

/// The samples of a scan, row by row, channels interleaved.
#[derive(Debug, Clone, PartialEq)]
pub enum Samples {
    /// 8 bits a sample.
    U8(Vec<u8>),
    /// 16 bits a sample.
    U16(Vec<u16>),
}

/// A decoded scan.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    /// Its width in pixels.
    pub width: usize,
    /// Its height in pixels.
    pub height: usize,
    /// 1 (grey) or 3 (red, green, blue).
    pub channels: usize,
    /// `width * height * channels` samples.
    pub samples: Samples,
    /// What the file says about itself.
    pub meta: ScanMeta,
}

/// What a scan file says about itself.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ScanMeta {
    /// Dots per inch, across and down, where it stands in the file.
    pub dpi: Option<(f64, f64)>,
    /// Name of the embedded colour profile.
    pub profile: Option<String>,
    /// Tone curve of the profile: linear light 0..=1 for each of 256 or 65536 codes, where there is one.
    pub profile_curve: Option<Vec<f32>>,
    /// The codes are those of the square roots of the samples (how files of floating point samples are kept:
    /// `v = (code / 65535)^2`).
    pub square_root: bool,
    /// What it says in so many words that its samples stand for, beside its profile.
    pub stated: Option<Statement>,
    /// When it was scanned, as the file says it: year, month, day, and what stands behind.
    pub taken: Option<String>,
    /// The program that wrote it.
    pub software: Option<String>,
    /// Maker and model of the scanner.
    pub device: Option<String>,
    /// Things worth telling: an alpha channel dropped, white-is-zero turned round.
    pub notes: Vec<String>,
}

impl Scan {
    /// Number of codes: 256 or 65536.
    #[must_use]
    pub fn levels(&self) -> usize {
        match self.samples {
            Samples::U8(_) => 256,
            Samples::U16(_) => 65_536,
        }
    }

    /// Bytes that the samples take.
    #[must_use]
    pub fn bytes(&self) -> usize {
        match &self.samples {
            Samples::U8(samples) => samples.len(),
            Samples::U16(samples) => samples.len() * 2,
        }
    }

    /// What its file says that its codes stand for: a statement, else a tone curve that it holds, else that its samples are
    /// floating point numbers.
    #[must_use]
    pub fn stated(&self) -> Option<(Encoding, Certainty)> {
        let curve = || Statement { encoding: Encoding::Profile, by: StatedBy::Profile };
        let float = || Statement { encoding: Encoding::Linear, by: StatedBy::FloatingPoint };
        let has_curve = self.meta.profile_curve.as_ref().is_some_and(|curve| curve.len() == self.levels());
        let stated = self.meta.stated.or(has_curve.then(curve)).or(self.meta.square_root.then(float))?;
        Some((stated.encoding, Certainty::File(stated.by)))
    }

    /// One channel to measure in. A grey scan has one, whatever is asked; of a mix it is the heaviest (see [`mixed`] for the
    /// mix itself).
    #[must_use]
    pub fn plane(&self, channel: Channel) -> Plane<'_> {
        let offset = channel_offset(self.channels, channel);
        Plane { scan: self, offset, flat: None, per_mm: None }
    }
}

/// Which of the interleaved samples of a pixel belong to a channel; of a mix those of the heaviest.
#[must_use]
pub fn channel_offset(channels: usize, channel: Channel) -> usize {
    match (channels, channel.heaviest()) {
        (0 | 1, _) | (_, Channel::Red) => 0,
        (_, Channel::Blue) => 2,
        _ => 1,
    }
}

/// One channel of a scan, read in place.
#[derive(Debug, Clone, Copy)]
pub struct Plane<'a> {
    scan: &'a Scan,
    offset: usize,
    flat: Option<&'a FlatField>,
    per_mm: Option<f64>,
}

impl<'a> Plane<'a> {
    /// Number of pixels in a row.
    #[must_use]
    pub fn width(&self) -> usize {
        self.scan.width
    }

    /// Number of rows of pixels.
    #[must_use]
    pub fn height(&self) -> usize {
        self.scan.height
    }

    /// Number of codes: 256 or 65536.
    #[must_use]
    pub fn levels(&self) -> usize {
        self.scan.levels()
    }

    /// The scan it is a channel of.
    #[must_use]
    pub fn scan(&self) -> &'a Scan {
        self.scan
    }

    /// The same, its light to be corrected by `flat` where it is averaged.
    #[must_use]
    pub fn corrected(self, flat: Option<&'a FlatField>) -> Self {
        Self { flat, ..self }
    }

    /// The same, with its resolution: pixels to a millimetre.
    #[must_use]
    pub fn resolved(self, per_mm: Option<f64>) -> Self {
        Self { per_mm, ..self }
    }

    /// What its light is corrected by where it is averaged.
    #[must_use]
    pub fn flat(&self) -> Option<&'a FlatField> {
        self.flat
    }

    /// Pixels to a millimetre, where that is known.
    #[must_use]
    pub fn per_mm(&self) -> Option<f64> {
        self.per_mm
    }

    /// The code at a pixel, or `None` outside the scan.
    #[must_use]
    pub fn code(&self, x: usize, y: usize) -> Option<u16> {
        if x >= self.scan.width || y >= self.scan.height {
            return None;
        }
        let index = (y * self.scan.width + x) * self.scan.channels + self.offset;
        match &self.scan.samples {
            Samples::U8(samples) => samples.get(index).map(|code| u16::from(*code)),
            Samples::U16(samples) => samples.get(index).copied(),
        }
    }

    /// Writes `table[code]` for the pixels of row `y` from column `x0` on into `out`, as many as both hold; a tight loop,
    /// for passes over many pixels. `table` has [`Plane::levels`] entries. Returns how many were written; none
    /// where the table has fewer.
    pub fn look_up<T: Copy>(&self, table: &[T], y: usize, x0: usize, out: &mut [T]) -> usize {
        let Scan { width, height, channels, ref samples, .. } = *self.scan;
        if y >= height || x0 >= width {
            return 0;
        }
        let count = out.len().min(width - x0);
        let range = (y * width + x0) * channels + self.offset..(y * width + x0 + count) * channels;
        match samples {
            Samples::U8(codes) => fill::<_, _, 256>(table, codes.get(range), channels, out),
            Samples::U16(codes) => fill::<_, _, 65_536>(table, codes.get(range), channels, out),
        }
    }

    /// The codes of row `y` from column `x0` to before `x1` (clipped to the scan).
    pub fn row(&self, y: usize, x0: usize, x1: usize) -> impl Iterator<Item = u16> + 'a {
        let Scan { width, height, channels, ref samples, .. } = *self.scan;
        let x1 = x1.min(width);
        let empty = y >= height || x0 >= x1;
        let start = if empty { 0 } else { (y * width + x0) * channels + self.offset };
        let end = if empty { 0 } else { (y * width + x1) * channels };
        // One of the two is empty; a chain of slices is faster than a look at the kind of samples for every pixel.
        let (bytes, words): (&[u8], &[u16]) = match samples {
            Samples::U8(samples) => (samples.get(start..end).unwrap_or_default(), &[]),
            Samples::U16(samples) => (&[], samples.get(start..end).unwrap_or_default()),
        };
        let bytes = bytes.iter().step_by(channels).map(|code| u16::from(*code));
        bytes.chain(words.iter().step_by(channels).copied())
    }
}

/// `LEVELS` is the number of codes that `C` can tell: with as many entries in the table no look-up has to be checked.
fn fill<T: Copy, C: Copy + Into<usize>, const LEVELS: usize>(
    table: &[T],
    codes: Option<&[C]>,
    channels: usize,
    out: &mut [T],
) -> usize {
    let (Some(table), Some(codes)) = (table.first_chunk::<LEVELS>(), codes) else {
        return 0;
    };
    // One channel is the common case and the one that is worth a loop without steps.
    if channels == 1 {
        let count = out.len().min(codes.len());
        let (out, codes) = (&mut out[..count], &codes[..count]);
        wide(
            #[inline(always)]
            || {
                for (out, code) in out.iter_mut().zip(codes) {
                    *out = table[(*code).into()];
                }
            },
        );
        count
    } else {
        let mut written = 0;
        for (out, code) in out.iter_mut().zip(codes.iter().step_by(channels)) {
            *out = table[(*code).into()];
            written += 1;
        }
        written
    }
}
