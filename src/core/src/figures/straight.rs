//! The straight line of a characteristic curve.
//!
//! *Definition.* Take the steepest stretch of the curve that is 0.60 in log H long. The straight line is the stretch about its
//! middle along which the curve departs by no more than 0.02 from a line, that line being the regression line through this very
//! stretch; its ends go outwards alike, each as far as that holds. It must be 0.45 in log H long.
//!
//! 0.02 is what a densitometer of two decimals just tells, and as wide as a thick pencil stroke on graph paper. The line is one of
//! the curve and not of its readings: an error of one reading, which a test on runs of readings may let begin or end a run, moves the
//! ends a little and never makes another stretch of the curve the straight line, unless two are as steep. Slope and ends are what a
//! ruler laid on the steepest part would give; what departures are left within is a figure of its own.
//!
//! The limits of 0.60 and 0.45 are common practice, no source.

use serde::Serialize;

use crate::curve::{Curve, Spline};
use crate::words::{self, Sentence};

/// How far the curve departs from its straight line, density.
pub const TOLERANCE: f64 = 0.02;
/// Length in log H of the steepest stretch, about whose middle the straight line lies: two stops.
const STRETCH: f64 = 0.60;
/// Shortest straight line in log H.
const LEAST_LENGTH: f64 = 0.45;
/// Places of a curve at which it is compared with a line lie no further apart than this.
const SPACING: f64 = 0.01;
/// Turns that are taken at most where ends lie at points.
const TURNS: usize = 40;
/// How closely the ends are set, log H.
const SETTLED: f64 = 1e-7;
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
    /// Its slope, density over lg H.
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
pub fn straight_line(curve: &Curve) -> Result<StraightLine, Sentence> {
    of_spline(&curve.best).ok_or_else(|| words::Figure::NoStraightLine.into())
}

/// The criterion in words, for hover texts and reports.
pub const CRITERION: &str = "The straight line lies about the steepest 0.60 in log H and reaches to either side as far as the \
    curve departs by no more than 0.02 in density from its own regression line, over 0.45 in log H or more.";

/// The straight line through points `(log H, density)` in order of log H, its ends at points.
///
/// ```
/// # use twinwedge_core::figures::straight::straight_stretch;
/// let points = [(0.0, 0.1), (0.3, 0.2), (0.6, 0.4), (0.9, 0.6), (1.2, 0.8), (1.5, 0.85)];
/// let line = straight_stretch(&points).unwrap();
/// assert!(line.from == 0.3 && line.to == 1.2 && (line.gamma - 2.0 / 3.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn straight_stretch(points: &[(f64, f64)]) -> Option<StraightLine> {
    let (first, last, line) = settle(points)?;
    (points[last].0 - points[first].0 >= LEAST_LENGTH - 1e-9).then_some(line)
}

/// The straight line of a spline. About the middle of its steepest stretch either end goes outwards, place by place, as long as the
/// line through what lies between them holds all of it; where it can go no further it is set between places. So an end never comes
/// back: there is one answer, and what changes the curve a little moves it a little.
pub(super) fn of_spline(spline: &Spline) -> Option<StraightLine> {
    let points = along(spline, spline.from, spline.to)?;
    let (first, last) = steepest(&points)?;
    let middle = middle(&points, first, last)?;
    let stretch = Stretch { moments: Moments::of(&points), points: &points };
    let (least, most) = (points[0].0, points[points.len() - 1].0);
    let step = points[1].0 - points[0].0;
    let (mut from, mut to) = (points[middle].0, points[middle].0);
    let mut reach = step;
    while reach > SETTLED {
        let low = (from - reach).max(least);
        let lower = low < from && stretch.line(low, to).is_some();
        from = if lower { low } else { from };
        let high = (to + reach).min(most);
        let higher = high > to && stretch.line(from, high).is_some();
        to = if higher { high } else { to };
        if !lower && !higher {
            reach /= 2.0;
        }
    }
    let line = stretch.line(from, to)?;
    (to - from >= LEAST_LENGTH).then_some(line)
}

/// Places of a curve with their integrals.
struct Stretch<'a> {
    points: &'a [(f64, f64)],
    moments: Moments,
}

impl Stretch<'_> {
    /// The regression line between two places, if the curve departs from it by no more than the tolerance.
    fn line(&self, from: f64, to: f64) -> Option<StraightLine> {
        let line = self.moments.regression(self.points, from, to)?;
        let holds = |(x, density): (f64, f64)| (density - line.density(x)).abs() <= TOLERANCE;
        let (first, last) =
            (self.points.partition_point(|(x, _)| *x <= from), self.points.partition_point(|(x, _)| *x < to));
        let ends = [from, to].map(|x| (x, self.density(x)));
        // The ends depart first as a rule.
        let all =
            ends.into_iter().all(holds) && self.points[first..last.max(first)].iter().copied().all(holds);
        all.then_some(line)
    }

    fn density(&self, x: f64) -> f64 {
        let after = self.points.partition_point(|(at, _)| *at <= x).clamp(1, self.points.len() - 1);
        let ((x0, y0), (x1, y1)) = (self.points[after - 1], self.points[after]);
        y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    }
}

/// The integrals of 1, x, x², y and xy along straight lines between points, from the first point up to each.
struct Moments(Vec<[f64; 5]>);

impl Moments {
    fn of(points: &[(f64, f64)]) -> Self {
        let mut sum = [0.0; 5];
        let mut all = vec![sum];
        for two in points.windows(2) {
            sum = added(sum, piece(two[0], two[1]));
            all.push(sum);
        }
        Self(all)
    }

    /// Up to `x`, which lies within the points.
    fn up_to(&self, points: &[(f64, f64)], x: f64) -> [f64; 5] {
        let after = points.partition_point(|(at, _)| *at <= x);
        let before = after.saturating_sub(1);
        let ((x0, y0), Some((x1, y1))) = (points[before], points.get(after)) else { return self.0[before] };
        let y = y0 + (y1 - y0) * (x - x0) / (x1 - x0);
        added(self.0[before], piece((x0, y0), (x, y)))
    }

    /// The line from which the lines between points depart least in the mean square over `from` to `to`.
    fn regression(&self, points: &[(f64, f64)], from: f64, to: f64) -> Option<StraightLine> {
        let (low, high) = (self.up_to(points, from), self.up_to(points, to));
        let [n, x, xx, y, xy] = std::array::from_fn(|moment| high[moment] - low[moment]);
        let spread = xx - x * x / n;
        let gamma = (xy - x * y / n) / spread;
        (spread > 0.0).then_some(StraightLine { from, to, intercept: (y - gamma * x) / n, gamma })
    }
}

fn added(a: [f64; 5], b: [f64; 5]) -> [f64; 5] {
    std::array::from_fn(|moment| a[moment] + b[moment])
}

/// The integrals along one straight piece, exact (Simpson's rule is, up to the third power).
fn piece((x0, y0): (f64, f64), (x1, y1): (f64, f64)) -> [f64; 5] {
    let (x, y) = (f64::midpoint(x0, x1), f64::midpoint(y0, y1));
    let simpson = |start: f64, middle: f64, end: f64| (x1 - x0) / 6.0 * (start + 4.0 * middle + end);
    [
        x1 - x0,
        simpson(x0, x, x1),
        simpson(x0 * x0, x * x, x1 * x1),
        simpson(y0, y, y1),
        simpson(x0 * y0, x * y, x1 * y1),
    ]
}

/// Evenly spaced places of a spline from one log exposure to another, and its densities there.
fn along(spline: &Spline, from: f64, to: f64) -> Option<Vec<(f64, f64)>> {
    let count = ((to - from) / SPACING).ceil().max(4.0) as usize;
    let place = |i: usize| (from + (to - from) * i as f64 / count as f64).min(to);
    (0..=count).map(place).map(|at| Some((at, spline.density(at)?))).collect()
}

/// The first and last point of the straight stretch, and the regression line through it.
fn settle(points: &[(f64, f64)]) -> Option<(usize, usize, StraightLine)> {
    let (mut first, mut last) = steepest(points)?;
    let middle = middle(points, first, last)?;
    let mut line = regression(&points[first..=last])?;
    for _ in 0..TURNS {
        let stays = |at: &usize| (points[*at].1 - line.density(points[*at].0)).abs() <= TOLERANCE;
        let low = (0..middle).rev().take_while(stays).last().unwrap_or(middle);
        let high = (middle + 1..points.len()).take_while(stays).last().unwrap_or(middle);
        if (low, high) == (first, last) {
            break;
        }
        (first, last) = (low, high);
        line = regression(&points[first..=last])?;
    }
    Some((first, last, line))
}

/// The point nearest to the middle between two.
fn middle(points: &[(f64, f64)], first: usize, last: usize) -> Option<usize> {
    let middle = f64::midpoint(points[first].0, points[last].0);
    let away = |at: &usize| (points[*at].0 - middle).abs();
    (first..=last).min_by(|a, b| away(a).total_cmp(&away(b)))
}

/// The ends of the steepest stretch of [`STRETCH`], or of little more where points lie coarsely.
fn steepest(points: &[(f64, f64)]) -> Option<(usize, usize)> {
    let reach = |first: usize| {
        let last = first + points[first..].partition_point(|(x, _)| x - points[first].0 < STRETCH - 1e-9);
        let ((from, low), (to, high)) = (points[first], *points.get(last)?);
        Some((first, last, (high - low) / (to - from)))
    };
    let stretches = (0..points.len()).filter_map(reach);
    stretches.max_by(|a, b| a.2.total_cmp(&b.2)).map(|(first, last, _)| (first, last))
}

/// The regression line through points; `None` through fewer than two places.
fn regression(points: &[(f64, f64)]) -> Option<StraightLine> {
    let n = points.len() as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |sum, (x, y)| (sum.0 + x / n, sum.1 + y / n));
    let (xx, xy) = points.iter().fold((0.0, 0.0), |sum, (at, density)| {
        let away = at - x;
        (sum.0 + away * away, sum.1 + away * (density - y))
    });
    let gamma = xy / xx;
    let (from, to) = (points.first()?.0, points.last()?.0);
    (xx > 0.0).then_some(StraightLine { from, to, intercept: y - gamma * x, gamma })
}

/// The regression line through `spline` over the range of `line`.
pub(super) fn line_through(spline: &Spline, line: &StraightLine) -> Option<StraightLine> {
    regression(&along(spline, line.from.max(spline.from), line.to.min(spline.to))?)
}

/// The furthest departure of the best curve from its straight line between its ends, and how the same is taken of another curve.
#[derive(Debug, Clone, Copy)]
pub(super) struct Departure {
    /// Curve minus line.
    pub(super) value: f64,
    /// Where, lg H.
    at: f64,
    line: StraightLine,
}

impl Departure {
    /// At the ends the curve leaves its line: what is asked for is the largest peak or valley between them.
    pub(super) fn furthest(curve: &Curve, line: &StraightLine) -> Option<Self> {
        let points = along(&curve.best, line.from.max(curve.best.from), line.to.min(curve.best.to))?;
        let departures: Vec<f64> = points.iter().map(|(x, density)| density - line.density(*x)).collect();
        let turns = |three: &[f64]| (three[1] - three[0]) * (three[2] - three[1]) <= 0.0;
        let inner = departures.windows(3).enumerate().filter(|(_, three)| turns(three));
        let (at, value) = inner
            .map(|(before, three)| (points[before + 1].0, three[1]))
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        Some(Self { value, at, line: *line })
    }

    /// The departure of `spline` at the same place from the line through itself.
    pub(super) fn along(&self, spline: &Spline) -> Option<f64> {
        Some(spline.density(self.at)? - line_through(spline, &self.line)?.density(self.at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: by hand. Beyond a bend of 0.3 in slope a line of even slope is left at once; one of 0.01 is no bend.
    #[test]
    fn a_bend_ends_the_line_and_one_within_the_tolerance_does_not() {
        let x = |i: u32| 0.15 * f64::from(i);
        let bent = |size: f64| -> Vec<(f64, f64)> {
            (0..13)
                .map(|i| (x(i), 0.3 + 0.6 * x(i) + if i > 8 { size * (x(i) - x(8)) } else { 0.0 }))
                .collect()
        };
        let whole = straight_stretch(&bent(0.01)).unwrap();
        assert!(whole.from <= 0.0 && whole.to >= x(12));
        let part = straight_stretch(&bent(-0.3)).unwrap();
        assert!(part.from <= 0.0 && (part.to - x(8)).abs() < 0.16, "{part:?}");
        assert!((part.gamma - 0.6).abs() < 0.01);
    }

    /// Source: by hand. About the middle of `a x - b x³` the regression line over -L to L has the slope `a - 0.6 b L²`, from which
    /// the ends depart by `0.4 b L³`, which is 0.02 for b = 0.05 at L = 1; between them it departs by most where `3 x² = 0.6 L²`, by
    /// `0.4 b L³ (0.2)^(1/2)`.
    #[test]
    fn the_line_through_a_bow_on_either_side_is_that_of_the_formula() {
        let points: Vec<(f64, f64)> = (-1500..=1500)
            .map(|i| 1e-3 * f64::from(i))
            .map(|x| (x, 1.0 + 0.6 * x - 0.05 * x * x * x))
            .collect();
        let line = straight_stretch(&points).unwrap();
        assert!((line.from + 1.0).abs() < 0.01 && (line.to - 1.0).abs() < 0.01, "{line:?}");
        assert!((line.gamma - 0.57).abs() < 1e-3, "{line:?}");
    }

    #[test]
    fn an_even_base_is_no_straight_line_where_there_is_a_steeper_one() {
        let film = |i: i32| {
            let x = 0.1 * f64::from(i);
            (x, 0.2 + 0.7 * (x - 3.0).max(0.0))
        };
        let line = straight_stretch(&(0..50).map(film).collect::<Vec<_>>()).unwrap();
        assert!(line.from >= 2.9 - 1e-9 && (line.gamma - 0.7).abs() < 0.01, "{line:?}");
        assert_eq!(straight_stretch(&[(0.0, 0.1), (0.3, 0.2)]), None);
    }
}
