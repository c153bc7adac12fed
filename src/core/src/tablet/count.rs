//! How many steps are seen between the corners of a strip, whatever number was named.

use super::Quad;
use crate::document::StripShape;
use crate::numeric::{math, robust};
use crate::scan::{Plane, ToneTable};

/// Samples along the strip for each step that was named, and at most.
const SAMPLES: (usize, usize) = (24, 4_000);
/// Lines across the strip that are taken together.
const LINES: usize = 41;
/// Share of a step at either end that is not looked at: borders are blurred, and there may be a gap between steps.
const EDGE: f64 = 0.16;
/// Fewer steps are no strip.
const LEAST_STEPS: u32 = 5;
/// What whole steps leave is less than this many times what equal parts of them leave: of a whole step more of its blurred
/// borders counts.
const SAME: f64 = 6.0;
/// The steps that are seen leave less than this share of what any number beside theirs leaves within its parts.
const DISTINCT: f64 = 0.3;

/// The number of equal steps between the corners of a strip, where one number alone divides it so that tone is level within
/// every part; `None` where none does: the strip is level, or a ramp, or hidden in noise.
#[must_use]
pub fn steps_seen(plane: Plane<'_>, table: &ToneTable, shape: &StripShape) -> Option<u32> {
    if table.light.len() != plane.levels() {
        return None;
    }
    let tones = along(plane, table, &shape.quad, shape.steps)?;
    let most = (2 * shape.steps).max(shape.steps + 8).min((tones.len() / 6) as u32);
    let least = (shape.steps / 3).max(LEAST_STEPS - 1);
    let left: Vec<f64> = (least - 1..=most + 1).map(|steps| within(&tones, steps)).collect();
    let of = |steps: u32| left[(steps + 1 - least) as usize];
    let all = within(&tones, 1);
    let distinct = |steps: &u32| {
        let beside = of(steps - 1).min(of(steps + 1));
        of(*steps) < DISTINCT * beside && of(*steps) < 0.02 * all
    };
    let best = (least.max(LEAST_STEPS)..=most).filter(distinct).min_by(|a, b| of(*a).total_cmp(&of(*b)))?;
    // Parts of steps are as level as steps: the fewest count.
    (2..=best / LEAST_STEPS)
        .rev()
        .filter(|share| best.is_multiple_of(*share) && best / share >= least.max(LEAST_STEPS))
        .map(|share| best / share)
        .find(|steps| distinct(steps) && of(*steps) < SAME * of(best))
        .or(Some(best))
}

/// Tone along the strip, from its first corner to the second.
fn along(plane: Plane<'_>, table: &ToneTable, quad: &Quad, steps: u32) -> Option<Vec<f64>> {
    let map = crate::geometry::Homography::of(quad)?;
    let count = (steps as usize * SAMPLES.0).min(SAMPLES.1);
    let mut lights = Vec::with_capacity(LINES);
    let mut light = Vec::with_capacity(count);
    for k in 0..count {
        lights.clear();
        for line in 0..LINES {
            let v = 0.25 + 0.5 * (line as f64 + 0.5) / LINES as f64;
            let at = map.place((k as f64 + 0.5) / count as f64, v);
            if at.x < 0.0 || at.y < 0.0 {
                return None;
            }
            lights.push(table.light[usize::from(plane.code(at.x as usize, at.y as usize)?)]);
        }
        light.push(robust::median(&lights)?);
    }
    let most = light.iter().copied().fold(0.0, f64::max);
    // The noise of the darkest steps would drown all others.
    Some(light.iter().map(|light| -math::log10(light + 1e-3 * most)).collect())
}

/// Mean square of tones about the means of so many equal parts, without the ends of these.
fn within(tones: &[f64], steps: u32) -> f64 {
    if steps == 0 {
        return f64::INFINITY;
    }
    let (mut sum, mut count) = (0.0, 0.0);
    let length = tones.len() as f64 / f64::from(steps);
    for step in 0..steps {
        let from = ((f64::from(step) + EDGE) * length).ceil() as usize;
        let to = (((f64::from(step) + 1.0 - EDGE) * length) as usize).min(tones.len());
        let Some(part) = tones.get(from..to).filter(|part| part.len() > 1) else { continue };
        let mean = part.iter().sum::<f64>() / part.len() as f64;
        sum += part.iter().map(|tone| (tone - mean) * (tone - mean)).sum::<f64>();
        count += part.len() as f64;
    }
    if count > 0.0 { sum / count } else { f64::INFINITY }
}
