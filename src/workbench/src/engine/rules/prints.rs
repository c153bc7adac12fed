//! Prints: their registration, patches and spots.

use serde::Serialize;
use twinwedge_core::document::{FilmId, GridShape, PatchLayout, ScanId, Spot};
use twinwedge_core::geometry::{Model, Point, Quad};
use twinwedge_core::measured::Flags;
use twinwedge_core::patch::{PatchSample, carry_grid, patch_areas, sample_patches};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::register::{Picture, Registration, register};
use twinwedge_core::scan::{Plane, Scan};
use twinwedge_core::tablet::sample_disc;

use super::grain::resolution;
use super::measurable::{Measurable, ScanInputs};
use super::{film, print_of, reference};
use crate::engine::ask::{PatchesOf, PyramidOf, RegistrationOf, SpotsOf};
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

/// Longest side of a picture that is registered, in pixels: as fine as a fraction of a full pixel needs, and no finer.
const PICTURE: usize = 3000;

/// How a print comes to lie on the reference's.
#[derive(Debug, Serialize)]
pub enum Laying {
    /// It is the reference's.
    Same,
    /// By two pairs of points that were set by hand: they go before what is found.
    ByHand(FilmId, [(Point, Point); 2]),
    /// As what both show tells.
    Found(FilmId, Box<[Sheet; 2]>, Option<Model>),
}

impl Query for RegistrationOf {
    type Inputs = Laying;

    fn inputs(&self, view: &View<'_>) -> Result<Laying, NoAnswer> {
        let (reference, film) = (reference(view)?, film(view, &self.film)?);
        let (of_reference, print) = (print_of(reference)?, print_of(film)?);
        Ok(match &print.pairs {
            _ if film.id == reference.id => Laying::Same,
            Some(pairs) => Laying::ByHand(film.id.clone(), *pairs),
            None => {
                let both = [Sheet::of(view, &of_reference.scan)?, Sheet::of(view, &print.scan)?];
                Laying::Found(film.id.clone(), Box::new(both), print.model)
            }
        })
    }

    fn compute(laying: &Laying, work: &Computation<'_>) -> Result<Registration, NoAnswer> {
        let about = |film: &FilmId| {
            let subject = Subject::Film(film.clone());
            move |problem: Problem| problem.about(subject)
        };
        Ok(match laying {
            Laying::Same => Registration::exact(),
            Laying::ByHand(film, pairs) => Registration::by_hand(pairs).map_err(about(film))?,
            Laying::Found(film, both, model) => laid(work, both, *model)?.map_err(about(film))?,
        })
    }
}

/// A scan that is laid on another, with its resolution as typed.
#[derive(Debug, Serialize)]
pub struct Sheet {
    pub(super) sight: ScanInputs,
    dpi: Option<f64>,
    /// Its smaller copies.
    pyramid: Handle<PyramidOf>,
}

impl Sheet {
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Self, NoAnswer> {
        Ok(Self {
            sight: ScanInputs::of(view, scan)?,
            dpi: view.scan_entry(scan)?.dpi,
            pyramid: view.handle(PyramidOf { scan: scan.clone() })?,
        })
    }

    /// Dots per inch, and flags for where they are known from.
    pub(super) fn resolution(&self, work: &Computation<'_>) -> Result<Result<f64, Problem>, NoAnswer> {
        Ok(resolution(self.dpi, &self.sight.codes.get(work)?.meta).map(|(dpi, _)| dpi))
    }

    /// Its densities, of the whole scan or of the smaller copy that is just fine enough.
    pub(super) fn picture(&self, work: &Computation<'_>) -> Result<Picture, NoAnswer> {
        let full = self.sight.read(work)?;
        let tones: Vec<f32> = full.table.density.iter().map(|density| *density as f32).collect();
        if full.codes.width.max(full.codes.height) <= PICTURE {
            return Ok(densities(full.plane(), &tones, 1.0));
        }
        let pyramid = work.get(&self.pyramid)?;
        let fitting =
            pyramid.levels.iter().enumerate().find(|(_, level)| level.width.max(level.height) <= PICTURE);
        let Some((index, level)) = fitting else { return Ok(densities(full.plane(), &tones, 1.0)) };
        let smaller = Scan {
            width: level.width,
            height: level.height,
            channels: full.codes.channels,
            samples: level.samples.clone(),
            meta: full.codes.meta.clone(),
        };
        let scale = 2.0_f64.powi(i32::try_from(index + 1).unwrap_or(i32::MAX));
        Ok(densities(smaller.plane(self.sight.channel), &tones, scale))
    }
}

/// Sizes that differ by less need not be made alike.
const ALIKE: f64 = 1.05;

/// Lays one scan on another: by their resolution where both say it, the finer one shrunk to the pixels of the other; else, or
/// where that does not match, as they are, for many files say a resolution that nobody set.
pub(super) fn laid(
    work: &Computation<'_>,
    [a, b]: &[Sheet; 2],
    wanted: Option<Model>,
) -> Result<Result<Registration, Problem>, NoAnswer> {
    let (dpi_a, dpi_b) = (a.resolution(work)?.ok(), b.resolution(work)?.ok());
    let (a, b) = (a.picture(work)?, b.picture(work)?);
    let stop = || work.stop();
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

fn densities(plane: Plane<'_>, table: &[f32], scale: f64) -> Picture {
    let (width, height) = (plane.width(), plane.height());
    let mut tones = vec![0.0; width * height];
    for (y, row) in tones.chunks_mut(width.max(1)).enumerate() {
        plane.look_up(table, y, 0, row);
    }
    Picture { width, height, tones, scale }
}

/// What the patches of a print are sampled by.
#[derive(Debug, Serialize)]
pub struct PatchGrid {
    film: FilmId,
    scan: Measurable,
    layout: PatchLayout,
    shape: GridShape,
    /// What carries the reference's grid to this print; `None` for a grid of its own.
    carried: Option<Handle<RegistrationOf>>,
}

impl Query for PatchesOf {
    type Inputs = PatchGrid;

    fn inputs(&self, view: &View<'_>) -> Result<PatchGrid, NoAnswer> {
        let layout = view
            .series()
            .layout
            .as_ref()
            .ok_or_else(|| Problem::note(Subject::Series, Rule::NoLayout, Remedy::ChooseLayout))?;
        let print = print_of(film(view, &self.film)?)?;
        let shape = match print.grid {
            Some(own) => own,
            None => reference(view)?.print.as_ref().and_then(|print| print.grid).ok_or_else(|| {
                Problem::note(Subject::Film(self.film.clone()), Rule::NoGrid, Remedy::LayGrid)
            })?,
        };
        let scan = Measurable::in_size(view, &print.scan)?;
        let carried = match print.grid {
            Some(_) => None,
            None => Some(view.handle(RegistrationOf { film: self.film.clone() })?),
        };
        Ok(PatchGrid { film: self.film.clone(), scan, layout: layout.without_colours(), shape, carried })
    }

    fn compute(grid: &PatchGrid, work: &Computation<'_>) -> Result<Vec<PatchSample>, NoAnswer> {
        let PatchGrid { layout, shape, .. } = grid;
        let (shape, flags, doubts) = match &grid.carried {
            None => (*shape, Flags::empty(), Vec::new()),
            Some(registration) => {
                let registration = work.get(registration)?;
                let middle = |area: &Quad| {
                    let sum = area.corners.iter().fold((0.0, 0.0), |sum, p| (sum.0 + p.x, sum.1 + p.y));
                    Point::new(sum.0 / 4.0, sum.1 / 4.0)
                };
                let areas = patch_areas(layout, shape);
                let doubts = areas.iter().map(|area| registration.doubt_at(middle(area))).collect();
                (carry_grid(shape, &registration.transform), registration.flags, doubts)
            }
        };
        let scan = grid.scan.read(work)?;
        let (plane, table) = scan.side();
        let sampled = sample_patches(plane, table, layout, &shape);
        let mut patches = sampled.map_err(|problem| problem.about(Subject::Film(grid.film.clone())))?;
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
}

/// Spots of the reference's print, and where they are sampled in another.
#[derive(Debug, Serialize)]
pub struct Spotted {
    spots: Vec<Spot>,
    registration: Handle<RegistrationOf>,
    scan: Measurable,
}

impl Query for SpotsOf {
    /// `None` where the series has no spots.
    type Inputs = Option<Spotted>;

    fn inputs(&self, view: &View<'_>) -> Result<Self::Inputs, NoAnswer> {
        let print = print_of(film(view, &self.film)?)?;
        let spots = &view.series().spots;
        if spots.is_empty() {
            return Ok(None);
        }
        let registration = view.handle(RegistrationOf { film: self.film.clone() })?;
        Ok(Some(Spotted { spots: spots.clone(), registration, scan: Measurable::of(view, &print.scan)? }))
    }

    /// A spot outside of this print is left out; the comparison then says that it is missing.
    fn compute(spotted: &Self::Inputs, work: &Computation<'_>) -> Result<Vec<PatchSample>, NoAnswer> {
        let Some(Spotted { spots, registration, scan }) = spotted else { return Ok(Vec::new()) };
        let registration = work.get(registration)?;
        let scan = scan.read(work)?;
        let (plane, table) = scan.side();
        let samples = (1_u32..).zip(spots).filter_map(|(step, spot)| {
            let at = registration.transform.map(spot.at);
            let radius = spot.radius * registration.transform.scale_at(spot.at);
            let mut sample = sample_disc(plane, table, at, radius).ok()?;
            sample.step = step;
            sample.density = sample.density.flagged(registration.flags);
            let doubt = registration.doubt_at(spot.at);
            Some(PatchSample { name: spot.name.clone(), sample, borders: 0, doubt })
        });
        Ok(samples.collect())
    }
}
