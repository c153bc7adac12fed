//! The invented films' and paper's characteristic curves in closed form, and their figures by root finding of this
//! module's own: nothing of the program under test takes part.

use twinwedge_core::numeric::math;

/// Net density of the speed point (ISO 6:1993).
const SPEED_DENSITY: f64 = 0.10;

/// A film's curve: a line of slope `gradient` that bends out of base+fog at `toe` and into D-max at `shoulder`,
/// `D = base + g/m lg(1 + 10^(m (x - toe))) - g/n lg(1 + 10^(n (x - shoulder)))`.
#[derive(Debug, Clone, Copy)]
pub(super) struct FilmCurve {
    pub(super) base: f64,
    gradient: f64,
    toe: f64,
    toe_bend: f64,
    shoulder: f64,
    shoulder_bend: f64,
}

/// What a film's curve shall do; the rest is solved.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted {
    /// Density of the unexposed, developed film.
    pub(super) base: f64,
    /// lg H at 0.10 above base+fog.
    pub(super) speed_point: f64,
    /// Density gained over 1.30 in lg H from there.
    pub(super) contrast: f64,
    /// Sharpness of the toe: larger is shorter.
    pub(super) toe_bend: f64,
    /// Sharpness of the shoulder.
    pub(super) shoulder_bend: f64,
    /// Distance of shoulder from toe in lg H.
    pub(super) latitude: f64,
}

/// Figures of a curve between two log exposures.
#[derive(Debug, Clone, Copy)]
pub(super) struct CurveFigures {
    pub(super) speed_point: f64,
    pub(super) contrast: f64,
    pub(super) average_gradient: f64,
    pub(super) maximum_gradient: f64,
    pub(super) gamma: f64,
    pub(super) straight: (f64, f64),
}

/// Where `f`, rising from `low` to `high`, is zero: halved until nothing is left to halve.
pub(super) fn root(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if f(middle) < 0.0 { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// lg(1 + 10^x) without overflow.
fn bend(x: f64) -> f64 {
    if x > 0.0 { x + math::log10(1.0 + math::pow(10.0, -x)) } else { math::log10(1.0 + math::pow(10.0, x)) }
}

/// 10^x / (1 + 10^x).
fn rise(x: f64) -> f64 {
    1.0 / (1.0 + math::pow(10.0, -x))
}

impl FilmCurve {
    /// The curve that does what is wanted.
    pub(super) fn solve(wanted: Wanted) -> Self {
        let with = |gradient: f64| {
            let mut curve = Self {
                base: wanted.base,
                gradient,
                toe: 0.0,
                toe_bend: wanted.toe_bend,
                shoulder: wanted.latitude,
                shoulder_bend: wanted.shoulder_bend,
            };
            curve.toe = wanted.speed_point - curve.speed_point();
            curve.shoulder = curve.toe + wanted.latitude;
            curve
        };
        with(root(0.2, 2.0, |gradient| with(gradient).contrast() - wanted.contrast))
    }

    /// Density at `x = lg H`.
    pub(super) fn density(&self, x: f64) -> f64 {
        let up = bend(self.toe_bend * (x - self.toe)) / self.toe_bend;
        let off = bend(self.shoulder_bend * (x - self.shoulder)) / self.shoulder_bend;
        self.base + self.gradient * (up - off)
    }

    /// The gradient dD / dx there.
    pub(super) fn slope(&self, x: f64) -> f64 {
        let up = rise(self.toe_bend * (x - self.toe));
        let off = rise(self.shoulder_bend * (x - self.shoulder));
        self.gradient * (up - off)
    }

    /// lg H at which the curve reaches `density`.
    pub(super) fn log_h_at(&self, density: f64) -> f64 {
        root(self.toe - 3.0, self.shoulder + 3.0, |x| self.density(x) - density)
    }

    fn speed_point(&self) -> f64 {
        self.log_h_at(self.base + SPEED_DENSITY)
    }

    fn contrast(&self) -> f64 {
        let speed_point = self.speed_point();
        self.density(speed_point + 1.30) - self.density(speed_point)
    }

    /// The figures that a tablet covering `from..to` should give. The straight line is where the slope is at least
    /// 0.95 of its highest (common practice, no source); its gamma is the least-squares slope there.
    pub(super) fn figures(&self, from: f64, to: f64) -> CurveFigures {
        const CELLS: u32 = 20_000;
        let at = |i: u32| from + (to - from) * (f64::from(i) + 0.5) / f64::from(CELLS);
        let speed_point = self.speed_point();
        let maximum_gradient = (0..CELLS).map(|i| self.slope(at(i))).fold(0.0, f64::max);
        let straight: Vec<f64> =
            (0..CELLS).map(at).filter(|x| self.slope(*x) >= 0.95 * maximum_gradient).collect();
        let count = straight.len() as f64;
        let mean_x = straight.iter().sum::<f64>() / count;
        let mean_d = straight.iter().map(|x| self.density(*x)).sum::<f64>() / count;
        let along: f64 = straight.iter().map(|x| (x - mean_x) * (x - mean_x)).sum();
        let rising: f64 = straight.iter().map(|x| (x - mean_x) * (self.density(*x) - mean_d)).sum();
        CurveFigures {
            speed_point,
            contrast: self.contrast(),
            average_gradient: (self.density(speed_point + 1.5) - self.density(speed_point)) / 1.5,
            maximum_gradient,
            gamma: rising / along,
            straight: (straight[0], straight[straight.len() - 1]),
        }
    }
}

/// The paper: a logistic curve over the log of the enlarger's exposure, relative to where it is steepest.
#[derive(Debug, Clone, Copy)]
pub(super) struct PaperCurve {
    pub(super) white: f64,
    pub(super) black: f64,
    pub(super) gamma: f64,
}

impl PaperCurve {
    /// Reflection density at log exposure `x`.
    pub(super) fn density(&self, x: f64) -> f64 {
        let range = self.black - self.white;
        self.white + range / (1.0 + math::exp(-4.0 * self.gamma * x / range))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve() -> FilmCurve {
        FilmCurve::solve(Wanted {
            base: 0.2,
            speed_point: -2.1,
            contrast: 0.8,
            toe_bend: 2.0,
            shoulder_bend: 1.6,
            latitude: 2.8,
        })
    }

    /// Source: the definition itself, read back through the closed form.
    #[test]
    fn a_solved_curve_does_what_was_wanted() {
        let curve = curve();
        assert!((curve.density(-2.1) - 0.30).abs() < 1e-9);
        assert!((curve.density(-0.8) - 1.10).abs() < 1e-9);
    }

    /// Source: the derivative of the closed form against a central difference.
    #[test]
    fn slope_is_the_derivative() {
        let curve = curve();
        for i in 0..40 {
            let x = -3.0 + 0.1 * f64::from(i);
            let difference = (curve.density(x + 1e-5) - curve.density(x - 1e-5)) / 2e-5;
            assert!((curve.slope(x) - difference).abs() < 1e-6 && difference > 0.0, "at {x}");
        }
    }
}
