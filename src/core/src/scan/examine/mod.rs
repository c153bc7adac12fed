//! Scans that were spoiled before they were measured: recognised from their pixels, each with the number that speaks for it.
//!
//! Every test says what it found: its evidence, the limit from which a fault is recognised, or why it could not be made. A
//! limit stands where no scan of the studies in `tests/simulated/scanner_faults.rs` that was left as the scanner gave it
//! comes near. What looks like a fault and may be something else is said in its sentence.

mod blocks;
mod edges;
mod histogram;
mod noise;
mod quiet;
mod resampled;
mod spectrum;
mod tiles;

use serde::Serialize;

use super::noise::NoiseModel;
use super::{Plane, ToneTable};
use crate::words::{self, Sentence};
use spectrum::Spectrum;
pub(crate) use spectrum::white_of;
use tiles::Tiles;

/// What can have happened to a scan on its way to the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
pub enum Fault {
    /// Tones end at a code before they end in the picture.
    Clipped,
    /// Tones were stretched over the whole range of codes, as automatic exposure does.
    FullRange,
    /// Codes between those that are used are missing: few bits inside many, or stretched levels.
    MissingCodes,
    /// Edges overshoot on both sides.
    Sharpened,
    /// Noise that the scanner must have left is gone.
    Denoised,
    /// Compressed as JPEG, in blocks of 8 x 8 pixels.
    JpegBlocks,
    /// Made larger than it was scanned.
    Upsampled,
}

impl Fault {
    /// All of them, in the order in which they are told.
    pub const ALL: [Self; 7] = [
        Self::Clipped,
        Self::FullRange,
        Self::MissingCodes,
        Self::Sharpened,
        Self::Denoised,
        Self::JpegBlocks,
        Self::Upsampled,
    ];

    /// In a word or two.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Clipped => "clipped",
            Self::FullRange => "stretched to the full range",
            Self::MissingCodes => "codes missing",
            Self::Sharpened => "sharpened",
            Self::Denoised => "noise removed",
            Self::JpegBlocks => "JPEG blocks",
            Self::Upsampled => "made larger",
        }
    }

    /// As a key for other programs.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Clipped => "clipped",
            Self::FullRange => "full_range",
            Self::MissingCodes => "missing_codes",
            Self::Sharpened => "sharpened",
            Self::Denoised => "denoised",
            Self::JpegBlocks => "jpeg_blocks",
            Self::Upsampled => "upsampled",
        }
    }

    /// What cannot be trusted any more.
    #[must_use]
    pub fn spoils(self) -> &'static str {
        match self {
            Self::Clipped => "the densities at that end",
            Self::FullRange => "densities: a calibration holds for one stretching alone",
            Self::MissingCodes => "small differences of density, and grain",
            Self::Sharpened => "grain and sharpness, and densities near edges",
            Self::Denoised | Self::JpegBlocks => "grain and fine detail",
            Self::Upsampled => "grain and sharpness: its pixels are not the scanner's",
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn remedy(self) -> &'static str {
        match self {
            Self::Clipped => {
                "Scan again with a shorter or longer exposure, so that both ends of the tones have room."
            }
            Self::FullRange => {
                "Scan again with automatic exposure and levels off, as the calibration tablet was scanned."
            }
            Self::MissingCodes => "Scan again at 16 bits, and do not change levels before saving.",
            Self::Sharpened => "Scan again with sharpening off.",
            Self::Denoised => "Scan again with noise, dust and grain reduction off.",
            Self::JpegBlocks => "Scan again to TIFF, 16 bits, without lossy compression.",
            Self::Upsampled => "Scan again at a resolution that the scanner has, and do not resize.",
        }
    }
}

/// What one test came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Verdict {
    /// The fault is there, as far as the evidence goes.
    Recognised,
    /// Nothing speaks for it.
    NotSeen,
    /// The scan does not hold what the test needs.
    NotTestable,
}

/// One test of a scan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Test {
    /// The fault that is looked for.
    pub fault: Fault,
    /// What it came to.
    pub verdict: Verdict,
    /// The number that speaks for or against it; the sentence says what it is. `None` where it could not be had.
    pub evidence: Option<f64>,
    /// From where on (or down to where) the fault is recognised.
    pub limit: f64,
    /// What was found, in a sentence.
    pub sentence: Sentence,
}

impl Test {
    fn new(fault: Fault, recognised: bool, evidence: f64, limit: f64, sentence: Sentence) -> Self {
        let verdict = if recognised { Verdict::Recognised } else { Verdict::NotSeen };
        Self { fault, verdict, evidence: Some(evidence), limit, sentence }
    }

    fn not_testable(fault: Fault, limit: f64, why: Sentence) -> Self {
        let sentence = words::Examined::NotTested { why }.into();
        Self { fault, verdict: Verdict::NotTestable, evidence: None, limit, sentence }
    }
}

/// All tests of a scan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Examination {
    /// One for each fault, in the order of [`Fault::ALL`].
    pub tests: Vec<Test>,
    /// Standard deviation of what differs from pixel to pixel in the plainest places, in codes; `None` where there are none.
    pub noise: Option<f64>,
    /// Lowest and highest code.
    pub codes: (u32, u32),
}

impl Examination {
    /// The faults that were recognised.
    pub fn found(&self) -> impl Iterator<Item = &Test> {
        self.tests.iter().filter(|test| test.verdict == Verdict::Recognised)
    }

    /// Whether a fault was recognised.
    #[must_use]
    pub fn has(&self, fault: Fault) -> bool {
        self.found().any(|test| test.fault == fault)
    }

    /// In a line: 'sharpened, JPEG blocks', or that nothing was found.
    #[must_use]
    pub fn line(&self) -> String {
        let words: Vec<&str> = self.found().map(|test| test.fault.word()).collect();
        if words.is_empty() { "nothing found against it".to_owned() } else { words.join(", ") }
    }
}

/// What helps to judge a scan beside its pixels.
#[derive(Debug, Clone, Copy, Default)]
pub struct Known<'a> {
    /// The noise of the scanner, from its calibration, and the table that belongs to it.
    pub noise: Option<(&'a NoiseModel, &'a ToneTable)>,
}

/// Examines one channel of a scan. `stop` is asked now and then; `None` when it says so.
#[must_use]
pub fn examine(plane: Plane<'_>, known: Known<'_>, stop: &(dyn Fn() -> bool + Sync)) -> Option<Examination> {
    let counts = histogram::counts(plane, stop)?;
    let tiles = Tiles::of(plane);
    if stop() {
        return None;
    }
    let eight_bits = plane.levels() == 256;
    let unit = histogram::spacing(&counts);
    let spectrum = Spectrum::of(&tiles, unit);
    let jpeg = resampled::rhythm_of_blocks(&tiles).unwrap_or_else(|| blocks::jpeg(&tiles, eight_bits));
    if stop() {
        return None;
    }
    let compressed = jpeg.verdict == Verdict::Recognised;
    let upsampled = resampled::upsampled(&tiles, spectrum.as_ref(), unit, compressed);
    let larger = upsampled.verdict == Verdict::Recognised;
    // A floating point copy of whole codes is judged by these: the roots of dark ones lie apart, and none is missing.
    let copied = plane.scan().meta.square_root.then(|| histogram::copied(&counts)).flatten();
    let missing = histogram::missing_codes(copied.as_ref().map_or(&counts[..], |copied| &copied.counts));
    let tests = vec![
        histogram::clipped(&counts),
        histogram::full_range(&counts),
        missing,
        edges::sharpened(&tiles),
        noise::denoised(spectrum.as_ref(), known, unit, tiles.top, larger || compressed),
        jpeg,
        upsampled,
    ];
    let end = |place: Option<usize>| place.and_then(|code| u32::try_from(code).ok()).unwrap_or(0);
    let codes =
        (end(counts.iter().position(|count| *count > 0)), end(counts.iter().rposition(|count| *count > 0)));
    Some(Examination { tests, noise: spectrum.map(|spectrum| spectrum.noise()), codes })
}

/// Rows that tell between which codes a scan lies.
const FEW_ROWS: usize = 500;

/// What the codes of a scan say of what they may stand for; `None` when `stop` says so.
pub(super) fn codes_in_use(plane: Plane<'_>, stop: &(dyn Fn() -> bool + Sync)) -> Option<CodesInUse> {
    // As few as while a corner is dragged; whether floating point samples are copies of codes takes all that are used.
    let counts = if plane.scan().meta.square_root {
        histogram::counts(plane, stop)?
    } else {
        histogram::counts_of(plane, FEW_ROWS, stop)?
    };
    let copied = plane.scan().meta.square_root.then(|| histogram::copied(&counts)).flatten();
    let all: u64 = counts.iter().map(|count| u64::from(*count)).sum();
    let quantile = |share: f64| {
        let wanted = (share * all as f64) as u64;
        let mut sum = 0;
        counts.iter().position(|count| {
            sum += u64::from(*count);
            sum > wanted
        })
    };
    let ends = (quantile(0.005).unwrap_or(0), quantile(0.995).unwrap_or(0));
    let own_numbers = plane.scan().meta.square_root && histogram::never_copied(&counts);
    Some(CodesInUse { copied: copied.map(|copied| copied.bits), own_numbers, ends })
}

/// The codes of a scan that are in use.
pub(super) struct CodesInUse {
    /// They are floating point copies of codes of so many bits.
    pub(super) copied: Option<u32>,
    /// They are floating point numbers of which too many lie beside all codes to be copies of any.
    pub(super) own_numbers: bool,
    /// Below the first and above the second lie 5 of 1000 pixels.
    pub(super) ends: (usize, usize),
}
