//! The noise power spectrum of a film's plain area, and grain as it is seen in a print.

use twinwedge_core::document::{FilmId, GrainArea, GrainNoise, ScanKind, Series};
use twinwedge_core::grain::spectrum::{Noise, NoiseSpectrum, Spectrum, SpectrumSettings, spectrum};
use twinwedge_core::grain::viewer::{GradientSource, Side, USUAL_GRADIENT, Viewed, viewed};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::NoiseModel;
use twinwedge_core::units::Micrometres;

use super::altered;
use super::grain::{key_of_area, plain_area};
use super::sampled::{Sampled, enlargement, sampled};
use super::scanner_noise;
use super::{film, label_of, reference};
use crate::engine::ask::{PaperOf, SpectrumOf, ViewedOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

impl Ask for SpectrumOf {
    type Output = Spectrum;
    const KIND: Kind = Kind::SpectrumOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.spectrum
    }

    fn label(&self, series: &Series) -> String {
        format!("Measuring the noise power spectrum of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let series = view.series();
        let grain = plain_area(film(view, &self.film)?, self.area)?;
        let recipe = Recipe::new("spectrum", 2).with(&self.film).with(&self.quick);
        let recipe = key_of_area(recipe, view, grain)?;
        // Where two scans lie on each other is looked for through the aperture.
        let through = matches!(grain.noise, GrainNoise::Repeat(_)).then_some(series.settings.aperture_um);
        Ok(recipe.with(&through).done())
    }

    /// Frequencies are those on the film; on a print of known enlargement they are brought back to it.
    fn make(&self, view: &View<'_>) -> Result<Spectrum, Halt> {
        let grain = plain_area(film(view, &self.film)?, self.area)?;
        let subject = Subject::Film(self.film.clone());
        let Sampled { pitch, dpi, flags, notes } =
            sampled(view, &grain.scan, "frequencies are").map_err(|halt| halt.about(&subject))?;
        let settings = SpectrumSettings { pitch, block: None, quick: self.quick };
        let read = scanner_noise::Read::of(view, &grain.scan)?;
        let (plane, table) = read.side();
        let known = noise(view, grain, dpi, settings)?;
        let noise = known.as_ref().map(Known::noise).map_err(Clone::clone);
        let measured = spectrum(plane, table, grain.area, settings, noise, &|| view.stop());
        let mut measured = measured.map_err(|problem| problem.about(subject))?;
        measured.zero = measured.zero.flagged(flags);
        measured.mean_density = measured.mean_density.flagged(flags & Flags::FROM_PRINT);
        measured.notes.extend(notes);
        let altered = altered::of(view, &grain.scan, altered::GRAIN)?;
        if !altered.is_empty() {
            measured.zero = measured.zero.flagged(Flags::ALTERED_SCAN);
            measured.notes.extend(altered);
        }
        Ok(measured)
    }

    fn digest(spectrum: &Spectrum, _: Key) -> Key {
        Recipe::new("spectrum value", 2).with(spectrum).done()
    }

    fn bytes(spectrum: &Spectrum) -> usize {
        size_of::<Spectrum>() + spectrum.plane.len() * size_of::<f32>() + 64 * 1024
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

/// The scanner's noise, known as it is for granularity; else why it is left in.
fn noise(
    view: &View<'_>,
    grain: &GrainArea,
    dpi: f64,
    settings: SpectrumSettings,
) -> Result<Result<Known, String>, Halt> {
    let said = |problem: Problem| format!("{} {}", problem.cause, problem.remedy);
    Ok(match &grain.noise {
        GrainNoise::LeftIn => Err("It was chosen to leave it in.".to_owned()),
        GrainNoise::Calibration => {
            scanner_noise::model(view, view.scan_entry(&grain.scan)?, dpi)?.map(Known::Model)
        }
        GrainNoise::Repeat(other) => {
            let [first, second] = scanner_noise::both(view, &grain.scan, other)?;
            let aperture = Micrometres(view.series().settings.aperture_um);
            let stop = || view.stop();
            NoiseSpectrum::of_repeat(first.side(), second.side(), grain.area, settings, aperture, &stop)
                .map(Known::Measured)
                .map_err(said)
        }
        GrainNoise::Blank { scan, area } => {
            let blank = scanner_noise::Read::of(view, scan)?;
            let (plane, table) = blank.side();
            let nothing = Err(String::new());
            spectrum(plane, table, *area, settings, nothing, &|| view.stop())
                .map(|blank| Known::Measured(NoiseSpectrum::of_blank(&blank)))
                .map_err(|problem| format!("In the blank area: {}", said(problem)))
        }
    })
}

impl ViewedOf {
    /// The films that are looked at: the reference, and this one if it is another.
    fn films(&self, view: &View<'_>) -> Result<Vec<FilmId>, Problem> {
        let mut films = vec![reference(view)?.id.clone()];
        if self.film != films[0] {
            films.push(film(view, &self.film)?.id.clone());
        }
        Ok(films)
    }
}

fn whole(film: &FilmId) -> SpectrumOf {
    SpectrumOf { film: film.clone(), area: 0, quick: false }
}

impl Ask for ViewedOf {
    type Output = Viewed;
    const KIND: Kind = Kind::ViewedOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.viewed
    }

    fn label(&self, series: &Series) -> String {
        format!("Looking at the grain of {} in a print", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let series = view.series();
        let mut recipe = Recipe::new("viewed", 1).with(&series.viewing).with(&series.conditions.enlargement);
        for id in self.films(view)? {
            let film = film(view, &id)?;
            let entry = view.scan_entry(&plain_area(film, 0)?.scan)?;
            recipe = recipe.with(&film.label).with(&entry.kind).key(view.digest(&whole(&id))?);
        }
        Ok(match view.try_digest(&PaperOf)? {
            Ok(digest) => recipe.key(digest).done(),
            Err(_) => recipe.done(),
        })
    }

    fn make(&self, view: &View<'_>) -> Result<Viewed, Halt> {
        let series = view.series();
        let viewing = series.viewing;
        let sound = |number: f64| number.is_finite() && number > 0.0;
        if !(sound(viewing.enlargement) && sound(viewing.distance_mm) && viewing.print_density.is_finite()) {
            let problem = Problem::error(
                Subject::Series,
                format!(
                    "A print of {} × cannot be looked at from {} mm.",
                    viewing.enlargement, viewing.distance_mm
                ),
                "Give an enlargement and a distance above zero.",
            );
            return Err(problem.into());
        }
        let paper = view.try_get(&PaperOf)?.ok();
        let tested = paper.as_ref().and_then(|paper| {
            let (log_h, _) = paper.curve.log_h_at(viewing.print_density)?;
            paper.curve.gradient(log_h).map(|(gradient, _)| gradient).filter(|gradient| *gradient > 0.0)
        });
        let mut found = Vec::new();
        for id in self.films(view)? {
            let film = film(view, &id)?;
            let spectrum = view.get(&whole(&id))?;
            let kind = view.scan_entry(&plain_area(film, 0)?.scan)?.kind;
            let (gradient, source) = match (kind, tested) {
                (ScanKind::Print, _) => (1.0, GradientSource::OnPrint),
                (ScanKind::Film, Some(gradient)) => (gradient, GradientSource::Tested),
                (ScanKind::Film, None) => (USUAL_GRADIENT, GradientSource::Assumed),
            };
            if kind == ScanKind::Print && enlargement(series).is_none() {
                let problem = Problem::note(
                    Subject::Film(id),
                    format!("The grain of {} was measured on a print of unknown enlargement.", film.label),
                    "Enter the enlargement of the prints, or scan the film.",
                );
                return Err(problem.into());
            }
            found.push((film.label.clone(), spectrum, gradient, source));
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

    fn digest(viewed: &Viewed, _: Key) -> Key {
        Recipe::new("viewed value", 1).with(viewed).done()
    }

    fn bytes(_: &Viewed) -> usize {
        4096
    }

    fn slow(&self) -> bool {
        true
    }
}
