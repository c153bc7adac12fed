//! Films whose curves are closed forms. None is the program's spline, and none is one form alone: each is a mixture of two
//! forms out of four, so that no model the program may fit is the truth.

use super::chance::Chance;
use super::truth;

/// A published form of the characteristic curve; net density over log H, its place arbitrary.
#[derive(Debug, Clone, Copy)]
enum Form {
    /// A softplus toe, `L = (g/m) lg(1 + 10^(m x))`, and a shoulder that bends it under `top`: `L / (1 + (L/top)^p)^(1/p)`.
    ToeAndShoulder { gradient: f64, toe: f64, top: f64, knee: f64 },
    /// The logistic with an exponent (F. J. Richards, J. Exp. Bot. 10 (1959)): `top (1 + exp(-k x))^(-1/nu)`. The plain one
    /// has a toe that no film has: softer than one quantum for a latent image allows.
    Logistic { top: f64, rate: f64, nu: f64 },
    /// F. Hurter and V. C. Driffield (1890): `g lg(O - (O - 1) exp(-H))`.
    HurterDriffield { gradient: f64, opacity: f64 },
    /// M. Green, Appl. Spectrosc. 7 (1953): `top 10^-(H^-n)`.
    Green { top: f64, n: f64 },
}

impl Form {
    fn draw(chance: &mut Chance) -> Self {
        let gradient = chance.between(0.50, 0.90);
        match (chance.between(0.0, 4.0)) as u8 {
            0 => Self::ToeAndShoulder {
                gradient,
                toe: chance.between(1.2, 3.0),
                top: chance.between(1.8, 3.2),
                knee: chance.between(3.0, 8.0),
            },
            1 => Self::logistic(gradient, chance.between(2.0, 3.0), chance.between(1.0, 2.0)),
            2 => Self::HurterDriffield {
                gradient,
                opacity: 10.0_f64.powf(chance.between(1.8, 3.0) / gradient),
            },
            // The steepest slope is top n ln 10 / e.
            _ => {
                let top = chance.between(2.5, 4.0);
                let steepest = std::f64::consts::LN_10 / std::f64::consts::E;
                Self::Green { top, n: gradient / (top * steepest) }
            }
        }
    }

    /// Steepest slope `gradient`; far down the toe, density goes with exposure to the power of `toe`.
    fn logistic(gradient: f64, top: f64, toe: f64) -> Self {
        let power = toe * std::f64::consts::LN_10;
        // At its steepest, where exp(-k x) = nu, the slope is top k (1 + nu)^-(1 + 1/nu), with k = power nu.
        let slope = |nu: f64| top * power * nu * (1.0 + nu).powf(-1.0 - 1.0 / nu);
        let nu = truth::bisect(|nu| slope(nu) - gradient, 1e-6, 50.0).unwrap_or(0.3);
        Self::Logistic { top, rate: power * nu, nu }
    }

    fn net(self, x: f64) -> f64 {
        match self {
            Self::ToeAndShoulder { gradient, toe, top, knee } => {
                let line = gradient / toe * 10.0_f64.powf(toe * x).ln_1p() / std::f64::consts::LN_10;
                line / (1.0 + (line / top).powf(knee)).powf(1.0 / knee)
            }
            Self::Logistic { top, rate, nu } => top * (1.0 + (-rate * x).exp()).powf(-1.0 / nu),
            Self::HurterDriffield { gradient, opacity } => {
                // O - (O - 1) exp(-H) without cancelling at small H.
                let above = -(opacity - 1.0) * (-10.0_f64.powf(x)).exp_m1();
                gradient * above.ln_1p() / std::f64::consts::LN_10
            }
            Self::Green { top, n } => top * 10.0_f64.powf(-10.0_f64.powf(-n * x)),
        }
    }

    /// Where net density is 0.10.
    fn foot(self) -> Option<f64> {
        truth::bisect(|x| self.net(x) - 0.10, -8.0, 8.0)
    }
}

/// A film and its curve.
#[derive(Debug, Clone)]
pub(super) struct Film {
    /// Density of the unexposed film.
    pub(super) base: f64,
    /// lg H at which it is 0.10 denser.
    pub(super) speed_point: f64,
    /// Forms, the share of each, and where it has net density 0.10.
    parts: [(Form, f64, f64); 2],
    /// A hump or hollow of the middle: size, place above the speed point, width.
    wave: (f64, f64, f64),
    /// Moves the sum to net density 0.10 at the speed point.
    moved: f64,
}

impl Film {
    /// Any film whose average gradient over 1.5 lies between 0.40 and 0.90 and which rises everywhere.
    pub(super) fn draw(chance: &mut Chance) -> Self {
        loop {
            let (a, b) = (Form::draw(chance), Form::draw(chance));
            let share = chance.between(0.2, 0.8);
            let wave = (chance.between(-0.015, 0.015), chance.between(0.6, 1.6), chance.between(0.2, 0.4));
            let (base, speed_point) = (chance.between(0.15, 0.40), chance.between(-2.8, -1.6));
            let Some((foot_a, foot_b)) = a.foot().zip(b.foot()) else { continue };
            let parts = [(a, share, foot_a), (b, 1.0 - share, foot_b)];
            let mut film = Self { base, speed_point, parts, wave, moved: 0.0 };
            let Some(moved) = truth::bisect(|x| film.raw(x) - 0.10, -1.0, 1.0) else { continue };
            film.moved = moved;
            let rises = (-40..300).all(|i| {
                let x = speed_point + 0.01 * f64::from(i);
                film.density(x + 0.01) > film.density(x)
            });
            let gradient = (film.density(speed_point + 1.5) - film.density(speed_point)) / 1.5;
            if rises && (0.40..0.90).contains(&gradient) {
                return film;
            }
        }
    }

    fn raw(&self, x: f64) -> f64 {
        let (size, place, width) = self.wave;
        let forms: f64 = self.parts.iter().map(|(form, share, foot)| share * form.net(x + foot)).sum();
        forms + size * (-((x - place) / width).powi(2)).exp()
    }

    /// Density at lg H.
    pub(super) fn density(&self, log_h: f64) -> f64 {
        self.base + self.raw(log_h - self.speed_point + self.moved)
    }
}
