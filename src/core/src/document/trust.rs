//! What makes a scan fit to be measured: its flat field, a known patch in it, and the aperture it is read through.

use serde::{Deserialize, Serialize};

use super::ScanId;
use crate::geometry::Rect;

/// Where the falloff of the light over a scan is taken from.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub enum FlatSource {
    /// It is not taken out.
    #[default]
    Nothing,
    /// A scan of nothing, or of an even white, made with the same settings and of the same frame.
    Blank(ScanId),
    /// The paper's white along the four sides of the scan itself, so many pixels wide.
    Border(f64),
}

impl FlatSource {
    /// Whether nothing is taken out.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        *self == Self::Nothing
    }
}

/// A place of known density in a scan, by which drift of the scanner shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KnownPatch {
    /// Where, in the scan's pixels.
    pub area: Rect,
    /// The density that it is known to have.
    pub density: f64,
    /// Standard uncertainty of that.
    #[serde(default)]
    pub u: f64,
    /// Whether all densities of the scan are shifted by what it is off.
    #[serde(default)]
    pub applied: bool,
}

/// The part of a step or patch that is read, centred in it.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub enum Aperture {
    /// The inner share of its length and width.
    #[default]
    Share,
    /// A circle of so many millimetres across, by the scan's resolution.
    Circle(f64),
    /// A square of so many millimetres along its side, by the scan's resolution.
    Square(f64),
}

impl Aperture {
    pub(super) fn is_share(&self) -> bool {
        *self == Self::Share
    }
}
