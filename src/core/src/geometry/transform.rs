//! Maps from one picture of a plane to another: a similarity, an affine map or a homography, all held as one matrix.

use serde::{Deserialize, Serialize};

use super::{Point, Quad, Similarity};
use crate::numeric::math;

/// What a map between two pictures of one plane may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Model {
    /// A turn, a size and a shift: four numbers.
    Similarity,
    /// Two sizes and a shear beside turn and shift: six numbers. A scanner whose carriage runs too fast does this.
    Affine,
    /// Straight lines stay straight and no more: eight numbers. A plane photographed aslant does this.
    Homography,
}

impl Model {
    /// All of them, plainest first.
    pub const ALL: [Self; 3] = [Self::Similarity, Self::Affine, Self::Homography];

    /// How many numbers it takes.
    #[must_use]
    pub const fn parameters(self) -> usize {
        match self {
            Self::Similarity => 4,
            Self::Affine => 6,
            Self::Homography => 8,
        }
    }

    /// The kind of map as a reader is told it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Similarity => "similarity",
            Self::Affine => "affine",
            Self::Homography => "homography",
        }
    }
}

/// A map from points of a first picture to points of a second.
///
/// `x' = (a x + b y + c) / w`, `y' = (d x + e y + f) / w` with `w = g x + h y + 1`; `g` and `h` are 0 unless the model is a
/// homography (R. Hartley & A. Zisserman, *Multiple View Geometry*, 2nd ed. 2004, section 2.4).
///
/// ```
/// # use twinwedge_core::geometry::{Model, Point, Transform};
/// let tilted = Transform::from_rows(Model::Homography, [[1.0, 0.02, 5.0], [0.0, 1.1, -3.0], [1e-4, 0.0, 1.0]]).unwrap();
/// let p = Point::new(400.0, 300.0);
/// let back = tilted.inverse().map(tilted.map(p));
/// assert!((back.x - p.x).abs() < 1e-9 && (back.y - p.y).abs() < 1e-9);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Transform {
    model: Model,
    rows: [[f64; 3]; 3],
}

impl From<Similarity> for Transform {
    fn from(similarity: Similarity) -> Self {
        let (a, b) = similarity.linear();
        let Point { x, y } = similarity.shift;
        Self { model: Model::Similarity, rows: [[a, -b, x], [b, a, y], [0.0, 0.0, 1.0]] }
    }
}

impl Transform {
    /// The map that moves nothing.
    pub const IDENTITY: Self =
        Self { model: Model::Similarity, rows: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]] };

    /// From its matrix, up to a common factor. `None` where that cannot be inverted or holds what is no number.
    #[must_use]
    pub fn from_rows(model: Model, rows: [[f64; 3]; 3]) -> Option<Self> {
        let last = rows[2][2];
        let rows = rows.map(|row| row.map(|value| value / last));
        let finite = rows.iter().flatten().all(|value| value.is_finite());
        let found = Self { model, rows };
        (finite && found.determinant().abs() > 1e-300).then_some(found)
    }

    /// The map that carries the first quadrilateral's corners to the second's; `None` where one is not convex.
    #[must_use]
    pub fn between(from: &Quad, to: &Quad) -> Option<Self> {
        let (from, to) = (super::Homography::of(from)?, super::Homography::of(to)?);
        let unit = |rows| Self { model: Model::Homography, rows };
        Some(unit(from.rows).inverse().then(&unit(to.rows)))
    }

    /// What it may do.
    #[must_use]
    pub const fn model(&self) -> Model {
        self.model
    }

    /// The matrix, its last element 1.
    #[must_use]
    pub const fn rows(&self) -> &[[f64; 3]; 3] {
        &self.rows
    }

    /// Where a point of the first picture lies in the second.
    #[must_use]
    pub fn map(&self, p: Point) -> Point {
        let [x, y, w] = self.rows.map(|row| row[0] * p.x + row[1] * p.y + row[2]);
        Point::new(x / w, y / w)
    }

    /// A quadrilateral of the first picture in the second.
    #[must_use]
    pub fn map_quad(&self, quad: &Quad) -> Quad {
        Quad { corners: quad.corners.map(|corner| self.map(corner)) }
    }

    /// The map back, from the second picture to the first.
    #[must_use]
    pub fn inverse(&self) -> Self {
        let [[a, b, c], [d, e, f], [g, h, i]] = self.rows;
        let adjugate = [
            [e * i - f * h, c * h - b * i, b * f - c * e],
            [f * g - d * i, a * i - c * g, c * d - a * f],
            [d * h - e * g, b * g - a * h, a * e - b * d],
        ];
        let last = adjugate[2][2];
        Self { model: self.model, rows: adjugate.map(|row| row.map(|value| value / last)) }
    }

    /// First `self`, then `next`: `self.then(&next).map(p)` is `next.map(self.map(p))`.
    #[must_use]
    pub fn then(&self, next: &Self) -> Self {
        let mut rows = [[0.0; 3]; 3];
        for (row, left) in rows.iter_mut().zip(&next.rows) {
            for (column, value) in row.iter_mut().enumerate() {
                *value = (0..3).map(|k| left[k] * self.rows[k][column]).sum();
            }
        }
        let last = rows[2][2];
        Self { model: self.model.max(next.model), rows: rows.map(|row| row.map(|value| value / last)) }
    }

    /// How a small step at `p` is carried: `[[dx'/dx, dx'/dy], [dy'/dx, dy'/dy]]`.
    #[must_use]
    pub fn slopes(&self, p: Point) -> [[f64; 2]; 2] {
        let at = self.map(p);
        let [first, second, [g, h, i]] = self.rows;
        let w = g * p.x + h * p.y + i;
        [
            [(first[0] - g * at.x) / w, (first[1] - h * at.x) / w],
            [(second[0] - g * at.y) / w, (second[1] - h * at.y) / w],
        ]
    }

    /// Size in the second picture over size in the first at `p`: the root of the ratio of areas.
    #[must_use]
    pub fn scale_at(&self, p: Point) -> f64 {
        let [[a, b], [c, d]] = self.slopes(p);
        math::sqrt((a * d - b * c).abs())
    }

    /// Turn at `p` in radians; positive turns x towards y (clockwise on the screen).
    #[must_use]
    pub fn angle_at(&self, p: Point) -> f64 {
        let [[a, b], [c, d]] = self.slopes(p);
        math::atan2(c - b, a + d)
    }

    /// Whether it keeps left and right everywhere within a quadrilateral of the first picture, and maps all of it to
    /// finite places.
    #[must_use]
    pub fn is_regular_on(&self, quad: &Quad) -> bool {
        let [_, _, [g, h, i]] = self.rows;
        let in_front = quad.corners.iter().all(|p| g * p.x + h * p.y + i > 1e-6);
        in_front && self.determinant() > 0.0
    }

    fn determinant(&self) -> f64 {
        let [[a, b, c], [d, e, f], [g, h, i]] = self.rows;
        a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tilted() -> Transform {
        let rows = [[1.02, -0.05, 12.0], [0.03, 0.97, -7.0], [4e-5, -6e-5, 1.0]];
        Transform::from_rows(Model::Homography, rows).unwrap()
    }

    fn close(a: Point, b: Point) {
        assert!(math::hypot(a.x - b.x, a.y - b.y) < 1e-9, "{a:?} {b:?}");
    }

    #[test]
    fn chains_and_inverts() {
        let turn = Similarity { scale: 1.1, angle: 0.2, shift: Point::new(3.0, -4.0) };
        let chain = tilted().then(&turn.into());
        assert_eq!(chain.model(), Model::Homography);
        for p in [Point::new(0.0, 0.0), Point::new(812.0, 344.0)] {
            close(chain.map(p), turn.map(tilted().map(p)));
            close(chain.inverse().map(chain.map(p)), p);
            close(Transform::from(turn).map(p), turn.map(p));
        }
    }

    #[test]
    fn slopes_are_differences_of_near_places() {
        let (map, p, step) = (tilted(), Point::new(300.0, 200.0), 1e-4);
        let [[a, b], [c, d]] = map.slopes(p);
        let at = map.map(p);
        let (right, down) = (map.map(Point::new(p.x + step, p.y)), map.map(Point::new(p.x, p.y + step)));
        let near = |one: f64, other: f64| assert!((one - other).abs() < 1e-6, "{one} {other}");
        near(a, (right.x - at.x) / step);
        near(c, (right.y - at.y) / step);
        near(b, (down.x - at.x) / step);
        near(d, (down.y - at.y) / step);
        let turn = Similarity { scale: 1.25, angle: -0.3, shift: Point::new(1.0, 2.0) };
        near(Transform::from(turn).scale_at(p), 1.25);
        near(Transform::from(turn).angle_at(p), -0.3);
    }

    #[test]
    fn carries_corners_to_corners() {
        let quad = |c: [(f64, f64); 4]| Quad { corners: c.map(|(x, y)| Point::new(x, y)) };
        let from = quad([(10.0, 12.0), (200.0, 20.0), (190.0, 150.0), (5.0, 140.0)]);
        let to = quad([(50.0, 60.0), (300.0, 50.0), (310.0, 260.0), (40.0, 240.0)]);
        let map = Transform::between(&from, &to).unwrap();
        for (one, other) in map.map_quad(&from).corners.iter().zip(to.corners) {
            close(*one, other);
        }
        assert!(map.is_regular_on(&from));
        assert!(Transform::from_rows(Model::Affine, [[0.0; 3], [0.0; 3], [0.0, 0.0, 1.0]]).is_none());
    }
}
