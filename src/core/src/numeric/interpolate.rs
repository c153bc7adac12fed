//! Monotone piecewise cubic interpolation: two rules for the slopes at the nodes, one evaluation.

/// Which rule gives the slopes at the nodes. Both keep a monotone sequence monotone and never overshoot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SlopeRule {
    /// Weighted harmonic mean of the neighbouring secants: F. N. Fritsch and J. Butland, "A method for constructing
    /// local monotone piecewise cubic interpolants", SIAM J. Sci. Stat. Comput. 5 (1984) 300-304, in the form of the
    /// interpolant that is widely known as PCHIP. The ends use the three-point formula, limited to stay monotone.
    FritschButland,
    /// The slope of the parabola through three nodes, limited to the smaller neighbouring secant: M. Steffen, "A simple
    /// method for monotonic interpolation in one dimension", Astron. Astrophys. 239 (1990) 443-450.
    Steffen,
}

/// An interpolant through nodes; defined between the first and the last and nowhere else.
#[derive(Debug, Clone, PartialEq)]
pub struct MonotoneCubic {
    x: Vec<f64>,
    y: Vec<f64>,
    slopes: Vec<f64>,
}

impl MonotoneCubic {
    /// The interpolant through `(x, y)`: at least two nodes, `x` strictly rising, all finite; `None` otherwise.
    ///
    /// ```
    /// # use twinwedge_core::numeric::interpolate::{MonotoneCubic, SlopeRule};
    /// let curve = MonotoneCubic::new(&[0.0, 1.0, 2.0], &[0.0, 0.0, 1.0], SlopeRule::FritschButland).unwrap();
    /// assert_eq!(curve.value(0.5), Some(0.0)); // no dip before the rise
    /// assert_eq!(curve.value(2.5), None);
    /// ```
    #[must_use]
    pub fn new(x: &[f64], y: &[f64], rule: SlopeRule) -> Option<Self> {
        let rising = x.windows(2).all(|pair| pair[0] < pair[1]);
        if x.len() < 2 || x.len() != y.len() || !rising || !x.iter().chain(y).all(|v| v.is_finite()) {
            return None;
        }
        let widths: Vec<f64> = x.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let secants: Vec<f64> = y.windows(2).zip(&widths).map(|(pair, h)| (pair[1] - pair[0]) / h).collect();
        Some(Self { x: x.to_vec(), y: y.to_vec(), slopes: slopes(&widths, &secants, rule) })
    }

    /// Slopes at the nodes.
    #[must_use]
    pub fn slopes(&self) -> &[f64] {
        &self.slopes
    }

    /// The value at `x`; `None` outside the nodes.
    #[must_use]
    pub fn value(&self, x: f64) -> Option<f64> {
        let (i, t, h) = self.locate(x)?;
        let (t2, t3) = (t * t, t * t * t);
        Some(
            self.y[i] * (2.0 * t3 - 3.0 * t2 + 1.0)
                + self.y[i + 1] * (3.0 * t2 - 2.0 * t3)
                + h * self.slopes[i] * (t3 - 2.0 * t2 + t)
                + h * self.slopes[i + 1] * (t3 - t2),
        )
    }

    /// The slope at `x`; `None` outside the nodes.
    #[must_use]
    pub fn slope(&self, x: f64) -> Option<f64> {
        let (i, t, h) = self.locate(x)?;
        let bump = 6.0 * t * (1.0 - t) / h;
        Some(
            bump * (self.y[i + 1] - self.y[i])
                + self.slopes[i] * (3.0 * t * t - 4.0 * t + 1.0)
                + self.slopes[i + 1] * (3.0 * t * t - 2.0 * t),
        )
    }

    /// First and last node.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        (self.x[0], self.x[self.x.len() - 1])
    }

    /// The interval that holds `x`, how far into it from 0 to 1, and its width.
    fn locate(&self, x: f64) -> Option<(usize, f64, f64)> {
        let (first, last) = self.range();
        if !(first..=last).contains(&x) {
            return None;
        }
        let i = self.x.partition_point(|node| *node <= x).clamp(1, self.x.len() - 1) - 1;
        let h = self.x[i + 1] - self.x[i];
        Some((i, (x - self.x[i]) / h, h))
    }
}

fn slopes(widths: &[f64], secants: &[f64], rule: SlopeRule) -> Vec<f64> {
    let last = secants.len() - 1;
    if last == 0 {
        return vec![secants[0]; 2];
    }
    let inner = (1..=last).map(|k| {
        let (before, after) = ((widths[k - 1], secants[k - 1]), (widths[k], secants[k]));
        match rule {
            SlopeRule::FritschButland => fritsch_butland(before, after),
            SlopeRule::Steffen => steffen(before, after),
        }
    });
    let mut slopes = Vec::with_capacity(last + 2);
    slopes.push(end(widths[0], widths[1], secants[0], secants[1], rule));
    slopes.extend(inner);
    slopes.push(end(widths[last], widths[last - 1], secants[last], secants[last - 1], rule));
    slopes
}

fn fritsch_butland((h0, s0): (f64, f64), (h1, s1): (f64, f64)) -> f64 {
    if s0 * s1 <= 0.0 {
        return 0.0;
    }
    let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
    (w0 + w1) / (w0 / s0 + w1 / s1)
}

fn steffen((h0, s0): (f64, f64), (h1, s1): (f64, f64)) -> f64 {
    if s0 * s1 <= 0.0 {
        return 0.0;
    }
    let parabola = (s0 * h1 + s1 * h0) / (h0 + h1);
    2.0 * s0.signum() * s0.abs().min(s1.abs()).min(0.5 * parabola.abs())
}

/// The slope at an end: the three-point formula; zero where it points against the outer secant, limited where it would
/// overshoot (three times the outer secant, where the secants turn, for PCHIP; twice it, always, for Steffen).
fn end(h0: f64, h1: f64, s0: f64, s1: f64, rule: SlopeRule) -> f64 {
    let slope = ((2.0 * h0 + h1) * s0 - h0 * s1) / (h0 + h1);
    if slope * s0 <= 0.0 {
        return 0.0;
    }
    match rule {
        SlopeRule::FritschButland if s0 * s1 <= 0.0 && slope.abs() > 3.0 * s0.abs() => 3.0 * s0,
        SlopeRule::Steffen if slope.abs() > 2.0 * s0.abs() => 2.0 * s0,
        _ => slope,
    }
}
