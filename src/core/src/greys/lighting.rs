//! Was the light of two frames the same? A grey card, a white, a black and a grey scale that stand at two places of the subject
//! tell uneven and changed light, flare and wrong exposure apart, because each moves the greys in its own way:
//!
//! - a wrong exposure moves all greys at both places alike;
//! - uneven light moves all greys at one place against the other;
//! - flare lifts dark greys more than light ones, at both places;
//! - light of another colour moves no grey at all, but warm colours against cold ones. On two films that cannot be told from the
//!   films' own rendering; it takes a frame on the same film.
//!
//! The model: `lg H = level of the place + lg(R + flare)`, R a grey's reflectance, flare as a share of a white's light.

use nalgebra::{Matrix3, Vector3};
use serde::Serialize;

use super::holm;
use super::spectrum::Spectrum;
use crate::measured::Measured;
use crate::numeric::{math, quantiles};
use crate::units::{Density, STOP, Stops};

/// A grey at a place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GreyAt {
    /// Its known reflectance density.
    pub density: f64,
    /// lg of the exposure that the film received.
    pub log_h: f64,
    /// Standard uncertainty of that.
    pub u: f64,
}

/// The greys of one frame at both places.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    /// At the first place and at the second.
    pub places: [&'a [GreyAt]; 2],
}

/// A colour patch in both frames, in stops from the grey card beside it.
#[derive(Debug, Clone, Copy)]
pub struct Coloured<'a> {
    /// Spectral reflectance of the patch.
    pub reflectance: &'a Spectrum,
    /// Candidate's frame minus reference's frame.
    pub difference: f64,
    /// Standard uncertainty of that.
    pub u: f64,
}

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The reference's frame.
    pub reference: Frame<'a>,
    /// The candidate's frame.
    pub candidate: Frame<'a>,
    /// Exposures of both are on one scale, with shutter and aperture taken into account, so that levels may be compared.
    pub one_scale: bool,
    /// Colour patches, where both frames are on one film.
    pub colours: Option<&'a [Coloured<'a>]>,
}

/// What may be wrong with the light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// The candidate's frame had more (positive) exposure. Fakes speed, and nothing among patches read against their card.
    Exposure,
    /// In the reference's frame the second place had more light. Fakes lighter patches there.
    UnevenReference,
    /// The same in the candidate's frame.
    UnevenCandidate,
    /// From the reference's frame to the candidate's the second place gained light on the first. Fakes a difference of films.
    Changed,
    /// The candidate's frame has more (positive) flare. Fakes lighter shadows.
    Flare,
    /// The light of the candidate's frame is warmer (positive). Fakes lighter warm colours.
    Colour,
}

/// Whether it is so.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Told {
    /// What was wrong with the light.
    pub cause: Cause,
    /// The largest difference that it fakes, in stops: of speed for exposure; of a patch at the second place for uneven and
    /// changed light; of the darkest grey against the lightest for flare; of the warmest patch against the coldest for colour.
    pub fakes: Measured<Stops>,
    /// Beyond doubt, for all causes together.
    pub distinguishable: bool,
}

/// What cannot be told, and why.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Untold {
    /// Exposure: the frames are not on one scale.
    ExposureScale,
    /// Colour of the light: films differ, and their own rendering looks alike.
    ColourOnTwoFilms,
    /// Colour of the light: too few patches, or none warmer than others.
    ColourPatches,
    /// Flare: the greys at both places are too much alike.
    FlareRange,
}

/// What the greys tell of the light.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lighting {
    /// Causes that were tested.
    pub told: Vec<Told>,
    /// Causes that could not be.
    pub untold: Vec<Untold>,
    /// Flare of each frame as a share of a white's light.
    pub flare: [Measured; 2],
    /// By what errors were multiplied in each frame because light, unevenness and flare do not explain its greys: something else
    /// is wrong there too. 1 where they do.
    pub error_scale: [f64; 2],
}

/// Why nothing is told at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoLighting {
    /// Two greys at each place are needed in both frames, four in all.
    TooFewGreys,
    /// A number is not finite, or an uncertainty not above zero.
    NotFinite,
}

/// Levels of both places and flare of one frame.
struct Fit {
    values: Vector3<f64>,
    covariance: Matrix3<f64>,
    error_scale: f64,
}

/// Flare beyond this share of a white's light is no flare any more.
const MOST_FLARE: f64 = 1.0;

/// Levels at a flare, and chi-square.
fn at_flare(frame: &Frame<'_>, flare: f64) -> ([f64; 2], f64) {
    let mut levels = [0.0; 2];
    let mut chi_square = 0.0;
    for (level, greys) in levels.iter_mut().zip(frame.places) {
        let rest = |grey: &GreyAt| grey.log_h - math::log10(Density(grey.density).light() + flare);
        let weight = |grey: &GreyAt| 1.0 / (grey.u * grey.u);
        let weights: f64 = greys.iter().map(weight).sum();
        *level = greys.iter().map(|grey| weight(grey) * rest(grey)).sum::<f64>() / weights;
        let square = |grey: &GreyAt| weight(grey) * (rest(grey) - *level) * (rest(grey) - *level);
        chi_square += greys.iter().map(square).sum::<f64>();
    }
    (levels, chi_square)
}

/// Flare of least chi-square: golden sections in its root, within which chi-square has one minimum.
fn best_flare(frame: &Frame<'_>) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let worth = |root: f64| at_flare(frame, root * root).1;
    let (mut a, mut b) = (0.0, math::sqrt(MOST_FLARE));
    let (mut left, mut right) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut at_left, mut at_right) = (worth(left), worth(right));
    while b - a > 1e-7 {
        if at_left <= at_right {
            (b, right, at_right) = (right, left, at_left);
            left = b - GOLDEN * (b - a);
            at_left = worth(left);
        } else {
            (a, left, at_left) = (left, right, at_right);
            right = a + GOLDEN * (b - a);
            at_right = worth(right);
        }
    }
    let root = 0.5 * (a + b);
    if worth(0.0) <= worth(root) { 0.0 } else { root * root }
}

fn fit(frame: &Frame<'_>) -> Result<Fit, NoLighting> {
    let greys = || {
        frame.places.iter().enumerate().flat_map(|(place, greys)| greys.iter().map(move |grey| (place, grey)))
    };
    if frame.places.iter().any(|greys| greys.len() < 2) || greys().count() < 4 {
        return Err(NoLighting::TooFewGreys);
    }
    let good = |grey: &GreyAt| {
        grey.density.is_finite() && grey.log_h.is_finite() && grey.u.is_finite() && grey.u > 0.0
    };
    if !greys().all(|(_, grey)| good(grey)) {
        return Err(NoLighting::NotFinite);
    }
    let flare = best_flare(frame);
    let (levels, chi_square) = at_flare(frame, flare);
    let mut normal = Matrix3::zeros();
    for (place, grey) in greys() {
        let mut row = Vector3::zeros();
        row[place] = 1.0;
        row[2] = core::f64::consts::LOG10_E / (Density(grey.density).light() + flare);
        normal += row * row.transpose() / (grey.u * grey.u);
    }
    let freedom = greys().count() as f64 - 3.0;
    let contradicted = freedom >= 1.0 && chi_square > quantiles::chi_square(0.99, freedom);
    let error_scale = if contradicted { math::sqrt(chi_square / freedom) } else { 1.0 };
    // Greys that are all alike at each place tell nothing of flare.
    let covariance = normal.try_inverse().ok_or(NoLighting::TooFewGreys)? * (error_scale * error_scale);
    Ok(Fit { values: Vector3::new(levels[0], levels[1], flare), covariance, error_scale })
}

impl Fit {
    /// A sum of the parameters with weights.
    fn sum(&self, weights: [f64; 3]) -> Measured {
        let weights = Vector3::from(weights);
        let variance = (weights.transpose() * self.covariance * weights)[0];
        Measured::normal(weights.dot(&self.values), math::sqrt(variance.max(0.0)))
    }

    /// What flare does to the darkest grey against the lightest, in lg: its value, and its slope by flare.
    fn lifts(&self, (lightest, darkest): (f64, f64)) -> (f64, f64) {
        let flare = self.values[2];
        let (light, dark) = (Density(lightest).light(), Density(darkest).light());
        let lift = math::log10((dark + flare) / dark) - math::log10((light + flare) / light);
        (lift, core::f64::consts::LOG10_E * (1.0 / (dark + flare) - 1.0 / (light + flare)))
    }
}

fn stops(measured: &Measured) -> Measured<Stops> {
    let in_stops = |value: f64| value / STOP;
    Measured::with_interval(
        Stops(in_stops(measured.value)),
        in_stops(measured.u),
        in_stops(measured.low),
        in_stops(measured.high),
    )
}

/// Least difference of density among the greys from which flare is told.
const FLARE_RANGE: f64 = 0.5;

/// What the greys at two places tell of the light of two frames.
///
/// # Errors
/// Why nothing is told.
pub fn lighting(asked: &Asked<'_>) -> Result<Lighting, NoLighting> {
    let (reference, candidate) = (fit(&asked.reference)?, fit(&asked.candidate)?);
    let mut untold = Vec::new();
    let mut found: Vec<(Cause, Measured<Stops>)> = Vec::new();
    let mut push = |cause, measured: &Measured| found.push((cause, stops(measured)));
    if asked.one_scale {
        let level = [0.5, 0.5, 0.0];
        push(Cause::Exposure, &candidate.sum(level).minus(&reference.sum(level)));
    } else {
        untold.push(Untold::ExposureScale);
    }
    let uneven = [-1.0, 1.0, 0.0];
    let (of_reference, of_candidate) = (reference.sum(uneven), candidate.sum(uneven));
    push(Cause::UnevenReference, &of_reference);
    push(Cause::UnevenCandidate, &of_candidate);
    push(Cause::Changed, &of_candidate.minus(&of_reference));
    let range = range(asked);
    if range.1 - range.0 >= FLARE_RANGE {
        let lift = |fit: &Fit| {
            let (lift, slope) = fit.lifts(range);
            Measured::<f64>::normal(lift, slope.abs() * fit.sum([0.0, 0.0, 1.0]).u)
        };
        push(Cause::Flare, &lift(&candidate).minus(&lift(&reference)));
    } else {
        untold.push(Untold::FlareRange);
    }
    match asked.colours.map(colour) {
        None => untold.push(Untold::ColourOnTwoFilms),
        Some(None) => untold.push(Untold::ColourPatches),
        Some(Some(fakes)) => found.push((Cause::Colour, fakes)),
    }
    let chances: Vec<f64> = found.iter().map(|(_, fakes)| holm::chance(fakes)).collect();
    let adjusted = holm::adjusted(&chances);
    let told = found.into_iter().zip(adjusted).map(|((cause, fakes), chance)| Told {
        cause,
        fakes,
        distinguishable: chance < holm::LEVEL,
    });
    let flare = |fit: &Fit| {
        let found = fit.sum([0.0, 0.0, 1.0]);
        Measured::with_interval(found.value, found.u, found.low.max(0.0), found.high)
    };
    Ok(Lighting {
        told: told.collect(),
        untold,
        flare: [flare(&reference), flare(&candidate)],
        error_scale: [reference.error_scale, candidate.error_scale],
    })
}

/// Densities of the lightest and the darkest grey.
fn range(asked: &Asked<'_>) -> (f64, f64) {
    let greys = [asked.reference, asked.candidate].into_iter().flat_map(|frame| frame.places).flatten();
    greys.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), grey| {
        (low.min(grey.density), high.max(grey.density))
    })
}

/// How much warmer the light became, as what that fakes between the warmest and the coldest patch.
fn colour(patches: &[Coloured<'_>]) -> Option<Measured<Stops>> {
    const FEWEST: usize = 4;
    let mean = |spectrum: &Spectrum, from: f64, to: f64| {
        let count = ((to - from) / 10.0).round() as usize;
        (0..=count).map(|i| spectrum.nearest(from + 10.0 * i as f64)).sum::<f64>() / (count + 1) as f64
    };
    let warmth = |patch: &Coloured<'_>| {
        let (red, blue) = (mean(patch.reflectance, 600.0, 680.0), mean(patch.reflectance, 420.0, 500.0));
        math::log2((red + 0.01) / (blue + 0.01))
    };
    let rows: Vec<(f64, f64, f64)> = patches
        .iter()
        .filter(|patch| patch.difference.is_finite() && patch.u > 0.0)
        .map(|patch| (warmth(patch), patch.difference, 1.0 / (patch.u * patch.u)))
        .collect();
    let weight: f64 = rows.iter().map(|row| row.2).sum();
    let middle =
        |of: fn(&(f64, f64, f64)) -> f64| rows.iter().map(|row| row.2 * of(row)).sum::<f64>() / weight;
    // The grey card, whose error all share, is taken out as the level of the line.
    let (warm, level) = (middle(|row| row.0), middle(|row| row.1));
    let spread: f64 = rows.iter().map(|row| row.2 * (row.0 - warm) * (row.0 - warm)).sum();
    let (coldest, warmest) = rows
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), row| (low.min(row.0), high.max(row.0)));
    if rows.len() < FEWEST || warmest - coldest < 1.0 {
        return None;
    }
    let slope = rows.iter().map(|row| row.2 * (row.0 - warm) * (row.1 - level)).sum::<f64>() / spread;
    let square = |row: &(f64, f64, f64)| {
        let rest = row.1 - level - slope * (row.0 - warm);
        row.2 * rest * rest
    };
    // Warmth is a rough measure of what a light's colour does, so patches may scatter about the line.
    let scatter = (rows.iter().map(square).sum::<f64>() / (rows.len() - 2) as f64).max(1.0);
    let u = math::sqrt(scatter / spread);
    let t = quantiles::student_t(0.975, (rows.len() - 2) as f64);
    let fakes = slope * (warmest - coldest);
    let half = t * u * (warmest - coldest);
    Some(Measured::with_interval(Stops(fakes), u * (warmest - coldest), fakes - half, fakes + half))
}
