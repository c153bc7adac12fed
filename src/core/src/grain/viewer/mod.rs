//! Graininess for a viewer: the noise power spectrum through the eye, for a print of chosen enlargement, distance and density.
//!
//! *Visible granularity* is the standard deviation of print density as the eye weights it: the film's spectrum times the
//! square of the paper's gradient, each frequency weighted by the square of a contrast sensitivity function whose peak is
//! set to 1. It ranks films; it is no threshold.
//!
//! The threshold is Barten's own: noise of spectral density `P` has, in the area `X Y` over which the eye adds up, a
//! modulation `2 sqrt(P / (X Y))` (Barten 1999, chapter 2, from memory), and where that times the sensitivity to gratings is 1
//! at any frequency, the grain is taken to be seen. It is an estimate, and says what it assumes.

mod csf;
mod smooth;

pub use csf::{Csf, Eye, cycles_per_degree};

use serde::Serialize;

use super::spectrum::{Spectrum, root};
use crate::document::Viewing;
use crate::measured::{Flags, Measured, Value, Z95};
use crate::numeric::math;
use crate::words::{self, Sentence};
use csf::per_degree;
use smooth::Smooth;

/// Light on the print, lux: practical appraisal by ISO 3664:2009, condition P2 (from memory).
pub const LUX: f64 = 500.0;
/// Gradient of a paper that was not tested: from 0.04 over white to nine tenths of a net maximum density of 2.1 over an ISO
/// range of R110, a usual grade (the definition of ISO 6846; the densities are common practice, no source).
pub const USUAL_GRADIENT: f64 = 1.7;
/// Enlargements between which a threshold is looked for.
const ENLARGEMENTS: (f64, f64) = (1.0, 100.0);
/// A share of the eye's response that the spectrum must not miss unsaid.
const MISSED: f64 = 0.05;

/// Where the gradient from film to print comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum GradientSource {
    /// The tested paper at this print density.
    Tested,
    /// No paper was tested, or it does not reach this density: a usual one.
    Assumed,
    /// The grain was measured on the print itself.
    OnPrint,
}

/// One film's spectrum and what lies between it and the print.
#[derive(Debug, Clone, Copy)]
pub struct Side<'a> {
    /// The film's label.
    pub label: &'a str,
    /// Its spectrum, on the film.
    pub spectrum: &'a Spectrum,
    /// Print density over film density.
    pub gradient: f64,
    /// Where that comes from.
    pub source: GradientSource,
}

/// One film's grain as it is seen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Seen {
    /// The film's label.
    pub label: String,
    /// Print density over film density.
    pub gradient: f64,
    /// Where that comes from.
    pub source: GradientSource,
    /// 1000 times the standard deviation of print density through the eye (Barten).
    pub visible: Measured,
    /// The same by Mannos and Sakrison.
    pub second: Measured,
    /// The grain's modulation over that of a grating at its threshold, where that is highest: seen from 1 on.
    pub modulation: Measured,
    /// Where it is highest, cycles per degree, and on the film, cycles per millimetre.
    pub strongest: (f64, f64),
    /// Least enlargement at which the grain is seen from this distance.
    pub from: Value,
    /// Mean density of the area on the film.
    pub density: f64,
    /// What the spectrum does not reach for this print.
    pub notes: Vec<Sentence>,
}

/// Grain as it is seen in prints: one film's, or two.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Viewed {
    /// How the print is looked at.
    pub viewing: Viewing,
    /// Its luminance, candelas per square metre.
    pub luminance: f64,
    /// How the reference's grain is seen.
    pub reference: Seen,
    /// The candidate, where there is one.
    pub candidate: Option<Seen>,
    /// Visible granularity of the candidate over the reference's.
    pub ratio: Option<Measured>,
    /// Least enlargement at which the difference between the two is seen from this distance.
    pub difference: Option<Value>,
    /// Whether it is seen in this print; `None` where the data do not tell.
    pub difference_seen: Option<bool>,
    /// What all of it supposes.
    pub assumptions: Vec<Sentence>,
}

impl Seen {
    /// Whether the grain is seen in this print; `None` where its interval holds the threshold.
    #[must_use]
    pub fn seen(&self) -> Option<bool> {
        told(&self.modulation)
    }
}

fn told(modulation: &Measured) -> Option<bool> {
    if modulation.low >= 1.0 {
        Some(true)
    } else if modulation.high < 1.0 {
        Some(false)
    } else {
        None
    }
}

/// The print's luminance in candelas per square metre: that of a diffuse reflector.
#[must_use]
pub fn luminance(print_density: f64) -> f64 {
    LUX * math::pow(10.0, -print_density) / core::f64::consts::PI
}

/// Standard deviation of film density through the eye for a spectrum given as a function of the frequency on the film
/// (cycles per millimetre; density squared times square micrometres): `sqrt(integral of NPS V^2)`, V the function over its
/// peak.
#[must_use]
pub fn weighted_sigma(power: impl Fn(f64) -> f64, viewing: &Viewing, csf: &Csf) -> f64 {
    math::sqrt(over_plane(
        |frequency| power(frequency) * weight(csf, viewing)(frequency),
        viewing,
        (0.0, f64::INFINITY),
    ))
}

/// Squared weight of a frequency on the film.
fn weight<'a>(csf: &'a Csf, viewing: &'a Viewing) -> impl Fn(f64) -> f64 + use<'a> {
    let (_, peak) = csf.peak();
    move |frequency| {
        let share = csf.at(cycles_per_degree(frequency, viewing.enlargement, viewing.distance_mm)) / peak;
        share * share
    }
}

/// Integral over rings of the plane of frequencies on the film, per square micrometre, within a range of cycles per
/// millimetre.
fn over_plane(of: impl Fn(f64) -> f64, viewing: &Viewing, range: (f64, f64)) -> f64 {
    const PARTS: usize = 4000;
    // The eye sees nothing beyond 60 cycles per degree.
    let scale = cycles_per_degree(1.0, viewing.enlargement, viewing.distance_mm);
    let (low, high) = (range.0, range.1.min(60.0 / scale));
    if high <= low {
        return 0.0;
    }
    let step = (high - low) / PARTS as f64;
    let part = |k: usize| {
        let at = low + (k as f64 + 0.5) * step;
        of(at) * core::f64::consts::TAU * at
    };
    (0..PARTS).map(part).sum::<f64>() * step * 1e-6
}

/// How the grain of one film, or of two, is seen in prints.
#[must_use]
pub fn viewed(reference: &Side<'_>, candidate: Option<&Side<'_>>, viewing: Viewing) -> Viewed {
    let luminance = luminance(viewing.print_density);
    let eye = Eye::at(luminance);
    let smooth = Smooth::of(reference);
    let of_reference = seen(reference, &smooth, &viewing, eye);
    let of_candidate = candidate.map(|side| (seen(side, &Smooth::of(side), &viewing, eye), Smooth::of(side)));
    let ratio = of_candidate.as_ref().zip(candidate).map(|((seen, _), side)| {
        let common = reference.spectrum.gradient.common(&side.spectrum.gradient);
        ratio(&seen.visible, &of_reference.visible, common)
    });
    let differences = of_candidate.as_ref().map(|(_, other)| other.less(&smooth));
    let difference = differences.as_ref().map(|between| {
        let of = |shift: f64| {
            threshold(&viewing, |viewing| {
                strongest(between, shift, viewing, eye).map_or(0.0, |found| found.0)
            })
        };
        enlargement(of(0.0), of(Z95), of(-Z95)).ok_or(()).map_or_else(
            |()| Value::Undefined(words::Viewer::NoDifferenceSeen { enlargement: ENLARGEMENTS.1 }.into()),
            Value::Known,
        )
    });
    let difference_seen = differences.and_then(|between| {
        let at = |shift: f64| strongest(&between, shift, &viewing, eye).map_or(0.0, |found| found.0);
        if at(-Z95) >= 1.0 {
            Some(true)
        } else if at(Z95) < 1.0 {
            Some(false)
        } else {
            None
        }
    });
    Viewed {
        viewing,
        luminance,
        assumptions: assumptions(reference, candidate, &viewing, luminance, eye),
        reference: of_reference,
        candidate: of_candidate.map(|(seen, _)| seen),
        ratio,
        difference,
        difference_seen,
    }
}

fn seen(side: &Side<'_>, smooth: &Smooth, viewing: &Viewing, eye: Eye) -> Seen {
    let barten = Csf::Barten(eye);
    let visible = |csf: &Csf| root(&side.spectrum.weighted(weight(csf, viewing)), 1000.0 * side.gradient);
    let at = |shift: f64| strongest(smooth, shift, viewing, eye);
    let (value, frequency, on_film) = at(0.0).unwrap_or((0.0, 0.0, 0.0));
    let (low, high) = (at(-Z95).map_or(0.0, |found| found.0), at(Z95).map_or(0.0, |found| found.0));
    let modulation = Measured::with_interval(value, (high - low) / (2.0 * Z95), low, high);
    let of = |shift: f64| {
        threshold(viewing, |viewing| strongest(smooth, shift, viewing, eye).map_or(0.0, |found| found.0))
    };
    let from = enlargement(of(0.0), of(Z95), of(-Z95)).map_or_else(
        || Value::Undefined(words::Viewer::NotSeen { enlargement: ENLARGEMENTS.1 }.into()),
        |found| Value::Known(found.flagged(side.spectrum.zero.flags | Flags::ASSUMED)),
    );
    Seen {
        label: side.label.to_owned(),
        gradient: side.gradient,
        source: side.source,
        visible: visible(&barten),
        second: visible(&Csf::MannosSakrison),
        modulation: modulation.flagged(side.spectrum.zero.flags | Flags::ASSUMED),
        strongest: (frequency, on_film),
        from,
        density: side.spectrum.mean_density.number(),
        notes: reach(side.spectrum, viewing, &barten),
    }
}

/// What of the eye's response lies outside the measured frequencies.
fn reach(spectrum: &Spectrum, viewing: &Viewing, csf: &Csf) -> Vec<Sentence> {
    let weight = weight(csf, viewing);
    let part = |range| over_plane(&weight, viewing, range);
    let all = part((0.0, f64::INFINITY)).max(f64::MIN_POSITIVE);
    let (below, above) =
        (part((0.0, spectrum.lowest())) / all, part((spectrum.highest(), f64::INFINITY)) / all);
    let mut notes = Vec::new();
    if below > MISSED {
        notes.push(
            words::Viewer::BelowSpectrum { percent: 100.0 * below, frequency: spectrum.lowest() }.into(),
        );
    }
    if above > MISSED {
        notes.push(
            words::Viewer::AboveSpectrum { percent: 100.0 * above, frequency: spectrum.highest() }.into(),
        );
    }
    notes
}

/// The grain's modulation over that of a grating at threshold, where it is highest: that, cycles per degree, and cycles per
/// millimetre on the film. The power is shifted by so many of its standard uncertainties.
fn strongest(power: &Smooth, shift: f64, viewing: &Viewing, eye: Eye) -> Option<(f64, f64, f64)> {
    const STEPS: u32 = 96;
    let csf = Csf::Barten(eye);
    let scale = cycles_per_degree(1.0, viewing.enlargement, viewing.distance_mm);
    // Print density per micrometre of film, over a degree: square degrees from square micrometres.
    let degree = per_degree(viewing.distance_mm) / viewing.enlargement * 1000.0;
    let at = |k: u32| {
        let frequency = 0.5 * math::pow(80.0, f64::from(k) / f64::from(STEPS));
        let on_film = frequency / scale;
        let power = power.at(on_film, shift)? / (degree * degree);
        let modulation =
            2.0 * core::f64::consts::LN_10 * math::sqrt(power.max(0.0) * Eye::per_area(frequency));
        Some((modulation * csf.at(frequency), frequency, on_film))
    };
    (0..=STEPS).filter_map(at).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Where a threshold lies among the enlargements.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Threshold {
    Below,
    At(f64),
    Beyond,
}

/// Least enlargement at which a modulation, which grows with it, reaches 1.
fn threshold(viewing: &Viewing, modulation: impl Fn(&Viewing) -> f64) -> Threshold {
    let at = |lg: f64| modulation(&Viewing { enlargement: math::pow(10.0, lg), ..*viewing });
    let (mut low, mut high) = (math::log10(ENLARGEMENTS.0), math::log10(ENLARGEMENTS.1));
    if at(low) >= 1.0 {
        return Threshold::Below;
    }
    if at(high) < 1.0 {
        return Threshold::Beyond;
    }
    for _ in 0..24 {
        let middle = (low + high) / 2.0;
        if at(middle) < 1.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Threshold::At(math::pow(10.0, (low + high) / 2.0))
}

/// An enlargement from the best threshold and those of the ends of its interval: more power is seen earlier.
fn enlargement(best: Threshold, early: Threshold, late: Threshold) -> Option<Measured> {
    let number = |threshold: Threshold| match threshold {
        Threshold::Below => ENLARGEMENTS.0,
        Threshold::At(found) => found,
        Threshold::Beyond => ENLARGEMENTS.1,
    };
    let flags = match best {
        Threshold::Beyond => return None,
        Threshold::Below => Flags::UPPER_BOUND,
        Threshold::At(_) => Flags::empty(),
    };
    let (low, high) = (number(early), number(late));
    let found = Measured::with_interval(number(best), (high - low) / (2.0 * Z95), low, high);
    Some(found.flagged(flags | Flags::ASSUMED))
}

/// One standard deviation over another, whose relative errors have a covariance; symmetric in the logarithm.
fn ratio(over: &Measured, under: &Measured, common: f64) -> Measured {
    if under.value <= 0.0 || over.value <= 0.0 {
        return Measured::with_interval(f64::NAN, f64::NAN, f64::NAN, f64::NAN);
    }
    let value = over.value / under.value;
    let square = |of: &Measured| of.u * of.u / (of.value * of.value);
    let relative = math::sqrt((square(over) + square(under) - 2.0 * common).max(0.0));
    let factor = math::exp(Z95 * relative);
    Measured::with_interval(value, value * relative, value / factor, value * factor)
        .flagged(over.flags | under.flags)
}

fn assumptions(
    reference: &Side<'_>,
    candidate: Option<&Side<'_>>,
    viewing: &Viewing,
    luminance: f64,
    eye: Eye,
) -> Vec<Sentence> {
    let mut list = vec![
        words::Viewer::Print { density: viewing.print_density, lux: LUX, luminance, pupil: eye.pupil_mm }
            .into(),
    ];
    for side in [Some(reference), candidate].into_iter().flatten() {
        list.push(match side.source {
            GradientSource::Tested => {
                words::Viewer::GradientTested { label: side.label.to_owned(), gradient: side.gradient }.into()
            }
            GradientSource::Assumed => {
                words::Viewer::GradientAssumed { label: side.label.to_owned(), gradient: side.gradient }
                    .into()
            }
            GradientSource::OnPrint => words::Viewer::OnPrint { label: side.label.to_owned() }.into(),
        });
    }
    list.push(words::Viewer::AsMeasured.into());
    list.push(words::Viewer::EnlargerLosesNothing.into());
    list.push(words::Viewer::Contrast.into());
    if candidate.is_some() {
        list.push(words::Viewer::DifferenceSeen.into());
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_threshold_is_where_the_modulation_is_one() {
        let viewing = Viewing::default();
        let found = threshold(&viewing, |viewing| viewing.enlargement / 12.5);
        assert!(matches!(found, Threshold::At(at) if (at - 12.5).abs() < 1e-4));
        assert_eq!(threshold(&viewing, |_| 2.0), Threshold::Below);
        assert_eq!(threshold(&viewing, |_| 0.5), Threshold::Beyond);
    }

    #[test]
    fn a_ratio_has_an_interval_symmetric_in_its_logarithm() {
        let found = ratio(&Measured::normal(4.0, 0.12), &Measured::normal(2.0, 0.08), 0.0);
        assert!((found.value - 2.0).abs() < 1e-12 && (found.u - 0.1).abs() < 1e-12);
        assert!((found.low * found.high - 4.0).abs() < 1e-9);
        // 3 and 4 % make 5, and with 12 (%)^2 in common 1 %.
        let shared = ratio(&Measured::normal(4.0, 0.12), &Measured::normal(2.0, 0.08), 12e-4);
        assert!((shared.u - 0.02).abs() < 1e-12);
    }
}
