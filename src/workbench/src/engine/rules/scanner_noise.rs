//! Where the scanner's noise is known from, for granularity and spectrum alike.

use serde::Serialize;
use twinwedge_core::document::{Channel, GrainArea, GrainNoise, ScanEntry};
use twinwedge_core::geometry::Rect;
use twinwedge_core::scan::NoiseModel;
use twinwedge_core::words::Sentence;

use super::grain::{SQUARE, resolution};
use super::measurable::ScanInputs;
use crate::engine::ask::{CalibrationOf, ScanSettingsOf};
use crate::engine::{Computation, Handle, NoAnswer, View};
use crate::words::Rule;

/// What tells the scanner's noise.
#[derive(Debug, Serialize)]
pub(super) enum Source {
    /// Nothing: it is left in by choice.
    LeftIn,
    /// The model of the scan's calibration, or why it has none.
    Calibration(Result<Model, Sentence>),
    /// A second scan of the same film.
    Repeat(ScanInputs),
    /// A uniform area without grain.
    Blank(ScanInputs, Rect),
}

/// The noise model of a calibration.
#[derive(Debug, Serialize)]
pub(super) struct Model {
    fit: Handle<CalibrationOf>,
    /// How its tablet was scanned.
    settings: Handle<ScanSettingsOf>,
    /// Resolution of that scan, as typed.
    dpi: Option<f64>,
    /// The channel of the scan that is measured.
    channel: Channel,
}

impl Source {
    pub(super) fn of(view: &View<'_>, grain: &GrainArea) -> Result<Self, NoAnswer> {
        Ok(match &grain.noise {
            GrainNoise::LeftIn => Self::LeftIn,
            GrainNoise::Calibration => Self::Calibration(Model::of(view, view.scan_entry(&grain.scan)?)?),
            GrainNoise::Repeat(second) => Self::Repeat(ScanInputs::of(view, second)?),
            GrainNoise::Blank { scan, area } => Self::Blank(ScanInputs::of(view, scan)?, *area),
        })
    }
}

fn unknown(why: Rule) -> Sentence {
    Rule::NoiseNotKnown { why: why.into() }.into()
}

impl Model {
    fn of(view: &View<'_>, entry: &ScanEntry) -> Result<Result<Self, Sentence>, NoAnswer> {
        let why = |why: Rule| Ok(Err(unknown(why)));
        let Some(id) = &entry.calibration else { return why(Rule::NotCalibrated) };
        let Ok(fit) = view.try_handle(CalibrationOf { calibration: id.clone() })? else {
            return why(Rule::CalibrationNotMade);
        };
        let Some(made) = view.series().calibrations.get(id) else { return why(Rule::CalibrationGone) };
        let settings = view.handle(ScanSettingsOf { scan: made.scan.clone() })?;
        let dpi = view.scan_entry(&made.scan)?.dpi;
        Ok(Ok(Self { fit, settings, dpi, channel: entry.channel }))
    }

    /// The model, where it was made at this resolution and in this channel; else why there is none.
    pub(super) fn at(
        &self,
        work: &Computation<'_>,
        dpi: f64,
    ) -> Result<Result<NoiseModel, Sentence>, NoAnswer> {
        let why = |why: Rule| Ok(Err(unknown(why)));
        let fit = work.get(&self.fit)?;
        let Some(model) = &fit.noise else { return why(Rule::NoNoiseModel) };
        if matches!(self.channel, Channel::Mix { .. }) {
            return why(Rule::NoiseOfOneChannel);
        }
        match resolution(self.dpi, &work.get(&self.settings)?.meta) {
            Ok((other, _)) if (other / dpi - 1.0).abs() <= SQUARE => Ok(Ok(model.clone())),
            _ => why(Rule::NoiseAtOtherResolution),
        }
    }
}
