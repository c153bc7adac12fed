//! Fitting a similarity, an affine map or a homography to pairs of places, with the covariance of what was fitted.
//!
//! Places are counted from a middle and in thousands of pixels, so that the columns of the normal matrix are alike in
//! size (R. Hartley, IEEE Trans. Pattern Anal. Mach. Intell. 19, 1997). Similarity and affine map are linear in their
//! numbers; the homography is found by Gauss-Newton from the affine map.

use nalgebra::{SMatrix, SVector};
use serde::Serialize;

use crate::geometry::{Model, Point, Similarity, Transform};
use crate::numeric::math;

/// Most numbers of a model.
const MOST_NUMBERS: usize = 8;
type Matrix = SMatrix<f64, MOST_NUMBERS, MOST_NUMBERS>;
type Vector = SVector<f64, MOST_NUMBERS>;
const UNIT: f64 = 1e-3;

/// One pair of places to fit through, with how well its place in the second picture is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// In the first picture.
    pub(super) from: Point,
    /// In the second.
    pub(super) to: Point,
    /// Inverse covariance of `to`: xx, xy, yy.
    pub(super) information: [f64; 3],
    /// Further weight, 0 leaves the pair out.
    pub(super) weight: f64,
}

impl Pair {
    /// Square of its distance from where `transform` puts it, in its own uncertainty.
    pub(super) fn square(&self, transform: &Transform) -> f64 {
        let at = transform.map(self.from);
        let (x, y) = (self.to.x - at.x, self.to.y - at.y);
        let [xx, xy, yy] = self.information;
        xx * x * x + 2.0 * xy * x * y + yy * y * y
    }
}

/// A fitted map with the covariance of its numbers: how well each place is mapped.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spread {
    model: Model,
    /// Places of the first picture are counted from here.
    centre: Point,
    /// Places of the second from here.
    middle: Point,
    /// The map between these, the first in thousands of pixels.
    local: [[f64; 3]; 3],
    /// Of the model's numbers; empty for a map that is exact.
    covariance: Vec<Vec<f64>>,
    /// Richer maps that were not taken, each with how likely it is the better one.
    doubted: Vec<(Transform, f64)>,
}

impl Spread {
    /// Of a map that is known without error.
    #[must_use]
    pub fn exact() -> Self {
        let local = *Transform::IDENTITY.rows();
        let origin = Point::default();
        Self {
            model: Model::Similarity,
            centre: origin,
            middle: origin,
            local,
            covariance: Vec::new(),
            doubted: Vec::new(),
        }
    }

    /// Standard uncertainty per axis of a place of the first picture mapped to the second, in pixels of the second. How far a richer
    /// map would put it is part of that, as far as that may be the better one (K. P. Burnham and D. R. Anderson, "Model Selection and
    /// Multimodel Inference", 2nd edition, 2002, 4.3: the variance that does not take the chosen model for granted).
    #[must_use]
    pub fn u_at(&self, p: Point) -> f64 {
        let (along, across) = rows(self.model, &self.local, self.centre, p);
        let count = self.covariance.len();
        let mut sum = 0.0;
        for (i, row) in self.covariance.iter().enumerate() {
            for (j, value) in row.iter().enumerate().take(count) {
                sum += value * (along[i] * along[j] + across[i] * across[j]);
            }
        }
        for (map, share) in &self.doubted {
            let (one, other) = (map.map(p), self.map(p));
            sum += share * ((one.x - other.x).powi(2) + (one.y - other.y).powi(2));
        }
        math::sqrt(sum.max(0.0) / 2.0)
    }

    /// The place that a place of the first picture is mapped to.
    fn map(&self, p: Point) -> Point {
        let (u, v) = ((p.x - self.centre.x) * UNIT, (p.y - self.centre.y) * UNIT);
        let [x, y, w] = self.local.map(|row| row[0] * u + row[1] * v + row[2]);
        Point::new(self.middle.x + x / w, self.middle.y + y / w)
    }

    /// The same where richer maps were tried, each with how likely it is the better one, 0 to 1.
    pub(super) fn doubted(mut self, maps: Vec<(Transform, f64)>) -> Self {
        self.doubted = maps;
        self
    }

    /// The same with variances `factor` times as large.
    pub(super) fn scaled(mut self, factor: f64) -> Self {
        self.covariance.iter_mut().flatten().for_each(|value| *value *= factor);
        self
    }
}

/// A map that was fitted.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    /// The map as it was fitted.
    pub(super) transform: Transform,
    /// How well it is known, if the pairs' information is right.
    pub(super) spread: Spread,
}

/// How the mapped place of `p` changes with each number of the model: along x, along y.
fn rows(model: Model, local: &[[f64; 3]; 3], centre: Point, p: Point) -> (Vector, Vector) {
    let (u, v) = ((p.x - centre.x) * UNIT, (p.y - centre.y) * UNIT);
    let (mut along, mut across) = (Vector::zeros(), Vector::zeros());
    match model {
        Model::Similarity => {
            (along[0], along[1], along[2]) = (u, -v, 1.0);
            (across[0], across[1], across[3]) = (v, u, 1.0);
        }
        Model::Affine | Model::Homography => {
            let [x, y, w] = local.map(|row| row[0] * u + row[1] * v + row[2]);
            let (x, y) = (x / w, y / w);
            for (k, value) in [u / w, v / w, 1.0 / w].into_iter().enumerate() {
                (along[k], across[3 + k]) = (value, value);
            }
            if model == Model::Homography {
                (along[6], along[7]) = (-x * u / w, -x * v / w);
                (across[6], across[7]) = (-y * u / w, -y * v / w);
            }
        }
    }
    (along, across)
}

fn moved(local: &mut [[f64; 3]; 3], model: Model, by: &Vector) {
    match model {
        Model::Similarity => {
            local[0][0] += by[0];
            local[1][1] += by[0];
            local[0][1] -= by[1];
            local[1][0] += by[1];
            local[0][2] += by[2];
            local[1][2] += by[3];
        }
        Model::Affine | Model::Homography => {
            for (value, by) in local.iter_mut().flatten().zip(by.iter()).take(model.parameters()) {
                *value += by;
            }
        }
    }
}

/// By what the covariance of a fit must be multiplied for its numbers to err as the pairs do: the mean over its numbers of what the
/// pairs' own departures say of their variance, those of neighbours within `reach` counted together (a covariance that holds
/// whatever the errors of the pairs are: H. White, Econometrica 48 (1980); for errors that hang together over places T. G. Conley,
/// J. Econometrics 92 (1999)). Windows of strong edges count most, and err by more than their edges would let expect where films
/// render what lies along an edge otherwise; windows along one edge err alike.
pub(super) fn common_errors(pairs: &[Pair], fit: &Fit, reach: f64) -> f64 {
    let Spread { model, centre, local, covariance, .. } = &fit.spread;
    let counted = pairs.iter().filter(|pair| pair.weight > 0.0);
    let pulls: Vec<(Point, Vector)> = counted
        .map(|pair| {
            let (along, across) = rows(*model, local, *centre, pair.from);
            let at = fit.transform.map(pair.from);
            let (dx, dy) = (pair.to.x - at.x, pair.to.y - at.y);
            let [xx, xy, yy] = pair.information.map(|value| value * pair.weight);
            (pair.from, along * (xx * dx + xy * dy) + across * (xy * dx + yy * dy))
        })
        .collect();
    let size = covariance.len();
    let inverse = Matrix::from_fn(|i, j| if i < size && j < size { covariance[i][j] } else { 0.0 });
    let near = |a: f64, b: f64| (1.0 - (a - b).abs() / reach).max(0.0);
    let mut sum = 0.0;
    for (i, (place, pull)) in pulls.iter().enumerate() {
        let moved = inverse * pull;
        for (other, of_other) in &pulls[i..] {
            let together = near(place.x, other.x) * near(place.y, other.y);
            if together > 0.0 {
                // Each pair of two is met once, each window with itself too.
                let twice = if core::ptr::eq(pull, of_other) { 1.0 } else { 2.0 };
                sum += twice * together * moved.dot(of_other);
            }
        }
    }
    sum / size.max(1) as f64
}

/// Weighted least squares. `None` where the pairs do not determine the map.
pub(super) fn fit(pairs: &[Pair], model: Model) -> Option<Fit> {
    let counted = || pairs.iter().filter(|pair| pair.weight > 0.0);
    let count = counted().count() as f64;
    let mean = |place: fn(&Pair) -> Point| {
        let sum = counted().map(place).fold((0.0, 0.0), |sum, p| (sum.0 + p.x, sum.1 + p.y));
        Point::new(sum.0 / count, sum.1 / count)
    };
    let (centre, middle) = (mean(|pair| pair.from), mean(|pair| pair.to));
    let mut local = [[0.0; 3]; 3];
    local[2][2] = 1.0;
    let mut covariance = None;
    let stages: &[(Model, usize)] = match model {
        Model::Similarity => &[(Model::Similarity, 1)],
        Model::Affine => &[(Model::Affine, 1)],
        Model::Homography => &[(Model::Affine, 1), (Model::Homography, 5)],
    };
    for (model, rounds) in stages {
        for _ in 0..*rounds {
            let (step, spread) = step(counted(), *model, &local, centre, middle)?;
            moved(&mut local, *model, &step);
            covariance = Some(spread);
            if step.amax() < 1e-9 {
                break;
            }
        }
    }
    let whole = Transform::from_rows(model, local)?;
    let shrink =
        Similarity { scale: UNIT, angle: 0.0, shift: Point::new(-centre.x * UNIT, -centre.y * UNIT) };
    let shift = Similarity { shift: middle, ..Similarity::IDENTITY };
    let transform = Transform::from(shrink).then(&whole).then(&shift.into());
    // Written so that a NaN fails it too.
    if !(transform.rows().iter().flatten().all(|value| value.is_finite())
        && transform.scale_at(centre) > 1e-6)
    {
        return None;
    }
    let (covariance, wide) = (covariance?, model.parameters());
    let covariance = (0..wide).map(|i| (0..wide).map(|j| covariance[(i, j)]).collect()).collect();
    Some(Fit { transform, spread: Spread { model, centre, middle, local, covariance, doubted: Vec::new() } })
}

fn step<'a>(
    pairs: impl Iterator<Item = &'a Pair>,
    model: Model,
    local: &[[f64; 3]; 3],
    centre: Point,
    middle: Point,
) -> Option<(Vector, Matrix)> {
    let (mut normal, mut right) = (Matrix::zeros(), Vector::zeros());
    for pair in pairs {
        let (along, across) = rows(model, local, centre, pair.from);
        let (u, v) = ((pair.from.x - centre.x) * UNIT, (pair.from.y - centre.y) * UNIT);
        let [x, y, w] = local.map(|row| row[0] * u + row[1] * v + row[2]);
        let (dx, dy) = (pair.to.x - middle.x - x / w, pair.to.y - middle.y - y / w);
        let [wxx, wxy, wyy] = pair.information.map(|value| value * pair.weight);
        let (wx, wy) = (along * wxx + across * wxy, along * wxy + across * wyy);
        normal += along * wx.transpose() + across * wy.transpose();
        right += wx * dx + wy * dy;
    }
    for k in model.parameters()..MOST_NUMBERS {
        normal[(k, k)] = 1.0;
    }
    // Scaled to a diagonal of ones: sizes and perspective differ by orders of magnitude.
    let scale = Vector::from_iterator((0..MOST_NUMBERS).map(|k| 1.0 / math::sqrt(normal[(k, k)])));
    let scaled = Matrix::from_fn(|i, j| normal[(i, j)] * scale[i] * scale[j]);
    let inverse = scaled.cholesky()?.inverse();
    let covariance = Matrix::from_fn(|i, j| inverse[(i, j)] * scale[i] * scale[j]);
    let step = covariance * right;
    step.iter().all(|value| value.is_finite()).then_some((step, covariance))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(truth: &Transform) -> Vec<Pair> {
        let place = |k: u32| Point::new(f64::from(k % 4) * 250.0 + f64::from(k), f64::from(k / 4) * 200.0);
        (0..16)
            .map(|k| Pair {
                from: place(k),
                to: truth.map(place(k)),
                information: [1.0, 0.1, 2.0],
                weight: 1.0,
            })
            .collect()
    }

    #[test]
    fn each_model_passes_through_exact_pairs_and_ignores_what_has_no_weight() {
        let rows = [
            [[1.02, -0.03, 10.0], [0.03, 1.02, -4.0], [0.0, 0.0, 1.0]],
            [[1.02, -0.05, 10.0], [0.03, 0.97, -4.0], [0.0, 0.0, 1.0]],
            [[1.02, -0.05, 10.0], [0.03, 0.97, -4.0], [8e-5, -5e-5, 1.0]],
        ];
        for (model, rows) in Model::ALL.into_iter().zip(rows) {
            let truth = Transform::from_rows(model, rows).unwrap();
            let mut pairs = pairs(&truth);
            let wrong = Pair { to: Point::new(-999.0, 0.0), weight: 0.0, ..pairs[3] };
            pairs.push(wrong);
            let found = fit(&pairs, model).unwrap();
            for p in [Point::new(0.0, 0.0), Point::new(900.0, 700.0)] {
                let (f, t) = (found.transform.map(p), truth.map(p));
                assert!(math::hypot(f.x - t.x, f.y - t.y) < 1e-6, "{model:?} {f:?} {t:?}");
            }
        }
    }

    /// Two points known to a standard deviation s each: half way between them the variance is s squared over 2, at one of
    /// them s squared, and as far again outside 2.5 s squared (propagation of errors on a straight line through two points).
    #[test]
    fn uncertainty_grows_as_propagation_of_errors_says() {
        let pair = |x: f64| Pair {
            from: Point::new(x, 0.0),
            to: Point::new(x, 0.0),
            information: [4.0, 0.0, 4.0],
            weight: 1.0,
        };
        let spread = fit(&[pair(0.0), pair(1000.0)], Model::Similarity).unwrap().spread;
        for (x, squares) in [(500.0, 0.5), (0.0, 1.0), (1500.0, 2.5)] {
            let u = spread.u_at(Point::new(x, 0.0));
            assert!((u - 0.5 * math::sqrt(squares)).abs() < 1e-9, "{x}: {u}");
        }
        assert!(Spread::exact().u_at(Point::new(5.0, 5.0)).abs() < 1e-12);
    }

    #[test]
    fn too_few_pairs_determine_nothing() {
        let four = pairs(&Transform::IDENTITY);
        assert!(fit(&four[..1], Model::Similarity).is_none());
        assert!(fit(&four[..2], Model::Affine).is_none());
        assert!(fit(&four[..3], Model::Homography).is_none());
    }
}
