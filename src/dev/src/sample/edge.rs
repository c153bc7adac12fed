//! A slanted edge on each film: exposed through a knife edge in contact, so that the emulsion alone blurs it, developed with or
//! without an adjacency effect, and scanned. The truth is taken from the profile across the edge by sums of its own.

use twinwedge_core::numeric::math;

use super::chance::Chance;
use super::curve::FilmCurve;
use super::grain::{DPI, Grain};
use super::scanner::Light;

/// Micrometres to a pixel.
const PIXEL: f64 = 25_400.0 / DPI as f64;
/// Pixels along the short and the long side.
pub(super) const SIDES: (usize, usize) = (320, 420);

/// How light spreads in the emulsion: the line-spread function.
#[derive(Debug, Clone, Copy)]
pub(super) enum Blur {
    /// A Gaussian of this standard deviation, micrometres.
    Gaussian(f64),
    /// Falling off exponentially on both sides, to 1/e in so many micrometres.
    Exponential(f64),
}

/// An edge on a film.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    /// Densities of the two uniform areas.
    pub(super) densities: (f64, f64),
    pub(super) blur: Blur,
    /// Adjacency effect: how much of a difference from the neighbourhood's density is added, and how far in micrometres the
    /// developer reaches (to 1/e).
    pub(super) adjacency: Option<(f64, f64)>,
    /// Degrees from upright.
    pub(super) degrees: f64,
    /// Turned by a quarter: the edge runs across.
    pub(super) level: bool,
}

/// Places of the profile to a micrometre, and how far it reaches on both sides.
const FINE: f64 = 4.0;
const REACH: f64 = 400.0;

/// Share of the normal distribution below `z`.
fn normal(z: f64) -> f64 {
    0.5 * (1.0 + math::erf(z * core::f64::consts::FRAC_1_SQRT_2))
}

impl Blur {
    /// Share of the light that reaches a place so far inside the exposed half.
    fn share(self, distance: f64) -> f64 {
        match self {
            Self::Gaussian(sigma) => normal(distance / sigma),
            Self::Exponential(reach) => {
                let tail = 0.5 * math::exp(-distance.abs() / reach);
                if distance < 0.0 { tail } else { 1.0 - tail }
            }
        }
    }
}

/// Density across the edge, the exposed half at positive distances.
struct Profile(Vec<f64>);

impl Profile {
    fn place(index: usize) -> f64 {
        index as f64 / FINE - REACH
    }

    fn at(&self, distance: f64) -> f64 {
        let place = ((distance + REACH) * FINE).clamp(0.0, (self.0.len() - 2) as f64);
        let below = place as usize;
        self.0[below] + (self.0[below + 1] - self.0[below]) * (place - below as f64)
    }
}

impl Edge {
    fn profile(&self, curve: &FilmCurve) -> Profile {
        let exposure = |density: f64| math::pow(10.0, curve.log_h_at(density));
        let (low, high) = (exposure(self.densities.0), exposure(self.densities.1));
        let count = (2.0 * REACH * FINE) as usize + 1;
        let plain: Vec<f64> = (0..count)
            .map(|k| {
                let share = self.blur.share(Profile::place(k));
                curve.density(math::log10(low + (high - low) * share))
            })
            .collect();
        let Some((strength, reach)) = self.adjacency else { return Profile(plain) };
        // Exponential on both sides, by running sums from either end.
        let keep = math::exp(-1.0 / (reach * FINE));
        let pass = |values: &mut dyn Iterator<Item = &f64>, first: f64| -> Vec<f64> {
            let mut sum = first;
            values
                .map(|value| {
                    sum = keep * sum + (1.0 - keep) * value;
                    sum
                })
                .collect()
        };
        let before = pass(&mut plain.iter(), plain[0]);
        let mut after = pass(&mut plain.iter().rev(), plain[count - 1]);
        after.reverse();
        let around = |k: usize| 0.5 * (before[k] + after[k]);
        Profile((0..count).map(|k| plain[k] + strength * (plain[k] - around(k))).collect())
    }

    /// Width and height of its scan.
    pub(super) fn size(&self) -> (usize, usize) {
        if self.level { (SIDES.1, SIDES.0) } else { SIDES }
    }

    /// The scan's light: the profile averaged over each pixel, grain by the density there.
    pub(super) fn picture(&self, curve: &FilmCurve, grain: &Grain, chance: &mut Chance) -> Light {
        const PARTS: i32 = 6;
        let profile = self.profile(curve);
        let (width, height) = self.size();
        let (sin, cos) = math::sincos(self.degrees.to_radians());
        let noise = grain.noise((width, height), chance);
        let k = core::f64::consts::LN_10;
        let light = (0..width * height)
            .map(|index| {
                let (x, y) = (
                    (index % width) as f64 - width as f64 / 2.0,
                    (index / width) as f64 - height as f64 / 2.0,
                );
                let parts = (0..PARTS * PARTS).map(|part| {
                    let inner = |n: i32| (f64::from(n) + 0.5) / f64::from(PARTS);
                    let (x, y) = (x + inner(part % PARTS), y + inner(part / PARTS));
                    let (x, y) = if self.level { (y, x) } else { (x, y) };
                    math::pow(10.0, -profile.at((x * cos - y * sin) * PIXEL))
                });
                let mean = parts.sum::<f64>() / f64::from(PARTS * PARTS);
                let spread = k * grain.sigma(-math::log10(mean) - curve.base);
                mean * math::exp(-spread * noise[index] - 0.5 * spread * spread)
            })
            .collect();
        Light { width, height, light }
    }

    /// Density across the edge as the scanner's pixels see it: light averaged over the square pixel along the edge's normal.
    fn seen(&self, curve: &FilmCurve) -> Profile {
        let light: Vec<f64> = self.profile(curve).0.iter().map(|density| math::pow(10.0, -density)).collect();
        let (sin, cos) = math::sincos(self.degrees.to_radians());
        let seen = averaged(&averaged(&light, PIXEL * cos.abs()), PIXEL * sin.abs());
        Profile(seen.into_iter().map(|light| -math::log10(light)).collect())
    }

    /// Cycles per millimetre at which the modulation of exposure, taken back from what the pixels see, comes down to `level`: the
    /// first place on a grid of 0.5, then halved.
    pub(super) fn frequency(&self, curve: &FilmCurve, level: f64) -> f64 {
        let exposure = |density: &f64| math::pow(10.0, curve.log_h_at(*density));
        let exposures: Vec<f64> = self.seen(curve).0.iter().map(exposure).collect();
        let above = |f: f64| modulation(&exposures, f) > level;
        let mut high = 0.5;
        while above(high) && high < 400.0 {
            high += 0.5;
        }
        let mut low = high - 0.5;
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            if above(middle) { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }

    /// By how much density passes that of the uniform areas: on the dense side, on the thin side; as the pixels see it.
    pub(super) fn overshoot(&self, curve: &FilmCurve) -> (f64, f64) {
        let seen = self.seen(curve).0;
        let highest = seen.iter().copied().fold(0.0, f64::max);
        let lowest = seen.iter().copied().fold(f64::MAX, f64::min);
        // What root finding and sums leave is none.
        let over = |density: f64| if density < 1e-6 { 0.0 } else { density };
        (over(highest - self.densities.1), over(self.densities.0 - lowest))
    }
}

/// Means over `width` micrometres around every place, from the running integral.
fn averaged(values: &[f64], width: f64) -> Vec<f64> {
    let mut integral = Vec::with_capacity(values.len() + 1);
    integral.push(0.0);
    for pair in values.windows(2) {
        integral.push(integral[integral.len() - 1] + 0.5 * (pair[0] + pair[1]));
    }
    let half = 0.5 * width * FINE;
    let at = |place: f64| {
        let last = values.len() - 1;
        // Level beyond the ends.
        if place < 0.0 {
            return place * values[0];
        }
        if place >= last as f64 {
            return integral[last] + (place - last as f64) * values[last];
        }
        let below = place as usize;
        let part = place - below as f64;
        let slope = values[below + 1] - values[below];
        integral[below] + part * (values[below] + 0.5 * part * slope)
    };
    (0..values.len()).map(|k| (at(k as f64 + half) - at(k as f64 - half)) / (2.0 * half)).collect()
}

/// Modulation at `f` cycles per millimetre of a profile: the Fourier integral of its slope, by the midpoint rule, over its step.
fn modulation(exposures: &[f64], f: f64) -> f64 {
    let (mut real, mut imaginary, mut step) = (0.0, 0.0, 0.0);
    for (k, pair) in exposures.windows(2).enumerate() {
        let rise = pair[1] - pair[0];
        let middle = Profile::place(k + 1) - 0.5 / FINE;
        let (sin, cos) = math::sincos(2.0 * core::f64::consts::PI * f * middle / 1000.0);
        real += rise * cos;
        imaginary -= rise * sin;
        step += rise;
    }
    math::sqrt(real * real + imaginary * imaginary) / step.abs()
}

#[cfg(test)]
mod tests {
    use super::super::film::films;
    use super::*;

    /// Source: closed forms of Gaussian and square pixel. A step of D 0.01 is so low that light goes with exposure.
    #[test]
    fn the_truth_of_a_low_gaussian_edge_is_its_closed_form() {
        let film = &films()[0];
        let edge = Edge { densities: (0.90, 0.91), blur: Blur::Gaussian(5.0), ..film.edge };
        let (sin, cos) = math::sincos(edge.degrees.to_radians());
        let sinc = |x: f64| math::sin(x) / x;
        for level in [0.5, 0.1] {
            let found = edge.frequency(&film.curve, level);
            let pixel = core::f64::consts::PI * found * PIXEL / 1000.0;
            let z = core::f64::consts::PI * 5.0 * found / 1000.0;
            let modulation = math::exp(-2.0 * z * z) * sinc(pixel * cos) * sinc(pixel * sin);
            assert!((modulation / level - 1.0).abs() < 4e-3, "{modulation} at {found}");
        }
    }
}
