//! All figures of a film, and a candidate against the reference.

use std::collections::BTreeMap;
use std::sync::Arc;

use twinwedge_core::compare::{Comparison, FilmFigures, compare};
use twinwedge_core::document::{Film, Series};
use twinwedge_core::figures::{Departures, Draws, FigureId, Figures, against_box, registry};
use twinwedge_core::grain::{Granularity, GranularityCurve};
use twinwedge_core::measured::{Measured, Value};
use twinwedge_core::patch::PatchSample;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::GradientError;
use twinwedge_core::sharpness::Sharpness;

use super::brackets;
use super::development::{compared, compared_digest};
use super::{film, label_of, reference};
use crate::engine::ask::{
    ComparisonOf, DetailOf, DrawnFiguresOf, FiguresOf, GrainOf, GranularityCurveOf, PatchesOf, SharpnessOf,
    SpotsOf, TonesOf, ViewedOf,
};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

impl Ask for DrawnFiguresOf {
    type Output = FilmFigures;
    const KIND: Kind = Kind::DrawnFiguresOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.drawn_figures
    }

    fn label(&self, series: &Series) -> String {
        format!("Figures of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let film = film(view, &self.film)?;
        let is_reference = view.series().reference.as_ref() == Some(&film.id);
        let recipe = Recipe::new("figures", 5)
            .with(&is_reference)
            .with(&film.id)
            .with(&film.label)
            .with(&film.box_speed);
        let mut recipe = brackets::count(recipe, view, film)?.with(&view.series().layout);
        let parts = [
            compared_digest(view, &self.film)?,
            view.try_digest(&GrainOf { film: self.film.clone(), area: 0 })?,
            view.try_digest(&GranularityCurveOf { film: self.film.clone() })?,
            view.try_digest(&SharpnessOf { film: self.film.clone() })?,
            view.try_digest(&PatchesOf { film: self.film.clone() })?,
            view.try_digest(&SpotsOf { film: self.film.clone() })?,
        ];
        for part in parts {
            recipe = match part {
                Ok(digest) => recipe.key(digest),
                Err(problem) => recipe.with(&problem),
            };
        }
        Ok(recipe.done())
    }

    /// What is missing is a figure with its reason; nothing but a missing film makes the whole fail.
    fn make(&self, view: &View<'_>) -> Result<FilmFigures, Halt> {
        let series = view.series();
        let film = film(view, &self.film)?;
        let curve = compared(view, &self.film)?;
        let grain = view.try_get(&GrainOf { film: self.film.clone(), area: 0 })?;
        let sharpness = view.try_get(&SharpnessOf { film: self.film.clone() })?;
        let patches = view.try_get(&PatchesOf { film: self.film.clone() })?;
        let spots = view.try_get(&SpotsOf { film: self.film.clone() })?;

        let (mut figures, mut draws) = match &curve {
            Ok(curve) => (curve.figures.clone(), curve.draws.clone()),
            Err(problem) => without_curve(series, film, problem),
        };
        figures.extend(of_grain(&grain));
        let over_density = view.try_get(&GranularityCurveOf { film: self.film.clone() })?;
        figures.insert(FigureId::GranularityNetOne, at_net_one(&over_density));
        figures.extend(of_edges(&sharpness));
        for (id, matched) in brackets::indices(view, film)? {
            let value = match matched {
                Ok((index, drawn)) => {
                    drawn.into_iter().for_each(|drawn| draws.insert(id, drawn));
                    Value::Known(index)
                }
                Err(reason) => Value::Undefined(reason),
            };
            figures.insert(id, value);
        }
        against_box(&mut figures, &mut draws, film.box_speed);
        let sampled = |samples: Result<Arc<Vec<PatchSample>>, Problem>| {
            samples.map(|samples| samples.to_vec()).unwrap_or_default()
        };
        Ok(FilmFigures {
            label: film.label.clone(),
            box_speed: film.box_speed,
            figures,
            draws,
            gradients: gradients(&grain, &over_density),
            reach: curve.as_ref().ok().map(|curve| curve.reach.clone()),
            departures: curve.as_ref().ok().and_then(|curve| curve.departures.clone()),
            shadow_match: series.settings.shadow_match,
            layout: series.layout.clone(),
            patches: sampled(patches),
            spots: sampled(spots),
        })
    }

    fn digest(figures: &FilmFigures, _: Key) -> Key {
        Recipe::new("figures value", 2).with(figures).done()
    }

    fn bytes(figures: &FilmFigures) -> usize {
        let departures = figures.departures.as_ref().map_or(0, Departures::bytes);
        figures.draws.bytes() + departures + bytes_without_draws(figures)
    }

    fn slow(&self) -> bool {
        true
    }
}

impl Ask for FiguresOf {
    type Output = FilmFigures;
    const KIND: Kind = Kind::FiguresOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.figures
    }

    fn label(&self, series: &Series) -> String {
        self.drawn().label(series)
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        Ok(Recipe::new("figures without draws", 1).key(view.digest(&self.drawn())?).done())
    }

    fn make(&self, view: &View<'_>) -> Result<FilmFigures, Halt> {
        Ok(view.get(&self.drawn())?.without_draws())
    }

    fn digest(figures: &FilmFigures, _: Key) -> Key {
        Recipe::new("figures without draws value", 1).with(figures).done()
    }

    fn bytes(figures: &FilmFigures) -> usize {
        bytes_without_draws(figures)
    }

    fn slow(&self) -> bool {
        true
    }
}

impl FiguresOf {
    fn drawn(&self) -> DrawnFiguresOf {
        DrawnFiguresOf { film: self.film.clone() }
    }
}

fn bytes_without_draws(figures: &FilmFigures) -> usize {
    // Each figure, with the reason where it is missing.
    figures.figures.len() * 256
        + figures.departures.as_ref().map_or(0, |departures| size_of_val(&*departures.values))
        + (figures.patches.len() + figures.spots.len()) * size_of::<PatchSample>()
        + 4096
}

/// The figures of a film without a curve: none, for one reason, but base+fog where it was read on an unexposed area.
fn without_curve(series: &Series, film: &Film, problem: &Problem) -> (Figures, Draws) {
    let (mut figures, mut draws) = (undefined(problem), Draws::default());
    if let Some((base, drawn)) = brackets::read_base_fog(series, film) {
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
) -> BTreeMap<FigureId, GradientError> {
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

impl Ask for ComparisonOf {
    type Output = Comparison;
    const KIND: Kind = Kind::ComparisonOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.comparison
    }

    fn label(&self, series: &Series) -> String {
        format!("Comparing {} with the reference", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let [reference, candidate] = self.sides(view)?;
        let recipe = Recipe::new("comparison", 3).key(view.digest(&reference)?).key(view.digest(&candidate)?);
        let recipe = match view.try_digest(&ViewedOf { film: self.film.clone() })? {
            Ok(viewed) => recipe.key(viewed),
            Err(problem) => recipe.with(&problem),
        };
        let recipe = match view.try_digest(&TonesOf { film: self.film.clone() })? {
            Ok(tones) => recipe.key(tones),
            Err(problem) => recipe.with(&problem),
        };
        Ok(match view.try_digest(&self.detail())? {
            Ok(detail) => recipe.key(detail).done(),
            Err(problem) => recipe.with(&problem).done(),
        })
    }

    fn make(&self, view: &View<'_>) -> Result<Comparison, Halt> {
        let [reference, candidate] = self.sides(view)?;
        let mut comparison = compare(&*view.get(&reference)?, &*view.get(&candidate)?);
        let tones = view.try_get(&TonesOf { film: self.film.clone() })?;
        comparison.rate_alike(tones.as_deref().map_err(|problem| problem.cause.as_str()));
        let viewed = view.try_get(&ViewedOf { film: self.film.clone() })?;
        comparison.view_grain(viewed.as_deref().map_err(|problem| problem.cause.as_str()));
        let detail = view.try_get(&self.detail())?;
        comparison.tell_detail(match &detail {
            Ok(found) => Ok((&found.detail, found.third.as_deref())),
            Err(problem) => Err(&problem.cause),
        });
        Ok(comparison)
    }

    fn digest(comparison: &Comparison, _: Key) -> Key {
        Recipe::new("comparison value", 1).with(comparison).done()
    }

    fn bytes(comparison: &Comparison) -> usize {
        8192 + (comparison.patches.len() + comparison.spots.len()) * 512
    }

    fn slow(&self) -> bool {
        true
    }
}

impl ComparisonOf {
    fn detail(&self) -> DetailOf {
        DetailOf { film: self.film.clone(), quick: false }
    }

    fn sides(&self, view: &View<'_>) -> Result<[DrawnFiguresOf; 2], Problem> {
        let reference = reference(view)?;
        if reference.id == self.film {
            return Err(Problem::note(
                Subject::Film(self.film.clone()),
                format!("{} is the reference and is not compared with itself.", reference.label),
                "Choose a candidate.",
            ));
        }
        Ok([&reference.id, &self.film].map(|film| DrawnFiguresOf { film: film.clone() }))
    }
}
