//! Textures of the still life as functions of place, so that every print can be drawn at its own size and turn without
//! resampling a picture.

use twinwedge_core::numeric::math;

/// A hash of a lattice point, 0..1.
pub(super) fn lattice(seed: u32, x: i32, y: i32) -> f64 {
    let mut h =
        seed ^ (x as u32).wrapping_mul(0x85eb_ca6b) ^ (y as u32).wrapping_mul(0xc2b2_ae35).rotate_left(13);
    for _ in 0..2 {
        h = (h ^ (h >> 16)).wrapping_mul(0x7feb_352d);
        h = (h ^ (h >> 15)).wrapping_mul(0x846c_a68b);
    }
    f64::from(h >> 8) / f64::from(1_u32 << 24)
}

/// Smooth noise with cells of side 1, 0..1.
fn noise(seed: u32, x: f64, y: f64) -> f64 {
    let (x0, y0) = (x.floor(), y.floor());
    let fade = |t: f64| t * t * t * (t * (t * 6.0 - 15.0) + 10.0);
    let (u, v) = (fade(x - x0), fade(y - y0));
    let (i, j) = (x0 as i32, y0 as i32);
    let top = lattice(seed, i, j) * (1.0 - u) + lattice(seed, i + 1, j) * u;
    let bottom = lattice(seed, i, j + 1) * (1.0 - u) + lattice(seed, i + 1, j + 1) * u;
    top * (1.0 - v) + bottom * v
}

/// Noise at several scales, the coarsest with cells of `size`, each next 2.1 times finer and 0.62 times as strong; mean 0,
/// about -1..1.
pub(super) fn octaves(seed: u32, x: f64, y: f64, size: f64, count: u32) -> f64 {
    let (mut sum, mut strength, mut total, mut scale) = (0.0, 1.0, 0.0, 1.0 / size);
    for octave in 0..count {
        sum += strength * (2.0 * noise(seed.wrapping_add(octave), x * scale, y * scale) - 1.0);
        total += strength;
        strength *= 0.62;
        scale *= 2.1;
    }
    1.6 * sum / total
}

/// Cells around scattered points.
pub(super) struct Cell {
    /// 0 at the border of the cell, rising inwards, in units of the cell size.
    pub(super) inside: f64,
    /// Offset from the cell's point, in units of the cell size.
    pub(super) offset: (f64, f64),
    /// Chance of the cell, 0..1.
    pub(super) chance: f64,
}

/// The cell that a place lies in (scattered points after S. Worley, 'A cellular texture basis function', 1996).
pub(super) fn cell(seed: u32, x: f64, y: f64, size: f64) -> Cell {
    let (x, y) = (x / size, y / size);
    let (i, j) = (x.floor() as i32, y.floor() as i32);
    let mut nearest = (f64::MAX, (0.0, 0.0), 0.0);
    let mut second = f64::MAX;
    for b in j - 1..=j + 1 {
        for a in i - 1..=i + 1 {
            let dx = x - f64::from(a) - 0.15 - 0.7 * lattice(seed, a, b);
            let dy = y - f64::from(b) - 0.15 - 0.7 * lattice(seed ^ 0x55, a, b);
            let distance = math::sqrt(dx * dx + dy * dy);
            if distance < nearest.0 {
                second = nearest.0;
                nearest = (distance, (dx, dy), lattice(seed ^ 0xaa, a, b));
            } else if distance < second {
                second = distance;
            }
        }
    }
    Cell { inside: second - nearest.0, offset: nearest.1, chance: nearest.2 }
}

/// A leaf among leaves.
pub(super) struct Leaf {
    /// -1..1 from stalk to tip.
    pub(super) along: f64,
    /// -1..1 from rim to rim.
    pub(super) across: f64,
    /// Chance of the leaf, 0..1.
    pub(super) chance: f64,
}

/// The topmost of scattered leaves that covers a place; `size` is their spacing.
pub(super) fn leaf(seed: u32, x: f64, y: f64, size: f64) -> Option<Leaf> {
    let (x, y) = (x / size, y / size);
    let (i, j) = (x.floor() as i32, y.floor() as i32);
    let mut top: Option<Leaf> = None;
    for b in j - 1..=j + 1 {
        for a in i - 1..=i + 1 {
            let dx = x - f64::from(a) - 0.15 - 0.7 * lattice(seed, a, b);
            let dy = y - f64::from(b) - 0.15 - 0.7 * lattice(seed ^ 0x55, a, b);
            let (sin, cos) = math::sincos(0.9 + 2.4 * (lattice(seed ^ 0x33, a, b) - 0.5));
            let along = (cos * dx + sin * dy) / 0.95;
            let across = (cos * dy - sin * dx) / (0.42 * (1.0 - along * along).max(1e-3));
            let chance = lattice(seed ^ 0xaa, a, b);
            let covers = along.abs() < 1.0 && across.abs() < 1.0;
            if covers && top.as_ref().is_none_or(|leaf| leaf.chance < chance) {
                top = Some(Leaf { along, across, chance });
            }
        }
    }
    top
}

/// A plain weave of threads, `pitch` apart: brightness around 1.
pub(super) fn weave(x: f64, y: f64, pitch: f64) -> f64 {
    let (u, v) = (x / pitch, y / pitch);
    let over = (u.floor() as i64 + v.floor() as i64).rem_euclid(2) == 0;
    let (across, along) = if over { (u - u.floor(), v) } else { (v - v.floor(), u) };
    let round = math::sin(core::f64::consts::PI * across);
    let thread = lattice(91, along.floor() as i32, i32::from(over));
    0.55 + 0.5 * round * (0.8 + 0.4 * thread)
}
