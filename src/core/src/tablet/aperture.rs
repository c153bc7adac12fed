//! The part of a step or patch that is read: a share of it, or a circle or square of a size in millimetres.

use crate::document::Aperture;
use crate::geometry::{Point, Quad, Rect};
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::words;

/// What is read of one step or patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    /// The quadrilateral, or the square around the disc.
    pub(crate) quad: Quad,
    /// Centre and radius of a disc.
    pub(crate) disc: Option<(Point, f64)>,
}

impl Spot {
    /// A spot that fills the quadrilateral.
    pub(crate) fn of(quad: Quad) -> Self {
        Self { quad, disc: None }
    }

    /// A round spot; centre and radius in pixels of the scan.
    pub(crate) fn disc(at: Point, radius: f64) -> Self {
        let corner = |sign: f64| Point::new(at.x + sign * radius, at.y + sign * radius);
        Self { quad: Quad::upright(Rect::between(corner(-1.0), corner(1.0))), disc: Some((at, radius)) }
    }
}

/// The spots of areas that are read through `aperture`: `whole` are the steps or patches from edge to edge, `inner` their
/// inner shares, which say where their middles are. `what` names one of them in problems.
///
/// # Errors
/// The size is in millimetres and the resolution is not known, or the aperture does not fit into a step or patch.
pub(crate) fn spots(
    aperture: Aperture,
    whole: &[Quad],
    inner: &[Quad],
    per_mm: Option<f64>,
    what: &str,
) -> Result<Vec<Spot>, Problem> {
    let (mm, round) = match aperture {
        Aperture::Share => return Ok(inner.iter().map(|quad| Spot::of(*quad)).collect()),
        Aperture::Circle(mm) => (mm, true),
        Aperture::Square(mm) => (mm, false),
    };
    let per_mm = per_mm.ok_or_else(|| {
        Problem::error(Subject::Series, words::Tablet::NoResolution, words::Remedy::TypeResolutionOrShare)
    })?;
    if !(mm > 0.0 && mm.is_finite()) {
        return Err(Problem::error(
            Subject::Series,
            words::Tablet::NoSuchAperture { mm },
            words::Remedy::SizeAboveZero,
        ));
    }
    let half = mm * per_mm / 2.0;
    let spot = |(number, (whole, inner)): (usize, (&Quad, &Quad))| {
        let at = centre(inner);
        let spot = if round { Spot::disc(at, half) } else { Spot::of(square(inner, at, half)) };
        let corners = spot.quad.corners;
        let inside = if round {
            distance(whole, at) >= half
        } else {
            corners.iter().all(|corner| distance(whole, *corner) >= 0.0)
        };
        if inside {
            return Ok(spot);
        }
        Err(Problem::error(
            Subject::Series,
            words::Tablet::ApertureTooLarge {
                mm,
                pixels: 2.0 * half,
                what: what.to_owned(),
                number: number + 1,
            },
            words::Remedy::SmallerAperture,
        ))
    };
    whole.iter().zip(inner).enumerate().map(spot).collect()
}

fn centre(quad: &Quad) -> Point {
    let mean = |of: fn(&Point) -> f64| quad.corners.iter().map(of).sum::<f64>() / 4.0;
    Point::new(mean(|p| p.x), mean(|p| p.y))
}

/// A square along the first side of a quadrilateral.
fn square(like: &Quad, at: Point, half: f64) -> Quad {
    let [a, b, ..] = like.corners;
    let length = math::hypot(b.x - a.x, b.y - a.y).max(f64::MIN_POSITIVE);
    let (u, v) = ((b.x - a.x) / length * half, (b.y - a.y) / length * half);
    let turn = like.signed_area().signum();
    let corner = |i: f64, j: f64| Point::new(at.x + i * u - j * turn * v, at.y + i * v + j * turn * u);
    Quad { corners: [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)] }
}

/// How far inside a convex quadrilateral a place lies: the least distance from its sides, negative outside.
fn distance(quad: &Quad, at: Point) -> f64 {
    let turn = quad.signed_area().signum();
    let next = quad.corners.iter().cycle().skip(1);
    let from_side = |(a, b): (&Point, &Point)| {
        let length = math::hypot(b.x - a.x, b.y - a.y).max(f64::MIN_POSITIVE);
        turn * ((b.x - a.x) * (at.y - a.y) - (b.y - a.y) * (at.x - a.x)) / length
    };
    quad.corners.iter().zip(next).map(from_side).fold(f64::INFINITY, f64::min)
}
