//! Points, rectangles and quadrilaterals in the pixels of one scan.
//!
//! Pixel `(i, j)` covers `i <= x < i + 1`, `j <= y < j + 1`; x runs to the right, y down. Coordinates are kept in the
//! scan's own full-resolution pixels, whatever is shown.

use serde::{Deserialize, Serialize};

/// A place in a scan, in pixels.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Down.
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
