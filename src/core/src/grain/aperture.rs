//! The circular aperture as weights of whole pixels.
//!
//! A disc laid over pixels covers those on its rim in part. Counted by their covered share, they would make granularity read
//! low: on noise that is independent from pixel to pixel weights act as an aperture of area `(sum w)^2 / sum w^2`, which is
//! larger than the disc, at eight pixels across by 8 %, and pixels blur grain that is not. So a pixel counts in full where
//! two thirds of it are covered and not at all where less than one third is, and the disc is drawn such that this area is
//! exactly that of the stated aperture. For grain that hangs together over pixels the error then stays below 1.6 % from
//! three pixels across on, and goes to nothing the longer it hangs together; `tests/simulated/granularity.rs` has the figures.

use core::f64::consts::FRAC_PI_4;

use crate::numeric::math;

/// Weights of an aperture centred on a pixel's centre, each 0..=1.
///
/// ```
/// # use twinwedge_core::grain::aperture_weights;
/// let disc = aperture_weights(7.56);
/// assert!((disc.effective_area() - std::f64::consts::PI * 3.78 * 3.78).abs() < 1e-9);
/// assert_eq!(disc.at(0, 0), 1.0);
/// assert_eq!(disc.at(9, 0), 0.0);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ApertureWeights {
    reach: usize,
    quadrant: Vec<f64>,
}

/// Covered share of a pixel from which on it counts in full; it counts not at all up to one less this.
const FULL: f64 = 2.0 / 3.0;

/// The weights of an aperture of that diameter in pixels, which is at least 1.2. A diameter that is not above zero gives the
/// weights of nothing.
#[must_use]
pub fn aperture_weights(diameter_px: f64) -> ApertureWeights {
    let stated = if diameter_px > 0.0 { diameter_px / 2.0 } else { return disc(0.0) };
    let area = 4.0 * FRAC_PI_4 * stated * stated;
    let (mut low, mut high) = (0.0, stated + 0.5);
    // Halving down to the last digit: the smaller disc never has more than the stated area, the larger never less.
    for _ in 0..52 {
        let middle = 0.5 * (low + high);
        if disc(middle).effective_area() > area { high = middle } else { low = middle }
    }
    disc(high)
}

/// Weights of a disc of that radius.
fn disc(radius: f64) -> ApertureWeights {
    let reach = (radius - 0.5).ceil().max(0.0) as usize;
    let side = reach + 1;
    let mut quadrant = vec![0.0; side * side];
    for dy in 0..side {
        for dx in 0..=dy {
            let share = covered(radius, dx as f64, dy as f64);
            let weight = ((share - (1.0 - FULL)) / (2.0 * FULL - 1.0)).clamp(0.0, 1.0);
            quadrant[dy * side + dx] = weight;
            quadrant[dx * side + dy] = weight;
        }
    }
    // The outermost pixels may count for nothing.
    let kept = (0..side).rev().find(|k| quadrant[*k] > 0.0).map_or(1, |last| last + 1);
    let quadrant = (0..kept * kept).map(|k| quadrant[k / kept * side + k % kept]).collect();
    ApertureWeights { reach: kept - 1, quadrant }
}

/// Share of a pixel so far from the middle of a disc that the disc covers.
fn covered(radius: f64, x: f64, y: f64) -> f64 {
    if math::hypot(x + 0.5, y + 0.5) <= radius {
        return 1.0;
    }
    if math::hypot((x - 0.5).max(0.0), (y - 0.5).max(0.0)) >= radius {
        return 0.0;
    }
    corner_area(radius, x + 0.5, y + 0.5)
        - corner_area(radius, x - 0.5, y + 0.5)
        - corner_area(radius, x + 0.5, y - 0.5)
        + corner_area(radius, x - 0.5, y - 0.5)
}

/// Area of the part of a disc about the origin in the rectangle from the origin to `(x, y)`; odd in both, so that
/// differences give the area over any rectangle.
fn corner_area(radius: f64, x: f64, y: f64) -> f64 {
    let sign = x.signum() * y.signum();
    let (x, y) = (x.abs().min(radius), y.abs().min(radius));
    if x * x + y * y <= radius * radius {
        return sign * x * y;
    }
    // Integral of sqrt(r^2 - t^2) from 0 to t.
    let under = |t: f64| {
        let square = radius * radius - t * t;
        let chord = math::sqrt(square.max(0.0));
        0.5 * (t * chord + radius * radius * math::atan2(t, chord))
    };
    let flat = math::sqrt(radius * radius - y * y);
    sign * (y * flat + under(x) - under(flat))
}

impl ApertureWeights {
    /// Pixels from the centre to the last one touched.
    #[must_use]
    pub fn reach(&self) -> usize {
        self.reach
    }

    /// The weight of the pixel `dx` to the right and `dy` down of the centre.
    #[must_use]
    pub fn at(&self, dx: isize, dy: isize) -> f64 {
        let (dx, dy) = (dx.unsigned_abs(), dy.unsigned_abs());
        if dx > self.reach || dy > self.reach { 0.0 } else { self.quadrant[dy * (self.reach + 1) + dx] }
    }

    /// Sum of all weights.
    #[must_use]
    pub fn sum(&self) -> f64 {
        self.total(|w| w)
    }

    /// Area, in pixels, of the aperture that these weights are on noise that is independent from pixel to pixel:
    /// `(sum w)^2 / sum w^2`, that of the stated aperture.
    #[must_use]
    pub fn effective_area(&self) -> f64 {
        let (sum, squares) = (self.sum(), self.total(|w| w * w));
        if squares > 0.0 { sum * sum / squares } else { 0.0 }
    }

    fn total(&self, f: impl Fn(f64) -> f64) -> f64 {
        let side = self.reach + 1;
        let mut total = 0.0;
        for (index, weight) in self.quadrant.iter().enumerate() {
            let mirrored = |k: usize| if k == 0 { 1.0 } else { 2.0 };
            total += mirrored(index % side) * mirrored(index / side) * f(*weight);
        }
        total
    }

    /// The disc by columns, for the pass over the pixels.
    pub(super) fn columns(&self) -> Vec<Column> {
        let side = self.reach + 1;
        let scale = 1.0 / self.sum();
        let column = |dx: usize| {
            let weights: Vec<f64> = (0..side).map(|dy| self.quadrant[dy * side + dx]).collect();
            let whole = weights.iter().take_while(|w| **w >= 1.0).count();
            let rim = weights.iter().enumerate().skip(whole).filter(|(_, w)| **w > 0.0);
            Column { whole, rim: rim.map(|(dy, w)| (dy, *w as f32)).collect(), scale: scale as f32 }
        };
        (0..side).map(column).collect()
    }
}

/// One column of the disc: rows `-(whole - 1)..=whole - 1` count in full, those of `rim` in part, on both sides.
#[derive(Debug, Clone)]
pub(super) struct Column {
    /// Number of row distances 0, 1, ... that count in full.
    pub(super) whole: usize,
    /// Row distance and weight of the others.
    pub(super) rim: Vec<(usize, f32)>,
    /// What the sum over the disc is multiplied with to be a mean.
    pub(super) scale: f32,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Independent of the closed form: the share of a fine grid of points inside the disc.
    #[test]
    fn covered_shares_agree_with_counting_points() {
        for diameter in [0.7, 1.0, 2.3, 5.0, 7.56, 12.0, 31.4] {
            let (fine, reach) = (200_usize, (diameter / 2.0 + 0.5) as usize);
            for (dx, dy) in (0..=reach).flat_map(|y| (0..=reach).map(move |x| (x, y))) {
                let offset = |k: usize| (k as f64 + 0.5) / fine as f64 - 0.5;
                let inside = |i: usize, j: usize| {
                    let (x, y) = (dx as f64 + offset(i), dy as f64 + offset(j));
                    x * x + y * y <= diameter * diameter / 4.0
                };
                let count = (0..fine).map(|j| (0..fine).filter(|i| inside(*i, j)).count()).sum::<usize>();
                let share = count as f64 / (fine * fine) as f64;
                let found = covered(diameter / 2.0, dx as f64, dy as f64);
                assert!((found - share).abs() < 2e-3, "{diameter}: {dx} {dy}");
            }
        }
    }

    /// Source: the area of a circle.
    #[test]
    fn the_area_is_that_of_the_aperture() {
        for diameter in [1.2, 1.5, 2.0, 3.0, 4.0, 5.0, 7.559, 9.06, 18.1, 48.0, 240.0] {
            let area = core::f64::consts::PI * diameter * diameter / 4.0;
            let found = aperture_weights(diameter).effective_area();
            assert!((found / area - 1.0).abs() < 1e-9, "{diameter}: {found} for {area}");
        }
    }

    #[test]
    fn nothing_has_no_weight() {
        assert!(aperture_weights(0.0).sum() == 0.0 && aperture_weights(f64::NAN).sum() == 0.0);
    }
}
