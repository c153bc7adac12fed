//! Granularity of a film.

use twinwedge_core::document::{Film, GrainArea, GrainNoise, ScanEntry, ScanKind, Series};
use twinwedge_core::grain::{GrainSettings, Granularity, ScannerNoise, granularity, repeat};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::ScanMeta;
use twinwedge_core::sharpness::ScannerEdge;
use twinwedge_core::units::Micrometres;

use super::altered;
use super::edges::SAME_RESOLUTION;
use super::measurable::{self, key_of_scan};
use super::sampled::{Sampled, sampled};
use super::scanner_noise;
use super::{film, label_of};
use crate::engine::ask::{CalibrationOf, GrainOf, ScanOf, ScannerEdgeOf, SpectrumOf, ToneOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// Resolutions across and down that differ by more than this share cannot both be meant.
pub(super) const SQUARE: f64 = 0.01;

/// One of a film's plain areas: 0 the first, n the n-th further one.
pub(super) fn plain_area(film: &Film, number: usize) -> Result<&GrainArea, Problem> {
    film.plain_area(number).ok_or_else(|| {
        let which = if number == 0 { String::new() } else { format!(" {}", number + 1) };
        Problem::note(
            Subject::Film(film.id.clone()),
            format!("No plain area{which} is marked for the grain of {}.", film.label),
            "Mark a plain, evenly lit area on a scan of the film.",
        )
    })
}

impl GrainOf {
    pub(super) fn area<'a>(&self, view: &'a View<'_>) -> Result<&'a GrainArea, Problem> {
        plain_area(film(view, &self.film)?, self.area)
    }
}

impl GrainOf {
    /// The spectrum that the scanner's loss is taken of: what some of the blocks tell is enough.
    fn spectrum(&self) -> SpectrumOf {
        SpectrumOf { film: self.film.clone(), area: self.area, quick: true }
    }
}

impl Ask for GrainOf {
    type Output = Granularity;
    const KIND: Kind = Kind::GrainOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.grain
    }

    fn label(&self, series: &Series) -> String {
        format!("Measuring the grain of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let grain = self.area(view)?;
        let recipe = key_of_area(Recipe::new("grain", 4).with(&self.film), view, grain)?;
        let recipe = recipe.with(&view.series().settings.aperture_um);
        Ok(match scanner_edge(view, grain)? {
            Some(ask) => {
                let recipe = match view.try_digest(&ask)? {
                    Ok(edge) => recipe.key(edge),
                    Err(problem) => recipe.with(&problem),
                };
                match view.try_digest(&self.spectrum())? {
                    Ok(spectrum) => recipe.key(spectrum).done(),
                    Err(problem) => recipe.with(&problem).done(),
                }
            }
            None => recipe.done(),
        })
    }

    fn make(&self, view: &View<'_>) -> Result<Granularity, Halt> {
        let grain = self.area(view)?;
        let aperture = Micrometres(view.series().settings.aperture_um);
        let mut found = measure(view, grain, aperture, &Subject::Film(self.film.clone()))?;
        if let Some(ask) = scanner_edge(view, grain)? {
            match view.try_get(&ask)? {
                Ok(edge) if (edge.method.pitch / found.pitch.0 - 1.0).abs() <= SAME_RESOLUTION => {
                    let spectrum = view.try_get(&self.spectrum())?.ok();
                    // Divided by the scanner's transfer, its noise would pass for grain.
                    let clean = spectrum.filter(|spectrum| spectrum.noise.is_ok());
                    found.seen_by(&ScannerEdge::of(&edge), clean.as_deref());
                }
                Ok(_) => found.notes.push(
                    "The scanner's own edge was scanned at another resolution, so it does not tell what its blur took."
                        .to_owned(),
                ),
                Err(problem) => {
                    found.notes.push(format!("The scanner's own edge could not be measured: {}", problem.cause));
                }
            }
        }
        Ok(found)
    }

    fn digest(grain: &Granularity, _: Key) -> Key {
        Recipe::new("grain value", 4).with(grain).done()
    }

    fn bytes(_: &Granularity) -> usize {
        size_of::<Granularity>()
    }

    fn slow(&self) -> bool {
        true
    }
}

/// The scanner's own edge, where the series has one and the area lies in a scan of film.
fn scanner_edge(view: &View<'_>, grain: &GrainArea) -> Result<Option<ScannerEdgeOf>, Problem> {
    let on_film = view.scan_entry(&grain.scan)?.kind == ScanKind::Film;
    let given = view.series().sharpness.scanner_edge.is_some();
    Ok((on_film && given).then_some(ScannerEdgeOf { quick: false }))
}

/// All that a granularity in an area is made from, but the aperture.
pub(super) fn key_of_area(recipe: Recipe, view: &View<'_>, grain: &GrainArea) -> Result<Recipe, Halt> {
    let entry = view.scan_entry(&grain.scan)?;
    let recipe = key_of_scan(recipe, view, &grain.scan)?.with(&grain.area).with(&grain.noise);
    let on_print = (entry.kind == ScanKind::Print).then_some(view.series().conditions.enlargement);
    let recipe = recipe.with(&entry.kind).with(&entry.dpi).with(&on_print);
    let recipe = altered::key(recipe, view, &grain.scan)?;
    match &grain.noise {
        GrainNoise::LeftIn => Ok(recipe),
        GrainNoise::Repeat(scan) | GrainNoise::Blank { scan, .. } => {
            let dpi = view.scan_entry(scan)?.dpi;
            Ok(key_of_scan(recipe, view, scan)?.with(&dpi))
        }
        GrainNoise::Calibration => {
            let Some(id) = &entry.calibration else { return Ok(recipe) };
            let Ok(key) = view.try_digest(&CalibrationOf { calibration: id.clone() })? else {
                return Ok(recipe);
            };
            let Some(made) = view.series().calibrations.get(id) else { return Ok(recipe) };
            let of = view.digest(&ScanOf { scan: made.scan.clone() })?;
            Ok(recipe.key(key).key(of).with(&view.scan_entry(&made.scan)?.dpi))
        }
    }
}

/// Granularity in an area through an aperture, the scanner's noise taken off, and what the scan's examination says of it.
pub(super) fn measure(
    view: &View<'_>,
    grain: &GrainArea,
    aperture: Micrometres,
    subject: &Subject,
) -> Result<Granularity, Halt> {
    let entry = view.scan_entry(&grain.scan)?;
    let about = |problem: Problem| problem.about(subject.clone());
    let scan = measurable::codes(view, &grain.scan)?;
    let table = view.get(&ToneOf { scan: grain.scan.clone() })?;
    let Sampled { pitch, dpi, flags, notes } =
        sampled(view, &grain.scan, "the aperture is").map_err(|halt| halt.about(subject))?;
    let settings = GrainSettings { pitch, aperture };
    let plane = scan.plane(entry.channel);
    let measured = granularity(plane, &table, grain.area, settings, &|| view.stop());
    let mut measured = measured.map_err(about)?;
    measured.rms = measured.rms.flagged(flags);
    measured.mean_density = measured.mean_density.flagged(flags & Flags::FROM_PRINT);
    measured.notes.extend(notes);
    match noise(view, grain, dpi, &measured, settings)? {
        Ok(Some(noise)) => {
            if let Err(why) = measured.take_off(noise) {
                measured.notes.push(why);
            }
        }
        Ok(None) => {}
        Err(why) => measured.notes.push(format!("The scanner's noise is left in. {why}")),
    }
    let altered = altered::of(view, &grain.scan, altered::GRAIN)?;
    if !altered.is_empty() {
        measured.rms = measured.rms.flagged(Flags::ALTERED_SCAN);
        measured.notes.extend(altered);
    }
    Ok(measured)
}

/// The scanner's noise through the aperture; `None` where it is to be left in, or the reason why it is not known.
fn noise(
    view: &View<'_>,
    grain: &GrainArea,
    dpi: f64,
    found: &Granularity,
    settings: GrainSettings,
) -> Result<Result<Option<ScannerNoise>, String>, Halt> {
    let said = |problem: Problem| format!("{} {}", problem.cause, problem.remedy);
    Ok(match &grain.noise {
        GrainNoise::LeftIn => Ok(None),
        GrainNoise::Calibration => scanner_noise::model(view, view.scan_entry(&grain.scan)?, dpi)?
            .and_then(|model| ScannerNoise::of_model(&model, found))
            .map(Some),
        GrainNoise::Repeat(other) => {
            let [first, second] = scanner_noise::both(view, &grain.scan, other)?;
            repeat(first.side(), second.side(), grain.area, settings, &|| view.stop())
                .map(|found| Some(ScannerNoise::of_repeat(&found)))
                .map_err(said)
        }
        GrainNoise::Blank { scan, area } => {
            let blank = scanner_noise::Read::of(view, scan)?;
            let (plane, table) = blank.side();
            match granularity(plane, table, *area, settings, &|| view.stop()) {
                Ok(blank) => ScannerNoise::of_blank(&blank, found).map(Some),
                Err(problem) => Err(format!("In the blank area: {}", said(problem))),
            }
        }
    })
}

/// Dots per inch of a scan: as typed, else as the file says.
pub(crate) fn resolution(entry: &ScanEntry, meta: &ScanMeta) -> Result<(f64, Flags), Problem> {
    let remedy = "Type the scan's resolution in dots per inch.";
    let usable = |dpi: f64| dpi.is_finite() && dpi > 0.0;
    match (entry.dpi, meta.dpi) {
        (Some(dpi), _) if usable(dpi) => Ok((dpi, Flags::RESOLUTION_TYPED)),
        (Some(dpi), _) => {
            Err(Problem::error(Subject::Series, format!("A resolution of {dpi} dpi cannot be."), remedy))
        }
        (None, Some((across, down))) if usable(across) && (down / across - 1.0).abs() <= SQUARE => {
            Ok((across, Flags::empty()))
        }
        (None, Some((across, down))) => Err(Problem::error(
            Subject::Series,
            format!("The scan says {across} dpi across and {down} down: its pixels are not square."),
            remedy,
        )),
        (None, None) => Err(Problem::error(Subject::Series, "The scan does not say its resolution.", remedy)),
    }
}
