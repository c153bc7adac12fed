//! Other published criteria of speed and contrast, on any curve given as functions. Speeds by them are no ISO speeds.

use super::speed::{CONTRAST_DENSITY, SPEED_CONSTANT};
use crate::curve::Spline;
use crate::numeric::{math, roots};

/// Log exposure over which the fractional gradient's mean is taken.
const FRACTIONAL_RANGE: f64 = 1.5;
/// Share of the mean gradient that the local gradient must reach.
const FRACTION: f64 = 0.3;
/// How finely curves are searched for the first change of sign, in log H: a fifth of a stop, as no film bends within one.
const SEARCH: f64 = 0.06;

/// Net density that a curve must come to before its gradients count: fractional-gradient points lie at 0.02 to 0.08 above
/// base+fog, ripples of what was read there lie below.
const ABOVE_FOG: f64 = 0.05;
/// Share of the highest mean gradient over 1.5 that the mean over the next 1.5 must reach: where it does not, most of that
/// range is the level foot below the toe. At the point itself it is 0.6 to 1.
const ABOVE_FOOT: f64 = 0.4;

/// The log exposure in `from`..`to` above which the local gradient exceeds 0.3 of the mean gradient over the next 1.5: down
/// from where it exceeds it most, the first at which it does not. The search ends where the toe does: ripples of a level foot,
/// where both gradients are next to nothing, do not count. `None` where the curve begins above the criterion or ends before.
/// `density` and `gradient` give `None` where they are not defined.
///
/// L. A. Jones, "The evaluation of negative film speeds in terms of print quality", J. Franklin Inst. 227 (1939);
/// L. A. Jones and C. N. Nelson, J. Opt. Soc. Am. 30 (1940), 32 (1942).
///
/// ```
/// # use twinwedge_core::figures::criteria::fractional_gradient_point;
/// // D = x²/2, up to a density of 2: x = 0.3 (x + 0.75), so x = 0.225 / 0.7.
/// let point = fractional_gradient_point(|x| Some(x * x / 2.0), |x| Some(x), 0.0, 2.0).unwrap();
/// assert!((point - 0.225 / 0.7).abs() < 1e-8);
/// ```
pub fn fractional_gradient_point(
    density: impl Fn(f64) -> Option<f64>,
    gradient: impl Fn(f64) -> Option<f64>,
    from: f64,
    to: f64,
) -> Option<f64> {
    let foot = density(from)?;
    match fraction_reached(density, gradient, (from, to), foot)? {
        Reached::At(point) => Some(point),
        Reached::Before(_) => None,
    }
}

/// Where a curve comes to the fractional gradient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Reached {
    /// At this lg H.
    At(f64),
    /// Somewhere below: it is above the criterion at its low end, or where its toe begins.
    Before(f64),
}

impl Reached {
    /// The point, or the place below which it lies.
    pub(super) fn place(self) -> f64 {
        match self {
            Self::At(place) | Self::Before(place) => place,
        }
    }
}

/// The same of a fitted curve above a base+fog.
pub(super) fn fraction_of(spline: &Spline, base_fog: f64) -> Option<Reached> {
    let ends = (spline.from, spline.to);
    fraction_reached(|x| spline.density(x), |x| spline.gradient(x), ends, base_fog)
}

fn fraction_reached(
    density: impl Fn(f64) -> Option<f64>,
    gradient: impl Fn(f64) -> Option<f64>,
    (from, to): (f64, f64),
    base_fog: f64,
) -> Option<Reached> {
    let mean = |x: f64| Some((density(x + FRACTIONAL_RANGE)? - density(x)?) / FRACTIONAL_RANGE);
    let excess = |x: f64| Some(gradient(x)? - FRACTION * mean(x)?);
    let end = to - FRACTIONAL_RANGE;
    if end <= from {
        return None;
    }
    let steps = ((end - from) / SEARCH - 1e-6).ceil() as usize;
    let at = |i: usize| from + (end - from) * i as f64 / steps as f64;
    let of = |f: &dyn Fn(f64) -> Option<f64>| -> Vec<f64> {
        (0..=steps).map(|i| f(at(i)).unwrap_or(f64::NAN)).collect()
    };
    let (excesses, means) = (of(&excess), of(&mean));
    let highest = means.iter().copied().fold(0.0, f64::max);
    let counts = |i: &usize| {
        excesses[*i] > 0.0 && density(at(*i)).is_some_and(|density| density >= base_fog + ABOVE_FOG)
    };
    let most = (0..=steps).filter(counts).max_by(|a, b| excesses[*a].total_cmp(&excesses[*b]))?;
    let ends = |i: &usize| excesses[*i] < 0.0 || means[*i] < ABOVE_FOOT * highest;
    let Some(below) = (0..most).rev().find(ends) else { return Some(Reached::Before(from)) };
    if excesses[below] >= 0.0 {
        return Some(Reached::Before(at(below + 1)));
    }
    let root = roots::bracketed(|x| excess(x).unwrap_or(f64::NAN), at(below), at(below + 1), 1e-10)?;
    Some(Reached::At(root))
}

/// Speed by the fractional-gradient point at `log_h` (lux seconds), made to agree with ISO 6 where the point lies as far
/// below the speed point as the delta-X relation says for a density gain of 0.80: by 0.296 in log H (C. N. Nelson and
/// J. L. Simonds, J. Opt. Soc. Am. 46 (1956)).
///
/// ```
/// # use twinwedge_core::figures::criteria::fractional_gradient_speed;
/// assert!((fractional_gradient_speed(0.008_f64.log10() - 0.2956) - 100.0).abs() < 1e-3);
/// ```
#[must_use]
pub fn fractional_gradient_speed(log_h: f64) -> f64 {
    SPEED_CONSTANT * math::pow(10.0, -(log_h + delta_x(CONTRAST_DENSITY)))
}

/// The first root of a function that begins below zero.
fn first_root(f: impl Fn(f64) -> Option<f64>, from: f64, to: f64) -> Option<f64> {
    if to <= from || f(from)? >= 0.0 {
        return None;
    }
    let steps = ((to - from) / SEARCH - 1e-6).ceil() as usize;
    // The last place must not fall beyond the curve by rounding.
    let at = |i: usize| (from + (to - from) * i as f64 / steps as f64).min(to);
    let i = (1..=steps).find(|i| f(at(*i)).is_some_and(|value| value >= 0.0))?;
    roots::bracketed(|x| f(x).unwrap_or(f64::NAN), at(i - 1), at(i), 1e-10)
}

/// How far the fractional-gradient point lies below the speed point, estimated from the density gained over 1.30 in
/// log H: `0.83 - 0.86 dD + 0.24 dD²`. C. N. Nelson and J. L. Simonds, J. Opt. Soc. Am. 46 (1956); coefficients recalled, the
/// value at 0.80 as quoted from the paper. A fit to many real films: single curves differ by some hundredths.
///
/// ```
/// # use twinwedge_core::figures::criteria::delta_x;
/// assert!((delta_x(0.80) - 0.296).abs() < 5e-4);
/// ```
#[must_use]
pub fn delta_x(gain: f64) -> f64 {
    0.83 - 0.86 * gain + 0.24 * gain * gain
}

/// Speed from the speed point at `log_h` (lux seconds) and the density gained over 1.30, by [`delta_x`], made to agree
/// with ISO 6 at a gain of 0.80.
///
/// ```
/// # use twinwedge_core::figures::criteria::delta_x_speed;
/// assert!((delta_x_speed(0.008_f64.log10(), 0.80) - 100.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn delta_x_speed(log_h: f64, gain: f64) -> f64 {
    fractional_gradient_speed(log_h - delta_x(gain))
}

/// Radii of the two arcs of the contrast index, in density and in log H alike.
pub const CONTRAST_INDEX_ARCS: (f64, f64) = (0.2, 2.2);

/// Contrast index and the log exposure at which its arcs are centred: the slope of the ray from a point on the base+fog
/// line that meets the curve at distances 0.2 and 2.2 from it. `density` must not fall and be defined from `from` to `to`;
/// `None` where the curve does not reach both arcs or no such ray exists.
///
/// C. J. Niederpruem, C. N. Nelson, J. A. C. Yule, "Contrast index", Photogr. Sci. Eng. 10 (1966); radii as described in
/// discussions of the construction.
///
/// ```
/// # use twinwedge_core::figures::criteria::contrast_index;
/// // A curve of slope 0.62 that rises from base+fog at once.
/// let (index, _) = contrast_index(|x| Some(0.62 * x.max(0.0)), -1.0, 4.0, 0.0).unwrap();
/// assert!((index - 0.62).abs() < 1e-6);
/// ```
pub fn contrast_index(
    density: impl Fn(f64) -> Option<f64>,
    from: f64,
    to: f64,
    base_fog: f64,
) -> Option<(f64, f64)> {
    // A point of the curve on the outer arc settles the ray: its height gives the angle, its place the centre. What is
    // left is one equation: the curve where the same ray meets the inner arc, against the ray.
    let ray = |x: f64| {
        let sine = (density(x)? - base_fog) / CONTRAST_INDEX_ARCS.1;
        let cosine = math::sqrt(1.0 - sine * sine);
        (sine > 0.0 && cosine > 0.0).then_some((x - CONTRAST_INDEX_ARCS.1 * cosine, sine, cosine))
    };
    // The inner arc meets a toe below the ray and a line on it; the difference grows as the arcs move up.
    let difference = |x: f64| {
        let (centre, sine, cosine) = ray(x)?;
        let inner = centre + CONTRAST_INDEX_ARCS.0 * cosine;
        (inner >= from)
            .then(|| density(inner))?
            .map(|reached| reached - base_fog - CONTRAST_INDEX_ARCS.0 * sine)
    };
    let steps = ((to - from) / SEARCH - 1e-6).ceil() as usize;
    let found = (0..=steps).map(|i| from + SEARCH * i as f64).find(|x| difference(*x).is_some())?;
    // The root may lie before the first place that was looked at: begin where the inner arc enters the curve.
    let (mut outside, mut first) = (found - SEARCH, found);
    for _ in 0..40 {
        let middle = 0.5 * (outside + first);
        *(if difference(middle).is_some() { &mut first } else { &mut outside }) = middle;
    }
    let outer = first_root(difference, first, to)?;
    let (centre, sine, cosine) = ray(outer)?;
    Some((sine / cosine, centre))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the parabola's root, 0.3 (x + 0.75) = x, by hand. Below it lies a long level toe with ripples that are steep
    /// against their own surroundings: they are not the foot of the curve.
    #[test]
    fn ripples_of_a_level_toe_are_not_its_foot() {
        let ripple = |x: f64| if x < -1.0 { 1e-4 * math::cos(8.0 * x) } else { 0.0 };
        let slope = |x: f64| if x < -1.0 { -8e-4 * math::sin(8.0 * x) } else { 0.0 };
        let density = |x: f64| Some(if x > 0.0 { x * x / 2.0 } else { ripple(x) });
        let gradient = |x: f64| Some(if x > 0.0 { x } else { slope(x) });
        // Up to a density of 2: where a parabola goes on for ever, its beginning is nothing beside its end.
        let point = fractional_gradient_point(density, gradient, -6.0, 2.0).unwrap();
        assert!((point - 0.225 / 0.7).abs() < 1e-8, "{point}");
        // From above the criterion there is nothing to find.
        assert!(fractional_gradient_point(density, gradient, 1.0, 5.0).is_none());
    }
}
