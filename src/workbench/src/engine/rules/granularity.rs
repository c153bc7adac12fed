//! Granularity over apertures and over density, and both films where they are alike.

use serde::Serialize;
use twinwedge_core::document::{GrainArea, ScanKind};
use twinwedge_core::figures::FigureId;
use twinwedge_core::grain::{
    ApertureLaw, GrainPoint, Granularity, GranularityCurve, PairRow, aperture_ladder, law_of_apertures,
    pair_rows,
};
use twinwedge_core::measured::Measured;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::words::Sentence;

use super::development::Compared;
use super::grain::{Area, uniform_area};
use super::{film, reference};
use crate::engine::ask::{ApertureLawOf, GrainOf, GrainPairOf, GranularityCurveOf, TonesOf};
use crate::engine::{Computation, Handle, NoAnswer, Query, Tried, View};
use crate::words::{Remedy, Rule};

/// What granularity through several apertures is measured from.
#[derive(Debug, Serialize)]
pub struct ThroughApertures {
    area: Area,
    /// Through the usual aperture: the others are steps of a ladder that fits into its area.
    usual: Handle<GrainOf>,
}

impl Query for ApertureLawOf {
    type Inputs = ThroughApertures;

    fn inputs(&self, view: &View<'_>) -> Result<ThroughApertures, NoAnswer> {
        let area = Area::of(view, &self.film, self.area)?;
        Ok(ThroughApertures {
            area,
            usual: view.handle(GrainOf { film: self.film.clone(), area: self.area })?,
        })
    }

    fn compute(inputs: &ThroughApertures, work: &Computation<'_>) -> Result<ApertureLaw, NoAnswer> {
        let usual = work.get(&inputs.usual)?;
        let ladder = aperture_ladder(usual.area, usual.pitch);
        let mut found: Vec<Granularity> = Vec::new();
        for (step, aperture) in ladder.iter().enumerate() {
            if !work.progress(step as f32 / ladder.len() as f32) {
                return Err(NoAnswer::Dropped);
            }
            found.push(inputs.area.measure(work, *aperture)?);
        }
        // Granularities with the noise and without do not follow one law.
        if found.iter().any(|grain| grain.noise.is_some()) {
            found.retain(|grain| grain.noise.is_some());
        }
        let remedy = Remedy::LargerArea;
        let subject = Subject::Film(inputs.area.film.clone());
        Ok(law_of_apertures(&found).map_err(|why| Problem::note(subject, why, remedy))?)
    }
}

/// What granularity over density is made from.
#[derive(Debug, Serialize)]
pub struct OverDensity {
    /// Each uniform area by its number.
    areas: Vec<(usize, Tried<GrainOf>)>,
    base: Base,
}

/// Where base+fog is known from.
#[derive(Debug, Serialize)]
enum Base {
    /// It is not: an area lies on a print.
    OnPrint,
    Read(f64, f64),
    OfCurve(Compared),
}

impl Query for GranularityCurveOf {
    type Inputs = OverDensity;

    fn inputs(&self, view: &View<'_>) -> Result<OverDensity, NoAnswer> {
        let film = film(view, &self.film)?;
        uniform_area(film, 0)?;
        let on_print =
            |grain: &GrainArea| view.scan_entry(&grain.scan).is_ok_and(|entry| entry.kind == ScanKind::Print);
        let base = match film.base_fog {
            _ if film.uniform_areas.iter().any(on_print) => Base::OnPrint,
            Some(read) => Base::Read(read.density, read.u.unwrap_or(view.series().settings.reading_u)),
            None => Base::OfCurve(Compared::of(view, &self.film)?),
        };
        let area = |area| -> Result<_, NoAnswer> {
            Ok((area, view.try_handle(GrainOf { film: self.film.clone(), area })?))
        };
        Ok(OverDensity { areas: (0..film.uniform_areas.len()).map(area).collect::<Result<_, _>>()?, base })
    }

    fn compute(inputs: &OverDensity, work: &Computation<'_>) -> Result<GranularityCurve, NoAnswer> {
        let (mut points, mut failed, mut notes) = (Vec::new(), Vec::new(), Vec::new());
        for (area, grain) in &inputs.areas {
            match work.try_get(grain)? {
                Ok(grain) => {
                    let density = grain.mean_density.number();
                    let gradient = grain.gradient.clone();
                    points.push(GrainPoint { area: *area, density, rms: grain.rms, gradient });
                    let at = |note: &Sentence| Rule::AtDensity { density, note: note.clone() }.into();
                    notes.extend(grain.notes.iter().chain(&grain.loss_in_words()).map(at));
                }
                Err(problem) => failed.push((*area, problem.cause)),
            }
        }
        let mut curve = GranularityCurve::new(points, failed, inputs.base.density(work)?);
        curve.notes = notes;
        Ok(curve)
    }
}

impl Base {
    /// Base+fog as it was read, else that of the curve.
    fn density(&self, work: &Computation<'_>) -> Result<Result<Measured, Sentence>, NoAnswer> {
        Ok(match self {
            Self::OnPrint => Err(Rule::DensityOfPrint.into()),
            Self::Read(density, u) => Ok(Measured::normal(*density, *u)),
            Self::OfCurve(curve) => match curve.get(work)? {
                Ok(curve) => match curve.figures.get(&FigureId::BaseFog) {
                    Some(value) => value.known().copied().ok_or_else(|| Rule::BaseFogNotMeasured.into()),
                    None => Err(Rule::CurveWithoutBaseFog.into()),
                },
                Err(problem) => Err(problem.cause),
            },
        })
    }
}

/// What is set beside each other of two films.
#[derive(Debug, Serialize)]
pub struct Pair {
    reference: Handle<GranularityCurveOf>,
    candidate: Handle<GranularityCurveOf>,
    tones: Tried<TonesOf>,
}

impl Query for GrainPairOf {
    type Inputs = Pair;

    fn inputs(&self, view: &View<'_>) -> Result<Pair, NoAnswer> {
        Ok(Pair {
            reference: view.handle(GranularityCurveOf { film: reference(view)?.id.clone() })?,
            candidate: view.handle(GranularityCurveOf { film: self.film.clone() })?,
            tones: view.try_handle(TonesOf { film: self.film.clone() })?,
        })
    }

    fn compute(pair: &Pair, work: &Computation<'_>) -> Result<Vec<PairRow>, NoAnswer> {
        let tones = work.try_get(&pair.tones)?;
        let tones = tones.as_deref().map_err(|problem| &problem.cause);
        Ok(pair_rows(&*work.get(&pair.reference)?, &*work.get(&pair.candidate)?, tones))
    }
}
