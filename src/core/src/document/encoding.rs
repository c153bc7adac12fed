//! What the codes of a scan stand for.

use serde::{Deserialize, Serialize};

use super::ranges;
use crate::numeric::math;
use crate::shown::Shown;
use crate::words::{Field, Sentence};

/// What the codes of a scan stand for, where no calibration tells their densities. A code counts as its share `v` of the
/// highest code, from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Encoding {
    /// Light itself: a code stands for `v`.
    Linear,
    /// The sRGB curve of light (IEC 61966-2-1:1999).
    Srgb,
    /// A power of light: `v` to this exponent is light.
    Power(f64),
    /// Density, which rises or falls evenly with the code.
    Density {
        /// Density at the code 0.
        first: f64,
        /// Density at the highest code.
        last: f64,
    },
    /// What the tone curve in the file says.
    Profile,
}

/// Least difference of density between the first code and the last.
const LEAST_RANGE: f64 = 0.1;

/// How an encoding is written.
pub const FORMS: &str = "Write 'linear', 'srgb', 'power:EXPONENT' (power:2.2), 'density:FIRST..LAST' (the densities of code 0 and of \
                         the highest code: density:0..4) or 'profile'.";

impl Encoding {
    /// The encoding that a text says: `linear`, `srgb`, `power:2.2`, `density:0..4`, `profile`.
    ///
    /// # Errors
    /// No encoding is written so, or its numbers cannot be.
    ///
    /// ```
    /// # use twinwedge_core::document::Encoding;
    /// assert_eq!(Encoding::parse("power:1.8"), Ok(Encoding::Power(1.8)));
    /// assert_eq!(Encoding::parse("density:4..0"), Ok(Encoding::Density { first: 4.0, last: 0.0 }));
    /// assert!(Encoding::parse("power:0").is_err() && Encoding::parse("log").is_err());
    /// ```
    pub fn parse(text: &str) -> Result<Self, Sentence> {
        let word = text.trim();
        let unknown = || Field::UnknownEncoding { text: Shown(text).to_string(), forms: FORMS };
        let encoding = match word.split_once(':').map_or((word, None), |(word, rest)| (word, Some(rest))) {
            ("linear", None) => Self::Linear,
            ("srgb", None) => Self::Srgb,
            ("profile", None) => Self::Profile,
            ("power", Some(exponent)) => Self::Power(ranges::CODE_EXPONENT.parse(exponent)?),
            ("density", Some(range)) => {
                let (first, last) = range.split_once("..").ok_or_else(unknown)?;
                Self::Density { first: ranges::DENSITY.parse(first)?, last: ranges::DENSITY.parse(last)? }
            }
            _ => return Err(unknown().into()),
        };
        encoding.check().map(|()| encoding)
    }

    /// Whether its numbers can be.
    ///
    /// # Errors
    /// A number is out of its range, or the densities of both ends are almost the same.
    pub fn check(&self) -> Result<(), Sentence> {
        match *self {
            Self::Linear | Self::Srgb | Self::Profile => Ok(()),
            Self::Power(exponent) => ranges::CODE_EXPONENT.check(exponent).map(|_| ()),
            Self::Density { first, last } => {
                ranges::DENSITY.check(first)?;
                ranges::DENSITY.check(last)?;
                if (first - last).abs() < LEAST_RANGE {
                    return Err(Field::DensitiesAlike { first, last }.into());
                }
                Ok(())
            }
        }
    }

    /// As it is written in options, lists and JSON; [`Self::parse`] reads it again.
    #[must_use]
    pub fn key(&self) -> String {
        match *self {
            Self::Linear => "linear".to_owned(),
            Self::Srgb => "srgb".to_owned(),
            Self::Power(exponent) => format!("power:{exponent}"),
            Self::Density { first, last } => format!("density:{first}..{last}"),
            Self::Profile => "profile".to_owned(),
        }
    }

    /// The encoding as a reader is told it.
    #[must_use]
    pub fn words(&self) -> String {
        match *self {
            Self::Linear => "linear light".to_owned(),
            Self::Srgb => "sRGB".to_owned(),
            Self::Power(exponent) => format!("a power of {exponent}"),
            Self::Density { first, last } => format!("density from {first} to {last}"),
            Self::Profile => "the profile in the file".to_owned(),
        }
    }

    /// Light of a code `v` in 0..=1; `None` for a profile, which is a curve of its file.
    ///
    /// ```
    /// # use twinwedge_core::document::Encoding;
    /// let density = |encoding: Encoding| -encoding.light(0.25).unwrap().log10();
    /// assert!((density(Encoding::Linear) - 0.60206).abs() < 1e-5);
    /// assert!((density(Encoding::Power(2.0)) - 1.20412).abs() < 1e-5);
    /// assert!((density(Encoding::Density { first: 4.0, last: 0.0 }) - 3.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn light(&self, v: f64) -> Option<f64> {
        match *self {
            Self::Linear => Some(v),
            Self::Srgb => Some(srgb_to_linear(v)),
            Self::Power(exponent) => Some(math::pow(v, exponent)),
            Self::Density { first, last } => Some(math::pow(10.0, -(first + v * (last - first)))),
            Self::Profile => None,
        }
    }
}

/// Linear light of an sRGB value `v` in 0..=1 (IEC 61966-2-1:1999): `v/12.92` up to 0.04045, else
/// `((v+0.055)/1.055)^2.4`.
///
/// ```
/// # use twinwedge_core::scan::srgb_to_linear;
/// assert!((srgb_to_linear(0.5) - 0.21404114).abs() < 1e-7);
/// ```
#[must_use]
pub fn srgb_to_linear(v: f64) -> f64 {
    if v <= 0.04045 { v / 12.92 } else { math::pow((v + 0.055) / 1.055, 2.4) }
}
