//! Overshoot on both sides of the edge, in density, and whether film or scanner made it.

use serde::Serialize;

use super::locate::RISE;
use super::resample::{Blocks, smooth_lobes};
use super::spread::Spread;
use super::texture::Texture;
use super::transfer::Window;
use crate::measured::Measured;
use crate::numeric::math;
use crate::words::{self, Sentence};

/// One side's overshoot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Lobe {
    /// By how much density passes that of the uniform area beside it, at the highest place: above it on the dense side, below it
    /// on the thin one. Below zero where it does not.
    pub height: Measured,
    /// The same over the step of density.
    pub share: f64,
    /// Distance of that place from the edge, micrometres.
    pub distance_um: f64,
    /// From there outwards to where a third of it (1/e) is left, micrometres; none where nothing stands out of the grain.
    pub width_um: Option<f64>,
    /// Whether it stands out of the grain: above three standard uncertainties and a hundredth of the step.
    pub seen: bool,
}

/// What made an overshoot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// There is none that stands out of the grain.
    NoneSeen,
    /// The developer, at the edges of dense areas.
    Adjacency,
    /// Sharpening by scanner or scanning program.
    Sharpening,
    /// The data do not tell.
    Unclear,
}

impl Cause {
    /// The overshoot as a reader is told it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::NoneSeen => "no overshoot seen",
            Self::Adjacency => "overshoot of the film: adjacency effect",
            Self::Sharpening => "overshoot of the scan: sharpened",
            Self::Unclear => "overshoot; film and scanner cannot be told apart",
        }
    }
}

/// Both sides, and what made them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Overshoot {
    /// On the side of the higher density.
    pub dense: Lobe,
    /// On the side of the lower density.
    pub thin: Lobe,
    /// What made them.
    pub cause: Cause,
    /// Why that is thought.
    pub reason: Sentence,
}

impl Overshoot {
    /// The larger share of the step that stands out of the grain.
    #[must_use]
    pub fn share(&self) -> f64 {
        [self.dense, self.thin].iter().filter(|lobe| lobe.seen).map(|lobe| lobe.share).fold(0.0, f64::max)
    }
}

/// What is looked at beside the edge itself.
pub(super) struct Beside<'a> {
    /// The grain of the uniform areas.
    pub(super) texture: Option<Texture>,
    /// Highest modulus and its frequency, cycles per pixel.
    pub(super) peak: (f64, f64),
    /// The scanner's own edge.
    pub(super) scanner: Option<&'a Overshoot>,
    /// Micrometres to a pixel on the film, and of the scanner's own edge.
    pub(super) pitch: f64,
    pub(super) scanner_pitch: f64,
}

/// Measures both sides of the edge-spread function.
pub(super) fn overshoot(
    spread: &Spread,
    blocks: &Blocks,
    window: Window,
    sigma: f64,
    beside: &Beside<'_>,
) -> Overshoot {
    let count = spread.light.len();
    // The uniform areas: where the window has ended, if the box goes well beyond.
    let from = if window.end < 0.75 * spread.reach() { window.end } else { window.flat };
    let mean = |light: &[f64], left: bool| {
        let far = |k: &usize| if left { spread.distance(*k) < -from } else { spread.distance(*k) > from };
        let far: Vec<f64> = (0..count).filter(far).map(|k| light[k]).collect();
        -math::log10((far.iter().sum::<f64>() / far.len().max(1) as f64).max(1e-9))
    };
    let levels = [mean(&spread.light, true), mean(&spread.light, false)];
    let step = (levels[0] - levels[1]).abs();
    let dense_left = levels[0] > levels[1];
    let kernel = (0.25 * RISE * sigma).max(0.4);
    let shown = smooth_lobes(&spread.light, kernel);
    let lobe = |left: bool| {
        let sign = if left == dense_left { 1.0 } else { -1.0 };
        let level = levels[usize::from(!left)];
        let off = |light: &[f64], level: f64, k: usize| sign * (-math::log10(light[k].max(1e-9)) - level);
        let inside = |k: &usize| {
            let d = spread.distance(*k) * if left { -1.0 } else { 1.0 };
            d > 0.5 * sigma && d < window.flat
        };
        let at = (0..count)
            .filter(inside)
            .max_by(|a, b| off(&shown, level, *a).total_cmp(&off(&shown, level, *b)));
        let at = at.unwrap_or(0);
        let height = off(&shown, level, at);
        let figure = |light: &[f64]| Some(off(&smooth_lobes(light, kernel), mean(light, left), at));
        let u = blocks.uncertainty(spread, &figure).unwrap_or(f64::INFINITY);
        let seen = height > 3.0 * u && height > 0.01 * step;
        let distance = spread.distance(at).abs();
        let fallen = (0..count).filter(inside).filter(|k| spread.distance(*k).abs() > distance);
        let fallen = fallen.filter(|k| off(&shown, level, *k) < height * math::exp(-1.0));
        let end = fallen.map(|k| spread.distance(k).abs()).fold(f64::INFINITY, f64::min);
        Lobe {
            height: Measured::with_interval(
                height,
                u,
                height - blocks.quantile * u,
                height + blocks.quantile * u,
            ),
            share: height / step.max(1e-9),
            distance_um: distance * beside.pitch,
            width_um: (seen && end.is_finite()).then_some((end - distance) * beside.pitch),
            seen,
        }
    };
    let (left, right) = (lobe(true), lobe(false));
    let (dense, thin) = if dense_left { (left, right) } else { (right, left) };
    let mut found = Overshoot { dense, thin, cause: Cause::NoneSeen, reason: Sentence::default() };
    (found.cause, found.reason) = cause(&found, beside);
    found
}

/// Film or scanner.
fn cause(found: &Overshoot, beside: &Beside<'_>) -> (Cause, Sentence) {
    let share = found.share();
    if share <= 0.0 {
        let most = found.dense.height.high.max(found.thin.height.high).max(0.0);
        return (Cause::NoneSeen, words::Edge::NothingStandsOut { most }.into());
    }
    if let Some(scanner) = beside.scanner {
        if scanner.cause != Cause::NoneSeen {
            let like = scanner.share() > 0.5 * share;
            let width = |of: &Overshoot, pitch: f64| {
                [of.dense, of.thin].iter().filter(|l| l.seen).filter_map(|l| l.width_um).fold(0.0, f64::max)
                    / pitch
            };
            let (own, other) = (width(found, beside.pitch), width(scanner, beside.scanner_pitch));
            if like && own < 2.0 * other.max(0.5) {
                let percent = 100.0 * scanner.share();
                let why = words::Edge::ScannerOvershoots { percent }.into();
                return (Cause::Sharpening, why);
            }
        }
        let most = |lobe: &Lobe| lobe.height.high * lobe.share / lobe.height.value;
        if most(&scanner.dense).max(most(&scanner.thin)) < 0.5 * share {
            return (Cause::Adjacency, words::Edge::ScannerDoesNot.into());
        }
    }
    by_texture(beside)
}

/// A filter that raises the edge raises the grain at the same frequencies; a developer does not.
fn by_texture(beside: &Beside<'_>) -> (Cause, Sentence) {
    let (peak, frequency) = beside.peak;
    let Some(texture) = &beside.texture else {
        return (Cause::Unclear, words::Edge::NoTexture.into());
    };
    let (ratio, u) = texture.raised(frequency);
    let per_mm = 1000.0 * frequency / beside.pitch;
    let said: Sentence = words::Edge::GrainPower { per_mm, ratio, u: 1.96 * u }.into();
    if ratio - 2.6 * u > 1.0 {
        return (Cause::Sharpening, words::Edge::GrainRaised { said }.into());
    }
    if peak > 1.04 && ratio + 2.6 * u < (1.0 + peak * peak) / 2.0 {
        let expected = peak * peak;
        return (Cause::Adjacency, words::Edge::GrainNotRaised { said, expected }.into());
    }
    (Cause::Unclear, words::Edge::GrainUndecided { said }.into())
}
