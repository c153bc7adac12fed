//! The noise power spectrum of a film's uniform area, and grain as it is seen in a print.

use serde::Serialize;
use twinwedge_core::document::{Film, FilmId, GrainNoise, ScanKind, Viewing};
use twinwedge_core::grain::spectrum::{Noise, NoiseSpectrum, Spectrum, SpectrumSettings, spectrum};
use twinwedge_core::grain::viewer::{GradientSource, Side, USUAL_GRADIENT, Viewed, viewed};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::NoiseModel;
use twinwedge_core::units::Micrometres;
use twinwedge_core::words::Sentence;

use super::grain::{Area, Grain, said, uniform_area};
use super::measurable::Read;
use super::sampled::{Sampled, enlargement};
use super::scanner_noise::Source;
use super::{film, reference};
use crate::engine::ask::{PaperOf, SpectrumOf, ViewedOf};
use crate::engine::names::stand_in;
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

/// What a spectrum is measured from.
#[derive(Debug, Serialize)]
pub struct Spectral {
    area: Area,
    quick: bool,
    /// Where two scans lie on each other is looked for through the aperture.
    aperture: Option<f64>,
}

impl Query for SpectrumOf {
    type Inputs = Spectral;

    fn inputs(&self, view: &View<'_>) -> Result<Spectral, NoAnswer> {
        let repeated =
            matches!(uniform_area(film(view, &self.film)?, self.area)?.noise, GrainNoise::Repeat(_));
        Ok(Spectral {
            area: Area::of(view, &self.film, self.area)?,
            quick: self.quick,
            aperture: repeated.then_some(view.series().settings.aperture_um),
        })
    }

    /// Frequencies are those on the film; on a print of known enlargement they are brought back to it.
    fn compute(inputs: &Spectral, work: &Computation<'_>) -> Result<Spectrum, NoAnswer> {
        let area = &inputs.area;
        let Grain { scan, sampled, altered } = area.read(work, "frequencies are")?;
        let Sampled { pitch, dpi, flags, notes } = sampled;
        let settings = SpectrumSettings { pitch, block: None, quick: inputs.quick };
        let (plane, table) = scan.side();
        let known = inputs.noise(work, &scan, dpi, settings)?;
        let noise = known.as_ref().map(Known::noise).map_err(Clone::clone);
        let measured = spectrum(plane, table, area.area, settings, noise, &|| work.stop());
        let mut measured = measured.map_err(|problem| area.about(problem))?;
        measured.zero = measured.zero.flagged(flags);
        measured.mean_density = measured.mean_density.flagged(flags & Flags::FROM_PRINT);
        measured.notes.extend(notes);
        if !altered.is_empty() {
            measured.zero = measured.zero.flagged(Flags::ALTERED_SCAN);
            measured.notes.extend(altered);
        }
        Ok(measured)
    }

    fn uncounted_bytes(spectrum: &Spectrum) -> usize {
        spectrum.plane.len() * size_of::<f32>() + 64 * 1024
    }

    /// A first answer must not wait behind the full ones.
    fn slow(&self) -> bool {
        !self.quick
    }
}

/// What is known of the scanner's noise.
enum Known {
    Model(NoiseModel),
    Measured(NoiseSpectrum),
}

impl Known {
    fn noise(&self) -> Noise<'_> {
        match self {
            Self::Model(model) => Noise::Model(model),
            Self::Measured(spectrum) => Noise::Measured(spectrum),
        }
    }
}

impl Spectral {
    /// The scanner's noise, known as it is for granularity; else why it is left in.
    fn noise(
        &self,
        work: &Computation<'_>,
        scan: &Read,
        dpi: f64,
        settings: SpectrumSettings,
    ) -> Result<Result<Known, Sentence>, NoAnswer> {
        let stop = || work.stop();
        Ok(match &self.area.noise {
            Source::LeftIn => Err(Rule::NoiseToBeLeftIn.into()),
            Source::Calibration(Err(why)) => Err(why.clone()),
            Source::Calibration(Ok(model)) => model.at(work, dpi)?.map(Known::Model),
            Source::Repeat(second) => {
                let second = second.read(work)?;
                let aperture = Micrometres(self.aperture.unwrap_or_default());
                let area = self.area.area;
                NoiseSpectrum::of_repeat(scan.side(), second.side(), area, settings, aperture, &stop)
                    .map(Known::Measured)
                    .map_err(|problem| said(&problem))
            }
            Source::Blank(blank, area) => {
                let blank = blank.read(work)?;
                let (plane, table) = blank.side();
                spectrum(plane, table, *area, settings, Err(Sentence::default()), &stop)
                    .map(|blank| Known::Measured(NoiseSpectrum::of_blank(&blank)))
                    .map_err(|problem| Rule::InBlankArea { said: said(&problem) }.into())
            }
        })
    }
}

/// What grain as it is seen follows from.
#[derive(Debug, Serialize)]
pub struct SeenInPrint {
    viewing: Viewing,
    enlargement: Option<f64>,
    paper: Option<Handle<PaperOf>>,
    /// The films that are looked at: the reference, and this one if it is another.
    films: Vec<(FilmId, ScanKind, Handle<SpectrumOf>)>,
}

impl Query for ViewedOf {
    type Inputs = SeenInPrint;

    fn inputs(&self, view: &View<'_>) -> Result<SeenInPrint, NoAnswer> {
        let series = view.series();
        let mut films = vec![reference(view)?];
        if self.film != films[0].id {
            films.push(film(view, &self.film)?);
        }
        let side = |film: &Film| -> Result<_, NoAnswer> {
            let kind = view.scan_entry(&uniform_area(film, 0)?.scan)?.kind;
            let spectrum = SpectrumOf { film: film.id.clone(), area: 0, quick: false };
            Ok((film.id.clone(), kind, view.handle(spectrum)?))
        };
        Ok(SeenInPrint {
            viewing: series.viewing,
            enlargement: enlargement(series),
            paper: view.try_handle(PaperOf)?.ok(),
            films: films.into_iter().map(side).collect::<Result<_, _>>()?,
        })
    }

    fn compute(inputs: &SeenInPrint, work: &Computation<'_>) -> Result<Viewed, NoAnswer> {
        let viewing = inputs.viewing;
        let sound = |number: f64| number.is_finite() && number > 0.0;
        if !(sound(viewing.enlargement) && sound(viewing.distance_mm) && viewing.print_density.is_finite()) {
            let problem = Problem::error(
                Subject::Series,
                Rule::NotLookedAt { enlargement: viewing.enlargement, mm: viewing.distance_mm },
                Remedy::ViewAboveZero,
            );
            return Err(problem.into());
        }
        let paper = inputs.paper.as_ref().map(|paper| work.get(paper)).transpose()?;
        let tested = paper.as_ref().and_then(|paper| {
            let (log_h, _) = paper.curve.log_h_at(viewing.print_density)?;
            paper.curve.gradient(log_h).map(|(gradient, _)| gradient).filter(|gradient| *gradient > 0.0)
        });
        let mut found = Vec::new();
        for (id, kind, spectrum) in &inputs.films {
            let spectrum = work.get(spectrum)?;
            let (gradient, source) = match (kind, tested) {
                (ScanKind::Print, _) => (1.0, GradientSource::OnPrint),
                (ScanKind::Film, Some(gradient)) => (gradient, GradientSource::Tested),
                (ScanKind::Film, None) => (USUAL_GRADIENT, GradientSource::Assumed),
            };
            if *kind == ScanKind::Print && inputs.enlargement.is_none() {
                let called = stand_in(id);
                let problem = Problem::note(
                    Subject::Film(id.clone()),
                    Rule::OnPrintOfUnknownEnlargement { called },
                    Remedy::EnterEnlargement,
                );
                return Err(problem.into());
            }
            found.push((stand_in(id), spectrum, gradient, source));
        }
        let sides: Vec<Side<'_>> = found
            .iter()
            .map(|(label, spectrum, gradient, source)| Side {
                label,
                spectrum,
                gradient: *gradient,
                source: *source,
            })
            .collect();
        Ok(viewed(&sides[0], sides.get(1), viewing))
    }
}
