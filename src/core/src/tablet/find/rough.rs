//! Where a strip lies, to a pixel of the smaller copy: a staircase along many lines, and the sides at which it ends.

use rayon::prelude::*;

use super::chain::{self, Chain, Law};
use super::profile;
use super::sheet::Turned;
use crate::geometry::Quad;
use crate::numeric::robust;

/// Windows of the running median along a line: wide ones take out gaps and marks, narrow ones keep short steps.
const WINDOWS: [usize; 4] = [3, 9, 19, 37];
/// Fewer borders than this are no strip.
const LEAST_BORDERS: f64 = 4.5;
/// Least jump of tone at a border.
const LEAST_JUMP: f64 = 0.010;
/// Most rows that a mean line is made from.
const ROWS: usize = 48;

/// A row of steps of which each border was seen, or a few between others that were.
#[derive(Debug, Clone)]
pub(super) struct Rough {
    /// From the first border to the last, in the scan's pixels; u runs to the right of the turned copy.
    pub(super) quad: Quad,
    /// Steps between them.
    pub(super) steps: u32,
    /// About the number of borders.
    pub(super) score: f64,
    /// Slope of its sides in the turned copy: a row that runs askew was turned wrongly.
    pub(super) askew: f64,
    /// Another row of steps is there too.
    pub(super) another: bool,
}

/// A few rows together.
struct Band {
    from: usize,
    to: usize,
    /// First column of the line.
    left: usize,
    line: Vec<f64>,
    chain: Option<Chain>,
    score: f64,
}

/// Chains of single bands that are tried on all rows.
const TRIED: usize = 4;

/// Looks for a staircase that rises or falls to the right.
pub(super) fn look(turned: &Turned) -> Option<Rough> {
    let bands = bands(turned);
    let mut order: Vec<usize> = (0..bands.len()).filter(|k| bands[*k].score >= LEAST_BORDERS).collect();
    order.sort_by(|a, b| bands[*b].score.total_cmp(&bands[*a].score));
    let mut tried: Vec<f64> = Vec::new();
    let mut best: Option<(Reach, Chain, f64)> = None;
    for k in order {
        let Some(chain) = bands[k].chain.as_ref() else { continue };
        let length = chain.length();
        if tried.len() >= TRIED || tried.iter().any(|other| (other / length - 1.0).abs() < 0.06) {
            continue;
        }
        tried.push(length);
        let reach = Reach::of(&bands, k, chain);
        // Marks on the steps make a staircase of their own in the rows that they lie in, and in no others.
        let Some((chain, score)) = reach.merged(turned, chain) else { continue };
        if best.as_ref().is_none_or(|(_, _, most)| score > *most) {
            best = Some((reach, chain, score));
        }
    }
    let (reach, chain, score) = best?;
    let sides = reach.sides(turned, &chain)?;
    let law = chain.law();
    let corner = |number: i32, side: (f64, f64)| {
        let mut x = law.at(f64::from(number));
        for _ in 0..3 {
            x = law.at(f64::from(number)) + reach.lean * (side.0 + side.1 * x - reach.middle());
        }
        turned.in_scan(x, side.0 + side.1 * x)
    };
    let last = chain.last();
    let [top, bottom] = sides;
    let quad = Quad { corners: [corner(0, top), corner(last, top), corner(last, bottom), corner(0, bottom)] };
    let middle = law.at(0.5 * f64::from(last));
    let (above, below) = (top.0 + top.1 * middle, bottom.0 + bottom.1 * middle);
    let outside = |band: &&Band| (band.to as f64) < above || band.from as f64 > below;
    let another = bands.iter().filter(outside).any(|band| band.score >= (0.6 * score).max(6.0));
    let askew = 0.5 * (top.1 + bottom.1);
    quad.is_convex().then_some(Rough { quad, steps: last as u32, score, askew, another })
}

fn bands(turned: &Turned) -> Vec<Band> {
    let rows = (turned.height / 40).clamp(3, 12);
    let narrow = (0..turned.height / rows).map(|k| (k * rows, (k + 1) * rows));
    // Low steps drown in the grain of a few rows.
    let wide =
        (0..(turned.height / (2 * rows)).saturating_sub(2)).map(|k| (2 * k * rows, (2 * k + 5) * rows));
    let spans: Vec<(usize, usize)> = narrow.chain(wide).collect();
    spans.par_iter().filter_map(|(from, to)| Band::of(turned, *from, *to)).collect()
}

impl Band {
    fn of(turned: &Turned, from: usize, to: usize) -> Option<Self> {
        let there = |x: &usize| !turned.tone(*x, from).is_nan() && !turned.tone(*x, to - 1).is_nan();
        let left = (0..turned.width).find(there)?;
        let right = (0..turned.width).rfind(there)? + 1;
        if right - left < 40 {
            return None;
        }
        let middle = |x: usize| {
            let mut column: Vec<f64> = (from..to).map(|y| turned.tone(x, y)).collect();
            column.sort_unstable_by(f64::total_cmp);
            0.5 * (column[column.len() / 2] + column[(column.len() - 1) / 2])
        };
        let line: Vec<f64> = (left..right).map(middle).collect();
        let (chain, score) = staircase(&line, left as f64, None).unzip();
        Some(Self { from, to, left, line, chain, score: score.unwrap_or(0.0) })
    }
}

/// The best staircase on a line and how much speaks for it.
fn staircase(line: &[f64], left: f64, length: Option<f64>) -> Option<(Chain, f64)> {
    let sigma = profile::noise(line);
    let windows: Vec<usize> = match length {
        Some(length) => [0.0, 0.3, 0.5].map(|share| ((share * length) as usize).max(3) | 1).to_vec(),
        None => WINDOWS.into_iter().filter(|window| window * 6 <= line.len()).collect(),
    };
    let mut found: Option<(Chain, f64)> = None;
    for window in windows {
        let smooth = profile::running_median(line, window);
        let reach = (window / 3).max(2);
        let strict = if length.is_some() { 3.5 } else { 4.5 };
        let least = LEAST_JUMP.max(strict * sigma / (reach as f64).sqrt());
        let edges = profile::edges(&smooth, reach, least);
        let Some(chain) = chain::best(&edges, length) else { continue };
        let score = chain.score * (1.3 - 1.5 * slope(&smooth, &chain)).clamp(0.0, 1.0);
        if found.as_ref().is_none_or(|(_, best)| score > *best) {
            found = Some((chain, score));
        }
    }
    let (mut chain, score) = found?;
    chain.links.iter_mut().for_each(|(_, edge)| edge.x += left);
    Some((chain, score))
}

/// How much tone changes within steps as a share of how much it changes between them: near 1 for a ramp, 0 for stairs.
fn slope(line: &[f64], chain: &Chain) -> f64 {
    let mut shares = Vec::new();
    for pair in chain.links.windows(2) {
        let [(i, a), (j, b)] = pair else { continue };
        let length = b.x - a.x;
        let part = |from: f64, to: f64| {
            let at = |share: f64| ((a.x + share * length) as usize).min(line.len());
            robust::mean(&line[at(from)..at(to).max(at(from) + 1).min(line.len())])
        };
        if j - i == 1
            && let (Some(first), Some(second)) = (part(0.2, 0.5), part(0.5, 0.8))
        {
            let jump = 0.5 * (a.jump.abs() + b.jump.abs());
            shares.push((second - first).abs() / 0.3 / jump);
        }
    }
    robust::median(&shares).unwrap_or(1.0).min(1.0)
}

/// The rows in which a staircase is seen.
struct Reach {
    from: usize,
    to: usize,
    /// Columns that borders move to the right from one row to the next.
    lean: f64,
}

impl Reach {
    /// From the band of the chain up and down while the steps stay what they are.
    fn of(bands: &[Band], best: usize, chain: &Chain) -> Self {
        let law = chain.law();
        let last = chain.last();
        let plateaus = |band: &Band, shift: f64| -> Vec<Option<f64>> {
            (0..last).map(|step| plateau(&band.line, band.left, &law, step, shift)).collect()
        };
        let known = plateaus(&bands[best], 0.0);
        let jumps: Vec<f64> = chain.links.iter().map(|(_, edge)| edge.jump.abs()).collect();
        let jump = robust::median(&jumps).unwrap_or(LEAST_JUMP);
        let alike = |band: &Band, shift: f64| {
            let here = plateaus(band, shift);
            let off: Vec<f64> = here.iter().zip(&known).filter_map(|(a, b)| Some((*a)? - (*b)?)).collect();
            let middle = robust::median(&off).unwrap_or(f64::INFINITY);
            if off.len() * 10 < known.len() * 6 || middle.abs() > 0.12 {
                return 0.0;
            }
            let near = off.iter().filter(|d| (*d - middle).abs() < (0.4 * jump).max(0.02)).count();
            near as f64 / off.len() as f64
        };
        let mut places = vec![(bands[best].centre(), 0.0)];
        let (mut from, mut to) = (bands[best].from, bands[best].to);
        for way in [-1_isize, 1] {
            let (mut at, mut shift, mut missed) = (best as isize + way, 0.0, 0);
            while let Some(band) = usize::try_from(at).ok().and_then(|k| bands.get(k)) {
                let tried = [0.0, -1.0, 1.0].map(|by| (alike(band, shift + by), shift + by));
                let (share, here) =
                    tried.into_iter().fold((0.0, shift), |a, b| if b.0 > a.0 { b } else { a });
                if share >= 0.65 {
                    (missed, shift) = (0, here);
                    places.push((band.centre(), here));
                    from = from.min(band.from);
                    to = to.max(band.to);
                } else {
                    missed += 1;
                    if missed > 2 {
                        break;
                    }
                }
                at += way;
            }
        }
        let (_, lean) = chain::line(places.iter().copied());
        Self { from, to, lean: lean.clamp(-0.15, 0.15) }
    }

    fn middle(&self) -> f64 {
        0.5 * (self.from + self.to) as f64
    }

    /// The staircase on the median of all rows.
    fn merged(&self, turned: &Turned, chain: &Chain) -> Option<(Chain, f64)> {
        let inner = ((self.to - self.from) / 8).min(6);
        let (from, to) = (self.from + inner, self.to - inner);
        let step = ((to - from) / ROWS).max(1);
        let rows: Vec<usize> = (from..to).step_by(step).collect();
        let column = |x: usize| -> Option<f64> {
            let at = |y: &usize| {
                let x = x as f64 + 0.5 + self.lean * (*y as f64 + 0.5 - self.middle());
                let x = (x >= 0.0).then_some(x as usize).filter(|x| *x < turned.width)?;
                Some(turned.tone(x, *y)).filter(|tone| !tone.is_nan())
            };
            let tones: Vec<f64> = rows.iter().filter_map(at).collect();
            (tones.len() * 2 > rows.len()).then(|| robust::median(&tones))?
        };
        let left = (0..turned.width).find(|x| column(*x).is_some())?;
        let line: Vec<f64> = (left..turned.width).map_while(column).collect();
        staircase(&line, left as f64, Some(chain.length()))
    }

    /// The lines on which the steps end, above and below: `y = a + b x`.
    fn sides(&self, turned: &Turned, chain: &Chain) -> Option<[(f64, f64); 2]> {
        let law = chain.law();
        let mut exits: [Vec<(f64, f64)>; 2] = [Vec::new(), Vec::new()];
        for step in 0..chain.last() {
            let (a, b) = (law.at(f64::from(step) + 0.15), law.at(f64::from(step) + 0.85));
            let profile: Vec<f64> = (0..turned.height).map(|y| self.across(turned, y, a, b)).collect();
            for (exit, found) in exits.iter_mut().zip(self.exits(&profile)) {
                exit.extend(found.map(|y| (0.5 * (a + b), y)));
            }
        }
        let tolerance = 1.0 + 0.02 * (self.to - self.from) as f64;
        let steps = chain.last() as usize;
        let [above, below] = exits;
        Some([side(&above, tolerance, steps)?, side(&below, tolerance, steps)?])
    }

    /// Median tone of a step in one row.
    fn across(&self, turned: &Turned, y: usize, a: f64, b: f64) -> f64 {
        let shift = self.lean * (y as f64 + 0.5 - self.middle());
        let (from, to) = ((a + shift).max(0.0) as usize, (b + shift).max(0.0) as usize);
        let row = turned.row(y);
        let part = &row[from.min(row.len())..(to + 1).min(row.len())];
        if part.is_empty() || part.iter().any(|tone| tone.is_nan()) {
            return f64::NAN;
        }
        robust::median(part).unwrap_or(f64::NAN)
    }

    /// Where a step's tone ends above and below; `None` where it does not.
    fn exits(&self, profile: &[f64]) -> [Option<f64>; 2] {
        let width = self.to - self.from;
        let inner = &profile[self.from + width / 5..self.to - width / 5];
        let Some(tone) = robust::median(inner) else { return [None, None] };
        let least = 0.03_f64.max(4.5 * profile::noise(inner));
        let same = |y: usize| (profile[y] - tone).abs() <= least;
        // A mark on the step is bridged: its tone comes back behind it.
        let bridge = (width * 3 / 10).max(4);
        let middle = (self.from + self.to) / 2;
        let mut above = middle;
        for y in (0..middle).rev() {
            if same(y) {
                above = y;
            } else if above - y > bridge || profile[y].is_nan() {
                break;
            }
        }
        let mut below = middle;
        for (y, tone) in profile.iter().enumerate().skip(middle) {
            if same(y) {
                below = y + 1;
            } else if y + 1 - below > bridge || tone.is_nan() {
                break;
            }
        }
        let ends = |y: usize| !profile[y].is_nan();
        let before = (above >= 2 && ends(above - 2)).then_some(above as f64);
        let after = (below + 1 < profile.len() && ends(below + 1)).then_some(below as f64);
        [before, after]
    }
}

impl Band {
    fn centre(&self) -> f64 {
        0.5 * (self.from + self.to) as f64
    }
}

/// Median tone of the middle of a step on a line.
fn plateau(line: &[f64], left: usize, law: &Law, step: i32, shift: f64) -> Option<f64> {
    let at = |share: f64| law.at(f64::from(step) + share) + shift - left as f64;
    let (from, to) = (at(0.25), at(0.75));
    if from < 0.0 || to >= line.len() as f64 {
        return None;
    }
    robust::median(&line[from as usize..=to as usize])
}

/// The line that most points lie on.
fn side(points: &[(f64, f64)], tolerance: f64, steps: usize) -> Option<(f64, f64)> {
    let mut best: Option<(usize, (f64, f64))> = None;
    for (i, a) in points.iter().enumerate() {
        for b in &points[i + 1..] {
            let slope = (b.1 - a.1) / (b.0 - a.0);
            let line = (a.1 - slope * a.0, slope);
            let count = points.iter().filter(|p| (p.1 - line.0 - slope * p.0).abs() <= tolerance).count();
            if slope.abs() < 0.15 && best.is_none_or(|(most, _)| count > most) {
                best = Some((count, line));
            }
        }
    }
    let (count, line) = best?;
    if count < 3.max(steps / 5) {
        return None;
    }
    let on = points.iter().copied().filter(|p| (p.1 - line.0 - line.1 * p.0).abs() <= tolerance);
    Some(chain::line(on.collect::<Vec<_>>().into_iter()))
}
