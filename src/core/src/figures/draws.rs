//! What the resamplings say of each figure.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::ser::{Serialize, Serializer};

use super::FigureId;
use crate::measured::Measured;
use crate::numeric::robust;

/// Share of resamplings in which a figure must exist to be called measured.
const SETTLED: f64 = 0.9;

/// Figures in every resampling, in their order; not a number where a resampling has none.
///
/// Draw `k` of every film of a series carries the same errors of what the films share (tablet, light, the density that
/// brackets are matched to), so that a difference taken draw by draw is free of them as far as they cancel.
#[derive(Debug, Clone, Default)]
pub struct Draws(BTreeMap<FigureId, Arc<[f64]>>);

impl Draws {
    /// The draws of one figure.
    #[must_use]
    pub fn get(&self, id: FigureId) -> Option<&[f64]> {
        self.0.get(&id).map(AsRef::as_ref)
    }

    /// Puts in the draws of one figure.
    pub fn insert(&mut self, id: FigureId, draws: Vec<f64>) {
        self.0.insert(id, draws.into());
    }

    /// Memory that they take, in bytes.
    #[must_use]
    pub fn bytes(&self) -> usize {
        self.0.values().map(|draws| size_of_val::<[f64]>(draws)).sum()
    }
}

/// Bit for bit: a missing draw equals a missing draw.
impl PartialEq for Draws {
    fn eq(&self, other: &Self) -> bool {
        let bits = |draws: &Arc<[f64]>| draws.iter().map(|draw| draw.to_bits()).collect::<Vec<_>>();
        let same = |a: &Arc<[f64]>, b: &Arc<[f64]>| Arc::ptr_eq(a, b) || bits(a) == bits(b);
        self.0.keys().eq(other.0.keys()) && self.0.values().zip(other.0.values()).all(|(a, b)| same(a, b))
    }
}

impl Serialize for Draws {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(id, draws)| (id, &**draws)))
    }
}

/// A value with the spread of its draws: standard deviation, and the interval of the draws moved so that their median
/// falls on the value. Noise moves the draws of extremes (steepest stop, lowest density) away from the truth once
/// more, in the direction in which it already moved the value.
///
/// # Errors
/// The share of draws that exist, where it is below nine in ten: the data do not settle the value.
pub fn measured_by_draws(value: f64, draws: impl IntoIterator<Item = f64>) -> Result<Measured, f64> {
    let mut all = 0_usize;
    let mut known: Vec<f64> = Vec::new();
    for draw in draws {
        all += 1;
        if draw.is_finite() {
            known.push(draw);
        }
    }
    let share = known.len() as f64 / all.max(1) as f64;
    let sorted = robust::sorted(&known);
    let quantile = |p| robust::quantile_of_sorted(&sorted, p);
    let ends = (quantile(0.025), quantile(0.5), quantile(0.975));
    match (robust::standard_deviation(&sorted), ends) {
        (Some(u), (Some(low), Some(middle), Some(high))) if share >= SETTLED => {
            Ok(Measured::with_interval(value, u, value + low - middle, value + high - middle))
        }
        _ => Err(share),
    }
}
