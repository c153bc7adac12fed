//! Brackets: frames of one subject, exposed in steps, and the frame whose shadow density equals the reference's.
//!
//! Common practice of comparative tests, no source: films are compared at the exposures that give their shadows one
//! density, and the exposure index of that frame says how fast a film is in use.

use serde::Serialize;

use crate::document::Bracket;
use crate::measured::{Measured, Value};
use crate::numeric::math;

/// The shadow density that all brackets of a series are matched to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ShadowTarget {
    /// Density.
    pub density: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// Two exposure indices are one setting of the meter when they differ by less than a sixth of a stop.
const SAME_SETTING: f64 = 0.5 / 3.0;

/// The shadow density of the reference's frame that was metered at its box speed.
///
/// `reading_u` stands in where the bracket has no uncertainty of its own.
///
/// # Errors
/// In a sentence: no bracket, no box speed, or no frame metered at it.
pub fn reference_shadow(
    bracket: Option<&Bracket>,
    box_speed: Option<f64>,
    reading_u: f64,
) -> Result<ShadowTarget, String> {
    let bracket =
        bracket.filter(|bracket| !bracket.frames.is_empty()).ok_or("The reference has no bracket.")?;
    let speed = box_speed.filter(|speed| *speed > 0.0).ok_or("The reference has no box speed.")?;
    let away = |index: f64| math::log2(index / speed).abs();
    let usable = bracket.frames.iter().filter(|frame| frame.exposure_index > 0.0);
    let nearest = usable.min_by(|a, b| away(a.exposure_index).total_cmp(&away(b.exposure_index)));
    match nearest.filter(|frame| away(frame.exposure_index) < SAME_SETTING) {
        Some(frame) => Ok(ShadowTarget { density: frame.shadow_density, u: bracket.u.unwrap_or(reading_u) }),
        None => Err(format!("No frame of the reference was metered at its box speed of {speed}.")),
    }
}

/// The exposure index at which a bracket's shadow density equals `target`: linear between neighbouring frames over the
/// logarithm of the index. Its uncertainty is that of the two densities over the slope between the frames
/// (JCGM 100:2008, 5.1.2), in the index.
///
/// ```
/// # use twinwedge_core::bracket::{ShadowTarget, shadow_match};
/// # use twinwedge_core::document::{Bracket, BracketFrame};
/// let frame = |index, density| BracketFrame { name: String::new(), exposure_index: index, shadow_density: density };
/// let bracket = Bracket { frames: vec![frame(100.0, 0.50), frame(400.0, 0.30)], u: Some(0.0) };
/// let target = ShadowTarget { density: 0.40, u: 0.0 };
/// let index = shadow_match(Some(&bracket), target, 0.01);
/// assert!((index.known().unwrap().value - 200.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn shadow_match(bracket: Option<&Bracket>, target: ShadowTarget, reading_u: f64) -> Value {
    let Some(bracket) = bracket.filter(|bracket| !bracket.frames.is_empty()) else {
        return Value::Undefined("It has no bracket.".to_owned());
    };
    let usable = bracket.frames.iter().filter(|frame| frame.exposure_index > 0.0);
    let mut points: Vec<(f64, f64)> =
        usable.map(|frame| (math::log10(frame.exposure_index), frame.shadow_density)).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let frame_u = bracket.u.unwrap_or(reading_u);
    let mut found: Vec<(f64, f64)> = Vec::new();
    for pair in points.windows(2) {
        let [(x0, d0), (x1, d1)] = [pair[0], pair[1]];
        // A frame that has just this density belongs to both of its neighbours.
        let (low, high) = (d0.min(d1), d0.max(d1));
        let inside = low <= target.density && target.density <= high && low < high;
        if !inside || x1 <= x0 {
            continue;
        }
        let t = (target.density - d0) / (d1 - d0);
        let u = math::hypot(math::hypot((1.0 - t) * frame_u, t * frame_u), target.u)
            * ((x1 - x0) / (d1 - d0)).abs();
        found.push((x0 + t * (x1 - x0), u));
    }
    let (Some(first), Some(last)) = (found.first(), found.last()) else {
        return Value::Undefined(out_of_reach(&points, target));
    };
    // Noise may cross the target more than once: the middle stands for them, their spread adds to its uncertainty.
    let middle = f64::midpoint(first.0, last.0);
    let u = math::hypot(first.1.max(last.1), (last.0 - first.0) / 2.0);
    let index = math::pow(10.0, middle);
    let z = crate::measured::Z95;
    Value::Known(Measured::with_interval(
        index,
        index * core::f64::consts::LN_10 * u,
        math::pow(10.0, middle - z * u),
        math::pow(10.0, middle + z * u),
    ))
}

fn out_of_reach(points: &[(f64, f64)], target: ShadowTarget) -> String {
    let shadow = target.density;
    match points {
        [] => "No frame of its bracket has an exposure index.".to_owned(),
        points if points.iter().all(|(_, density)| *density > shadow) => {
            format!("Every frame is denser in the shadow than the reference's {shadow:.2}: expose less.")
        }
        points if points.iter().all(|(_, density)| *density < shadow) => {
            format!("No frame reaches the reference's shadow density of {shadow:.2}: expose more.")
        }
        [_] => "Its bracket has one frame only.".to_owned(),
        _ => "Its frames do not tell at which exposure the shadow matches.".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::BracketFrame;

    fn bracket(frames: &[(f64, f64)], u: f64) -> Bracket {
        let frame = |(index, density): &(f64, f64)| BracketFrame {
            name: String::new(),
            exposure_index: *index,
            shadow_density: *density,
        };
        Bracket { frames: frames.iter().map(frame).collect(), u: Some(u) }
    }

    #[test]
    fn the_reference_is_read_at_its_box_speed() {
        let frames = bracket(&[(125.0, 0.42), (160.0, 0.36), (200.0, 0.31)], 0.02);
        let target = reference_shadow(Some(&frames), Some(160.0), 0.01).unwrap();
        assert_eq!(target, ShadowTarget { density: 0.36, u: 0.02 });
        assert!(reference_shadow(Some(&frames), Some(800.0), 0.01).is_err());
        assert!(reference_shadow(None, Some(160.0), 0.01).is_err());
    }

    // Analytic: density falls 0.10 per stop, so +-0.01 and +-0.01 at a frame is sqrt(2) * 0.01 / 0.10 stop.
    #[test]
    fn uncertainty_is_density_over_slope() {
        let frames = bracket(&[(100.0, 0.50), (200.0, 0.40), (400.0, 0.30)], 0.01);
        let value = shadow_match(Some(&frames), ShadowTarget { density: 0.40 + 1e-9, u: 0.01 }, 0.5);
        let measured = value.known().unwrap();
        assert!((measured.value - 200.0).abs() < 1e-4);
        let stops = 2.0_f64.sqrt() * 0.1;
        assert!((measured.u / 200.0 - stops * core::f64::consts::LN_2).abs() < 1e-6);
    }

    // By definition: the last frame of a bracket with just the density that is wanted is the match.
    #[test]
    fn a_match_at_the_end_of_the_bracket_is_found() {
        for frames in [[(125.0, 0.44), (160.0, 0.40)], [(160.0, 0.40), (200.0, 0.36)]] {
            let value =
                shadow_match(Some(&bracket(&frames, 0.01)), ShadowTarget { density: 0.40, u: 0.01 }, 0.01);
            assert!((value.known().unwrap().value - 160.0).abs() < 1e-6);
        }
    }

    #[test]
    fn a_shadow_out_of_reach_says_which_way() {
        let frames = bracket(&[(100.0, 0.50), (200.0, 0.40)], 0.01);
        let reason = |density| match shadow_match(Some(&frames), ShadowTarget { density, u: 0.0 }, 0.01) {
            Value::Undefined(reason) => reason,
            Value::Known(_) => panic!("known"),
        };
        assert!(reason(0.2).contains("expose less"));
        assert!(reason(0.9).contains("expose more"));
    }
}
