//! What the scanner's own blur takes from a granularity.
//!
//! Grain of the noise power spectrum W, seen by a scanner of the modulation transfer M and through an aperture of the transfer A,
//! has the variance `Int W |M|^2 |A|^2 d2f` (E. W. H. Selwyn, Photogr. J. 75, 1935, in the plane of frequencies; J. C. Dainty and R.
//! Shaw, *Image Science*, 1974). Of white grain, W being constant, the share
//! `Int |M|^2 |A|^2 d2f / Int |A|^2 d2f = area * Int |M|^2 |A|^2 d2f` is left, for `|A|^2` of a disc sums to one over its area.
//!
//! The aperture is one of pixels: its transfer repeats beyond the sampling frequency, and what the scanner passes there is
//! folded into the measurement. Both are in the sum over pairs of pixels that Parseval's theorem makes of the integral: weights
//! times weights times `R(h) = 2 pi Int M(f)^2 J0(2 pi f h) f df`, h being their distance. A scanner that is no more than its
//! square pixels leaves independent grain whole, as it must.
//!
//! Where the film's own spectrum is known free of the scanner's noise, its grain need not be white: the measured spectrum is
//! `P = W |M|^2`, so what the scanner took is the root of `Int P |A|^2 / |M|^2 d2f` over `Int P |A|^2 d2f`. That goes up to where
//! M, or the sampling, still tells W from P; beyond, W lies between nothing and its last value.

use std::collections::BTreeMap;

use serde::Serialize;

use super::law::OF_PIXELS;
use super::spectrum::Spectrum;
use super::{Granularity, aperture_weights, left_by_blur, math};
use crate::measured::{Flags, Measured, Z95};
use crate::sharpness::{MtfPoint, ScannerEdge};
use crate::units::Micrometres;
use crate::words::{self, Sentence};

/// What told a loss.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LossBy {
    /// How far neighbouring pixels of the area hang together: by the scanner or by the grain itself, which is not known.
    Pixels,
    /// The scanner's own edge.
    ScannerEdge,
}

/// Whose spectrum the grain is taken to have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LossOf {
    /// White grain's, which loses most.
    White,
    /// The film's own.
    OwnSpectrum,
}

/// What the scanner took from a granularity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Loss {
    /// What told it.
    pub by: LossBy,
    /// Of which grain.
    pub of: LossOf,
    /// Share by which granularity is higher without the scanner's blur: 0.1 for a tenth; below zero where the scanner sharpens.
    /// Grain that hangs together by itself loses less than white grain. By pixels alone it is an upper bound.
    pub share: Measured,
}

impl Loss {
    /// By the blur that the correlation of pixels would be that of.
    pub(super) fn by_pixels(blur: Micrometres, aperture: Micrometres) -> Self {
        let most = 1.0 / left_by_blur(blur, aperture) - 1.0;
        // Anything from none to all of it.
        let share = Measured::with_interval(most, most / math::sqrt(12.0), 0.0, most);
        Self { by: LossBy::Pixels, of: LossOf::White, share: share.flagged(Flags::UPPER_BOUND) }
    }

    /// By the scanner's own edge.
    fn by_edge(scanner: &ScannerEdge, aperture: Micrometres, pitch: Micrometres) -> Self {
        let [value, low, high] = left_by_scanner(scanner, aperture, pitch);
        let of = |left: f64| 1.0 / left.max(1e-3) - 1.0;
        let (value, low, high) = (of(value), of(high), of(low));
        let pixels = OF_PIXELS * (1.0 + value);
        let side = |end: f64| math::hypot(end - value, Z95 * pixels);
        let u = math::hypot((high - low) / (2.0 * Z95), pixels);
        let share = Measured::with_interval(value, u, value - side(low), value + side(high));
        Self { by: LossBy::ScannerEdge, of: LossOf::White, share }
    }

    /// By the scanner's own edge for the grain of a spectrum; `None` where the spectrum and the scanner have no frequencies in
    /// common that tell.
    fn of_own(scanner: &ScannerEdge, aperture: Micrometres, spectrum: &Spectrum) -> Option<Self> {
        let points = scanner.points();
        let reaches = points.iter().take_while(|point| point.value >= LEAST_MODULATION).last()?.frequency;
        let end = reaches.min(UNFOLDED * spectrum.highest());
        if end < 2.0 * spectrum.lowest() {
            return None;
        }
        let disc = |frequency: f64| {
            let x = core::f64::consts::PI * frequency / 1000.0 * aperture.0;
            let transfer = if x < 1e-6 { 1.0 } else { 2.0 * math::j1(x) / x };
            transfer * transfer
        };
        // What lies beyond, of white grain of unit power.
        let x = core::f64::consts::PI * end / 1000.0 * aperture.0;
        let (j0, j1) = (math::j0(x), math::j1(x));
        let area = core::f64::consts::FRAC_PI_4 * aperture.0 * aperture.0;
        let beyond = (j0 * j0 + j1 * j1) / area;
        let seen = spectrum.weighted(disc).value;
        if seen <= 0.0 {
            return None;
        }
        let within = |curve: Curve, frequency: f64| {
            let m = modulation(points, frequency, curve).max(0.5 * LEAST_MODULATION);
            if frequency <= end { disc(frequency) / (m * m) } else { 0.0 }
        };
        let whole = |curve: Curve, share: f64| {
            let m = modulation(points, end, curve).max(0.5 * LEAST_MODULATION);
            let last = spectrum.around(end).map_or(0.0, |power| power.value.max(0.0)) / (m * m);
            let inner = spectrum.weighted(|frequency| within(curve, frequency)).value;
            math::sqrt((inner + share * beyond * last) / seen)
        };
        let value = whole(Curve::Best, 0.5);
        // Chance in the spectrum goes into both integrals: their ratio's is that of their difference.
        let square = value * value;
        let chance = spectrum.weighted(|frequency| within(Curve::Best, frequency) - square * disc(frequency));
        let chance = chance.u / seen / (2.0 * value);
        let side = |transfer: Curve, tail: f64| {
            let parts = [
                whole(transfer, 0.5) - value,
                whole(Curve::Best, tail) - value,
                Z95 * chance,
                Z95 * OF_PIXELS * value,
            ];
            math::sqrt(parts.iter().map(|part| part * part).sum())
        };
        // A scanner that passes more has taken less.
        let (low, high) = (value - side(Curve::High, 0.0), value + side(Curve::Low, 1.0));
        let share = Measured::with_interval(value - 1.0, (high - low) / (2.0 * Z95), low - 1.0, high - 1.0);
        Some(Self { by: LossBy::ScannerEdge, of: LossOf::OwnSpectrum, share })
    }
}

/// Modulation of the scanner below which the film's spectrum is not had by division (common practice, no source).
const LEAST_MODULATION: f64 = 0.3;
/// Share of the highest frequency of a scan up to which little is folded into its spectrum from beyond: at its mirror image, 1.3
/// times the highest, scanners pass a tenth at most.
const UNFOLDED: f64 = 0.7;

impl Granularity {
    /// Lets the scanner's own edge tell what its blur took, in place of the pixels: of the grain of the area's spectrum, which must
    /// be free of the scanner's noise, else of white grain. The edge is one of scans of the same pitch.
    pub fn seen_by(&mut self, scanner: &ScannerEdge, spectrum: Option<&Spectrum>) {
        let own = spectrum.and_then(|spectrum| Loss::of_own(scanner, self.aperture, spectrum));
        self.loss = Some(own.unwrap_or_else(|| Loss::by_edge(scanner, self.aperture, self.pitch)));
    }

    /// What the grain has without the scanner's blur, both uncertainties joined in squares; `None`
    /// where the scanner's own edge was not measured.
    #[must_use]
    pub fn without_scanner(&self) -> Option<Measured> {
        let share = self.loss.filter(|loss| loss.by == LossBy::ScannerEdge)?.share;
        let (rms, factor) = (self.rms, 1.0 + share.value);
        let side = |end: f64, of_loss: f64| {
            math::hypot(factor * (end - rms.value), rms.value * (of_loss - share.value))
        };
        let value = rms.value * factor;
        let found = Measured::with_interval(
            value,
            math::hypot(factor * rms.u, rms.value * share.u),
            value - side(rms.low, share.low),
            value + side(rms.high, share.high),
        );
        Some(found.flagged(rms.flags))
    }

    /// The loss in a sentence; `None` where there is none worth telling.
    #[must_use]
    pub fn loss_in_words(&self) -> Option<Sentence> {
        /// A possible loss below this share is not worth telling where the scanner's edge was not measured.
        const BLURRED: f64 = 0.02;
        let loss = self.loss?;
        let percent = |share: f64| 100.0 * share.abs();
        let share = loss.share;
        match loss.by {
            LossBy::Pixels if share.value > BLURRED => {
                let blur = self.texture.as_ref()?.blur?.0;
                Some(words::Grain::BlurLoss { blur, percent: 100.0 * share.value }.into())
            }
            LossBy::Pixels => None,
            LossBy::ScannerEdge if share.high < 0.0 => Some(
                words::Grain::ReadsTooHigh {
                    percent: percent(share.value),
                    low: percent(share.high),
                    high: percent(share.low),
                }
                .into(),
            ),
            LossBy::ScannerEdge => {
                let raised = words::Grain::BlurredByEdge {
                    own_spectrum: loss.of == LossOf::OwnSpectrum,
                    percent: percent(share.value),
                    low: percent(share.low.max(0.0)),
                    high: percent(share.high),
                };
                Some(raised.into())
            }
        }
    }
}

/// Share of the granularity of white grain that a scanner leaves through an aperture: the best estimate and both ends of the 95 %
/// interval. The errors of the transfer function at all frequencies are taken to go the same way, which makes the interval too
/// wide if anything. Beyond the last measured frequency it is taken to lie between nothing and a straight fall to one cycle per
/// pixel, where the square pixel lets nothing through.
fn left_by_scanner(scanner: &ScannerEdge, aperture: Micrometres, pitch: Micrometres) -> [f64; 3] {
    let disc = aperture_weights(aperture.0 / pitch.0);
    let reach = disc.reach() as isize;
    let sum = disc.sum();
    // Pairs of pixels by the square of their distance.
    let mut pairs: BTreeMap<isize, f64> = BTreeMap::new();
    for dy in 0..=2 * reach {
        for dx in 0..=2 * reach {
            let times = if dx > 0 { 2.0 } else { 1.0 } * if dy > 0 { 2.0 } else { 1.0 };
            let common: f64 = (dy - reach..=reach)
                .flat_map(|y| (dx - reach..=reach).map(move |x| (x, y)))
                .map(|(x, y)| disc.at(x, y) * disc.at(x - dx, y - dy))
                .sum();
            if common > 0.0 {
                *pairs.entry(dx * dx + dy * dy).or_default() += times * common;
            }
        }
    }
    let area = disc.effective_area() * pitch.0 * pitch.0;
    [Curve::Best, Curve::Low, Curve::High].map(|curve| {
        let squares = squares(scanner.points(), pitch, curve);
        let of = |(square, common): (&isize, &f64)| {
            common * correlation(&squares, math::sqrt(*square as f64) * pitch.0)
        };
        math::sqrt((area * pairs.iter().map(of).sum::<f64>() / (sum * sum)).max(0.0))
    })
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Curve {
    Best,
    Low,
    High,
}

/// Modulation at a frequency in cycles per millimetre: between the measured points, at the ends as there.
fn modulation(points: &[MtfPoint], per_mm: f64, curve: Curve) -> f64 {
    let value = |point: &MtfPoint| match curve {
        Curve::Best => point.value,
        Curve::Low => point.low,
        Curve::High => point.high,
    };
    let above = points.partition_point(|point| point.frequency < per_mm);
    match (above.checked_sub(1).map(|below| &points[below]), points.get(above)) {
        (Some(a), Some(b)) => {
            value(a) + (value(b) - value(a)) * (per_mm - a.frequency) / (b.frequency - a.frequency)
        }
        (None, Some(only)) | (Some(only), None) => value(only),
        (None, None) => 0.0,
    }
}

/// Frequency in cycles per micrometre, squared modulation times `2 pi f df`.
fn squares(points: &[MtfPoint], pitch: Micrometres, curve: Curve) -> Vec<(f64, f64)> {
    const STEPS: usize = 400;
    let end = 1.0 / pitch.0;
    let at = |frequency: f64| -> f64 {
        let per_mm = 1000.0 * frequency;
        let Some(last) = points.last().filter(|last| last.frequency < per_mm) else {
            return modulation(points, per_mm, curve);
        };
        let left = (1000.0 * end - last.frequency).max(f64::MIN_POSITIVE);
        let fall = modulation(points, last.frequency, curve) * (1000.0 * end - per_mm).max(0.0) / left;
        match curve {
            Curve::Best => 0.5 * fall,
            Curve::Low => 0.0,
            Curve::High => fall,
        }
    };
    let step = end / STEPS as f64;
    let part = |k: usize| {
        let frequency = (k as f64 + 0.5) * step;
        let seen = at(frequency).max(0.0);
        (frequency, seen * seen * core::f64::consts::TAU * frequency * step)
    };
    (0..STEPS).map(part).collect()
}

/// `2 pi Int M^2 J0(2 pi f h) f df`, per square micrometre.
fn correlation(squares: &[(f64, f64)], distance: f64) -> f64 {
    let turn = core::f64::consts::TAU * distance;
    squares.iter().map(|(frequency, square)| square * math::j0(turn * frequency)).sum()
}
