//! What the codes of a scan stand for where it has no calibration.

use twinwedge_core::document::{
    Calibration, Encoding, Film, ReadingsSource, ScanEntry, ScanId, ScanKind, Series, StripShape, Tablet,
};
use twinwedge_core::geometry::Quad;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::encoding::{Exposed, Place, Sight, judge, share};
use twinwedge_core::scan::{Certainty, Judged, Plane, Scan, StatedBy, ToneTable};
use twinwedge_core::tablet::{StepSample, sample_quad, sample_strip};

use super::grain::resolution;
use super::readings::tablet_u;
use super::scans::file_name;
use crate::engine::ask::{EncodingOf, ScanOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// A base that is this even over its two lightest steps, in density, is base+fog.
const LEVEL: f64 = 0.012;
/// The scanner's open light is lighter than base+fog by this much at least, in density of linear light.
const LIGHTER: f64 = 0.02;

impl Ask for EncodingOf {
    type Output = Judged;
    const KIND: Kind = Kind::EncodingOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.encoding
    }

    fn label(&self, series: &Series) -> String {
        format!("What the codes of {} stand for", file_name(series, &self.scan))
    }

    /// What is told of a scan beside its file: all that a guess may rest on.
    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let entry = view.scan_entry(&self.scan)?;
        let series = view.series();
        let scan = view.digest(&ScanOf { scan: self.scan.clone() })?;
        let mut recipe = Recipe::new("encoding", 1).key(scan).with(&entry.encoding);
        if entry.encoding.is_some() {
            return Ok(recipe.done());
        }
        recipe =
            recipe.with(&(series.settings.encoding, entry.kind, entry.channel, entry.known, entry.dpi));
        for (film, shape, tablet) in strips(series, &self.scan) {
            recipe = recipe.with(&(shape, tablet, film.base_fog));
        }
        for (shape, tablet) in tablets(series, &self.scan) {
            recipe = recipe.with(&("a tablet", shape, tablet));
        }
        Ok(recipe.with(&series.settings.reading_u).done())
    }

    fn make(&self, view: &View<'_>) -> Result<Judged, Halt> {
        let scan = view.get(&ScanOf { scan: self.scan.clone() })?;
        of(view, &self.scan, &scan)
    }

    /// Tables depend on what codes are taken for, and not on why.
    fn digest(judged: &Judged, _: Key) -> Key {
        Recipe::new("encoding value", 1).with(&(judged.encoding, judged.certainty)).done()
    }

    fn bytes(_: &Judged) -> usize {
        4096
    }
}

/// What the codes of a scan are taken for: as it is stated for it, by its file or for the series, else by a guess.
fn of(view: &View<'_>, id: &ScanId, scan: &Scan) -> Result<Judged, Halt> {
    let entry = view.scan_entry(id)?;
    let has_curve = scan.meta.profile_curve.is_some();
    let fits = |encoding: &Encoding| *encoding != Encoding::Profile || has_curve;
    if let Some(encoding) = entry.encoding {
        return if fits(&encoding) {
            Ok(Judged::known(encoding, Certainty::Stated))
        } else {
            Err(without_profile(id).into())
        };
    }
    let plane = scan.plane(entry.channel);
    let by_default = view.series().settings.encoding.filter(fits);
    let by_default = by_default.map(|encoding| Judged::known(encoding, Certainty::SeriesDefault));
    let of_codes = || Sight::of(plane, entry.kind == ScanKind::Print, &|| view.stop()).ok_or(Halt::Dropped);
    let sight = match scan.stated() {
        // A floating point copy of whole codes says no more than these would.
        Some((encoding, Certainty::File(StatedBy::FloatingPoint))) => {
            let sight = of_codes()?;
            if sight.copy_of.is_none() {
                return Ok(Judged::known(encoding, Certainty::File(StatedBy::FloatingPoint)));
            }
            sight
        }
        Some((encoding, certainty)) => return Ok(Judged::known(encoding, certainty)),
        None => match by_default {
            Some(default) => return Ok(default),
            None => of_codes()?,
        },
    };
    Ok(by_default.unwrap_or_else(|| judge(&with_places(view, id, entry, plane, sight))))
}

fn without_profile(id: &ScanId) -> Problem {
    Problem::error(
        Subject::Scan(id.clone()),
        "It is said to be encoded as its profile says, and its file holds no profile with a tone curve.",
        "Say what its codes stand for in another way, or choose a calibration.",
    )
}

/// Adds what the series knows of places in the scan. What cannot be sampled there says nothing.
fn with_places(view: &View<'_>, id: &ScanId, entry: &ScanEntry, plane: Plane<'_>, mut sight: Sight) -> Sight {
    let series = view.series();
    let scan = plane.scan();
    // Only codes are taken; the table is there to tell light from dark when dust is left out.
    let table = ToneTable::uncalibrated(scan);
    let per_mm = resolution(entry, &scan.meta).ok().map(|(dpi, _)| dpi / 25.4);
    let plane = plane.resolved(per_mm);
    let sample = |shape: &StripShape| sample_strip(plane, &table, shape).unwrap_or_default();
    let reading_u = series.settings.reading_u;
    for (shape, tablet) in tablets(series, id) {
        let steps = sample(shape);
        if steps.len() == tablet.steps.len() {
            let place = |(sample, step): (&StepSample, &twinwedge_core::document::TabletStep)| Place {
                code: share(plane, sample.code.number()),
                density: step.density,
                u: tablet_u(tablet, *step, reading_u),
            };
            let sound = steps.iter().zip(&tablet.steps).filter(|(sample, _)| !is_clipped(sample));
            sight.tablets.push(sound.map(place).collect());
        }
    }
    for (film, shape, tablet) in strips(series, id) {
        let steps = sample(shape);
        let sound = || steps.iter().filter(|sample| !is_clipped(sample));
        if let Some(tablet) = tablet.filter(|tablet| tablet.steps.len() >= steps.len()) {
            let exposed = |sample: &StepSample| {
                let behind = tablet.steps.get(sample.step.checked_sub(1)? as usize)?.density;
                Some(Exposed { code: share(plane, sample.code.number()), behind })
            };
            sight.strips.push(sound().filter_map(exposed).collect());
        }
        if let Some(base_fog) = film.base_fog {
            let codes: Vec<f64> = sound().map(|sample| share(plane, sample.code.number())).collect();
            sight.places.extend(base_and_light(&codes, base_fog.density, sight.lightest));
        }
    }
    if let Some(patch) = &entry.known
        && let Ok(sample) = sample_quad(plane, &table, &Quad::upright(patch.area))
        && !is_clipped(&sample)
    {
        let code = share(plane, sample.code.number());
        sight.places.push(Place { code, density: patch.density, u: patch.u });
    }
    sight
}

fn is_clipped(sample: &StepSample) -> bool {
    sample.flags().contains(twinwedge_core::measured::Flags::CLIPPED)
}

/// Base+fog, as it was read by a densitometer, where the lightest steps of a strip are level, and the scanner's open light beside
/// it, where it is seen and not clipped.
fn base_and_light(codes: &[f64], base_fog: f64, lightest: Option<f64>) -> Vec<Place> {
    let mut sorted = codes.to_vec();
    sorted.sort_by(|a, b| b.total_cmp(a));
    let [base, next, ..] = *sorted.as_slice() else { return Vec::new() };
    if next <= 0.0 || (base / next).log10() > LEVEL {
        return Vec::new();
    }
    let mut places = vec![Place { code: base, density: base_fog, u: 0.03 }];
    let open = lightest.filter(|light| *light < 0.999 && (light / base).log10() > LIGHTER);
    places.extend(open.map(|code| Place { code, density: 0.0, u: 0.03 }));
    places
}

/// The strips of films that lie in a scan, and the tablets that they were exposed through.
fn strips<'a>(
    series: &'a Series,
    id: &'a ScanId,
) -> impl Iterator<Item = (&'a Film, &'a StripShape, Option<&'a Tablet>)> {
    series.films.iter().flat_map(move |film| {
        (0..film.strips()).filter_map(move |strip| match film.strip_readings(strip) {
            Some(ReadingsSource::Strip { scan, shape }) if scan == id => {
                let tablet = film.strip_tablet(strip).and_then(|id| series.tablets.get(id));
                Some((film, shape, tablet))
            }
            _ => None,
        })
    })
}

/// The tablets that lie in a scan themselves.
fn tablets<'a>(series: &'a Series, id: &'a ScanId) -> impl Iterator<Item = (&'a StripShape, &'a Tablet)> {
    let on_it = move |made: &&'a Calibration| made.scan == *id;
    let tablet = |made: &'a Calibration| Some((&made.shape, series.tablets.get(&made.tablet)?));
    series.calibrations.values().filter(on_it).filter_map(tablet)
}
