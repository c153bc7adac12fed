//! Edges that follow each other like the borders of a staircase: all up or all down, a step's length apart.

use super::profile::Edge;
use crate::numeric::robust;

/// Shortest step that can be told from its neighbours, in samples.
const SHORTEST: f64 = 4.5;
/// Borders in a row that may be missing.
const MISSING: i32 = 6;
/// A border may be so far from its place, in steps.
const TOLERANCE: f64 = 0.16;
/// Step lengths that are tried for one line.
const LENGTHS: usize = 10;

/// Borders of a staircase on one line.
#[derive(Debug, Clone)]
pub(super) struct Chain {
    /// Number of a border, from 0, and where it is.
    pub(super) links: Vec<(i32, Edge)>,
    /// How much speaks for it: about the number of borders.
    pub(super) score: f64,
}

/// Where the border of a number lies: `(a + b i) / (1 + c i)`, as a straight row of equal steps looks in perspective.
#[derive(Debug, Clone, Copy)]
pub(super) struct Law {
    a: f64,
    b: f64,
    c: f64,
}

impl Law {
    pub(super) fn at(&self, i: f64) -> f64 {
        (self.a + self.b * i) / (1.0 + self.c * i)
    }
}

impl Chain {
    /// Number of the last border.
    pub(super) fn last(&self) -> i32 {
        self.links.last().map_or(0, |(number, _)| *number)
    }

    /// Mean length of its steps.
    pub(super) fn length(&self) -> f64 {
        let ends = self.links.first().zip(self.links.last());
        ends.map_or(0.0, |((i, a), (j, b))| (b.x - a.x) / f64::from((j - i).max(1)))
    }

    /// The law that its links follow, without those that stray.
    pub(super) fn law(&self) -> Law {
        let straight = |links: &[(i32, Edge)]| line(links.iter().map(|(i, edge)| (f64::from(*i), edge.x)));
        let (a, b) = straight(&self.links);
        let mut law = Law { a, b, c: 0.0 };
        for _ in 0..3 {
            let strays =
                |(i, edge): &&(i32, Edge)| (edge.x - law.at(f64::from(*i))).abs() < 0.15 * self.length();
            let kept: Vec<(i32, Edge)> = self.links.iter().filter(strays).copied().collect();
            if kept.len() < 4 {
                break;
            }
            let (a, b) = straight(&kept);
            law = projective(&kept).unwrap_or(Law { a, b, c: 0.0 });
        }
        law
    }
}

/// Least squares through points: value at 0, and slope.
pub(super) fn line(points: impl Iterator<Item = (f64, f64)> + Clone) -> (f64, f64) {
    let n = points.clone().count().max(1) as f64;
    let (sx, sy) = points.clone().fold((0.0, 0.0), |(a, b), (x, y)| (a + x, b + y));
    let (mx, my) = (sx / n, sy / n);
    let (xx, xy) =
        points.fold((0.0, 0.0), |(a, b), (x, y)| (a + (x - mx) * (x - mx), b + (x - mx) * (y - my)));
    let slope = if xx > 0.0 { xy / xx } else { 0.0 };
    (my - slope * mx, slope)
}

/// Least squares of `x = a + b i - c i x`; `None` where the perspective would be stronger than any scan's.
fn projective(links: &[(i32, Edge)]) -> Option<Law> {
    if links.len() < 7 {
        return None;
    }
    let rows = nalgebra::DMatrix::from_fn(links.len(), 3, |row, column| {
        let (i, edge) = &links[row];
        let i = f64::from(*i);
        [1.0, i, -i * edge.x][column]
    });
    let places = nalgebra::DVector::from_iterator(links.len(), links.iter().map(|(_, edge)| edge.x));
    let solved = rows.svd(true, true).solve(&places, 1e-12).ok()?;
    let law = Law { a: solved[0], b: solved[1], c: solved[2] };
    let reach = links.last().map_or(0.0, |(i, _)| law.c * f64::from(*i));
    (reach.abs() < 0.3).then_some(law)
}

/// The best chain of one direction among edges in their order; `length` restricts the step's length where it is known.
pub(super) fn best(edges: &[Edge], length: Option<f64>) -> Option<Chain> {
    let of_sign =
        |sign: f64| -> Vec<Edge> { edges.iter().filter(|e| e.jump * sign > 0.0).copied().collect() };
    let mut found: Option<Chain> = None;
    for sign in [1.0, -1.0] {
        let edges = of_sign(sign);
        let lengths = length.map_or_else(|| lengths(&edges), |length| vec![length]);
        for length in lengths {
            let chain = link(&edges, length);
            if let Some(chain) = chain.filter(|c| found.as_ref().is_none_or(|best| c.score > best.score)) {
                found = Some(chain);
            }
        }
    }
    found
}

/// Distances between edges that occur most.
fn lengths(edges: &[Edge]) -> Vec<f64> {
    let mut all = Vec::new();
    for (i, edge) in edges.iter().enumerate() {
        let distances = edges[i + 1..].iter().take(4).map(|other| other.x - edge.x);
        all.extend(distances.filter(|distance| *distance >= SHORTEST));
    }
    all.sort_unstable_by(f64::total_cmp);
    let mut rated: Vec<(usize, f64)> = Vec::new();
    for length in &all {
        let near = |share: f64| all.partition_point(|other| *other < length * share);
        rated.push((near(1.07) - near(0.93), *length));
    }
    rated.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.total_cmp(&b.1)));
    let mut kept: Vec<f64> = Vec::new();
    for (_, length) in rated {
        if kept.len() < LENGTHS && kept.iter().all(|other| (other / length - 1.0).abs() > 0.06) {
            kept.push(length);
        }
    }
    kept
}

/// The best way through edges of one sign by steps of about `length`.
fn link(edges: &[Edge], length: f64) -> Option<Chain> {
    let usual = robust::median(&edges.iter().map(|edge| edge.jump.abs()).collect::<Vec<_>>())?;
    let mut best: Vec<(f64, Option<(usize, i32)>)> = Vec::with_capacity(edges.len());
    for (j, to) in edges.iter().enumerate() {
        let mut way = (1.0, None);
        let mut passed = 0.0;
        for i in (0..j).rev() {
            let from = &edges[i];
            let steps = (to.x - from.x) / length;
            let count = steps.round();
            if count > f64::from(MISSING) {
                break;
            }
            let off = steps - count;
            if count >= 1.0 && off.abs() <= TOLERANCE + 0.03 * (count - 1.0) {
                let cost =
                    0.5 * (count - 1.0) + passed + (off / (2.0 * TOLERANCE)) * (off / (2.0 * TOLERANCE));
                let score = best[i].0 + 1.0 - cost;
                if score > way.0 {
                    way = (score, Some((i, count as i32)));
                }
            }
            // An edge as strong as the others that the staircase does not explain speaks against it.
            passed += 0.6 * (from.jump.abs() / usual.min(to.jump.abs())).min(1.0);
        }
        best.push(way);
    }
    let end = (0..best.len()).max_by(|a, b| best[*a].0.total_cmp(&best[*b].0))?;
    let mut links = vec![(0, edges[end])];
    let (mut at, mut number) = (end, 0);
    while let Some((before, count)) = best[at].1 {
        number -= count;
        links.push((number, edges[before]));
        at = before;
    }
    links.reverse();
    let links = links.into_iter().map(|(i, edge)| (i - number, edge)).collect();
    Some(Chain { links, score: best[end].0 })
}
