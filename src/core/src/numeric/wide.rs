//! Loops over many pixels with the widest registers that the processor has.

/// Does `work`, compiled a second time for processors with AVX2. The closure and what it calls must be `#[inline(always)]` to be
/// part of that. The results are the same bit for bit: registers are wider, the order of operations and their rounding stay.
#[inline(always)]
pub fn wide<R>(work: impl FnOnce() -> R) -> R {
    pulp::Arch::new().dispatch(work)
}

/// The sum of numbers in single precision, taken in double precision.
#[must_use]
pub fn sum(numbers: &[f32]) -> f64 {
    wide(
        #[inline(always)]
        || {
            let (chunks, rest) = numbers.as_chunks::<8>();
            let mut lanes = [0.0_f64; 8];
            for chunk in chunks {
                for (lane, number) in lanes.iter_mut().zip(chunk) {
                    *lane += f64::from(*number);
                }
            }
            let rest: f64 = rest.iter().map(|number| f64::from(*number)).sum();
            rest + lanes.iter().sum::<f64>()
        },
    )
}

/// Sum of the products of two rows of the same length: single precision within a row, double beyond.
#[must_use]
pub fn dot(first: &[f32], second: &[f32]) -> f64 {
    wide(
        #[inline(always)]
        || {
            const LANES: usize = 32;
            const FEW: usize = 8;
            let mut lanes = [0.0_f32; LANES];
            let (a, a_rest) = first.as_chunks::<LANES>();
            let (b, b_rest) = second.as_chunks::<LANES>();
            for (a, b) in a.iter().zip(b) {
                for lane in 0..LANES {
                    lanes[lane] += a[lane] * b[lane];
                }
            }
            // Rows of windows are shorter than that.
            let (a, a_rest) = a_rest.as_chunks::<FEW>();
            let (b, b_rest) = b_rest.as_chunks::<FEW>();
            for (a, b) in a.iter().zip(b) {
                for lane in 0..FEW {
                    lanes[lane] += a[lane] * b[lane];
                }
            }
            let rest = a_rest.iter().zip(b_rest).map(|(a, b)| f64::from(a * b)).sum::<f64>();
            rest + lanes.iter().map(|lane| f64::from(*lane)).sum::<f64>()
        },
    )
}
