//! Seeded chance of the study's own: no generator of the code under test.

use rand::RngExt;
use rand_pcg::Pcg64;

/// A stream of chance.
#[derive(Debug)]
pub(super) struct Chance(Pcg64);

impl Chance {
    /// Stream `number` of `seed`: what one series draws never moves another.
    pub(super) fn new(seed: u64, number: u64) -> Self {
        Self(Pcg64::new(u128::from(seed) << 64 | 0x5717_d1e5, u128::from(number)))
    }

    /// Evenly spread between `low` and `high`.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// True in that share of cases.
    pub(super) fn happens(&mut self, share: f64) -> bool {
        self.0.random::<f64>() < share
    }

    /// Normal with mean 0 and standard deviation `u` (G. E. P. Box and M. E. Muller, Ann. Math. Statist. 29 (1958)).
    pub(super) fn normal(&mut self, u: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.0.random::<f64>()).ln()).sqrt();
        u * radius * (std::f64::consts::TAU * self.0.random::<f64>()).cos()
    }
}
