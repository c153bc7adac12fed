//! All figures of a film, and a candidate against the reference.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::compare::{Comparison, FilmFigures, RollPrice, compare};
use twinwedge_core::document::{Film, FilmId, PatchLayout, ShadowDensity};
use twinwedge_core::figures::{Departures, Draws, FigureId, Figures, against_box, registry};
use twinwedge_core::grain::{Granularity, GranularityCurve};
use twinwedge_core::measured::{Measured, Value};
use twinwedge_core::patch::PatchSample;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::SharedError;
use twinwedge_core::sharpness::Sharpness;

use super::brackets::{Matching, ReadBase};
use super::development::Compared;
use super::{called, film, reference};
use crate::engine::ask::{
    BandsOf, ComparisonOf, DetailOf, DrawnFiguresOf, FiguresOf, GrainOf, GranularityCurveOf, PatchesOf,
    RenderingOf, SharpnessOf, SpotsOf, TonesOf, ViewedOf,
};
use crate::engine::names::stand_in;
use crate::engine::query::tried;
use crate::engine::{Computation, Handle, NoAnswer, Query, Tried, View};
use crate::words::{Remedy, Rule};

/// What all figures of a film are made from. What is missing is a figure with its reason.
#[derive(Debug, Serialize)]
pub struct Figuring {
    film: FilmId,
    box_speed: Option<f64>,
    shadow_match: ShadowDensity,
    layout: Option<PatchLayout>,
    base: ReadBase,
    curve: Compared,
    matching: Matching,
    grain: Tried<GrainOf>,
    over_density: Tried<GranularityCurveOf>,
    sharpness: Tried<SharpnessOf>,
    patches: Option<Handle<PatchesOf>>,
    spots: Option<Handle<SpotsOf>>,
}

/// Samples where they could be had.
fn sampled<Q: Query<Output = Vec<PatchSample>>>(
    work: &Computation<'_>,
    samples: Option<&Handle<Q>>,
) -> Result<Vec<PatchSample>, NoAnswer> {
    let Some(samples) = samples else { return Ok(Vec::new()) };
    Ok(tried(work.get(samples))?.map_or_else(|_| Vec::new(), |samples| samples.to_vec()))
}

impl Query for DrawnFiguresOf {
    type Inputs = Figuring;

    fn inputs(&self, view: &View<'_>) -> Result<Figuring, NoAnswer> {
        let (series, film) = (view.series(), film(view, &self.film)?);
        let id = || self.film.clone();
        Ok(Figuring {
            film: id(),
            box_speed: film.box_speed,
            shadow_match: series.settings.shadow_match,
            layout: series.layout.as_ref().map(PatchLayout::without_colours),
            base: ReadBase::of(series, film),
            curve: Compared::of(view, &self.film)?,
            matching: Matching::of(view, film)?,
            grain: view.try_handle(GrainOf { film: id(), area: 0 })?,
            over_density: view.try_handle(GranularityCurveOf { film: id() })?,
            sharpness: view.try_handle(SharpnessOf { film: id() })?,
            patches: view.try_handle(PatchesOf { film: id() })?.ok(),
            spots: view.try_handle(SpotsOf { film: id() })?.ok(),
        })
    }

    fn compute(inputs: &Figuring, work: &Computation<'_>) -> Result<FilmFigures, NoAnswer> {
        let curve = inputs.curve.get(work)?;
        let grain = work.try_get(&inputs.grain)?;
        let (mut figures, mut draws) = match &curve {
            Ok(curve) => (curve.figures.clone(), curve.draws.clone()),
            Err(problem) => without_curve(&inputs.base, problem),
        };
        figures.extend(of_grain(&grain));
        let over_density = work.try_get(&inputs.over_density)?;
        figures.insert(FigureId::GranularityNetOne, at_net_one(&over_density));
        figures.extend(of_edges(&work.try_get(&inputs.sharpness)?));
        for (id, matched) in inputs.matching.indices(work)? {
            let value = match matched {
                Ok((index, drawn)) => {
                    drawn.into_iter().for_each(|drawn| draws.insert(id, drawn));
                    Value::Known(index)
                }
                Err(reason) => Value::Undefined(reason),
            };
            figures.insert(id, value);
        }
        against_box(&mut figures, &mut draws, inputs.box_speed);
        Ok(FilmFigures {
            label: stand_in(&inputs.film),
            box_speed: inputs.box_speed,
            figures,
            draws,
            gradients: gradients(&grain, &over_density),
            reach: curve.as_ref().ok().map(|curve| curve.reach.clone()),
            departures: curve.as_ref().ok().and_then(|curve| curve.departures.clone()),
            shadow_match: inputs.shadow_match,
            layout: inputs.layout.clone(),
            patches: sampled(work, inputs.patches.as_ref())?,
            spots: sampled(work, inputs.spots.as_ref())?,
        })
    }

    fn uncounted_bytes(figures: &FilmFigures) -> usize {
        figures.departures.as_ref().map_or(0, Departures::bytes)
    }
}

impl Query for FiguresOf {
    type Inputs = Handle<DrawnFiguresOf>;

    fn inputs(&self, view: &View<'_>) -> Result<Handle<DrawnFiguresOf>, NoAnswer> {
        view.handle(DrawnFiguresOf { film: self.film.clone() })
    }

    fn compute(drawn: &Handle<DrawnFiguresOf>, work: &Computation<'_>) -> Result<FilmFigures, NoAnswer> {
        Ok(work.get(drawn)?.without_draws())
    }
}

/// The figures of a film without a curve: none, for one reason, but base+fog where it was read on an unexposed area.
fn without_curve(base: &ReadBase, problem: &Problem) -> (Figures, Draws) {
    let (mut figures, mut draws) = (undefined(problem), Draws::default());
    if let Some((base, drawn)) = base.drawn() {
        figures.insert(FigureId::BaseFog, Value::Known(base));
        draws.insert(FigureId::BaseFog, drawn);
    }
    (figures, draws)
}

/// Every figure of the registry, undefined for one reason.
fn undefined(problem: &Problem) -> Figures {
    registry().iter().map(|spec| (spec.id, Value::Undefined(problem.cause.clone()))).collect()
}

fn of_grain(grain: &Result<Arc<Granularity>, Problem>) -> BTreeMap<FigureId, Value> {
    let value = |of: &dyn Fn(&Granularity) -> Measured| match grain {
        Ok(grain) => Value::Known(of(grain)),
        Err(problem) => Value::Undefined(problem.cause.clone()),
    };
    BTreeMap::from([
        (FigureId::Granularity, value(&|grain| grain.rms)),
        (FigureId::GranularityDensity, value(&|grain| grain.mean_density.plain())),
    ])
}

/// The calibration's part in the errors of granularities.
fn gradients(
    grain: &Result<Arc<Granularity>, Problem>,
    curve: &Result<Arc<GranularityCurve>, Problem>,
) -> BTreeMap<FigureId, SharedError> {
    let first = grain.as_ref().ok().map(|grain| grain.gradient.clone());
    let net_one = curve.as_ref().ok().and_then(|curve| curve.at_net_one().ok()).map(|found| found.gradient);
    let of = [(FigureId::Granularity, first), (FigureId::GranularityNetOne, net_one)];
    of.into_iter().filter_map(|(id, gradient)| Some((id, gradient?))).collect()
}

fn at_net_one(curve: &Result<Arc<GranularityCurve>, Problem>) -> Value {
    match curve.as_ref().map(|curve| curve.at_net_one()) {
        Ok(Ok(found)) => Value::Known(found.rms),
        Ok(Err(why)) => Value::Undefined(why),
        Err(problem) => Value::Undefined(problem.cause.clone()),
    }
}

fn of_edges(sharpness: &Result<Arc<Sharpness>, Problem>) -> BTreeMap<FigureId, Value> {
    let value = |of: fn(&Sharpness) -> &Value| match sharpness {
        Ok(sharpness) => of(sharpness).clone(),
        Err(problem) => Value::Undefined(problem.cause.clone()),
    };
    BTreeMap::from([
        (FigureId::Mtf50, value(|sharpness| &sharpness.mtf50)),
        (FigureId::Mtf10, value(|sharpness| &sharpness.mtf10)),
    ])
}

/// What a comparison is made from.
#[derive(Debug, Serialize)]
pub struct Comparing {
    reference: Handle<DrawnFiguresOf>,
    candidate: Handle<DrawnFiguresOf>,
    viewed: Tried<ViewedOf>,
    tones: Tried<TonesOf>,
    detail: Tried<DetailOf>,
    greys: Tried<RenderingOf>,
    bands: Tried<BandsOf>,
    /// The third film of the tones is a roll of the reference that was developed for longer.
    pushed: bool,
    /// Of the reference and the candidate.
    prices: [RollPrice; 2],
}

/// Whether `film` is a roll of `of` that was developed for longer.
fn is_pushed(film: &Film, of: &Film) -> bool {
    let longer = film.process.minutes.zip(of.process.minutes).is_some_and(|(film, of)| film > of);
    film.roll_of.as_ref() == Some(&of.id) && longer
}

impl Query for ComparisonOf {
    type Inputs = Comparing;

    fn inputs(&self, view: &View<'_>) -> Result<Comparing, NoAnswer> {
        let reference = reference(view)?;
        if reference.id == self.film {
            let problem = Problem::note(
                Subject::Film(self.film.clone()),
                Rule::IsReference { called: called(reference) },
                Remedy::ChooseCandidate,
            );
            return Err(problem.into());
        }
        let candidate = film(view, &self.film)?;
        let id = || self.film.clone();
        let third = view.series().tones.third.as_ref().filter(|third| **third != self.film);
        let third = third.and_then(|third| view.film(third));
        let price = |film: &Film| RollPrice { price: film.price.clone(), format: film.format.clone() };
        Ok(Comparing {
            pushed: third.is_some_and(|third| is_pushed(third, reference)),
            prices: [price(reference), price(candidate)],
            reference: view.handle(DrawnFiguresOf { film: reference.id.clone() })?,
            candidate: view.handle(DrawnFiguresOf { film: id() })?,
            viewed: view.try_handle(ViewedOf { film: id() })?,
            tones: view.try_handle(TonesOf { film: id() })?,
            detail: view.try_handle(DetailOf { film: id(), quick: false })?,
            greys: view.try_handle(RenderingOf { film: id() })?,
            bands: view.try_handle(BandsOf { film: id() })?,
        })
    }

    fn compute(inputs: &Comparing, work: &Computation<'_>) -> Result<Comparison, NoAnswer> {
        let mut comparison = compare(&*work.get(&inputs.reference)?, &*work.get(&inputs.candidate)?);
        let tones = work.try_get(&inputs.tones)?;
        comparison.rate_alike(tones.as_deref().map_err(|problem| &problem.cause));
        if let Ok(tones) = &tones {
            comparison.tell_blank(tones, inputs.pushed);
        }
        comparison.weigh_price(&inputs.prices);
        let viewed = work.try_get(&inputs.viewed)?;
        comparison.view_grain(viewed.as_deref().map_err(|problem| &problem.cause));
        let (greys, bands) = (work.try_get(&inputs.greys)?, work.try_get(&inputs.bands)?);
        comparison.tell_colours(
            greys.as_deref().map_err(|problem| &problem.cause),
            bands.as_deref().map_err(|problem| &problem.cause),
        );
        let detail = work.try_get(&inputs.detail)?;
        comparison.tell_detail(match &detail {
            Ok(found) => Ok((&found.detail, found.third.as_deref())),
            Err(problem) => Err(&problem.cause),
        });
        Ok(comparison)
    }
}
