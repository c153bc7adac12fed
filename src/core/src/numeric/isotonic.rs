//! Isotonic least squares.

/// The never-falling sequence nearest to `values` in weighted least squares: pool adjacent violators.
///
/// Weights are positive, one for each value. R. E. Barlow, D. J. Bartholomew, J. M. Bremner, H. D. Brunk, "Statistical
/// Inference under Order Restrictions" (1972).
///
/// # Panics
/// When there are fewer weights than values.
///
/// ```
/// # use twinwedge_core::numeric::isotonic::pool_adjacent_violators;
/// let fitted = pool_adjacent_violators(&[1.0, 3.0, 2.0], &[1.0, 1.0, 1.0]);
/// assert_eq!(fitted, [1.0, 2.5, 2.5]);
/// ```
#[must_use]
pub fn pool_adjacent_violators(values: &[f64], weights: &[f64]) -> Vec<f64> {
    assert!(weights.len() >= values.len(), "a weight for each value");
    // Pools from left to right: mean, weight, number of values.
    let mut pools: Vec<(f64, f64, usize)> = Vec::with_capacity(values.len());
    for (&value, &weight) in values.iter().zip(weights) {
        let mut pool = (value, weight, 1);
        while let Some(&(mean, sum, count)) = pools.last() {
            if mean <= pool.0 {
                break;
            }
            pools.pop();
            let total = sum + pool.1;
            pool = ((mean * sum + pool.0 * pool.1) / total, total, count + pool.2);
        }
        pools.push(pool);
    }
    pools.iter().flat_map(|&(mean, _, count)| core::iter::repeat_n(mean, count)).collect()
}
