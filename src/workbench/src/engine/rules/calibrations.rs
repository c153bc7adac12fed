//! Calibrations of scanners.

use serde::Serialize;
use twinwedge_core::document::{
    Aperture, CalibrationId, Channel, ScanId, Series, StripShape, Tablet, TabletStep,
};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::{CalibrationFit, CalibrationPoint, ToneTable, calibrate};
use twinwedge_core::tablet::{StepSample, noise_model, sample_strip, steps_seen};

use super::grain::resolution;
use super::measurable::Falloff;
use super::readings::tablet_u;
use crate::engine::ask::{CalibrationIn, CalibrationOf, ScanOf};
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

/// What a calibration in one channel is made from.
#[derive(Debug, Serialize)]
pub struct Calibrating {
    id: CalibrationId,
    label: String,
    shape: StripShape,
    tablet: Tablet,
    channel: Channel,
    scan: Handle<ScanOf>,
    /// A second scan of the same.
    repeat: Option<Handle<ScanOf>>,
    falloff: Option<Falloff>,
    /// Resolution as typed, where an aperture has a size.
    dpi: Option<Option<f64>>,
    reading_u: f64,
}

impl Calibrating {
    /// In a channel, else in that of its own scan.
    fn of(view: &View<'_>, id: &CalibrationId, channel: Option<Channel>) -> Result<Self, NoAnswer> {
        let subject = || Subject::Calibration(id.clone());
        let series = view.series();
        let calibration = series
            .calibrations
            .get(id)
            .ok_or_else(|| Problem::error(subject(), Rule::NoCalibration, Remedy::OtherCalibration))?;
        let tablet = series.tablets.get(&calibration.tablet).ok_or_else(|| {
            Problem::error(
                subject(),
                Rule::NoTabletOfCalibration { tablet: calibration.tablet.0.clone() },
                Remedy::TabletOfScan,
            )
        })?;
        let entry = view.scan_entry(&calibration.scan)?;
        let scan = |scan: &ScanId| view.handle(ScanOf { scan: scan.clone() });
        Ok(Self {
            id: id.clone(),
            label: calibration.label.clone(),
            shape: calibration.shape,
            tablet: tablet.clone(),
            channel: channel.unwrap_or(entry.channel.heaviest()),
            scan: scan(&calibration.scan)?,
            repeat: calibration.repeat.as_ref().map(scan).transpose()?,
            falloff: Falloff::of(view, &calibration.scan)?,
            dpi: (calibration.shape.aperture != Aperture::Share).then_some(entry.dpi),
            reading_u: series.settings.reading_u,
        })
    }

    /// Falloff of its scan is taken out by what each step lies deeper in it: the density that the scanner saw there was higher
    /// by as much.
    fn fit(&self, work: &Computation<'_>) -> Result<CalibrationFit, NoAnswer> {
        let Self { tablet, channel, label, .. } = self;
        let about = |problem: Problem| problem.about(Subject::Calibration(self.id.clone()));
        let scan = work.get(&self.scan)?;
        // Only codes are taken from these samples; the table is there to tell light from dark when dust is left out.
        let table = ToneTable::uncalibrated(&scan);
        let per_mm = self.dpi.and_then(|typed| resolution(typed, &scan.meta).ok()).map(|(dpi, _)| dpi / 25.4);
        let plane = scan.plane(*channel).resolved(per_mm);
        let samples = sample_strip(plane, &table, &self.shape).map_err(about)?;
        if samples.len() != tablet.steps.len() {
            let problem = Problem::error(
                Subject::Calibration(self.id.clone()),
                Rule::StepsMarked {
                    marked: samples.len(),
                    tablet: tablet.label.clone(),
                    steps: tablet.steps.len(),
                },
                Remedy::WholeTablet,
            );
            return Err(problem.into());
        }
        self.as_many_steps(steps_seen(plane, &table, &self.shape))?;
        let mut points = self.points(&samples);
        let mut fit = calibrate(&points, scan.levels(), label).map_err(about)?;
        if let Some(falloff) = &self.falloff {
            let flat = falloff.measure(work, &scan, *channel, &fit.table)?.map_err(about)?;
            for (point, sample) in points.iter_mut().zip(&samples) {
                let bounds = sample.area.bounds();
                let middle = (0.5 * (bounds.min.x + bounds.max.x), 0.5 * (bounds.min.y + bounds.max.y));
                point.density += flat.excess(middle, (scan.width, scan.height));
                point.density_u = point.density_u.hypot(flat.u);
            }
            fit = calibrate(&points, scan.levels(), label).map_err(about)?;
            fit.notes.push(Rule::FalloffTakenOut { corner: flat.corner.0 }.into());
        }
        fit.table = fit.table.with_shared(tablet.shared_u);
        if tablet.nominal {
            fit.table.flags |= Flags::NOMINAL_TABLET;
        }
        let second = self.repeat.as_ref().map(|repeat| work.get(repeat)).transpose()?;
        let second = second.as_ref().map(|scan| scan.plane(*channel));
        fit.noise = noise_model(plane, second, &fit.table, &samples);
        Ok(fit)
    }

    /// Whether as many steps are seen between the corners of the tablet as it has.
    fn as_many_steps(&self, seen: Option<u32>) -> Result<(), Problem> {
        let Some(seen) = seen.filter(|seen| *seen as usize != self.tablet.steps.len()) else { return Ok(()) };
        Err(Problem::error(
            Subject::Calibration(self.id.clone()),
            Rule::StepsSeen { tablet: self.tablet.label.clone(), steps: self.tablet.steps.len(), seen },
            Remedy::DensitiesOfTablet,
        ))
    }

    fn points(&self, samples: &[StepSample]) -> Vec<CalibrationPoint> {
        let point = |(sample, step): (&StepSample, &TabletStep)| CalibrationPoint {
            step: sample.step,
            code: sample.code.number(),
            code_u: sample.code.u,
            density: step.density,
            density_u: tablet_u(&self.tablet, *step, self.reading_u),
            flags: flags_of_codes(sample),
        };
        samples.iter().zip(&self.tablet.steps).map(point).collect()
    }
}

/// What a sample says about its codes, without what the missing calibration says about its density.
fn flags_of_codes(sample: &StepSample) -> Flags {
    sample.flags() - Flags::OF_TABLE
}

fn label_of<'a>(series: &'a Series, id: &'a CalibrationId) -> &'a str {
    series.calibrations.get(id).map_or(&id.0, |calibration| &calibration.label)
}

impl Query for CalibrationOf {
    type Inputs = Calibrating;

    fn label(&self, series: &Series) -> String {
        format!("Calibrating {}", label_of(series, &self.calibration))
    }

    fn inputs(&self, view: &View<'_>) -> Result<Calibrating, NoAnswer> {
        Calibrating::of(view, &self.calibration, None)
    }

    fn compute(inputs: &Calibrating, work: &Computation<'_>) -> Result<CalibrationFit, NoAnswer> {
        inputs.fit(work)
    }
}

impl Query for CalibrationIn {
    type Inputs = Calibrating;

    fn label(&self, series: &Series) -> String {
        format!("Calibrating {} in {}", label_of(series, &self.calibration), self.channel.words())
    }

    fn inputs(&self, view: &View<'_>) -> Result<Calibrating, NoAnswer> {
        Calibrating::of(view, &self.calibration, Some(self.channel))
    }

    fn compute(inputs: &Calibrating, work: &Computation<'_>) -> Result<CalibrationFit, NoAnswer> {
        inputs.fit(work)
    }
}
