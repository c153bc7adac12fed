//! Each patch of a grid at its own borders, where they show: paper stretches, a target lies a little aslant, a registration is
//! good to a pixel and not to none.
//!
//! A side of a patch is looked for along lines from inside to outside: where the tone that the patch has leaves off, halfway in
//! light to what comes next. What stands at the places of several lines makes the side; sides that are not seen keep their
//! distance from the opposite one, or their place.

use rayon::prelude::*;

use crate::geometry::{Homography, Point, Quad};
use crate::numeric::{math, robust};
use crate::scan::{Plane, ToneTable};
use crate::words::{self, Sentence};

/// How far a border may lie from its place, as a share of the patch, and how far is looked.
const LIMIT: f64 = 0.12;
const REACH: f64 = 0.22;
/// Places along a side at which it is looked for, and lines that are taken together at each.
const PLACES: usize = 5;
const LINES: usize = 9;
/// A side is seen where it is found at so many of them.
const SEEN: usize = 4;
/// Places of one side lie on a line to this share of the patch, or to half a pixel.
const STRAIGHT: f64 = 0.012;
/// Least change of density at a border.
const LEAST_CHANGE: f64 = 0.03;
/// A patch may be so much larger or smaller than its place, and lie so much further off than the middle one of all.
const RESIZED: f64 = 0.10;
const APART: f64 = 0.07;

/// One patch as its borders have it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    /// From edge to edge.
    pub(super) whole: Quad,
    /// Sides that were seen, of four.
    pub(super) sides: u8,
    /// Why its borders were not followed though some showed.
    pub(super) doubt: Option<Sentence>,
}

/// How far a side lies outside its place (inside: below zero) at its start and at its end, as shares of the patch.
type Side = (f64, f64);

/// What the four sides of one patch show, in the order of its corners: from the first to the second, and on.
type Sides = [Option<Side>; 4];

/// Moves each patch of `wholes` to its borders.
pub(super) fn follow(plane: Plane<'_>, table: &ToneTable, wholes: &[Quad]) -> Vec<Placed> {
    let seen: Vec<Option<(Homography, Sides)>> = wholes
        .par_iter()
        .map(|whole| {
            let map = Homography::of(whole)?;
            let sides = core::array::from_fn(|side| Looking { plane, table, map: &map, whole, side }.side());
            Some((map, sides))
        })
        .collect();
    let shifts: Vec<(f64, f64)> = seen.iter().flatten().filter_map(|(_, sides)| shift(sides)).collect();
    let of = |pick: fn(&(f64, f64)) -> f64| robust::median(&shifts.iter().map(pick).collect::<Vec<f64>>());
    let usual = of(|shift| shift.0).zip(of(|shift| shift.1));
    wholes.iter().zip(seen).map(|(whole, seen)| placed(whole, seen, usual)).collect()
}

/// How far a patch with all sides seen lies from its place.
fn shift(sides: &Sides) -> Option<(f64, f64)> {
    let middle = |side: usize| sides[side].map(|(from, to)| 0.5 * (from + to));
    Some((0.5 * (middle(1)? - middle(3)?), 0.5 * (middle(2)? - middle(0)?)))
}

fn placed(whole: &Quad, seen: Option<(Homography, Sides)>, usual: Option<(f64, f64)>) -> Placed {
    let stays = |sides: u8, doubt: Option<Sentence>| Placed { whole: *whole, sides, doubt };
    let Some((map, sides)) = seen else { return stays(0, None) };
    let count = sides.iter().flatten().count() as u8;
    if count == 0 {
        return stays(0, None);
    }
    let percent = |share: f64| 100.0 * share.abs();
    let most = sides.iter().flatten().map(|(from, to)| from.abs().max(to.abs())).fold(0.0, f64::max);
    if most > LIMIT {
        let why = words::Patch::TooFar { percent: percent(most) }.into();
        return stays(0, Some(why));
    }
    for (one, other) in [(0, 2), (1, 3)] {
        if let (Some(one), Some(other)) = (sides[one], sides[other]) {
            let grown = 0.5 * (one.0 + one.1 + other.0 + other.1);
            if grown.abs() > RESIZED {
                let why = words::Patch::Resized { percent: percent(grown), larger: grown > 0.0 };
                return stays(0, Some(why.into()));
            }
        }
    }
    if let (Some(own), Some(usual)) = (shift(&sides), usual) {
        let apart = math::hypot(own.0 - usual.0, own.1 - usual.1);
        if apart > APART {
            let why = words::Patch::FurtherOff { percent: percent(apart) }.into();
            return stays(0, Some(why));
        }
    }
    match corners(&map, &filled(&sides)) {
        Some(whole) => Placed { whole, sides: count, doubt: None },
        None => stays(0, None),
    }
}

/// All four sides: one that was not seen keeps its distance from the opposite one.
fn filled(sides: &Sides) -> [Side; 4] {
    core::array::from_fn(|side| {
        // The opposite side runs the other way.
        let opposite = sides[(side + 2) % 4].map(|(from, to)| (-to, -from));
        sides[side].or(opposite).unwrap_or_default()
    })
}

/// Where the sides meet.
fn corners(map: &Homography, sides: &[Side; 4]) -> Option<Quad> {
    // Each side as a line through two places of the patch's own square.
    let line = |side: usize| {
        let (from, to) = sides[side];
        let at = |along: f64, out: f64| match side {
            0 => (along, -out),
            1 => (1.0 + out, along),
            2 => (1.0 - along, 1.0 + out),
            _ => (-out, 1.0 - along),
        };
        (at(0.0, from), at(1.0, to))
    };
    let meet = |(a, b): ((f64, f64), (f64, f64)), (c, d): ((f64, f64), (f64, f64))| {
        let (r, s) = ((b.0 - a.0, b.1 - a.1), (d.0 - c.0, d.1 - c.1));
        let cross = r.0 * s.1 - r.1 * s.0;
        let t = ((c.0 - a.0) * s.1 - (c.1 - a.1) * s.0) / cross;
        map.place(a.0 + t * r.0, a.1 + t * r.1)
    };
    let quad = Quad { corners: core::array::from_fn(|corner| meet(line((corner + 3) % 4), line(corner))) };
    quad.is_convex().then_some(quad)
}

/// One side of one patch that is looked for.
struct Looking<'a> {
    plane: Plane<'a>,
    table: &'a ToneTable,
    map: &'a Homography,
    whole: &'a Quad,
    side: usize,
}

impl Looking<'_> {
    /// The side; `None` where no border shows.
    fn side(&self) -> Option<Side> {
        let depth = self.depth();
        let along = |place: usize| 0.18 + 0.64 * place as f64 / (PLACES - 1) as f64;
        let found: Vec<(f64, f64)> =
            (0..PLACES).filter_map(|place| Some((along(place), self.at(along(place), depth)?))).collect();
        if found.len() < SEEN {
            return None;
        }
        // The line through them that half of the places may miss (P. J. Rousseeuw, J. Am. Stat. Assoc. 79, 1984).
        let bound = STRAIGHT.max(0.5 / depth);
        let through = |a: (f64, f64), b: (f64, f64)| {
            let slope = (b.1 - a.1) / (b.0 - a.0);
            (a.1 - slope * a.0, slope)
        };
        let pairs = (0..found.len()).flat_map(|i| (i + 1..found.len()).map(move |j| (i, j)));
        let on = |(start, slope): (f64, f64)| {
            found
                .iter()
                .filter(|(at, out)| (start + slope * at - out).abs() <= bound)
                .copied()
                .collect::<Vec<_>>()
        };
        let best = pairs.map(|(i, j)| on(through(found[i], found[j]))).max_by_key(Vec::len)?;
        if best.len() < SEEN {
            return None;
        }
        let n = best.len() as f64;
        let mean = best.iter().fold((0.0, 0.0), |sum, (at, out)| (sum.0 + at / n, sum.1 + out / n));
        let spread: f64 = best.iter().map(|(at, _)| (at - mean.0) * (at - mean.0)).sum();
        let slope = best.iter().map(|(at, out)| (at - mean.0) * (out - mean.1)).sum::<f64>() / spread;
        let out = |at: f64| mean.1 + slope * (at - mean.0);
        Some((out(0.0), out(1.0)))
    }

    /// Size of the patch across this side, in pixels.
    fn depth(&self) -> f64 {
        let c = &self.whole.corners;
        let middle = |a: usize, b: usize| Point::new((c[a].x + c[b].x) / 2.0, (c[a].y + c[b].y) / 2.0);
        let (from, to) =
            (middle(self.side, (self.side + 1) % 4), middle((self.side + 2) % 4, (self.side + 3) % 4));
        math::hypot(to.x - from.x, to.y - from.y)
    }

    /// How far outside its place the border lies about one place along the side, as a share of the patch.
    fn at(&self, along: f64, depth: f64) -> Option<f64> {
        let count = ((2.0 * REACH * depth / 0.5) as usize).clamp(24, 240);
        let pitch = 2.0 * REACH / count as f64;
        let out = |k: f64| (k + 0.5) * pitch - REACH;
        let (mut lights, mut densities) = (Vec::with_capacity(count), Vec::with_capacity(count));
        let mut read = [0.0; LINES];
        for k in 0..count {
            for (line, slot) in read.iter_mut().enumerate() {
                let beside = along + 0.12 * ((line as f64 + 0.5) / LINES as f64 - 0.5);
                *slot = self.light(self.place(beside, out(k as f64)))?;
            }
            read.sort_unstable_by(f64::total_cmp);
            let light = read[2..LINES - 2].iter().sum::<f64>() / (LINES - 4) as f64;
            lights.push(light);
            densities.push(-math::log10(light.max(1e-6)));
        }
        leaves(&lights, &densities, depth * pitch).map(|k| out(k - 0.5))
    }

    fn place(&self, along: f64, out: f64) -> Point {
        let (u, v) = match self.side {
            0 => (along, -out),
            1 => (1.0 + out, along),
            2 => (1.0 - along, 1.0 + out),
            _ => (-out, 1.0 - along),
        };
        self.map.place(u, v)
    }

    /// Light between pixel centres; `None` outside the scan.
    fn light(&self, place: Point) -> Option<f64> {
        let (x, y) = (place.x - 0.5, place.y - 0.5);
        if !(x >= 0.0 && y >= 0.0) {
            return None;
        }
        let (i, j) = (x as usize, y as usize);
        let (p, q) = (x - i as f64, y - j as f64);
        let light = |i, j| Some(*self.table.light.get(usize::from(self.plane.code(i, j)?))?);
        let upper = (1.0 - p) * light(i, j)? + p * light(i + 1, j)?;
        let lower = (1.0 - p) * light(i, j + 1)? + p * light(i + 1, j + 1)?;
        Some((1.0 - q) * upper + q * lower)
    }
}

/// Where a line leaves the tone that it begins with and does not come back at once, halfway in light to what comes next; in
/// samples from its start, each of `sample` pixels.
fn leaves(light: &[f64], density: &[f64], sample: f64) -> Option<f64> {
    let begin = light.len() * 2 / 10;
    let (inner_light, inner) = (robust::median(&light[..begin])?, robust::median(&density[..begin])?);
    let spread = robust::median_absolute_deviation(&density[..begin])? * robust::MAD_TO_SIGMA;
    let least = LEAST_CHANGE.max(5.0 * spread);
    // Two pixels are a border, less is a speck; a blurred border settles within three.
    let (stays, settles) = ((2.0 / sample).ceil() as usize, (3.0 / sample).ceil() as usize);
    let away = |k: usize| (density[k] - inner).abs() > least;
    let last = light.len().checked_sub(stays.max(settles) + 1)?;
    let first = (begin..last).find(|k| (*k..*k + stays).all(away))?;
    let outer =
        robust::median(&light[(first + settles / 2).min(last)..(first + 2 * settles).min(light.len())])?;
    let level = 0.5 * (inner_light + outer);
    let from = first.saturating_sub(settles).max(1);
    let crosses = (from..(first + settles).min(light.len() - 1))
        .find(|k| (light[*k] >= level) != (light[k + 1] >= level))?;
    let (a, b) = (light[crosses], light[crosses + 1]);
    Some(crosses as f64 + 0.5 + (level - a) / (b - a))
}
