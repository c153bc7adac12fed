//! Step tablets and exposed strips as the scanner sees them: turned, slightly in perspective, dusty.

use twinwedge_core::geometry::Point;
use twinwedge_core::numeric::math;

use super::chance::Chance;
use super::scanner::{Dirt, Light};

/// Pixels of every strip scan.
pub(super) const WIDTH: usize = 1760;
/// Pixels of every strip scan.
pub(super) const HEIGHT: usize = 300;
/// Resolution of every strip scan.
pub(super) const DPI: u32 = 400;

/// Length and width of the steps together, in pixels.
const STRIP: (f64, f64) = (1_659.0, 158.0);

/// A strip on the glass.
#[derive(Debug, Clone)]
pub(super) struct Strip {
    /// Density of each step.
    pub(super) densities: Vec<f64>,
    /// Light of the material around the steps.
    pub(super) around: f64,
    /// Light beyond the material.
    pub(super) beyond: f64,
    /// Standard deviation of density in one pixel where net density is 1; grows with the root of it.
    pub(super) grain: f64,
    /// Density without any image.
    pub(super) base: f64,
    /// Where the steps lie.
    pub(super) corners: [Point; 4],
    /// What lies on it.
    pub(super) dirt: Dirt,
}

/// The corners of a strip in the middle of the scan, turned by `degrees`, its far end smaller by `perspective` pixels at
/// each side.
pub(super) fn corners(degrees: f64, perspective: f64) -> [Point; 4] {
    let (sin, cos) = math::sincos(degrees.to_radians());
    let (l, w) = (0.5 * STRIP.0, 0.5 * STRIP.1);
    let middle = (0.5 * WIDTH as f64 + 1.7, 0.5 * HEIGHT as f64 - 0.6);
    [(-l, -w), (l, -w + perspective), (l, w - perspective), (-l, w)]
        .map(|(x, y)| Point::new(middle.0 + cos * x - sin * y, middle.1 + sin * x + cos * y))
}

/// The corners as a tester marks them: off by up to a pixel.
pub(super) fn marked(corners: [Point; 4], chance: &mut Chance) -> [Point; 4] {
    let hundredth = |value: f64| (value * 100.0).round() / 100.0;
    corners.map(|corner| {
        Point::new(
            hundredth(corner.x + chance.between(-1.0, 1.0)),
            hundredth(corner.y + chance.between(-1.0, 1.0)),
        )
    })
}

/// From pixels to the strip's own frame: u along it, v across, 0..1 inside.
struct Frame([f64; 9]);

impl Frame {
    /// Inverts the projective map of the unit square onto the corners (closed form, P. S. Heckbert, 'Fundamentals of
    /// texture mapping and image warping', 1989).
    fn of(corners: &[Point; 4]) -> Self {
        let [first, second, third, fourth] = corners;
        let (sx, sy) = (first.x - second.x + third.x - fourth.x, first.y - second.y + third.y - fourth.y);
        let (dx1, dy1, dx2, dy2) =
            (second.x - third.x, second.y - third.y, fourth.x - third.x, fourth.y - third.y);
        let det = dx1 * dy2 - dx2 * dy1;
        let (g, k) = ((sx * dy2 - dx2 * sy) / det, (dx1 * sy - sx * dy1) / det);
        let (a, b, c) = (second.x - first.x + g * second.x, fourth.x - first.x + k * fourth.x, first.x);
        let (d, e, f) = (second.y - first.y + g * second.y, fourth.y - first.y + k * fourth.y, first.y);
        Self([
            e - f * k,
            c * k - b,
            b * f - c * e,
            f * g - d,
            a - c * g,
            c * d - a * f,
            d * k - e * g,
            b * g - a * k,
            a * e - b * d,
        ])
    }

    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let m = &self.0;
        let w = m[6] * x + m[7] * y + m[8];
        ((m[0] * x + m[1] * y + m[2]) / w, (m[3] * x + m[4] * y + m[5]) / w)
    }
}

impl Strip {
    /// The strip's light at every pixel.
    pub(super) fn picture(&self, chance: &mut Chance) -> Light {
        let frame = Frame::of(&self.corners);
        let lights: Vec<f64> = self.densities.iter().map(|density| math::pow(10.0, -density)).collect();
        let mut light = Vec::with_capacity(WIDTH * HEIGHT);
        for y in 0..HEIGHT {
            for x in 0..WIDTH {
                let mut sum = 0.0;
                for (dx, dy) in [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)] {
                    let (u, v) = frame.at(x as f64 + dx, y as f64 + dy);
                    sum += self.place(&lights, u, v);
                }
                light.push(self.grainy(0.25 * sum, chance));
            }
        }
        let mut picture = Light { width: WIDTH, height: HEIGHT, light };
        picture.soil(self.dirt, chance);
        picture
    }

    fn place(&self, lights: &[f64], u: f64, v: f64) -> f64 {
        if (0.0..1.0).contains(&u) && (0.0..1.0).contains(&v) {
            lights[((u * lights.len() as f64) as usize).min(lights.len() - 1)]
        } else if (-0.02..1.02).contains(&u) && (-0.22..1.22).contains(&v) {
            self.around
        } else {
            self.beyond
        }
    }

    /// Grain that leaves the mean light of an area as it is.
    fn grainy(&self, light: f64, chance: &mut Chance) -> f64 {
        let net = (-math::log10(light) - self.base).max(0.0);
        let spread = core::f64::consts::LN_10 * self.grain * math::sqrt(net);
        light * math::exp(spread * chance.normal() - 0.5 * spread * spread)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: a projective map takes corners to corners, and straight lines meet where they met.
    #[test]
    fn the_frame_finds_its_corners() {
        let corners = corners(1.3, 4.0);
        let frame = Frame::of(&corners);
        for (corner, (u, v)) in corners.iter().zip([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]) {
            let found = frame.at(corner.x, corner.y);
            assert!((found.0 - u).abs() < 1e-9 && (found.1 - v).abs() < 1e-9, "{found:?}");
        }
    }
}
