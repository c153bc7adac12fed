//! Small quadratic problems whose answer may not be negative: least squares of quantities that cannot be.
//!
//! `minimise ½ x'Qx - c'x` subject to `x >= 0`, Q dense, positive definite and small.

/// The matrix of such a problem with its Cholesky factor, to be solved for many right sides.
#[derive(Debug, Clone)]
pub struct Quadratic {
    size: usize,
    matrix: Vec<f64>,
    factor: Vec<f64>,
}

/// Memory that solutions use one after the other.
#[derive(Debug, Clone, Default)]
pub struct Workspace {
    free: Vec<bool>,
    list: Vec<usize>,
    factor: Vec<f64>,
    part: Vec<f64>,
    wrong: Vec<usize>,
}

/// How often all wrong signs may be exchanged at once without getting fewer, before one at a time.
const PATIENCE: u32 = 3;
/// Rounding may keep the exchange from settling; after this many the last answer is cut off at zero and kept.
const EXCHANGES: u32 = 200;

/// The lower Cholesky factor of a positive definite matrix, row by row; `None` where it is not.
fn cholesky(size: usize, matrix: impl Fn(usize, usize) -> f64, factor: &mut Vec<f64>) -> Option<()> {
    factor.clear();
    factor.resize(size * size, 0.0);
    for i in 0..size {
        for j in 0..=i {
            let (rows, row) = factor.split_at(i * size);
            let earlier: f64 = if i == j {
                row[..j].iter().map(|a| a * a).sum()
            } else {
                row[..j].iter().zip(&rows[j * size..j * size + j]).map(|(a, b)| a * b).sum()
            };
            let rest = matrix(i, j) - earlier;
            factor[i * size + j] = if i == j {
                if rest <= 0.0 || !rest.is_finite() {
                    return None;
                }
                rest.sqrt()
            } else {
                rest / factor[j * size + j]
            };
        }
    }
    Some(())
}

/// Solves with a factor, in place.
fn substitute(size: usize, factor: &[f64], x: &mut [f64]) {
    for i in 0..size {
        let row = &factor[i * size..i * size + i];
        let known: f64 = row.iter().zip(&*x).map(|(a, b)| a * b).sum();
        x[i] = (x[i] - known) / factor[i * size + i];
    }
    for i in (0..size).rev() {
        let known: f64 = (i + 1..size).map(|j| factor[j * size + i] * x[j]).sum();
        x[i] = (x[i] - known) / factor[i * size + i];
    }
}

impl Quadratic {
    /// The problem with the symmetric matrix of `size * size` numbers, row by row; `None` where it is not positive definite.
    #[must_use]
    pub fn new(size: usize, matrix: Vec<f64>) -> Option<Self> {
        if matrix.len() != size * size {
            return None;
        }
        let mut factor = Vec::new();
        cholesky(size, |i, j| matrix[i * size + j], &mut factor)?;
        Some(Self { size, matrix, factor })
    }

    /// Number of unknowns.
    #[must_use]
    pub fn size(&self) -> usize {
        self.size
    }

    /// Natural logarithm of the matrix's determinant.
    #[must_use]
    pub fn ln_determinant(&self) -> f64 {
        (0..self.size).map(|i| 2.0 * super::math::ln(self.factor[i * self.size + i])).sum()
    }

    /// The answer without the bound, in place of the right side.
    ///
    /// # Panics
    /// When there are not as many numbers as unknowns.
    pub fn solve_free(&self, right: &mut [f64]) {
        assert_eq!(right.len(), self.size, "a number for each unknown");
        substitute(self.size, &self.factor, right);
    }

    /// The answer that is nowhere negative, into `x`. Where the free answer has a negative number, the search begins with the
    /// numbers free that are positive in `start` (all, where `start` is empty).
    ///
    /// Block principal pivoting: L. F. Portugal, J. J. Júdice, L. N. Vicente, "A comparison of block pivoting and interior-point
    /// algorithms for linear least squares problems with nonnegative variables", Math. Comp. 63 (1994) 625-643; finite, because
    /// it falls back to exchanging one sign (K. G. Murty's rule).
    ///
    /// ```
    /// # use twinwedge_core::numeric::nonnegative::{Quadratic, Workspace};
    /// // x² + y² + xy - x + y: the free answer has y = -1, the bounded one lies at x = 1/2, y = 0.
    /// let problem = Quadratic::new(2, vec![2.0, 1.0, 1.0, 2.0]).unwrap();
    /// let mut x = Vec::new();
    /// problem.solve(&[1.0, -1.0], &[], &mut x, &mut Workspace::default());
    /// assert!((x[0] - 0.5).abs() < 1e-12 && x[1].abs() < 1e-12);
    /// ```
    pub fn solve(&self, right: &[f64], start: &[f64], x: &mut Vec<f64>, work: &mut Workspace) {
        x.clear();
        x.extend_from_slice(right);
        self.solve_free(x);
        if x.iter().all(|value| *value >= 0.0) {
            return;
        }
        work.free.clear();
        work.free.extend((0..self.size).map(|i| start.get(i).is_none_or(|value| *value > 0.0)));
        let (mut fewest, mut patience) = (usize::MAX, PATIENCE);
        for _ in 0..EXCHANGES {
            self.solve_part(right, x, work);
            if work.wrong.is_empty() {
                break;
            }
            if work.wrong.len() < fewest {
                (fewest, patience) = (work.wrong.len(), PATIENCE);
            } else if patience > 0 {
                patience -= 1;
            } else {
                let last = work.wrong[work.wrong.len() - 1];
                work.wrong.clear();
                work.wrong.push(last);
            }
            for &i in &work.wrong {
                work.free[i] = !work.free[i];
            }
        }
        x.iter_mut().for_each(|value| *value = value.max(0.0));
    }

    /// The answer with some numbers free and the rest zero, and which of both have the wrong sign.
    fn solve_part(&self, right: &[f64], x: &mut [f64], work: &mut Workspace) {
        let n = self.size;
        let Workspace { free, list, factor, part, wrong } = work;
        list.clear();
        list.extend((0..n).filter(|i| free[*i]));
        part.clear();
        part.extend(list.iter().map(|i| right[*i]));
        x.fill(0.0);
        // A part of a positive definite matrix is positive definite, but for rounding.
        if cholesky(list.len(), |i, j| self.matrix[list[i] * n + list[j]], factor).is_some() {
            substitute(list.len(), factor, part);
            for (at, value) in list.iter().zip(&*part) {
                x[*at] = *value;
            }
        }
        let largest = x.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
        wrong.clear();
        for i in 0..n {
            let row = &self.matrix[i * n..(i + 1) * n];
            let rounding = 1e-12 * largest;
            if free[i] {
                if x[i] < -rounding {
                    wrong.push(i);
                }
            } else {
                let pull: f64 = row.iter().zip(&*x).map(|(a, b)| a * b).sum::<f64>() - right[i];
                if pull < -rounding * row[i] {
                    wrong.push(i);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::random::Stream;

    // W. Karush (1939), H. W. Kuhn and A. W. Tucker (1951): x >= 0, gradient >= 0, and one of both zero, make the minimum.
    #[test]
    fn answers_meet_the_conditions_of_a_minimum() {
        let mut stream = Stream::new(5, 0);
        let mut work = Workspace::default();
        for trial in 0..200 {
            let n = 2 + trial % 19;
            let rows: Vec<Vec<f64>> = (0..n + 3).map(|_| (0..n).map(|_| stream.normal()).collect()).collect();
            let mut matrix = vec![0.0; n * n];
            for row in &rows {
                for i in 0..n {
                    for j in 0..n {
                        matrix[i * n + j] += row[i] * row[j];
                    }
                }
            }
            let right: Vec<f64> = (0..n).map(|_| stream.normal()).collect();
            let problem = Quadratic::new(n, matrix.clone()).unwrap();
            let mut x = Vec::new();
            problem.solve(&right, &[], &mut x, &mut work);
            for i in 0..n {
                let gradient: f64 = (0..n).map(|j| matrix[i * n + j] * x[j]).sum::<f64>() - right[i];
                assert!(x[i] >= 0.0 && gradient > -1e-7, "{trial}: {x:?} {gradient}");
                assert!(x[i] * gradient.abs() < 1e-6, "{trial}: {i} is neither zero nor at rest");
            }
        }
    }

    #[test]
    fn a_matrix_that_is_not_positive_definite_is_no_problem() {
        assert!(Quadratic::new(2, vec![1.0, 2.0, 2.0, 1.0]).is_none());
        assert!(Quadratic::new(2, vec![1.0; 3]).is_none());
    }
}
