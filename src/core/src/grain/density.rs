//! Granularity over density: the uniform areas of one film as a curve, read at a density that none of them has.
//!
//! Between two areas the variance is interpolated along density, which is exact where grains of one size add their densities
//! (H. Siedentopf, Phys. Z. 38, 1937: sigma^2 in proportion to net density); what interpolating sigma itself would give
//! instead is counted as uncertainty. Beyond the areas, and from a single one, the same law carries a little way, marked as
//! a prediction.

use serde::Serialize;

use super::math;
use crate::measured::{Flags, Measured, Value, Z95};
use crate::scan::SharedError;
use crate::words::{self, Sentence};

/// Net densities up to this factor apart are reached by the square-root law.
const FAR: f64 = 1.45;
/// Standard uncertainty of its exponent (common practice, no source): a half, within some three tenths.
const EXPONENT_U: f64 = 0.15;
/// Least net density from which it is carried on.
const LEAST_NET: f64 = 0.1;
/// Densities nearer than this are one density.
const SAME: f64 = 0.02;

/// One uniform area.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GrainPoint {
    /// Number of the area: 0 the film's first.
    pub area: usize,
    /// Its mean density.
    pub density: f64,
    /// RMS granularity, times 1000.
    pub rms: Measured,
    /// The calibration's part in its error.
    #[serde(skip_serializing_if = "shares_nothing")]
    pub gradient: SharedError,
}

fn shares_nothing(gradient: &SharedError) -> bool {
    gradient.parts.is_empty()
}

/// How a granularity at a density was had.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// An area has that density.
    Measured,
    /// Between two areas.
    Interpolated,
    /// Carried on by the square-root law from an area of that density.
    SquareRoot(f64),
}

impl How {
    /// How it was had, as a reader is told it.
    #[must_use]
    pub fn words(&self) -> Sentence {
        match self {
            Self::Measured => words::At::Measured,
            Self::Interpolated => words::At::Interpolated,
            Self::SquareRoot(from) => words::At::SquareRoot { from: *from },
        }
        .into()
    }
}

/// A granularity at a density, and how it was had.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GrainAt {
    /// RMS granularity, times 1000.
    pub rms: Measured,
    /// How it was had from the areas.
    pub how: How,
    /// The calibration's part in its error.
    pub gradient: SharedError,
}

/// The uniform areas of one film.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GranularityCurve {
    /// By rising density.
    pub points: Vec<GrainPoint>,
    /// Areas that could not be measured: number, and why.
    pub failed: Vec<(usize, Sentence)>,
    /// Base+fog, or why it is not known.
    pub base: Result<Measured, Sentence>,
    /// What must be known about the curve, in sentences.
    pub notes: Vec<Sentence>,
}

impl GranularityCurve {
    /// A curve from areas in any order.
    #[must_use]
    pub fn new(
        mut points: Vec<GrainPoint>,
        failed: Vec<(usize, Sentence)>,
        base: Result<Measured, Sentence>,
    ) -> Self {
        points.sort_by(|a, b| a.density.total_cmp(&b.density));
        Self { points, failed, base, notes: Vec::new() }
    }

    /// Granularity at a density.
    ///
    /// # Errors
    /// The areas do not reach so far, in a sentence.
    pub fn at(&self, density: f64) -> Result<GrainAt, Sentence> {
        let near = self
            .points
            .iter()
            .min_by(|a, b| (a.density - density).abs().total_cmp(&(b.density - density).abs()));
        let Some(near) = near else {
            return Err(self
                .failed
                .first()
                .map_or_else(|| words::Grain::NoArea.into(), |(_, why)| why.clone()));
        };
        if (near.density - density).abs() <= SAME {
            return Ok(GrainAt { rms: near.rms, how: How::Measured, gradient: near.gradient.clone() });
        }
        let above = self.points.iter().position(|point| point.density > density);
        match above {
            Some(above) if above > 0 => Ok(between(&self.points[above - 1], &self.points[above], density)),
            _ => self.carried(near, density),
        }
    }

    /// Granularity at net density 1.0, as ISO 10505 practice refers it.
    ///
    /// # Errors
    /// Base+fog is not known, or the areas do not reach so far, in a sentence.
    pub fn at_net_one(&self) -> Result<GrainAt, Sentence> {
        let base = self
            .base
            .as_ref()
            .map_err(|why| Sentence::from(words::Grain::NoNetDensity { why: why.clone() }))?;
        let mut found = self.at(base.value + 1.0)?;
        // By the square-root law an error of base+fog moves granularity by half of it, relative to net density 1.
        let u = 0.5 * base.u * found.rms.value;
        found.rms = widened(&found.rms, u);
        Ok(found)
    }

    fn carried(&self, near: &GrainPoint, density: f64) -> Result<GrainAt, Sentence> {
        let base = self.base.as_ref().map_err(|why| {
            Sentence::from(words::Grain::NoAreaOfDensity { density, near: near.density, why: why.clone() })
        })?;
        let (from, to) = (near.density - base.value, density - base.value);
        let factor = to / from;
        if from < LEAST_NET || to < LEAST_NET || !(1.0 / FAR..=FAR).contains(&factor) {
            return Err(words::Grain::NearestTooFar { near: near.density, density }.into());
        }
        let scale = math::sqrt(factor);
        let scaled = Measured {
            value: near.rms.value * scale,
            u: near.rms.u * scale,
            low: near.rms.low * scale,
            high: near.rms.high * scale,
            flags: near.rms.flags | Flags::PREDICTED,
        };
        let u = EXPONENT_U * math::ln(factor).abs() * scaled.value;
        let (how, gradient) = (How::SquareRoot(near.density), near.gradient.clone());
        Ok(GrainAt { rms: widened(&scaled, u), how, gradient })
    }
}

/// Between two areas.
fn between(low: &GrainPoint, high: &GrainPoint, density: f64) -> GrainAt {
    let share = (density - low.density) / (high.density - low.density);
    let square = |value: f64| value * value;
    let mixed = |a: f64, b: f64| (1.0 - share) * a + share * b;
    let (a, b) = (&low.rms, &high.rms);
    let variance = mixed(square(a.value), square(b.value));
    let value = math::sqrt(variance);
    let side = |end: fn(&Measured) -> f64| {
        let off = |of: &Measured| square(end(of).max(0.0)) - square(of.value);
        math::hypot((1.0 - share) * off(a), share * off(b))
    };
    let measured = Measured {
        value,
        u: math::hypot((1.0 - share) * a.value * a.u, share * b.value * b.u) / value.max(f64::MIN_POSITIVE),
        low: math::sqrt((variance - side(|m| m.low)).max(0.0)),
        high: math::sqrt(variance + side(|m| m.high)),
        flags: a.flags | b.flags,
    };
    // Through one calibration both are wrong together: the variance of the sum has twice their covariance beside.
    let weight = |share: f64, of: &Measured| share * square(of.value) / variance.max(f64::MIN_POSITIVE);
    let (of_a, of_b) = (weight(1.0 - share, a), weight(share, b));
    let common = 2.0 * of_a * of_b * low.gradient.common(&high.gradient) * variance;
    let gradient = low.gradient.mixed(of_a, &high.gradient, of_b);
    let measured = measured.with_variance(common);
    let other = mixed(a.value, b.value);
    GrainAt { rms: widened(&measured, (value - other).abs()), how: How::Interpolated, gradient }
}

/// With a further standard uncertainty, in squares on each side.
fn widened(of: &Measured, u: f64) -> Measured {
    let side = |end: f64| math::hypot(end - of.value, Z95 * u);
    Measured {
        value: of.value,
        u: math::hypot(of.u, u),
        low: (of.value - side(of.low)).max(0.0),
        high: of.value + side(of.high),
        flags: of.flags,
    }
}

/// Candidate's over the reference's: relative half intervals add in squares, and what the calibration's gradient does to both
/// is counted as common.
#[must_use]
pub fn grain_ratio(
    (reference, of_reference): (&Measured, &SharedError),
    (candidate, of_candidate): (&Measured, &SharedError),
) -> Value {
    if reference.value <= 0.0 || candidate.value <= 0.0 {
        return Value::Undefined(words::Grain::NoFluctuation.into());
    }
    let ratio = candidate.value / reference.value;
    let relative = |end: f64, of: &Measured| (end / of.value - 1.0).abs();
    let low = math::hypot(relative(candidate.low, candidate), relative(reference.high, reference));
    let high = math::hypot(relative(candidate.high, candidate), relative(reference.low, reference));
    let alone = Measured {
        value: ratio,
        u: ratio * math::hypot(candidate.u / candidate.value, reference.u / reference.value),
        low: ratio * (1.0 - low),
        high: ratio * (1.0 + high),
        flags: reference.flags | candidate.flags,
    };
    let mut found = alone.with_variance(-2.0 * ratio * ratio * of_reference.common(of_candidate));
    found.low = found.low.max(0.0);
    Value::Known(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(density: f64, rms: f64) -> GrainPoint {
        let rms = Measured::normal(rms, 0.02 * rms);
        GrainPoint { area: 0, density, rms, gradient: SharedError::default() }
    }

    fn root(density: f64) -> f64 {
        10.0 * (density - 0.25).sqrt()
    }

    fn curve(densities: &[f64], base: Result<Measured, Sentence>) -> GranularityCurve {
        GranularityCurve::new(densities.iter().map(|d| point(*d, root(*d))).collect(), Vec::new(), base)
    }

    /// Source: Siedentopf's law, sigma in proportion to the root of net density.
    #[test]
    fn the_square_root_law_is_read_between_and_a_little_beyond() {
        let base = Ok(Measured::normal(0.25, 0.01));
        let several = curve(&[1.9, 0.5, 1.05], base.clone());
        let between = several.at(0.8).unwrap();
        assert!((between.rms.value - root(0.8)).abs() < 1e-9 && between.how == How::Interpolated);
        assert!(!between.rms.flags.contains(Flags::PREDICTED));
        assert_eq!(several.at(1.05).unwrap().how, How::Measured);
        assert!((several.at_net_one().unwrap().rms.value - 10.0).abs() < 1e-9);
        let single = curve(&[1.05], base);
        let carried = single.at_net_one().unwrap();
        assert!((carried.rms.value - 10.0).abs() < 1e-9 && carried.rms.flags.contains(Flags::PREDICTED));
        assert!(carried.rms.u > single.points[0].rms.u);
        assert!(single.at(2.2).unwrap_err().contains("too far"));
        assert!(single.at(0.3).is_err());
    }

    #[test]
    fn without_base_fog_nothing_is_referred() {
        let single = curve(&[1.0], Err("No unexposed area was read.".into()));
        assert!(single.at_net_one().unwrap_err().contains("Net density"));
        assert!(single.at(1.2).unwrap_err().contains("base+fog"));
        assert!(curve(&[0.8, 1.6], Err(Sentence::default())).at(1.2).is_ok());
        assert!(
            GranularityCurve::new(Vec::new(), vec![(0, "too small".into())], Err(Sentence::default()))
                .at(1.0)
                .unwrap_err()
                .contains("too small")
        );
    }
}
