//! A curve of few parameters beside the spline: toe, straight line and shoulder, each as sharp as the readings say.
//!
//! The toe is `y(x) = (g/m) lg(1 + 10^(m (x - x0)))`: nothing below, a line of slope `g` from `x0` above, turning with the
//! sharpness `m`; kin to R. Luther's equation (Trans. Faraday Soc. 19 (1923); text not seen). The shoulder bends `y` off at
//! its maximum `R` in the same way, `z = y - (1/k) lg(1 + (10^(k y) - 1) / 10^(k R))` with `k = s/g`, so that `s` is its
//! sharpness along log H; `D = Dmin + z`, from `Dmin` to `Dmin + R`. Never falling by construction, invertible in closed form,
//! and the toe and line alone where `R` is out of reach.
//!
//! Fitted by least squares with the readings' uncertainties (K. Levenberg, Q. Appl. Math. 2 (1944); D. W. Marquardt, J. SIAM
//! 11 (1963)); covariance of the parameters `(J'WJ)^-1`, times chi-square over its degrees of freedom where that is above
//! 1. Toe and shoulder are kept where they lower chi-square by more than its 95 % quantile for their two parameters.

use nalgebra::{DMatrix, DVector};
use serde::Serialize;

use super::Spline;
use crate::numeric::{math, quantiles};

/// What a likelihood ratio must gain for each further parameter: half the 95 % quantile of chi-square for two.
const PRICE: f64 = 2.996;
/// Sharpness is looked for between these.
const SHARPNESS: (f64, f64) = (0.2, 40.0);
/// Rounds of the least-squares search from each beginning, and at most from the best of them.
const ROUNDS: (u32, u32) = (8, 100);
/// Search ends where chi-square falls by less than this share in a round.
const SETTLED: f64 = 1e-12;

/// How well a model holds the readings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Goodness {
    /// Sum of squared residuals over their stated uncertainties.
    pub chi_square: f64,
    /// Readings less parameters; for the spline its effective parameters, the trace of the smoother matrix.
    pub degrees: f64,
    /// Probability of a chi-square at least as large where model and uncertainties are right; `None` without a degree of
    /// freedom.
    pub p: Option<f64>,
    /// Root mean square of the residuals, in density.
    pub rms: f64,
}

impl Goodness {
    /// From residuals in density and their uncertainties.
    pub(super) fn of(residuals: impl Iterator<Item = (f64, f64)>, parameters: f64) -> Self {
        let (mut chi_square, mut squares, mut count) = (0.0, 0.0, 0.0);
        for (residual, u) in residuals {
            chi_square += residual * residual / (u * u);
            squares += residual * residual;
            count += 1.0;
        }
        let degrees: f64 = count - parameters;
        let p = (degrees >= 0.5).then(|| quantiles::chi_square_tail(chi_square, degrees));
        Self { chi_square, degrees, p, rms: (squares / count.max(1.0)).sqrt() }
    }

    /// Whether the readings contradict the model at 95 %.
    #[must_use]
    pub fn contradicted(&self) -> bool {
        self.p.is_some_and(|p| p < 0.05)
    }
}

/// Which parts of a characteristic curve the readings show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Shape {
    /// A straight line alone.
    Line,
    /// A toe and a straight line.
    Toe,
    /// A straight line and a shoulder.
    Shoulder,
    /// Toe, straight line and shoulder.
    Both,
}

impl Shape {
    fn toe(self) -> bool {
        matches!(self, Self::Toe | Self::Both)
    }

    fn shoulder(self) -> bool {
        matches!(self, Self::Shoulder | Self::Both)
    }

    /// Which of the six parameters it has.
    fn free(self) -> Vec<usize> {
        let has = |index: usize| match index {
            DMIN | TOE => self.toe(),
            HEIGHT | SHOULDER => self.shoulder(),
            _ => true,
        };
        (0..6).filter(|index| has(*index)).collect()
    }

    /// What it lacks, for a person to read; empty where it lacks nothing.
    ///
    /// ```
    /// # use twinwedge_core::curve::Shape;
    /// assert_eq!(Shape::Toe.lacks(), "no shoulder: the readings do not show one");
    /// ```
    #[must_use]
    pub fn lacks(self) -> &'static str {
        match self {
            Self::Line => "neither toe nor shoulder: the readings do not show them",
            Self::Toe => "no shoulder: the readings do not show one",
            Self::Shoulder => "no toe: the readings do not show one",
            Self::Both => "",
        }
    }
}

const DMIN: usize = 0;
const GAMMA: usize = 1;
const PLACE: usize = 2;
const TOE: usize = 3;
const HEIGHT: usize = 4;
const SHOULDER: usize = 5;

/// The parameters as they are read.
const NAMES: [&str; 6] =
    ["Dmin", "gamma", "x0", "toe sharpness", "maximum net density", "shoulder sharpness"];

/// A parameter of the model with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Parameter {
    /// `Dmin`, `gamma`, `x0` (log H), `toe sharpness`, `maximum net density` or `shoulder sharpness`.
    pub name: &'static str,
    /// The fitted value, in density or log H by its name.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// The model as it was fitted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModelFit {
    /// The parts that it has.
    pub shape: Shape,
    /// Its parameters, in the order of the formula.
    pub parameters: Vec<Parameter>,
    /// Their covariance, row by row in the same order.
    pub covariance: Vec<Vec<f64>>,
    /// How well it holds the readings.
    pub goodness: Goodness,
    values: Values,
}

impl ModelFit {
    /// Density at `log_h`: also beyond the readings, where it is the formula's word and no measurement.
    #[must_use]
    pub fn density(&self, log_h: f64) -> f64 {
        self.values.density(log_h)
    }

    /// Local gradient at `log_h`.
    #[must_use]
    pub fn gradient(&self, log_h: f64) -> f64 {
        self.values.with_slopes(log_h).1
    }

    /// Where `density` is reached; `None` where the model does not pass through it.
    #[must_use]
    pub fn log_h_at(&self, density: f64) -> Option<f64> {
        self.values.log_h_at(density)
    }
}

/// Values of the six parameters; those that the shape lacks are not used. Sharpness and slopes as logarithms: they stay
/// positive.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
struct Values {
    shape: Shape,
    at: [f64; 6],
}

/// `lg(1 + 10^t)` and its slope, without overflow.
fn soft(t: f64) -> (f64, f64) {
    let small = math::pow(10.0, -t.abs());
    let value = f64::max(t, 0.0) + math::log1p(small) / core::f64::consts::LN_10;
    (value, if t > 0.0 { 1.0 / (1.0 + small) } else { small / (1.0 + small) })
}

/// `lg(1 + 10^t - b)` with `b = 10^(-r)`, and the shares of `10^t` and of `b` in what the logarithm is taken of.
fn bend(t: f64, r: f64) -> (f64, f64, f64) {
    let b = math::pow(10.0, -r);
    if t > 0.0 {
        let rest = (1.0 - b) * math::pow(10.0, -t);
        let share = 1.0 / (1.0 + rest);
        (t + math::log1p(rest) / core::f64::consts::LN_10, share, b * math::pow(10.0, -t) * share)
    } else {
        let a = math::pow(10.0, t);
        let whole = 1.0 + a - b;
        (math::log1p(a - b) / core::f64::consts::LN_10, a / whole, b / whole)
    }
}

impl Values {
    fn gamma(&self) -> f64 {
        math::exp(self.at[GAMMA])
    }

    fn density(&self, x: f64) -> f64 {
        self.with_slopes(x).0
    }

    /// Density, gradient, and the slopes of density by the six parameters as they are searched.
    fn with_slopes(&self, x: f64) -> (f64, f64, [f64; 6]) {
        let gamma = self.gamma();
        let away = x - self.at[PLACE];
        let mut slopes = [0.0; 6];
        let (y, rise) = if self.shape.toe() {
            let m = math::exp(self.at[TOE]);
            let (value, share) = soft(m * away);
            let y = gamma / m * value;
            slopes[DMIN] = 1.0;
            slopes[TOE] = gamma * away * share - y;
            (y, gamma * share)
        } else {
            (gamma * away, gamma)
        };
        slopes[GAMMA] = y;
        slopes[PLACE] = -rise;
        let d_min = if self.shape.toe() { self.at[DMIN] } else { 0.0 };
        if !self.shape.shoulder() {
            return (d_min + y, rise, slopes);
        }
        let (height, k) = (math::exp(self.at[HEIGHT]), math::exp(self.at[SHOULDER]) / gamma);
        let (value, share, floor) = bend(k * (y - height), k * height);
        let by_k = value / k - (y - height) * share - height * floor;
        for index in [GAMMA, PLACE, TOE] {
            slopes[index] *= 1.0 - share;
        }
        slopes[GAMMA] -= by_k;
        slopes[HEIGHT] = height * (share - floor);
        slopes[SHOULDER] = by_k;
        (d_min + y - value / k, rise * (1.0 - share), slopes)
    }

    fn log_h_at(&self, density: f64) -> Option<f64> {
        let gamma = self.gamma();
        let mut y = density - if self.shape.toe() { self.at[DMIN] } else { 0.0 };
        if self.shape.shoulder() {
            // 10^(-kz) = 10^(-ky) (1 - 10^(-kR)) + 10^(-kR)
            let (height, k) = (math::exp(self.at[HEIGHT]), math::exp(self.at[SHOULDER]) / gamma);
            if y >= height {
                return None;
            }
            let left = (1.0 - math::pow(10.0, k * (y - height))) / (1.0 - math::pow(10.0, -k * height));
            y -= math::log10(left) / k;
        }
        if !self.shape.toe() {
            return Some(self.at[PLACE] + y / gamma);
        }
        let m = math::exp(self.at[TOE]);
        let t = m * y / gamma;
        (t > 0.0).then(|| self.at[PLACE] + (t + math::log10(1.0 - math::pow(10.0, -t))) / m)
    }

    /// The six as they are read: value, and by what a searched parameter's error is multiplied.
    fn read(&self, index: usize) -> (f64, f64) {
        let value = self.at[index];
        match index {
            DMIN | PLACE => (value, 1.0),
            _ => (math::exp(value), math::exp(value)),
        }
    }
}

/// A reading as the search sees it: log H, density, standard uncertainty.
pub(super) type Point = (f64, f64, f64);

fn chi_square(values: &Values, points: &[Point]) -> f64 {
    points.iter().map(|(x, d, u)| (d - values.density(*x)) / u).map(|z| z * z).sum()
}

/// `J'WJ` and `J'W r` of the free parameters.
fn equations(values: &Values, free: &[usize], points: &[Point]) -> (DMatrix<f64>, DVector<f64>) {
    let mut matrix = DMatrix::zeros(free.len(), free.len());
    let mut right = DVector::zeros(free.len());
    for (x, d, u) in points {
        let (density, _, slopes) = values.with_slopes(*x);
        let weight = 1.0 / (u * u);
        for (i, a) in free.iter().enumerate() {
            right[i] += weight * slopes[*a] * (d - density);
            for (j, b) in free.iter().enumerate().take(i + 1) {
                matrix[(i, j)] += weight * slopes[*a] * slopes[*b];
                matrix[(j, i)] = matrix[(i, j)];
            }
        }
    }
    (matrix, right)
}

/// Levenberg's and Marquardt's search from `start`, so many rounds at most.
fn search(start: Values, points: &[Point], rounds: u32) -> (Values, f64) {
    let free = start.shape.free();
    let (mut now, mut best, mut damping) = (start, chi_square(&start, points), 1e-3);
    for _ in 0..rounds {
        let (matrix, right) = equations(&now, &free, points);
        let mut damped = matrix.clone();
        for i in 0..free.len() {
            damped[(i, i)] += damping * matrix[(i, i)].max(1e-9);
        }
        let Some(step) = damped.cholesky().map(|factor| factor.solve(&right)) else { break };
        let mut next = now;
        for (index, by) in free.iter().zip(step.iter()) {
            let bounds = match *index {
                TOE | SHOULDER => (math::ln(SHARPNESS.0), math::ln(SHARPNESS.1)),
                GAMMA | HEIGHT => (-6.0, 3.0),
                _ => (f64::NEG_INFINITY, f64::INFINITY),
            };
            next.at[*index] = (now.at[*index] + by.clamp(-1.0, 1.0)).clamp(bounds.0, bounds.1);
        }
        let found = chi_square(&next, points);
        if found.is_finite() && found < best {
            let gained = best - found;
            (now, best, damping) = (next, found, (damping / 10.0).max(1e-12));
            if gained <= SETTLED * (1.0 + best) {
                break;
            }
        } else if damping > 1e10 {
            break;
        } else {
            damping *= 10.0;
        }
    }
    (now, best)
}

/// The best fit of one shape, from several beginnings.
fn of_shape(shape: Shape, spline: &Spline, points: &[Point]) -> Option<(Values, f64)> {
    let (gamma, from) = spline.steepest(0.3_f64.min(spline.to - spline.from))?;
    if gamma <= 0.0 {
        return None;
    }
    let middle = spline.density(from)?;
    let d_min = if shape.toe() { spline.lowest() } else { 0.0 };
    let place = from - (middle - d_min) / gamma;
    let range = (spline.highest() - d_min).max(0.1);
    let sharp: &[(f64, f64, f64)] = match shape {
        Shape::Line => &[(1.0, 1.0, 1.0)],
        Shape::Toe => &[(1.0, 1.0, 1.0), (4.0, 1.0, 1.0)],
        Shape::Shoulder => &[(1.0, 1.0, 1.1), (1.0, 4.0, 1.02)],
        Shape::Both => &[(1.5, 1.5, 1.1), (4.0, 4.0, 1.02), (1.5, 1.0, 1.6)],
    };
    let begin = |(toe, shoulder, height): &(f64, f64, f64)| {
        let logs = [gamma, *toe, range * height, *shoulder].map(math::ln);
        let at = [d_min, logs[0], place, logs[1], logs[2], logs[3]];
        search(Values { shape, at }, points, ROUNDS.0)
    };
    let (best, _) = sharp.iter().map(begin).min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(search(best, points, ROUNDS.1))
}

/// The model of as many parts as the readings show; `None` where they do not determine even a line.
pub(super) fn fit_model(spline: &Spline, points: &[Point]) -> Option<ModelFit> {
    let shapes = [Shape::Line, Shape::Toe, Shape::Shoulder, Shape::Both];
    let fitted = shapes.into_iter().filter(|shape| points.len() > shape.free().len()).filter_map(|shape| {
        let (values, chi_square) = of_shape(shape, spline, points)?;
        let free = shape.free();
        let covariance = equations(&values, &free, points).0.cholesky()?.inverse();
        let settled = covariance.iter().all(|entry| entry.is_finite());
        settled.then_some((chi_square + PRICE * free.len() as f64, values, covariance))
    });
    let (_, values, covariance) = fitted.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let free = values.shape.free();
    let residuals = points.iter().map(|(x, d, u)| (d - values.density(*x), *u));
    let goodness = Goodness::of(residuals, free.len() as f64);
    let scale = (goodness.chi_square / goodness.degrees).max(1.0);
    let factor = |i: usize| values.read(free[i]).1;
    let covariance: Vec<Vec<f64>> = (0..free.len())
        .map(|i| (0..free.len()).map(|j| scale * factor(i) * factor(j) * covariance[(i, j)]).collect())
        .collect();
    let parameters = free.iter().enumerate().map(|(i, index)| Parameter {
        name: NAMES[*index],
        value: values.read(*index).0,
        u: covariance[i][i].sqrt(),
    });
    let parameters = parameters.collect();
    Some(ModelFit { shape: values.shape, parameters, covariance, goodness, values })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_are_those_of_differences_and_the_inverse_leads_back() {
        for shape in [Shape::Line, Shape::Toe, Shape::Shoulder, Shape::Both] {
            let values = Values { shape, at: [0.2, -0.4, -2.0, 0.5, 0.7, 0.9] };
            for x in [-2.6, -2.0, -1.0, 0.5, 2.5] {
                let (density, gradient, slopes) = values.with_slopes(x);
                let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
                let step = 1e-6;
                assert!(near(gradient, (values.density(x + step) - values.density(x - step)) / (2.0 * step)));
                for index in shape.free() {
                    let moved = |by: f64| {
                        let mut moved = values;
                        moved.at[index] += by;
                        moved.density(x)
                    };
                    assert!(
                        near(slopes[index], (moved(step) - moved(-step)) / (2.0 * step)),
                        "{index} at {x}"
                    );
                }
                if gradient > 1e-3 {
                    assert!(near(values.log_h_at(density).unwrap(), x), "{shape:?} at {x}");
                }
            }
        }
    }
}
