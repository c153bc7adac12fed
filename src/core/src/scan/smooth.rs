//! A natural cubic smoothing spline through a few dozen points, as smooth as cross-validation finds right.

use nalgebra::{DMatrix, DVector};

use crate::numeric::{math, quantiles};

/// Values at the points and their standard errors.
pub(super) struct Smooth {
    pub(super) values: Vec<f64>,
    pub(super) errors: Vec<f64>,
    /// For each value what the standard error of every point makes of it.
    pub(super) parts: Vec<Vec<f64>>,
    /// By generalised cross-validation: the mean square, over `sigma`, by which points would be missed that were left out.
    pub(super) score: f64,
}

/// Weights of the roughness that are tried, a factor of 10^0.25 apart over ten decades.
const TRIES: usize = 41;
/// At most this share of the points' own freedom goes into the curve, so that it cannot follow every error.
const MOST_FREEDOM: f64 = 0.7;
/// Residuals that are larger than `sigma` lets expect in fewer cases than this are not by chance.
const BY_CHANCE: f64 = 0.05;

impl Smooth {
    /// Minimises `sum ((y - f) / sigma)^2 + weight * integral f''^2` (C. H. Reinsch, *Numer. Math.* 10 (1967), 177), the
    /// weight by generalised cross-validation (P. Craven and G. Wahba, *Numer. Math.* 31 (1979), 377). `x` rises strictly;
    /// at least three points. Errors are those of the linear smoother, larger where the residuals are larger than `sigma`
    /// and chance let expect. `None` if the points are fewer or `x` does not rise.
    pub(super) fn fit(x: &[f64], y: &[f64], sigma: &[f64]) -> Option<Self> {
        let n = x.len();
        if n < 3 || x.windows(2).any(|pair| pair[0] >= pair[1]) {
            return None;
        }
        let roughness = roughness(x)?;
        let weights = DVector::from_iterator(n, sigma.iter().map(|s| 1.0 / (s * s)));
        let known = DVector::from_column_slice(y);
        let most = (MOST_FREEDOM * n as f64).max(4.0);
        // A weight of 1 in this unit makes both terms alike in size.
        let unit = weights.sum() / roughness.trace().max(f64::MIN_POSITIVE);
        let weight = |k: usize| unit * math::pow(10.0, k as f64 * 0.25 - 8.0);
        let tries = (0..TRIES).filter_map(|k| attempt(&roughness, &weights, &known, weight(k), most));
        tries.min_by(|one, other| one.score.total_cmp(&other.score))
    }
}

/// The matrix of the roughness integral: `f' K f` for the natural spline with values `f`.
fn roughness(x: &[f64]) -> Option<DMatrix<f64>> {
    let n = x.len();
    let h: Vec<f64> = x.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mut q = DMatrix::zeros(n, n - 2);
    let mut r = DMatrix::zeros(n - 2, n - 2);
    for j in 0..n - 2 {
        q[(j, j)] = 1.0 / h[j];
        q[(j + 1, j)] = -1.0 / h[j] - 1.0 / h[j + 1];
        q[(j + 2, j)] = 1.0 / h[j + 1];
        r[(j, j)] = (h[j] + h[j + 1]) / 3.0;
        if j + 3 < n {
            r[(j, j + 1)] = h[j + 1] / 6.0;
            r[(j + 1, j)] = h[j + 1] / 6.0;
        }
    }
    let inner = r.cholesky()?.solve(&q.transpose());
    Some(q * inner)
}

fn attempt(
    roughness: &DMatrix<f64>,
    weights: &DVector<f64>,
    known: &DVector<f64>,
    weight: f64,
    most: f64,
) -> Option<Smooth> {
    let n = known.len();
    let system = DMatrix::from_diagonal(weights) + roughness * weight;
    let smoother = system.cholesky()?.solve(&DMatrix::from_diagonal(weights));
    let freedom = smoother.trace();
    let left = n as f64 - freedom;
    if freedom > most && n > 4 {
        return None;
    }
    let values = &smoother * known;
    let squares: f64 =
        values.iter().zip(known.iter()).zip(weights.iter()).map(|((f, y), w)| w * (y - f) * (y - f)).sum();
    let score = n as f64 * squares / (left * left).max(1e-12);
    // Residuals of the size that `sigma` lets expect scatter, too: only what chance hardly makes widens the errors.
    let more = quantiles::chi_square_tail(squares, left.max(1e-9)) < BY_CHANCE;
    let scale = if more { squares / left } else { 1.0 };
    let parts: Vec<Vec<f64>> =
        (0..n).map(|i| (0..n).map(|j| smoother[(i, j)] * math::sqrt(scale / weights[j])).collect()).collect();
    let error = |parts: &Vec<f64>| math::sqrt(parts.iter().map(|part| part * part).sum());
    let errors = parts.iter().map(error).collect();
    Some(Smooth { values: values.iter().copied().collect(), errors, parts, score })
}
