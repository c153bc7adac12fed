//! Sharpening: edges that overshoot on both sides.

use super::tiles::Tiles;
use super::{Fault, Test};
use crate::numeric::math;
use crate::words;

/// Overshoot from which an edge counts as sharpened, as a share of its step.
const OVERSHOOT: f64 = 0.03;
/// Pixels on either side of an edge that are looked at, and from where on it is level.
const REACH: isize = 14;
const LEVEL: isize = 8;
/// Where an overshoot lies.
const NEAR: isize = 6;
/// Largest spread of the level parts of an edge, as a share of the step.
const UNQUIET: f64 = 0.08;
/// Fewer edges say nothing.
const LEAST_EDGES: f64 = 12.0;

/// Sums over edges, by distance from the middle of the edge.
struct Edges {
    count: f64,
    sum: Vec<f64>,
    square: Vec<f64>,
}

/// Whether edges overshoot as sharpening makes them.
pub(super) fn sharpened(tiles: &Tiles) -> Test {
    let edges = Edges::of(tiles);
    let by_edges = (edges.count >= LEAST_EDGES).then(|| edges.overshoot());
    if let Some((overshoot, u)) = by_edges
        && overshoot > OVERSHOOT
        && overshoot > 4.0 * u
    {
        let sentence = words::Examined::EdgesSharpened {
            percent: words::Percent(overshoot),
            u: words::Percent(1.96 * u),
        }
        .into();
        return Test::new(Fault::Sharpened, true, overshoot, OVERSHOOT, sentence);
    }
    match by_edges {
        Some((overshoot, u)) => {
            let sentence = words::Examined::EdgesOvershoot {
                percent: words::Percent(overshoot),
                u: words::Percent(1.96 * u),
            }
            .into();
            Test::new(Fault::Sharpened, false, overshoot, OVERSHOOT, sentence)
        }
        None => Test::not_testable(Fault::Sharpened, OVERSHOOT, words::Examined::NoEdges.into()),
    }
}

impl Edges {
    fn of(tiles: &Tiles) -> Self {
        let places = (2 * REACH + 1) as usize;
        let mut edges = Self { count: 0.0, sum: vec![0.0; places], square: vec![0.0; places] };
        for tile in &tiles.tiles {
            for y in (0..tile.height).step_by(2) {
                edges.look(tile.row(y), tiles.top);
            }
            for x in (0..tile.width).step_by(2) {
                let column: Vec<f32> = (0..tile.height).map(|y| tile.codes[y * tile.width + x]).collect();
                edges.look(&column, tiles.top);
            }
        }
        edges
    }

    /// The strongest edge of a line of codes, if it is one between two level parts.
    fn look(&mut self, line: &[f32], top: f64) {
        let reach = REACH as usize + 1;
        if line.len() < 2 * reach + 6 {
            return;
        }
        let Some(at) = strongest_slope(line, reach) else { return };
        let part = |from: isize, to: isize| -> Vec<f64> {
            let place = |t: isize| f64::from(line[(at as isize + t) as usize]);
            (from..=to).map(place).collect()
        };
        let (before, after) = (part(-REACH, -LEVEL), part(LEVEL, REACH));
        let ((low, low_spread), (high, high_spread)) = (level(&before), level(&after));
        let step = high - low;
        let clipped = |values: &[f64]| values.iter().any(|v| *v <= 0.0 || *v >= top);
        // Edges of a few codes tell nothing of overshoots of a tenth of them.
        if step.abs() < 20.0 {
            return;
        }
        if low_spread.max(high_spread) > UNQUIET * step.abs() || clipped(&before) || clipped(&after) {
            return;
        }
        let middle = low + step / 2.0;
        // The crossing next to the steepest place.
        let Some(cross) = crossing(line, at, middle, step.signum()) else { return };
        let mut profile = Vec::with_capacity(self.sum.len());
        for t in -REACH..=REACH {
            let place = cross + t as f64;
            let below = place.floor();
            let Some(pair) = (below >= 0.0).then(|| line.get(below as usize..below as usize + 2)).flatten()
            else {
                return;
            };
            let code = f64::from(pair[0]) + (place - below) * f64::from(pair[1] - pair[0]);
            profile.push((code - low) / step);
        }
        // An overshoot beyond half the step is another object beside the edge.
        if profile.iter().any(|p| !(-0.5..=1.5).contains(p)) {
            return;
        }
        self.count += 1.0;
        for (k, value) in profile.into_iter().enumerate() {
            self.sum[k] += value;
            self.square[k] += value * value;
        }
    }

    /// Mean overshoot of both sides, and its standard error; neighbouring lines share their grain, so four count as one.
    fn overshoot(&self) -> (f64, f64) {
        let mean = |t: isize| self.sum[(t + REACH) as usize] / self.count;
        let error = |t: isize| {
            let variance = self.square[(t + REACH) as usize] / self.count - mean(t) * mean(t);
            math::sqrt(variance.max(0.0) / (self.count / 4.0).max(1.0))
        };
        let side = |sign: isize| {
            let far: f64 = (LEVEL..=REACH).map(|t| mean(sign * t)).sum::<f64>() / (REACH - LEVEL + 1) as f64;
            let beyond = |t: &isize| (mean(sign * t) - far) * sign as f64;
            let at = (1..=NEAR).max_by(|a, b| beyond(a).total_cmp(&beyond(b))).unwrap_or(1);
            (beyond(&at), error(sign * at))
        };
        let ((low, low_u), (high, high_u)) = (side(-1), side(1));
        ((low + high) / 2.0, math::hypot(low_u, high_u) / 2.0)
    }
}

fn strongest_slope(line: &[f32], reach: usize) -> Option<usize> {
    let slope = |i: usize| (line[i + 1] + line[i + 2] - line[i - 1] - line[i - 2]).abs();
    (reach + 2..line.len() - reach - 2).max_by(|a, b| slope(*a).total_cmp(&slope(*b)))
}

/// Mean and spread; a slope along it counts as spread.
fn level(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n;
    (mean, math::sqrt(variance))
}

fn crossing(line: &[f32], at: usize, middle: f64, sign: f64) -> Option<f64> {
    let above = |i: usize| (f64::from(line[i]) - middle) * sign >= 0.0;
    let found = (at.saturating_sub(4)..(at + 4).min(line.len() - 1)).find(|i| !above(*i) && above(i + 1))?;
    let (a, b) = (f64::from(line[found]), f64::from(line[found + 1]));
    Some(found as f64 + (middle - a) / (b - a))
}

#[cfg(test)]
mod tests {
    use super::super::tiles::Tile;
    use super::*;

    fn tiles(place: f64, edge: impl Fn(f64) -> f64) -> Tiles {
        let codes = (0..128 * 128).map(|i| edge((i % 128) as f64 - place) as f32).collect();
        Tiles { tiles: vec![Tile { width: 128, height: 128, codes }], top: 65_535.0 }
    }

    /// Analytic: a soft step of 20 000 codes with lobes of 10 % of it on either side, three pixels away, where the step itself
    /// still lacks 1.4 %: 8.64 % in all. An edge between two pixels has its lobes between them, too, and shows less: 0.7 and
    /// 0.3 of its values at 2.7 and 3.7 pixels.
    #[test]
    fn an_overshoot_is_measured() {
        let step = |x: f64| 1.0 / (1.0 + math::exp(-x / 0.7));
        let lobe = |x: f64| 0.10 * math::exp(-(x - 3.0).powi(2) / 2.0);
        let plain = |x: f64| 20_000.0 + 20_000.0 * step(x);
        let lobed = |x: f64| plain(x) + 20_000.0 * x.signum() * lobe(x.abs());
        let clean = sharpened(&tiles(60.3, plain));
        assert!(clean.evidence.is_some_and(|e| e.abs() < 0.005), "{clean:?}");
        let beyond = |x: f64| step(x) + lobe(x) - 1.0;
        for (place, expected) in [(60.0, beyond(3.0)), (60.3, 0.7 * beyond(2.7) + 0.3 * beyond(3.7))] {
            let sharp = sharpened(&tiles(place, lobed));
            assert!(sharp.evidence.is_some_and(|e| (e - expected).abs() < 0.002), "{sharp:?} for {expected}");
        }
    }
}
