//! Points, rectangles and quadrilaterals in the pixels of one scan.
//!
//! Pixel `(i, j)` covers `i <= x < i + 1`, `j <= y < j + 1`; x runs to the right, y down. Coordinates are kept in the
//! scan's own full-resolution pixels, whatever is shown.

mod transform;

pub use transform::{Model, Transform};

use serde::{Deserialize, Serialize};

/// A place in a scan, in pixels.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// From the upper edge downwards.
    pub y: f64,
}

impl Point {
    /// A point from its coordinates.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }
}

/// An upright rectangle, `min` included, `max` excluded.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rect {
    /// Upper left corner.
    pub min: Point,
    /// Lower right corner.
    pub max: Point,
}

impl Rect {
    /// The rectangle between two opposite corners, whichever they are.
    #[must_use]
    pub fn between(a: Point, b: Point) -> Self {
        Self { min: Point::new(a.x.min(b.x), a.y.min(b.y)), max: Point::new(a.x.max(b.x), a.y.max(b.y)) }
    }

    /// Width in pixels.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.max.x - self.min.x
    }

    /// Height in pixels.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.max.y - self.min.y
    }
}

/// Four corners of a strip or grid seen in perspective, in the order of its own frame: (0,0), (1,0), (1,1), (0,1),
/// where u runs along the strip from its first step to its last (or along a grid's rows) and v across it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Quad {
    /// The corners in that order.
    pub corners: [Point; 4],
}

impl Quad {
    /// An upright quadrilateral with u to the right and v down.
    #[must_use]
    pub fn upright(rect: Rect) -> Self {
        let Rect { min, max } = rect;
        Self { corners: [min, Point::new(max.x, min.y), max, Point::new(min.x, max.y)] }
    }

    /// Area with its sign (shoelace formula), square pixels: positive where u to v turns as x to y does.
    #[must_use]
    pub fn signed_area(&self) -> f64 {
        let next = self.corners.iter().cycle().skip(1);
        self.corners.iter().zip(next).map(|(a, b)| a.x * b.y - b.x * a.y).sum::<f64>() / 2.0
    }

    /// Whether the corners go round a convex quadrilateral that holds some area; seen from either side.
    #[must_use]
    pub fn is_convex(&self) -> bool {
        let corner = |i: usize| self.corners[i % 4];
        let turn = |i: usize| {
            let (a, b, c) = (corner(i), corner(i + 1), corner(i + 2));
            (b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x)
        };
        let finite = self.corners.iter().all(|p| p.x.is_finite() && p.y.is_finite());
        finite && ((0..4).all(|i| turn(i) > 0.0) || (0..4).all(|i| turn(i) < 0.0))
    }

    /// The smallest upright rectangle around it.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        let fold = |pick: fn(f64, f64) -> f64| {
            let [a, b, c, d] = self.corners;
            Point::new(pick(pick(a.x, b.x), pick(c.x, d.x)), pick(pick(a.y, b.y), pick(c.y, d.y)))
        };
        Rect { min: fold(f64::min), max: fold(f64::max) }
    }

    /// The part of it between `u0..u1` and `v0..v1` of its own frame, or `None` if it is not convex.
    #[must_use]
    pub fn part(&self, (u0, u1): (f64, f64), (v0, v1): (f64, f64)) -> Option<Self> {
        let map = Homography::of(self)?;
        Some(Self { corners: [map.place(u0, v0), map.place(u1, v0), map.place(u1, v1), map.place(u0, v1)] })
    }
}

/// The projective map from the unit square to a convex quadrilateral.
///
/// `x = (a u + b v + c) / (g u + h v + 1)`, `y = (d u + e v + f) / (g u + h v + 1)`, in the closed form of
/// P. S. Heckbert, *Fundamentals of Texture Mapping and Image Warping* (1989), section 2.2.3.
///
/// ```
/// # use twinwedge_core::geometry::{Homography, Point, Quad};
/// let quad = Quad { corners: [Point::new(1.0, 2.0), Point::new(9.0, 3.0), Point::new(8.0, 7.0), Point::new(2.0, 5.0)] };
/// let map = Homography::of(&quad).unwrap();
/// let (u, v) = map.frame(map.place(0.25, 0.75));
/// assert!((u - 0.25).abs() < 1e-12 && (v - 0.75).abs() < 1e-12);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography {
    rows: [[f64; 3]; 3],
}

impl Homography {
    /// The map that takes (0,0), (1,0), (1,1), (0,1) to the quadrilateral's corners; `None` if it is not convex.
    #[must_use]
    pub fn of(quad: &Quad) -> Option<Self> {
        if !quad.is_convex() {
            return None;
        }
        let [origin, right, far, down] = quad.corners;
        let (dx1, dy1) = (right.x - far.x, right.y - far.y);
        let (dx2, dy2) = (down.x - far.x, down.y - far.y);
        let (sx, sy) = (origin.x - right.x + far.x - down.x, origin.y - right.y + far.y - down.y);
        let denominator = dx1 * dy2 - dx2 * dy1;
        let g = (sx * dy2 - dx2 * sy) / denominator;
        let h = (dx1 * sy - sx * dy1) / denominator;
        Some(Self {
            rows: [
                [right.x - origin.x + g * right.x, down.x - origin.x + h * down.x, origin.x],
                [right.y - origin.y + g * right.y, down.y - origin.y + h * down.y, origin.y],
                [g, h, 1.0],
            ],
        })
    }

    /// The pixel at `(u, v)` of the unit square.
    #[must_use]
    pub fn place(&self, u: f64, v: f64) -> Point {
        let [x, y, w] = self.rows.map(|row| row[0] * u + row[1] * v + row[2]);
        Point::new(x / w, y / w)
    }

    /// The `(u, v)` of a pixel: outside 0..=1 where the pixel lies outside the quadrilateral.
    #[must_use]
    pub fn frame(&self, point: Point) -> (f64, f64) {
        let [[a, b, c], [d, e, f], [g, h, i]] = self.rows;
        let inverse = [
            [e * i - f * h, c * h - b * i, b * f - c * e],
            [f * g - d * i, a * i - c * g, c * d - a * f],
            [d * h - e * g, b * g - a * h, a * e - b * d],
        ];
        let [u, v, w] = inverse.map(|row| row[0] * point.x + row[1] * point.y + row[2]);
        (u / w, v / w)
    }
}

/// A similarity transform: `scale`, then turn by `angle`, then shift. Maps a point of the first picture to the second.
///
/// `x' = scale (cos a x - sin a y) + shift.x`, `y' = scale (sin a x + cos a y) + shift.y`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Similarity {
    /// Size in the second picture over size in the first; above zero.
    pub scale: f64,
    /// Radians; positive turns x towards y (clockwise on the screen).
    pub angle: f64,
    /// Pixels of the second picture.
    pub shift: Point,
}
