//! What spectra of so many independent segments could as well have been: draws of their matrix.
//!
//! The matrix of spectra and cross-spectra of normal records, averaged over K segments, has the complex Wishart
//! distribution (N. R. Goodman, Ann. Math. Stat. 34, 1963); it is drawn by Bartlett's decomposition.

use rustfft::num_complex::Complex;

use crate::numeric::math;
use crate::numeric::random::Stream;

/// Spectra (1, 2, 3) and the real parts of cross-spectra (12, 13, 23) of one annulus.
pub(super) type Spectra = [f64; 6];

/// A gamma-distributed number of shape `a` (at least 0.5) and scale 1: G. Marsaglia & W. W. Tsang, ACM Trans. Math. Softw.
/// 26 (2000).
pub(super) fn gamma(stream: &mut Stream, a: f64) -> f64 {
    if a < 1.0 {
        return gamma(stream, a + 1.0) * math::pow(stream.uniform().max(1e-300), 1.0 / a.max(0.1));
    }
    let d = a - 1.0 / 3.0;
    let c = 1.0 / math::sqrt(9.0 * d);
    loop {
        let x = stream.normal();
        let v = 1.0 + c * x;
        if v <= 0.0 {
            continue;
        }
        let v = v * v * v;
        if math::ln(stream.uniform().max(1e-300)) < 0.5 * x * x + d - d * v + d * math::ln(v) {
            return d * v;
        }
    }
}

/// One draw around `mean` for `segments` segments. `mean` is made definite where it is not.
pub(super) fn wishart(stream: &mut Stream, mean: &Spectra, segments: f64) -> Spectra {
    let zero = Complex::new(0.0, 0.0);
    let root = lower(mean);
    let mut factor = [[zero; 3]; 3];
    for (i, row) in factor.iter_mut().enumerate() {
        for value in row.iter_mut().take(i) {
            let half = core::f64::consts::FRAC_1_SQRT_2;
            *value = Complex::new(half * stream.normal(), half * stream.normal());
        }
        row[i] = Complex::new(math::sqrt(gamma(stream, (segments - i as f64).max(0.5))), 0.0);
    }
    let mut drawn = [[zero; 3]; 3];
    for (i, row) in drawn.iter_mut().enumerate() {
        for (j, value) in row.iter_mut().enumerate() {
            *value = (j..=i).map(|k| factor[k][j] * root[i][k]).sum();
        }
    }
    let product = |i: usize, j: usize| {
        (0..3).map(|k| drawn[i][k] * drawn[j][k].conj()).sum::<Complex<f64>>().re / segments
    };
    [product(0, 0), product(1, 1), product(2, 2), product(0, 1), product(0, 2), product(1, 2)]
}

/// The lower triangle whose square is the matrix of spectra (A.-L. Cholesky); zero where there is no third print.
fn lower(m: &Spectra) -> [[f64; 3]; 3] {
    let [s11, s22, s33, s12, s13, s23] = *m;
    let mut l = [[0.0; 3]; 3];
    l[0][0] = math::sqrt(s11.max(1e-300));
    l[1][0] = s12 / l[0][0];
    l[1][1] = math::sqrt((s22 - l[1][0] * l[1][0]).max(1e-12 * s22.max(0.0)));
    if s33 > 0.0 {
        l[2][0] = s13 / l[0][0];
        l[2][1] = if l[1][1] > 0.0 { (s23 - l[2][0] * l[1][0]) / l[1][1] } else { 0.0 };
        l[2][2] = math::sqrt((s33 - l[2][0] * l[2][0] - l[2][1] * l[2][1]).max(1e-12 * s33));
    }
    l
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the mean of the distribution is the matrix itself, the variance of a spectrum its square over K.
    #[test]
    fn draws_have_the_mean_and_the_spread_of_their_distribution() {
        let mean = [2.0, 3.0, 1.5, 1.2, 0.7, 0.9];
        let mut stream = Stream::new(3, 0);
        let (count, k) = (20_000, 12.5);
        let draws: Vec<Spectra> = (0..count).map(|_| wishart(&mut stream, &mean, k)).collect();
        for (n, truth) in mean.iter().enumerate() {
            let average = draws.iter().map(|d| d[n]).sum::<f64>() / f64::from(count);
            assert!((average / truth - 1.0).abs() < 0.02, "{n} {average}");
        }
        let variance = draws.iter().map(|d| (d[1] - 3.0) * (d[1] - 3.0)).sum::<f64>() / f64::from(count);
        assert!((variance * k / 9.0 - 1.0).abs() < 0.05, "{variance}");
    }
}
