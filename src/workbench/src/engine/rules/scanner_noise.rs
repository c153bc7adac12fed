//! Where the scanner's noise is known from, for granularity and spectrum alike.

use std::sync::Arc;

use twinwedge_core::document::{Channel, ScanEntry, ScanId};
use twinwedge_core::scan::{NoiseModel, Plane, Scan, ToneTable};

use super::grain::{SQUARE, resolution};
use super::measurable;
use crate::engine::ask::{CalibrationOf, ScanOf, ToneOf};
use crate::engine::{Halt, View};

/// A scan as it is read.
pub(super) struct Read {
    codes: Arc<Scan>,
    table: Arc<ToneTable>,
    channel: Channel,
}

impl Read {
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Self, Halt> {
        Ok(Self {
            codes: measurable::codes(view, scan)?,
            table: view.get(&ToneOf { scan: scan.clone() })?,
            channel: view.scan_entry(scan)?.channel,
        })
    }

    /// Its plane and its table.
    pub(super) fn side(&self) -> (Plane<'_>, &ToneTable) {
        (self.codes.plane(self.channel), &self.table)
    }
}

/// Two scans of the same film.
pub(super) fn both(view: &View<'_>, first: &ScanId, second: &ScanId) -> Result<[Read; 2], Halt> {
    Ok([Read::of(view, first)?, Read::of(view, second)?])
}

/// The noise model of a scan's calibration, where it was made at this resolution and in this channel; else why there is none.
pub(super) fn model(
    view: &View<'_>,
    entry: &ScanEntry,
    dpi: f64,
) -> Result<Result<NoiseModel, String>, Halt> {
    let why = |text: &str| {
        Ok(Err(format!(
            "{text} A second scan of the same film, or a blank area of like density, would tell it."
        )))
    };
    let Some(id) = &entry.calibration else { return why("The scan has no calibration that tells it.") };
    let Ok(fit) = view.try_get(&CalibrationOf { calibration: id.clone() })? else {
        return why("Its calibration could not be made.");
    };
    let Some(model) = &fit.noise else { return why("Its calibration has no noise model.") };
    if matches!(entry.channel, Channel::Mix { .. }) {
        return why("The calibration's noise model is that of one channel, and the scan is read in a mix.");
    }
    let Some(made) = view.series().calibrations.get(id) else { return why("Its calibration is gone.") };
    let of = view.scan_entry(&made.scan)?;
    let meta = view.get(&ScanOf { scan: made.scan.clone() })?;
    match resolution(of, &meta.meta) {
        Ok((other, _)) if (other / dpi - 1.0).abs() <= SQUARE => Ok(Ok(model.clone())),
        _ => why("Its calibration was scanned at another resolution, at which a pixel's noise is another."),
    }
}
