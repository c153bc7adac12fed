//! Symmetric positive definite matrices with three diagonals on either side: what cubic splines lead to.

use super::math;

/// Diagonals below the main one.
pub const BAND: usize = 3;

/// A symmetric matrix of half bandwidth [`BAND`]: row `i` holds `a[i][i-k]` at `k`.
#[derive(Debug, Clone, PartialEq)]
pub struct Banded {
    rows: Vec<[f64; BAND + 1]>,
}

impl Banded {
    /// The zero matrix of `n` rows.
    #[must_use]
    pub fn zero(n: usize) -> Self {
        Self { rows: vec![[0.0; BAND + 1]; n] }
    }

    /// Number of rows.
    #[must_use]
    pub fn size(&self) -> usize {
        self.rows.len()
    }

    /// Makes it the zero matrix of `n` rows, keeping its memory.
    pub fn reset(&mut self, n: usize) {
        self.rows.clear();
        self.rows.resize(n, [0.0; BAND + 1]);
    }

    /// Adds `value` at row `i`, column `j` and, off the diagonal, its mirror. `j <= i <= j + BAND`.
    pub fn add(&mut self, i: usize, j: usize, value: f64) {
        self.rows[i][i - j] += value;
    }

    /// The element at row `i`, column `j <= i`; zero outside the band.
    #[must_use]
    pub fn at(&self, i: usize, j: usize) -> f64 {
        self.rows[i].get(i - j).copied().unwrap_or(0.0)
    }

    /// `self + factor * other`, of the same size.
    #[must_use]
    pub fn plus(&self, factor: f64, other: &Self) -> Self {
        let add = |(a, b): (&[f64; 4], &[f64; 4])| core::array::from_fn(|k| a[k] + factor * b[k]);
        Self { rows: self.rows.iter().zip(&other.rows).map(add).collect() }
    }

    /// Sum of the diagonal.
    #[must_use]
    pub fn trace(&self) -> f64 {
        self.rows.iter().map(|row| row[0]).sum()
    }

    /// The product with a vector, into `out`.
    pub fn times(&self, vector: &[f64], out: &mut Vec<f64>) {
        out.clear();
        out.resize(vector.len(), 0.0);
        for (i, row) in self.rows.iter().enumerate() {
            out[i] += row[0] * vector[i];
            for (k, value) in row.iter().enumerate().skip(1).take(i) {
                out[i] += value * vector[i - k];
                out[i - k] += value * vector[i];
            }
        }
    }

    /// Cholesky's factor; `None` when the matrix is not positive definite.
    ///
    /// ```
    /// # use twinwedge_core::numeric::banded::Banded;
    /// let mut matrix = Banded::zero(2);
    /// matrix.add(0, 0, 4.0);
    /// matrix.add(1, 0, 2.0);
    /// matrix.add(1, 1, 5.0);
    /// let mut x = vec![8.0, 12.0];
    /// matrix.cholesky().unwrap().solve(&mut x);
    /// assert_eq!(x, [1.0, 2.0]);
    /// ```
    #[must_use]
    pub fn cholesky(&self) -> Option<Factor> {
        let mut factor = Factor { rows: Vec::new() };
        factor.refill(self).then_some(factor)
    }
}

/// A Cholesky factor of a [`Banded`] matrix.
#[derive(Debug, Clone, PartialEq)]
pub struct Factor {
    rows: Vec<[f64; BAND + 1]>,
}

impl Factor {
    /// An empty factor, to be filled.
    #[must_use]
    pub fn empty() -> Self {
        Self { rows: Vec::new() }
    }

    /// Factors `matrix` into the memory of `self`; false when it is not positive definite.
    pub fn refill(&mut self, matrix: &Banded) -> bool {
        self.rows.clear();
        self.rows.extend_from_slice(&matrix.rows);
        for i in 0..self.rows.len() {
            for k in (0..=BAND.min(i)).rev() {
                let j = i - k;
                let mut sum = self.rows[i][k];
                // Columns that both rows reach.
                for m in 1..=(BAND - k).min(j) {
                    sum -= self.rows[i][k + m] * self.rows[j][m];
                }
                if k > 0 {
                    self.rows[i][k] = sum / self.rows[j][0];
                } else if sum > 0.0 && sum.is_finite() {
                    self.rows[i][0] = sum.sqrt();
                } else {
                    return false;
                }
            }
        }
        true
    }

    /// Solves in place: `x` holds the right side before and the solution after.
    pub fn solve(&self, x: &mut [f64]) {
        for i in 0..x.len() {
            let mut sum = x[i];
            for k in 1..=BAND.min(i) {
                sum -= self.rows[i][k] * x[i - k];
            }
            x[i] = sum / self.rows[i][0];
        }
        for i in (0..x.len()).rev() {
            x[i] /= self.rows[i][0];
            for k in 1..=BAND.min(i) {
                x[i - k] -= self.rows[i][k] * x[i];
            }
        }
    }

    /// Natural logarithm of the determinant of the matrix that was factored.
    #[must_use]
    pub fn ln_determinant(&self) -> f64 {
        2.0 * self.rows.iter().map(|row| math::ln(row[0])).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    #[test]
    fn agrees_with_a_dense_solver() {
        let n = 9;
        let mut banded = Banded::zero(n);
        let mut dense = DMatrix::zeros(n, n);
        for i in 0..n {
            for k in 0..=BAND.min(i) {
                let value = if k == 0 { 5.0 + i as f64 } else { 0.7 / (k as f64) - 0.1 * (i % 3) as f64 };
                banded.add(i, i - k, value);
                dense[(i, i - k)] = value;
                dense[(i - k, i)] = value;
            }
        }
        let right: Vec<f64> = (0..n).map(|i| (i as f64) - 3.5).collect();
        let truth = dense.clone().lu().solve(&DVector::from_vec(right.clone())).unwrap();
        let factor = banded.cholesky().unwrap();
        let mut x = right.clone();
        factor.solve(&mut x);
        assert!(x.iter().zip(truth.iter()).all(|(a, b)| (a - b).abs() < 1e-13));
        assert!((factor.ln_determinant() - math::ln(dense.determinant())).abs() < 1e-12);
        let mut product = Vec::new();
        banded.times(&x, &mut product);
        assert!(product.iter().zip(&right).all(|(a, b)| (a - b).abs() < 1e-12));
    }

    #[test]
    fn refuses_what_is_not_positive_definite() {
        let mut matrix = Banded::zero(2);
        matrix.add(0, 0, 1.0);
        matrix.add(1, 0, 2.0);
        matrix.add(1, 1, 1.0);
        assert_eq!(matrix.cholesky(), None);
    }
}
