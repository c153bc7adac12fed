//! The paper, and tones followed from the subject through the films to the print.

use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::curve::{self, FitSettings};
use twinwedge_core::document::{
    Exposure, Film, FilmId, PaperTest, ReadingsSource, Series, StripLevel, ToneChoices,
};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::tablet::StepSample;
use twinwedge_core::tone::{Chain, ChainFilm, ChainPaper, Tones, paper_figures};
use twinwedge_core::units::STOP;
use twinwedge_core::words::Sentence;

use super::development::Compared;
use super::readings::{ByHand, ReadingsInputs, Sampling, Source, StripInputs, errors_of, read_among};
use super::{film, reference};
use crate::engine::ask::{FilmCurve, PaperCurve, PaperOf, PaperStripOf, TonesOf};
use crate::engine::names::stand_in;
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

fn test(series: &Series) -> Result<&PaperTest, Problem> {
    series
        .paper
        .as_ref()
        .ok_or_else(|| Problem::note(Subject::Series, Rule::PaperNotTested, Remedy::TestPaper))
}

fn no_readings() -> Problem {
    Problem::note(Subject::Series, Rule::PaperTestEmpty, Remedy::EnterPaper)
}

impl Query for PaperStripOf {
    type Inputs = Sampling;

    fn inputs(&self, view: &View<'_>) -> Result<Sampling, NoAnswer> {
        match &test(view.series())?.readings {
            Some(ReadingsSource::Strip { scan, shape }) => {
                Sampling::of(view, Subject::Scan(scan.clone()), (scan, shape))
            }
            Some(ReadingsSource::Typed(_)) => {
                Err(Problem::note(Subject::Series, Rule::PaperTestTyped, Remedy::ScanPaper).into())
            }
            None => Err(no_readings().into()),
        }
    }

    fn compute(strip: &Sampling, work: &Computation<'_>) -> Result<Vec<StepSample>, NoAnswer> {
        strip.sample(work)
    }
}

/// What the curve of the paper is fitted to.
#[derive(Debug, Serialize)]
pub struct PaperTested {
    /// Made as those of a film are.
    readings: ReadingsInputs<Handle<PaperStripOf>>,
    resamplings: u32,
    seed: u64,
}

impl Query for PaperOf {
    type Inputs = PaperTested;

    fn inputs(&self, view: &View<'_>) -> Result<PaperTested, NoAnswer> {
        let series = view.series();
        let test = test(series)?;
        let tablet = series.tablets.get(&test.tablet).ok_or_else(|| {
            Problem::error(Subject::Tablet(test.tablet.clone()), Rule::NoTabletOfPaper, Remedy::TabletOfPaper)
        })?;
        let reading_u = series.settings.reading_u;
        let readings = test.readings.as_ref().ok_or_else(no_readings)?;
        let strip = StripInputs {
            called: None,
            name: String::new(),
            level: StripLevel::default(),
            tablet: tablet.clone(),
            errors: errors_of(series, &test.tablet, tablet),
            source: Source::of(
                readings,
                ByHand { aside: test.steps_set_aside.clone(), kept: test.steps_kept.clone() },
                || view.handle(PaperStripOf),
            )?,
        };
        Ok(PaperTested {
            readings: ReadingsInputs {
                subject: Subject::Series,
                called: "The paper test".to_owned(),
                exposure: test.exposure,
                base_fog: test.white.map(|white| read_among(white, &[], reading_u)),
                reading_u,
                strips: vec![strip],
            },
            resamplings: series.settings.resamplings,
            seed: series.settings.seed,
        })
    }

    fn compute(inputs: &PaperTested, work: &Computation<'_>) -> Result<PaperCurve, NoAnswer> {
        let mut readings = inputs.readings.readings(work)?;
        // Its light is one of its own: no error of it is shared with the films, and print exposures told against it know
        // nothing of it.
        readings.log_h_shared_u = 0.0;
        let fit = FitSettings { resamplings: inputs.resamplings, seed: inputs.seed };
        let curve = curve::fit(readings, fit)?;
        let (light, light_u) = match inputs.readings.exposure {
            Exposure::Absolute { log_h, u } => (log_h, u),
            Exposure::Relative { stops_less } => (-stops_less * STOP, 0.0),
            Exposure::NotSaid => (0.0, 0.0),
        };
        let figures = paper_figures(&curve, light_u);
        Ok(PaperCurve { curve, figures, light, light_u })
    }
}

/// What zones and prints of films are told from.
#[derive(Debug, Serialize)]
pub struct Placing {
    /// The film beside the reference, or the reference itself.
    beside: FilmId,
    /// The reference, the one beside it, and the third, each once.
    members: Vec<Member>,
    choices: ToneChoices,
    paper: Option<Handle<PaperOf>>,
    /// Exposure of the paper test, in seconds.
    seconds: Option<f64>,
}

/// A film whose tones are followed.
#[derive(Debug, Serialize)]
struct Member {
    film: FilmId,
    box_speed: Option<f64>,
    /// Exposure of its print, in seconds.
    seconds: Option<f64>,
    curve: Compared,
}

impl Query for TonesOf {
    type Inputs = Placing;

    fn inputs(&self, view: &View<'_>) -> Result<Placing, NoAnswer> {
        let series = view.series();
        let mut films = vec![reference(view)?];
        let third = series.tones.third.as_ref().and_then(|id| view.film(id));
        for other in std::iter::once(film(view, &self.film)?).chain(third) {
            if films.iter().all(|member| member.id != other.id) {
                films.push(other);
            }
        }
        let member = |film: &Film| -> Result<Member, NoAnswer> {
            Ok(Member {
                film: film.id.clone(),
                box_speed: film.box_speed,
                seconds: film.print.as_ref().and_then(|print| print.exposure_s),
                curve: Compared::of(view, &film.id)?,
            })
        };
        Ok(Placing {
            beside: self.film.clone(),
            members: films.into_iter().map(member).collect::<Result<_, _>>()?,
            choices: series.tones.clone(),
            paper: view.try_handle(PaperOf)?.ok(),
            seconds: series.paper.as_ref().and_then(|test| test.seconds),
        })
    }

    fn compute(inputs: &Placing, work: &Computation<'_>) -> Result<Tones, NoAnswer> {
        let paper = inputs.paper.as_ref().map(|paper| work.get(paper)).transpose()?;
        let present = inputs.present(work)?;
        let films: Vec<ChainFilm<'_>> = present
            .iter()
            .map(|(label, member, curve)| ChainFilm {
                label,
                curve: &curve.curve,
                box_speed: member.box_speed,
                print_seconds: member.seconds,
            })
            .collect();
        let paper = paper.as_ref().map(|paper| of_paper(paper, inputs.seconds));
        let cannot = |cause: Sentence| {
            let remedy = Remedy::TonesOrFilms;
            Problem::note(Subject::Film(inputs.beside.clone()), cause, remedy)
        };
        Ok(Chain::new(&films, paper, &inputs.choices).map_err(cannot)?.tones())
    }
}

/// What a film is called, the film, and its curve.
type Present<'a> = (String, &'a Member, Arc<FilmCurve>);

impl Placing {
    /// The films that have a curve. Reference and the film beside it must; a third without one is left out.
    fn present(&self, work: &Computation<'_>) -> Result<Vec<Present<'_>>, NoAnswer> {
        let mut present = Vec::new();
        for (index, member) in self.members.iter().enumerate() {
            match member.curve.get(work)? {
                Ok(curve) => present.push((stand_in(&member.film), member, curve)),
                Err(problem) if index == 0 || member.film == self.beside => return Err(problem.into()),
                Err(_) => {}
            }
        }
        Ok(present)
    }
}

fn of_paper(paper: &PaperCurve, seconds: Option<f64>) -> ChainPaper<'_> {
    ChainPaper { curve: &paper.curve, light: paper.light, light_u: paper.light_u, seconds }
}

/// The chain of these films, the reference first, at the choices of a series.
///
/// # Errors
/// In a sentence: no exposure index, or choices that make no sense.
pub fn chain<'a>(
    series: &'a Series,
    films: &[(&'a Film, &'a FilmCurve)],
    paper: Option<&'a PaperCurve>,
) -> Result<Chain<'a>, Sentence> {
    let films: Vec<ChainFilm<'a>> = films
        .iter()
        .map(|(film, curve)| ChainFilm {
            label: &film.label,
            curve: &curve.curve,
            box_speed: film.box_speed,
            print_seconds: film.print.as_ref().and_then(|print| print.exposure_s),
        })
        .collect();
    let seconds = series.paper.as_ref().and_then(|test| test.seconds);
    Chain::new(&films, paper.map(|paper| of_paper(paper, seconds)), &series.tones)
}
