//! Granularity over apertures and over density, and both films where they are alike.

use twinwedge_core::document::{FilmId, ScanKind, Series};
use twinwedge_core::figures::FigureId;
use twinwedge_core::grain::{
    ApertureLaw, GrainPoint, Granularity, GranularityCurve, PairRow, aperture_ladder, law_of_apertures,
    pair_rows,
};
use twinwedge_core::measured::Measured;
use twinwedge_core::problem::{Problem, Subject};

use super::development::{compared, compared_digest};
use super::grain::{key_of_area, measure, plain_area};
use super::{film, label_of, reference};
use crate::engine::ask::{ApertureLawOf, GrainOf, GrainPairOf, GranularityCurveOf, TonesOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

impl Ask for ApertureLawOf {
    type Output = ApertureLaw;
    const KIND: Kind = Kind::ApertureLawOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.aperture_law
    }

    fn label(&self, series: &Series) -> String {
        format!("Measuring the grain of {} through several apertures", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let grain = self.first().area(view)?;
        Ok(key_of_area(Recipe::new("aperture law", 1).with(&self.film), view, grain)?.done())
    }

    fn make(&self, view: &View<'_>) -> Result<ApertureLaw, Halt> {
        let grain = self.first().area(view)?;
        let subject = Subject::Film(self.film.clone());
        let first = view.get(&self.first())?;
        let ladder = aperture_ladder(first.area, first.pitch);
        let mut found: Vec<Granularity> = Vec::new();
        for (step, aperture) in ladder.iter().enumerate() {
            if !view.progress(step as f32 / ladder.len() as f32) {
                return Err(Halt::Dropped);
            }
            found.push(measure(view, grain, *aperture, &subject)?);
        }
        // Granularities with the noise and without do not follow one law.
        if found.iter().any(|grain| grain.noise.is_some()) {
            found.retain(|grain| grain.noise.is_some());
        }
        let remedy = "Mark a larger area, or scan at a higher resolution.";
        Ok(law_of_apertures(&found).map_err(|why| Problem::note(subject, why, remedy))?)
    }

    fn digest(law: &ApertureLaw, _: Key) -> Key {
        Recipe::new("aperture law value", 1).with(law).done()
    }

    fn bytes(law: &ApertureLaw) -> usize {
        1024 + size_of_val(&*law.points)
    }

    fn slow(&self) -> bool {
        true
    }
}

impl ApertureLawOf {
    fn first(&self) -> GrainOf {
        GrainOf { film: self.film.clone(), area: self.area }
    }
}

impl GranularityCurveOf {
    fn areas<'a>(&'a self, view: &View<'_>) -> Result<impl Iterator<Item = GrainOf> + use<'a>, Problem> {
        let film = film(view, &self.film)?;
        if film.plain_areas().next().is_none() {
            plain_area(film, 0)?;
        }
        Ok(film.plain_areas().map(|area| GrainOf { film: self.film.clone(), area }))
    }
}

impl Ask for GranularityCurveOf {
    type Output = GranularityCurve;
    const KIND: Kind = Kind::GranularityCurveOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.granularity_curve
    }

    fn label(&self, series: &Series) -> String {
        format!("Granularity of {} over density", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let mut recipe = Recipe::new("granularity curve", 1).with(&film(view, &self.film)?.base_fog);
        for area in self.areas(view)? {
            recipe = match view.try_digest(&area)? {
                Ok(digest) => recipe.key(digest),
                Err(problem) => recipe.with(&problem),
            };
            recipe = recipe.with(&on_print(view, &area));
        }
        Ok(match compared_digest(view, &self.film)? {
            Ok(digest) => recipe.key(digest).done(),
            Err(problem) => recipe.with(&problem).done(),
        })
    }

    fn make(&self, view: &View<'_>) -> Result<GranularityCurve, Halt> {
        let (mut points, mut failed, mut notes, mut print) = (Vec::new(), Vec::new(), Vec::new(), false);
        for area in self.areas(view)? {
            print |= on_print(view, &area);
            match view.try_get(&area)? {
                Ok(grain) => {
                    let density = grain.mean_density.number();
                    let gradient = grain.gradient.clone();
                    points.push(GrainPoint { area: area.area, density, rms: grain.rms, gradient });
                    let at = |note: &String| format!("At density {density:.2}: {note}");
                    notes.extend(grain.notes.iter().chain(&grain.loss_in_words()).map(at));
                }
                Err(problem) => failed.push((area.area, problem.cause)),
            }
        }
        let base = if print {
            Err("it was measured on a print, whose density is not the film's.".to_owned())
        } else {
            base_fog(view, &self.film)?
        };
        let mut curve = GranularityCurve::new(points, failed, base);
        curve.notes = notes;
        Ok(curve)
    }

    fn digest(curve: &GranularityCurve, _: Key) -> Key {
        Recipe::new("granularity curve value", 1).with(curve).done()
    }

    fn bytes(curve: &GranularityCurve) -> usize {
        4096 + size_of_val(&*curve.points)
    }
}

fn on_print(view: &View<'_>, area: &GrainOf) -> bool {
    let entry = area.area(view).ok().and_then(|grain| view.scan_entry(&grain.scan).ok());
    entry.is_some_and(|entry| entry.kind == ScanKind::Print)
}

/// Base+fog as it was read, else that of the curve.
fn base_fog(view: &View<'_>, id: &FilmId) -> Result<Result<Measured, String>, Halt> {
    let series = view.series();
    if let Some(read) = film(view, id)?.base_fog {
        return Ok(Ok(Measured::normal(read.density, read.u.unwrap_or(series.settings.reading_u))));
    }
    Ok(match compared(view, id)? {
        Ok(curve) => match curve.figures.get(&FigureId::BaseFog) {
            Some(value) => value.known().copied().ok_or_else(|| "base+fog was not measured.".to_owned()),
            None => Err("the curve has no base+fog.".to_owned()),
        },
        Err(problem) => Err(problem.cause),
    })
}

impl GrainPairOf {
    fn sides(&self, view: &View<'_>) -> Result<[GranularityCurveOf; 2], Problem> {
        let reference = reference(view)?.id.clone();
        Ok([reference, self.film.clone()].map(|film| GranularityCurveOf { film }))
    }
}

impl Ask for GrainPairOf {
    type Output = Vec<PairRow>;
    const KIND: Kind = Kind::GrainPairOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.grain_pair
    }

    fn label(&self, series: &Series) -> String {
        format!("Comparing the grain of {} with the reference's", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let mut recipe = Recipe::new("grain pair", 1);
        for side in self.sides(view)? {
            recipe = recipe.key(view.digest(&side)?);
        }
        Ok(match view.try_digest(&TonesOf { film: self.film.clone() })? {
            Ok(tones) => recipe.key(tones).done(),
            Err(problem) => recipe.with(&problem).done(),
        })
    }

    fn make(&self, view: &View<'_>) -> Result<Vec<PairRow>, Halt> {
        let [reference, candidate] = self.sides(view)?;
        let tones = view.try_get(&TonesOf { film: self.film.clone() })?;
        let tones = tones.as_deref().map_err(|problem| problem.cause.as_str());
        Ok(pair_rows(&*view.get(&reference)?, &*view.get(&candidate)?, tones))
    }

    fn digest(rows: &Vec<PairRow>, _: Key) -> Key {
        Recipe::new("grain pair value", 1).with(rows).done()
    }

    fn bytes(rows: &Vec<PairRow>) -> usize {
        rows.len() * 1024
    }
}
