//! From strips, or typed readings, to the data of a curve.

use serde::Serialize;
use twinwedge_core::curve::{ErrorKey, Reading, Readings, Sources, Strip, rounding_u};
use twinwedge_core::document::{
    Aperture, Exposure, Film, ReadingsSource, ScanId, Series, Strip as DocumentStrip, StripLevel, StripShape,
    Tablet, TabletId, TabletStep, TypedReading,
};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::{ScaleErrors, SharedError};
use twinwedge_core::tablet::{StepSample, sample_strip};
use twinwedge_core::units::STOP;

use super::measurable::Measurable;
use super::{called, film};
use crate::engine::ask::{ReadingsOf, StripOf};
use crate::engine::names::stand_in;
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

/// Standard uncertainty of a catalogue density. Common practice, no source: catalogues allow a few hundredths.
const NOMINAL_U: f64 = 0.02;

/// Standard uncertainty of a step's density: its own; else the catalogue's for a nominal tablet; else that of a reading.
pub(super) fn tablet_u(tablet: &Tablet, step: TabletStep, reading_u: f64) -> f64 {
    step.u.unwrap_or(if tablet.nominal { NOMINAL_U } else { reading_u })
}

/// A strip in a scan.
#[derive(Debug, Serialize)]
pub struct Sampling {
    subject: Subject,
    pub(super) scan: Measurable,
    pub(super) shape: StripShape,
}

impl Sampling {
    pub(super) fn of(
        view: &View<'_>,
        subject: Subject,
        (scan, shape): (&ScanId, &StripShape),
    ) -> Result<Self, NoAnswer> {
        let scan = match shape.aperture {
            Aperture::Share => Measurable::of(view, scan)?,
            Aperture::Circle(_) | Aperture::Square(_) => Measurable::in_size(view, scan)?,
        };
        Ok(Self { subject, scan, shape: *shape })
    }

    pub(super) fn sample(&self, work: &Computation<'_>) -> Result<Vec<StepSample>, NoAnswer> {
        let scan = self.scan.read(work)?;
        let (plane, table) = scan.side();
        let samples = sample_strip(plane, table, &self.shape);
        Ok(samples.map_err(|problem| problem.about(self.subject.clone()))?)
    }
}

impl Query for StripOf {
    type Inputs = Sampling;

    fn label(&self, series: &Series) -> String {
        let film = stand_in(&self.film);
        match series.film(&self.film) {
            Some(whole) if whole.strips.len() > 1 => {
                format!("Sampling {} of {film}", whole.strip_name(self.strip))
            }
            _ => format!("Sampling the strip of {film}"),
        }
    }

    fn inputs(&self, view: &View<'_>) -> Result<Sampling, NoAnswer> {
        scanned(view, film(view, &self.film)?, self.strip)
    }

    fn compute(strip: &Sampling, work: &Computation<'_>) -> Result<Vec<StepSample>, NoAnswer> {
        strip.sample(work)
    }
}

/// One of a film's strips, where it lies in a scan.
pub(super) fn scanned(view: &View<'_>, film: &Film, strip: usize) -> Result<Sampling, NoAnswer> {
    match film.strip_readings(strip) {
        Some(ReadingsSource::Strip { scan, shape }) => {
            Sampling::of(view, Subject::Film(film.id.clone()), (scan, shape))
        }
        Some(ReadingsSource::Typed(_)) => Err(Problem::note(
            Subject::Film(film.id.clone()),
            Rule::ReadingsTyped { called: called(film) },
            Remedy::ScanStrip,
        )
        .into()),
        None => Err(no_readings(film).into()),
    }
}

fn no_readings(film: &Film) -> Problem {
    Problem::note(
        Subject::Film(film.id.clone()),
        Rule::NoReadings { called: called(film) },
        Remedy::AddReadings,
    )
}

/// How the tablet was exposed onto a film.
fn exposure_of(series: &Series, film: &Film) -> Result<Exposure, Problem> {
    let exposed = film.tablet_exposure.as_ref().ok_or_else(|| {
        Problem::note(
            Subject::Film(film.id.clone()),
            Rule::TabletNotSaid { called: called(film) },
            Remedy::SayTablet,
        )
    })?;
    if series.tablets.contains_key(&exposed.tablet) {
        return Ok(exposed.exposure);
    }
    Err(Problem::error(
        Subject::Tablet(exposed.tablet.clone()),
        Rule::NoTablet { called: called(film) },
        Remedy::OtherTablet,
    ))
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
            Rule::NoTabletOfStrip { strip: film.strip_name(strip), called: called(film) },
            Remedy::OtherTablet,
        )
    })
}

/// Steps of a strip that the tester set aside, and those that stay in the fit whatever the others say.
#[derive(Debug, Serialize)]
pub(super) struct ByHand {
    pub(super) aside: Vec<u32>,
    pub(super) kept: Vec<u32>,
}

/// Where the densities of a strip come from.
#[derive(Debug, Serialize)]
pub(super) enum Source<S> {
    /// With those that the tester keeps whatever the others say.
    Typed(Vec<TypedReading>, Vec<u32>),
    /// Sampled steps, and what the tester says of them.
    Scanned(S, ByHand),
}

impl<S> Source<S> {
    pub(super) fn of(
        readings: &ReadingsSource,
        by_hand: ByHand,
        steps: impl FnOnce() -> Result<S, NoAnswer>,
    ) -> Result<Self, NoAnswer> {
        Ok(match readings {
            ReadingsSource::Typed(typed) => Self::Typed(typed.clone(), by_hand.kept),
            ReadingsSource::Strip { .. } => Self::Scanned(steps()?, by_hand),
        })
    }
}

impl<Q: Query<Output = Vec<StepSample>>> Source<Handle<Q>> {
    fn densities(&self, work: &Computation<'_>, reading_u: f64) -> Result<Vec<StepDensity>, NoAnswer> {
        Ok(match self {
            Self::Typed(typed, kept) => of_typed(typed, kept, reading_u),
            Self::Scanned(steps, by_hand) => of_samples(&work.get(steps)?, by_hand),
        })
    }
}

/// One strip before it is read.
#[derive(Debug, Serialize)]
pub(super) struct StripInputs<S> {
    /// What it is called in problems; `None` for the only strip.
    pub(super) called: Option<String>,
    /// Its name as it was entered.
    pub(super) name: String,
    pub(super) level: StripLevel,
    pub(super) tablet: Tablet,
    /// The errors of the tablet.
    pub(super) errors: ErrorKey,
    pub(super) source: Source<S>,
}

/// What the data of a curve are made from.
#[derive(Debug, Serialize)]
pub struct ReadingsInputs<S> {
    pub(super) subject: Subject,
    /// What is exposed, as sentences call it.
    pub(super) called: String,
    pub(super) exposure: Exposure,
    /// Base+fog as it was read on an unexposed area, and its standard uncertainty.
    pub(super) base_fog: Option<(f64, f64)>,
    pub(super) reading_u: f64,
    pub(super) strips: Vec<StripInputs<S>>,
}

impl Query for ReadingsOf {
    type Inputs = ReadingsInputs<Handle<StripOf>>;

    fn inputs(&self, view: &View<'_>) -> Result<Self::Inputs, NoAnswer> {
        let (series, film) = (view.series(), film(view, &self.film)?);
        let exposure = exposure_of(series, film)?;
        let reading_u = series.settings.reading_u;
        if film.strips.is_empty() {
            return Err(no_readings(film).into());
        }
        let strip =
            |(number, strip): (usize, &DocumentStrip)| -> Result<StripInputs<Handle<StripOf>>, NoAnswer> {
                let (id, tablet) = tablet_of(series, film, number)?;
                let steps = || view.handle(StripOf { film: self.film.clone(), strip: number });
                Ok(StripInputs {
                    called: (film.strips.len() > 1).then(|| film.strip_name(number)),
                    name: strip.name.clone(),
                    level: strip.level,
                    tablet: tablet.clone(),
                    errors: errors_of(series, id, tablet),
                    source: Source::of(
                        &strip.readings,
                        ByHand { aside: strip.steps_set_aside.clone(), kept: strip.steps_kept.clone() },
                        steps,
                    )?,
                })
            };
        Ok(ReadingsInputs {
            subject: Subject::Film(self.film.clone()),
            called: called(film),
            exposure,
            base_fog: base_fog(film, reading_u),
            reading_u,
            strips: film.strips.iter().enumerate().map(strip).collect::<Result<_, _>>()?,
        })
    }

    fn compute(inputs: &Self::Inputs, work: &Computation<'_>) -> Result<Readings, NoAnswer> {
        inputs.readings(work)
    }
}

/// One step's density before its exposure is known.
struct StepDensity {
    step: u32,
    density: f64,
    /// Of its own error.
    u: f64,
    /// What the scale errs by which it was read.
    shared: SharedError,
    set_aside: bool,
    flags: Flags,
}

fn of_typed(typed: &[TypedReading], kept: &[u32], reading_u: f64) -> Vec<StepDensity> {
    let default_u = reading_u.hypot(rounding_u(typed));
    let numbered = (1_u32..).zip(typed).filter(|(_, reading)| !reading.missing);
    let step = |(step, reading): (u32, &TypedReading)| StepDensity {
        step,
        density: reading.density,
        u: reading.u.unwrap_or(default_u),
        shared: SharedError::default(),
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
fn of_samples(samples: &[StepSample], by_hand: &ByHand) -> Vec<StepDensity> {
    let bound = Flags::CLIPPED | Flags::OUTSIDE_CALIBRATION;
    let step = |sample: &StepSample| StepDensity {
        step: sample.step,
        density: sample.density.number(),
        u: if sample.shared.parts.is_empty() { sample.density.u } else { sample.own.u },
        shared: sample.shared.clone(),
        set_aside: sample.flags().intersects(bound) || by_hand.aside.contains(&sample.step),
        flags: sample.flags() | mark(sample.step, &by_hand.kept),
    };
    samples.iter().map(step).collect()
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

impl<Q: Query<Output = Vec<StepSample>>> ReadingsInputs<Handle<Q>> {
    /// The data of a curve: `lg H = light - D(tablet)` behind each step (ISO 6:1993 for the definition of H).
    ///
    /// Where the light is not known, its lg H is taken as 0 for the series' full exposure, and as `-stops_less lg 2` for a
    /// film that had less: one constant for the whole series, whatever its tablets, so that curves compare as exposed. An
    /// additional strip had the stated number of stops less; where that is to be found from the overlap, the same light. Where
    /// nothing is said of the light, it is taken as 0 too, and no exposure is compared with another film's.
    pub(super) fn readings(&self, work: &Computation<'_>) -> Result<Readings, NoAnswer> {
        let (light, shared_u, absolute) = match self.exposure {
            Exposure::Absolute { log_h, u } => (log_h, u, true),
            Exposure::Relative { stops_less } => (-stops_less * STOP, 0.0, false),
            Exposure::NotSaid => (0.0, 0.0, false),
        };
        let mut common = Flags::empty();
        common.set(Flags::RELATIVE_EXPOSURE, !absolute);
        let (mut points, mut scales, mut flags) = (Vec::new(), Vec::new(), common);
        for (number, strip) in self.strips.iter().enumerate() {
            let nominal = strip.tablet.nominal;
            flags.set(Flags::NOMINAL_TABLET, flags.contains(Flags::NOMINAL_TABLET) || nominal);
            let densities = strip.source.densities(work, self.reading_u)?;
            let read = densities.iter().map(|read| (read.density, &read.shared));
            scales.push(ScaleErrors::of_densities(read));
            points.extend(self.points((number, strip), densities, light, common)?);
        }
        let through_scan = Flags::UNCALIBRATED | Flags::ENCODING_ASSUMED | Flags::NOMINAL_TABLET;
        let mut flags =
            points.iter().fold(flags, |flags, point: &Reading| flags | (point.flags & through_scan));
        flags.set(Flags::LIGHT_NOT_SAID, self.exposure == Exposure::NotSaid);
        let strip = |(strip, scale): (&StripInputs<_>, ScaleErrors)| Strip {
            name: strip.name.clone(),
            tablet: strip.errors,
            tablet_shared_u: strip.tablet.shared_u,
            level: strip.level,
            scale,
        };
        let strips = self.strips.iter().zip(scales).map(strip).collect();
        let sources = Sources { film: own_errors(&points, self.base_fog), strips };
        let base_fog = self.base_fog;
        Ok(Readings { points, absolute, log_h_shared_u: shared_u, sources, base_fog, flags })
    }

    /// The readings of one strip.
    fn points(
        &self,
        (number, strip): (usize, &StripInputs<Handle<Q>>),
        densities: Vec<StepDensity>,
        light: f64,
        mut common: Flags,
    ) -> Result<Vec<Reading>, Problem> {
        let tablet = &strip.tablet;
        let most = densities.iter().map(|read| read.step as usize).max().unwrap_or(0);
        if most > tablet.steps.len() {
            return Err(Problem::error(
                self.subject.clone(),
                Rule::MoreStepsThanTablet {
                    called: self.called.clone(),
                    most,
                    strip: strip.called.clone(),
                    tablet: tablet.label.clone(),
                    steps: tablet.steps.len(),
                },
                Remedy::TabletExposed,
            ));
        }
        let less = match strip.level {
            StripLevel::StopsLess { stops, .. } => stops * STOP,
            StripLevel::FromOverlap => 0.0,
        };
        common.set(Flags::NOMINAL_TABLET, tablet.nominal);
        let point = |read: StepDensity| {
            let step = tablet.steps.get((read.step as usize).checked_sub(1)?)?;
            Some(Reading {
                strip: number,
                step: read.step,
                log_h: light - less - step.density,
                log_h_u: tablet_u(tablet, *step, self.reading_u),
                density: read.density,
                density_u: read.u,
                set_aside: read.set_aside,
                flags: read.flags | common,
            })
        };
        Ok(densities.into_iter().filter_map(point).collect())
    }
}

/// Base+fog as it was read on an unexposed area, and its standard uncertainty.
pub(super) fn base_fog(film: &Film, reading_u: f64) -> Option<(f64, f64)> {
    // One number alone does not tell to how many digits it was written: the film's typed steps do.
    let typed = match film.strip_readings(0) {
        Some(ReadingsSource::Typed(typed)) => typed.as_slice(),
        Some(ReadingsSource::Strip { .. }) | None => &[],
    };
    film.base_fog.map(|reading| read_among(reading, typed, reading_u))
}

/// A reading, and its standard uncertainty: its own, else by how it was written among others.
pub(super) fn read_among(reading: TypedReading, others: &[TypedReading], reading_u: f64) -> (f64, f64) {
    let alike: Vec<TypedReading> = others.iter().copied().chain([reading]).collect();
    (reading.density, reading.u.unwrap_or_else(|| reading_u.hypot(rounding_u(&alike))))
}
