//! Development of a film's family, its predicted curve, and how alike it is to the reference.

use std::sync::Arc;

use twinwedge_core::compare::format;
use twinwedge_core::compare::similarity::{Similarity, similarity};
use twinwedge_core::development::family::{self, Development, Draws, Roll, Wanted, followed, followed_draws};
use twinwedge_core::development::predicted::{self, Aim, RollCurve, Source};
use twinwedge_core::document::{CompareAs, DevelopmentChoices, Film, FilmId, Series};
use twinwedge_core::measured::{Measured, Value};
use twinwedge_core::problem::{Problem, Subject};

use super::curves::{bytes_of_curve, curve_settings, film_curve};
use super::{film, label_of, reference};
use crate::engine::ask::{CurveOf, DevelopmentOf, FilmCurve, PredictedOf, Prediction, SimilarityOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// The curve of a film that comparisons use: as measured, or as predicted where that was chosen.
pub(super) fn compared(view: &View<'_>, film: &FilmId) -> Result<Result<Arc<FilmCurve>, Problem>, Halt> {
    if view.series().predicts(film) {
        view.try_get(&PredictedOf { film: film.clone() })
    } else {
        view.try_get(&CurveOf { film: film.clone() })
    }
}

/// Its digest.
pub(super) fn compared_digest(view: &View<'_>, film: &FilmId) -> Result<Result<Key, Problem>, Halt> {
    if view.series().predicts(film) {
        view.try_digest(&PredictedOf { film: film.clone() })
    } else {
        view.try_digest(&CurveOf { film: film.clone() })
    }
}

/// The choices that times and curves depend on: not what comparisons use.
fn choices(series: &Series) -> DevelopmentChoices {
    DevelopmentChoices { compare_as: CompareAs::default(), ..series.development.clone() }
}

/// What development depends on: every roll of the family, the reference, choices and settings.
fn recipe(kind: &str, version: u32, of: &FilmId, view: &View<'_>) -> Result<Recipe, Halt> {
    let series = view.series();
    let asked = film(view, of)?;
    let mut recipe = Recipe::new(kind, version)
        .with(&asked.id)
        .with(&choices(series))
        .with(&curve_settings(&series.settings))
        .with(&series.reference)
        .with(&view.reference_film().map(|film| &film.label));
    for roll in series.family(of) {
        recipe = recipe.with(&roll.id).with(&roll.label).with(&roll.process);
        recipe = curve_digest(recipe, view, &roll.id)?;
    }
    match &series.reference {
        Some(reference) => curve_digest(recipe, view, reference),
        None => Ok(recipe),
    }
}

fn curve_digest(recipe: Recipe, view: &View<'_>, film: &FilmId) -> Result<Recipe, Halt> {
    Ok(match view.try_digest(&CurveOf { film: film.clone() })? {
        Ok(digest) => recipe.key(digest),
        Err(problem) => recipe.with(&problem),
    })
}

type Curves<'a> = Vec<(&'a Film, Result<Arc<FilmCurve>, Problem>)>;

/// All rolls of a film's family with their curves.
fn rolls<'a>(view: &'a View<'_>, of: &'a FilmId) -> Result<Curves<'a>, Halt> {
    let family = view.series().family(of);
    family.map(|roll| Ok((roll, view.try_get(&CurveOf { film: roll.id.clone() })?))).collect()
}

fn entered(curves: &Curves<'_>) -> Vec<Roll> {
    let roll = |(film, curve): &(&Film, Result<Arc<FilmCurve>, Problem>)| Roll {
        film: film.id.clone(),
        label: film.label.clone(),
        process: film.process.clone(),
        figures: match curve {
            Ok(curve) => Ok(curve.figures.clone()),
            Err(problem) => Err(problem.cause.clone()),
        },
        draws: curve.as_ref().map(|curve| curve.draws.clone()).unwrap_or_default(),
    };
    curves.iter().map(roll).collect()
}

/// The reference's own gradient.
fn of_reference(view: &View<'_>) -> Result<Wanted, Halt> {
    let series = view.series();
    let Some(reference) = view.reference_film() else {
        let none = "The series has no reference film.".to_owned();
        return Ok(Wanted {
            gradient: Value::Undefined(none),
            from: "the reference film".to_owned(),
            draws: None,
        });
    };
    let follow = series.development.follow;
    let (gradient, draws) = match view.try_get(&CurveOf { film: reference.id.clone() })? {
        Ok(curve) => (followed(&curve.figures, follow), followed_draws(&curve.draws, follow)),
        Err(problem) => (Value::Undefined(problem.cause), None),
    };
    Ok(Wanted { gradient, from: format!("the reference film {}", reference.label), draws })
}

fn wanted(view: &View<'_>) -> Result<Wanted, Halt> {
    match view.series().development.wanted {
        Some(typed) => Ok(Wanted {
            gradient: Value::Known(Measured::normal(typed, 0.0)),
            from: "as typed".to_owned(),
            draws: None,
        }),
        None => of_reference(view),
    }
}

fn develop(curves: &Curves<'_>, of: &FilmId, wanted: &Wanted, series: &Series) -> Development {
    let draws = Draws { count: series.settings.resamplings, seed: series.settings.seed };
    family::develop(&entered(curves), of, wanted, &choices(series), draws)
}

impl Ask for DevelopmentOf {
    type Output = Development;
    const KIND: Kind = Kind::DevelopmentOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.development
    }

    fn label(&self, series: &Series) -> String {
        format!("Development of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        Ok(recipe("development", 1, &self.film, view)?.done())
    }

    /// What is missing stands in the answer with its reason; nothing but a missing film makes the whole fail.
    fn make(&self, view: &View<'_>) -> Result<Development, Halt> {
        film(view, &self.film)?;
        Ok(develop(&rolls(view, &self.film)?, &self.film, &wanted(view)?, view.series()))
    }

    fn digest(development: &Development, _: Key) -> Key {
        Recipe::new("development value", 1).with(development).done()
    }

    fn bytes(development: &Development) -> usize {
        8192 + development.rolls.len() * 1024
    }

    fn slow(&self) -> bool {
        true
    }
}

impl Ask for PredictedOf {
    type Output = FilmCurve;
    const KIND: Kind = Kind::PredictedOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.predicted
    }

    fn label(&self, series: &Series) -> String {
        format!("Predicting the curve of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        Ok(recipe("predicted", 1, &self.film, view)?.done())
    }

    fn make(&self, view: &View<'_>) -> Result<FilmCurve, Halt> {
        let series = view.series();
        let asked = film(view, &self.film)?;
        reference(view)?;
        let curves = rolls(view, &self.film)?;
        let wanted = of_reference(view)?;
        let development = develop(&curves, &self.film, &wanted, series);
        let cannot = |reason: String| {
            Problem::note(
                Subject::Film(asked.id.clone()),
                format!(
                    "{} cannot be shown as if developed to the reference's contrast. {reason}",
                    asked.label
                ),
                "Compare as developed, or add what is missing.",
            )
        };
        let gradient = match &wanted.gradient {
            Value::Known(gradient) => gradient,
            Value::Undefined(reason) => {
                return Err(cannot(format!("The gradient of {} is not known: {reason}", wanted.from)).into());
            }
        };
        let aim = Aim { measured: *gradient, draws: wanted.draws.as_deref() };
        // In the order of the family's times, which is that of their gradients.
        let used = development.rolls.iter().filter(|roll| roll.left_out.is_none());
        let of_roll = |id: &FilmId| {
            let (film, curve) = curves.iter().find(|(film, _)| film.id == *id)?;
            Some((*film, curve.as_ref().ok()?))
        };
        let mut found: Vec<_> = used.filter_map(|roll| of_roll(&roll.film)).collect();
        if found.is_empty() {
            // A roll without a development time has a curve all the same, to be stretched by assumption.
            let own = of_roll(&self.film);
            if let Some(Value::Undefined(reason)) =
                own.map(|(_, curve)| followed(&curve.figures, series.development.follow))
            {
                return Err(cannot(format!("Its own gradient is not known: {reason}")).into());
            }
            found.extend(own);
        }
        let used: Vec<RollCurve<'_>> = found
            .iter()
            .map(|(film, curve)| RollCurve {
                label: &film.label,
                curve: &curve.curve,
                straight: curve.straight.clone().ok(),
            })
            .collect();
        let settings = curve_settings(&series.settings);
        let predicted =
            predicted::predict(&used, &aim, series.development.follow, &settings).map_err(cannot)?;
        let sentence = sentence(&asked.label, &wanted, predicted.source, &predicted.rolls, &development);
        let mut curve = film_curve(predicted.curve, &settings);
        curve.prediction = Some(Prediction { source: predicted.source, time: development.time, sentence });
        Ok(curve)
    }

    fn digest(curve: &FilmCurve, _: Key) -> Key {
        Recipe::new("predicted value", 1).with(curve).done()
    }

    fn bytes(curve: &FilmCurve) -> usize {
        bytes_of_curve(curve)
    }

    fn slow(&self) -> bool {
        true
    }
}

fn sentence(
    label: &str,
    wanted: &Wanted,
    source: Source,
    rolls: &[String],
    development: &Development,
) -> String {
    let from = match source {
        Source::Between => format!("predicted between the curves of {}", rolls.join(" and ")),
        Source::Beyond => {
            format!("predicted beyond the curves of {}, outside the tested times", rolls.join(" and "))
        }
        Source::OneRoll => format!(
            "predicted from the curve of {} alone by assumed scaling of its densities above base+fog",
            rolls.join("")
        ),
    };
    let time = match &development.time.minutes {
        Value::Known(minutes) => {
            let limits = development.time.limits.iter().map(|limit| format!("; {limit}")).collect::<String>();
            let (time, celsius) = (format::measured(minutes, 1), format::number(development.celsius, 1));
            format!("about {time} min at {celsius} °C{limits}")
        }
        Value::Undefined(_) => "a time that is not known".to_owned(),
    };
    let name = family::name(development.follow);
    format!("{label} as if developed to the {name} of {}, {from}: {time}.", wanted.from)
}

impl Ask for SimilarityOf {
    type Output = Similarity;
    const KIND: Kind = Kind::SimilarityOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.similarity
    }

    fn label(&self, series: &Series) -> String {
        format!("Similarity of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        film(view, &self.film)?;
        let reference = reference(view)?;
        let recipe = Recipe::new("similarity", 1).with(&self.film);
        let theirs = view.digest(&CurveOf { film: reference.id.clone() })?;
        match compared_digest(view, &self.film)? {
            Ok(ours) => Ok(recipe.key(theirs).key(ours).done()),
            Err(problem) => Err(problem.into()),
        }
    }

    fn make(&self, view: &View<'_>) -> Result<Similarity, Halt> {
        let reference = reference(view)?;
        let theirs = view.get(&CurveOf { film: reference.id.clone() })?;
        let ours = compared(view, &self.film)??;
        similarity(&theirs.curve, &ours.curve).map_err(|reason| {
            let subject = Subject::Film(self.film.clone());
            Problem::note(subject, reason, "Compare the curves on the Curves page.").into()
        })
    }

    fn digest(similarity: &Similarity, _: Key) -> Key {
        Recipe::new("similarity value", 1).with(similarity).done()
    }

    fn bytes(_: &Similarity) -> usize {
        size_of::<Similarity>()
    }

    fn slow(&self) -> bool {
        true
    }
}
