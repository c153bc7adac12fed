//! Brackets: frames of one subject, exposed in steps, and the shadow density that all of a series are matched to.
//!
//! Common practice of comparative tests, no source: films are compared at the exposures that give their shadows one
//! density; [`crate::figures::shadow_match`] finds the exposure index at which a film has it.

use serde::Serialize;

use crate::document::Bracket;
use crate::measured::rounding_u;
use crate::numeric::math;
use crate::words::{self, Sentence};

/// One frame as it was measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Frame {
    /// The exposure index it was metered at.
    pub exposure_index: f64,
    /// Density of its shadow patch.
    pub density: f64,
    /// Standard uncertainty of that density.
    pub u: f64,
}

/// The shadow density that all brackets of a series are matched to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ShadowTarget {
    /// Shadow density that frames are matched to, net or gross as the series chose.
    pub density: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// The exposure index at which the reference has it.
    pub exposure_index: f64,
}

/// Two exposure indices are one setting of the meter when they differ by less than a sixth of a stop.
const SAME_SETTING: f64 = 0.5 / 3.0;

/// Standard uncertainty of a bracket's typed shadow densities: its own, or `reading_u` and what rounding to the digits written
/// adds.
///
/// ```
/// # use twinwedge_core::bracket::frame_u;
/// # use twinwedge_core::document::{Bracket, BracketFrame};
/// let frame = |shadow_density| BracketFrame::typed("", 100.0, shadow_density);
/// let bracket = Bracket { frames: vec![frame(0.31), frame(0.42)], u: None };
/// assert!((frame_u(&bracket, 0.01) - 0.01_f64.hypot(0.01 / 12.0_f64.sqrt())).abs() < 1e-12);
/// ```
#[must_use]
pub fn frame_u(bracket: &Bracket, reading_u: f64) -> f64 {
    let typed = || bracket.frames.iter().filter(|frame| frame.scan.is_none());
    let densities = || typed().filter_map(|frame| frame.shadow_density);
    bracket.u.unwrap_or_else(|| math::hypot(reading_u, rounding_u(densities)))
}

/// The shadow density of the reference's frame that was metered at its box speed.
///
/// # Errors
/// In a sentence: no bracket, no box speed, or no frame metered at it.
pub fn reference_shadow(frames: &[Frame], box_speed: Option<f64>) -> Result<ShadowTarget, Sentence> {
    if frames.is_empty() {
        return Err(words::Bracket::ReferenceHasNone.into());
    }
    let speed = box_speed.filter(|speed| *speed > 0.0).ok_or(words::Bracket::ReferenceHasNoBoxSpeed)?;
    let away = |index: f64| math::log2(index / speed).abs();
    let usable = frames.iter().filter(|frame| frame.exposure_index > 0.0);
    let nearest = usable.min_by(|a, b| away(a.exposure_index).total_cmp(&away(b.exposure_index)));
    match nearest.filter(|frame| away(frame.exposure_index) < SAME_SETTING) {
        Some(Frame { exposure_index, density, u }) => {
            Ok(ShadowTarget { density: *density, u: *u, exposure_index: *exposure_index })
        }
        None => Err(words::Bracket::NoFrameAtBoxSpeed { speed }.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reference_is_read_at_its_box_speed() {
        let frame = |(exposure_index, density): (f64, f64)| Frame { exposure_index, density, u: 0.02 };
        let frames = [(125.0, 0.42), (160.0, 0.36), (200.0, 0.31)].map(frame);
        let target = reference_shadow(&frames, Some(160.0)).unwrap();
        assert_eq!(target, ShadowTarget { density: 0.36, u: 0.02, exposure_index: 160.0 });
        assert!(reference_shadow(&frames, Some(800.0)).is_err());
        assert!(reference_shadow(&[], Some(160.0)).is_err());
    }
}
