//! Finds a row of steps in a small copy of a scan: edges of one sign at even distances with flat ground between them.
//!
//! It tells that there are steps and roughly where; it does not place them well enough to measure.

use super::Small;
use crate::geometry::{Point, Quad};
use crate::numeric::robust::quantile_of_sorted;
use crate::words;

/// Slopes of the row that are tried, in hundredths.
const SLOPES: core::ops::RangeInclusive<i32> = -6..=6;
/// Rows of a band that are averaged.
const ROWS: usize = 6;
/// Least change of density that counts as an edge.
const LEAST_EDGE: f64 = 0.012;

/// A row of steps as it was told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stairs {
    /// They follow each other from left to right; else from top to bottom.
    pub along_x: bool,
    /// Later ones are darker.
    pub darkens: bool,
    /// How many can be told apart; where neighbours are alike, fewer than there are.
    pub steps: u32,
    /// Density from the second to the last but one of them.
    pub range: f64,
    /// Where the first begins and the last ends, as shares of the length.
    pub along: (f64, f64),
    /// Their upper and lower (left and right) end in the middle of the row, as shares of the width.
    pub across: (f64, f64),
    /// How far the row leans, in pixels of width for each pixel of length.
    pub slope: f64,
}

impl Stairs {
    /// Roughly where `steps` steps lie in the full scan, from step 1 on, which is the lightest or the `darkest`. Where fewer
    /// could be told apart, those beyond the last are added.
    #[must_use]
    pub fn quad(&self, (width, height): (f64, f64), steps: u32, darkest: bool) -> Quad {
        let (length, breadth) = if self.along_x { (width, height) } else { (height, width) };
        let corner = |u: f64, v: f64| {
            let lean = self.slope * (u - 0.5) * length;
            let (a, b) = (u * length, v * breadth + lean);
            if self.along_x { Point::new(a, b) } else { Point::new(b, a) }
        };
        let more = f64::from(steps) / f64::from(self.steps.max(1));
        let (begin, end) = self.along;
        let (from, to) = if self.darkens == darkest {
            (end, end - (end - begin) * more)
        } else {
            (begin, begin + (end - begin) * more)
        };
        let (near, far) = self.across;
        let [a, b, c, d] = [corner(from, near), corner(to, near), corner(to, far), corner(from, far)];
        if self.along_x { Quad { corners: [a, b, c, d] } } else { Quad { corners: [d, c, b, a] } }
    }
}

/// One profile's run of edges.
#[derive(Debug, Clone, Copy)]
struct Run {
    first: usize,
    last: usize,
    period: f64,
    /// Steps that the run spans.
    steps: u32,
    /// Share of the distances that are whole periods.
    even: f64,
    /// Change of density between the middles of its second and last but one step.
    change: f64,
}

impl Run {
    fn worth(&self) -> f64 {
        f64::from(self.steps) * self.even * self.even
    }
}

/// The row of steps with the most to it, in either direction; `None` where there is nothing like one.
///
/// Beside it the share of the scan's width that it covers.
pub(super) fn find(small: &Small) -> Option<(Found, f64)> {
    let across = along_x(small, true);
    let down = along_x(&small.turned(), false);
    let (found, _) = match (across, down) {
        (Some(a), Some(b)) => {
            if a.1 >= b.1 {
                a
            } else {
                b
            }
        }
        (a, b) => a.or(b)?,
    };
    let (near, far) = found.value.across;
    Some((found, far - near))
}

type Found = crate::found::Found<Stairs>;

fn along_x(small: &Small, along_x: bool) -> Option<(Found, f64)> {
    let stride = (small.height / 32).max(1);
    let bands = small.height / stride;
    let run_at = |slope: i32, band: usize| {
        run(&profile(small, f64::from(slope) / 100.0, (band as f64 + 0.5) * stride as f64, stride))
    };
    let mut best: Option<(Run, i32)> = None;
    for slope in SLOPES.step_by(2) {
        for band in (0..bands).step_by(2) {
            if let Some(run) = run_at(slope, band)
                && best.is_none_or(|(other, _)| run.worth() > other.worth())
            {
                best = Some((run, slope));
            }
        }
    }
    let (best, slope) = best?;
    // Bands that see the same steps say how broad the row is; of equal slopes the one that most bands agree on.
    let agreeing = |slope: i32| -> Vec<usize> {
        (0..bands)
            .filter(|band| {
                run_at(slope, *band).is_some_and(|run| {
                    (run.change > 0.0) == (best.change > 0.0)
                        && (run.period - best.period).abs() < 0.1 * best.period
                        && f64::from(run.steps) > 0.6 * f64::from(best.steps)
                })
            })
            .collect()
    };
    let (slope, seen) = [slope, slope - 1, slope + 1]
        .into_iter()
        .map(|slope| (slope, agreeing(slope)))
        .max_by_key(|(_, seen)| seen.len())?;
    let (top, bottom) = (*seen.first()?, *seen.last()?);
    let (length, breadth) = (small.width as f64, small.height as f64);
    let edge = |at: f64| (at / length).clamp(0.0, 1.0);
    let stairs = Stairs {
        along_x,
        darkens: best.change > 0.0,
        steps: best.steps,
        range: best.change.abs(),
        along: (edge(best.first as f64 - best.period), edge(best.last as f64 + best.period)),
        across: ((top * stride) as f64 / breadth, ((bottom + 1) * stride) as f64 / breadth),
        slope: f64::from(slope) / 100.0,
    };
    let covered = seen.len() as f64 / bands as f64;
    let span = stairs.along.1 - stairs.along.0;
    if best.steps < 5 || span < 0.3 || seen.len() < 2 || (span < 0.5 && covered < 0.15) {
        return None;
    }
    let mut doubts = Vec::new();
    if best.steps < 8 || stairs.range < 0.3 {
        doubts.push(words::Recognised::FewSteps { steps: best.steps, range: stairs.range }.into());
    }
    if span < 0.5 || covered < 0.08 {
        doubts.push(words::Recognised::PartOnly { along: 100.0 * span, across: 100.0 * covered }.into());
    }
    if best.even < 0.8 {
        doubts.push(words::Recognised::UnevenSteps.into());
    }
    let support = (best.even * span).clamp(0.0, 1.0);
    Some((Found { value: stairs, support, doubts }, best.worth()))
}

/// Mean density along a line through `(middle of the picture, y)` that leans by `slope`.
fn profile(small: &Small, slope: f64, y: f64, height: usize) -> Vec<f64> {
    let rows = height.min(ROWS);
    let middle = small.width as f64 / 2.0;
    (0..small.width)
        .map(|x| {
            let centre = y + slope * (x as f64 - middle);
            let (mut sum, mut count) = (0.0, 0.0);
            for row in 0..rows {
                let y = centre + (row as f64 + 0.5 - rows as f64 / 2.0) * height as f64 / rows as f64;
                if y >= 0.0 && y < small.height as f64 {
                    sum += f64::from(small.at(x, y as usize));
                    count += 1.0;
                }
            }
            if count > 0.0 { sum / count } else { 0.0 }
        })
        .collect()
}

fn run(profile: &[f64]) -> Option<Run> {
    let reach = (profile.len() / 220).max(2);
    let mean = |from: usize, to: usize| profile[from..to].iter().sum::<f64>() / (to - from) as f64;
    let slopes: Vec<f64> = (0..profile.len())
        .map(|x| {
            if x < reach || x + reach > profile.len() {
                return 0.0;
            }
            mean(x, x + reach) - mean(x - reach, x)
        })
        .collect();
    let mut sizes: Vec<f64> = slopes.iter().map(|slope| slope.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    // Most of a staircase is flat: the lower third of the differences is noise. Of a normal distribution three tenths lie
    // within 0.385 standard deviations.
    let noise = quantile_of_sorted(&sizes, 0.3)? / 0.385;
    let least = LEAST_EDGE.max(3.5 * noise);
    let peak = |x: usize| {
        let size = slopes[x].abs();
        let (from, to) = (x.saturating_sub(reach), (x + reach + 1).min(slopes.len()));
        size > least
            && slopes[from..x].iter().all(|other| other.abs() < size)
            && slopes[x + 1..to].iter().all(|other| other.abs() <= size)
    };
    let edges: Vec<usize> = (0..slopes.len()).filter(|x| peak(*x)).collect();
    edges
        .chunk_by(|a, b| (slopes[*a] > 0.0) == (slopes[*b] > 0.0))
        .filter_map(|edges| even_run(edges, profile))
        .max_by(|a, b| a.worth().total_cmp(&b.worth()))
}

fn even_run(edges: &[usize], profile: &[f64]) -> Option<Run> {
    let distances =
        |edges: &[usize]| -> Vec<f64> { edges.windows(2).map(|pair| (pair[1] - pair[0]) as f64).collect() };
    let mut sorted = distances(edges);
    sorted.sort_by(f64::total_cmp);
    let period = quantile_of_sorted(&sorted, 0.5)?;
    let whole = |distance: f64| {
        let times = (distance / period).round();
        (1.0..=3.0).contains(&times) && (distance - times * period).abs() < 0.2 * period.max(5.0)
    };
    // A frame or a base beside the steps adds an edge at either end.
    let mut edges = edges;
    while let [first, second, ..] = edges
        && !whole((second - first) as f64)
    {
        edges = &edges[1..];
    }
    while let [.., before, last] = edges
        && !whole((last - before) as f64)
    {
        edges = &edges[..edges.len() - 1];
    }
    let (first, last) = (*edges.first()?, *edges.last()?);
    let found = distances(edges);
    if found.len() < 3 {
        return None;
    }
    let even = found.iter().filter(|distance| whole(**distance)).count() as f64 / found.len() as f64;
    let steps = ((last - first) as f64 / period).round() as u32 + 2;
    if f64::from(steps) > 1.6 * (edges.len() + 1) as f64 {
        return None;
    }
    let at = |x: f64| profile[(x.max(0.0) as usize).min(profile.len() - 1)];
    // Between the second step and the last but one: beyond the outermost may be the holder.
    let change = at(last as f64 - period / 2.0) - at(first as f64 + period / 2.0);
    // Flat ground: the change within the inner half of a step against the change from step to step.
    let inner: f64 = edges
        .windows(2)
        .map(|pair| {
            let length = (pair[1] - pair[0]) as f64;
            (at(pair[0] as f64 + 0.75 * length) - at(pair[0] as f64 + 0.25 * length)).abs()
        })
        .sum();
    if inner > 0.35 * change.abs() {
        return None;
    }
    Some(Run { first, last, period, steps, even, change })
}
