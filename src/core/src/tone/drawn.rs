//! Numbers that exist once for the best fit and once for every draw of what it might as well have been. What is computed
//! draw by draw carries what its parts have in common: a separation is surer than the two densities it lies between.

use crate::figures::measured_by_draws;
use crate::measured::{Flags, Value};
use crate::words::{self, Sentence};

/// The best fit, or one of the draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Draw {
    /// The best fit.
    Best,
    /// A draw, from 0.
    Nth(usize),
}

/// A number in the best fit and in each draw; `None` where it does not exist.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawn {
    best: Option<f64>,
    draws: Vec<Option<f64>>,
}

/// Densities and log exposures that differ by less differ by the rounding of their arithmetic.
const ROUNDING: f64 = 1e-12;

impl Drawn {
    /// The number by its definition.
    pub(super) fn of(count: usize, number: impl Fn(Draw) -> Option<f64>) -> Self {
        Self { best: number(Draw::Best), draws: (0..count).map(|nth| number(Draw::Nth(nth))).collect() }
    }

    /// The number in one draw.
    pub(super) fn at(&self, draw: Draw) -> Option<f64> {
        match draw {
            Draw::Best => self.best,
            Draw::Nth(nth) => self.draws.get(nth).copied().flatten(),
        }
    }

    /// The number of the best fit.
    pub(super) fn best(&self) -> Option<f64> {
        self.best
    }

    /// A number made from this and another, draw by draw.
    pub(super) fn with(&self, other: &Self, make: impl Fn(f64, f64) -> f64) -> Self {
        let both = |a: Option<f64>, b: Option<f64>| Some(make(a?, b?));
        let draws = self.draws.iter().zip(&other.draws).map(|(a, b)| both(*a, *b)).collect();
        Self { best: both(self.best, other.best), draws }
    }

    /// Number of draws.
    pub(super) fn count(&self) -> usize {
        self.draws.len()
    }

    /// This minus another, draw by draw. What differs by rounding alone does not differ: a print matched to another would
    /// else be told from it beyond all doubt.
    pub(super) fn minus(&self, other: &Self) -> Self {
        self.with(other, |a, b| if (a - b).abs() < ROUNDING { 0.0 } else { a - b })
    }

    /// Another number made from it.
    pub(super) fn map(&self, make: impl Fn(f64) -> f64) -> Self {
        Self { best: self.best.map(&make), draws: self.draws.iter().map(|draw| draw.map(&make)).collect() }
    }

    /// Value, spread and 95 % interval; `missing` where the best fit has none. The interval is that of the draws, moved so
    /// that their median falls on the value, as for all figures of a curve.
    pub(super) fn value(&self, flags: Flags, missing: impl FnOnce() -> Sentence) -> Value {
        let Some(value) = self.best else { return Value::Undefined(missing()) };
        let draws = self.draws.iter().map(|draw| draw.unwrap_or(f64::NAN));
        match measured_by_draws(value, draws) {
            Ok(measured) => Value::Known(measured.flagged(flags)),
            Err(share) => Value::Undefined(words::Figure::Unsettled { percent: 100.0 * share }.into()),
        }
    }
}
