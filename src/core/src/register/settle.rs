//! The map that most windows agree on, with as many numbers as they support.

use super::Tried;
use super::model::{Fit, Pair, Spread, common_errors, fit};
use super::windows::Match;
use crate::geometry::{Model, Point, Transform};
use crate::numeric::{math, quantiles};

/// A refined map with what speaks for it, in pixels of the second scan.
#[derive(Debug, Clone)]
pub(super) struct Stage {
    pub(super) transform: Transform,
    pub(super) spread: Spread,
    /// Root mean square distance of the windows that agree from where the map puts them.
    pub(super) residual: f64,
    /// Standard uncertainty per axis of a mapped place amid the windows that agree.
    pub(super) u: f64,
    /// Mean correlation over all windows in the overlap.
    pub(super) correlation: f64,
    /// Windows that agree.
    pub(super) agreeing: usize,
    /// All windows with detail in the overlap, and whether each agrees.
    pub(super) matches: Vec<(Match, bool)>,
    /// What a richer model would gain.
    pub(super) tried: Vec<Tried>,
    /// Distance between windows in pixels of the first scan.
    pub(super) pitch: f64,
    /// Rank correlation of the whole overlap; not a number before it was taken.
    pub(super) likeness: f64,
}

/// Windows that speak for a map of two pictures at all.
const LEAST_WINDOWS: usize = 4;
/// Probability with which chance alone may pass for a richer model.
const CHANCE: f64 = 0.001;

/// Least number of agreeing windows for a model: three times its numbers, for each window tells two.
const fn least_windows(model: Model) -> usize {
    match model {
        Model::Similarity => LEAST_WINDOWS,
        Model::Affine => 12,
        Model::Homography => 18,
    }
}

/// How windows lie to each other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lie {
    /// Distance between neighbours in pixels of the first scan.
    pub(super) pitch: f64,
    /// What a window counts beside others that overlap it.
    pub(super) share: f64,
}

/// Distances between windows over which their errors are counted together.
const TOGETHER: f64 = 3.0;

/// Finds the map. `pixel` is one pixel of the layer in the second scan; `wanted` is the tester's choice, and a plainer one is
/// taken where too few windows agree on it.
pub(super) fn settle(
    matches: &[Match],
    start: &Transform,
    pixel: f64,
    lie: Lie,
    wanted: Option<Model>,
) -> Option<Stage> {
    let found: Vec<&Match> = matches.iter().filter(|m| m.found).collect();
    if found.len() < LEAST_WINDOWS {
        return None;
    }
    let caps = caps(&found);
    let robust = |start: &Transform, model: Model| robust(&found, &caps, start, model, pixel);
    let first = agreed(&found, start, pixel);
    let mut best = robust(&first, Model::Similarity)?;
    let mut tried = Vec::new();
    let mut model = Model::Similarity;
    let mut doubted = Vec::new();
    for richer in [Model::Affine, Model::Homography] {
        // A map that was richer already on the layer before starts nearer than the plainer one of this.
        let near = if cost(&found, start, pixel) < cost(&found, &best.0.transform, pixel) {
            *start
        } else {
            best.0.transform
        };
        let Some(next) = robust(&near, richer) else { continue };
        let counted = next.1.iter().filter(|pair| pair.weight > 0.0).count();
        if counted < least_windows(richer) {
            continue;
        }
        let test = compare(&next, model, richer, lie.share);
        tried.extend(test.map(|(test, _)| test));
        let take = wanted.map_or(test.is_some_and(|(test, _)| test.significant), |wanted| richer <= wanted);
        if take {
            (best, model) = (next, richer);
            doubted.clear();
        } else if wanted.is_none()
            && let Some((_, likely)) = test
        {
            doubted.push((next.0.transform, likely));
        }
    }
    best.0.spread = best.0.spread.doubted(doubted);
    Some(stage(matches, best, lie, pixel, tried))
}

/// Windows of much detail must not shout down all others: an error common to a window (dust, a tone curve bent within it)
/// does not shrink with its detail.
fn caps(found: &[&Match]) -> Vec<f64> {
    let traces = found.iter().map(|m| m.information[0] + m.information[2]);
    let mut sorted: Vec<f64> = traces.clone().collect();
    sorted.sort_by(f64::total_cmp);
    let cap = 4.0 * sorted[sorted.len() / 2];
    traces.map(|trace| (cap / trace).min(1.0)).collect()
}

type Settled = (Fit, Vec<Pair>);

/// Iterated weights (Tukey's biweight), cut off at four times the median distance.
fn robust(found: &[&Match], caps: &[f64], start: &Transform, model: Model, pixel: f64) -> Option<Settled> {
    let mut transform = *start;
    let mut last: Option<Settled> = None;
    for _ in 0..15 {
        let own: Vec<f64> = found.iter().map(|m| distance(&transform, m)).collect();
        let mut sorted = own.clone();
        let middle = sorted.len() / 2;
        let (_, median, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
        let cut = (4.0 * 1.4826 * *median).clamp(0.03 * pixel, 1.5 * pixel);
        let pairs: Vec<Pair> = found
            .iter()
            .zip(own)
            .zip(caps)
            .map(|((m, distance), cap)| {
                let tukey = (1.0 - (distance / cut) * (distance / cut)).max(0.0);
                Pair { from: m.from, to: m.to, information: m.information, weight: cap * tukey * tukey }
            })
            .collect();
        let next = fit(&pairs, model)?;
        let step = found.iter().map(|m| apart(next.transform.map(m.from), transform.map(m.from)));
        let still = step.fold(0.0, f64::max) < 1e-4 * pixel;
        transform = next.transform;
        last = Some((next, pairs));
        if still {
            break;
        }
    }
    last
}

/// Whether the richer model lowers the weighted squares by more than chance does (F test for nested models), and how likely it is
/// the better one (weights of H. Akaike's criterion: K. P. Burnham and D. R. Anderson, as for [`model::Spread::u_at`], 2.9).
fn compare((fit_richer, pairs): &Settled, plain: Model, richer: Model, share: f64) -> Option<(Tried, f64)> {
    let fit_plain = fit(pairs, plain)?;
    let sum = |transform: &Transform| -> f64 {
        pairs.iter().filter(|pair| pair.weight > 0.0).map(|pair| pair.weight * pair.square(transform)).sum()
    };
    let (before, after) = (sum(&fit_plain.transform), sum(&fit_richer.transform).max(1e-30));
    let added = (richer.parameters() - plain.parameters()) as f64;
    let windows = 2.0 * share * effective(pairs);
    let (free, free_plain) = (windows - richer.parameters() as f64, windows - plain.parameters() as f64);
    if free < 1.0 {
        return None;
    }
    let ratio = (before - after) / added / (after / free);
    let better = windows * math::ln(before.max(1e-30) / after) - 2.0 * added;
    let tried = Tried {
        model: richer,
        ratio: math::sqrt(after / free / (before.max(1e-30) / free_plain)),
        significant: ratio > quantiles::f_ratio(1.0 - CHANCE, added, free),
    };
    Some((tried, 1.0 / (1.0 + math::exp(-0.5 * better))))
}

/// How many windows of full weight the weights are worth.
fn effective(pairs: &[Pair]) -> f64 {
    let largest = pairs.iter().map(|pair| pair.weight).fold(0.0, f64::max);
    pairs.iter().map(|pair| pair.weight).sum::<f64>() / largest.max(1e-30)
}

fn stage(matches: &[Match], (fit, pairs): Settled, lie: Lie, pixel: f64, tried: Vec<Tried>) -> Stage {
    let model = fit.transform.model();
    let transform = fit.transform;
    let agreeing: Vec<&Pair> = pairs.iter().filter(|pair| pair.weight > 0.0).collect();
    let count = agreeing.len().max(1) as f64;
    let squares = agreeing.iter().map(|pair| {
        let away = apart(transform.map(pair.from), pair.to);
        away * away
    });
    let residual = math::sqrt(squares.sum::<f64>() / count);
    // Weighted squares over their freedom scale the covariance: the information is right up to a common factor. Where windows err
    // alike, or those that count most err most, what their departures say together is more.
    let weighted: f64 = agreeing.iter().map(|pair| pair.weight * pair.square(&transform)).sum();
    let independent = 2.0 * effective(&pairs);
    let free = (independent - model.parameters() as f64).max(1.0);
    let together = common_errors(&pairs, &fit, TOGETHER * lie.pitch) * independent / free;
    let spread = fit.spread.scaled(together.max(weighted / free / lie.share));
    let sum = agreeing.iter().fold((0.0, 0.0), |sum, pair| (sum.0 + pair.from.x, sum.1 + pair.from.y));
    let u = spread.u_at(Point::new(sum.0 / count, sum.1 / count));
    let mut weights = pairs.iter().map(|pair| pair.weight > 0.0);
    // What the fit leaves out for being off by a part of a pixel more than the rest still agrees.
    let near = |m: &Match| distance(&transform, m) < 0.5 * pixel;
    let told =
        matches.iter().map(|m| (*m, m.found && (weights.next().unwrap_or(false) || near(m)))).collect();
    Stage {
        transform,
        spread,
        residual,
        u,
        correlation: matches.iter().map(|m| m.correlation).sum::<f64>() / matches.len() as f64,
        agreeing: agreeing.len(),
        matches: told,
        tried,
        pitch: lie.pitch,
        likeness: f64::NAN,
    }
}

fn apart(a: Point, b: Point) -> f64 {
    math::hypot(a.x - b.x, a.y - b.y)
}

fn distance(transform: &Transform, m: &Match) -> f64 {
    apart(transform.map(m.from), m.to)
}

fn cost(found: &[&Match], transform: &Transform, pixel: f64) -> f64 {
    found.iter().map(|m| distance(transform, m).min(1.5 * pixel)).sum()
}

/// The map through two windows that most others agree with (M. A. Fischler & R. C. Bolles, Commun. ACM 24, 1981, with the
/// distances themselves in place of votes), or the one at the start. Pairs are drawn in a fixed order.
fn agreed(found: &[&Match], start: &Transform, pixel: f64) -> Transform {
    let mut best = (cost(found, start, pixel), *start);
    let count = found.len();
    for k in 0..200 {
        // Two coprime strides walk through pairs near and far.
        let (i, j) = ((k * 7) % count, (k * 13 + count / 2 + k / count) % count);
        if i == j {
            continue;
        }
        let pairs = [(found[i].from, found[i].to), (found[j].from, found[j].to)];
        let Ok(similarity) = super::from_pairs(&pairs) else { continue };
        let transform = Transform::from(similarity);
        let cost = cost(found, &transform, pixel);
        if cost < best.0 {
            best = (cost, transform);
        }
    }
    best.1
}
