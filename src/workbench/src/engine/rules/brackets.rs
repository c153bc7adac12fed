//! The exposure index at which a film's shadow is as dense as the reference's, by net and by gross density.

use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::bracket::{Frame, ShadowTarget, reference_shadow};
use twinwedge_core::curve::{ErrorKey, FitSettings};
use twinwedge_core::document::{Film, Series, ShadowDensity};
use twinwedge_core::figures::{FigureId, MatchTarget, shadow_match_draws};
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_core::numeric::random::Stream;
use twinwedge_core::problem::Problem;
use twinwedge_core::words::Sentence;

use super::called;
use super::readings::base_fog;
use crate::engine::ask::{BracketOf, CurveOf, FilmCurve, ShadowTargetOf};
use crate::engine::{Computation, Handle, NoAnswer, Query, Tried, View};
use crate::words::Rule;

/// An index with its draws, or why there is none.
type Matched = Result<(Measured, Option<Vec<f64>>), Sentence>;

/// Base+fog of a film with its draws, or why it is not known.
type BaseFog = Result<(Measured, Vec<f64>), Sentence>;

/// What both indices of a film are made from.
#[derive(Debug, Serialize)]
pub(super) struct Matching {
    /// The film, as sentences call it.
    called: String,
    chosen: ShadowDensity,
    frames: Handle<BracketOf>,
    target: Handle<ShadowTargetOf>,
    draws: Draws,
    is_reference: bool,
    /// Base+fog of the reference and of the film itself, as developed, where the index depends on them.
    bases: Option<[(ReadBase, Tried<CurveOf>); 2]>,
}

/// How errors are drawn.
#[derive(Debug, Clone, Copy, Serialize)]
struct Draws {
    resamplings: u32,
    seed: u64,
}

/// Base+fog as it was read on an unexposed area, if it was.
#[derive(Debug, Serialize)]
pub(super) struct ReadBase {
    read: Option<(f64, f64)>,
    /// Two readings alike are no one reading: the reference's error is not its candidates'.
    is_reference: bool,
    draws: Draws,
}

impl Draws {
    fn of(series: &Series) -> Self {
        Self { resamplings: series.settings.resamplings, seed: series.settings.seed }
    }

    fn fit(self) -> FitSettings {
        FitSettings { resamplings: self.resamplings, seed: self.seed }
    }
}

impl ReadBase {
    pub(super) fn of(series: &Series, film: &Film) -> Self {
        let is_reference = series.reference.as_ref() == Some(&film.id);
        Self { read: base_fog(film, series.settings.reading_u), is_reference, draws: Draws::of(series) }
    }

    /// With what it might have been: for a film that has no curve.
    pub(super) fn drawn(&self) -> Option<(Measured, Vec<f64>)> {
        let (density, u) = self.read?;
        let key = ErrorKey::by("base+fog", [density, u, f64::from(u8::from(self.is_reference))]).number();
        let draw =
            |number: u32| density + u * Stream::keyed(self.draws.seed, u64::from(number), key).normal();
        Some((Measured::normal(density, u), (0..self.draws.resamplings.max(50)).map(draw).collect()))
    }

    /// By the curve, which a reading of an unexposed area is part of; without a curve by that reading alone.
    fn or_of(&self, curve: &Result<Arc<FilmCurve>, Problem>) -> BaseFog {
        let curve = match (curve, self.drawn()) {
            (Ok(curve), _) => curve,
            (Err(_), Some(read)) => return Ok(read),
            (Err(problem), None) => return Err(problem.cause.clone()),
        };
        match curve.figures.get(&FigureId::BaseFog) {
            Some(Value::Known(base)) if base.flags.contains(Flags::UPPER_BOUND) => {
                Err(Rule::BaseFogBound.into())
            }
            Some(Value::Known(base)) => {
                let draws = curve.draws.get(FigureId::BaseFog).ok_or_else(Sentence::default)?;
                Ok((*base, draws.to_vec()))
            }
            Some(Value::Undefined(reason)) => Err(reason.clone()),
            None => Err(Rule::NoBaseFog.into()),
        }
    }
}

impl Matching {
    pub(super) fn of(view: &View<'_>, film: &Film) -> Result<Self, NoAnswer> {
        let series = view.series();
        let reference = view.reference_film();
        let is_reference = series.reference.as_ref() == Some(&film.id);
        let base = |film: &Film| -> Result<_, NoAnswer> {
            Ok((ReadBase::of(series, film), view.try_handle(CurveOf { film: film.id.clone() })?))
        };
        let bases = match reference.filter(|_| film.bracket.is_some() && !is_reference) {
            Some(reference) => Some([base(reference)?, base(film)?]),
            None => None,
        };
        Ok(Self {
            called: called(film),
            chosen: series.settings.shadow_match,
            frames: view.handle(BracketOf { film: film.id.clone() })?,
            target: view.handle(ShadowTargetOf)?,
            draws: Draws::of(series),
            is_reference,
            bases,
        })
    }

    /// The index by the density that the series chose, and by the other.
    pub(super) fn indices(&self, work: &Computation<'_>) -> Result<[(FigureId, Matched); 2], NoAnswer> {
        let bases = match &self.bases {
            Some([(read, curve), (own, own_curve)]) => {
                Some([read.or_of(&work.try_get(curve)?), own.or_of(&work.try_get(own_curve)?)])
            }
            None => None,
        };
        let (target, frames) = (work.get(&self.target)?, work.get(&self.frames)?);
        Ok([(FigureId::ShadowMatchIndex, self.chosen), (FigureId::ShadowMatchOther, self.chosen.other())]
            .map(|(id, density)| (id, self.index(density, &target, &frames, bases.as_ref()))))
    }

    /// The exposure index at which the film's shadow equals the reference's, and its draws. For the reference it is the index
    /// of the frame that sets the density, by definition and without an uncertainty: that of its density is part of each
    /// candidate's index.
    fn index(
        &self,
        density: ShadowDensity,
        target: &Result<ShadowTarget, Sentence>,
        frames: &[Result<Frame, Problem>],
        bases: Option<&[BaseFog; 2]>,
    ) -> Matched {
        let target = target.as_ref().map_err(Sentence::clone)?;
        let fit = self.draws.fit();
        if self.is_reference {
            let draws = vec![target.exposure_index; fit.resamplings.max(50) as usize];
            return Ok((Measured::normal(target.exposure_index, 0.0), Some(draws)));
        }
        if frames.is_empty() {
            return Err(Rule::NoBracket { called: self.called.clone() }.into());
        }
        let gross = MatchTarget::of(target.density, target.u, fit);
        let target = match density {
            ShadowDensity::Gross => gross,
            ShadowDensity::Net => {
                let named = |whose: &'static str, why: &Sentence| {
                    Sentence::from(Rule::NetNeedsBaseFog { whose, why: why.clone() })
                };
                let [reference, own] = bases.ok_or(Rule::NothingToMatch)?;
                let reference = reference.as_ref().map_err(|why| named("reference", why))?;
                let own = own.as_ref().map_err(|why| named("film itself", why))?;
                let both = ((&reference.0, &*reference.1), (&own.0, &*own.1));
                gross.net(both.0, both.1).ok_or(Rule::ResamplingsDiffer)?
            }
        };
        let read = read(frames);
        let matched = shadow_match_draws(&target, &read, errors_of(&read), fit);
        matched.map_err(|why| with_reason(why, frames))
    }
}

impl Query for ShadowTargetOf {
    /// The reference's bracket and box speed, where there is a reference.
    type Inputs = Option<(Handle<BracketOf>, Option<f64>)>;

    fn inputs(&self, view: &View<'_>) -> Result<Self::Inputs, NoAnswer> {
        let Some(reference) = view.reference_film() else { return Ok(None) };
        Ok(Some((view.handle(BracketOf { film: reference.id.clone() })?, reference.box_speed)))
    }

    fn compute(
        reference: &Self::Inputs,
        work: &Computation<'_>,
    ) -> Result<Result<ShadowTarget, Sentence>, NoAnswer> {
        let Some((frames, box_speed)) = reference else {
            return Ok(Err(Rule::NoReferenceFilm.into()));
        };
        let frames = work.get(frames)?;
        if !frames.is_empty() && frames.iter().all(Result::is_err) {
            return Ok(Err(with_reason(Rule::NoFrameRead.into(), &frames)));
        }
        Ok(reference_shadow(&read(&frames), *box_speed).map_err(|why| with_reason(why, &frames)))
    }
}

/// The frames that were read.
fn read(frames: &[Result<Frame, Problem>]) -> Vec<Frame> {
    frames.iter().filter_map(|frame| frame.as_ref().ok()).copied().collect()
}

/// A reason, and what kept the first of the frames that were not read from being so.
fn with_reason(why: Sentence, frames: &[Result<Frame, Problem>]) -> Sentence {
    match frames.iter().find_map(|frame| frame.as_ref().err()) {
        Some(problem) => Rule::Both { cause: why, remedy: problem.cause.clone() }.into(),
        None => why,
    }
}

/// The errors of a bracket's frames, by these in order of their indices.
fn errors_of(frames: &[Frame]) -> ErrorKey {
    let mut frames: Vec<[f64; 3]> =
        frames.iter().map(|frame| [frame.exposure_index, frame.density, frame.u]).collect();
    frames.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    ErrorKey::by("bracket", frames.into_iter().flatten())
}
