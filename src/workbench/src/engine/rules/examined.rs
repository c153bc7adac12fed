//! Examination of scans.

use serde::Serialize;
use twinwedge_core::document::{Channel, ScanId};
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::examine::{Examination, Known, examine};
use twinwedge_core::scan::{Difference, Settings, differences};

use crate::engine::ask::{CalibrationOf, ExaminedOf, ScanOf, ScanSettingsOf};
use crate::engine::query::tried;
use crate::engine::{Computation, Handle, NoAnswer, Query, View};

/// What was found about one scan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Examined {
    /// From its pixels.
    pub pixels: Examination,
    /// Where its settings differ from its calibration's.
    pub settings: Vec<Difference>,
    /// It is read through a calibration of the other kind: film for a print, or a print for film.
    pub other_kind: bool,
}

impl Examined {
    /// What speaks against it, or what its pixels show, parted by commas on one line.
    #[must_use]
    pub fn line(&self) -> String {
        let mut words = Vec::new();
        if self.other_kind {
            words.push("calibrated as the other kind".to_owned());
        }
        let pixels = self.pixels.line();
        if self.pixels.found().next().is_some() || (words.is_empty() && !self.doubtful_settings()) {
            words.push(pixels);
        }
        if self.doubtful_settings() {
            words.push("other settings than its calibration".to_owned());
        }
        words.join(", ")
    }

    /// Whether its settings put it in doubt.
    #[must_use]
    pub fn doubtful_settings(&self) -> bool {
        self.settings.iter().any(|difference| difference.doubt)
    }

    /// Whether anything speaks against it.
    #[must_use]
    pub fn doubtful(&self) -> bool {
        self.other_kind || self.doubtful_settings() || self.pixels.found().next().is_some()
    }
}

/// The calibration of a scan that is there and fits, and the scan it was made from.
fn calibration(view: &View<'_>, scan: &ScanId) -> Result<Option<(CalibrationOf, ScanId)>, Problem> {
    let Some(id) = &view.scan_entry(scan)?.calibration else { return Ok(None) };
    let made = view.series().calibrations.get(id);
    Ok(made.map(|made| (CalibrationOf { calibration: id.clone() }, made.scan.clone())))
}

/// Whether a scan and the scan of its calibration are of different kinds.
pub(super) fn other_kind(view: &View<'_>, scan: &ScanId) -> Result<bool, Problem> {
    let kind = |scan: &ScanId| view.scan_entry(scan).map(|entry| entry.kind);
    let Some((_, of)) = calibration(view, scan)? else { return Ok(false) };
    Ok(kind(&of).is_ok_and(|other| kind(scan).is_ok_and(|kind| kind != other)))
}

/// What a scan is examined with.
#[derive(Debug, Serialize)]
pub struct Examining {
    scan: Handle<ScanOf>,
    channel: Channel,
    other_kind: bool,
    /// Its calibration's fit, and the settings of the scan that it was made from, where they could be had.
    fit: Option<Handle<CalibrationOf>>,
    calibrated: Option<Handle<ScanSettingsOf>>,
}

impl Query for ExaminedOf {
    type Inputs = Examining;

    fn inputs(&self, view: &View<'_>) -> Result<Examining, NoAnswer> {
        let (mut fit, mut calibrated) = (None, None);
        if let Some((query, of)) = calibration(view, &self.scan)? {
            fit = view.try_handle(query)?.ok();
            if of != self.scan {
                // Not the calibration's pixels: they would be read again for each of many scans.
                calibrated = view.try_handle(ScanSettingsOf { scan: of })?.ok();
            }
        }
        Ok(Examining {
            scan: view.handle(ScanOf { scan: self.scan.clone() })?,
            channel: view.scan_entry(&self.scan)?.channel,
            other_kind: other_kind(view, &self.scan)?,
            fit,
            calibrated,
        })
    }

    fn compute(inputs: &Examining, work: &Computation<'_>) -> Result<Examined, NoAnswer> {
        let scan = work.get(&inputs.scan)?;
        let mut settings = Vec::new();
        if let Some(calibrated) = &inputs.calibrated
            && let Ok(other) = tried(work.get(calibrated))?
        {
            settings = differences(other.compared(), Settings::of(&scan));
        }
        let fit = inputs.fit.as_ref().map(|fit| work.get(fit)).transpose()?;
        let fit = fit.as_ref().filter(|fit| fit.table.light.len() == scan.levels());
        let noise = fit.and_then(|fit| Some((fit.noise.as_ref()?, &fit.table)));
        let plane = scan.plane(inputs.channel);
        let pixels = examine(plane, Known { noise }, &|| work.stop()).ok_or(NoAnswer::Dropped)?;
        Ok(Examined { pixels, settings, other_kind: inputs.other_kind })
    }
}
