//! A line of tones along the strip: its noise, its running median and its edges.

use crate::numeric::robust::{self, MAD_TO_SIGMA};

/// A change of tone along a line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    /// Where, in samples; 0 is before the first one.
    pub(super) x: f64,
    /// Tone after it minus tone before it.
    pub(super) jump: f64,
}

/// Standard deviation of one value about its neighbours, from second differences, whatever the line does slowly.
pub(super) fn noise(values: &[f64]) -> f64 {
    let second: Vec<f64> = values.windows(3).map(|v| (v[0] - 2.0 * v[1] + v[2]).abs()).collect();
    MAD_TO_SIGMA * robust::median(&second).unwrap_or(0.0) / 6.0_f64.sqrt()
}

/// The median over a window around each value, cut off at the ends.
pub(super) fn running_median(values: &[f64], window: usize) -> Vec<f64> {
    let reach = window / 2;
    let mut sorted: Vec<f64> = values[..reach.min(values.len())].to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let place = |sorted: &[f64], value: f64| sorted.partition_point(|other| other.total_cmp(&value).is_lt());
    let mut medians = Vec::with_capacity(values.len());
    for i in 0..values.len() {
        if let Some(value) = values.get(i + reach) {
            sorted.insert(place(&sorted, *value), *value);
        }
        if let Some(old) = i.checked_sub(reach + 1) {
            sorted.remove(place(&sorted, values[old]));
        }
        medians.push(0.5 * (sorted[sorted.len() / 2] + sorted[(sorted.len() - 1) / 2]));
    }
    medians
}

/// Places where the means of `reach` values before and after differ most, and by more than `least`.
pub(super) fn edges(values: &[f64], reach: usize, least: f64) -> Vec<Edge> {
    if values.len() < 2 * reach + 1 {
        return Vec::new();
    }
    let mut sums = Vec::with_capacity(values.len() + 1);
    sums.push(0.0);
    for value in values {
        sums.push(sums[sums.len() - 1] + value);
    }
    let count = values.len();
    let jump = |x: usize| (sums[x + reach] - 2.0 * sums[x] + sums[x - reach]) / reach as f64;
    let mut jumps = vec![0.0; count + 1];
    for (x, out) in jumps.iter_mut().enumerate().take(count - reach + 1).skip(reach) {
        *out = jump(x);
    }
    let largest = |x: usize| {
        let (from, to) = (x.saturating_sub(reach).max(1), (x + reach).min(count - 1));
        let size = jumps[x].abs();
        (from..x).all(|other| jumps[other].abs() < size)
            && (x + 1..=to).all(|other| jumps[other].abs() <= size)
    };
    let mut found = Vec::new();
    for x in reach..=count - reach {
        if jumps[x].abs() > least && largest(x) {
            let [a, b, c] = [jumps[x.saturating_sub(1)], jumps[x], jumps[(x + 1).min(count)]].map(f64::abs);
            let bend = a - 2.0 * b + c;
            let shift = if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-0.5, 0.5) } else { 0.0 };
            found.push(Edge { x: x as f64 + shift, jump: jumps[x] });
        }
    }
    found
}
