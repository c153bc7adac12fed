//! Granularity of a film.

use twinwedge_core::document::{GrainArea, ScanEntry, ScanKind, Series};
use twinwedge_core::grain::{GrainSettings, Granularity, granularity};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::ScanMeta;
use twinwedge_core::units::Micrometres;

use super::measurable::{self, key_of_scan};
use super::{film, label_of};
use crate::engine::ask::{GrainOf, ToneOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// Resolutions across and down that differ by more than this share cannot both be meant.
const SQUARE: f64 = 0.01;

impl GrainOf {
    fn area<'a>(&self, view: &'a View<'_>) -> Result<&'a GrainArea, Problem> {
        let film = film(view.series(), &self.film)?;
        film.plain_area(self.area).ok_or_else(|| {
            let which = if self.area == 0 { String::new() } else { format!(" {}", self.area + 1) };
            Problem::note(
                Subject::Film(film.id.clone()),
                format!("No plain area{which} is marked for the grain of {}.", film.label),
                "Mark a plain, evenly lit area on a scan of the film.",
            )
        })
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
        let entry = view.scan_entry(&grain.scan)?;
        let series = view.series();
        let recipe = key_of_scan(Recipe::new("grain", 1).with(&self.film), view, &grain.scan)?;
        let recipe = recipe.with(&grain.area).with(&series.settings.aperture_um);
        let on_print = (entry.kind == ScanKind::Print).then_some(series.conditions.enlargement);
        Ok(recipe.with(&entry.kind).with(&entry.dpi).with(&on_print).done())
    }

    /// The distance between samples is that of the scan; on a print of known enlargement it is brought back to the film.
    fn make(&self, view: &View<'_>) -> Result<Granularity, Halt> {
        let grain = self.area(view)?;
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
            match view.series().conditions.enlargement.filter(|enlargement| *enlargement > 0.0) {
                Some(enlargement) => pitch = Micrometres(pitch.0 / enlargement),
                None => notes.push(
                    "The enlargement is not known, so the aperture is measured on the paper and not on the film."
                        .to_owned(),
                ),
            }
        }
        let settings = GrainSettings { pitch, aperture: Micrometres(view.series().settings.aperture_um) };
        let plane = scan.plane(entry.channel);
        let measured = granularity(plane, &table, grain.area, settings, &|| view.stop());
        let mut measured = measured.map_err(about)?;
        measured.rms = measured.rms.flagged(flags);
        measured.mean_density = measured.mean_density.flagged(flags & Flags::FROM_PRINT);
        measured.notes.extend(notes);
        Ok(measured)
    }

    fn digest(grain: &Granularity, _: Key) -> Key {
        Recipe::new("grain value", 1).with(grain).done()
    }

    fn bytes(_: &Granularity) -> usize {
        size_of::<Granularity>()
    }

    fn slow(&self) -> bool {
        true
    }
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
