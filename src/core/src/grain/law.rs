//! The law of apertures (E. W. H. Selwyn, Photogr. J. 75, 1935): through apertures that are large against the grain the
//! standard deviation falls with the root of the area, `sigma sqrt(A)` is one number, and lg sigma over lg A has the slope
//! -0.5. Grain that hangs together, blur and uneven exposure make it shallower; sharpening makes it steeper.

use nalgebra::{DMatrix, DVector};
use serde::Serialize;

use super::{Granularity, math};
use crate::geometry::Rect;
use crate::measured::{Measured, Z95};
use crate::units::Micrometres;
use crate::words::{self, Sentence};

/// Diameters that are tried, in micrometres.
const DIAMETERS: [f64; 10] = [12.0, 16.0, 24.0, 32.0, 48.0, 64.0, 96.0, 128.0, 192.0, 256.0];
/// Fewest pixels that an aperture of the ladder is wide: below, it is hardly round.
const PIXELS: f64 = 3.0;
/// Fewest apertures side by side.
const APERTURES: f64 = 40.0;
/// Relative error of one aperture that is made of pixels, beside chance.
pub(super) const OF_PIXELS: f64 = 0.006;
/// A slope that is nearer to -0.5 holds for all purposes: over a doubled diameter it changes granularity by 3 %.
const NEAR: f64 = 0.02;
/// Half of an interval of the slope that says nothing.
const VAGUE: f64 = 0.15;

/// Whether it holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LawVerdict {
    /// As far as the data tell.
    Holds,
    /// Granularity falls less than the root of the area.
    Shallower,
    /// Granularity falls more.
    Steeper,
    /// The data do not tell.
    NotTold,
}

/// Granularity through one of the apertures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AperturePoint {
    /// The diameter of the aperture.
    pub aperture: Micrometres,
    /// Granularity through it, 1000 sigma.
    pub rms: Measured,
    /// sigma times the root of the area, in micrometres.
    pub root_area: Measured,
}

/// Granularity over apertures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ApertureLaw {
    /// From the smallest aperture on.
    pub points: Vec<AperturePoint>,
    /// Slope of lg sigma over lg area.
    pub slope: Measured,
    /// Whether it is that of the law.
    pub verdict: LawVerdict,
    /// The verdict with its number, for a reader.
    pub sentence: Sentence,
}

/// The diameters that an area, in pixels, and its pitch allow.
#[must_use]
pub fn aperture_ladder(area: Rect, pitch: Micrometres) -> Vec<Micrometres> {
    let holds = |diameter: &f64| {
        let pixels = diameter / pitch.0;
        let disc = core::f64::consts::FRAC_PI_4 * pixels * pixels;
        pixels >= PIXELS && area.width() * area.height() / disc >= APERTURES
    };
    DIAMETERS.into_iter().filter(holds).map(Micrometres).collect()
}

/// How much two estimates from the same area have in common, on independent grain: the squared cross-correlation of both
/// apertures against the roots of their own. What two discs share at a distance is the area of a lens.
fn common(first: f64, second: f64) -> f64 {
    let steps = 400;
    let integral = |a: f64, b: f64| {
        let width = 0.5 * (a + b) / f64::from(steps);
        let term = |k: i32| {
            let h = (f64::from(k) + 0.5) * width;
            let shared = lens(0.5 * a, 0.5 * b, h) / (a * a * b * b);
            shared * shared * h * width
        };
        (0..steps).map(term).sum::<f64>()
    };
    integral(first, second) / math::sqrt(integral(first, first) * integral(second, second))
}

/// Area that two discs of radii `r` and `s` share when their middles are `h` apart (elementary geometry).
fn lens(r: f64, s: f64, h: f64) -> f64 {
    let (r, s) = (r.max(s), r.min(s));
    if h >= r + s {
        return 0.0;
    }
    if h <= r - s {
        return core::f64::consts::PI * s * s;
    }
    let part = |a: f64, b: f64| {
        let cos = ((h * h + a * a - b * b) / (2.0 * h * a)).clamp(-1.0, 1.0);
        let sin = math::sqrt(1.0 - cos * cos);
        a * a * (math::atan2(sin, cos) - cos * sin)
    };
    part(r, s) + part(s, r)
}

/// The law from granularities of one area through several apertures.
///
/// The estimates share their grain: their covariance is that of independent grain, under which they share least, so the
/// slope's interval is if anything too wide. Generalised least squares takes it into account.
///
/// # Errors
/// Fewer than three apertures, in a sentence.
pub fn law_of_apertures(found: &[Granularity]) -> Result<ApertureLaw, Sentence> {
    let mut found: Vec<&Granularity> = found.iter().filter(|grain| grain.rms.value > 0.0).collect();
    found.sort_by(|a, b| a.aperture.0.total_cmp(&b.aperture.0));
    if found.len() < 3 {
        return Err(words::Grain::TooFewApertures.into());
    }
    let n = found.len();
    let area = |grain: &Granularity| core::f64::consts::FRAC_PI_4 * grain.aperture.0 * grain.aperture.0;
    let x: Vec<f64> = found.iter().map(|grain| math::log10(area(grain))).collect();
    let y = DVector::from_fn(n, |i, _| math::log10(found[i].rms.value));
    // Chance and what was taken off as noise; the calibration's gradient is common to all and moves no slope.
    let chance = |grain: &Granularity| {
        let alone = 1.0 / math::sqrt(2.0 * (grain.independent_apertures - 1.0).max(1.0));
        let noise = grain
            .noise
            .as_ref()
            .map_or(0.0, |taken| taken.noise.rms * taken.noise.u / (grain.rms.value * grain.rms.value));
        (alone / grain.share_of_grain(), noise)
    };
    let u: Vec<(f64, f64)> = found.iter().map(|grain| chance(grain)).collect();
    let e = core::f64::consts::LOG10_E;
    let covariance = DMatrix::from_fn(n, n, |i, j| {
        let shared = u[i].0 * u[j].0 * common(found[i].aperture.0, found[j].aperture.0);
        // An error of the noise that was taken off goes the same way in all.
        let own = if i == j { OF_PIXELS * OF_PIXELS } else { 0.0 };
        e * e * (shared + u[i].1 * u[j].1 + own)
    });
    let design = DMatrix::from_fn(n, 2, |i, k| if k == 0 { 1.0 } else { x[i] });
    let solved = covariance.cholesky().and_then(|factor| {
        let weighted = factor.solve(&design);
        let inverse = (design.transpose() * &weighted).try_inverse()?;
        let best = &inverse * (weighted.transpose() * &y);
        Some((best[1], math::sqrt(inverse[(1, 1)])))
    });
    let Some((slope, slope_u)) = solved else {
        return Err(words::Grain::AperturesNotWeighed.into());
    };
    let slope = Measured::normal(slope, slope_u);
    let verdict = verdict(&slope);
    let point = |grain: &&Granularity| {
        let scale = math::sqrt(area(grain)) / 1000.0;
        let rms = grain.rms;
        AperturePoint {
            aperture: grain.aperture,
            rms,
            root_area: Measured {
                value: rms.value * scale,
                u: rms.u * scale,
                low: rms.low * scale,
                high: rms.high * scale,
                flags: rms.flags,
            },
        }
    };
    let points: Vec<AperturePoint> = found.iter().map(point).collect();
    let sentence = sentence(&slope, verdict, &points);
    Ok(ApertureLaw { points, slope, verdict, sentence })
}

fn verdict(slope: &Measured) -> LawVerdict {
    let off = slope.value + 0.5;
    let half = Z95 * slope.u;
    if off.abs() > half && off.abs() > NEAR {
        if off > 0.0 { LawVerdict::Shallower } else { LawVerdict::Steeper }
    } else if half > VAGUE {
        LawVerdict::NotTold
    } else {
        LawVerdict::Holds
    }
}

fn sentence(slope: &Measured, verdict: LawVerdict, points: &[AperturePoint]) -> Sentence {
    let (from, to) = (points[0].aperture.0, points[points.len() - 1].aperture.0);
    let number: Sentence =
        words::Grain::LawSlope { slope: slope.value, half: Z95 * slope.u, from, to }.into();
    match verdict {
        LawVerdict::Holds => words::Grain::LawHolds { number }.into(),
        LawVerdict::Shallower => words::Grain::LawShallower { number }.into(),
        LawVerdict::Steeper => words::Grain::LawSteeper { number }.into(),
        LawVerdict::NotTold => words::Grain::LawNotTold { number }.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: points on a grid that lie in both discs.
    #[test]
    fn lens_agrees_with_counting_points() {
        for (r, s, h) in [(1.0, 1.0, 0.5), (2.0, 1.0, 1.5), (2.0, 1.0, 0.5), (1.5, 0.7, 2.1), (1.0, 1.0, 2.5)]
        {
            let fine = 800_i32;
            let at = |k: i32| (f64::from(k) + 0.5) * 6.0 / f64::from(fine) - 3.0;
            let inside = |i: i32, j: i32| {
                let (x, y) = (at(i), at(j));
                x * x + y * y < r * r && (x - h) * (x - h) + y * y < s * s
            };
            let count = (0..fine).map(|j| (0..fine).filter(|i| inside(*i, j)).count()).sum::<usize>();
            let area = count as f64 * (6.0 / f64::from(fine)).powi(2);
            assert!((lens(r, s, h) - area).abs() < 0.01, "{r} {s} {h}: {} {area}", lens(r, s, h));
        }
        assert_eq!(verdict(&Measured::normal(-0.4, 0.1)), LawVerdict::NotTold);
        assert_eq!(verdict(&Measured::normal(-0.49, 0.001)), LawVerdict::Holds);
        assert!((common(48.0, 48.0) - 1.0).abs() < 1e-9);
        assert!(common(48.0, 64.0) > common(48.0, 96.0));
        // A small disc within a large one sees all of itself: the ratio of diameters over the disc's own integral.
        let limit = 24.0 / 192.0 / super::super::correlation::disc_square();
        assert!((common(24.0, 192.0) / limit - 1.0).abs() < 0.15, "{} {limit}", common(24.0, 192.0));
    }
}
