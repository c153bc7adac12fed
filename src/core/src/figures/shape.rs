//! Toe, shoulder and usable range: where the gradient of a curve rises and falls.
//!
//! Lengths and curvatures of toe and shoulder have no common definition. This program's own: the toe is where the local
//! gradient rises from a tenth to nine tenths of that of the steepest stop, the shoulder where it falls again (as the
//! rise time of a signal is taken), and curvature is the largest change of gradient over one stop, per unit of log H.

use super::straight::STOP_WIDTH;
use crate::curve::{Curve, Spline};
use crate::numeric::roots;

/// Shares of the steepest gradient between which toe and shoulder lie.
const SHARES: (f64, f64) = (0.1, 0.9);
/// Places in each cell of a spline at which its gradient is looked at.
const PER_CELL: usize = 4;

/// The gradient along a spline.
pub(super) struct Shape<'a> {
    spline: &'a Spline,
    step: f64,
    gradients: Vec<f64>,
    /// Mean gradient of the steepest stop, and the place nearest to its middle.
    steepest: f64,
    top: usize,
}

/// A stretch of log exposure whose ends may lie beyond the data.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    pub(super) from: f64,
    pub(super) to: f64,
    /// It begins before the data.
    pub(super) open_below: bool,
    /// It ends after the data.
    pub(super) open_above: bool,
}

/// Where the toe of the best curve begins and ends, as far as it was tested; see the registry for the definition.
#[must_use]
pub fn toe_ends(curve: &Curve) -> Option<(f64, f64)> {
    let toe = Shape::of(&curve.best, curve.best.steepest(STOP_WIDTH))?.toe()?;
    Some((toe.from, toe.to))
}

/// The same of the shoulder.
#[must_use]
pub fn shoulder_ends(curve: &Curve) -> Option<(f64, f64)> {
    let shoulder = Shape::of(&curve.best, curve.best.steepest(STOP_WIDTH))?.shoulder()?;
    Some((shoulder.from, shoulder.to))
}

impl Stretch {
    pub(super) fn length(&self) -> f64 {
        self.to - self.from
    }
}

impl<'a> Shape<'a> {
    /// `None` for a spline shorter than a stop.
    pub(super) fn of(spline: &'a Spline, steepest: Option<(f64, f64)>) -> Option<Self> {
        let (steepest, start) = steepest?;
        let last = PER_CELL * spline.cells();
        let step = (spline.to - spline.from) / last as f64;
        let at = |i: usize| if i == last { spline.to } else { spline.from + step * i as f64 };
        let gradients: Option<Vec<f64>> = (0..=last).map(|i| spline.gradient(at(i))).collect();
        // A quarter, not a half: the steepest stop begins on a grid of its own, and no rounding shall decide a tie.
        let top = ((start + STOP_WIDTH / 2.0 - spline.from) / step + 0.27).floor() as usize;
        Some(Self { spline, step, gradients: gradients?, steepest, top: top.min(last) })
    }

    fn place(&self, i: usize) -> f64 {
        if i + 1 == self.gradients.len() { self.spline.to } else { self.spline.from + self.step * i as f64 }
    }

    /// Where the gradient passes `level` between two neighbouring places.
    fn crossing(&self, below: usize, above: usize, level: f64) -> f64 {
        let (a, b) = (self.place(below.min(above)), self.place(below.max(above)));
        let miss = |x: f64| self.spline.gradient(x).unwrap_or(f64::NAN) - level;
        roots::bracketed(miss, a, b, 1e-10).unwrap_or(a)
    }

    /// The rise of the gradient to the steepest stop: from a tenth of it to where nine tenths are first reached. `None`
    /// where nine tenths are there from the first.
    pub(super) fn toe(&self) -> Option<Stretch> {
        let (low, high) = (SHARES.0 * self.steepest, SHARES.1 * self.steepest);
        let end = (0..=self.top).find(|i| self.gradients[*i] >= high).filter(|end| *end > 0)?;
        let to = self.crossing(end - 1, end, high);
        let foot = (0..end).rev().find(|i| self.gradients[*i] <= low);
        let from = foot.map_or(self.spline.from, |foot| self.crossing(foot, foot + 1, low));
        Some(Stretch { from, to, open_below: foot.is_none(), open_above: false })
    }

    /// The fall of the gradient from where nine tenths of the steepest stop are last seen to a tenth. `None` where nine
    /// tenths are there to the end.
    pub(super) fn shoulder(&self) -> Option<Stretch> {
        let (low, high) = (SHARES.0 * self.steepest, SHARES.1 * self.steepest);
        let last = self.gradients.len() - 1;
        let begin = (self.top..=last).rev().find(|i| self.gradients[*i] >= high).filter(|i| *i < last)?;
        let from = self.crossing(begin + 1, begin, high);
        let end = (begin + 1..=last).find(|i| self.gradients[*i] <= low);
        let to = end.map_or(self.spline.to, |end| self.crossing(end, end - 1, low));
        Some(Stretch { from, to, open_below: false, open_above: end.is_none() })
    }

    /// The stretch around the steepest stop in which the gradient is no less than `lower` on the side of the toe and
    /// `upper` on that of the shoulder; `None` where the steepest stop itself is flatter.
    pub(super) fn usable(&self, lower: f64, upper: f64) -> Option<Stretch> {
        let last = self.gradients.len() - 1;
        if self.gradients[self.top] < lower.max(upper) {
            return None;
        }
        let below = (0..self.top).rev().find(|i| self.gradients[*i] < lower);
        let above = (self.top + 1..=last).find(|i| self.gradients[*i] < upper);
        Some(Stretch {
            from: below.map_or(self.spline.from, |i| self.crossing(i, i + 1, lower)),
            to: above.map_or(self.spline.to, |i| self.crossing(i, i - 1, upper)),
            open_below: below.is_none(),
            open_above: above.is_none(),
        })
    }

    /// Largest change of gradient over one stop, per unit of log H: upwards before the steepest stop, downwards after it.
    pub(super) fn curvatures(&self) -> (Option<f64>, Option<f64>) {
        let width = STOP_WIDTH;
        let change = |i: usize| {
            let at = self.place(i);
            Some((self.spline.gradient(at + width)? - self.gradients[i]) / width)
        };
        let toe = (0..self.top).filter_map(change).fold(f64::NEG_INFINITY, f64::max);
        let above = (self.top..self.gradients.len()).filter_map(change);
        let shoulder = above.fold(f64::NEG_INFINITY, |most, change| most.max(-change));
        let found = |value: f64| (value > 0.0).then_some(value);
        (found(toe), found(shoulder))
    }
}
