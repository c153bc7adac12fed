//! Registration: which point of one print is which point of another.

mod similarity;

pub use similarity::from_pairs;

use serde::Serialize;

use crate::geometry::Similarity;
use crate::measured::Flags;
use crate::problem::Problem;

/// A grey picture to register, any tone scale, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Tones, e.g. densities.
    pub tones: Vec<f32>,
    /// Side of one of these pixels in pixels of the scan it was made from (1, 2, 4 ...).
    pub scale: f64,
}

/// A found registration.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Registration {
    /// From the first print's full-resolution pixels to the second's.
    pub transform: Similarity,
    /// Root mean square of what remains between small windows of both prints, in pixels of the second.
    pub residual_px: f64,
    /// Standard uncertainty of a mapped point near the middle, in pixels of the second.
    pub u_px: f64,
    /// Correlation of the two prints after registration, -1..=1.
    pub correlation: f64,
    /// Set by hand from two pairs of points.
    pub by_hand: bool,
    /// What must be known about it.
    pub flags: Flags,
}

/// Finds the similarity transform from `a` to `b` from the pictures alone: coarse by correlation over turn and size, then
/// refined to a fraction of a pixel by windows over the whole overlap. Tone curves, grain, crop and exposure may differ.
///
/// # Errors
/// The pictures do not match (too little correlation), or one is empty or flat.
pub fn register(a: &Picture, b: &Picture, stop: &(dyn Fn() -> bool + Sync)) -> Result<Registration, Problem> {
    let _ = stop();
    todo!("{} {}", a.width, b.width)
}
