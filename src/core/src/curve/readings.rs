//! The data of a curve: points, and which of their errors are shared by what.

use serde::Serialize;

use crate::document::{StripLevel, TypedReading};
use crate::measured::{self, Flags, Measured};
use crate::numeric::math;
use crate::scan::{ScaleErrors, SharedError};

/// One point of a curve's data.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reading {
    /// Strip of the roll, an index into [`Sources::strips`]; 0 is the first.
    pub strip: usize,
    /// Step of the strip's tablet, from 1.
    pub step: u32,
    /// lg H behind the step.
    pub log_h: f64,
    /// Standard uncertainty of that log H from the tablet's density at this step: independent between steps, the same
    /// error for every strip and every film exposed through the tablet.
    pub log_h_u: f64,
    /// Density of the step as it was read.
    pub density: f64,
    /// Its standard uncertainty; this error is the point's own. What a calibration errs is not in it: see
    /// [`Readings::density`].
    pub density_u: f64,
    /// Set aside: shown, not fitted.
    pub set_aside: bool,
    /// What must be known about it.
    pub flags: Flags,
}

/// Names what an error comes from: errors of one key are one and the same error in all films of a series.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize)]
pub struct ErrorKey(u64);

impl ErrorKey {
    /// The light in front of the tablet, one calibration for all films of a series.
    pub const LIGHT: Self = Self(1);

    /// A key for a thing of that kind and name, the same on every platform: the hash FNV-1a of 64 bits (G. Fowler,
    /// L. C. Noll, K.-P. Vo; RFC 9923).
    ///
    /// ```
    /// # use twinwedge_core::curve::ErrorKey;
    /// assert_eq!(ErrorKey::of("tablet", "A"), ErrorKey::of("tablet", "A"));
    /// assert_ne!(ErrorKey::of("tablet", "A"), ErrorKey::of("film", "A"));
    /// ```
    #[must_use]
    pub fn of(kind: &str, name: &str) -> Self {
        Self(0xCBF2_9CE4_8422_2325).with(kind.bytes().chain([0]).chain(name.bytes()))
    }

    /// A key for a thing of that kind by the numbers that it is known by: whatever it is called and wherever it stands, the
    /// same numbers make the same key, and others another.
    ///
    /// ```
    /// # use twinwedge_core::curve::ErrorKey;
    /// assert_eq!(ErrorKey::by("tablet", [0.05, 0.20]), ErrorKey::by("tablet", [0.05, 0.20]));
    /// assert_ne!(ErrorKey::by("tablet", [0.05, 0.20]), ErrorKey::by("tablet", [0.20, 0.05]));
    /// ```
    #[must_use]
    pub fn by(kind: &str, numbers: impl IntoIterator<Item = f64>) -> Self {
        let bytes = numbers.into_iter().flat_map(|number| number.to_bits().to_le_bytes());
        Self::of(kind, "").with(bytes)
    }

    fn with(self, bytes: impl Iterator<Item = u8>) -> Self {
        let hashed = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3);
        Self(bytes.fold(self.0, hashed))
    }

    /// The number of its stream of random numbers.
    #[must_use]
    pub fn number(self) -> u64 {
        self.0
    }
}

/// One strip of a roll.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Strip {
    /// What it is called.
    pub name: String,
    /// The errors of its tablet.
    pub tablet: ErrorKey,
    /// Standard uncertainty in log H of an error that all steps of its tablet share, in every film.
    pub tablet_shared_u: f64,
    /// Its light against that of the first strip. The points' log exposures have a known level in them, and none where it
    /// is to be found from the overlap.
    pub level: StripLevel,
    /// What the scale errs by which its densities were read in a scan, beside each density's own error; nothing for typed ones.
    pub scale: ScaleErrors,
}

impl Strip {
    /// The first strip of a roll, through a tablet without an error that its steps share.
    #[must_use]
    pub fn first(tablet: ErrorKey) -> Self {
        Self {
            name: String::new(),
            tablet,
            tablet_shared_u: 0.0,
            level: StripLevel::StopsLess { stops: 0.0, u: 0.0 },
            scale: ScaleErrors::default(),
        }
    }
}

/// What the errors of a film's readings come from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sources {
    /// The film: errors of its own readings are shared with no other.
    pub film: ErrorKey,
    /// The strips that the points were read on, the first first; at least one.
    pub strips: Vec<Strip>,
}

impl Default for Sources {
    /// One strip of a film without a name.
    fn default() -> Self {
        Self { film: ErrorKey::default(), strips: vec![Strip::first(ErrorKey::default())] }
    }
}

/// The data of one film's curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Readings {
    /// The points, in any order.
    pub points: Vec<Reading>,
    /// lg H is absolute (lux seconds): an ISO speed may be had where its other conditions hold.
    pub absolute: bool,
    /// Standard uncertainty of the light itself, shared by all points and all films (zero when relative).
    pub log_h_shared_u: f64,
    /// The strips, and what else their errors come from.
    pub sources: Sources,
    /// Base+fog read on an unexposed area: density and standard uncertainty.
    pub base_fog: Option<(f64, f64)>,
    /// Flags that everything from these readings carries.
    pub flags: Flags,
}

impl Readings {
    /// Flags of the readings as a whole and of every fitted point, but for what concerns a single reading only.
    #[must_use]
    pub fn all_flags(&self) -> Flags {
        let fitted = self.points.iter().filter(|point| !point.set_aside);
        let flags = fitted.fold(self.flags, |flags, point| flags | point.flags);
        // That is of its log exposures alone.
        flags.difference(Flags::LIGHT_NOT_SAID | Flags::KEPT | Flags::MISREAD)
    }

    /// What the scale errs by which a point was read.
    pub(crate) fn scale_error(&self, point: &Reading) -> SharedError {
        let strip = self.sources.strips.get(point.strip);
        strip.map_or_else(SharedError::default, |strip| strip.scale.density(point.density))
    }

    /// The density of a point with all its uncertainty: its own error and that of the scale by which it was read.
    #[must_use]
    pub fn density(&self, point: &Reading) -> Measured {
        let u = math::hypot(point.density_u, self.scale_error(point).u());
        Measured::normal(point.density, u).flagged(point.flags)
    }

    /// The density of a point less that of a point of another film. What one calibration errs in both alike is not in it.
    #[must_use]
    pub fn density_less(&self, point: &Reading, other: &Self, of_other: &Reading) -> Measured {
        let difference = self.density(point).minus(&other.density(of_other));
        difference.with_variance(-2.0 * self.scale_error(point).common(&other.scale_error(of_other)))
    }

    /// A point in words: its step, and its strip where there are several.
    #[must_use]
    pub fn name_of(&self, point: &Reading) -> String {
        self.name_at(point.strip, point.step)
    }

    /// The same by its strip and step.
    #[must_use]
    pub fn name_at(&self, strip: usize, step: u32) -> String {
        if self.sources.strips.len() < 2 {
            return format!("step {step}");
        }
        format!("step {step} of {}", self.strip_name(strip))
    }

    /// What a strip is called: its name, or its number where it has none.
    #[must_use]
    pub fn strip_name(&self, strip: usize) -> String {
        let name = self.sources.strips.get(strip).map(|strip| strip.name.trim()).unwrap_or_default();
        if name.is_empty() { format!("strip {}", strip + 1) } else { name.to_owned() }
    }
}

/// Unit of the last digit of typed readings, the finest that any of them uses: 0.1, 0.01 or 0.001; `None` for finer ones.
///
/// ```
/// # use twinwedge_core::{curve::last_digit, document::TypedReading};
/// let reading = TypedReading::new;
/// assert_eq!(last_digit(&[reading(0.3), reading(1.25)]), Some(0.01));
/// ```
#[must_use]
pub fn last_digit(typed: &[TypedReading]) -> Option<f64> {
    measured::last_digit(|| typed.iter().map(|reading| reading.density))
}

/// Standard uncertainty that rounding to the digits typed adds: a twelfth of the last digit's unit squared
/// (JCGM 100:2008, 4.3.7).
#[must_use]
pub fn rounding_u(typed: &[TypedReading]) -> f64 {
    measured::rounding_u(|| typed.iter().map(|reading| reading.density))
}
