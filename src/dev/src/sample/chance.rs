//! Seeded chance. Every file has a stream of its own, so that what one file draws never moves another.

use rand::RngExt;
use rand_pcg::Pcg64;
use twinwedge_core::numeric::math;

/// The seed of the whole sample.
const SEED: u128 = 0x5a17_3a25_4d47_1e55;

/// A stream of chance.
pub(super) struct Chance {
    generator: Pcg64,
    spare: Option<f64>,
}

impl Chance {
    /// The stream that belongs to `name`.
    pub(super) fn of(name: &str) -> Self {
        // FNV-1a: any fixed spreading of names over streams will do.
        let stream = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        Self { generator: Pcg64::new(SEED ^ (u128::from(stream) << 37), u128::from(stream)), spare: None }
    }

    /// Evenly spread between `low` and `high`.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.generator.random::<f64>()
    }

    /// Normal, mean 0 and standard deviation 1 (the polar form of Box and Muller, 1958).
    pub(super) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = math::sqrt(-2.0 * math::ln(1.0 - self.generator.random::<f64>()));
        let (sin, cos) = math::sincos(core::f64::consts::TAU * self.generator.random::<f64>());
        self.spare = Some(radius * sin);
        radius * cos
    }
}
