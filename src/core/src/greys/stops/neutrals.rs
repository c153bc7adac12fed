//! Stops by the neutral patches of the same frame.

use rayon::prelude::*;
use serde::Serialize;

use super::{Doubt, Frame, Grey, Greys, InStops, NoRoute, Read, Route, Unread, own_error};
use crate::curve::{self, Curve, ErrorKey, FitSettings, Reading, Readings, Sources, Spline, Strip};
use crate::measured::Flags;
use crate::units::STOP;

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

/// Neutrals of different density that a curve needs.
pub const FEWEST_NEUTRALS: usize = 4;

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
    // The curve's draws lie over true densities, so a neutral lies where its own error puts it.
    let known_error = |number: usize, draw: usize| {
        let error = curve::step_error(settings.seed, draw as u32, target.key, number as u32 + 1);
        sign * target.neutrals[number].u * error
    };
    let known_card = target.neutrals.iter().position(|neutral| neutral.patch == frame.card);
    let card_best;
    let card_draws: Vec<f64>;
    if let Some(number) = known_card {
        let known = |error: f64| -(target.neutrals[number].density + error) / STOP;
        (card_best, card_draws) =
            (known(0.0), (0..count).map(|draw| known(known_error(number, draw))).collect());
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
        if patch == frame.card {
            return Grey::Neutral(InStops::card(count));
        }
        if let Some(number) = target.neutrals.iter().position(|neutral| neutral.patch == patch) {
            let known = |error: f64| -(target.neutrals[number].density + error) / STOP;
            let draws: Vec<f64> =
                (0..count).map(|draw| known(known_error(number, draw)) - card_draws[draw]).collect();
            return Grey::Neutral(InStops::shared(known(0.0) - card_best, draws));
        }
        let Some(read) = frame.read(patch) else { return Grey::Unread(Unread::NotSampled) };
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
