//! The curve itself: a cubic B-spline on evenly spaced knots with coefficients that never fall.

use serde::Serialize;

use crate::numeric::roots;

/// A monotone smooth function of log exposure: a cubic B-spline whose knots divide `from`..`to` into cells of equal width
/// and go on evenly beyond both ends. Never-falling coefficients make it never fall.
///
/// C. de Boor, "A Practical Guide to Splines" (1978); P. H. C. Eilers and B. D. Marx, Statistical Science 11 (1996).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spline {
    /// Lowest log exposure at which it is defined.
    pub from: f64,
    /// Highest log exposure at which it is defined.
    pub to: f64,
    /// B-spline coefficients, never falling: three more than there are cells.
    pub coefficients: Vec<f64>,
}

/// Weights of the four coefficients that matter at `t`, 0 to 1 across a cell.
pub(crate) fn value_weights(t: f64) -> [f64; 4] {
    const SIXTH: f64 = 1.0 / 6.0;
    let (s, t2, t3) = (1.0 - t, t * t, t * t * t);
    [SIXTH * s * s * s, SIXTH * (3.0 * t3 - 6.0 * t2 + 4.0), SIXTH * (3.0 * (t + t2 - t3) + 1.0), SIXTH * t3]
}

/// The same for the slope, still to be divided by the width of a cell.
fn slope_weights(t: f64) -> [f64; 4] {
    let (s, t2) = (1.0 - t, t * t);
    [-s * s / 2.0, (3.0 * t2 - 4.0 * t) / 2.0, (1.0 + 2.0 * t - 3.0 * t2) / 2.0, t2 / 2.0]
}

/// The cell of `cells` between `from` and `to` that holds `x`, and how far into it; `None` outside.
pub(crate) fn locate(from: f64, to: f64, cells: usize, x: f64) -> Option<(usize, f64)> {
    if !(from..=to).contains(&x) {
        return None;
    }
    let at = (x - from) / (to - from) * cells as f64;
    let cell = (at as usize).min(cells - 1);
    Some((cell, at - cell as f64))
}

impl Spline {
    /// Number of cells.
    #[must_use]
    pub fn cells(&self) -> usize {
        self.coefficients.len() - 3
    }

    /// Width of a cell in log exposure.
    #[must_use]
    pub fn cell_width(&self) -> f64 {
        (self.to - self.from) / self.cells() as f64
    }

    fn in_cell(&self, cell: usize, weights: [f64; 4]) -> f64 {
        let c = &self.coefficients[cell..cell + 4];
        weights[0] * c[0] + weights[1] * c[1] + weights[2] * c[2] + weights[3] * c[3]
    }

    /// Density at `log_h`; `None` outside `from`..`to`.
    ///
    /// ```
    /// # use twinwedge_core::curve::Spline;
    /// let line = Spline { from: 0.0, to: 2.0, coefficients: vec![-1.0, 0.0, 1.0, 2.0, 3.0] };
    /// assert!((line.density(1.5).unwrap() - 1.5).abs() < 1e-12);
    /// assert_eq!(line.density(2.5), None);
    /// ```
    #[must_use]
    pub fn density(&self, log_h: f64) -> Option<f64> {
        let (cell, t) = locate(self.from, self.to, self.cells(), log_h)?;
        Some(self.in_cell(cell, value_weights(t)))
    }

    /// Local gradient, density per unit of log exposure; `None` outside `from`..`to`.
    #[must_use]
    pub fn gradient(&self, log_h: f64) -> Option<f64> {
        let (cell, t) = locate(self.from, self.to, self.cells(), log_h)?;
        Some(self.in_cell(cell, slope_weights(t)) / self.cell_width())
    }

    /// Density at the low end.
    #[must_use]
    pub fn lowest(&self) -> f64 {
        self.in_cell(0, value_weights(0.0))
    }

    /// Density at the high end.
    #[must_use]
    pub fn highest(&self) -> f64 {
        self.in_cell(self.cells() - 1, value_weights(1.0))
    }

    /// The lowest log exposure at which the curve reaches `density`; `None` where it lies wholly above or below.
    ///
    /// ```
    /// # use twinwedge_core::curve::Spline;
    /// let line = Spline { from: 0.0, to: 2.0, coefficients: vec![-1.0, 0.0, 1.0, 2.0, 3.0] };
    /// assert!((line.log_h_at(1.5).unwrap() - 1.5).abs() < 1e-9);
    /// assert_eq!(line.log_h_at(-0.5), None);
    /// ```
    #[must_use]
    pub fn log_h_at(&self, density: f64) -> Option<f64> {
        if self.lowest() >= density {
            let there = (self.lowest() - density).abs() <= 1e-12;
            return there.then_some(self.from);
        }
        let cell = (0..self.cells()).find(|cell| self.in_cell(*cell, value_weights(1.0)) >= density)?;
        let t = roots::bracketed(|t| self.in_cell(cell, value_weights(t)) - density, 0.0, 1.0, 1e-10)?;
        Some(self.from + (cell as f64 + t) * self.cell_width())
    }

    /// Density gained from `log_h` over the next `width`; `None` when either end lies outside.
    #[must_use]
    pub fn rise(&self, log_h: f64, width: f64) -> Option<f64> {
        let end = log_h + width;
        // An end at the last place must not fall beyond it by rounding.
        let end = if end - self.to < 1e-9 { end.min(self.to) } else { end };
        Some(self.density(end)? - self.density(log_h)?)
    }

    /// The largest mean gradient over any stretch of `width`, and where that stretch begins; `None` when the curve is
    /// shorter. Searched in eighths of a cell about the best of all halves.
    #[must_use]
    pub fn steepest(&self, width: f64) -> Option<(f64, f64)> {
        let room = self.to - self.from - width;
        if room < 0.0 {
            return None;
        }
        // Rounding must not decide between two grids.
        let halves = (2.0 * room / self.cell_width() - 1e-6).ceil().max(1.0) as usize;
        let last = halves * EIGHTHS;
        let candidate = |i: usize| {
            let start = (self.from + room * i as f64 / last as f64).min(self.to - width);
            self.rise(start, width).map(|rise| (rise / width, start, i))
        };
        let most = |places: &mut dyn Iterator<Item = usize>| {
            places.filter_map(candidate).max_by(|a, b| a.0.total_cmp(&b.0))
        };
        let (.., half) = most(&mut (0..=halves).map(|i| i * EIGHTHS))?;
        let (gradient, start, _) = most(&mut (half.saturating_sub(EIGHTHS)..=(half + EIGHTHS).min(last)))?;
        Some((gradient, start))
    }
}

/// Eighths of a cell in each half of one.
const EIGHTHS: usize = 4;

#[cfg(test)]
mod tests {
    use super::*;

    /// De Boor's recursion on the same knots, an independent way to the same spline.
    fn de_boor(spline: &Spline, x: f64) -> f64 {
        let h = spline.cell_width();
        let knot = |i: usize| spline.from + (i as f64 - 3.0) * h;
        let cell = (((x - spline.from) / h) as usize).min(spline.cells() - 1);
        let mut d: Vec<f64> = spline.coefficients[cell..cell + 4].to_vec();
        for r in 1..=3 {
            for j in (r..=3).rev() {
                let i = cell + j;
                let alpha = (x - knot(i)) / (knot(i + 4 - r) - knot(i));
                d[j] = (1.0 - alpha) * d[j - 1] + alpha * d[j];
            }
        }
        d[3]
    }

    #[test]
    fn agrees_with_de_boor_and_its_slope_with_differences() {
        let coefficients = vec![0.1, 0.1, 0.15, 0.4, 0.9, 1.3, 1.35, 1.4];
        let spline = Spline { from: -1.0, to: 1.5, coefficients };
        for i in 0..=50 {
            let x = -1.0 + 0.05 * f64::from(i);
            let x = x.min(1.5);
            assert!((spline.density(x).unwrap() - de_boor(&spline, x)).abs() < 1e-12, "{x}");
            let (low, high) = ((x - 1e-5).max(-1.0), (x + 1e-5).min(1.5));
            let difference = (de_boor(&spline, high) - de_boor(&spline, low)) / (high - low);
            assert!((spline.gradient(x).unwrap() - difference).abs() < 1e-4, "{x}");
        }
        assert!((spline.lowest() - de_boor(&spline, -1.0)).abs() < 1e-12);
        assert!((spline.highest() - de_boor(&spline, 1.5)).abs() < 1e-12);
    }

    #[test]
    fn finds_where_a_density_is_reached_first() {
        let flat = Spline { from: 0.0, to: 5.0, coefficients: vec![0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0] };
        let at = flat.log_h_at(1.0 - 1e-9).unwrap();
        assert!(flat.density(at).unwrap() > 1.0 - 2e-9 && at <= 4.0 + 1e-6, "{at}");
        assert_eq!(flat.log_h_at(1.1), None);
        assert_eq!(flat.log_h_at(0.0), Some(0.0));
    }
}
