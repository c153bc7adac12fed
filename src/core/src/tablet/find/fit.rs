//! The corners of a row of equal steps in perspective, by least squares on everything that was seen of it.

use nalgebra::{SMatrix, SVector};

use super::observe::{Frame, Observed, On, distance};
use crate::geometry::{Homography, Point, Quad};
use crate::numeric::robust::{self, MAD_TO_SIGMA};

/// Least uncertainty of one place, in pixels: the model is no better.
const FLOOR: f64 = 0.12;

/// A fitted strip.
#[derive(Clone, Copy)]
pub(super) struct Fitted {
    pub(super) quad: Quad,
    pub(super) frame: Frame,
    /// Robust spread of the places about the model, in pixels.
    pub(super) spread: f64,
    /// Largest standard uncertainty of a corner, in pixels.
    pub(super) corner_u: f64,
}

/// Distance of a place from where the frame has it, in pixels.
pub(super) fn off(frame: &Frame, observed: &Observed) -> f64 {
    let (u, v) = frame.map.frame(observed.at);
    match observed.on {
        On::Border(number) => (u * frame.steps - f64::from(number)) * frame.length(f64::from(number), v),
        On::Side(which) => (v - f64::from(which)) * frame.width(u * frame.steps),
    }
}

/// Gauss and Newton with weights that fall to nothing for places that stray (J. W. Tukey's biweight). `None` where the places do
/// not determine a strip.
pub(super) fn fit(quad: Quad, steps: u32, places: &[Observed]) -> Option<Fitted> {
    let mut quad = quad;
    let frame_of = |quad: &Quad| Some(Frame { map: Homography::of(quad)?, steps: f64::from(steps) });
    let mut frame = frame_of(&quad)?;
    let mut corner_u = f64::INFINITY;
    let mut spread = f64::INFINITY;
    for round in 0..8 {
        let offs: Vec<f64> = places.iter().map(|place| off(&frame, place)).collect();
        let sizes: Vec<f64> = offs.iter().map(|off| off.abs()).collect();
        spread = (MAD_TO_SIGMA * robust::median(&sizes)?).max(FLOOR);
        // Wide at first, so that no side is lost before the corners are near.
        let cut = 4.5 * spread * if round < 3 { 2.0 } else { 1.0 };
        let nudge = 0.01 * distance(quad.corners[0], quad.corners[3]).max(1.0);
        let moved: Vec<Frame> = (0..8).filter_map(|k| frame_of(&shifted(&quad, k, nudge))).collect();
        if moved.len() < 8 {
            return None;
        }
        let (mut normal, mut right) = (SMatrix::<f64, 8, 8>::zeros(), SVector::<f64, 8>::zeros());
        for (place, off_here) in places.iter().zip(&offs) {
            let share = off_here / cut;
            if share.abs() >= 1.0 {
                continue;
            }
            let tukey = (1.0 - share * share) * (1.0 - share * share);
            let weight = tukey / (place.u * place.u + FLOOR * FLOOR + 0.1 * spread * spread);
            let slopes = SVector::<f64, 8>::from_fn(|k, _| (off(&moved[k], place) - off_here) / nudge);
            normal += weight * slopes * slopes.transpose();
            right -= weight * slopes * *off_here;
        }
        let damped = normal + SMatrix::<f64, 8, 8>::identity() * (1e-6 * normal.trace() / 8.0);
        let inverse = damped.try_inverse()?;
        let by = inverse * right;
        if !by.iter().all(|value| value.is_finite()) {
            return None;
        }
        for (k, by) in by.iter().enumerate() {
            let limit = 0.2 * distance(quad.corners[0], quad.corners[3]);
            quad = shifted(&quad, k, by.clamp(-limit, limit));
        }
        frame = frame_of(&quad)?;
        // Places along one border or side share errors: ten of them count as one.
        corner_u = (0..8).map(|k| (10.0 * inverse[(k, k)]).max(0.0).sqrt()).fold(0.0, f64::max);
    }
    Some(Fitted { quad, frame, spread, corner_u })
}

fn shifted(quad: &Quad, k: usize, by: f64) -> Quad {
    let mut quad = *quad;
    let Point { x, y } = &mut quad.corners[k / 2];
    *(if k.is_multiple_of(2) { x } else { y }) += by;
    quad
}
