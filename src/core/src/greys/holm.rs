//! Many questions at once: which of them are answered beyond chance.

use crate::measured::{Measured, Z95};
use crate::numeric::{math, robust};
use crate::units::Quantity;

/// Chance that any one of a family of answers is wrong, where no room has a level of its own.
pub const LEVEL: f64 = 0.05;

/// Two-sided probability that a value with this interval would lie as far from zero by chance alone, its errors taken as normal
/// on the side of zero.
#[must_use]
pub fn chance<Q: Quantity>(measured: &Measured<Q>) -> f64 {
    let value = measured.number();
    let half = if value > 0.0 { value - measured.low } else { measured.high - value };
    let sigmas = if half > 0.0 { value.abs() * Z95 / half } else { f64::INFINITY };
    if value.abs() <= 0.0 { 1.0 } else { math::erfc(sigmas / math::sqrt(2.0)) }
}

/// Probabilities adjusted for their number: each is to be held against the level that all share.
///
/// S. Holm, "A simple sequentially rejective multiple test procedure", Scand. J. Statist. 6 (1979) 65-70. Of all that fall below
/// the level, with the probability 1 - level none is wrong, however the errors of the questions hang together; patches of one
/// print hang together by their grey card and their curve. It bounds the share of false discoveries too, which it keeps lower
/// than Y. Benjamini and Y. Hochberg, J. R. Statist. Soc. B 57 (1995), would.
///
/// ```
/// # use twinwedge_core::greys::holm::adjusted;
/// assert_eq!(adjusted(&[0.01, 0.04, 0.03]), [0.03, 0.06, 0.06]);
/// ```
#[must_use]
pub fn adjusted(chances: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..chances.len()).collect();
    order.sort_by(|a, b| chances[*a].total_cmp(&chances[*b]));
    let mut adjusted = vec![1.0; chances.len()];
    let mut most = 0.0_f64;
    for (rank, place) in order.into_iter().enumerate() {
        most = most.max(chances[place] * (chances.len() - rank) as f64).min(1.0);
        adjusted[place] = most;
    }
    adjusted
}

/// A value by its draws: their standard deviation and the interval between their quantiles, which holds the value. `None`
/// where fewer than two draws exist, or more than one in forty does not: an end of the interval is then not known.
#[must_use]
pub(super) fn by_draws(value: f64, draws: &[f64], centred: bool) -> Option<Measured> {
    let known: Vec<f64> = draws.iter().copied().filter(|draw| draw.is_finite()).collect();
    if (draws.len() - known.len()) * 40 > draws.len() {
        return None;
    }
    let sorted = robust::sorted(&known);
    let u = robust::standard_deviation(&sorted)?;
    let at = |p| robust::quantile_of_sorted(&sorted, p);
    let moved = if centred { value - at(0.5)? } else { 0.0 };
    let (low, high) = (at(0.025)? + moved, at(0.975)? + moved);
    Some(Measured::with_interval(value, u, low.min(value), high.max(value)))
}
