//! Statistics that a few bad values do not move.
//!
//! A robust spread is no substitute for a granularity: reject defects with it first, then take the plain standard
//! deviation.

/// Scales a median absolute deviation to the standard deviation of a normal distribution: 1 / (normal quantile of 3/4).
/// F. R. Hampel, "The influence curve and its role in robust estimation", J. Am. Stat. Assoc. 69 (1974) 383-393.
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// The values in rising order; NaN last.
#[must_use]
pub fn sorted(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    sorted
}

/// The quantile `p` (0 to 1) of values in rising order, linear between order statistics: definition 7 of R. J. Hyndman
/// and Y. Fan, "Sample quantiles in statistical packages", The American Statistician 50 (1996). `None` of nothing.
///
/// ```
/// # use twinwedge_core::numeric::robust::quantile_of_sorted;
/// assert_eq!(quantile_of_sorted(&[1.0, 2.0, 3.0, 4.0], 0.5), Some(2.5));
/// ```
#[must_use]
pub fn quantile_of_sorted(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let at = p.clamp(0.0, 1.0) * last as f64;
    let below = at.floor() as usize;
    let above = (below + 1).min(last);
    Some(sorted[below] + (at - below as f64) * (sorted[above] - sorted[below]))
}

/// The median; `None` of nothing.
///
/// ```
/// # use twinwedge_core::numeric::robust::median;
/// assert_eq!(median(&[3.0, 100.0, 1.0]), Some(3.0));
/// ```
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    quantile_of_sorted(&sorted(values), 0.5)
}

/// The median absolute deviation from the median, not scaled (see [`MAD_TO_SIGMA`]); `None` of nothing.
///
/// ```
/// # use twinwedge_core::numeric::robust::median_absolute_deviation;
/// assert_eq!(median_absolute_deviation(&[1.0, 2.0, 3.0, 4.0, 100.0]), Some(1.0));
/// ```
#[must_use]
pub fn median_absolute_deviation(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    median(&values.iter().map(|value| (value - centre).abs()).collect::<Vec<_>>())
}

/// The mean without the `share` (0 to below 0.5) of the values at either end, whole values dropped; `None` of nothing.
/// P. J. Huber, "Robust Statistics" (1981).
///
/// ```
/// # use twinwedge_core::numeric::robust::trimmed_mean;
/// assert_eq!(trimmed_mean(&[1.0, 2.0, 3.0, 4.0, 100.0], 0.2), Some(3.0));
/// ```
#[must_use]
pub fn trimmed_mean(values: &[f64], share: f64) -> Option<f64> {
    let sorted = sorted(values);
    // The small excess keeps 0.2 of 5 values at one value although 0.2 * 5 may round below 1.
    let dropped = (share.clamp(0.0, 0.499_999) * sorted.len() as f64 + 1e-9).floor() as usize;
    mean(&sorted[dropped..sorted.len() - dropped])
}

/// The mean; `None` of nothing.
#[must_use]
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// The sample standard deviation (divisor n - 1); `None` of fewer than two.
///
/// ```
/// # use twinwedge_core::numeric::robust::standard_deviation;
/// assert_eq!(standard_deviation(&[1.0, 2.0, 3.0]), Some(1.0));
/// ```
#[must_use]
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let mean = mean(values)?;
    let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    Some((squares / (values.len() - 1) as f64).sqrt())
}

/// How many independent values as many correlated ones are worth for a mean, when neighbours correlate by `rho` and
/// correlation decays geometrically: n (1 - rho) / (1 + rho), for large n.
///
/// ```
/// # use twinwedge_core::numeric::robust::effective_count;
/// assert!((effective_count(100.0, 0.5) - 33.333333).abs() < 1e-6);
/// ```
#[must_use]
pub fn effective_count(n: f64, rho: f64) -> f64 {
    n * (1.0 - rho) / (1.0 + rho)
}
