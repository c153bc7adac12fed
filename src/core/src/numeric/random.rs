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

/// Spreads neighbouring numbers over all 64 bits: the output step of splitmix64 (G. L. Steele, D. Lea, C. H. Flood,
/// "Fast splittable pseudorandom number generators", OOPSLA 2014).
fn mixed(number: u64) -> u64 {
    let z = number.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
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

    /// The stream of draw number `draw` for the errors named `key`: whoever asks for the same three gets the same numbers,
    /// and streams that differ in one of them are independent.
    ///
    /// ```
    /// # use twinwedge_core::numeric::random::Stream;
    /// let first = |draw, key| Stream::keyed(1, draw, key).normal();
    /// assert_eq!(first(3, 7), first(3, 7));
    /// assert!(first(3, 7) != first(4, 7) && first(3, 7) != first(3, 8));
    /// ```
    #[must_use]
    pub fn keyed(seed: u64, draw: u64, key: u64) -> Self {
        let state = mixed(mixed(mixed(seed).wrapping_add(draw)).wrapping_add(key));
        Self { generator: Pcg32::new(state, mixed(state)), spare: None }
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
