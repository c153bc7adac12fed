//! Granularity of a film.

use serde::Serialize;
use twinwedge_core::document::{Film, FilmId, GrainArea, ScanId, ScanKind};
use twinwedge_core::geometry::Rect;
use twinwedge_core::grain::{GrainSettings, Granularity, ScannerNoise, granularity, repeat};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::ScanMeta;
use twinwedge_core::sharpness::ScannerEdge;
use twinwedge_core::units::Micrometres;
use twinwedge_core::words::Sentence;

use super::altered::{self, Altered};
use super::edges::SAME_RESOLUTION;
use super::measurable::{Read, ScanInputs};
use super::sampled::{Sampled, Spacing};
use super::scanner_noise::Source;
use super::{called, film};
use crate::engine::ask::{GrainOf, ScannerEdgeOf, SpectrumOf};
use crate::engine::{Computation, NoAnswer, Query, Tried, View};
use crate::words::{Remedy, Rule};

/// Resolutions across and down that differ by more than this share cannot both be meant.
pub(super) const SQUARE: f64 = 0.01;

/// One of a film's uniform areas, by its number from 0.
pub(super) fn uniform_area(film: &Film, number: usize) -> Result<&GrainArea, Problem> {
    film.uniform_areas.get(number).ok_or_else(|| {
        Problem::note(
            Subject::Film(film.id.clone()),
            Rule::NoUniformArea { number, called: called(film) },
            Remedy::MarkArea,
        )
    })
}

/// All that grain in a uniform area is measured from, whatever the aperture.
#[derive(Debug, Serialize)]
pub(super) struct Area {
    pub(super) film: FilmId,
    pub(super) area: Rect,
    pub(super) sight: ScanInputs,
    spacing: Spacing,
    altered: Altered,
    pub(super) noise: Source,
}

/// An area as it is read.
pub(super) struct Grain {
    pub(super) scan: Read,
    pub(super) sampled: Sampled,
    pub(super) altered: Vec<Sentence>,
}

impl Area {
    pub(super) fn of(view: &View<'_>, id: &FilmId, number: usize) -> Result<Self, NoAnswer> {
        let grain = uniform_area(film(view, id)?, number)?;
        Ok(Self {
            film: id.clone(),
            area: grain.area,
            sight: ScanInputs::of(view, &grain.scan)?,
            spacing: Spacing::of(view, &grain.scan)?,
            altered: altered::examination(view, &grain.scan)?,
            noise: Source::of(view, grain)?,
        })
    }

    pub(super) fn about(&self, problem: Problem) -> Problem {
        problem.about(Subject::Film(self.film.clone()))
    }

    /// `what` is not that of the film where the scan does not tell the distance of its samples on it.
    pub(super) fn read(&self, work: &Computation<'_>, what: &str) -> Result<Grain, NoAnswer> {
        let scan = self.sight.read(work)?;
        let sampled = self.spacing.sampled(&scan.codes.meta, what).map_err(|problem| self.about(problem))?;
        Ok(Grain { scan, sampled, altered: altered::told(&self.altered, work, altered::GRAIN)? })
    }

    /// Granularity through an aperture, the scanner's noise taken off, and what the scan's examination says of it.
    pub(super) fn measure(
        &self,
        work: &Computation<'_>,
        aperture: Micrometres,
    ) -> Result<Granularity, NoAnswer> {
        let Grain { scan, sampled, altered } = self.read(work, "the aperture is")?;
        let Sampled { pitch, dpi, flags, notes } = sampled;
        let settings = GrainSettings { pitch, aperture };
        let (plane, table) = scan.side();
        let measured = granularity(plane, table, self.area, settings, &|| work.stop());
        let mut measured = measured.map_err(|problem| self.about(problem))?;
        measured.rms = measured.rms.flagged(flags);
        measured.mean_density = measured.mean_density.flagged(flags & Flags::FROM_PRINT);
        measured.notes.extend(notes);
        match self.noise(work, &scan, dpi, &measured, settings)? {
            Ok(Some(noise)) => {
                if let Err(why) = measured.take_off(noise) {
                    measured.notes.push(why);
                }
            }
            Ok(None) => {}
            Err(why) => measured.notes.push(Rule::NoiseLeftIn { why }.into()),
        }
        if !altered.is_empty() {
            measured.rms = measured.rms.flagged(Flags::ALTERED_SCAN);
            measured.notes.extend(altered);
        }
        Ok(measured)
    }

    /// The scanner's noise through the aperture; `None` where it is to be left in, or the reason why it is not known.
    fn noise(
        &self,
        work: &Computation<'_>,
        scan: &Read,
        dpi: f64,
        found: &Granularity,
        settings: GrainSettings,
    ) -> Result<Result<Option<ScannerNoise>, Sentence>, NoAnswer> {
        Ok(match &self.noise {
            Source::LeftIn => Ok(None),
            Source::Calibration(Err(why)) => Err(why.clone()),
            Source::Calibration(Ok(model)) => {
                model.at(work, dpi)?.and_then(|model| ScannerNoise::of_model(&model, found)).map(Some)
            }
            Source::Repeat(second) => {
                let second = second.read(work)?;
                repeat(scan.side(), second.side(), self.area, settings, &|| work.stop())
                    .map(|found| Some(ScannerNoise::of_repeat(&found)))
                    .map_err(|problem| said(&problem))
            }
            Source::Blank(blank, area) => {
                let blank = blank.read(work)?;
                let (plane, table) = blank.side();
                match granularity(plane, table, *area, settings, &|| work.stop()) {
                    Ok(blank) => ScannerNoise::of_blank(&blank, found).map(Some),
                    Err(problem) => Err(Rule::InBlankArea { said: said(&problem) }.into()),
                }
            }
        })
    }
}

/// A problem as part of another sentence.
pub(super) fn said(problem: &Problem) -> Sentence {
    Rule::Both { cause: problem.cause.clone(), remedy: problem.remedy.clone() }.into()
}

/// What granularity through one aperture is measured from.
#[derive(Debug, Serialize)]
pub struct ThroughAperture {
    area: Area,
    aperture: f64,
    /// The scanner's own edge, and the spectrum that its loss is taken of: what some of the blocks tell is enough.
    scanner: Option<(Tried<ScannerEdgeOf>, Tried<SpectrumOf>)>,
}

impl Query for GrainOf {
    type Inputs = ThroughAperture;

    fn inputs(&self, view: &View<'_>) -> Result<ThroughAperture, NoAnswer> {
        let area = Area::of(view, &self.film, self.area)?;
        let spectrum = || SpectrumOf { film: self.film.clone(), area: self.area, quick: true };
        let scanner =
            match scanner_edge(view, &uniform_area(film(view, &self.film)?, self.area)?.scan, false)? {
                Some(edge) => Some((edge, view.try_handle(spectrum())?)),
                None => None,
            };
        Ok(ThroughAperture { area, aperture: view.series().settings.aperture_um, scanner })
    }

    fn compute(inputs: &ThroughAperture, work: &Computation<'_>) -> Result<Granularity, NoAnswer> {
        let mut found = inputs.area.measure(work, Micrometres(inputs.aperture))?;
        if let Some((edge, spectrum)) = &inputs.scanner {
            match work.try_get(edge)? {
                Ok(edge) if (edge.method.pitch / found.pitch.0 - 1.0).abs() <= SAME_RESOLUTION => {
                    let spectrum = work.try_get(spectrum)?.ok();
                    // Divided by the scanner's transfer, its noise would pass for grain.
                    let clean = spectrum.filter(|spectrum| spectrum.noise.is_ok());
                    found.seen_by(&ScannerEdge::of(&edge), clean.as_deref());
                }
                Ok(_) => found.notes.push(Rule::ScannerEdgeNotUsed.into()),
                Err(problem) => {
                    found.notes.push(Rule::ScannerEdgeNotMeasured { why: problem.cause }.into());
                }
            }
        }
        Ok(found)
    }
}

/// The scanner's own edge, where the series has one and this is a scan of film.
pub(super) fn scanner_edge(
    view: &View<'_>,
    scan: &ScanId,
    quick: bool,
) -> Result<Option<Tried<ScannerEdgeOf>>, NoAnswer> {
    let on_film = view.scan_entry(scan)?.kind == ScanKind::Film;
    let given = view.series().sharpness.scanner_edge.is_some();
    (on_film && given).then(|| view.try_handle(ScannerEdgeOf { quick })).transpose()
}

/// Dots per inch of a scan: as typed, else as the file says.
pub(super) fn resolution(typed: Option<f64>, meta: &ScanMeta) -> Result<(f64, Flags), Problem> {
    let remedy = Remedy::TypeResolution;
    let usable = |dpi: f64| dpi.is_finite() && dpi > 0.0;
    match (typed, meta.dpi) {
        (Some(dpi), _) if usable(dpi) => Ok((dpi, Flags::RESOLUTION_TYPED)),
        (Some(dpi), _) => Err(Problem::error(Subject::Series, Rule::ResolutionCannotBe { dpi }, remedy)),
        (None, Some((across, down))) if usable(across) && (down / across - 1.0).abs() <= SQUARE => {
            Ok((across, Flags::empty()))
        }
        (None, Some((across, down))) => {
            Err(Problem::error(Subject::Series, Rule::NotSquare { across, down }, remedy))
        }
        (None, None) => Err(Problem::error(Subject::Series, Rule::NoResolution, remedy)),
    }
}
