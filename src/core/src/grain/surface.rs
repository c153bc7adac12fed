//! The slow shading of an area: a polynomial surface in density over `u, v` in -1..=1, and least squares for it.

use nalgebra::{DMatrix, DVector};

use crate::numeric::wide::wide;

/// Highest degree of the surface, and its number of powers.
pub(super) const DEGREE: usize = 4;
pub(super) const POWERS: usize = DEGREE + 1;
const PRODUCTS: usize = 2 * DEGREE + 1;

/// `sum c[a][b] u^a v^b` over `a + b <= degree`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Surface {
    pub(super) degree: usize,
    pub(super) c: [[f64; POWERS]; POWERS],
}

impl Surface {
    /// The surface that is zero everywhere.
    pub(super) fn zero(degree: usize) -> Self {
        Self { degree: degree.min(DEGREE), c: [[0.0; POWERS]; POWERS] }
    }

    /// Number of coefficients.
    pub(super) fn terms(&self) -> usize {
        (self.degree + 1) * (self.degree + 2) / 2
    }

    /// The powers `(a, b)` in a fixed order.
    fn exponents(degree: usize) -> impl Iterator<Item = (usize, usize)> {
        (0..=degree).flat_map(move |a| (0..=degree - a).map(move |b| (a, b)))
    }

    /// The polynomial in `u` that it is along the row `v`.
    pub(super) fn row(&self, v: f64) -> [f64; POWERS] {
        self.c.map(|of_v| of_v.iter().rev().fold(0.0, |sum, c| sum * v + c))
    }

    /// Its value at a place.
    pub(super) fn at(&self, u: f64, v: f64) -> f64 {
        self.row(v).iter().rev().fold(0.0, |sum, c| sum * u + c)
    }

    /// The sum of two surfaces.
    pub(super) fn plus(&self, other: &Self) -> Self {
        let mut sum = *self;
        for (mine, theirs) in sum.c.iter_mut().flatten().zip(other.c.iter().flatten()) {
            *mine += theirs;
        }
        sum
    }

    /// How far apart two surfaces are anywhere, at most.
    pub(super) fn most_away(&self, other: &Self) -> f64 {
        self.c
            .iter()
            .flatten()
            .zip(other.c.iter().flatten())
            .map(|(mine, theirs)| (mine - theirs).abs())
            .sum()
    }

    /// Lowest and highest value over a rectangle, from a grid of places.
    pub(super) fn range(&self, u: (f64, f64), v: (f64, f64), cells: usize) -> (f64, f64) {
        let place = |(from, to): (f64, f64), k: usize| from + (to - from) * k as f64 / cells as f64;
        let mut range = (f64::INFINITY, f64::NEG_INFINITY);
        for j in 0..=cells {
            for i in 0..=cells {
                let value = self.at(place(u, i), place(v, j));
                range = (range.0.min(value), range.1.max(value));
            }
        }
        range
    }
}

/// The sums that least squares for a surface needs. Sums of parts add up to the sums of the whole.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moments {
    /// `sum w u^a v^b`.
    weights: [[f64; PRODUCTS]; PRODUCTS],
    /// `sum w u^a v^b z`.
    values: [[f64; POWERS]; POWERS],
}

impl Default for Moments {
    fn default() -> Self {
        Self { weights: [[0.0; PRODUCTS]; PRODUCTS], values: [[0.0; POWERS]; POWERS] }
    }
}

impl Moments {
    /// Adds points of one row `v`, given their sums over `u`: `weights[a] = sum w u^a` and `values[a] = sum w u^a z`.
    pub(super) fn add_row(&mut self, v: f64, weights: &[f64; PRODUCTS], values: &[f64; POWERS]) {
        for (a, sum) in weights.iter().enumerate() {
            let mut power = 1.0;
            for cell in self.weights[a].iter_mut().take(PRODUCTS - a) {
                *cell += sum * power;
                power *= v;
            }
        }
        for (a, sum) in values.iter().enumerate() {
            let mut power = 1.0;
            for cell in self.values[a].iter_mut().take(POWERS - a) {
                *cell += sum * power;
                power *= v;
            }
        }
    }

    /// Adds points of one row `v`: their places `u`, values and weights.
    pub(super) fn add_points(&mut self, v: f64, points: impl Iterator<Item = (f64, f64, f64)>) {
        let (mut weights, mut values) = ([0.0; PRODUCTS], [0.0; POWERS]);
        for (u, z, w) in points {
            let mut power = w;
            for (a, weight) in weights.iter_mut().enumerate() {
                *weight += power;
                if let Some(value) = values.get_mut(a) {
                    *value += power * z;
                }
                power *= u;
            }
        }
        self.add_row(v, &weights, &values);
    }

    /// Adds the sums of another part.
    pub(super) fn join(&mut self, other: &Self) {
        let pairs = self.weights.iter_mut().flatten().zip(other.weights.iter().flatten());
        let pairs = pairs.chain(self.values.iter_mut().flatten().zip(other.values.iter().flatten()));
        for (mine, theirs) in pairs {
            *mine += theirs;
        }
    }

    /// Sum of the weights.
    pub(super) fn count(&self) -> f64 {
        self.weights[0][0]
    }

    /// The least-squares surface and by how much it lowers the sum of squares. `None` where the points do not
    /// determine one.
    pub(super) fn solve(&self, degree: usize) -> Option<(Surface, f64)> {
        let exponents: Vec<_> = Surface::exponents(degree).collect();
        let entry = |i: usize, j: usize| {
            let ((a, b), (c, d)) = (exponents[i], exponents[j]);
            self.weights[a + c][b + d]
        };
        let normal = DMatrix::from_fn(exponents.len(), exponents.len(), entry);
        let right = DVector::from_fn(exponents.len(), |i, _| self.values[exponents[i].0][exponents[i].1]);
        let solved = normal.cholesky()?.solve(&right);
        let mut surface = Surface::zero(degree);
        for ((a, b), value) in exponents.iter().zip(solved.iter()) {
            surface.c[*a][*b] = *value;
        }
        solved.iter().all(|c| c.is_finite()).then(|| (surface, solved.dot(&right)))
    }
}

/// `sum w u^a` for all the powers that [`Moments::add_row`] takes, and `sum z u^a` likewise.
pub(super) fn row_sums(u: &[f64], w: &[f32], z: &[f32]) -> ([f64; PRODUCTS], [f64; POWERS]) {
    wide(
        #[inline(always)]
        || {
            let (mut weights, mut values) = ([0.0; PRODUCTS], [0.0; POWERS]);
            for ((u, w), z) in u.iter().zip(w).zip(z) {
                let (mut w, mut z) = (f64::from(*w), f64::from(*z));
                for (a, sum) in weights.iter_mut().enumerate() {
                    *sum += w;
                    w *= u;
                    if let Some(sum) = values.get_mut(a) {
                        *sum += z;
                        z *= u;
                    }
                }
            }
            (weights, values)
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_surface_is_found_and_explains_all_its_squares() {
        let truth = |u: f64, v: f64| 0.3 - 0.2 * u + 0.1 * u * v + 0.05 * v * v * v;
        let (mut moments, mut squares) = (Moments::default(), 0.0);
        for j in 0..20 {
            for i in 0..20 {
                let (u, v) = (f64::from(i) / 9.5 - 1.0, f64::from(j) / 9.5 - 1.0);
                moments.add_points(v, core::iter::once((u, truth(u, v), 1.0)));
                squares += truth(u, v) * truth(u, v);
            }
        }
        let (surface, explained) = moments.solve(3).unwrap();
        assert!((surface.at(0.3, -0.7) - truth(0.3, -0.7)).abs() < 1e-10);
        assert!((explained - squares).abs() < 1e-9 * squares);
        assert!(moments.count() > 399.5 && surface.terms() == 10);
    }
}
