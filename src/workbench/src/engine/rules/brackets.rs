//! The exposure index at which a film's shadow is as dense as the reference's, by net and by gross density.

use std::sync::Arc;

use twinwedge_core::bracket::{ShadowTarget, frame_u, reference_shadow};
use twinwedge_core::curve::{ErrorKey, FitSettings};
use twinwedge_core::document::{Film, Series, ShadowDensity};
use twinwedge_core::figures::{FigureId, MatchTarget, shadow_match_draws};
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_core::problem::Problem;

use crate::engine::ask::{CurveOf, FilmCurve};
use crate::engine::{Halt, Recipe, View};

/// An index with its draws, or why there is none.
type Matched = Result<(Measured, Option<Vec<f64>>), String>;

/// Whether a film's index depends on base+fog, its own and the reference's.
fn is_matched(series: &Series, film: &Film) -> bool {
    film.bracket.is_some() && series.reference_film().is_some_and(|reference| reference.id != film.id)
}

/// The two curves whose base+fog counts: the reference's and the film's own, as developed.
fn curves(series: &Series, film: &Film) -> Vec<CurveOf> {
    let reference = series.reference_film().filter(|_| is_matched(series, film));
    reference
        .into_iter()
        .chain(reference.map(|_| film))
        .map(|film| CurveOf { film: film.id.clone() })
        .collect()
}

/// Counts all that [`indices`] uses.
pub(super) fn count(recipe: Recipe, view: &View<'_>, film: &Film) -> Result<Recipe, Halt> {
    let series = view.series();
    let settings = &series.settings;
    let mut recipe = recipe
        .with(&film.bracket)
        .with(&shadow_target(series))
        .with(&settings.reading_u)
        .with(&settings.shadow_match)
        .with(&settings.resamplings)
        .with(&settings.seed);
    for curve in curves(series, film) {
        recipe = match view.try_digest(&curve)? {
            Ok(digest) => recipe.key(digest),
            Err(problem) => recipe.with(&problem),
        };
    }
    Ok(recipe)
}

/// The index by the density that the series chose, and by the other.
pub(super) fn indices(view: &View<'_>, film: &Film) -> Result<[(FigureId, Matched); 2], Halt> {
    let series = view.series();
    let found: Result<Vec<_>, Halt> = curves(series, film).iter().map(|curve| view.try_get(curve)).collect();
    let found = found?;
    let bases: Vec<BaseFog<'_>> = found.iter().map(base_fog).collect();
    let chosen = series.settings.shadow_match;
    Ok([(FigureId::ShadowMatchIndex, chosen), (FigureId::ShadowMatchOther, chosen.other())]
        .map(|(id, density)| (id, matched_index(series, film, density, &bases))))
}

/// The shadow density that all brackets are matched to: that of the reference's frame metered at its box speed.
fn shadow_target(series: &Series) -> Result<ShadowTarget, String> {
    let reference = series.reference_film().ok_or("The series has no reference film.")?;
    reference_shadow(reference.bracket.as_ref(), reference.box_speed, series.settings.reading_u)
}

/// Base+fog of a film with its draws, or why it is not known.
type BaseFog<'a> = Result<(&'a Measured, &'a [f64]), String>;

fn base_fog(curve: &Result<Arc<FilmCurve>, Problem>) -> BaseFog<'_> {
    let curve = curve.as_ref().map_err(|problem| problem.cause.clone())?;
    match curve.figures.get(&FigureId::BaseFog) {
        Some(Value::Known(base)) if base.flags.contains(Flags::UPPER_BOUND) => {
            Err("base+fog is only known to be no more than the lowest density.".to_owned())
        }
        Some(Value::Known(base)) => {
            curve.draws.get(FigureId::BaseFog).map(|draws| (base, draws)).ok_or_else(String::new)
        }
        Some(Value::Undefined(reason)) => Err(reason.clone()),
        None => Err("base+fog is not among its figures.".to_owned()),
    }
}

/// The exposure index at which a film's shadow equals the reference's, and its draws. For the reference it is the index of
/// the frame that sets the density, by definition and without an uncertainty: that of its density is part of each
/// candidate's index.
fn matched_index(series: &Series, film: &Film, density: ShadowDensity, bases: &[BaseFog<'_>]) -> Matched {
    let target = shadow_target(series)?;
    let settings = &series.settings;
    let fit = FitSettings { resamplings: settings.resamplings, seed: settings.seed };
    if series.reference.as_ref() == Some(&film.id) {
        let draws = vec![target.exposure_index; fit.resamplings.max(50) as usize];
        return Ok((Measured::normal(target.exposure_index, 0.0), Some(draws)));
    }
    let Some(bracket) = film.bracket.as_ref().filter(|bracket| !bracket.frames.is_empty()) else {
        return Err(format!("{} has no bracket.", film.label));
    };
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
            gross.net(*reference, *own).ok_or("The resamplings of both films differ in number.")?
        }
    };
    let frames: Vec<(f64, f64)> =
        bracket.frames.iter().map(|frame| (frame.exposure_index, frame.shadow_density)).collect();
    let u = frame_u(bracket, settings.reading_u);
    shadow_match_draws(&target, &frames, u, ErrorKey::of("bracket", &film.id.0), fit)
}
