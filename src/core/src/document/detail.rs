//! Where grain and detail are looked at, and how a print is looked at.

use serde::{Deserialize, Serialize};

use super::ScanId;
use crate::geometry::Rect;

/// What light is taken back to before the transfer function is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EdgeSpace {
    /// Exposure of the film, by its characteristic curve.
    #[default]
    Exposure,
    /// Light as scanned: transmittance or reflectance.
    Light,
}

/// A uniform area in which grain is measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GrainArea {
    /// The scan of film (or of a print, and then said so).
    pub scan: ScanId,
    /// The area, in its pixels.
    pub area: Rect,
    /// Where the scanner's noise in it is known from.
    #[serde(default, skip_serializing_if = "GrainNoise::is_default")]
    pub noise: GrainNoise,
}

impl GrainArea {
    /// An area of which the calibration knows the noise, if anything does.
    #[must_use]
    pub fn new(scan: ScanId, area: Rect) -> Self {
        Self { scan, area, noise: GrainNoise::default() }
    }
}

/// Where the scanner's own noise in a uniform area is known from.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub enum GrainNoise {
    /// From the noise model of the scan's calibration, where it has one.
    #[default]
    Calibration,
    /// From a second scan of the same film, on which nothing was moved or changed.
    Repeat(ScanId),
    /// From an area without grain of like density, scanned alike.
    Blank {
        /// The scan that the area lies in.
        scan: ScanId,
        /// The area, in its pixels.
        area: Rect,
    },
    /// It is left in the granularity.
    LeftIn,
}

impl GrainNoise {
    fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// A straight edge between a lighter and a darker uniform area, from which sharpness is measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EdgeArea {
    /// The scan of film (or of a print, and then said so).
    pub scan: ScanId,
    /// The box around the edge, in its pixels.
    pub area: Rect,
}

/// How sharpness is measured.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SharpnessChoices {
    /// What transfer functions are of, where the film's characteristic curve allows.
    pub space: EdgeSpace,
    /// A knife edge that was scanned as the films are: the scanner's own sharpness, to be divided out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scanner_edge: Option<EdgeArea>,
}

impl SharpnessChoices {
    pub(super) fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// How a print is looked at: what graininess for a viewer and the crops on the screen refer to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Viewing {
    /// Linear enlargement of the print that is imagined.
    pub enlargement: f64,
    /// Distance of the eye from it in millimetres.
    pub distance_mm: f64,
    /// Density of the print where its grain is looked at.
    pub print_density: f64,
}

impl Default for Viewing {
    /// Eight times, at a hand's reading distance, in a mid grey where grain shows most (common practice, no source).
    fn default() -> Self {
        Self { enlargement: 8.0, distance_mm: 250.0, print_density: 0.7 }
    }
}

impl Viewing {
    pub(super) fn is_default(&self) -> bool {
        *self == Self::default()
    }
}
