//! Weighted least squares by polynomials.

use nalgebra::{DMatrix, DVector};

/// A fitted polynomial in `x - centre`, lowest power first, with what is needed to say how sure it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Polynomial {
    /// Weighted mean of the arguments; powers are taken from it, for good conditioning.
    pub centre: f64,
    /// Coefficients of `(x - centre)^k`.
    pub coefficients: Vec<f64>,
    /// Covariance of the coefficients when weights are the inverse variances of the values, row by row.
    pub covariance: Vec<Vec<f64>>,
    /// Weighted sum of squared residuals.
    pub chi_square: f64,
}

impl Polynomial {
    /// Fits a polynomial of `degree` to `(x, y)` with weights (inverse variances). `None` when lengths differ, a weight
    /// is not positive, anything is not finite, or the arguments do not determine it.
    ///
    /// Method: QR of the weighted design matrix; G. H. Golub and C. F. Van Loan, "Matrix Computations".
    ///
    /// ```
    /// # use twinwedge_core::numeric::polynomial::Polynomial;
    /// let line = Polynomial::fit(&[0.0, 1.0, 2.0], &[1.0, 3.0, 5.0], &[1.0; 3], 1).unwrap();
    /// assert!((line.value(10.0) - 21.0).abs() < 1e-12 && (line.slope(0.0) - 2.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn fit(x: &[f64], y: &[f64], weights: &[f64], degree: usize) -> Option<Self> {
        let (n, terms) = (x.len(), degree + 1);
        let sound = weights.iter().all(|w| w.is_finite() && *w > 0.0)
            && x.iter().chain(y).all(|value| value.is_finite());
        if n < terms || y.len() != n || weights.len() != n || !sound {
            return None;
        }
        let total: f64 = weights.iter().sum();
        let centre = x.iter().zip(weights).map(|(x, w)| x * w).sum::<f64>() / total;
        let spread = x.iter().map(|x| (x - centre).abs()).fold(0.0, f64::max);
        let design = DMatrix::from_fn(n, terms, |row, power| {
            weights[row].sqrt() * (x[row] - centre).powi(i32::try_from(power).unwrap_or(i32::MAX))
        });
        let target = DVector::from_fn(n, |row, _| weights[row].sqrt() * y[row]);
        let qr = design.qr();
        let r = qr.r();
        let smallest = |k: usize| {
            let expected = total.sqrt() * spread.powi(i32::try_from(k).unwrap_or(i32::MAX));
            r[(k, k)].abs() > 1e-10 * expected && r[(k, k)].abs() > 0.0
        };
        if !(0..terms).all(smallest) {
            return None;
        }
        let inverse = r.clone().try_inverse()?;
        let solution = &inverse * (qr.q().transpose() * &target);
        let covariance = &inverse * inverse.transpose();
        let mut fitted = Self {
            centre,
            coefficients: solution.iter().copied().collect(),
            covariance: (0..terms).map(|i| (0..terms).map(|j| covariance[(i, j)]).collect()).collect(),
            chi_square: 0.0,
        };
        let residual = |i: usize| y[i] - fitted.value(x[i]);
        fitted.chi_square = (0..n).map(|i| weights[i] * residual(i) * residual(i)).sum();
        Some(fitted)
    }

    /// Its value at `x`.
    #[must_use]
    pub fn value(&self, x: f64) -> f64 {
        self.coefficients.iter().rev().fold(0.0, |sum, c| sum * (x - self.centre) + c)
    }

    /// Its slope at `x`.
    #[must_use]
    pub fn slope(&self, x: f64) -> f64 {
        let terms = self.coefficients.iter().enumerate().skip(1).rev();
        terms.fold(0.0, |sum, (power, c)| sum * (x - self.centre) + power as f64 * c)
    }
}
