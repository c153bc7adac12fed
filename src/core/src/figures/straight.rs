//! The straight line of a characteristic curve.
//!
//! *Criterion.* Of all runs of neighbouring readings - four or more, over 0.45 in log H or more, half as steep at least
//! as the curve's steepest stop - the straight line is the longest one that no test tells from a line at 95 %:
//!
//! 1. its readings scatter about the weighted regression line no more than their errors allow (chi-square);
//! 2. a parabola fits no better (the quadratic term is within 1.96 of its standard errors);
//! 3. neither end reading departs from the line through the others (within 1.96 standard errors of the prediction).
//!
//! To each reading's own error a standard deviation of 0.005 is added: a line that is straight to the width of a pencil
//! stroke on graph paper is straight, however fine the readings. What departures are left is a figure of its own.
//! The limits of four readings and 0.45 are common practice, no source.

use serde::Serialize;

use crate::curve::{Curve, Spline};
use crate::measured::Z95;
use crate::numeric::{math, quantiles};

/// What counts as straight to the eye, standard deviation in density.
const PENCIL: f64 = 0.005;
/// Fewest readings of a straight line.
const LEAST_READINGS: usize = 4;
/// Shortest straight line in log H.
const LEAST_LENGTH: f64 = 0.45;
/// Least slope, relative to the steepest stop: the even base of a film is no straight line in this sense.
const LEAST_STEEPNESS: f64 = 0.5;
/// The stretch over which the steepest gradient is taken, one stop.
pub(crate) const STOP_WIDTH: f64 = 0.30;

/// The straight line found on a curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StraightLine {
    /// Where it begins, lg H.
    pub from: f64,
    /// Where it ends, lg H.
    pub to: f64,
    /// Density of the line at lg H = 0 (extrapolated, to draw it).
    pub intercept: f64,
    /// Its slope.
    pub gamma: f64,
}

impl StraightLine {
    /// Density of the line at `log_h`.
    #[must_use]
    pub fn density(&self, log_h: f64) -> f64 {
        self.intercept + self.gamma * log_h
    }
}

/// The straight line of a curve, or the reason why there is none.
///
/// # Errors
/// The reason, in one sentence.
pub fn straight_line(curve: &Curve) -> Result<StraightLine, String> {
    Finder::new(curve).of_readings(curve).ok_or_else(|| NONE.to_owned())
}

/// The criterion in words, for hover texts and reports.
pub const CRITERION: &str = "The straight line is the longest run of four readings or more, over 0.45 in log H or more and \
    half as steep at least as the steepest stop, that no test at 95 % tells from a line: by the scatter of its readings, by \
    a bend, by either end. A standard deviation of 0.005, the width of a pencil stroke, is added to the readings' errors.";

/// Why there is no straight line.
pub(super) const NONE: &str =
    "No straight part: no run of four readings over 0.45 in log H or more lies on a line within its errors.";

/// The longest straight run of readings `(log H, density)` in order of log H, each with the standard uncertainty `u` of its
/// density. `steepest` is the gradient that the curve reaches somewhere.
///
/// ```
/// # use twinwedge_core::figures::straight::longest_run;
/// let points = [(0.0, 0.1), (0.3, 0.2), (0.6, 0.4), (0.9, 0.6), (1.2, 0.8), (1.5, 0.85)];
/// let line = longest_run(&points, &[0.005; 6], 0.67).unwrap();
/// assert!(line.from == 0.3 && line.to == 1.2);
/// ```
#[must_use]
pub fn longest_run(points: &[(f64, f64)], u: &[f64], steepest: f64) -> Option<StraightLine> {
    let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    Finder::of(x, u).longest(&y, steepest)
}

/// What does not change from resampling to resampling: places, weights, limits.
#[derive(Debug, Clone)]
pub(super) struct Finder {
    x: Vec<f64>,
    weights: Vec<f64>,
    /// 95 % quantile of chi-square for 1, 2, 3 ... degrees of freedom.
    limits: Vec<f64>,
}

/// Weighted sums over a run, about its first place.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    w: f64,
    x: [f64; 4],
    y: f64,
    xy: f64,
    xxy: f64,
    yy: f64,
}

impl Finder {
    pub(super) fn new(curve: &Curve) -> Self {
        let points = || curve.readings.points.iter().filter(|point| !point.set_aside);
        let u = |point: &crate::curve::Reading| {
            let gradient = curve.best.gradient(point.log_h).unwrap_or(0.0);
            curve.error_scale * math::hypot(point.density_u, gradient * point.log_h_u)
        };
        Self::of(points().map(|point| point.log_h).collect(), &points().map(u).collect::<Vec<_>>())
    }

    fn of(x: Vec<f64>, u: &[f64]) -> Self {
        let weights = u.iter().map(|u| 1.0 / (u * u + PENCIL * PENCIL)).collect();
        let limits = (1..x.len().max(2) - 1).map(|n| quantiles::chi_square(0.95, n as f64)).collect();
        Self { x, weights, limits }
    }

    /// The straight line of a curve's own readings.
    pub(super) fn of_readings(&self, curve: &Curve) -> Option<StraightLine> {
        let fitted = curve.readings.points.iter().filter(|point| !point.set_aside);
        let steepest = curve.best.steepest(STOP_WIDTH)?.0;
        self.longest(&fitted.map(|point| point.density).collect::<Vec<_>>(), steepest)
    }

    /// The longest straight run of densities `y` at the finder's places; of equally long ones the one that fits best.
    pub(super) fn longest(&self, y: &[f64], steepest: f64) -> Option<StraightLine> {
        let mut found: Option<(f64, f64, StraightLine)> = None;
        for first in 0..self.x.len() {
            let mut sums = Sums::default();
            for last in first..self.x.len() {
                self.include(&mut sums, first, last, y);
                let length = self.x[last] - self.x[first];
                let long = length >= LEAST_LENGTH - 1e-9 && last + 1 - first >= LEAST_READINGS;
                let longer = found.is_none_or(|(best, ..)| length >= best - 1e-9);
                if !(long && longer) {
                    continue;
                }
                let Some((chi_square, line)) = self.test(&sums, first, last, y, steepest) else { continue };
                let better =
                    |(best, fit, _): (f64, f64, StraightLine)| length > best + 1e-9 || chi_square < fit;
                if found.is_none_or(better) {
                    found = Some((length, chi_square, line));
                }
            }
        }
        found.map(|(.., line)| line)
    }

    fn include(&self, sums: &mut Sums, first: usize, at: usize, y: &[f64]) {
        // Densities about the first one and places about the first place keep the differences below from cancelling.
        let (w, x, y) = (self.weights[at], self.x[at] - self.x[first], y[at] - y[first]);
        sums.w += w;
        let mut power = w;
        for sum in &mut sums.x {
            power *= x;
            *sum += power;
        }
        sums.y += w * y;
        sums.xy += w * x * y;
        sums.xxy += w * x * x * y;
        sums.yy += w * y * y;
    }

    /// The regression line of a run and its chi-square, if it passes.
    fn test(
        &self,
        sums: &Sums,
        first: usize,
        last: usize,
        y: &[f64],
        steepest: f64,
    ) -> Option<(f64, StraightLine)> {
        let (mean_x, mean_y) = (sums.x[0] / sums.w, sums.y / sums.w);
        let sxx = sums.x[1] - mean_x * sums.x[0];
        let sxy = sums.xy - mean_x * sums.y;
        let slope = sxy / sxx;
        let chi_square = (sums.yy - mean_y * sums.y - slope * sxy).max(0.0);
        if slope < LEAST_STEEPNESS * steepest || chi_square > self.limits[last - first - 2] {
            return None;
        }
        // The quadratic term, from x² made orthogonal to a constant and x.
        let mean_xx = sums.x[1] / sums.w;
        let tilt = (sums.x[2] - mean_xx * sums.x[0]) / sxx;
        let bend = sums.x[3] - mean_xx * sums.x[1] - tilt * (sums.x[2] - mean_xx * sums.x[0]);
        let bent = sums.xxy - mean_xx * sums.y - tilt * sxy;
        if bent * bent > Z95 * Z95 * bend {
            return None;
        }
        let fits = |at: usize| {
            let x = self.x[at] - self.x[first];
            let residual = y[at] - y[first] - mean_y - slope * (x - mean_x);
            let leverage = self.weights[at] * (1.0 / sums.w + (x - mean_x) * (x - mean_x) / sxx);
            residual * residual * self.weights[at] <= Z95 * Z95 * (1.0 - leverage)
        };
        (fits(first) && fits(last)).then(|| {
            let intercept = y[first] + mean_y - slope * (mean_x + self.x[first]);
            (chi_square, StraightLine { from: self.x[first], to: self.x[last], intercept, gamma: slope })
        })
    }

    /// The readings on `line`.
    pub(super) fn run(&self, line: &StraightLine) -> Run {
        let on_line = |i: &usize| (line.from - 1e-9..=line.to + 1e-9).contains(&self.x[*i]);
        Run { points: (0..self.x.len()).filter(on_line).map(|i| (self.x[i], self.weights[i])).collect() }
    }

    /// Where the best curve departs furthest from `line` within its range, and by how much.
    pub(super) fn departure(&self, curve: &Curve, line: &StraightLine) -> Option<Departure> {
        const PLACES: u32 = 200;
        let place =
            |i: u32| (line.from + (line.to - line.from) * f64::from(i) / f64::from(PLACES)).min(line.to);
        let departures =
            (0..=PLACES).map(place).filter_map(|at| Some((at, curve.best.density(at)? - line.density(at))));
        let (at, value) = departures.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        Some(Departure { value, at, run: self.run(line) })
    }
}

/// Places of readings on a line, and their weights.
#[derive(Debug, Clone)]
pub(super) struct Run {
    points: Vec<(f64, f64)>,
}

impl Run {
    /// The weighted regression line through `spline` at these places.
    pub(super) fn line_through(&self, spline: &Spline) -> Option<StraightLine> {
        let (mut w, mut x, mut y) = (0.0, 0.0, 0.0);
        for (at, weight) in &self.points {
            w += weight;
            x += weight * at;
            y += weight * spline.density(*at)?;
        }
        let (x, y) = (x / w, y / w);
        let (mut xx, mut xy) = (0.0, 0.0);
        for (at, weight) in &self.points {
            xx += weight * (at - x) * (at - x);
            xy += weight * (at - x) * (spline.density(*at)? - y);
        }
        let gamma = xy / xx;
        let (from, to) = (self.points.first()?.0, self.points.last()?.0);
        (xx > 0.0).then_some(StraightLine { from, to, intercept: y - gamma * x, gamma })
    }
}

/// The furthest departure of the best curve from its straight line, and how the same is taken of another curve.
#[derive(Debug, Clone)]
pub(super) struct Departure {
    /// Curve minus line.
    pub(super) value: f64,
    /// Where, lg H.
    at: f64,
    run: Run,
}

impl Departure {
    /// The departure of `spline` at the same place from the line through itself.
    pub(super) fn of(&self, spline: &Spline) -> Option<f64> {
        Some(spline.density(self.at)? - self.run.line_through(spline)?.density(self.at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bend_beyond_errors_ends_the_line_and_one_within_does_not() {
        let x = |i: u32| 0.15 * f64::from(i);
        let bent = |size: f64| -> Vec<(f64, f64)> {
            (0..13)
                .map(|i| (x(i), 0.3 + 0.6 * x(i) + if i > 8 { size * (x(i) - x(8)) } else { 0.0 }))
                .collect()
        };
        let whole = longest_run(&bent(0.01), &[0.01; 13], 0.6).unwrap();
        assert!(whole.from <= 0.0 && whole.to >= x(12));
        let part = longest_run(&bent(-0.3), &[0.01; 13], 0.6).unwrap();
        assert!(part.from <= 0.0 && (part.to - x(8)).abs() < 0.16, "{part:?}");
        assert!((part.gamma - 0.6).abs() < 0.01);
    }

    #[test]
    fn an_even_base_is_no_straight_line() {
        let points: Vec<(f64, f64)> = (0..10).map(|i| (0.3 * f64::from(i), 0.2)).collect();
        assert_eq!(longest_run(&points, &[0.01; 10], 0.6), None);
    }
}
