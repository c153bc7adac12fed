//! The curve of a film as if it had been developed to another contrast.
//!
//! *From a family*: between two rolls, at each log exposure, density is taken part of the way from one roll's curve to the
//! other's; the part is the one at which the followed gradient is the wanted one. Along the law of development all
//! densities above base+fog grow in nearly the same proportion, so the way between two rolls is nearly straight.
//!
//! *From one roll*, by assumption: net densities above base+fog are multiplied by one factor (as the first-order law has it
//! for every exposure alike, S. E. Sheppard and C. E. K. Mees, 1907), which moves the speed point by itself; how far real
//! films depart from that is assumed and widens the band.
//!
//! Every draw of the predicted curve is made from a draw of the rolls' curves and of the wanted gradient.

use serde::Serialize;

use crate::curve::{Curve, Reading, Readings, Resampling, Spline};
use crate::document::{FollowedGradient, Settings};
use crate::figures::speed::{CONTRAST_RANGE, SPEED_NET_DENSITY};
use crate::figures::{StraightLine, foot};
use crate::measured::{Flags, Measured};
use crate::numeric::banded::Banded;
use crate::numeric::random::Stream;
use crate::numeric::roots;
use crate::numeric::{math, robust};
use crate::words::{self, Sentence};

/// What a prediction was made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Source {
    /// Two rolls, with the wanted gradient between theirs.
    Between,
    /// Two rolls, with the wanted gradient outside theirs.
    Beyond,
    /// One roll, by assumption.
    OneRoll,
}

/// One roll's curve, as it enters a prediction.
#[derive(Debug, Clone, Copy)]
pub struct RollCurve<'a> {
    /// The label as it is shown.
    pub label: &'a str,
    /// The curve as it was measured.
    pub curve: &'a Curve,
    /// Its straight line, needed where gamma is followed.
    pub straight: Option<StraightLine>,
}

/// A predicted curve.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Predicted {
    /// The curve, flagged as a prediction.
    pub curve: Curve,
    /// What it was made from.
    pub source: Source,
    /// Labels of the rolls that it was made from.
    pub rolls: Vec<String>,
}

/// The gradient wanted.
#[derive(Debug, Clone, Copy)]
pub struct Aim<'a> {
    /// The gradient that is wanted, as it was measured.
    pub measured: Measured,
    /// Its draws, which share their errors of tablet and light with the draws of the rolls' curves; none where it is typed.
    pub draws: Option<&'a [f64]>,
}

impl Aim<'_> {
    /// As it might be in draw `number`.
    fn drawn(&self, number: usize, stream: &mut Stream) -> f64 {
        let own = self.draws.and_then(|draws| draws.get(number)).copied().filter(|draw| draw.is_finite());
        own.unwrap_or_else(|| self.measured.value + self.measured.u * stream.normal())
    }
}

/// How far beyond two rolls a curve is carried, as a share of the way between them.
const BEYOND: f64 = 0.5;
/// How far net densities of one roll are stretched.
const STRETCH: (f64, f64) = (0.6, 1.6);
/// Standard deviation of log H by which the curve of a real film moves beside plain stretching, for each unit of the
/// logarithm of the stretch: a tenth of a stop when the gradient changes by a fifth. Common practice, no source.
const ASSUMED_SHIFT: f64 = 0.15;
/// The same for base+fog, in density. Common practice, no source.
const ASSUMED_FOG: f64 = 0.08;

/// The curve at which the followed gradient is `wanted`. `rolls` are those of the family that share a process, by time.
///
/// # Errors
/// A roll's gradient cannot be read off its curve, the wanted one lies too far from all rolls, or exposures are absolute for
/// one roll and relative for another.
pub fn predict(
    rolls: &[RollCurve<'_>],
    wanted: &Aim<'_>,
    follow: FollowedGradient,
    settings: &Settings,
) -> Result<Predicted, Sentence> {
    let follow = Follow { what: follow, range: settings.gradient_range };
    let [first, .., last] = rolls else {
        let only = rolls.first().ok_or(words::Rolls::None)?;
        return stretched(only, wanted, follow, settings);
    };
    if rolls.iter().any(|roll| roll.curve.readings.absolute != first.curve.readings.absolute) {
        let (a, b) = (first.label.to_owned(), last.label.to_owned());
        return Err(words::Rolls::MixedExposures { a, b }.into());
    }
    let gradients: Vec<Option<f64>> = rolls.iter().map(|roll| follow.of_best(roll)).collect();
    let known: Vec<(RollCurve<'_>, f64)> =
        rolls.iter().zip(&gradients).filter_map(|(roll, gradient)| Some((*roll, (*gradient)?))).collect();
    match known.as_slice() {
        [] => Err(words::Rolls::NoneHasGradient { gradient: super::family::name(follow.what) }.into()),
        [(only, _)] => stretched(only, wanted, follow, settings),
        _ => blended(&known, wanted, follow, settings),
    }
}

/// What gradient is followed.
#[derive(Debug, Clone, Copy)]
struct Follow {
    what: FollowedGradient,
    range: f64,
}

impl Follow {
    /// The gradient of a curve with that base+fog; `line` holds the ends of the straight line, for gamma.
    fn gradient(self, spline: &Spline, base: f64, line: Option<(f64, f64)>) -> Option<f64> {
        let (from, width) = match self.what {
            FollowedGradient::Gamma => {
                let (from, to) = line?;
                (from.max(spline.from), to.min(spline.to) - from.max(spline.from))
            }
            FollowedGradient::Average => (spline.log_h_at(base + SPEED_NET_DENSITY)?, self.range),
            FollowedGradient::IsoContrast => (spline.log_h_at(base + SPEED_NET_DENSITY)?, CONTRAST_RANGE),
        };
        (width > 0.0).then(|| spline.rise(from, width).map(|rise| rise / width))?
    }

    fn of_best(self, roll: &RollCurve<'_>) -> Option<f64> {
        let line = roll.straight.map(|line| (line.from, line.to));
        let best = Shape::of_best(roll.curve, roll.curve.best.clone());
        self.gradient(&best.spline, best.base(), line)
    }
}

/// A curve and its base+fog, on the knots that all have in common.
#[derive(Debug, Clone)]
struct Shape {
    spline: Spline,
    /// Base+fog where it was read.
    read: Option<f64>,
}

impl Shape {
    /// The best curve, on these knots.
    fn of_best(curve: &Curve, spline: Spline) -> Self {
        Self { spline, read: curve.readings.base_fog.map(|read| read.0) }
    }

    /// A draw of the curve, on these knots.
    fn of_draw(resampling: &Resampling, spline: Spline) -> Self {
        Self { spline, read: resampling.base_fog }
    }

    fn base(&self) -> f64 {
        self.read.unwrap_or_else(|| foot::base_fog(&self.spline))
    }

    /// `share` of the way from `self` to `other`.
    fn toward(&self, other: &Self, share: f64) -> Self {
        let mix = |a: f64, b: f64| a + share * (b - a);
        let coefficients =
            self.spline.coefficients.iter().zip(&other.spline.coefficients).map(|(a, b)| mix(*a, *b));
        let spline =
            Spline { from: self.spline.from, to: self.spline.to, coefficients: rising(coefficients) };
        Self { spline, read: Some(mix(self.base(), other.base())) }
    }

    /// Net densities multiplied.
    fn stretched(&self, factor: f64) -> Self {
        let base = self.base();
        let stretch = |density: &f64| base + factor * (density - base);
        let coefficients = rising(self.spline.coefficients.iter().map(stretch));
        Self { spline: Spline { coefficients, ..self.spline.clone() }, read: Some(base) }
    }
}

/// Coefficients that never fall: each at least the one before.
fn rising(coefficients: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut highest = f64::NEG_INFINITY;
    let lifted = coefficients.map(|coefficient| {
        highest = highest.max(coefficient);
        highest
    });
    lifted.collect()
}

/// Brings curves to common knots between two log exposures.
struct Knots {
    from: f64,
    to: f64,
    cells: usize,
}

/// Places per cell at which a curve is taken over to other knots.
const PLACES: usize = 5;

impl Knots {
    fn common(curves: &[&Curve]) -> Option<Self> {
        let from = curves.iter().map(|curve| curve.best.from).fold(f64::NEG_INFINITY, f64::max);
        let to = curves.iter().map(|curve| curve.best.to).fold(f64::INFINITY, f64::min);
        let width = curves.iter().map(|curve| curve.best.cell_width()).fold(f64::INFINITY, f64::min);
        let cells = ((to - from) / width - 1e-6).ceil() as usize;
        (to > from).then_some(Self { from, to, cells: cells.max(4) })
    }

    fn are_those_of(&self, spline: &Spline) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
        near(self.from, spline.from) && near(self.to, spline.to) && self.cells == spline.cells()
    }

    /// The same curve on these knots, by least squares where they differ; `None` where it is not defined all over.
    fn take(&self, spline: &Spline) -> Option<Spline> {
        if self.are_those_of(spline) {
            return Some(spline.clone());
        }
        self.of_function(|x| spline.density(x.clamp(spline.from, spline.to)))
    }

    fn of_function(&self, density: impl Fn(f64) -> Option<f64>) -> Option<Spline> {
        let size = self.cells + 3;
        let (mut gram, mut right) = (Banded::zero(size), vec![0.0; size]);
        let last = self.cells * PLACES;
        for place in 0..=last {
            let cell = (place / PLACES).min(self.cells - 1);
            let t = place as f64 / PLACES as f64 - cell as f64;
            let x = self.from + (self.to - self.from) * place as f64 / last as f64;
            let (weights, density) = (crate::curve::value_weights(t), density(x)?);
            for i in 0..4 {
                right[cell + i] += weights[i] * density;
                for j in 0..=i {
                    gram.add(cell + i, cell + j, weights[i] * weights[j]);
                }
            }
        }
        gram.cholesky()?.solve(&mut right);
        Some(Spline { from: self.from, to: self.to, coefficients: rising(right.into_iter()) })
    }
}

/// The pair of rolls between which `wanted` lies, else the nearest pair, by their gradients.
fn pair(gradients: &[f64], wanted: f64) -> (usize, usize) {
    let inside = (1..gradients.len()).find(|i| {
        let (a, b) = (gradients[i - 1], gradients[*i]);
        (a.min(b)..=a.max(b)).contains(&wanted)
    });
    let last = gradients.len() - 1;
    inside.map_or_else(
        || {
            let near = |i: usize| (gradients[i] - wanted).abs();
            if near(0) < near(last) { (0, 1) } else { (last - 1, last) }
        },
        |i| (i - 1, i),
    )
}

fn blended(
    known: &[(RollCurve<'_>, f64)],
    wanted: &Aim<'_>,
    follow: Follow,
    settings: &Settings,
) -> Result<Predicted, Sentence> {
    let gradients: Vec<f64> = known.iter().map(|(_, gradient)| *gradient).collect();
    let (a, b) = pair(&gradients, wanted.measured.value);
    let rolls = [known[a].0, known[b].0];
    let labels: Vec<String> = rolls.iter().map(|roll| roll.label.to_owned()).collect();
    let [one, other] = rolls.map(|roll| roll.label.to_owned());
    let knots = Knots::common(&[rolls[0].curve, rolls[1].curve])
        .ok_or_else(|| words::Rolls::NothingInCommon { one: one.clone(), other: other.clone() })?;
    let line = common_line(&rolls);
    let lost = || words::Rolls::NotLaidOver { one: one.clone(), other: other.clone() };
    let best = |roll: &RollCurve<'_>| {
        let spline = knots.take(&roll.curve.best).ok_or_else(lost)?;
        Ok::<Shape, Sentence>(Shape::of_best(roll.curve, spline))
    };
    let ends = [best(&rolls[0])?, best(&rolls[1])?];
    let share = share(&ends, wanted.measured.value, follow, line).ok_or_else(|| {
        words::Rolls::TooFarBetween { wanted: wanted.measured.value, low: gradients[a], high: gradients[b] }
    })?;
    let middle = ends[0].toward(&ends[1], share);
    let nearer = usize::from(share > 0.5);
    let drawn = |number: usize| {
        let mut stream = Stream::new(settings.seed ^ 0x9ced_1c7e, number as u64);
        let end = |which: usize| {
            let resampling = rolls[which].curve.resampled.get(number)?;
            Some((Shape::of_draw(resampling, knots.take(&resampling.spline)?), resampling))
        };
        let ((first, of_first), (second, of_second)) = (end(0)?, end(1)?);
        let of = if nearer == 0 { of_first } else { of_second };
        let ends = [first, second];
        let wanted = wanted.drawn(number, &mut stream);
        let share = self::share(&ends, wanted, follow, line).unwrap_or(share);
        Some((ends[0].toward(&ends[1], share), of))
    };
    let count = rolls.iter().map(|roll| roll.curve.resampled.len()).min().unwrap_or_default();
    let draws: Vec<(Shape, &Resampling)> = (0..count).filter_map(drawn).collect();
    let outside = !(0.0..=1.0).contains(&share);
    let mut flags = Flags::PREDICTED | rolls[0].curve.readings.flags | rolls[1].curve.readings.flags;
    flags.set(Flags::ASSUMED, outside);
    Ok(Predicted {
        curve: assemble(rolls[nearer].curve, &middle, &draws, flags),
        source: if outside { Source::Beyond } else { Source::Between },
        rolls: labels,
    })
}

/// The stretch of log exposure that lies on both straight lines.
fn common_line(rolls: &[RollCurve<'_>; 2]) -> Option<(f64, f64)> {
    let (a, b) = (rolls[0].straight?, rolls[1].straight?);
    let (from, to) = (a.from.max(b.from), a.to.min(b.to));
    (to > from).then_some((from, to))
}

/// How far from the first to the second curve the followed gradient is the wanted one.
fn share(ends: &[Shape; 2], wanted: f64, follow: Follow, line: Option<(f64, f64)>) -> Option<f64> {
    let excess = |share: f64| {
        let at = ends[0].toward(&ends[1], share);
        follow.gradient(&at.spline, at.base(), line).map_or(f64::NAN, |gradient| gradient - wanted)
    };
    let whole = roots::bracketed(excess, 0.0, 1.0, 1e-6);
    whole.or_else(|| roots::bracketed(excess, -BEYOND, 1.0 + BEYOND, 1e-6))
}

fn stretched(
    roll: &RollCurve<'_>,
    wanted: &Aim<'_>,
    follow: Follow,
    settings: &Settings,
) -> Result<Predicted, Sentence> {
    let curve = roll.curve;
    let line = roll.straight.map(|line| (line.from, line.to));
    let factor = |shape: &Shape, wanted: f64| {
        let excess = |factor: f64| {
            let at = shape.stretched(factor);
            follow.gradient(&at.spline, at.base(), line).map_or(f64::NAN, |gradient| gradient - wanted)
        };
        // A stretched-down curve may end before the range does: bounds are drawn in until both can be read.
        let ends = [STRETCH.0, 0.8, 0.9].map(|low| roots::bracketed(excess, low, STRETCH.1, 1e-6));
        ends.into_iter().flatten().next()
    };
    let own = Shape::of_best(curve, curve.best.clone());
    let found = follow.of_best(roll).ok_or_else(|| words::Rolls::RollLacksGradient {
        gradient: super::family::name(follow.what),
        label: roll.label.to_owned(),
    })?;
    let best = factor(&own, wanted.measured.value).ok_or_else(|| words::Rolls::TooFarFromOne {
        label: roll.label.to_owned(),
        found,
        wanted: wanted.measured.value,
    })?;
    let knots = Knots { from: curve.best.from, to: curve.best.to, cells: curve.best.cells() };
    let drawn = |number: usize| {
        let mut stream = Stream::new(settings.seed ^ 0x9ced_1c7e, number as u64);
        let resampling = curve.resampled.get(number)?;
        let shape = Shape::of_draw(resampling, resampling.spline.clone());
        let factor = factor(&shape, wanted.drawn(number, &mut stream)).unwrap_or(best);
        let change = math::ln(factor).abs();
        let (shift, fog) = (ASSUMED_SHIFT * change * stream.normal(), ASSUMED_FOG * change * stream.normal());
        let at = shape.stretched(factor);
        let moved = |x: f64| Some(at.spline.density((x - shift).clamp(knots.from, knots.to))? + fog);
        let spline = knots.of_function(moved)?;
        Some((Shape { spline, read: Some(at.base() + fog) }, resampling))
    };
    let draws: Vec<(Shape, &Resampling)> = (0..curve.resampled.len()).filter_map(drawn).collect();
    let flags = Flags::PREDICTED | Flags::ASSUMED | curve.readings.flags;
    Ok(Predicted {
        curve: assemble(curve, &own.stretched(best), &draws, flags),
        source: Source::OneRoll,
        rolls: vec![roll.label.to_owned()],
    })
}

/// The predicted curve, with the readings of `like` moved along with it: each keeps its distance from the curve.
fn assemble(like: &Curve, best: &Shape, draws: &[(Shape, &Resampling)], flags: Flags) -> Curve {
    let inside = |point: &Reading| (best.spline.from..=best.spline.to).contains(&point.log_h);
    let points: Vec<Reading> = like
        .readings
        .points
        .iter()
        .filter(|point| inside(point))
        .filter_map(|point| {
            let gained = best.spline.density(point.log_h)? - like.best.density(point.log_h)?;
            Some(Reading { density: point.density + gained, ..*point })
        })
        .collect();
    let residuals =
        points.iter().map(|point| Some(best.spline.density(point.log_h)? - point.density)).collect();
    // What the rolls say of base+fog holds for the prediction, whether it was read or follows from their low ends.
    let bases: Vec<f64> = draws.iter().map(|(shape, _)| shape.base()).collect();
    let base_fog = Some((best.base(), robust::standard_deviation(&bases).unwrap_or(0.0)));
    let resampled = draws.iter().map(|(shape, of)| Resampling {
        spline: shape.spline.clone(),
        log_h_shift: of.log_h_shift,
        levels: of.levels.clone(),
        base_fog: Some(shape.base()),
        uniform: of.uniform,
    });
    Curve {
        resampled: resampled.collect(),
        residuals,
        misfit: like.misfit,
        error_scale: like.error_scale,
        outliers: Vec::new(),
        goodness: like.goodness,
        model: None,
        levels: like.levels.clone(),
        best: best.spline.clone(),
        readings: Readings { points, base_fog, flags, ..like.readings.clone() },
    }
}
