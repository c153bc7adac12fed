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

mod agreement;
mod curves;
mod neutrals;

pub use agreement::{Agreement, Compared, agreement};
pub use curves::{Curves, by_curves};
pub use neutrals::{FEWEST_NEUTRALS, Neutral, Target, by_neutrals};

use serde::Serialize;

use super::holm;
use crate::curve::{ErrorKey, FitSettings, Spline};
use crate::measured::{Flags, Measured};
use crate::numeric::math;
use crate::numeric::random::Stream;
use crate::units::{Density, Stops};

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
    /// Density of mean light over the patch.
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

/// An end of what can be read back to exposures.
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
    /// Stops from the grey card.
    pub stops: Measured<Stops>,
    /// Standard uncertainty of what is its own: its reading.
    pub own_u: f64,
    /// Standard uncertainty of what all patches of the frame share: curve, neutrals, grey card.
    pub shared_u: f64,
    /// The value in every draw.
    #[serde(skip)]
    pub draws: Vec<f64>,
}

impl InStops {
    /// The grey card, from which stops are counted.
    fn card(count: usize) -> Self {
        Self { stops: Measured::normal(Stops(0.0), 0.0), own_u: 0.0, shared_u: 0.0, draws: vec![0.0; count] }
    }

    /// A value that no reading of its own is in.
    fn shared(value: f64, draws: Vec<f64>) -> Self {
        let u = spread(&draws);
        Self { stops: Measured::normal(Stops(value), u), own_u: 0.0, shared_u: u, draws }
    }
}

/// A patch as a grey.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Grey {
    /// A neutral patch, which is what others are read by: its known stops from the grey card; or the grey card itself.
    Neutral(InStops),
    /// It was read as stops.
    Stops(InStops),
    /// Not corrected: its density minus that of the grey card.
    Bare(Measured<Density>),
    /// It has no number, for this reason.
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

/// Densities against the grey card's, not corrected for contrast.
///
/// # Errors
/// The grey card was not sampled.
pub fn bare(frame: &Frame<'_>) -> Result<Greys, NoRoute> {
    let card = frame.read(frame.card).ok_or(NoRoute::CardNotSampled)?;
    let grey = |patch: usize| match frame.read(patch) {
        _ if patch == frame.card => Grey::Neutral(InStops::card(0)),
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

/// A frame's greys by the best route that is open, and what the others said.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Found {
    /// The greys by that route.
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
