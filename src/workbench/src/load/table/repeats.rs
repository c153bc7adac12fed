//! Repeat readings of the same steps: their means, and how sure these are.

use twinwedge_core::document::ranges::DENSITY_U;
use twinwedge_core::measured;
use twinwedge_core::numeric::quantiles;

/// Probability that chance alone makes one step's readings seem to disagree, for a whole table.
const RARE: f64 = 0.01;
/// Fewest degrees of freedom from which a scatter is told.
const LEAST_FREEDOM: f64 = 3.0;

/// What repeat readings say.
pub(super) struct Means {
    /// For each step its mean, and the standard uncertainty of that where it can be told.
    pub(super) means: Vec<(f64, Option<f64>)>,
    /// Standard deviation of a single reading, pooled over all steps whose readings agree.
    pub(super) scatter: Option<f64>,
    /// Steps whose readings disagree with each other beyond the scatter of the others.
    pub(super) disagreeing: Vec<usize>,
}

/// Means of the readings of each step. The scatter is pooled over the steps, `s² = sum (d - mean)² / sum (n - 1)`
/// (JCGM 100:2008, H.3.6 and 4.2.4), since a few readings of one step say little about it; a mean of n readings has the
/// uncertainty `s / sqrt(n)`, and never less than the rounding to the last digit, which repeats share. A step whose own variance
/// exceeds that of the others (F test) is kept out of the pool and has its own scatter.
pub(super) fn means(steps: &[Vec<f64>]) -> Means {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len().max(1) as f64;
    let squares = |values: &[f64]| values.iter().map(|value| (value - mean(values)).powi(2)).sum::<f64>();
    let freedom = |values: &[f64]| values.len().saturating_sub(1) as f64;
    let rounding = measured::rounding_u(|| steps.iter().flatten().copied());
    let mut disagreeing: Vec<usize> = Vec::new();
    let pooled = |without: &dyn Fn(usize) -> bool| {
        let pool = || steps.iter().enumerate().filter(|(at, _)| !without(*at)).map(|(_, values)| values);
        let degrees: f64 = pool().map(|values| freedom(values)).sum();
        let sum: f64 = pool().map(|values| squares(values)).sum();
        (sum / degrees.max(1.0), degrees)
    };
    while disagreeing.len() * 4 < steps.len() {
        let worst = (0..steps.len())
            .filter(|at| !disagreeing.contains(at) && freedom(&steps[*at]) > 0.0)
            .map(|at| (at, squares(&steps[at]) / freedom(&steps[at])))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let Some((at, own)) = worst else { break };
        let (rest, degrees) = pooled(&|other| other == at || disagreeing.contains(&other));
        if degrees < LEAST_FREEDOM {
            break;
        }
        let most = quantiles::f_ratio(1.0 - RARE / steps.len() as f64, freedom(&steps[at]), degrees);
        if own <= most * rest.max(rounding * rounding) {
            break;
        }
        disagreeing.push(at);
    }
    let (variance, degrees) = pooled(&|at| disagreeing.contains(&at));
    let scatter = (degrees >= LEAST_FREEDOM).then(|| variance.sqrt());
    let of = |(at, values): (usize, &Vec<f64>)| {
        let own = disagreeing.contains(&at).then(|| (squares(values) / freedom(values).max(1.0)).sqrt());
        let u = own
            .or(scatter)
            .map(|scatter| (scatter / (values.len() as f64).sqrt()).max(rounding).min(DENSITY_U.highest));
        (mean(values), u)
    };
    let means = steps.iter().enumerate().map(of).collect();
    disagreeing.sort_unstable();
    Means { means, scatter, disagreeing }
}

#[cfg(test)]
mod tests {
    use super::means;

    #[test]
    fn scatter_is_pooled_over_steps() {
        // By hand: squares 0.0002, 0.0002, 0.0008 over 1 + 1 + 1 degrees of freedom are 0.0004, s = 0.02.
        let found = means(&[vec![0.10, 0.12], vec![0.51, 0.49], vec![1.00, 1.04]]);
        assert!((found.scatter.unwrap() - 0.02).abs() < 1e-12);
        assert!((found.means[0].0 - 0.11).abs() < 1e-12);
        assert!((found.means[0].1.unwrap() - 0.02 / 2.0_f64.sqrt()).abs() < 1e-12);
        assert!(found.disagreeing.is_empty());
        // Two readings of one step say nothing about scatter.
        assert_eq!(means(&[vec![0.10, 0.12], vec![0.5]]).scatter, None);
    }

    #[test]
    fn equal_repeats_are_no_surer_than_their_last_digit() {
        let found = means(&vec![vec![0.25, 0.25, 0.25]; 8]);
        assert!((found.means[0].1.unwrap() - 0.01 / 12.0_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_typing_error_among_repeats_does_not_spoil_the_scatter_of_the_others() {
        let mut steps: Vec<Vec<f64>> =
            (0..12).map(|i| vec![0.1 * f64::from(i), 0.1 * f64::from(i) + 0.01]).collect();
        steps[5] = vec![0.5, 5.1];
        let found = means(&steps);
        assert_eq!(found.disagreeing, [5]);
        assert!((found.scatter.unwrap() - 0.01 / 2.0_f64.sqrt()).abs() < 1e-9);
        assert!(found.means[5].1.unwrap() > 0.9);
    }
}
