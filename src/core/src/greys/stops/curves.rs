//! Stops by the curves of paper and film.

use rayon::prelude::*;

use super::{Frame, Grey, Greys, InStops, Medium, NoRoute, Read, Route, Unread, own_error};
use crate::curve::{Curve, FitSettings, Spline};
use crate::tone::Veil;
use crate::units::STOP;

/// The curves that a frame went through.
#[derive(Debug, Clone, Copy)]
pub struct Curves<'a> {
    /// The characteristic curve of the film.
    pub film: &'a Curve,
    /// The paper's, and lg of the print's exposure without the negative on the paper's own axis, with its standard uncertainty.
    /// `None` for a negative.
    pub print: Option<(&'a Curve, f64, f64)>,
    /// Even light that flare added, in the film's own exposure.
    pub veil: Veil,
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
            return Grey::Neutral(InStops::card(count));
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
