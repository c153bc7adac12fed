//! The noise power spectrum of a film's plain area, and grain as it is seen in a print.

use twinwedge_core::document::{Channel, FilmId, GrainNoise, ScanId, ScanKind, Series};
use twinwedge_core::grain::spectrum::{Spectrum, SpectrumSettings, spectrum};
use twinwedge_core::grain::viewer::{GradientSource, Side, USUAL_GRADIENT, Viewed, viewed};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::units::Micrometres;

use super::grain::{alterations, key_of_area, plain_area, resolution};
use super::measurable;
use super::{film, label_of, reference};
use crate::engine::ask::{CalibrationOf, PaperOf, ScanOf, SpectrumOf, ToneOf, ViewedOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// Resolutions that differ by more than this share are not the same.
const SAME: f64 = 0.01;

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
        let grain = plain_area(film(series, &self.film)?, self.area)?;
        let recipe = Recipe::new("spectrum", 1).with(&self.film).with(&self.quick);
        Ok(key_of_area(recipe, view, grain)?.done())
    }

    /// Frequencies are those on the film; on a print of known enlargement they are brought back to it.
    fn make(&self, view: &View<'_>) -> Result<Spectrum, Halt> {
        let grain = plain_area(film(view.series(), &self.film)?, self.area)?;
        let entry = view.scan_entry(&grain.scan)?;
        let about = |problem: Problem| problem.about(Subject::Film(self.film.clone()));
        let scan = measurable::codes(view, &grain.scan)?;
        let table = view.get(&ToneOf { scan: grain.scan.clone() })?;
        let (dpi, mut flags) = resolution(entry, &scan.meta).map_err(about)?;
        let mut pitch = Micrometres::per_sample(dpi);
        let mut notes = Vec::new();
        if entry.kind == ScanKind::Print {
            flags |= Flags::FROM_PRINT;
            notes.push("Measured on a print: paper and enlarger are in it.".to_owned());
            match enlargement(view.series()) {
                Some(enlargement) => pitch = Micrometres(pitch.0 / enlargement),
                None => notes.push(
                    "The enlargement is not known, so frequencies are those on the paper and not on the film.".to_owned(),
                ),
            }
        }
        let calibration = match &entry.calibration {
            Some(id) => view.try_get(&CalibrationOf { calibration: id.clone() })?.ok(),
            None => None,
        };
        let model = calibration.as_ref().and_then(|fit| fit.noise.as_ref());
        let noise = match (&grain.noise, model) {
            (GrainNoise::Calibration, None) => Err("No calibration tells it for this scan.".to_owned()),
            (GrainNoise::Calibration, Some(model)) => noise_fits(view, &grain.scan, dpi)?.map(|()| model),
            (GrainNoise::LeftIn, _) => Err("It was chosen to leave it in.".to_owned()),
            (GrainNoise::Repeat(_) | GrainNoise::Blank { .. }, _) => {
                Err("Only a calibration's noise is taken off a spectrum; granularity has the other ways."
                    .to_owned())
            }
        };
        let settings = SpectrumSettings { pitch, block: None, quick: self.quick };
        let measured =
            spectrum(scan.plane(entry.channel), &table, grain.area, settings, noise, &|| view.stop());
        let mut measured = measured.map_err(about)?;
        measured.zero = measured.zero.flagged(flags);
        measured.mean_density = measured.mean_density.flagged(flags & Flags::FROM_PRINT);
        measured.notes.extend(notes);
        let altered = alterations(view, &grain.scan)?;
        if !altered.is_empty() {
            measured.zero = measured.zero.flagged(Flags::ALTERED_SCAN);
            measured.notes.extend(altered);
        }
        Ok(measured)
    }

    fn digest(spectrum: &Spectrum, _: Key) -> Key {
        Recipe::new("spectrum value", 1).with(spectrum).done()
    }

    fn bytes(spectrum: &Spectrum) -> usize {
        size_of::<Spectrum>() + spectrum.plane.len() * size_of::<f32>() + 64 * 1024
    }

    /// A first answer must not wait behind the full ones.
    fn slow(&self) -> bool {
        !self.quick
    }
}

fn enlargement(series: &Series) -> Option<f64> {
    series.conditions.enlargement.filter(|enlargement| *enlargement > 0.0)
}

/// Whether the noise of a scan's calibration is that of the scan: one channel, and pixels of the same size.
fn noise_fits(view: &View<'_>, scan: &ScanId, dpi: f64) -> Result<Result<(), String>, Halt> {
    let entry = view.scan_entry(scan)?;
    if matches!(entry.channel, Channel::Mix { .. }) {
        return Ok(Err("Its calibration tells that of one channel, and a mix is measured.".to_owned()));
    }
    let made = entry.calibration.as_ref().and_then(|id| view.series().calibrations.get(id));
    let Some(made) = made else { return Ok(Err("No calibration tells it for this scan.".to_owned())) };
    let tablet = view.get(&ScanOf { scan: made.scan.clone() })?;
    Ok(match resolution(view.scan_entry(&made.scan)?, &tablet.meta) {
        Ok((other, _)) if (other / dpi - 1.0).abs() <= SAME => Ok(()),
        Ok((other, _)) => Err(format!(
            "The calibration was scanned at {other:.0} dpi and this at {dpi:.0}: their pixels have another noise."
        )),
        Err(_) => Err("The calibration's scan does not say its resolution.".to_owned()),
    })
}

impl ViewedOf {
    /// The films that are looked at: the reference, and this one if it is another.
    fn films(&self, view: &View<'_>) -> Result<Vec<FilmId>, Problem> {
        let mut films = vec![reference(view.series())?.id.clone()];
        if self.film != films[0] {
            films.push(film(view.series(), &self.film)?.id.clone());
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
            let film = film(series, &id)?;
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
            let film = film(series, &id)?;
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
