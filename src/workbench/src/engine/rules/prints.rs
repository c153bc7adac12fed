//! Prints: their registration, patches and spots.

use twinwedge_core::document::{Film, FilmId, GridShape, PatchLayout, PrintChoice, ScanId, Series};
use twinwedge_core::geometry::{Model, Point, Quad};
use twinwedge_core::measured::Flags;
use twinwedge_core::patch::{PatchSample, carry_grid, patch_areas, sample_patches};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::register::{Picture, Registration, register};
use twinwedge_core::scan::{Plane, Scan};
use twinwedge_core::tablet::sample_disc;

use super::grain::resolution;
use super::measurable::{self, Measurable, key_of_scan};
use super::{film, label_of, print_of, reference};
use crate::engine::ask::{PatchesOf, PyramidOf, RegistrationOf, ScanOf, SpotsOf, ToneOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// Longest side of a picture that is registered, in pixels: as fine as a fraction of a full pixel needs, and no finer.
const PICTURE: usize = 3000;

/// The reference's print and this film's.
fn both<'a>(
    view: &'a View<'_>,
    id: &FilmId,
) -> Result<(&'a Film, &'a PrintChoice, &'a Film, &'a PrintChoice), Problem> {
    let reference = reference(view)?;
    let film = film(view, id)?;
    Ok((reference, print_of(reference)?, film, print_of(film)?))
}

impl Ask for RegistrationOf {
    type Output = Registration;
    const KIND: Kind = Kind::RegistrationOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.registration
    }

    fn label(&self, series: &Series) -> String {
        format!("Registering the print of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let (reference, reference_print, film, print) = both(view, &self.film)?;
        let recipe = Recipe::new("registration", 3).with(&self.film);
        if film.id == reference.id {
            return Ok(recipe.done());
        }
        if let Some(pairs) = &print.pairs {
            return Ok(recipe.with(pairs).done());
        }
        let recipe = key_of_scan(recipe.with(&print.model), view, &reference_print.scan)?;
        let recipe = key_of_scan(recipe, view, &print.scan)?;
        let dpi = |scan| view.scan_entry(scan).map(|entry| entry.dpi);
        Ok(recipe.with(&dpi(&reference_print.scan)?).with(&dpi(&print.scan)?).done())
    }

    /// The reference's print lies on itself; two pairs of points set by hand go before what is found.
    fn make(&self, view: &View<'_>) -> Result<Registration, Halt> {
        let (reference, reference_print, film, print) = both(view, &self.film)?;
        let about = |problem: Problem| problem.about(Subject::Film(self.film.clone()));
        if film.id == reference.id {
            return Ok(Registration::exact());
        }
        if let Some(pairs) = &print.pairs {
            return Ok(Registration::by_hand(pairs).map_err(about)?);
        }
        Ok(laid(view, &reference_print.scan, &print.scan, print.model)?.map_err(about)?)
    }

    fn digest(registration: &Registration, _: Key) -> Key {
        Recipe::new("registration value", 2).with(registration).done()
    }

    fn bytes(registration: &Registration) -> usize {
        size_of::<Registration>() + size_of_val(registration.windows.as_slice())
    }

    fn slow(&self) -> bool {
        true
    }
}

/// Sizes that differ by less need not be made alike.
const ALIKE: f64 = 1.05;

/// Lays one scan on another: by their resolution where both say it, the finer one shrunk to the pixels of the other; else, or
/// where that does not match, as they are, for many files say a resolution that nobody set.
pub(super) fn laid(
    view: &View<'_>,
    a: &ScanId,
    b: &ScanId,
    wanted: Option<Model>,
) -> Result<Result<Registration, Problem>, Halt> {
    let dpi = |scan: &ScanId| -> Result<Option<f64>, Halt> {
        let codes = view.get(&ScanOf { scan: scan.clone() })?;
        Ok(resolution(view.scan_entry(scan)?, &codes.meta).ok().map(|(dpi, _)| dpi))
    };
    let (dpi_a, dpi_b) = (dpi(a)?, dpi(b)?);
    let (a, b) = (picture(view, a)?, picture(view, b)?);
    let stop = || view.stop();
    let ratio = dpi_a.zip(dpi_b).map(|(dpi_a, dpi_b)| (dpi_b / b.scale) / (dpi_a / a.scale));
    if let Some(ratio) = ratio.filter(|ratio| ratio.max(1.0 / ratio) > ALIKE)
        && a.bears(1.0 / ratio)
        && b.bears(ratio)
    {
        let found = register(&a.clone().shrunk(1.0 / ratio), &b.clone().shrunk(ratio), wanted, &stop);
        if found.is_ok() || stop() {
            return Ok(found);
        }
    }
    Ok(register(&a, &b, wanted, &stop))
}

/// The densities of a print, of the whole scan or of the smaller copy that is just fine enough.
pub(super) fn picture(view: &View<'_>, scan: &ScanId) -> Result<Picture, Halt> {
    let channel = view.scan_entry(scan)?.channel;
    let full = measurable::codes(view, scan)?;
    let table = view.get(&ToneOf { scan: scan.clone() })?;
    let tones: Vec<f32> = table.density.iter().map(|density| *density as f32).collect();
    let longest = full.width.max(full.height);
    if longest <= PICTURE {
        return Ok(densities(full.plane(channel), &tones, 1.0));
    }
    let pyramid = view.get(&PyramidOf { scan: scan.clone() })?;
    let fitting =
        pyramid.levels.iter().enumerate().find(|(_, level)| level.width.max(level.height) <= PICTURE);
    let Some((index, level)) = fitting else {
        return Ok(densities(full.plane(channel), &tones, 1.0));
    };
    let smaller = Scan {
        width: level.width,
        height: level.height,
        channels: full.channels,
        samples: level.samples.clone(),
        meta: full.meta.clone(),
    };
    Ok(densities(smaller.plane(channel), &tones, 2.0_f64.powi(i32::try_from(index + 1).unwrap_or(i32::MAX))))
}

fn densities(plane: Plane<'_>, table: &[f32], scale: f64) -> Picture {
    let (width, height) = (plane.width(), plane.height());
    let mut tones = vec![0.0; width * height];
    for (y, row) in tones.chunks_mut(width.max(1)).enumerate() {
        plane.look_up(table, y, 0, row);
    }
    Picture { width, height, tones, scale }
}

/// Where a film's patch grid comes from.
enum Grid<'a> {
    /// Laid on its own print.
    Own(&'a GridShape),
    /// The reference's, carried by the registration.
    Carried(&'a GridShape),
}

fn grid<'a>(
    view: &'a View<'_>,
    id: &FilmId,
) -> Result<(&'a PatchLayout, &'a PrintChoice, Grid<'a>), Problem> {
    let series = view.series();
    let layout = series.layout.as_ref().ok_or_else(|| {
        Problem::note(
            Subject::Series,
            "The series has no patch layout.",
            "Choose the layout of the printed target.",
        )
    })?;
    let print = print_of(film(view, id)?)?;
    if let Some(shape) = &print.grid {
        return Ok((layout, print, Grid::Own(shape)));
    }
    let of_reference = reference(view)?.print.as_ref().and_then(|print| print.grid.as_ref());
    let shape = of_reference.ok_or_else(|| {
        Problem::note(
            Subject::Film(id.clone()),
            "The patch grid is not laid on the reference's print yet.",
            "Lay it by its four corners; it then serves all prints.",
        )
    })?;
    Ok((layout, print, Grid::Carried(shape)))
}

impl Ask for PatchesOf {
    type Output = Vec<PatchSample>;
    const KIND: Kind = Kind::PatchesOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.patches
    }

    fn label(&self, series: &Series) -> String {
        format!("Sampling the patches of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let (layout, print, grid) = grid(view, &self.film)?;
        let recipe = key_of_scan(Recipe::new("patches", 4).with(&self.film), view, &print.scan)?.with(layout);
        let recipe = recipe.with(&view.scan_entry(&print.scan)?.dpi);
        Ok(match grid {
            Grid::Own(shape) => recipe.with(shape).done(),
            Grid::Carried(shape) => {
                let registration = RegistrationOf { film: self.film.clone() };
                recipe.with(shape).key(view.digest(&registration)?).done()
            }
        })
    }

    fn make(&self, view: &View<'_>) -> Result<Vec<PatchSample>, Halt> {
        let (layout, print, grid) = grid(view, &self.film)?;
        let (shape, flags, doubts) = match grid {
            Grid::Own(shape) => (*shape, Flags::empty(), Vec::new()),
            Grid::Carried(shape) => {
                let registration = view.get(&RegistrationOf { film: self.film.clone() })?;
                let middle = |area: &Quad| {
                    let sum = area.corners.iter().fold((0.0, 0.0), |sum, p| (sum.0 + p.x, sum.1 + p.y));
                    Point::new(sum.0 / 4.0, sum.1 / 4.0)
                };
                let areas = patch_areas(layout, shape);
                let doubts = areas.iter().map(|area| registration.doubt_at(middle(area))).collect();
                (carry_grid(shape, &registration.transform), registration.flags, doubts)
            }
        };
        let scan = Measurable::of(view, &print.scan)?;
        let sampled = sample_patches(scan.plane(), &scan.table, layout, &shape);
        let mut patches = sampled.map_err(|problem| problem.about(Subject::Film(self.film.clone())))?;
        for patch in &mut patches {
            patch.sample.density = patch.sample.density.flagged(flags);
        }
        for (patch, doubt) in patches.iter_mut().zip(doubts) {
            // What its own borders place needs no detail around it.
            if patch.borders < 3 && patch.doubt.is_none() {
                patch.doubt = doubt;
            }
        }
        Ok(patches)
    }

    fn digest(patches: &Vec<PatchSample>, _: Key) -> Key {
        Recipe::new("patches value", 2).with(patches).done()
    }

    fn bytes(patches: &Vec<PatchSample>) -> usize {
        patches.len() * size_of::<PatchSample>()
    }

    fn slow(&self) -> bool {
        true
    }
}

impl Ask for SpotsOf {
    type Output = Vec<PatchSample>;
    const KIND: Kind = Kind::SpotsOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.spots
    }

    fn label(&self, series: &Series) -> String {
        format!("Sampling the spots of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let print = print_of(film(view, &self.film)?)?;
        let recipe = Recipe::new("spots", 1).with(&self.film).with(&view.series().spots);
        if view.series().spots.is_empty() {
            return Ok(recipe.done());
        }
        let registration = view.digest(&RegistrationOf { film: self.film.clone() })?;
        Ok(key_of_scan(recipe.key(registration), view, &print.scan)?.done())
    }

    /// A spot outside of this print is left out; the comparison then says that it is missing.
    fn make(&self, view: &View<'_>) -> Result<Vec<PatchSample>, Halt> {
        let print = print_of(film(view, &self.film)?)?;
        let spots = &view.series().spots;
        if spots.is_empty() {
            return Ok(Vec::new());
        }
        let registration = view.get(&RegistrationOf { film: self.film.clone() })?;
        let scan = Measurable::of(view, &print.scan)?;
        let plane = scan.plane();
        let samples = (1_u32..).zip(spots).filter_map(|(step, spot)| {
            let at = registration.transform.map(spot.at);
            let radius = spot.radius * registration.transform.scale_at(spot.at);
            let mut sample = sample_disc(plane, &scan.table, at, radius).ok()?;
            sample.step = step;
            sample.density = sample.density.flagged(registration.flags);
            let doubt = registration.doubt_at(spot.at);
            Some(PatchSample { name: spot.name.clone(), sample, borders: 0, doubt })
        });
        Ok(samples.collect())
    }

    fn digest(spots: &Vec<PatchSample>, _: Key) -> Key {
        Recipe::new("spots value", 1).with(spots).done()
    }

    fn bytes(spots: &Vec<PatchSample>) -> usize {
        spots.len() * size_of::<PatchSample>()
    }

    fn slow(&self) -> bool {
        true
    }
}
