//! Surviving detail of a film's print against the reference's.

use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::detail::{Asked, Detail, Other, Sheet as Tones, detail};
use twinwedge_core::document::{Film, FilmId, PrintChoice};
use twinwedge_core::geometry::{Point, Quad, Rect, Transform};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::register::{Picture, Registration};
use twinwedge_core::words::Sentence;

use super::altered::{self, Altered};
use super::prints::Sheet;
use super::{called, film, print_of, reference};
use crate::engine::ask::{DetailOf, RegistrationOf, SurvivingDetail};
use crate::engine::names::stand_in;
use crate::engine::query::tried;
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

/// Longest side of an area that is measured in the scan's own pixels; of a larger one a smaller copy serves.
const LONGEST: f64 = 3000.0;
/// Pixels around what is asked for, for the kernel and the shifts.
const MARGIN: f64 = 24.0;
/// Other films that are looked at for a third print.
const THIRDS: usize = 3;

/// What detail in a print is measured from.
#[derive(Debug, Serialize)]
pub struct Detailed {
    quick: bool,
    area: Option<Rect>,
    enlargement: Option<f64>,
    reference: Side,
    candidate: Side,
    registration: Handle<RegistrationOf>,
    /// Films whose prints could tell the two apart, nearest to the top of the list first.
    thirds: Vec<(FilmId, Sheet, Handle<RegistrationOf>)>,
}

/// One of the two prints.
#[derive(Debug, Serialize)]
struct Side {
    film: FilmId,
    sheet: Sheet,
    /// A uniform area that is marked on it.
    plain: Option<Rect>,
    /// A first answer does not wait for the examination.
    altered: Altered,
}

impl Side {
    fn of(view: &View<'_>, film: &Film, print: &PrintChoice, quick: bool) -> Result<Self, NoAnswer> {
        Ok(Self {
            film: film.id.clone(),
            sheet: Sheet::of(view, &print.scan)?,
            plain: film.uniform_areas.iter().find(|area| area.scan == print.scan).map(|area| area.area),
            altered: if quick { None } else { altered::examination(view, &print.scan)? },
        })
    }

    /// What its examination found, in sentences.
    fn told(&self, work: &Computation<'_>) -> Result<Vec<Sentence>, NoAnswer> {
        let called = stand_in(&self.film);
        let said = altered::told(&self.altered, work, altered::DETAIL)?;
        Ok(said
            .iter()
            .map(|said| Rule::OfPrint { called: called.clone(), said: said.clone() }.into())
            .collect())
    }
}

fn registration_of(film: &FilmId) -> RegistrationOf {
    RegistrationOf { film: film.clone() }
}

impl Query for DetailOf {
    type Inputs = Detailed;

    fn inputs(&self, view: &View<'_>) -> Result<Detailed, NoAnswer> {
        let (series, reference) = (view.series(), reference(view)?);
        if reference.id == self.film {
            let cause = Rule::PrintOfReference { called: called(reference) };
            return Err(
                Problem::note(Subject::Film(self.film.clone()), cause, Remedy::ChooseCandidate).into()
            );
        }
        let film = film(view, &self.film)?;
        let (of_reference, print) = (print_of(reference)?, print_of(film)?);
        let registration = view.handle(registration_of(&self.film))?;
        let others = series.candidates().filter(|film| film.id != self.film);
        let mut thirds = Vec::new();
        for (third, print) in others.filter_map(|film| Some((film, film.print.as_ref()?))).take(THIRDS) {
            if let Ok(found) = view.try_handle(registration_of(&third.id))? {
                thirds.push((third.id.clone(), Sheet::of(view, &print.scan)?, found));
            }
        }
        Ok(Detailed {
            quick: self.quick,
            area: series.detail_area,
            enlargement: series.conditions.enlargement,
            reference: Side::of(view, reference, of_reference, self.quick)?,
            candidate: Side::of(view, film, print, self.quick)?,
            registration,
            thirds,
        })
    }

    /// The first other film whose print lies surely on the reference's tells the two apart.
    fn compute(inputs: &Detailed, work: &Computation<'_>) -> Result<SurvivingDetail, NoAnswer> {
        let Detailed { quick, reference, candidate, .. } = inputs;
        let about = |problem: Problem| problem.about(Subject::Film(candidate.film.clone()));
        let registration = work.get(&inputs.registration)?;
        let mut third = None;
        for (film, sheet, found) in &inputs.thirds {
            if let Ok(found) = tried(work.get(found))?
                && found.is_sure()
            {
                third = Some((film, sheet, found));
                break;
            }
        }
        let dpi = reference.sheet.resolution(work)?.map_err(about)?;
        let to_reference = registration.transform.inverse();
        let carried = |area: Rect| inner(&to_reference.map_quad(&Quad::upright(area)));
        let plain = [reference.plain, candidate.plain.map(carried)];
        let codes = reference.sheet.sight.codes.get(work)?;
        let whole = Rect { min: Point::default(), max: Point::new(codes.width as f64, codes.height as f64) };
        let area = inputs.area.unwrap_or(whole);
        let region = plain.iter().flatten().fold(area, |all, one| Rect {
            min: Point::new(all.min.x.min(one.min.x), all.min.y.min(one.min.y)),
            max: Point::new(all.max.x.max(one.max.x), all.max.y.max(one.max.y)),
        });
        let asked = Asked {
            area: Some(area),
            per_mm: dpi / 25.4,
            enlargement: inputs.enlargement,
            plain,
            quick: *quick,
        };
        let own = tones(work, &reference.sheet, region)?;
        let seen = |transform: &Transform, sheet: &Sheet| {
            tones(work, sheet, outer(&transform.map_quad(&Quad::upright(region))))
        };
        let seen_candidate = seen(&registration.transform, &candidate.sheet)?;
        let others = match &third {
            Some((_, sheet, found)) => Some((seen(&found.transform, sheet)?, Arc::clone(found))),
            None => None,
        };
        let other = |sheet, registration| Other { sheet, registration };
        let found = detail(
            &own,
            other(&seen_candidate, &registration),
            others.as_ref().map(|(sheet, found)| other(sheet, found)),
            &asked,
            &|| work.stop(),
        );
        let mut found: Detail = found.map_err(about)?;
        if !Registration::is_sure(&registration) {
            found.notes.insert(0, Rule::RegistrationInDoubt.into());
        }
        for side in [reference, candidate] {
            found.notes.extend(side.told(work)?);
        }
        Ok(SurvivingDetail { third: third.map(|(film, ..)| stand_in(film)), detail: found })
    }

    fn slow(&self) -> bool {
        !self.quick
    }
}

/// The largest upright rectangle with its corners among those of a quadrilateral that is nearly upright.
fn inner(quad: &Quad) -> Rect {
    let [a, b, c, d] = quad.corners;
    Rect { min: Point::new(a.x.max(d.x), a.y.max(b.y)), max: Point::new(b.x.min(c.x), c.y.min(d.y)) }
}

/// The smallest upright rectangle around a quadrilateral.
fn outer(quad: &Quad) -> Rect {
    let first = Rect { min: quad.corners[0], max: quad.corners[0] };
    quad.corners.iter().fold(first, |all, p| Rect {
        min: Point::new(all.min.x.min(p.x), all.min.y.min(p.y)),
        max: Point::new(all.max.x.max(p.x), all.max.y.max(p.y)),
    })
}

/// Densities of a print within a region and a margin: in the scan's own pixels, or of a smaller copy where that is large.
fn tones(work: &Computation<'_>, sheet: &Sheet, region: Rect) -> Result<Tones, NoAnswer> {
    if region.width().max(region.height()) > LONGEST {
        return Ok(Tones { picture: sheet.picture(work)?, origin: Point::default() });
    }
    let scan = sheet.sight.read(work)?;
    let (plane, table) = scan.side();
    let density: Vec<f32> = table.density.iter().map(|density| *density as f32).collect();
    let low = |value: f64, most: usize| (value - MARGIN).floor().clamp(0.0, most as f64) as usize;
    let high = |value: f64, most: usize| (value + MARGIN).ceil().clamp(0.0, most as f64) as usize;
    let (left, top) = (low(region.min.x, plane.width()), low(region.min.y, plane.height()));
    let width = high(region.max.x, plane.width()).saturating_sub(left);
    let height = high(region.max.y, plane.height()).saturating_sub(top);
    let mut tones = vec![0.0; width * height];
    for (y, row) in tones.chunks_exact_mut(width.max(1)).enumerate() {
        plane.look_up(&density, top + y, left, row);
    }
    Ok(Tones {
        picture: Picture { width, height, tones, scale: 1.0 },
        origin: Point::new(left as f64, top as f64),
    })
}
