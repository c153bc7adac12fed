//! What the codes of a scan stand for where it has no calibration.

use serde::Serialize;
use twinwedge_core::document::{
    Channel, Encoding, KnownPatch, ReadingsSource, ScanId, ScanKind, Series, StripShape, Tablet, TypedReading,
};
use twinwedge_core::geometry::Quad;
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::encoding::{Exposed, Place, Traces, judge, share};
use twinwedge_core::scan::{Certainty, Judged, Plane, Scan, StatedBy, ToneTable};
use twinwedge_core::tablet::{StepSample, sample_quad, sample_strip};

use super::grain::resolution;
use super::readings::tablet_u;
use crate::engine::ask::{EncodingOf, ScanOf};
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

/// A base that is this even over its two lightest steps, in density, is base+fog.
const LEVEL: f64 = 0.012;
/// The scanner's open light is lighter than base+fog by this much at least, in density of linear light.
const LIGHTER: f64 = 0.02;

/// What tells the encoding of a scan.
#[derive(Debug, Serialize)]
pub struct Encoded {
    id: ScanId,
    scan: Handle<ScanOf>,
    told: Told,
}

/// What the series says of it.
#[derive(Debug, Serialize)]
enum Told {
    /// It is stated for this scan.
    Stated(Encoding),
    /// Nothing is: all that a guess may rest on beside the file.
    Else(Box<Known>),
}

/// What the series knows of a scan and of places in it.
#[derive(Debug, Serialize)]
struct Known {
    /// Of all scans that say nothing themselves.
    by_default: Option<Encoding>,
    kind: ScanKind,
    channel: Channel,
    patch: Option<KnownPatch>,
    /// Resolution as typed.
    dpi: Option<f64>,
    /// The strips of films that lie in it.
    strips: Vec<ExposedStrip>,
    /// The tablets that lie in it themselves.
    tablets: Vec<(StripShape, Tablet)>,
    reading_u: f64,
}

/// A film's strip.
#[derive(Debug, Serialize)]
struct ExposedStrip {
    shape: StripShape,
    /// What it was exposed through.
    tablet: Option<Tablet>,
    base_fog: Option<TypedReading>,
}

impl Query for EncodingOf {
    type Inputs = Encoded;

    fn inputs(&self, view: &View<'_>) -> Result<Encoded, NoAnswer> {
        let entry = view.scan_entry(&self.scan)?;
        let series = view.series();
        let told = match entry.encoding {
            Some(encoding) => Told::Stated(encoding),
            None => Told::Else(Box::new(Known {
                by_default: series.settings.encoding,
                kind: entry.kind,
                channel: entry.channel,
                patch: entry.known,
                dpi: entry.dpi,
                strips: strips(series, &self.scan),
                tablets: tablets(series, &self.scan),
                reading_u: series.settings.reading_u,
            })),
        };
        Ok(Encoded { id: self.scan.clone(), scan: view.handle(ScanOf { scan: self.scan.clone() })?, told })
    }

    /// As it is stated for the scan, by its file or for the series, else by a guess.
    fn compute(inputs: &Encoded, work: &Computation<'_>) -> Result<Judged, NoAnswer> {
        let scan = work.get(&inputs.scan)?;
        let has_curve = scan.meta.profile_curve.is_some();
        let fits = |encoding: &Encoding| *encoding != Encoding::Profile || has_curve;
        match &inputs.told {
            Told::Stated(encoding) if fits(encoding) => Ok(Judged::known(*encoding, Certainty::Stated)),
            Told::Stated(_) => Err(without_profile(&inputs.id).into()),
            Told::Else(known) => known.judge(work, &scan, fits),
        }
    }
}

impl Known {
    fn judge(
        &self,
        work: &Computation<'_>,
        scan: &Scan,
        fits: impl Fn(&Encoding) -> bool,
    ) -> Result<Judged, NoAnswer> {
        let plane = scan.plane(self.channel);
        let by_default = self.by_default.filter(fits);
        let by_default = by_default.map(|encoding| Judged::known(encoding, Certainty::SeriesDefault));
        let of_codes =
            || Traces::of(plane, self.kind == ScanKind::Print, &|| work.stop()).ok_or(NoAnswer::Dropped);
        let traces = match scan.stated() {
            // A floating point copy of whole codes says no more than these would, nor does what may be one.
            Some((encoding, Certainty::File(StatedBy::FloatingPoint))) => {
                let traces = of_codes()?;
                if traces.own_numbers {
                    return Ok(Judged::known(encoding, Certainty::File(StatedBy::FloatingPoint)));
                }
                traces
            }
            Some((encoding, certainty)) => return Ok(Judged::known(encoding, certainty)),
            None => match by_default {
                Some(default) => return Ok(default),
                None => of_codes()?,
            },
        };
        Ok(by_default.unwrap_or_else(|| judge(&self.with_places(plane, traces))))
    }

    /// Adds what the series knows of places in the scan. What cannot be sampled there says nothing.
    fn with_places(&self, plane: Plane<'_>, mut traces: Traces) -> Traces {
        let scan = plane.scan();
        // Only codes are taken; the table is there to tell light from dark when dust is left out.
        let table = ToneTable::uncalibrated(scan);
        let per_mm = resolution(self.dpi, &scan.meta).ok().map(|(dpi, _)| dpi / 25.4);
        let plane = plane.resolved(per_mm);
        let sample = |shape: &StripShape| sample_strip(plane, &table, shape).unwrap_or_default();
        for (shape, tablet) in &self.tablets {
            let steps = sample(shape);
            if steps.len() == tablet.steps.len() {
                let place = |(sample, step): (&StepSample, &twinwedge_core::document::TabletStep)| Place {
                    code: share(plane, sample.code.number()),
                    density: step.density,
                    u: tablet_u(tablet, *step, self.reading_u),
                };
                let sound = steps.iter().zip(&tablet.steps).filter(|(sample, _)| !is_clipped(sample));
                traces.tablets.push(sound.map(place).collect());
            }
        }
        for strip in &self.strips {
            let steps = sample(&strip.shape);
            let sound = || steps.iter().filter(|sample| !is_clipped(sample));
            if let Some(tablet) = strip.tablet.as_ref().filter(|tablet| tablet.steps.len() >= steps.len()) {
                let exposed = |sample: &StepSample| {
                    let behind = tablet.steps.get(sample.step.checked_sub(1)? as usize)?.density;
                    Some(Exposed { code: share(plane, sample.code.number()), behind })
                };
                traces.strips.push(sound().filter_map(exposed).collect());
            }
            if let Some(base_fog) = strip.base_fog {
                let codes: Vec<f64> = sound().map(|sample| share(plane, sample.code.number())).collect();
                traces.places.extend(base_and_light(&codes, base_fog.density, traces.lightest));
            }
        }
        if let Some(patch) = &self.patch
            && let Ok(sample) = sample_quad(plane, &table, &Quad::upright(patch.area))
            && !is_clipped(&sample)
        {
            let code = share(plane, sample.code.number());
            traces.places.push(Place { code, density: patch.density, u: patch.u });
        }
        traces
    }
}

fn without_profile(id: &ScanId) -> Problem {
    Problem::error(Subject::Scan(id.clone()), Rule::NoProfile, Remedy::SayCodes)
}

fn is_clipped(sample: &StepSample) -> bool {
    sample.flags().contains(Flags::CLIPPED)
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

/// The strips of films that lie in a scan.
fn strips(series: &Series, id: &ScanId) -> Vec<ExposedStrip> {
    let of_film = series.films.iter().flat_map(|film| {
        film.strips.iter().enumerate().filter_map(move |(number, strip)| match &strip.readings {
            ReadingsSource::Strip { scan, shape } if scan == id => {
                let tablet = film.strip_tablet(number).and_then(|id| series.tablets.get(id)).cloned();
                Some(ExposedStrip { shape: *shape, tablet, base_fog: film.base_fog })
            }
            _ => None,
        })
    });
    of_film.collect()
}

/// The tablets that lie in a scan themselves.
fn tablets(series: &Series, id: &ScanId) -> Vec<(StripShape, Tablet)> {
    let on_it = series.calibrations.values().filter(|made| made.scan == *id);
    on_it.filter_map(|made| Some((made.shape, series.tablets.get(&made.tablet)?.clone()))).collect()
}
