//! Whether two routes lead to the same stops.

use serde::Serialize;

use super::{Grey, Greys};
use crate::greys::holm;
use crate::measured::Measured;
use crate::units::Stops;

/// A patch of a frame, read by two routes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Compared {
    /// Its number in the layout.
    pub patch: usize,
    /// By neutrals minus by curves.
    pub difference: Measured<Stops>,
    /// Beyond doubt, for all patches together.
    pub disagrees: bool,
}

/// How two routes agree.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Agreement {
    /// The patches that both routes read.
    pub patches: Vec<Compared>,
    /// The largest difference either way, in stops; zero without patches.
    pub largest: f64,
}

impl Agreement {
    /// Whether any patch disagrees beyond doubt.
    #[must_use]
    pub fn disagrees(&self) -> bool {
        self.patches.iter().any(|patch| patch.disagrees)
    }
}

/// Holds the greys of one frame by two routes against each other, draw by draw, so that the errors of the patches' own readings,
/// which are in both, cancel. Neutral patches are known by one route and read by the other, and so count.
#[must_use]
pub fn agreement(one: &Greys, other: &Greys) -> Agreement {
    let pair = |(patch, (one, other)): (usize, (&Grey, &Grey))| {
        let ((Grey::Stops(one) | Grey::Neutral(one), Grey::Stops(other))
        | (Grey::Stops(one), Grey::Neutral(other))) = (one, other)
        else {
            return None;
        };
        let value = one.stops.value.0 - other.stops.value.0;
        let draws: Vec<f64> = one.draws.iter().zip(&other.draws).map(|(a, b)| a - b).collect();
        let found = holm::by_draws(value, &draws, true)?;
        let difference = Measured::with_interval(Stops(found.value), found.u, found.low, found.high);
        Some(Compared { patch, difference, disagrees: false })
    };
    let mut patches: Vec<Compared> =
        one.patches.iter().zip(&other.patches).enumerate().filter_map(pair).collect();
    let chances: Vec<f64> = patches.iter().map(|patch| holm::chance(&patch.difference)).collect();
    for (patch, chance) in patches.iter_mut().zip(holm::adjusted(&chances)) {
        patch.disagrees = chance < holm::LEVEL;
    }
    let largest = patches.iter().fold(0.0_f64, |most, patch| most.max(patch.difference.number().abs()));
    Agreement { patches, largest }
}
