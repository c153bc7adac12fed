//! The still life: a function from place to surface and light, in the pixels of the reference film's print.

use twinwedge_core::geometry::Point;
use twinwedge_core::numeric::math;

use super::spectra::Reflectance;
use super::texture::{cell, leaf, octaves, weave};

/// Rows and columns of the patch chart.
pub(super) const ROWS: u32 = 4;
/// Rows and columns of the patch chart.
pub(super) const COLUMNS: u32 = 6;

/// What light falls on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Material {
    /// A patch of the chart, row by row.
    Patch(usize),
    Black,
    White,
    GreyCard,
    Plaster,
    Glaze,
    Cloth,
    Wood,
    Stone,
    Leaf,
}

impl Material {
    /// Every material but the patches.
    pub(super) const OTHERS: [Self; 9] = [
        Self::Black,
        Self::White,
        Self::GreyCard,
        Self::Plaster,
        Self::Glaze,
        Self::Cloth,
        Self::Wood,
        Self::Stone,
        Self::Leaf,
    ];

    /// Its reflectance; patches have theirs in the layout.
    pub(super) fn reflectance(self) -> Reflectance {
        match self {
            Self::Patch(_) | Self::GreyCard => Reflectance::flat(0.18),
            Self::Black => Reflectance::flat(0.035),
            Self::White => Reflectance::flat(0.88),
            Self::Plaster => Reflectance::flat(0.72),
            Self::Glaze => Reflectance::bells(0.05, [(0.22, 460.0, 45.0), (0.05, 640.0, 60.0)]),
            Self::Cloth => Reflectance::bells(0.10, [(0.34, 640.0, 70.0), (0.06, 450.0, 40.0)]),
            Self::Wood => Reflectance::bells(0.12, [(0.30, 660.0, 80.0), (0.10, 570.0, 50.0)]),
            Self::Stone => Reflectance::bells(0.24, [(0.05, 600.0, 80.0), (0.0, 500.0, 50.0)]),
            Self::Leaf => Reflectance::bells(0.05, [(0.14, 552.0, 30.0), (0.10, 710.0, 25.0)]),
        }
    }
}

/// A flat thing lying in the scene: upper left corner, size, turn in degrees.
#[derive(Debug, Clone, Copy)]
pub(super) struct Card {
    at: (f64, f64),
    pub(super) size: (f64, f64),
    degrees: f64,
}

/// The patch chart; around it lies a black rim.
pub(super) const CHART: Card = Card { at: (716.0, 66.0), size: (408.0, 272.0), degrees: 1.1 };
/// The card that grey readings are taken from.
pub(super) const GREY_CARD: Card = Card { at: (1010.0, 420.0), size: (130.0, 150.0), degrees: -2.4 };
/// White beside black along a line five degrees off the vertical.
pub(super) const EDGE: Card = Card { at: (820.0, 410.0), size: (140.0, 150.0), degrees: 5.0 };

impl Card {
    /// Place in the card's own frame, in pixels from its corner.
    fn frame(&self, x: f64, y: f64) -> (f64, f64) {
        let (sin, cos) = math::sincos(self.degrees.to_radians());
        let (dx, dy) = (x - self.at.0, y - self.at.1);
        (cos * dx + sin * dy, cos * dy - sin * dx)
    }

    /// A point of the card in the scene, from shares of its width and height.
    pub(super) fn point(&self, u: f64, v: f64) -> Point {
        let (sin, cos) = math::sincos(self.degrees.to_radians());
        let (a, b) = (u * self.size.0, v * self.size.1);
        Point::new(self.at.0 + cos * a - sin * b, self.at.1 + sin * a + cos * b)
    }

    fn holds(&self, (a, b): (f64, f64), rim: f64) -> bool {
        (-rim..self.size.0 + rim).contains(&a) && (-rim..self.size.1 + rim).contains(&b)
    }
}

/// What is seen at a place: a material, and the light on it over the light on the cards.
pub(super) fn at(x: f64, y: f64) -> (Material, f64) {
    cards(x, y).or_else(|| solids(x, y)).unwrap_or_else(|| ground(x, y))
}

fn cards(x: f64, y: f64) -> Option<(Material, f64)> {
    let place = CHART.frame(x, y);
    if CHART.holds(place, 0.0) {
        let column = (place.0 / CHART.size.0 * f64::from(COLUMNS)) as usize;
        let row = (place.1 / CHART.size.1 * f64::from(ROWS)) as usize;
        return Some((Material::Patch(row * COLUMNS as usize + column), 1.0));
    }
    if CHART.holds(place, 14.0) {
        return Some((Material::Black, 1.0));
    }
    if GREY_CARD.holds(GREY_CARD.frame(x, y), 0.0) {
        return Some((Material::GreyCard, 1.0));
    }
    let place = EDGE.frame(x, y);
    EDGE.holds(place, 0.0)
        .then_some((if place.0 < 0.5 * EDGE.size.0 { Material::Black } else { Material::White }, 1.0))
}

/// Spheres and a jar, lit from the upper left.
fn solids(x: f64, y: f64) -> Option<(Material, f64)> {
    for (cx, cy, radius, material) in
        [(250.0, 590.0, 128.0, Material::Plaster), (468.0, 660.0, 82.0, Material::Glaze)]
    {
        let (dx, dy) = ((x - cx) / radius, (y - cy) / radius);
        let square = dx * dx + dy * dy;
        if square < 1.0 {
            let towards = -0.52 * dx - 0.58 * dy + 0.62 * math::sqrt(1.0 - square);
            let shine =
                if material == Material::Glaze { 6.0 * math::pow(towards.max(0.0), 60.0) } else { 0.0 };
            return Some((material, 0.07 + 0.95 * towards.max(0.0) + shine));
        }
    }
    let half = 62.0 + 14.0 * math::sin((y - 430.0) / 52.0);
    let across = (x - 664.0) / half;
    ((430.0..742.0).contains(&y) && across.abs() < 1.0).then(|| {
        let towards = (-0.5 * across + 0.7 * math::sqrt(1.0 - across * across)).max(0.0);
        let rings = 1.0 + 0.12 * math::sin(y / 2.6) + 0.10 * octaves(31, x, y, 14.0, 4);
        (Material::Stone, (0.10 + 0.9 * towards) * rings)
    })
}

/// Cloth behind, leaves before it, wood and pebbles below.
fn ground(x: f64, y: f64) -> (Material, f64) {
    if y > 770.0 + 9.0 * octaves(5, x, 0.0, 160.0, 2) {
        let pebble = cell(17, x, y, 27.0);
        let lit = 0.75 - 0.55 * (pebble.offset.0 + pebble.offset.1);
        let grit = 1.0 + 0.22 * octaves(19, x, y, 9.0, 4);
        let round = (pebble.inside * 4.0).clamp(0.10, 1.0);
        return (Material::Stone, (0.5 + 1.1 * pebble.chance) * lit.max(0.1) * grit * round);
    }
    if let Some(seen) = foliage(x, y) {
        return seen;
    }
    if y > 640.0 {
        let grain = octaves(61, 0.06 * x, y, 7.0, 4) + 0.6 * octaves(67, x, y, 5.0, 3);
        return (Material::Wood, 0.62 * (1.0 + 0.33 * grain).max(0.05));
    }
    let fold = 0.80 + 0.36 * octaves(71, x, 0.25 * y, 210.0, 3);
    let (warped_x, warped_y) = (x + 5.0 * octaves(73, x, y, 150.0, 2), y + 5.0 * octaves(79, x, y, 150.0, 2));
    (
        Material::Cloth,
        fold.max(0.08) * weave(warped_x, warped_y, 5.3) * (1.0 + 0.12 * octaves(83, x, y, 3.5, 2)),
    )
}

/// Leaves in the upper left, layer over layer, thinning out towards the cloth.
fn foliage(x: f64, y: f64) -> Option<(Material, f64)> {
    let reach =
        1.0 - (x / 560.0) * (x / 560.0) - (y / 400.0) * (y / 400.0) + 0.22 * octaves(3, x, y, 110.0, 3);
    for layer in 0..3_u32 {
        // Lower layers reach less far and lie in the shade of the upper ones.
        if reach < 0.07 * f64::from(layer) {
            break;
        }
        let shade = 1.0 - 0.3 * f64::from(layer);
        if let Some(leaf) = leaf(43 + 7 * layer, x + 11.0 * f64::from(layer), y, 31.0) {
            let vein = 1.0 - 0.4 * math::exp(-60.0 * leaf.across * leaf.across);
            let ribs = 1.0 + 0.16 * math::sin(26.0 * (leaf.along + 0.35 * leaf.across.abs()));
            let lit = 0.55 + 1.5 * leaf.chance - 0.45 * leaf.across;
            let skin = 1.0 + 0.18 * octaves(47, x, y, 7.0, 3);
            return Some((Material::Leaf, shade * lit.max(0.1) * vein * ribs * skin));
        }
    }
    (reach > 0.14).then_some((Material::Leaf, 0.08))
}
