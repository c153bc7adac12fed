//! Similarity transforms: mapping, inverting, chaining, and finding one from points.
//!
//! With `a = scale cos(angle)` and `b = scale sin(angle)` the transform is linear in `(a, b, shift.x, shift.y)`, so the
//! least-squares fit is one small linear solve (S. Umeyama, IEEE Trans. Pattern Anal. Mach. Intell. 13, 1991, gives the
//! same minimum in closed form for equal weights).

use nalgebra::{Matrix4, Vector4};

use crate::geometry::{Point, Similarity};
use crate::numeric::math;
use crate::problem::{Problem, Subject};

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
    pub(super) fn linear(&self) -> (f64, f64) {
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
            "The two points of one print lie on each other, so size and turn cannot be told.",
            "Choose two points far apart, best in opposite corners, and mark both in both prints.",
        ));
    }
    let square = length * length;
    let a = (qx * px + qy * py) / square;
    let b = (qy * px - qx * py) / square;
    let shift = Point::new(q0.x - (a * p0.x - b * p0.y), q0.y - (b * p0.x + a * p0.y));
    Ok(Similarity::from_linear(a, b, shift))
}

/// One pair of points to fit through, with how well its place in the second picture is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// In the first picture.
    pub(super) from: Point,
    /// In the second.
    pub(super) to: Point,
    /// Inverse covariance of `to`: xx, xy, yy.
    pub(super) information: [f64; 3],
    /// Further weight, 0 leaves the pair out.
    pub(super) weight: f64,
}

/// A least-squares fit and the inverse of its normal matrix about `centre`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fit {
    /// The transform.
    pub(super) transform: Similarity,
    /// Covariance of `(a, b, shift x, shift y)` about `centre`, if the information matrices of the pairs are right.
    pub(super) covariance: Matrix4<f64>,
}

/// Weighted least squares through pairs of points. `None` where they do not determine a transform.
pub(super) fn fit(pairs: &[Pair], centre: Point) -> Option<Fit> {
    let mut normal = Matrix4::<f64>::zeros();
    let mut right = Vector4::<f64>::zeros();
    // Lengths in thousands of pixels keep the four columns alike in size.
    const UNIT: f64 = 1e-3;
    for pair in pairs.iter().filter(|pair| pair.weight > 0.0) {
        let (x, y) = ((pair.from.x - centre.x) * UNIT, (pair.from.y - centre.y) * UNIT);
        let [wxx, wxy, wyy] = pair.information.map(|w| w * pair.weight);
        let row_x = Vector4::new(x, -y, 1.0, 0.0);
        let row_y = Vector4::new(y, x, 0.0, 1.0);
        let (wx, wy) = (row_x * wxx + row_y * wxy, row_x * wxy + row_y * wyy);
        normal += row_x * wx.transpose() + row_y * wy.transpose();
        right += wx * pair.to.x + wy * pair.to.y;
    }
    let covariance = normal.try_inverse()?;
    let solved = covariance * right;
    let (a, b) = (solved[0] * UNIT, solved[1] * UNIT);
    let usable = solved.iter().all(|v| v.is_finite()) && math::hypot(a, b) > 1e-6;
    let shift =
        Point::new(solved[2] - (a * centre.x - b * centre.y), solved[3] - (b * centre.x + a * centre.y));
    usable.then(|| Fit { transform: Similarity::from_linear(a, b, shift), covariance })
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
    fn fit_passes_through_exact_pairs_and_ignores_what_has_no_weight() {
        let truth = Similarity { scale: 1.02, angle: 0.03, shift: Point::new(10.0, -4.0) };
        let pair = |x: f64, y: f64, weight| {
            let from = Point::new(x, y);
            Pair { from, to: truth.map(from), information: [1.0, 0.1, 2.0], weight }
        };
        let mut pairs = vec![pair(0.0, 0.0, 1.0), pair(900.0, 50.0, 1.0), pair(300.0, 700.0, 1.0)];
        pairs.push(Pair { to: Point::new(-999.0, 0.0), ..pair(10.0, 10.0, 0.0) });
        let found = fit(&pairs, Point::new(400.0, 300.0)).unwrap().transform;
        assert!((found.scale - truth.scale).abs() < 1e-12 && (found.angle - truth.angle).abs() < 1e-12);
        assert!((found.shift.x - 10.0).abs() < 1e-9 && (found.shift.y + 4.0).abs() < 1e-9);
    }

    #[test]
    fn coinciding_points_are_refused() {
        let p = Point::new(1.0, 1.0);
        assert!(from_pairs(&[(p, p), (p, Point::new(5.0, 5.0))]).is_err());
        assert!(from_pairs(&[(p, p), (Point::new(f64::NAN, 0.0), Point::new(5.0, 5.0))]).is_err());
    }
}
