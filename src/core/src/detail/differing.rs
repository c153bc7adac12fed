//! Where two frames of one subject differ: something moved, or the light changed.
//!
//! Frames shot one after the other are not of one moment. Where they differ, what they do not share is no grain.

use std::collections::BTreeSet;

use serde::Serialize;

use super::blocks::{FIRST, Grid, Plan};
use super::coherence::{SegmentCounts, below};
use super::shifts::Field;
use super::{Blocks, Work};
use crate::geometry::Rect;
use crate::numeric::isotonic::pool_adjacent_violators;
use crate::numeric::math;
use crate::words::{self, Sentence};

/// How the frames differ at a place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub enum Difference {
    /// The subject lies elsewhere, by so many pixels of the reference's scan along and down.
    Moved {
        /// From left to right.
        x: f64,
        /// From top to bottom.
        y: f64,
    },
    /// The prints show different things: something moved or changed, or dirt lies on one of them.
    Changed,
    /// Lighter or darker than the prints' common tone curve says, by such a density.
    Light {
        /// Candidate's print against the curve; positive is darker.
        density: f64,
    },
}

impl Difference {
    /// The kind of difference as lists and tables name it.
    #[must_use]
    pub fn words(&self) -> Sentence {
        match self {
            Self::Moved { x, y } => words::Detail::Moved { x: *x, y: *y },
            Self::Changed => words::Detail::Changed,
            Self::Light { density } => words::Detail::Light { density: *density },
        }
        .into()
    }
}

/// A place where the frames differ.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Place {
    /// Where, in pixels of the reference's scan.
    pub area: Rect,
    /// How the two prints differ there.
    pub difference: Difference,
}

/// Blocks where frames differ.
pub(super) struct Differing {
    /// Block by block, as they are listed.
    pub(super) left_out: Vec<bool>,
    /// How the candidate's differ, for those of them.
    how: Vec<Option<Difference>>,
    pub(super) notes: Vec<Sentence>,
}

/// A block agrees where at least half of the coarse detail is shared.
const AGREES: f64 = 0.5;
/// It disagrees where chance would have to be so small.
const CHANCE: f64 = 1e-3;
/// Frequencies are looked at as far as the prints as a whole share so much.
const SHARED: f64 = 0.75;
/// Its power must exceed so many times what blocks have that is not shared.
const ABOVE: f64 = 16.0;
/// Fewer blocks that touch are no finding.
const TOGETHER: usize = 3;
/// A surface of tone differences spans at least this density where light changed.
const LIGHT: f64 = 0.10;
/// It explains at least this share of what departs from the tone curve.
const EXPLAINED: f64 = 0.5;

pub(super) fn find(blocks: &Blocks, grid: &Grid, plan: &Plan, field: &Field, others: usize) -> Differing {
    let count = blocks.at.len();
    let mut found = Differing { left_out: vec![false; count], how: vec![None; count], notes: Vec::new() };
    let worth = SegmentCounts::of(plan);
    for print in 0..others {
        let moved = field.moved(print);
        let changed = changed(blocks, plan, &worth, print);
        let light = if print == 0 { light(blocks, grid) } else { None };
        let mut out = 0;
        for (block, at) in blocks.at.iter().enumerate() {
            let near =
                |(column, row): (usize, usize)| at.0.abs_diff(2 * column) <= 1 && at.1.abs_diff(2 * row) <= 1;
            // One coarse block alone may be chance or a speck; it is left out all the same.
            let shift = moved.iter().find(|(place, _)| near(*place)).map(|(_, shift)| *shift);
            let how = match (shift, changed[block], light.as_ref().and_then(|light| light[block])) {
                (Some((x, y)), ..) => Some(Difference::Moved { x, y }),
                (None, true, _) => Some(Difference::Changed),
                (None, false, Some(density)) => Some(Difference::Light { density }),
                (None, false, None) => None,
            };
            if how.is_some() {
                found.left_out[block] = true;
                out += 1;
                if print == 0 {
                    found.how[block] = how;
                }
            }
        }
        if print == 1 && out > 0 {
            found.notes.push(words::Detail::FrameDiffers { out }.into());
        }
    }
    if found.left_out.iter().filter(|out| **out).count() * 5 > 3 * count
        && found.how.iter().any(|how| matches!(how, Some(Difference::Light { .. })))
    {
        found.notes.push(words::Detail::LightChanged.into());
        for (out, how) in found.left_out.iter_mut().zip(&found.how) {
            *out &= !matches!(how, Some(Difference::Light { .. }));
        }
    }
    found
}

/// Blocks whose coarse detail is strong in both prints and not shared, while most others' is.
fn changed(blocks: &Blocks, plan: &Plan, worth: &SegmentCounts, print: usize) -> Vec<bool> {
    let count = blocks.at.len();
    // As far as the prints as a whole agree well.
    let shared = |annulus: usize| {
        let sum =
            |part: usize| (0..count).map(|block| f64::from(blocks.parts(block)[annulus][part])).sum::<f64>();
        let (re, im) = (sum(3 + 2 * print), sum(4 + 2 * print));
        (re * re + im * im) / (sum(0) * sum(1 + print)).max(1e-300)
    };
    let end = (plan.side / 5).min(plan.annuli - 1);
    let last = (FIRST..=end).take_while(|annulus| shared(*annulus) > SHARED).last().unwrap_or(0);
    if last < FIRST + 2 {
        return vec![false; count];
    }
    let segments: f64 = (FIRST..=last).map(|annulus| worth.alone(annulus)).sum();
    // Annuli count alike: each is brought to the mean over all blocks.
    let mean = |annulus: usize, part: usize| {
        let sum: f64 = (0..count).map(|block| f64::from(blocks.parts(block)[annulus][part])).sum();
        (sum / count as f64).max(1e-300)
    };
    let scales: Vec<(f64, f64)> =
        (FIRST..=last).map(|annulus| (mean(annulus, 0), mean(annulus, 1 + print))).collect();
    let looks: Vec<(f64, f64, f64)> = (0..count)
        .map(|block| {
            let (mut one, mut other, mut re, mut im) = (0.0, 0.0, 0.0, 0.0);
            for (annulus, (a, b)) in (FIRST..=last).zip(&scales) {
                let parts = blocks.parts(block)[annulus].map(f64::from);
                let both = math::sqrt(a * b);
                one += parts[0] / a;
                other += parts[1 + print] / b;
                re += parts[3 + 2 * print] / both;
                im += parts[4 + 2 * print] / both;
            }
            (((re * re + im * im) / (one * other).max(1e-300)).min(1.0), one, other)
        })
        .collect();
    let middle = |mut values: Vec<f64>| {
        let at = values.len() / 2;
        if values.is_empty() { 0.0 } else { *values.select_nth_unstable_by(at, f64::total_cmp).1 }
    };
    let alone = |power: fn(&(f64, f64, f64)) -> f64| {
        middle(looks.iter().map(|look| power(look) * (1.0 - look.0)).collect())
    };
    let (noise, other_noise) = (alone(|look| look.1), alone(|look| look.2));
    let strong = |look: &(f64, f64, f64)| look.1 > ABOVE * noise && look.2 > ABOVE * other_noise;
    let agreement = middle(looks.iter().filter(|look| strong(look)).map(|look| look.0).collect());
    let mut apart = vec![false; count];
    if agreement < 0.6 {
        return apart;
    }
    let places: BTreeSet<(usize, usize)> = blocks
        .at
        .iter()
        .zip(&looks)
        .filter(|(_, look)| strong(look) && below(look.0, AGREES, segments) < CHANCE)
        .map(|(at, _)| *at)
        .collect();
    for group in groups(&places) {
        if group.len() >= TOGETHER {
            for (block, at) in blocks.at.iter().enumerate() {
                apart[block] |= group.contains(at);
            }
        }
    }
    apart
}

/// Blocks that touch, corners included.
fn groups(places: &BTreeSet<(usize, usize)>) -> Vec<BTreeSet<(usize, usize)>> {
    let mut left = places.clone();
    let mut groups = Vec::new();
    while let Some(first) = left.pop_first() {
        let (mut group, mut open) = (BTreeSet::from([first]), vec![first]);
        while let Some((column, row)) = open.pop() {
            for near in (row.saturating_sub(1)..=row + 1)
                .flat_map(|r| (column.saturating_sub(1)..=column + 1).map(move |c| (c, r)))
            {
                if left.remove(&near) {
                    group.insert(near);
                    open.push(near);
                }
            }
        }
        groups.push(group);
    }
    groups
}

/// Departure of each block from the prints' common tone curve, where a smooth surface explains such departures; `None`
/// where the light did not change.
fn light(blocks: &Blocks, grid: &Grid) -> Option<Vec<Option<f64>>> {
    let count = blocks.at.len();
    if count < 30 {
        return None;
    }
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|a, b| blocks.means[*a][0].total_cmp(&blocks.means[*b][0]));
    let values: Vec<f64> = order.iter().map(|block| f64::from(blocks.means[*block][1])).collect();
    let fitted = pool_adjacent_violators(&values, &vec![1.0; count]);
    let mut departures = vec![0.0; count];
    for ((block, value), fitted) in order.iter().zip(&values).zip(&fitted) {
        departures[*block] = value - fitted;
    }
    let terms = |at: (usize, usize)| {
        let u = 2.0 * at.0 as f64 / grid.columns.max(2) as f64 - 1.0;
        let v = 2.0 * at.1 as f64 / grid.rows.max(2) as f64 - 1.0;
        [1.0, u, v, u * u, u * v, v * v]
    };
    let mut weights = vec![1.0; count];
    let mut surface = vec![0.0; count];
    for _ in 0..4 {
        let mut normal = nalgebra::SMatrix::<f64, 6, 6>::zeros();
        let mut right = nalgebra::SVector::<f64, 6>::zeros();
        for (block, at) in blocks.at.iter().enumerate() {
            let row = nalgebra::SVector::<f64, 6>::from(terms(*at));
            normal += weights[block] * row * row.transpose();
            right += weights[block] * departures[block] * row;
        }
        let solved = normal.cholesky()?.solve(&right);
        let mut left: Vec<f64> = Vec::with_capacity(count);
        for (block, at) in blocks.at.iter().enumerate() {
            surface[block] = solved.dot(&nalgebra::SVector::<f64, 6>::from(terms(*at)));
            left.push((departures[block] - surface[block]).abs());
        }
        let mut sorted = left.clone();
        sorted.sort_by(f64::total_cmp);
        let deviation = (1.4826 * sorted[count / 2]).max(1e-4);
        for (weight, left) in weights.iter_mut().zip(&left) {
            *weight = if *left < 3.0 * deviation { 1.0 } else { 3.0 * deviation / left };
        }
    }
    let total: f64 = weights.iter().zip(&departures).map(|(w, d)| w * d * d).sum();
    let rest: f64 =
        weights.iter().zip(departures.iter().zip(&surface)).map(|(w, (d, s))| w * (d - s) * (d - s)).sum();
    let ends = surface.iter().fold((f64::MAX, f64::MIN), |(low, high), s| (low.min(*s), high.max(*s)));
    if ends.1 - ends.0 < LIGHT || rest > (1.0 - EXPLAINED) * total {
        return None;
    }
    let mut sorted = surface.clone();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted[count / 2];
    let away = |s: &f64| Some(s - middle).filter(|away| away.abs() > 0.4 * LIGHT);
    Some(surface.iter().map(away).collect())
}

impl Differing {
    /// Blocks that touch and differ alike, as places.
    pub(super) fn places(&self, blocks: &Blocks, grid: &Grid, work: &Work<'_>) -> Vec<Place> {
        let kind = |difference: &Difference| match difference {
            Difference::Moved { .. } => 0_u8,
            Difference::Changed => 1,
            Difference::Light { density } => {
                if *density > 0.0 {
                    2
                } else {
                    3
                }
            }
        };
        let mut places = Vec::new();
        for wanted in 0..4 {
            let of = |block: usize| self.how[block].filter(|how| kind(how) == wanted);
            let these = blocks.at.iter().enumerate().filter(|(block, _)| of(*block).is_some());
            let at: BTreeSet<(usize, usize)> = these.map(|(_, at)| *at).collect();
            for group in groups(&at) {
                let inside: Vec<Difference> =
                    (0..blocks.at.len()).filter(|b| group.contains(&blocks.at[*b])).filter_map(of).collect();
                let corners = group.iter().fold((usize::MAX, usize::MAX, 0, 0), |(l, t, r, b), (c, row)| {
                    (l.min(*c), t.min(*row), r.max(*c), b.max(*row))
                });
                let first = grid.corner((corners.0, corners.1));
                let last = grid.corner((corners.2, corners.3));
                let area = Rect {
                    min: work.to_scan(first),
                    max: work.to_scan((last.0 + grid.side, last.1 + grid.side)),
                };
                places.push(Place { area, difference: mean(&inside, work.reference.picture.scale) });
            }
        }
        places
    }
}

/// The mean of differences of one kind.
fn mean(all: &[Difference], scale: f64) -> Difference {
    let count = all.len().max(1) as f64;
    let sum = all.iter().fold((0.0, 0.0, 0.0), |(x, y, d), one| match one {
        Difference::Moved { x: mx, y: my } => (x + mx, y + my, d),
        Difference::Light { density } => (x, y, d + density),
        Difference::Changed => (x, y, d),
    });
    match all.first() {
        Some(Difference::Moved { .. }) => {
            Difference::Moved { x: scale * sum.0 / count, y: scale * sum.1 / count }
        }
        Some(Difference::Light { .. }) => Difference::Light { density: sum.2 / count },
        _ => Difference::Changed,
    }
}
