//! The exposure index at which a film's shadow is as dense as the reference's, by net and by gross density.

use std::sync::Arc;

use twinwedge_core::bracket::{Frame, ShadowTarget, reference_shadow};
use twinwedge_core::curve::{ErrorKey, FitSettings};
use twinwedge_core::document::{Film, Series, ShadowDensity};
use twinwedge_core::figures::{FigureId, MatchTarget, shadow_match_draws};
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_core::numeric::random::Stream;
use twinwedge_core::problem::Problem;

use super::readings::base_fog;
use crate::engine::ask::{BracketOf, CurveOf, FilmCurve};
use crate::engine::{Halt, Recipe, View};

/// An index with its draws, or why there is none.
type Matched = Result<(Measured, Option<Vec<f64>>), String>;

/// Whether a film's index depends on base+fog, its own and the reference's.
fn is_matched(series: &Series, film: &Film) -> bool {
    film.bracket.is_some() && series.reference_film().is_some_and(|reference| reference.id != film.id)
}

/// The two films whose base+fog counts: the reference and the film itself, as developed.
fn films<'a>(series: &'a Series, film: &'a Film) -> Vec<&'a Film> {
    let reference = series.reference_film().filter(|_| is_matched(series, film));
    reference.map_or_else(Vec::new, |reference| vec![reference, film])
}

fn curve_of(film: &Film) -> CurveOf {
    CurveOf { film: film.id.clone() }
}

/// Counts all that [`indices`] uses.
pub(super) fn count(recipe: Recipe, view: &View<'_>, film: &Film) -> Result<Recipe, Halt> {
    let series = view.series();
    let settings = &series.settings;
    let recipe = recipe.key(view.digest(&BracketOf { film: film.id.clone() })?);
    let mut recipe = recipe
        .with(&shadow_target(view)?)
        .with(&settings.shadow_match)
        .with(&settings.resamplings)
        .with(&settings.seed);
    for film in films(series, film) {
        recipe = recipe.with(&base_fog(film, settings.reading_u));
        recipe = match view.try_digest(&curve_of(film))? {
            Ok(digest) => recipe.key(digest),
            Err(problem) => recipe.with(&problem),
        };
    }
    // Without a curve it is a figure by itself.
    Ok(recipe.with(&base_fog(film, settings.reading_u)))
}

/// The index by the density that the series chose, and by the other.
pub(super) fn indices(view: &View<'_>, film: &Film) -> Result<[(FigureId, Matched); 2], Halt> {
    let series = view.series();
    let found: Result<Vec<_>, Halt> =
        films(series, film).into_iter().map(|film| Ok((view.try_get(&curve_of(film))?, film))).collect();
    let found = found?;
    let bases: Vec<BaseFog> = found.iter().map(|(curve, film)| base_fog_of(series, film, curve)).collect();
    let chosen = series.settings.shadow_match;
    let target = shadow_target(view)?;
    let frames = view.get(&BracketOf { film: film.id.clone() })?;
    Ok([(FigureId::ShadowMatchIndex, chosen), (FigureId::ShadowMatchOther, chosen.other())]
        .map(|(id, density)| (id, matched_index(series, film, density, &target, &frames, &bases))))
}

/// The shadow density that all brackets are matched to: that of the reference's frame metered at its box speed; or why there is
/// none.
fn shadow_target(view: &View<'_>) -> Result<Result<ShadowTarget, String>, Halt> {
    let Some(reference) = view.reference_film() else {
        return Ok(Err("The series has no reference film.".to_owned()));
    };
    let frames = view.get(&BracketOf { film: reference.id.clone() })?;
    if !frames.is_empty() && frames.iter().all(Result::is_err) {
        return Ok(Err(with_reason("No frame of the reference's bracket is read.".to_owned(), &frames)));
    }
    Ok(reference_shadow(&read(&frames), reference.box_speed).map_err(|why| with_reason(why, &frames)))
}

/// The frames that were read.
fn read(frames: &[Result<Frame, Problem>]) -> Vec<Frame> {
    frames.iter().filter_map(|frame| frame.as_ref().ok()).copied().collect()
}

/// A reason, and what kept the first of the frames that were not read from being so.
fn with_reason(why: String, frames: &[Result<Frame, Problem>]) -> String {
    match frames.iter().find_map(|frame| frame.as_ref().err()) {
        Some(problem) => format!("{why} {}", problem.cause),
        None => why,
    }
}

/// Base+fog of a film with its draws, or why it is not known.
type BaseFog = Result<(Measured, Vec<f64>), String>;

/// By the curve, which a reading of an unexposed area is part of; without a curve by that reading alone.
fn base_fog_of(series: &Series, film: &Film, curve: &Result<Arc<FilmCurve>, Problem>) -> BaseFog {
    let curve = match (curve, read_base_fog(series, film)) {
        (Ok(curve), _) => curve,
        (Err(_), Some(read)) => return Ok(read),
        (Err(problem), None) => return Err(problem.cause.clone()),
    };
    match curve.figures.get(&FigureId::BaseFog) {
        Some(Value::Known(base)) if base.flags.contains(Flags::UPPER_BOUND) => {
            Err("base+fog is only known to be no more than the lowest density.".to_owned())
        }
        Some(Value::Known(base)) => {
            let draws = curve.draws.get(FigureId::BaseFog).ok_or_else(String::new)?;
            Ok((*base, draws.to_vec()))
        }
        Some(Value::Undefined(reason)) => Err(reason.clone()),
        None => Err("base+fog is not among its figures.".to_owned()),
    }
}

/// Base+fog as it was read on an unexposed area, and as it might have been: for a film that has no curve.
pub(super) fn read_base_fog(series: &Series, film: &Film) -> Option<(Measured, Vec<f64>)> {
    let settings = &series.settings;
    let (density, u) = base_fog(film, settings.reading_u)?;
    let key = ErrorKey::of("base+fog", &film.id.0).number();
    let draw = |number: u32| density + u * Stream::keyed(settings.seed, u64::from(number), key).normal();
    Some((Measured::normal(density, u), (0..settings.resamplings.max(50)).map(draw).collect()))
}

/// The exposure index at which a film's shadow equals the reference's, and its draws. For the reference it is the index of
/// the frame that sets the density, by definition and without an uncertainty: that of its density is part of each
/// candidate's index.
fn matched_index(
    series: &Series,
    film: &Film,
    density: ShadowDensity,
    target: &Result<ShadowTarget, String>,
    frames: &[Result<Frame, Problem>],
    bases: &[BaseFog],
) -> Matched {
    let target = target.as_ref().map_err(String::clone)?;
    let settings = &series.settings;
    let fit = FitSettings { resamplings: settings.resamplings, seed: settings.seed };
    if series.reference.as_ref() == Some(&film.id) {
        let draws = vec![target.exposure_index; fit.resamplings.max(50) as usize];
        return Ok((Measured::normal(target.exposure_index, 0.0), Some(draws)));
    }
    if frames.is_empty() {
        return Err(format!("{} has no bracket.", film.label));
    }
    let gross = MatchTarget::of(target.density, target.u, fit);
    let target = match density {
        ShadowDensity::Gross => gross,
        ShadowDensity::Net => {
            let named = |whose: &str, why: &String| {
                format!(
                    "Net shadow densities need the base+fog of the {whose}: {why} Match gross densities instead."
                )
            };
            let [reference, own] = bases else { return Err("There is nothing to match to.".to_owned()) };
            let reference = reference.as_ref().map_err(|why| named("reference", why))?;
            let own = own.as_ref().map_err(|why| named("film itself", why))?;
            let both = ((&reference.0, &*reference.1), (&own.0, &*own.1));
            gross.net(both.0, both.1).ok_or("The resamplings of both films differ in number.")?
        }
    };
    let matched = shadow_match_draws(&target, &read(frames), ErrorKey::of("bracket", &film.id.0), fit);
    matched.map_err(|why| with_reason(why, frames))
}
