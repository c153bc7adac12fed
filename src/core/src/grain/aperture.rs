//! The circular aperture as weights of whole pixels, each the exact share of the pixel that the disc covers.

use crate::numeric::math;

/// Weights of a disc centred on a pixel's centre: entry `(dx, dy)` is the area of that pixel inside the disc, 0..=1.
///
/// ```
/// # use twinwedge_core::grain::aperture_weights;
/// let disc = aperture_weights(7.56);
/// assert!((disc.sum() - std::f64::consts::PI * 3.78 * 3.78).abs() < 1e-12);
/// assert_eq!(disc.at(0, 0), 1.0);
/// assert_eq!(disc.at(9, 0), 0.0);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ApertureWeights {
    reach: usize,
    quadrant: Vec<f64>,
}

/// The weights of a disc of that diameter in pixels. A diameter that is not above zero gives the weights of nothing.
#[must_use]
pub fn aperture_weights(diameter_px: f64) -> ApertureWeights {
    let radius = if diameter_px > 0.0 { diameter_px / 2.0 } else { 0.0 };
    let reach = (radius - 0.5).ceil().max(0.0) as usize;
    let side = reach + 1;
    let mut quadrant = vec![0.0; side * side];
    for dy in 0..side {
        for dx in 0..=dy {
            let (x, y) = (dx as f64, dy as f64);
            let covered = corner_area(radius, x + 0.5, y + 0.5)
                - corner_area(radius, x - 0.5, y + 0.5)
                - corner_area(radius, x + 0.5, y - 0.5)
                + corner_area(radius, x - 0.5, y - 0.5);
            let inside = math::hypot(x + 0.5, y + 0.5) <= radius;
            let weight = if inside { 1.0 } else { covered.clamp(0.0, 1.0) };
            quadrant[dy * side + dx] = weight;
            quadrant[dx * side + dy] = weight;
        }
    }
    ApertureWeights { reach, quadrant }
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

    /// Sum of all weights: the area of the disc in pixels.
    #[must_use]
    pub fn sum(&self) -> f64 {
        self.total(|w| w)
    }

    /// Area, in pixels, of the aperture that these weights are on noise that is independent from pixel to pixel:
    /// `(sum w)^2 / sum w^2`. Larger than the disc, because the pixels on its rim are counted in part.
    #[must_use]
    pub fn effective_area(&self) -> f64 {
        let sum = self.sum();
        sum * sum / self.total(|w| w * w)
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
    fn weights_agree_with_counting_points() {
        for diameter in [0.7, 1.0, 2.3, 5.0, 7.56, 12.0, 31.4] {
            let disc = aperture_weights(diameter);
            let (fine, reach) = (200, disc.reach() as isize);
            for dy in 0..=reach {
                for dx in 0..=reach {
                    let offset = |k: usize| (k as f64 + 0.5) / f64::from(fine) - 0.5;
                    let inside = |i: usize, j: usize| {
                        let (x, y) = (dx as f64 + offset(i), dy as f64 + offset(j));
                        x * x + y * y <= diameter * diameter / 4.0
                    };
                    let side = fine as usize;
                    let count = (0..side).map(|j| (0..side).filter(|i| inside(*i, j)).count()).sum::<usize>();
                    let share = count as f64 / f64::from(fine * fine);
                    assert!((disc.at(dx, dy) - share).abs() < 2e-3, "{diameter}: {dx} {dy}");
                }
            }
        }
    }

    #[test]
    fn sum_is_the_area_of_the_disc() {
        for diameter in [0.2, 1.0, 1.5, 3.0, 7.559, 9.06, 18.1, 48.0, 240.0] {
            let area = core::f64::consts::PI * diameter * diameter / 4.0;
            assert!((aperture_weights(diameter).sum() - area).abs() < 1e-9 * area.max(1.0), "{diameter}");
        }
    }

    #[test]
    fn nothing_has_no_weight() {
        assert!(aperture_weights(0.0).sum() == 0.0 && aperture_weights(f64::NAN).sum() == 0.0);
    }
}
