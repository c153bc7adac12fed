//! Surviving detail of a film's print against the reference's.

use std::sync::Arc;

use twinwedge_core::detail::{Asked, Detail, Other, Sheet, detail};
use twinwedge_core::document::{Film, FilmId, PrintChoice, ScanId, Series};
use twinwedge_core::geometry::{Point, Quad, Rect, Transform};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::register::{Picture, Registration};

use super::altered;
use super::grain::resolution;
use super::measurable::{self, key_of_scan};
use super::{film, label_of, print_of, prints, reference};
use crate::engine::ask::{DetailOf, RegistrationOf, ScanOf, SurvivingDetail, ToneOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// Longest side of an area that is measured in the scan's own pixels; of a larger one a smaller copy serves.
const LONGEST: f64 = 3000.0;
/// Pixels around what is asked for, for the kernel and the shifts.
const MARGIN: f64 = 24.0;
/// Other films that are looked at for a third print.
const THIRDS: usize = 3;

impl DetailOf {
    fn sides<'a>(
        &self,
        view: &'a View<'_>,
    ) -> Result<(&'a Film, &'a PrintChoice, &'a Film, &'a PrintChoice), Problem> {
        let reference = reference(view)?;
        if reference.id == self.film {
            return Err(Problem::note(
                Subject::Film(self.film.clone()),
                format!("{} is the reference: its print is what others are compared with.", reference.label),
                "Choose a candidate.",
            ));
        }
        let film = film(view, &self.film)?;
        Ok((reference, print_of(reference)?, film, print_of(film)?))
    }

    /// Films whose prints could tell the two apart, nearest to the top of the list first.
    fn thirds<'a>(&self, view: &'a View<'_>) -> impl Iterator<Item = (&'a Film, &'a PrintChoice)> {
        let others = view.series().candidates().filter(|film| film.id != self.film);
        others.filter_map(|film| Some((film, film.print.as_ref()?))).take(THIRDS)
    }
}

fn registration_of(film: &FilmId) -> RegistrationOf {
    RegistrationOf { film: film.clone() }
}

/// Plain areas that are marked on a film's print.
fn plain_on_print(film: &Film, print: &PrintChoice) -> Option<Rect> {
    let areas = film.grain.iter().chain(&film.further_grain);
    areas.filter(|area| area.scan == print.scan).map(|area| area.area).next()
}

impl Ask for DetailOf {
    type Output = SurvivingDetail;
    const KIND: Kind = Kind::DetailOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.detail
    }

    fn label(&self, series: &Series) -> String {
        format!("Comparing detail of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let (reference, reference_print, film, print) = self.sides(view)?;
        let series = view.series();
        let recipe = Recipe::new("detail", 2).with(&self.film).with(&self.quick).with(&series.detail_area);
        let recipe = recipe
            .with(&view.scan_entry(&reference_print.scan)?.dpi)
            .with(&series.conditions.enlargement)
            .with(&plain_on_print(reference, reference_print))
            .with(&plain_on_print(film, print))
            .key(view.digest(&registration_of(&self.film))?);
        let recipe = key_of_scan(recipe, view, &reference_print.scan)?;
        let mut recipe = key_of_scan(recipe, view, &print.scan)?;
        for (third, print) in self.thirds(view) {
            if let Ok(digest) = view.try_digest(&registration_of(&third.id))? {
                recipe = key_of_scan(recipe.with(&third.label).key(digest), view, &print.scan)?;
            }
        }
        if !self.quick {
            for scan in [&reference_print.scan, &print.scan] {
                recipe = altered::key(recipe, view, scan)?;
            }
        }
        Ok(recipe.done())
    }

    /// The first other film whose print lies surely on the reference's tells the two apart.
    fn make(&self, view: &View<'_>) -> Result<SurvivingDetail, Halt> {
        let (reference, reference_print, film, print) = self.sides(view)?;
        let series = view.series();
        let about = |problem: Problem| problem.about(Subject::Film(self.film.clone()));
        let registration = view.get(&registration_of(&self.film))?;
        let mut third = None;
        for (other, print) in self.thirds(view) {
            let found = view.try_get(&registration_of(&other.id))?;
            if let Ok(found) = found
                && found.is_sure()
            {
                third = Some((other, print, found));
                break;
            }
        }
        let entry = view.scan_entry(&reference_print.scan)?;
        let codes = view.get(&ScanOf { scan: reference_print.scan.clone() })?;
        let (dpi, _) = resolution(entry, &codes.meta).map_err(about)?;
        let to_reference = registration.transform.inverse();
        let carried = |area: Rect| inner(&to_reference.map_quad(&Quad::upright(area)));
        let plain = [plain_on_print(reference, reference_print), plain_on_print(film, print).map(carried)];
        let whole = Rect { min: Point::default(), max: Point::new(codes.width as f64, codes.height as f64) };
        let area = series.detail_area.unwrap_or(whole);
        let region = plain.iter().flatten().fold(area, |all, one| Rect {
            min: Point::new(all.min.x.min(one.min.x), all.min.y.min(one.min.y)),
            max: Point::new(all.max.x.max(one.max.x), all.max.y.max(one.max.y)),
        });
        let asked = Asked {
            area: Some(area),
            per_mm: dpi / 25.4,
            enlargement: series.conditions.enlargement,
            plain,
            quick: self.quick,
        };
        let own = sheet(view, &reference_print.scan, region)?;
        let seen = |transform: &Transform, scan: &ScanId| {
            sheet(view, scan, outer(&transform.map_quad(&Quad::upright(region))))
        };
        let candidate = seen(&registration.transform, &print.scan)?;
        let others = match &third {
            Some((_, print, found)) => Some((seen(&found.transform, &print.scan)?, Arc::clone(found))),
            None => None,
        };
        let other = |sheet, registration| Other { sheet, registration };
        let found = detail(
            &own,
            other(&candidate, &registration),
            others.as_ref().map(|(sheet, found)| other(sheet, found)),
            &asked,
            &|| view.stop(),
        );
        let mut found: Detail = found.map_err(about)?;
        if !Registration::is_sure(&registration) {
            found
                .notes
                .insert(0, "The registration of the prints is in doubt, and with it all of this.".to_owned());
        }
        if !self.quick {
            for (film, scan) in [(reference, &reference_print.scan), (film, &print.scan)] {
                let said = altered::of(view, scan, altered::DETAIL)?;
                found.notes.extend(said.iter().map(|said| format!("The print of {}: {said}", film.label)));
            }
        }
        Ok(SurvivingDetail { third: third.map(|(film, ..)| film.label.clone()), detail: found })
    }

    fn digest(found: &SurvivingDetail, _: Key) -> Key {
        Recipe::new("detail value", 1).with(found).done()
    }

    fn bytes(found: &SurvivingDetail) -> usize {
        let detail = &found.detail;
        size_of::<SurvivingDetail>()
            + size_of_val(detail.rows.as_slice())
            + size_of_val(detail.map.share.as_slice())
            + size_of_val(detail.differing.as_slice())
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
fn sheet(view: &View<'_>, scan: &ScanId, region: Rect) -> Result<Sheet, Halt> {
    if region.width().max(region.height()) > LONGEST {
        return Ok(Sheet { picture: prints::picture(view, scan)?, origin: Point::default() });
    }
    let codes = measurable::codes(view, scan)?;
    let plane = codes.plane(view.scan_entry(scan)?.channel);
    let table = view.get(&ToneOf { scan: scan.clone() })?;
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
    Ok(Sheet {
        picture: Picture { width, height, tones, scale: 1.0 },
        origin: Point::new(left as f64, top as f64),
    })
}
