//! A patch's density back to the exposure that the film received, in stops from the grey card.
//!
//! Three ways, in this order of preference:
//!
//! - [`by_neutrals`]: the neutral patches beside it on the same print, whose reflectances are known, give the print's own curve,
//!   from density back to the density of a neutral that would have printed alike. Contrast of film and paper, the print's
//!   exposure and flare that is even over the frame are in that curve and so drop out. Nothing is read beyond its ends.
//! - [`by_curves`]: the paper's curve and the film's, each measured with a tablet. From a negative, the film's alone. Flare stays
//!   in, unless it is stated.
//! - [`bare`]: neither is there. The difference of densities, which contrast is in; no stops.
//!
//! Where the first two are both there, [`agreement`] holds one against the other.
//!
//! *Errors.* Each patch has an error of its own: that of its reading. Errors of the curve, of the neutrals and of the grey card are
//! shared by all patches of one print; those of the neutrals' known densities by all prints of the target. Every number is worked
//! draw by draw. Draw number k of every print supposes the same errors of the target and of curves that prints share (see
//! `curve`), so that in a difference between films, taken draw by draw, they cancel as far as they do in truth.

use rayon::prelude::*;
use serde::Serialize;

use super::holm;
use crate::curve::{self, Curve, ErrorKey, FitSettings, Reading, Readings, Sources, Spline, Strip};
use crate::measured::{Flags, Measured};
use crate::numeric::math;
use crate::numeric::random::Stream;
use crate::tone::Veil;
use crate::units::{Density, STOP, Stops};

/// What was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Medium {
    /// A print: lighter patches have less density.
    Print,
    /// A negative: lighter patches have more.
    Negative,
}

/// The density of one patch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Patch {
    /// Density.
    pub density: f64,
    /// Standard uncertainty of its reading, an error of its own.
    pub u: f64,
    /// What must be known about it.
    pub flags: Flags,
}

/// The patches of one print or negative.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    /// Errors of its readings are shared with no other.
    pub key: ErrorKey,
    /// Print or negative.
    pub medium: Medium,
    /// The patches of the layout, in its order; `None` where one was not sampled.
    pub patches: &'a [Option<Patch>],
    /// Number of the grey card among them.
    pub card: usize,
}

/// A neutral patch of the target.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Neutral {
    /// Its number in the layout.
    pub patch: usize,
    /// Its known reflectance density.
    pub density: f64,
    /// Standard uncertainty of that.
    pub u: f64,
}

/// What is known of the target.
#[derive(Debug, Clone, Copy)]
pub struct Target<'a> {
    /// Errors of its known densities are the same in all prints of it.
    pub key: ErrorKey,
    /// Its neutral patches, the grey card among them where its density is known.
    pub neutrals: &'a [Neutral],
}

/// The curves that a frame went through.
#[derive(Debug, Clone, Copy)]
pub struct Curves<'a> {
    /// The film's.
    pub film: &'a Curve,
    /// The paper's, and lg of the print's exposure without the negative on the paper's own axis, with its standard uncertainty.
    /// `None` for a negative.
    pub print: Option<(&'a Curve, f64, f64)>,
    /// Even light that flare added, in the film's own exposure.
    pub veil: Veil,
}

/// How stops were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Route {
    /// By the neutral patches of the same print.
    Neutrals,
    /// By the curves of paper and film.
    Curves,
    /// Not corrected for contrast: no stops.
    Bare,
}

/// Which end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// More exposure than the lightest neutral, or than the curve holds.
    Light,
    /// Less exposure than the darkest neutral, or than the curve holds.
    Dark,
}

/// Why a patch has no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Unread {
    /// It was not sampled.
    NotSampled,
    /// It lies beyond an end of the neutrals or the curve.
    Beyond(End),
    /// It lies so near an end that its interval may reach beyond.
    AtTheEnd(End),
    /// The grey card has no number.
    NoCard,
}

/// A patch in stops from the grey card, positive where it is lighter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InStops {
    /// Stops.
    pub stops: Measured<Stops>,
    /// Standard uncertainty of what is its own: its reading.
    pub own_u: f64,
    /// Standard uncertainty of what all patches of the frame share: curve, neutrals, grey card.
    pub shared_u: f64,
    /// The value in every draw.
    #[serde(skip)]
    pub draws: Vec<f64>,
}

/// A patch as a grey.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Grey {
    /// A neutral patch, which is what others are read by: its known stops from the grey card.
    Neutral(f64),
    /// Read.
    Stops(InStops),
    /// Not corrected: its density minus that of the grey card.
    Bare(Measured<Density>),
    /// No number.
    Unread(Unread),
}

impl Grey {
    /// The stops that were read, with their draws.
    #[must_use]
    pub fn in_stops(&self) -> Option<&InStops> {
        match self {
            Self::Stops(stops) => Some(stops),
            _ => None,
        }
    }
}

/// What speaks against a result as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Doubt {
    /// The other neutrals contradict this one, by so much density.
    Contradicted {
        /// Its number in the layout.
        patch: usize,
        /// Its density minus that of the curve through the others.
        departure: f64,
    },
    /// Neutrals scatter about their curve by so many times their stated errors, which were taken as larger by that.
    Scatter(f64),
}

/// All patches of a frame as greys.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Greys {
    /// How they were found.
    pub route: Route,
    /// Number of the grey card.
    pub card: usize,
    /// The patches, in the order of the layout.
    pub patches: Vec<Grey>,
    /// What speaks against them.
    pub doubts: Vec<Doubt>,
}

/// Why a route is closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoRoute {
    /// Fewer neutrals of different density than a curve needs: so many are there.
    TooFewNeutrals(usize),
    /// The neutrals do not print in the order of their densities.
    OutOfOrder,
    /// The grey card was not sampled.
    CardNotSampled,
    /// The grey card lies beyond the neutrals or the curve.
    CardBeyond(End),
    /// A print needs its paper's curve and its print exposure.
    NoPaper,
    /// A number is not finite.
    NotFinite,
}

/// Neutrals of different density that a curve needs.
pub const FEWEST_NEUTRALS: usize = 4;

/// The error of a patch's own reading in a draw, in standard uncertainties: one and the same whatever route reads it.
fn own_error(seed: u64, draw: usize, key: ErrorKey, patch: usize) -> f64 {
    let key = key.number() ^ (patch as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    Stream::keyed(seed, draw as u64, key).normal()
}

/// A value of one density in the best fit and in each draw, at the density with and without the error of its own reading.
struct Read {
    best: f64,
    draws: Vec<f64>,
    shared: Vec<f64>,
}

fn spread(values: &[f64]) -> f64 {
    let known: Vec<f64> = values.iter().copied().filter(|value| value.is_finite()).collect();
    crate::numeric::robust::standard_deviation(&known).unwrap_or(0.0)
}

impl Read {
    fn grey(self, flags: Flags, end: impl FnOnce() -> End) -> Grey {
        let Some(found) = holm::by_draws(self.best, &self.draws, true) else {
            return Grey::Unread(Unread::AtTheEnd(end()));
        };
        let shared_u = spread(&self.shared);
        let own_u = math::sqrt((found.u * found.u - shared_u * shared_u).max(0.0));
        let stops =
            Measured::with_interval(Stops(found.value), found.u, found.low, found.high).flagged(flags);
        Grey::Stops(InStops { stops, own_u, shared_u, draws: self.draws })
    }
}

/// Stops by the neutral patches of the same frame.
///
/// The curve is a monotone smoothing spline of the frame's density over the neutrals' known density ([`curve::fit()`]), whose
/// draws hold the errors of both and what is open between neutrals. The grey card, where it is a neutral, lies where it is known
/// to lie; else it is read like the others.
///
/// # Errors
/// Why this route is closed.
pub fn by_neutrals(frame: &Frame<'_>, target: &Target<'_>, settings: FitSettings) -> Result<Greys, NoRoute> {
    let curve = neutral_curve(frame, target, settings)?;
    let sign = frame.sign();
    let place = |spline: &Spline, density: f64| Some(-sign * spline.log_h_at(density)? / STOP);
    let nth = |draw: usize| &curve.resampled[draw].spline;
    let count = curve.resampled.len();
    let card = frame.read(frame.card).ok_or(NoRoute::CardNotSampled)?;
    let known_card = target.neutrals.iter().position(|neutral| neutral.patch == frame.card);
    let card_best;
    let card_draws: Vec<f64>;
    if let Some(number) = known_card {
        let neutral = target.neutrals[number];
        let known = -neutral.density / STOP;
        // The curve's draws lie over true densities, so the card lies where its own error puts it.
        let moved = |draw: usize| {
            let error = curve::step_error(settings.seed, draw as u32, target.key, number as u32 + 1);
            known - neutral.u / STOP * error * sign
        };
        (card_best, card_draws) = (known, (0..count).map(moved).collect());
    } else {
        let beyond = || NoRoute::CardBeyond(frame.end_beyond(&curve.best, card.density));
        card_best = place(&curve.best, card.density).ok_or_else(beyond)?;
        let drawn = |draw: usize| {
            let error = card.u * own_error(settings.seed, draw, frame.key, frame.card);
            place(nth(draw), card.density + error).unwrap_or(f64::NAN)
        };
        card_draws = (0..count).map(drawn).collect();
    }
    let grey = |patch: usize| {
        if let Some(neutral) = target.neutrals.iter().find(|neutral| neutral.patch == patch) {
            return Grey::Neutral(-neutral.density / STOP - card_best);
        }
        let Some(read) = frame.read(patch) else { return Grey::Unread(Unread::NotSampled) };
        if patch == frame.card {
            return Grey::Neutral(0.0);
        }
        let Some(best) = place(&curve.best, read.density) else {
            return Grey::Unread(Unread::Beyond(frame.end_beyond(&curve.best, read.density)));
        };
        let at = |draw: usize, density: f64| {
            place(nth(draw), density).map_or(f64::NAN, |place| place - card_draws[draw])
        };
        let own = |draw: usize| read.u * own_error(settings.seed, draw, frame.key, patch);
        let draws = (0..count).map(|draw| at(draw, read.density + own(draw))).collect();
        let shared = (0..count).map(|draw| at(draw, read.density)).collect();
        Read { best: best - card_best, draws, shared }
            .grey(read.flags, || frame.nearer_end(&curve.best, read.density))
    };
    let patches = (0..frame.patches.len()).into_par_iter().map(grey).collect();
    Ok(Greys { route: Route::Neutrals, card: frame.card, patches, doubts: doubts(&curve, target) })
}

impl Frame<'_> {
    fn read(&self, patch: usize) -> Option<Patch> {
        self.patches.get(patch).copied().flatten()
    }

    /// Places of the neutrals' curve rise with density of the frame: on a print with density of the target, on a negative
    /// against it.
    fn sign(&self) -> f64 {
        if self.medium == Medium::Print { 1.0 } else { -1.0 }
    }

    fn end_beyond(&self, spline: &Spline, density: f64) -> End {
        self.end(density <= spline.lowest())
    }

    fn nearer_end(&self, spline: &Spline, density: f64) -> End {
        self.end(density - spline.lowest() < spline.highest() - density)
    }

    fn end(&self, thin: bool) -> End {
        if thin == (self.medium == Medium::Print) { End::Light } else { End::Dark }
    }
}

/// The frame's density over that of the neutrals.
fn neutral_curve(frame: &Frame<'_>, target: &Target<'_>, settings: FitSettings) -> Result<Curve, NoRoute> {
    let sign = frame.sign();
    let point = |(number, neutral): (usize, &Neutral)| {
        let read = frame.read(neutral.patch)?;
        Some(Reading {
            strip: 0,
            step: number as u32 + 1,
            log_h: sign * neutral.density,
            log_h_u: neutral.u,
            density: read.density,
            density_u: read.u,
            set_aside: false,
            flags: read.flags,
        })
    };
    let points: Vec<Reading> = target.neutrals.iter().enumerate().filter_map(point).collect();
    let finite = |point: &Reading| {
        [point.log_h, point.log_h_u, point.density, point.density_u].iter().all(|number| number.is_finite())
            && point.log_h_u >= 0.0
            && point.density_u >= 0.0
    };
    if !points.iter().all(finite) {
        return Err(NoRoute::NotFinite);
    }
    let mut places: Vec<f64> = points.iter().map(|point| point.log_h).collect();
    places.sort_by(f64::total_cmp);
    places.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    if places.len() < FEWEST_NEUTRALS {
        return Err(NoRoute::TooFewNeutrals(places.len()));
    }
    let readings = Readings {
        points,
        absolute: false,
        log_h_shared_u: 0.0,
        sources: Sources { film: frame.key, strips: vec![Strip::first(target.key)] },
        base_fog: None,
        flags: Flags::empty(),
    };
    curve::fit(readings, settings).map_err(|_| NoRoute::OutOfOrder)
}

fn doubts(curve: &Curve, target: &Target<'_>) -> Vec<Doubt> {
    let contradicted = curve.outliers.iter().filter_map(|outlier| {
        let neutral = target.neutrals.get(outlier.step as usize - 1)?;
        Some(Doubt::Contradicted { patch: neutral.patch, departure: outlier.departure })
    });
    let scatter = (curve.error_scale > 1.0).then_some(Doubt::Scatter(curve.error_scale));
    contradicted.chain(scatter).collect()
}

/// Stops by the curves of paper and film, from a negative by the film's alone.
///
/// # Errors
/// Why this route is closed.
pub fn by_curves(frame: &Frame<'_>, curves: &Curves<'_>, settings: FitSettings) -> Result<Greys, NoRoute> {
    let paper = match (frame.medium, curves.print) {
        (Medium::Print, None) => return Err(NoRoute::NoPaper),
        (Medium::Print, Some(print)) => Some(print),
        (Medium::Negative, _) => None,
    };
    let drawn = |curve: &Curve| curve.resampled.len();
    let count = drawn(curves.film).min(paper.map_or(usize::MAX, |(paper, ..)| drawn(paper)));
    let exposures: Vec<f64> = (0..count)
        .map(|draw| {
            paper.map_or(0.0, |(_, _, u)| u * own_error(settings.seed, draw, frame.key, usize::MAX - 1))
        })
        .collect();
    // lg H of a density; `None` stands for the best fit.
    let place = |draw: Option<usize>, density: f64| {
        let negative = match paper {
            None => density,
            Some((paper, exposure, _)) => {
                let (spline, moved) = of_draw(paper, draw);
                exposure + draw.map_or(0.0, |draw| exposures[draw]) - (spline.log_h_at(density)? + moved)
            }
        };
        let (spline, moved) = of_draw(curves.film, draw);
        Some(curves.veil.without(spline.log_h_at(negative)? + moved)? / STOP)
    };
    let end = |density: f64| {
        let thin = match paper {
            Some((paper, ..)) if density <= paper.best.lowest() => true,
            Some((paper, ..)) if density >= paper.best.highest() => false,
            // The paper holds it, so the film does not: dense negatives print light.
            Some((paper, exposure, _)) => paper.best.log_h_at(density).is_some_and(|log_h| {
                exposure - log_h > 0.5 * (curves.film.best.lowest() + curves.film.best.highest())
            }),
            None => density < 0.5 * (curves.film.best.lowest() + curves.film.best.highest()),
        };
        frame.end(thin)
    };
    let card = frame.read(frame.card).ok_or(NoRoute::CardNotSampled)?;
    let card_best = place(None, card.density).ok_or_else(|| NoRoute::CardBeyond(end(card.density)))?;
    let error = |draw: usize, patch: usize, u: f64| u * own_error(settings.seed, draw, frame.key, patch);
    let card_draws: Vec<f64> = (0..count)
        .map(|draw| place(Some(draw), card.density + error(draw, frame.card, card.u)).unwrap_or(f64::NAN))
        .collect();
    let grey = |patch: usize| {
        if patch == frame.card {
            return Grey::Neutral(0.0);
        }
        let Some(read) = frame.read(patch) else { return Grey::Unread(Unread::NotSampled) };
        let Some(best) = place(None, read.density) else {
            return Grey::Unread(Unread::Beyond(end(read.density)));
        };
        let at = |draw: usize, density: f64| {
            place(Some(draw), density).map_or(f64::NAN, |place| place - card_draws[draw])
        };
        let draws = (0..count).map(|draw| at(draw, read.density + error(draw, patch, read.u))).collect();
        let shared = (0..count).map(|draw| at(draw, read.density)).collect();
        Read { best: best - card_best, draws, shared }.grey(read.flags, || end(read.density))
    };
    let patches = (0..frame.patches.len()).into_par_iter().map(grey).collect();
    Ok(Greys { route: Route::Curves, card: frame.card, patches, doubts: Vec::new() })
}

fn of_draw(curve: &Curve, draw: Option<usize>) -> (&Spline, f64) {
    match draw {
        None => (&curve.best, 0.0),
        Some(draw) => (&curve.resampled[draw].spline, curve.resampled[draw].log_h_shift),
    }
}

/// Densities against the grey card's, not corrected for contrast.
///
/// # Errors
/// The grey card was not sampled.
pub fn bare(frame: &Frame<'_>) -> Result<Greys, NoRoute> {
    let card = frame.read(frame.card).ok_or(NoRoute::CardNotSampled)?;
    let grey = |patch: usize| match frame.read(patch) {
        _ if patch == frame.card => Grey::Neutral(0.0),
        None => Grey::Unread(Unread::NotSampled),
        Some(read) => {
            let difference = Density(read.density - card.density);
            Grey::Bare(
                Measured::normal(difference, math::hypot(read.u, card.u)).flagged(read.flags | card.flags),
            )
        }
    };
    let patches = (0..frame.patches.len()).map(grey).collect();
    Ok(Greys { route: Route::Bare, card: frame.card, patches, doubts: Vec::new() })
}

/// A patch of a frame, read by two routes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Compared {
    /// Its number in the layout.
    pub patch: usize,
    /// By neutrals minus by curves.
    pub difference: Measured<Stops>,
    /// Beyond doubt, for all patches together.
    pub disagrees: bool,
}

/// How two routes agree.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Agreement {
    /// The patches that both routes read.
    pub patches: Vec<Compared>,
    /// The largest difference either way, in stops; zero without patches.
    pub largest: f64,
}

impl Agreement {
    /// Whether any patch disagrees beyond doubt.
    #[must_use]
    pub fn disagrees(&self) -> bool {
        self.patches.iter().any(|patch| patch.disagrees)
    }
}

/// Holds the greys of one frame by two routes against each other, draw by draw, so that the errors of the patches' own readings,
/// which are in both, cancel. Neutral patches are known by one route and read by the other, and so count.
#[must_use]
pub fn agreement(one: &Greys, other: &Greys) -> Agreement {
    let pair = |(patch, (one, other)): (usize, (&Grey, &Grey))| {
        let (value, draws): (f64, Vec<f64>) = match (one, other) {
            (Grey::Stops(one), Grey::Stops(other)) => {
                let both = one.draws.iter().zip(&other.draws);
                (one.stops.value.0 - other.stops.value.0, both.map(|(a, b)| a - b).collect())
            }
            (Grey::Neutral(known), Grey::Stops(read)) => {
                (known - read.stops.value.0, read.draws.iter().map(|draw| known - draw).collect())
            }
            (Grey::Stops(read), Grey::Neutral(known)) => {
                (read.stops.value.0 - known, read.draws.iter().map(|draw| draw - known).collect())
            }
            _ => return None,
        };
        let found = holm::by_draws(value, &draws, true)?;
        let difference = Measured::with_interval(Stops(found.value), found.u, found.low, found.high);
        Some(Compared { patch, difference, disagrees: false })
    };
    let mut patches: Vec<Compared> =
        one.patches.iter().zip(&other.patches).enumerate().filter_map(pair).collect();
    let chances: Vec<f64> = patches.iter().map(|patch| holm::chance(&patch.difference)).collect();
    for (patch, chance) in patches.iter_mut().zip(holm::adjusted(&chances)) {
        patch.disagrees = chance < holm::LEVEL;
    }
    let largest = patches.iter().fold(0.0_f64, |most, patch| most.max(patch.difference.number().abs()));
    Agreement { patches, largest }
}

/// A frame's greys by the best route that is open, and what the others said.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Found {
    /// The greys.
    pub greys: Greys,
    /// Routes that were closed, and why.
    pub closed: Vec<(Route, NoRoute)>,
    /// How the route by curves agrees, where both are open.
    pub agreement: Option<Agreement>,
}

/// The greys of a frame by the best route that is open: its own neutrals, else curves, else bare densities.
///
/// # Errors
/// The grey card was not sampled, or lies beyond all that could read it.
pub fn greys(
    frame: &Frame<'_>,
    target: Option<&Target<'_>>,
    curves: Option<&Curves<'_>>,
    settings: FitSettings,
) -> Result<Found, NoRoute> {
    let neutrals = target.map(|target| by_neutrals(frame, target, settings));
    let curves = curves.map(|curves| by_curves(frame, curves, settings));
    let mut closed = Vec::new();
    let mut open = |route: Route, found: Option<Result<Greys, NoRoute>>| match found? {
        Ok(greys) => Some(greys),
        Err(reason) => {
            closed.push((route, reason));
            None
        }
    };
    let neutrals = open(Route::Neutrals, neutrals);
    let curves = open(Route::Curves, curves);
    let agreement = neutrals.as_ref().zip(curves.as_ref()).map(|(one, other)| agreement(one, other));
    let greys = match neutrals.or(curves) {
        Some(greys) => greys,
        None => bare(frame)?,
    };
    Ok(Found { greys, closed, agreement })
}
