//! How alike two pictures are as wholes once one is laid on the other: what small windows cannot tell.
//!
//! Cloth, fences and boards repeat: every window of a wrong place may agree. Large light and dark things then do not.

use super::layer::{Layer, Line};
use crate::geometry::{Point, Transform};
use crate::numeric::math;

/// Pixels beside each other that are compared are so far apart.
const STRIDE: usize = 2;
/// Fewest places that say anything.
const LEAST_PLACES: usize = 200;

/// Rank correlation of the tones of both layers over their overlap (C. Spearman, Am. J. Psychol. 15, 1904): tone curves do
/// not matter to it. `None` where they overlap too little.
pub(super) fn likeness(a: &Layer<'_>, b: &Layer<'_>, transform: &Transform) -> Option<f64> {
    let mut pairs: Vec<(f32, f32)> = Vec::new();
    let mut row = vec![0.0_f32; a.width];
    for y in (0..a.height).step_by(STRIDE) {
        let place = |x: f64| b.of_scan(transform.map(a.to_scan(Point::new(x, y as f64))));
        let last = (a.width - 1) as f64;
        b.line(&Line::through(place(0.0), place(last / 2.0), place(last), last), &mut row);
        let inside = (0..a.width).step_by(STRIDE).filter(|x| b.holds(place(*x as f64), 0.0));
        pairs.extend(inside.map(|x| (a.tones[y * a.width + x], row[x])));
    }
    if pairs.len() < LEAST_PLACES {
        return None;
    }
    let first = ranks(pairs.iter().map(|pair| pair.0));
    let second = ranks(pairs.iter().map(|pair| pair.1));
    let middle = (pairs.len() - 1) as f64 / 2.0;
    let sums = first.iter().zip(&second).fold((0.0, 0.0, 0.0), |(both, one, other), (a, b)| {
        let (a, b) = (a - middle, b - middle);
        (both + a * b, one + a * a, other + b * b)
    });
    Some(sums.0 / math::sqrt(sums.1 * sums.2).max(1e-30))
}

/// The place of each value in order; equal values take the order they came in, which for tones with grain is rare.
fn ranks(values: impl Iterator<Item = f32>) -> Vec<f64> {
    let mut order: Vec<(f32, usize)> = values.enumerate().map(|(index, value)| (value, index)).collect();
    order.sort_unstable_by(|one, other| one.0.total_cmp(&other.0).then(one.1.cmp(&other.1)));
    let mut ranks = vec![0.0; order.len()];
    for (rank, (_, index)) in order.into_iter().enumerate() {
        ranks[index] = rank as f64;
    }
    ranks
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A monotone curve keeps ranks, so their correlation is 1; turned round it is -1 (Spearman 1904).
    #[test]
    fn tone_curves_do_not_matter() {
        let layer = |curve: fn(f32) -> f32| Layer {
            width: 60,
            height: 50,
            tones: (0..3000).map(|k| curve(((k * 7919) % 3001) as f32 / 3001.0)).collect(),
            scale: 1.0,
        };
        let plain = layer(|v| v);
        let of = |other: &Layer<'_>| likeness(&plain, other, &Transform::IDENTITY).unwrap();
        assert!((of(&layer(|v| v.powi(3))) - 1.0).abs() < 1e-9);
        assert!((of(&layer(|v| 1.0 - v)) + 1.0).abs() < 1e-9);
    }
}
