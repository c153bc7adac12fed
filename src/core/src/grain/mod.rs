//! Grain: RMS granularity through a circular aperture (ISO 10505:2009 practice).

use serde::Serialize;

use crate::geometry::Rect;
use crate::measured::Measured;
use crate::problem::Problem;
use crate::scan::{Plane, ToneTable};
use crate::units::{Density, Micrometres};

/// How granularity is measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct GrainSettings {
    /// Distance between samples.
    pub pitch: Micrometres,
    /// Diameter of the circular aperture; 48 µm by ISO 10505.
    pub aperture: Micrometres,
}

/// A measured granularity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Granularity {
    /// 1000 times the standard deviation of density through the aperture, with a chi-square interval.
    pub rms: Measured,
    /// Mean density of the area (density of its mean light).
    pub mean_density: Measured<Density>,
    /// The aperture.
    pub aperture: Micrometres,
    /// Distance between samples.
    pub pitch: Micrometres,
    /// Independent apertures that the interval rests on.
    pub independent_apertures: f64,
    /// Range of density over the area that was removed as slow shading.
    pub shading: f64,
    /// Share of the area left out as dust or scratches.
    pub left_out: f64,
    /// The area that was measured, whole pixels.
    pub area: Rect,
    /// Things worth telling: area too small, a picture instead of a plain field, pitch too coarse.
    pub notes: Vec<String>,
}

/// RMS granularity of an area: light averaged through the aperture at every position, density of each average, slow
/// shading removed, standard deviation, interval from the number of independent apertures.
///
/// `stop` is asked once per band of rows.
///
/// # Errors
/// The area lies outside the scan or is too small for the aperture, the pitch is too coarse for it, or `stop` said so.
pub fn granularity(
    plane: Plane<'_>,
    table: &ToneTable,
    area: Rect,
    settings: GrainSettings,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Granularity, Problem> {
    let _ = stop();
    todo!("{} {} {area:?} {settings:?}", plane.width(), table.light.len())
}
