//! From strips, or typed readings, to the data of a curve.

use twinwedge_core::curve::{ErrorKey, Reading, Readings, Sources, Strip, rounding_u};
use twinwedge_core::document::{
    Aperture, Exposure, Film, ReadingsSource, Series, StripLevel, StripShape, Tablet, TabletExposure,
    TabletId, TabletStep, TypedReading,
};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::tablet::{StepSample, sample_strip};
use twinwedge_core::units::STOP;

use super::measurable::{Measurable, key_of_scan};
use super::{film, label_of};
use crate::engine::ask::{ReadingsOf, ScanOf, StripOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// Standard uncertainty of a catalogue density. Common practice, no source: catalogues allow a few hundredths.
const NOMINAL_U: f64 = 0.02;

/// Standard uncertainty of a step's density: its own; else the catalogue's for a nominal tablet; else that of a reading.
pub(super) fn tablet_u(tablet: &Tablet, step: TabletStep, reading_u: f64) -> f64 {
    step.u.unwrap_or(if tablet.nominal { NOMINAL_U } else { reading_u })
}

impl Ask for StripOf {
    type Output = Vec<StepSample>;
    const KIND: Kind = Kind::StripOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.strip
    }

    fn label(&self, series: &Series) -> String {
        let film = label_of(series, &self.film);
        match series.film(&self.film) {
            Some(whole) if whole.strips() > 1 => {
                format!("Sampling {} of {film}", whole.strip_name(self.strip))
            }
            _ => format!("Sampling the strip of {film}"),
        }
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let (scan, shape) = strip(film(view, &self.film)?, self.strip)?;
        let recipe = Recipe::new("strip", 3).with(&self.film).with(&self.strip);
        let mut recipe = key_of_scan(recipe, view, &scan.scan)?.with(shape);
        if shape.aperture != Aperture::Share {
            recipe = recipe.with(&view.scan_entry(&scan.scan)?.dpi);
        }
        Ok(recipe.done())
    }

    fn make(&self, view: &View<'_>) -> Result<Vec<StepSample>, Halt> {
        let (ask, shape) = strip(film(view, &self.film)?, self.strip)?;
        let scan = Measurable::of(view, &ask.scan)?;
        let samples = sample_strip(scan.plane(), &scan.table, shape);
        Ok(samples.map_err(|problem| problem.about(Subject::Film(self.film.clone())))?)
    }

    fn digest(samples: &Vec<StepSample>, _: Key) -> Key {
        Recipe::new("strip value", 1).with(samples).done()
    }

    fn bytes(samples: &Vec<StepSample>) -> usize {
        samples.len() * size_of::<StepSample>()
    }
}

fn strip(film: &Film, strip: usize) -> Result<(ScanOf, &StripShape), Problem> {
    match film.strip_readings(strip) {
        Some(ReadingsSource::Strip { scan, shape }) => Ok((ScanOf { scan: scan.clone() }, shape)),
        Some(ReadingsSource::Typed(_)) => Err(Problem::note(
            Subject::Film(film.id.clone()),
            format!("The readings of {} were typed, not taken from a scan.", film.label),
            "Add a scan of the strip if its steps are to be measured here.",
        )),
        None => Err(no_readings(film)),
    }
}

fn no_readings(film: &Film) -> Problem {
    Problem::note(
        Subject::Film(film.id.clone()),
        format!("{} has no step densities.", film.label),
        "Add a scan of its strip, or type or paste its readings.",
    )
}

/// The tablet of a film, and how it was exposed.
fn exposure_of<'a>(series: &'a Series, film: &'a Film) -> Result<(&'a Tablet, &'a TabletExposure), Problem> {
    let exposed = film.tablet_exposure.as_ref().ok_or_else(|| {
        Problem::note(
            Subject::Film(film.id.clone()),
            format!("Nothing says which tablet was exposed onto {}.", film.label),
            "Choose the tablet and say what is known about its exposure.",
        )
    })?;
    let tablet = series.tablets.get(&exposed.tablet).ok_or_else(|| {
        Problem::error(
            Subject::Tablet(exposed.tablet.clone()),
            format!("{} was exposed through a tablet that is not in the series.", film.label),
            "Choose another tablet, or enter the densities of this one.",
        )
    })?;
    Ok((tablet, exposed))
}

/// The tablet of one of a film's strips.
fn tablet_of<'a>(
    series: &'a Series,
    film: &'a Film,
    strip: usize,
) -> Result<(&'a TabletId, &'a Tablet), Problem> {
    let found = film.strip_tablet(strip).and_then(|id| Some((id, series.tablets.get(id)?)));
    found.ok_or_else(|| {
        Problem::error(
            Subject::Film(film.id.clone()),
            format!(
                "{} of {} was exposed through a tablet that is not in the series.",
                film.strip_name(strip),
                film.label
            ),
            "Choose another tablet, or enter the densities of this one.",
        )
    })
}

impl Ask for ReadingsOf {
    type Output = Readings;
    const KIND: Kind = Kind::ReadingsOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.readings
    }

    fn label(&self, series: &Series) -> String {
        format!("Readings of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let film = film(view, &self.film)?;
        let (_, exposed) = exposure_of(view.series(), film)?;
        let mut recipe = Recipe::new("readings", 4)
            .with(&self.film)
            .with(&exposed.exposure)
            .with(&film.base_fog)
            .with(&view.series().settings.reading_u);
        for strip in 0..film.strips() {
            let further = film.further_strip(strip);
            recipe = recipe.with(&further.map(|strip| (&strip.name, strip.level)));
            let (id, tablet) = tablet_of(view.series(), film, strip)?;
            recipe = recipe.with(&(id, tablet)).with(&errors_of(view.series(), id, tablet));
            recipe = recipe.with(&film.strip_steps_kept(strip));
            recipe = match film.strip_readings(strip).ok_or_else(|| no_readings(film))? {
                ReadingsSource::Typed(typed) => recipe.with(typed),
                ReadingsSource::Strip { .. } => {
                    let steps = view.digest(&StripOf { film: self.film.clone(), strip })?;
                    recipe.with(&film.strip_steps_aside(strip)).key(steps)
                }
            };
        }
        Ok(recipe.done())
    }

    fn make(&self, view: &View<'_>) -> Result<Readings, Halt> {
        let film = film(view, &self.film)?;
        let (_, exposed) = exposure_of(view.series(), film)?;
        let reading_u = view.series().settings.reading_u;
        let mut strips = Vec::new();
        for number in 0..film.strips() {
            let densities = match film.strip_readings(number).ok_or_else(|| no_readings(film))? {
                ReadingsSource::Typed(typed) => of_typed(typed, film.strip_steps_kept(number), reading_u),
                ReadingsSource::Strip { .. } => of_samples(
                    &view.get(&StripOf { film: self.film.clone(), strip: number })?,
                    film.strip_steps_aside(number),
                    film.strip_steps_kept(number),
                ),
            };
            let (id, tablet) = tablet_of(view.series(), film, number)?;
            let errors = errors_of(view.series(), id, tablet);
            strips.push(StripRead { number, tablet, errors, densities });
        }
        Ok(of_strips(film, exposed, strips, reading_u)?)
    }

    fn digest(readings: &Readings, _: Key) -> Key {
        Recipe::new("readings value", 1).with(readings).done()
    }

    fn bytes(readings: &Readings) -> usize {
        bytes_of_readings(readings)
    }
}

pub(super) fn bytes_of_readings(readings: &Readings) -> usize {
    readings.points.len() * size_of::<Reading>()
}

/// One step's density before its exposure is known.
pub(super) struct StepDensity {
    step: u32,
    density: f64,
    u: f64,
    set_aside: bool,
    flags: Flags,
}

/// Typed readings but for the steps that were not read; those of `kept` are marked so.
pub(super) fn of_typed(typed: &[TypedReading], kept: &[u32], reading_u: f64) -> Vec<StepDensity> {
    let default_u = reading_u.hypot(rounding_u(typed));
    let numbered = (1_u32..).zip(typed).filter(|(_, reading)| !reading.missing);
    let step = |(step, reading): (u32, &TypedReading)| StepDensity {
        step,
        density: reading.density,
        u: reading.u.unwrap_or(default_u),
        set_aside: reading.set_aside,
        flags: mark(step, kept),
    };
    numbered.map(step).collect()
}

/// The flag of a step that the tester keeps.
fn mark(step: u32, kept: &[u32]) -> Flags {
    if kept.contains(&step) { Flags::KEPT } else { Flags::empty() }
}

/// A clipped step, or one beyond the calibration, only bounds its density: it is shown and not fitted, as are those that
/// the tester set aside.
pub(super) fn of_samples(samples: &[StepSample], aside: &[u32], kept: &[u32]) -> Vec<StepDensity> {
    let bound = Flags::CLIPPED | Flags::OUTSIDE_CALIBRATION;
    let step = |sample: &StepSample| StepDensity {
        step: sample.step,
        density: sample.density.number(),
        u: sample.density.u,
        set_aside: sample.flags().intersects(bound) || aside.contains(&sample.step),
        flags: sample.flags() | mark(sample.step, kept),
    };
    samples.iter().map(step).collect()
}

/// One strip on its way into the readings.
struct StripRead<'a> {
    number: usize,
    tablet: &'a Tablet,
    /// The errors of the tablet.
    errors: ErrorKey,
    densities: Vec<StepDensity>,
}

/// The errors of a tablet, by its densities: what it is called, and from which end its steps are counted, does not matter. Tablets of the same densities are told apart by
/// their order, as they are two things with errors of their own.
pub(super) fn errors_of(series: &Series, id: &TabletId, tablet: &Tablet) -> ErrorKey {
    let numbers = |tablet: &Tablet| -> Vec<f64> {
        let mut steps: Vec<[f64; 2]> =
            tablet.steps.iter().map(|step| [step.density, step.u.unwrap_or(-1.0)]).collect();
        steps.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
        let head = [f64::from(u8::from(tablet.nominal)), tablet.shared_u];
        head.into_iter().chain(steps.into_iter().flatten()).collect()
    };
    let own = numbers(tablet);
    let alike = |other: &(&TabletId, &Tablet)| {
        let of_other = numbers(other.1);
        of_other.iter().map(|number| number.to_bits()).eq(own.iter().map(|number| number.to_bits()))
    };
    let before = series.tablets.iter().take_while(|(other, _)| *other != id).filter(alike).count();
    ErrorKey::by("tablet", own.iter().copied().chain([before as f64]))
}

/// The errors of a film's own readings, by these: what the film is called, where it stands, and from which end its steps are
/// counted, does not matter.
fn own_errors(points: &[Reading], base_fog: Option<(f64, f64)>) -> ErrorKey {
    let mut points: Vec<&Reading> = points.iter().collect();
    points.sort_by(|a, b| a.strip.cmp(&b.strip).then(a.log_h.total_cmp(&b.log_h)));
    let of_point = |point: &Reading| {
        [point.strip as f64, f64::from(u8::from(point.set_aside)), point.density, point.density_u]
    };
    let base = base_fog.map(|(density, u)| [density, u]);
    ErrorKey::by("film", points.into_iter().flat_map(of_point).chain(base.into_iter().flatten()))
}

/// The data of a curve from one strip through `tablet`, with its errors.
pub(super) fn readings(
    film: &Film,
    (tablet, errors): (&Tablet, ErrorKey),
    exposed: &TabletExposure,
    densities: Vec<StepDensity>,
    reading_u: f64,
) -> Result<Readings, Problem> {
    of_strips(film, exposed, vec![StripRead { number: 0, tablet, errors, densities }], reading_u)
}

/// The data of a curve: `lg H = light - D(tablet)` behind each step (ISO 6:1993 for the definition of H).
///
/// Where the light is not known, its lg H is taken as 0 for the series' full exposure, and as `-stops_less lg 2` for a
/// film that had less: one constant for the whole series, whatever its tablets, so that curves compare as exposed. A
/// further strip had the stated number of stops less; where that is to be found from the overlap, the same light.
fn of_strips(
    film: &Film,
    exposed: &TabletExposure,
    strips: Vec<StripRead<'_>>,
    reading_u: f64,
) -> Result<Readings, Problem> {
    let (light, shared_u, absolute) = match exposed.exposure {
        Exposure::Absolute { log_h, u } => (log_h, u, true),
        Exposure::Relative { stops_less } => (-stops_less * STOP, 0.0, false),
    };
    let mut common = Flags::empty();
    common.set(Flags::RELATIVE_EXPOSURE, !absolute);
    let sources = strips.iter().map(|strip| strip.source(film)).collect();
    let (mut points, mut flags) = (Vec::new(), common);
    for strip in strips {
        flags.set(Flags::NOMINAL_TABLET, flags.contains(Flags::NOMINAL_TABLET) || strip.tablet.nominal);
        points.extend(strip.points(film, light, common, reading_u)?);
    }
    let through_scan = Flags::UNCALIBRATED | Flags::NOMINAL_TABLET;
    let flags = points.iter().fold(flags, |flags, point: &Reading| flags | (point.flags & through_scan));
    let base_fog = base_fog(film, reading_u);
    let sources = Sources { film: own_errors(&points, base_fog), strips: sources };
    Ok(Readings { points, absolute, log_h_shared_u: shared_u, sources, base_fog, flags })
}

/// Base+fog as it was read on an unexposed area, and its standard uncertainty.
pub(super) fn base_fog(film: &Film, reading_u: f64) -> Option<(f64, f64)> {
    let reading = film.base_fog?;
    let own = || reading_u.hypot(rounding_u(&written_alike(film, reading)));
    Some((reading.density, reading.u.unwrap_or_else(own)))
}

/// A reading of base+fog with the film's typed steps: one number alone does not tell to how many digits it was written.
fn written_alike(film: &Film, base_fog: TypedReading) -> Vec<TypedReading> {
    let typed = match &film.readings {
        Some(ReadingsSource::Typed(typed)) => typed.as_slice(),
        Some(ReadingsSource::Strip { .. }) | None => &[],
    };
    typed.iter().copied().chain([base_fog]).collect()
}

impl StripRead<'_> {
    fn points(
        self,
        film: &Film,
        light: f64,
        mut common: Flags,
        reading_u: f64,
    ) -> Result<Vec<Reading>, Problem> {
        let Self { number: strip, tablet, .. } = self;
        let most = self.densities.iter().map(|read| read.step as usize).max().unwrap_or(0);
        if most > tablet.steps.len() {
            let which =
                if film.strips() > 1 { format!(" on {}", film.strip_name(strip)) } else { String::new() };
            return Err(Problem::error(
                Subject::Film(film.id.clone()),
                format!(
                    "{} has densities of {most} steps{which}, but its tablet {} has {} steps.",
                    film.label,
                    tablet.label,
                    tablet.steps.len()
                ),
                "Choose the tablet that was exposed, or correct the number of steps.",
            ));
        }
        let less = match self.level(film) {
            StripLevel::StopsLess { stops, .. } => stops * STOP,
            StripLevel::FromOverlap => 0.0,
        };
        common.set(Flags::NOMINAL_TABLET, tablet.nominal);
        let point = |read: StepDensity| {
            let step = tablet.steps.get((read.step as usize).checked_sub(1)?)?;
            Some(Reading {
                strip,
                step: read.step,
                log_h: light - less - step.density,
                log_h_u: tablet_u(tablet, *step, reading_u),
                density: read.density,
                density_u: read.u,
                set_aside: read.set_aside,
                flags: read.flags | common,
            })
        };
        Ok(self.densities.into_iter().filter_map(point).collect())
    }

    fn level(&self, film: &Film) -> StripLevel {
        let first = StripLevel::StopsLess { stops: 0.0, u: 0.0 };
        film.further_strip(self.number).map_or(first, |strip| strip.level)
    }

    fn source(&self, film: &Film) -> Strip {
        let name = film.further_strip(self.number).map(|strip| strip.name.clone()).unwrap_or_default();
        Strip { name, tablet: self.errors, tablet_shared_u: self.tablet.shared_u, level: self.level(film) }
    }
}
