//! The pixels of an area: those whose centres lie in it, row by row.

use crate::geometry::{Point, Quad};
use crate::numeric::math;

/// The pixels of one row, `from` included, `to` excluded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Span {
    pub(super) y: i64,
    pub(super) from: i64,
    pub(super) to: i64,
}

/// Rows of pixels, none empty, from the top.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Region {
    spans: Vec<Span>,
}

impl Region {
    /// The pixels whose centres lie in a convex quadrilateral.
    pub(super) fn quad(quad: &Quad) -> Self {
        let bounds = quad.bounds();
        Self::of_rows(bounds.min.y, bounds.max.y, |y| {
            let next = quad.corners.iter().cycle().skip(1);
            let crossing = |(a, b): (&Point, &Point)| {
                let crosses = (a.y <= y) != (b.y <= y);
                crosses.then(|| a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x))
            };
            let crossings = quad.corners.iter().zip(next).filter_map(crossing);
            crossings.fold(None, |found: Option<(f64, f64)>, x| {
                Some(found.map_or((x, x), |(low, high)| (low.min(x), high.max(x))))
            })
        })
    }

    /// The pixels whose centres lie in a disc.
    pub(super) fn disc(at: Point, radius: f64) -> Self {
        Self::of_rows(at.y - radius, at.y + radius, |y| {
            let square = radius * radius - (y - at.y) * (y - at.y);
            (square >= 0.0).then(|| (at.x - math::sqrt(square), at.x + math::sqrt(square)))
        })
    }

    fn of_rows(top: f64, bottom: f64, ends: impl Fn(f64) -> Option<(f64, f64)>) -> Self {
        // Far outside any scan a region need not be exact, only be seen to be outside.
        let first = |edge: f64| (edge - 0.5).ceil().clamp(-1e6, 1e7) as i64;
        let row = |y: i64| {
            let (low, high) = ends(y as f64 + 0.5)?;
            let span = Span { y, from: first(low), to: first(high) };
            (span.from < span.to).then_some(span)
        };
        Self { spans: (first(top)..first(bottom)).filter_map(row).collect() }
    }

    /// Whether all of it lies in a scan of that size.
    pub(super) fn fits(&self, width: usize, height: usize) -> bool {
        let (width, height) = (width as i64, height as i64);
        self.spans.iter().all(|s| s.from >= 0 && s.to <= width && s.y >= 0 && s.y < height)
    }

    /// Number of pixels.
    pub(super) fn pixels(&self) -> usize {
        self.spans.iter().map(|span| (span.to - span.from) as usize).sum()
    }

    /// The rows of pixels that lie in it.
    pub(super) fn spans(&self) -> &[Span] {
        &self.spans
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Rect;

    #[test]
    fn pixel_centres_decide() {
        let quad = Quad::upright(Rect::between(Point::new(0.4, 0.6), Point::new(3.5, 2.6)));
        let region = Region::quad(&quad);
        // Centres 0.5, 1.5, 2.5 lie right of 0.4 and left of 3.5; rows 1 (centre 1.5) and 2 (2.5) lie between.
        assert_eq!(region.spans(), [Span { y: 1, from: 0, to: 3 }, Span { y: 2, from: 0, to: 3 }]);
    }

    #[test]
    fn a_disc_holds_its_area() {
        let region = Region::disc(Point::new(100.3, 99.8), 50.0);
        let area = core::f64::consts::PI * 2500.0;
        assert!((region.pixels() as f64 - area).abs() < 0.005 * area, "{}", region.pixels());
    }

    #[test]
    fn outside_is_seen() {
        let region = Region::disc(Point::new(3.0, 10.0), 4.0);
        assert!(!region.fits(100, 100));
        assert!(Region::disc(Point::new(4.0, 10.0), 4.0).fits(100, 100));
    }
}
