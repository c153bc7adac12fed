//! What two prints show alike of one part of a target.
//!
//! The paper, brush or weave of a target's patch makes its density differ from place to place, and every print of the target shows
//! that. Within one print it is part of how uneven the patch is; in the difference of two prints it cancels. Therefore an area keeps the
//! densities of its parts, laid out by its own sides and not by the pixels of its scan, and the error of a difference is that of the
//! mean of the differences of parts.

use super::aperture::Spot;
use super::error;
use super::reading::Grid;
use crate::geometry::{Homography, Point};
use crate::measured::Z95;
use crate::numeric::math;
use crate::scan::{Plane, ToneTable};

/// Parts along each side of an area.
const SIDE: usize = 12;
/// Fewer pixels than this in a part on average, and the area keeps no parts.
const LEAST_PIXELS: usize = 2;

/// Densities of the parts of an area, and how sure its mean is apart from how uneven it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Relief {
    /// Row by row: number of pixels, and density of their mean light.
    parts: Vec<(f64, f64)>,
    /// Standard uncertainty of density from what parts do not show: the width of a code, the falloff of light.
    rest_u: f64,
}

impl Relief {
    /// Of the pixels of an area that are not left out. `None` where it is too small, or no quadrilateral.
    pub(super) fn of(
        (plane, table): (Plane<'_>, &ToneTable),
        grid: &Grid,
        out: &[bool],
        spot: &Spot,
        rest_u: f64,
    ) -> Option<Self> {
        if grid.pixels < LEAST_PIXELS * SIDE * SIDE {
            return None;
        }
        let homography = Homography::of(&spot.quad)?;
        let mut parts = vec![(0.0, 0.0); SIDE * SIDE];
        let index = |share: f64| ((share * SIDE as f64).max(0.0) as usize).min(SIDE - 1);
        for (place, code) in grid.codes.iter().enumerate().filter(|(place, _)| !out[*place]) {
            let Some(code) = code else { continue };
            let (x, y) = grid.middle(place);
            let (u, v) = homography.frame(Point::new(x, y));
            let part: &mut (f64, f64) = &mut parts[index(v) * SIDE + index(u)];
            part.0 += 1.0;
            part.1 += table.light[usize::from(*code)];
        }
        let size = (plane.width(), plane.height());
        for (number, (count, light)) in parts.iter_mut().enumerate().filter(|(_, part)| part.0 > 0.0) {
            let middle = |k: usize| (k as f64 + 0.5) / SIDE as f64;
            let at = homography.place(middle(number % SIDE), middle(number / SIDE));
            let gain = plane.flat().map_or(1.0, |flat| flat.gain((at.x, at.y), size));
            *light = -math::log10(*light * gain / *count);
        }
        parts.iter().all(|(_, density)| density.is_finite()).then_some(Self { parts, rest_u })
    }

    /// Standard uncertainty of the difference of two means, and half its 95 % interval. `None` where too few parts are in both.
    pub(super) fn difference_u(&self, other: &Self) -> Option<(f64, f64)> {
        let both = |(one, other): (&(f64, f64), &(f64, f64))| {
            let weight = if one.0 > 0.0 && other.0 > 0.0 { 1.0 } else { 0.0 };
            (weight, weight * (one.1 - other.1))
        };
        let parts: Vec<(f64, f64)> = self.parts.iter().zip(&other.parts).map(both).collect();
        let (u, quantile) = error::of_parts(SIDE, &parts)?;
        let rest = math::hypot(self.rest_u, other.rest_u);
        Some((math::hypot(u, rest), math::hypot(quantile * u, Z95 * rest)))
    }
}
