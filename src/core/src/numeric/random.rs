//! Chance from a seed: the same numbers on every platform and for any number of threads.

use rand::Rng;
use rand_pcg::Pcg32;

use super::math;

/// A stream of random numbers. Streams of one seed with different numbers are independent, so that each resampling can
/// have its own whatever the order in which they are worked.
///
/// Generator: M. E. O'Neill, "PCG: a family of simple fast space-efficient statistically good algorithms for random
/// number generation", Harvey Mudd College HMC-CS-2014-0905 (2014), XSH RR 64/32.
#[derive(Debug, Clone)]
pub struct Stream {
    generator: Pcg32,
    spare: Option<f64>,
}

impl Stream {
    /// Stream number `number` of `seed`.
    #[must_use]
    pub fn new(seed: u64, number: u64) -> Self {
        let mut generator = Pcg32::new(seed, number);
        // Neighbouring streams may begin alike; the first numbers are thrown away.
        for _ in 0..4 {
            generator.next_u32();
        }
        Self { generator, spare: None }
    }

    /// Evenly distributed in [0, 1), 53 random bits.
    pub fn uniform(&mut self) -> f64 {
        (self.generator.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Standard normal: G. Marsaglia's polar method, G. Marsaglia and T. A. Bray, SIAM Review 6 (1964) 260-264.
    ///
    /// ```
    /// # use twinwedge_core::numeric::random::Stream;
    /// let mut stream = Stream::new(7, 0);
    /// let mean = (0..10_000).map(|_| stream.normal()).sum::<f64>() / 10_000.0;
    /// assert!(mean.abs() < 0.04); // four standard errors
    /// ```
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (x, y) = (2.0 * self.uniform() - 1.0, 2.0 * self.uniform() - 1.0);
            let square = x * x + y * y;
            if square > 0.0 && square < 1.0 {
                let scale = (-2.0 * math::ln(square) / square).sqrt();
                self.spare = Some(y * scale);
                return x * scale;
            }
        }
    }
}
