//! Development of a film's family, its predicted curve, and how alike it is to the reference.

use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::compare::format;
use twinwedge_core::compare::similarity::{Similarity, similarity};
use twinwedge_core::development::family::{self, Development, Draws, Roll, Wanted, followed, followed_draws};
use twinwedge_core::development::predicted::{self, Aim, RollCurve, Source};
use twinwedge_core::document::{CompareAs, DevelopmentChoices, Film, FilmId, Process, Settings};
use twinwedge_core::measured::{Measured, Value};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::words::Sentence;

use super::curves::{bytes_of_departures, curve_settings, film_curve};
use super::{film, reference};
use crate::engine::ask::{CurveOf, DevelopmentOf, FilmCurve, PredictedOf, Prediction, SimilarityOf};
use crate::engine::names::stand_in;
use crate::engine::{Computation, Handle, NoAnswer, Query, Tried, View};
use crate::words::{Remedy, Rule};

/// The curve of a film that comparisons use.
#[derive(Debug, Serialize)]
pub(super) enum Compared {
    /// The curve as it was measured.
    Measured(Tried<CurveOf>),
    /// As predicted, where that was chosen.
    Predicted(Tried<PredictedOf>),
}

impl Compared {
    pub(super) fn of(view: &View<'_>, film: &FilmId) -> Result<Self, NoAnswer> {
        Ok(if view.series().predicts(film) {
            Self::Predicted(view.try_handle(PredictedOf { film: film.clone() })?)
        } else {
            Self::Measured(view.try_handle(CurveOf { film: film.clone() })?)
        })
    }

    pub(super) fn get(&self, work: &Computation<'_>) -> Result<Result<Arc<FilmCurve>, Problem>, NoAnswer> {
        match self {
            Self::Measured(curve) => work.try_get(curve),
            Self::Predicted(curve) => work.try_get(curve),
        }
    }
}

/// What development depends on: every roll of the family, the reference, choices and settings.
#[derive(Debug, Serialize)]
pub struct Family {
    film: FilmId,
    rolls: Vec<FamilyRoll>,
    reference: Option<(FilmId, Tried<CurveOf>)>,
    /// All but what comparisons use.
    choices: DevelopmentChoices,
    settings: Settings,
}

/// A roll that was developed for a time of its own, and the handle of its curve.
#[derive(Debug, Serialize)]
struct FamilyRoll {
    film: FilmId,
    process: Process,
    curve: Tried<CurveOf>,
}

type Curve = Result<Arc<FilmCurve>, Problem>;

impl Family {
    fn of(view: &View<'_>, id: &FilmId) -> Result<Self, NoAnswer> {
        let series = view.series();
        film(view, id)?;
        let curve = |film: &FilmId| view.try_handle(CurveOf { film: film.clone() });
        let roll = |film: &Film| -> Result<_, NoAnswer> {
            Ok(FamilyRoll { film: film.id.clone(), process: film.process.clone(), curve: curve(&film.id)? })
        };
        let reference = match view.reference_film() {
            Some(reference) => Some((reference.id.clone(), curve(&reference.id)?)),
            None => None,
        };
        Ok(Self {
            film: id.clone(),
            rolls: series.family(id).map(roll).collect::<Result<_, _>>()?,
            reference,
            choices: DevelopmentChoices { compare_as: CompareAs::default(), ..series.development.clone() },
            settings: curve_settings(&series.settings),
        })
    }

    /// The curves of all rolls.
    fn curves(&self, work: &Computation<'_>) -> Result<Vec<Curve>, NoAnswer> {
        self.rolls.iter().map(|roll| work.try_get(&roll.curve)).collect()
    }

    /// The reference's own gradient.
    fn of_reference(&self, work: &Computation<'_>) -> Result<Wanted, NoAnswer> {
        let Some((reference, curve)) = &self.reference else {
            let none = Rule::NoReferenceFilm.into();
            return Ok(Wanted {
                gradient: Value::Undefined(none),
                from: "the reference film".to_owned(),
                draws: None,
            });
        };
        let follow = self.choices.follow;
        let (gradient, draws) = match work.try_get(curve)? {
            Ok(curve) => (followed(&curve.figures, follow), followed_draws(&curve.draws, follow)),
            Err(problem) => (Value::Undefined(problem.cause), None),
        };
        Ok(Wanted { gradient, from: format!("the reference film {}", stand_in(reference)), draws })
    }

    fn develop(&self, curves: &[Curve], wanted: &Wanted) -> Development {
        let roll = |(roll, curve): (&FamilyRoll, &Curve)| Roll {
            film: roll.film.clone(),
            label: stand_in(&roll.film),
            process: roll.process.clone(),
            figures: curve
                .as_ref()
                .map(|curve| curve.figures.clone())
                .map_err(|problem| problem.cause.clone()),
            draws: curve.as_ref().map(|curve| curve.draws.clone()).unwrap_or_default(),
        };
        let rolls: Vec<Roll> = self.rolls.iter().zip(curves).map(roll).collect();
        let draws = Draws { count: self.settings.resamplings, seed: self.settings.seed };
        family::develop(&rolls, &self.film, wanted, &self.choices, draws)
    }
}

impl Query for DevelopmentOf {
    type Inputs = Family;

    fn inputs(&self, view: &View<'_>) -> Result<Family, NoAnswer> {
        Family::of(view, &self.film)
    }

    /// What is missing stands in the answer with its reason; nothing but a missing film makes the whole fail.
    fn compute(family: &Family, work: &Computation<'_>) -> Result<Development, NoAnswer> {
        let wanted = match family.choices.wanted {
            Some(typed) => Wanted {
                gradient: Value::Known(Measured::normal(typed, 0.0)),
                from: "as typed".to_owned(),
                draws: None,
            },
            None => family.of_reference(work)?,
        };
        Ok(family.develop(&family.curves(work)?, &wanted))
    }
}

impl Query for PredictedOf {
    type Inputs = Family;

    fn inputs(&self, view: &View<'_>) -> Result<Family, NoAnswer> {
        let family = Family::of(view, &self.film)?;
        reference(view)?;
        Ok(family)
    }

    fn compute(family: &Family, work: &Computation<'_>) -> Result<FilmCurve, NoAnswer> {
        let called = stand_in(&family.film);
        let follow = family.choices.follow;
        let curves = family.curves(work)?;
        let wanted = family.of_reference(work)?;
        let development = family.develop(&curves, &wanted);
        let cannot = |reason: Sentence| {
            Problem::note(
                Subject::Film(family.film.clone()),
                Rule::NotPredicted { called: called.clone(), why: reason },
                Remedy::AsDeveloped,
            )
        };
        let gradient = match &wanted.gradient {
            Value::Known(gradient) => gradient,
            Value::Undefined(reason) => {
                return Err(cannot(
                    Rule::GradientNotKnown { of: wanted.from.clone(), why: reason.clone() }.into(),
                )
                .into());
            }
        };
        let aim = Aim { measured: *gradient, draws: wanted.draws.as_deref() };
        // In the order of the family's times, which is that of their gradients.
        let used = development.rolls.iter().filter(|roll| roll.left_out.is_none());
        let of_roll = |id: &FilmId| {
            let at = family.rolls.iter().position(|roll| roll.film == *id)?;
            Some((stand_in(id), curves.get(at)?.as_ref().ok()?))
        };
        let mut found: Vec<_> = used.filter_map(|roll| of_roll(&roll.film)).collect();
        if found.is_empty() {
            // A roll without a development time has a curve all the same, to be stretched by assumption.
            let own = of_roll(&family.film);
            if let Some(Value::Undefined(reason)) =
                own.as_ref().map(|(_, curve)| followed(&curve.figures, follow))
            {
                return Err(cannot(Rule::OwnGradientNotKnown { why: reason.clone() }.into()).into());
            }
            found.extend(own);
        }
        let used: Vec<RollCurve<'_>> = found
            .iter()
            .map(|(label, curve)| RollCurve {
                label,
                curve: &curve.curve,
                straight: curve.straight.clone().ok(),
            })
            .collect();
        let predicted = predicted::predict(&used, &aim, follow, &family.settings).map_err(cannot)?;
        let sentence = sentence(&called, &wanted, predicted.source, &predicted.rolls, &development);
        let mut curve = film_curve(predicted.curve, &family.settings);
        curve.prediction = Some(Prediction { source: predicted.source, time: development.time, sentence });
        Ok(curve)
    }

    fn uncounted_bytes(curve: &FilmCurve) -> usize {
        bytes_of_departures(curve)
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

/// Two curves that are held against each other.
#[derive(Debug, Serialize)]
pub struct BothCurves {
    film: FilmId,
    reference: Handle<CurveOf>,
    compared: Compared,
}

impl Query for SimilarityOf {
    type Inputs = BothCurves;

    fn inputs(&self, view: &View<'_>) -> Result<BothCurves, NoAnswer> {
        film(view, &self.film)?;
        let reference = view.handle(CurveOf { film: reference(view)?.id.clone() })?;
        Ok(BothCurves { film: self.film.clone(), reference, compared: Compared::of(view, &self.film)? })
    }

    fn compute(both: &BothCurves, work: &Computation<'_>) -> Result<Similarity, NoAnswer> {
        let (theirs, ours) = (work.get(&both.reference)?, both.compared.get(work)??);
        similarity(&theirs.curve, &ours.curve).map_err(|reason| {
            let subject = Subject::Film(both.film.clone());
            Problem::note(subject, reason, Remedy::CurvesPage).into()
        })
    }
}
