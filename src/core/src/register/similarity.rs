//! Similarity transforms: mapping, inverting, chaining, and finding one from two pairs of points.

use crate::geometry::{Point, Similarity};
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::words;

impl Similarity {
    /// The transform that moves nothing.
    pub const IDENTITY: Self = Self { scale: 1.0, angle: 0.0, shift: Point { x: 0.0, y: 0.0 } };

    /// Where a point of the first picture lies in the second.
    ///
    /// ```
    /// # use twinwedge_core::geometry::{Point, Similarity};
    /// let quarter = Similarity { scale: 2.0, angle: std::f64::consts::FRAC_PI_2, shift: Point::new(1.0, 0.0) };
    /// let p = quarter.map(Point::new(3.0, 0.0));
    /// assert!((p.x - 1.0).abs() < 1e-12 && (p.y - 6.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn map(&self, p: Point) -> Point {
        let (a, b) = self.linear();
        Point::new(a * p.x - b * p.y + self.shift.x, b * p.x + a * p.y + self.shift.y)
    }

    /// The transform back: from the second picture to the first. Needs `scale` above zero, as every similarity has.
    ///
    /// ```
    /// # use twinwedge_core::geometry::{Point, Similarity};
    /// let t = Similarity { scale: 1.25, angle: 0.3, shift: Point::new(17.0, -9.0) };
    /// let p = t.inverse().map(t.map(Point::new(400.0, 300.0)));
    /// assert!((p.x - 400.0).abs() < 1e-9 && (p.y - 300.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn inverse(&self) -> Self {
        let back = Self { scale: 1.0 / self.scale, angle: -self.angle, shift: Point::default() };
        let moved = back.map(self.shift);
        Self { shift: Point::new(-moved.x, -moved.y), ..back }
    }

    /// First `self`, then `next`: `self.then(&next).map(p)` is `next.map(self.map(p))`.
    #[must_use]
    pub fn then(&self, next: &Self) -> Self {
        let (sine, cosine) = math::sincos(self.angle + next.angle);
        Self { scale: self.scale * next.scale, angle: math::atan2(sine, cosine), shift: next.map(self.shift) }
    }

    /// `(scale cos angle, scale sin angle)`.
    pub(crate) fn linear(&self) -> (f64, f64) {
        let (sine, cosine) = math::sincos(self.angle);
        (self.scale * cosine, self.scale * sine)
    }

    /// From `(scale cos angle, scale sin angle)` and the shift.
    pub(super) fn from_linear(a: f64, b: f64, shift: Point) -> Self {
        Self { scale: math::hypot(a, b), angle: math::atan2(b, a), shift }
    }
}

/// The similarity transform through two pairs of points, each a point of the first print and the same point of the
/// second.
///
/// ```
/// # use twinwedge_core::geometry::Point;
/// # use twinwedge_core::register::from_pairs;
/// let pairs = [(Point::new(0.0, 0.0), Point::new(10.0, 5.0)), (Point::new(100.0, 0.0), Point::new(110.0, 5.0))];
/// let t = from_pairs(&pairs).unwrap();
/// assert!((t.scale - 1.0).abs() < 1e-12 && t.angle.abs() < 1e-12);
/// ```
///
/// # Errors
/// Two points of one print coincide (closer than a thousandth of a pixel), or a coordinate is not a number.
pub fn from_pairs(pairs: &[(Point, Point); 2]) -> Result<Similarity, Problem> {
    let [(p0, q0), (p1, q1)] = pairs;
    let (px, py, qx, qy) = (p1.x - p0.x, p1.y - p0.y, q1.x - q0.x, q1.y - q0.y);
    let (length, length_b) = (math::hypot(px, py), math::hypot(qx, qy));
    // Written so that a NaN fails it too.
    let apart = length > 1e-3 && length_b > 1e-3 && length.is_finite() && length_b.is_finite();
    if !apart {
        return Err(Problem::error(
            Subject::Series,
            words::Register::PointsCoincide,
            words::Remedy::PointsFarApart,
        ));
    }
    let square = length * length;
    let a = (qx * px + qy * py) / square;
    let b = (qy * px - qx * py) / square;
    let shift = Point::new(q0.x - (a * p0.x - b * p0.y), q0.y - (b * p0.x + a * p0.y));
    Ok(Similarity::from_linear(a, b, shift))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chains_in_the_order_said() {
        let first = Similarity { scale: 1.1, angle: 0.2, shift: Point::new(3.0, -4.0) };
        let next = Similarity { scale: 0.7, angle: -1.4, shift: Point::new(100.0, 20.0) };
        let p = Point::new(12.0, 34.0);
        let (whole, steps) = (first.then(&next).map(p), next.map(first.map(p)));
        assert!(math::hypot(whole.x - steps.x, whole.y - steps.y) < 1e-9);
    }

    #[test]
    fn coinciding_points_are_refused() {
        let p = Point::new(1.0, 1.0);
        assert!(from_pairs(&[(p, p), (p, Point::new(5.0, 5.0))]).is_err());
        assert!(from_pairs(&[(p, p), (Point::new(f64::NAN, 0.0), Point::new(5.0, 5.0))]).is_err());
    }
}
