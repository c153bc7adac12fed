//! Subjects and flare: how long the subject's range is, and what stray light in the camera leaves of it.
//!
//! Flare is taken as even light added to the image, `H' = H + Hf` (L. A. Jones and H. R. Condit, J. Opt. Soc. Am. 31 (1941),
//! recalled). The *flare factor* is subject range over image range, both as ratios.

use crate::numeric::math;
use crate::units::STOP;

/// A mean flare factor of cameras as textbooks give it (0.40 in log H), recalled.
pub const TEXTBOOK_FLARE_FACTOR: f64 = 2.5;

/// The log range of a subject of so many stops.
///
/// ```
/// # use twinwedge_core::tone::log_range;
/// assert!((log_range(7.0) - 2.10721).abs() < 1e-5);
/// ```
#[must_use]
pub fn log_range(stops: f64) -> f64 {
    stops * STOP
}

/// The log range of the image of a subject of log range `range`, where flare adds `flare` times the exposure of the darkest
/// tone everywhere: `lg((10^R + f) / (1 + f))`.
///
/// ```
/// # use twinwedge_core::tone::image_range;
/// assert!((image_range(2.2, 1.0) - 1.901702).abs() < 1e-6);
/// ```
#[must_use]
pub fn image_range(range: f64, flare: f64) -> f64 {
    math::log10((math::pow(10.0, range) + flare) / (1.0 + flare))
}

/// Flare in units of the exposure of the darkest tone that makes subject range over image range, both as ratios, equal to
/// `factor`: `f = 10^R (F - 1) / (10^R - F)`, from the formula of [`image_range`]. `None` for a factor below 1, or one that
/// leaves no range.
///
/// ```
/// # use twinwedge_core::tone::flare_of_factor;
/// // A subject of 2.20 shortened to 1.80.
/// assert!((flare_of_factor(2.2, 10_f64.powf(0.4)).unwrap() - 1.53623).abs() < 1e-4);
/// ```
#[must_use]
pub fn flare_of_factor(range: f64, factor: f64) -> Option<f64> {
    let ratio = math::pow(10.0, range);
    (factor >= 1.0 && factor < ratio).then(|| ratio * (factor - 1.0) / (ratio - factor))
}

/// The mean gradient at which an image of log range `image` takes up the negative density range `densities`.
///
/// ```
/// # use twinwedge_core::tone::required_gradient;
/// assert!((required_gradient(1.05, 2.20 - 0.40) - 0.583333).abs() < 1e-6);
/// ```
#[must_use]
pub fn required_gradient(densities: f64, image: f64) -> f64 {
    densities / image
}

/// Even light added to the image, in lux seconds or in the unit of the films' own relative exposure.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Veil(pub f64);

impl Veil {
    /// lg H at the film of a tone that would have `log_h` without flare.
    #[must_use]
    pub fn over(self, log_h: f64) -> f64 {
        if self.0 > 0.0 { math::log10(math::pow(10.0, log_h) + self.0) } else { log_h }
    }

    /// lg H without flare of what the film receives; `None` where flare alone gives more.
    #[must_use]
    pub fn without(self, log_h: f64) -> Option<f64> {
        let rest = math::pow(10.0, log_h) - self.0;
        (rest > 0.0).then(|| if self.0 > 0.0 { math::log10(rest) } else { log_h })
    }

    /// Slope of [`Veil::over`]: what flare leaves of the subject's contrast at a tone.
    ///
    /// ```
    /// # use twinwedge_core::tone::Veil;
    /// // As much flare as light: half the contrast.
    /// assert!((Veil(0.01).gradient(-2.0) - 0.5).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn gradient(self, log_h: f64) -> f64 {
        let own = math::pow(10.0, log_h);
        own / (own + self.0)
    }
}
