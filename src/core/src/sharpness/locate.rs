//! Where the edge runs: a straight line or a slight bend, found from all rows together.
//!
//! 1. Of all straight steps from one light to another, the one that leaves the least variance in coarse squares.
//! 2. Each row's shift against the edge of all rows, by least squares (the best estimate where grain is white), and a line
//!    through the shifts that rows with dust have no say in (Tukey's weights; F. R. Hampel et al., *Robust Statistics*, 1986);
//!    again until it stays.
//! 3. A parabola where an F test at 99 % finds that the shifts bend.

use super::Refusal;
use super::field::Field;
use crate::numeric::polynomial::Polynomial;
use crate::numeric::{math, quantiles, robust};

/// x of the edge by y: `at + slope u + bend u^2`, u = y - `middle`, all in pixels of the turned field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    pub(super) middle: f64,
    pub(super) at: f64,
    pub(super) slope: f64,
    pub(super) bend: f64,
}

impl Line {
    pub(super) fn x(&self, y: f64) -> f64 {
        let u = y - self.middle;
        self.at + u * (self.slope + u * self.bend)
    }

    /// What a distance along the row is worth along the edge's normal.
    pub(super) fn cosine(&self, y: f64) -> f64 {
        let slope = self.slope + 2.0 * self.bend * (y - self.middle);
        1.0 / math::sqrt(1.0 + slope * slope)
    }
}

/// An edge of Gaussian blur.
#[derive(Debug, Clone, Copy)]
pub(super) struct Blurred {
    /// Light at negative distances.
    pub(super) left: f64,
    /// Light at positive distances.
    pub(super) right: f64,
    /// Standard deviation of the blur, pixels.
    pub(super) sigma: f64,
}

/// Distance between the points of rise from 10 to 90 % of a Gaussian edge, in standard deviations.
pub(super) const RISE: f64 = 2.563_103_131_089_201;

impl Blurred {
    fn light(&self, distance: f64) -> f64 {
        self.left + (self.right - self.left) * normal(distance / self.sigma)
    }
}

/// Share of the standard normal distribution below `z`.
pub(super) fn normal(z: f64) -> f64 {
    0.5 * (1.0 + math::erf(z * core::f64::consts::FRAC_1_SQRT_2))
}

/// A located edge.
#[derive(Debug, Clone)]
pub(super) struct Located {
    pub(super) line: Line,
    pub(super) blurred: Blurred,
    /// Rows that the edge crosses within the field.
    pub(super) rows: core::ops::Range<usize>,
    /// Root mean square by which eighths of the edge lie off the line, pixels, beyond what their rows' scatter explains.
    pub(super) ragged: f64,
}

/// Pixels that the edge must keep from the sides of the field.
const MARGIN: f64 = 3.0;

/// The step that explains most of the variance of a field, and how much of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Step {
    pub(super) line: Line,
    /// Variance explained, of all.
    pub(super) explained: f64,
    /// Light on its right minus that on its left.
    pub(super) height: f64,
}

/// The best straight step of a field of few cells, nearer upright than level. `None` where the field is plain to the last bit.
pub(super) fn best_step(cells: &Field) -> Option<Step> {
    const SLOPES: i32 = 28;
    let (w, h) = (cells.width as f64, cells.height as f64);
    let n = cells.light.len() as f64;
    let mean = cells.light.iter().sum::<f64>() / n;
    let all: f64 = cells.light.iter().map(|light| (light - mean) * (light - mean)).sum();
    if all <= 0.0 {
        return None;
    }
    let mut best: Option<Step> = None;
    for slope in (-SLOPES..=SLOPES).map(|k| 1.12 * f64::from(k) / f64::from(SLOPES)) {
        // Half-cell bins of where a line of this slope through a cell meets the middle row.
        let reach = 0.5 * h * slope.abs() + 1.0;
        let bins = (2.0 * (w + 2.0 * reach)) as usize + 2;
        let mut sums = vec![(0.0_f64, 0.0_f64); bins];
        for y in 0..cells.height {
            let shift = slope * (y as f64 + 0.5 - h / 2.0);
            for (x, light) in cells.row(y).iter().enumerate() {
                let bin = (2.0 * (x as f64 + 0.5 - shift + reach)) as usize;
                let sum = &mut sums[bin.min(bins - 1)];
                sum.0 += 1.0;
                sum.1 += light - mean;
            }
        }
        let (mut count, mut total) = (0.0, 0.0);
        for (k, sum) in sums.iter().enumerate() {
            count += sum.0;
            total += sum.1;
            let other = n - count;
            if count < 0.04 * n || other < 0.04 * n {
                continue;
            }
            let height = -total / other - total / count;
            let explained = height * height * count * other / n / all;
            if best.is_none_or(|best| explained > best.explained) {
                let at = (k + 1) as f64 / 2.0 - reach;
                let line = Line { middle: h / 2.0, at, slope, bend: 0.0 };
                best = Some(Step { line, explained, height });
            }
        }
    }
    best
}

/// Finds the edge of a field that it runs down in.
pub(super) fn locate(field: &Field) -> Result<Located, Refusal> {
    let side = (field.width.min(field.height) / 40).max(1);
    let step = best_step(&field.coarse(side)).ok_or_else(Refusal::plain)?;
    let scale = side as f64;
    let middle = field.height as f64 / 2.0;
    let at = scale * step.line.x(middle / scale);
    let mut line = Line { middle, at, slope: step.line.slope, bend: 0.0 };
    let mut blurred = blur_of(field, &line);
    let mut shifts = Shifts::default();
    for round in 0..12 {
        shifts = Shifts::of(field, &line, &blurred);
        let fitted = shifts.fit(1, line.middle).ok_or_else(Refusal::lost)?;
        line.at += fitted[0];
        line.slope += fitted[1];
        blurred = blur_of(field, &line);
        let end = fitted[0].abs() + fitted[1].abs() * field.height as f64 / 2.0;
        if round >= 2 && end < 0.003 {
            break;
        }
    }
    if let Some(bend) = shifts.bend(line.middle, field.height as f64) {
        line.bend = bend;
        for _ in 0..4 {
            shifts = Shifts::of(field, &line, &blurred);
            let fitted = shifts.fit(2, line.middle).ok_or_else(Refusal::lost)?;
            line.at += fitted[0];
            line.slope += fitted[1];
            line.bend += fitted[2];
            blurred = blur_of(field, &line);
        }
    }
    let rows = rows_of(field, &line).ok_or_else(Refusal::lost)?;
    Ok(Located { line, blurred, rows, ragged: shifts.ragged(line.middle) })
}

/// The longest run of rows in which the line keeps off the sides.
fn rows_of(field: &Field, line: &Line) -> Option<core::ops::Range<usize>> {
    let inside = |y: usize| {
        let x = line.x(y as f64 + 0.5);
        x >= MARGIN && x <= field.width as f64 - MARGIN
    };
    let first = (0..field.height).find(|y| inside(*y))?;
    let last = (first..field.height).find(|y| !inside(*y)).unwrap_or(field.height);
    Some(first..last)
}

/// The Gaussian edge that lies nearest to the pixels by their distance from the line.
fn blur_of(field: &Field, line: &Line) -> Blurred {
    const BIN: f64 = 0.5;
    let reach = field.width as f64;
    let mut sums = vec![(0.0_f64, 0.0_f64); (2.0 * reach / BIN) as usize + 1];
    for y in rows_of(field, line).unwrap_or(0..0) {
        let (x0, cosine) = (line.x(y as f64 + 0.5), line.cosine(y as f64 + 0.5));
        for (x, light) in field.row(y).iter().enumerate() {
            let bin = ((x as f64 + 0.5 - x0) * cosine + reach) / BIN;
            if let Some(sum) = sums.get_mut(bin as usize) {
                sum.0 += 1.0;
                sum.1 += light;
            }
        }
    }
    let bins: Vec<(f64, f64, f64)> = sums
        .iter()
        .enumerate()
        .filter(|(_, sum)| sum.0 > 0.0)
        .map(|(k, sum)| ((k as f64 + 0.5) * BIN - reach, sum.0, sum.1 / sum.0))
        .collect();
    gaussian_edge(&bins, field.width as f64 / 12.0)
}

/// Least squares over (distance, weight, light) by golden section over the blur.
pub(super) fn gaussian_edge(bins: &[(f64, f64, f64)], most: f64) -> Blurred {
    let solve = |sigma: f64| {
        let (mut n, mut p, mut pp, mut l, mut pl, mut ll) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        for &(distance, weight, light) in bins {
            let share = normal(distance / sigma);
            n += weight;
            p += weight * share;
            pp += weight * share * share;
            l += weight * light;
            pl += weight * share * light;
            ll += weight * light * light;
        }
        let determinant = n * pp - p * p;
        let height = if determinant > 0.0 { (n * pl - p * l) / determinant } else { 0.0 };
        let left = (l - height * p) / n;
        (ll - left * l - height * pl, Blurred { left, right: left + height, sigma })
    };
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut high) = (math::ln(0.2), math::ln(most.max(2.0)));
    for _ in 0..17 {
        let (a, b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
        if solve(math::exp(a)).0 < solve(math::exp(b)).0 { high = b } else { low = a }
    }
    solve(math::exp((low + high) / 2.0)).1
}

/// How far each row's edge lies off the line.
#[derive(Debug, Default)]
struct Shifts {
    /// y and shift of the rows whose edge lies well inside.
    rows: Vec<(f64, f64)>,
}

impl Shifts {
    fn of(field: &Field, line: &Line, blurred: &Blurred) -> Self {
        let height = blurred.right - blurred.left;
        let reach = (3.0 * blurred.sigma).max(2.0);
        let rows = rows_of(field, line).unwrap_or(0..0);
        // The scatter about the edge; beyond four of it a pixel is dust and counts as four.
        let mut sizes = Vec::new();
        let residual = |y: usize, x: usize, x0: f64, cosine: f64| {
            let distance = (x as f64 + 0.5 - x0) * cosine;
            (distance, field.row(y)[x] - blurred.light(distance))
        };
        let span = |x0: f64, cosine: f64| {
            let half = reach / cosine;
            ((x0 - half).max(0.0) as usize, ((x0 + half).ceil().max(0.0) as usize).min(field.width))
        };
        for y in rows.clone().step_by((rows.len() / 60).max(1)) {
            let (x0, cosine) = (line.x(y as f64 + 0.5), line.cosine(y as f64 + 0.5));
            let (from, to) = span(x0, cosine);
            sizes.extend((from..to).map(|x| residual(y, x, x0, cosine).1.abs()));
        }
        let cap =
            (4.0 * robust::MAD_TO_SIGMA * robust::median(&sizes).unwrap_or(0.0)).max(1e-6 * height.abs());
        let mut found = Self::default();
        for y in rows {
            let (x0, cosine) = (line.x(y as f64 + 0.5), line.cosine(y as f64 + 0.5));
            let half = reach / cosine;
            if x0 - half < 0.0 || x0 + half > field.width as f64 {
                continue;
            }
            let (from, to) = span(x0, cosine);
            let (mut up, mut down) = (0.0, 0.0);
            for x in from..to {
                let (distance, residual) = residual(y, x, x0, cosine);
                let z = distance / blurred.sigma;
                let slope =
                    -height * cosine / blurred.sigma * math::exp(-0.5 * z * z) * 0.398_942_280_401_432_7;
                up += slope * residual.clamp(-cap, cap);
                down += slope * slope;
            }
            if down > 0.0 {
                found.rows.push((y as f64 + 0.5, (up / down).clamp(-reach, reach)));
            }
        }
        found
    }

    /// A polynomial in y - `middle` through the shifts, lowest power first, by Tukey's weights.
    fn fit(&self, degree: usize, middle: f64) -> Option<Vec<f64>> {
        self.weighted(degree, middle).map(|(coefficients, _)| coefficients)
    }

    /// The same with the weights.
    fn weighted(&self, degree: usize, middle: f64) -> Option<(Vec<f64>, Vec<f64>)> {
        if self.rows.len() < 4 * (degree + 1) {
            return None;
        }
        let mut weights = vec![1.0; self.rows.len()];
        let mut found = Vec::new();
        for _ in 0..6 {
            found = least_squares(&self.rows, &weights, degree, middle)?;
            let off = |(y, shift): &(f64, f64)| shift - value(&found, y - middle);
            let sizes: Vec<f64> = self.rows.iter().map(|row| off(row).abs()).collect();
            let scale = (robust::MAD_TO_SIGMA * robust::median(&sizes)?).max(1e-6);
            for (weight, row) in weights.iter_mut().zip(&self.rows) {
                let z = off(row) / (4.685 * scale);
                *weight = (1.0 - z * z).max(0.0) * (1.0 - z * z).max(0.0);
            }
        }
        Some((found, weights))
    }

    /// Coefficient of the square, where the shifts bend beyond chance.
    fn bend(&self, middle: f64, length: f64) -> Option<f64> {
        let (line, _) = self.weighted(1, middle)?;
        let (curve, weights) = self.weighted(2, middle)?;
        let squares = |fit: &[f64]| -> f64 {
            let each = self.rows.iter().zip(&weights);
            each.map(|((y, shift), w)| w * (shift - value(fit, y - middle)).powi(2)).sum()
        };
        let (straight, bent) = (squares(&line), squares(&curve));
        let free = self.rows.len() as f64 / self.correlation(&curve, middle) - 3.0;
        let sagitta = curve[2].abs() * length * length / 4.0;
        let sure =
            free > 3.0 && (straight - bent) / bent.max(1e-12) * free > quantiles::f_ratio(0.99, 1.0, free);
        (sure && sagitta > 0.03).then(|| curve[2])
    }

    /// Rows that are worth one: 1 + 2 times the sum of the autocorrelation of the shifts about `fit`.
    fn correlation(&self, fit: &[f64], middle: f64) -> f64 {
        let off: Vec<f64> = self.rows.iter().map(|(y, shift)| shift - value(fit, y - middle)).collect();
        let at = |lag: usize| off.iter().zip(off.iter().skip(lag)).map(|(a, b)| a * b).sum::<f64>();
        let whole = at(0).max(1e-12);
        1.0 + 2.0 * (1..off.len() / 8).map(|lag| at(lag) / whole).take_while(|rho| *rho > 0.0).sum::<f64>()
    }

    /// Root mean square of the means of eighths, less what chance gives them.
    fn ragged(&self, middle: f64) -> f64 {
        const PARTS: usize = 8;
        let Some((fit, weights)) = self.weighted(if self.rows.len() > 40 { 2 } else { 1 }, middle) else {
            return 0.0;
        };
        // A wandering edge hangs together over many rows; grain does not.
        let each = self.correlation(&fit, middle).min(5.0);
        let size = self.rows.len().div_ceil(PARTS);
        let (mut sum, mut chance, mut parts) = (0.0, 0.0, 0.0);
        for (rows, weights) in self.rows.chunks(size).zip(weights.chunks(size)) {
            let total: f64 = weights.iter().sum();
            if total < 2.0 {
                continue;
            }
            let off = |(y, shift): &(f64, f64)| shift - value(&fit, y - middle);
            let mean = rows.iter().zip(weights).map(|(row, w)| w * off(row)).sum::<f64>() / total;
            let spread =
                rows.iter().zip(weights).map(|(row, w)| w * (off(row) - mean).powi(2)).sum::<f64>() / total;
            sum += mean * mean;
            chance += spread * each / total;
            parts += 1.0;
        }
        if parts > 0.0 { math::sqrt(((sum - chance) / parts).max(0.0)) } else { 0.0 }
    }
}

fn value(coefficients: &[f64], u: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * u + c)
}

/// Weighted least squares of a polynomial of degree 1 or 2; rows without weight have no say.
fn least_squares(rows: &[(f64, f64)], weights: &[f64], degree: usize, middle: f64) -> Option<Vec<f64>> {
    let kept = || rows.iter().zip(weights).filter(|(_, weight)| **weight > 0.0);
    let y: Vec<f64> = kept().map(|((y, _), _)| *y).collect();
    let shifts: Vec<f64> = kept().map(|((_, shift), _)| *shift).collect();
    let weights: Vec<f64> = kept().map(|(_, weight)| *weight).collect();
    let fit = Polynomial::fit(&y, &shifts, &weights, degree)?;
    let mut found = vec![fit.value(middle), fit.slope(middle)];
    found.extend(fit.coefficients.get(2));
    Some(found)
}
