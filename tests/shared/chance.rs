//! Random numbers of generators that the program does not use.

use rand::{Rng, RngExt};

/// Splitmix64 (G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014), begun with a seed.
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    /// The next 64 bits.
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly spread from 0 to below 1.
    pub(crate) fn even(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Of mean 0 and standard deviation 1: the sum of twelve even numbers, within ±6.
    pub(crate) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }

    /// A whole number from 0 to below `count`.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        (self.bits() % count as u64) as usize
    }

    /// One of several.
    pub(crate) fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// True in one case of two.
    pub(crate) fn may(&mut self) -> bool {
        self.below(2) == 0
    }
}

/// A number of standard normal distribution: G. E. P. Box and M. E. Muller, Ann. Math. Statist. 29 (1958).
pub(crate) fn normal(rng: &mut impl Rng) -> f64 {
    let (a, b): (f64, f64) = (rng.random(), rng.random());
    (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}
