//! Tone tables: linear light and density for every code of a scan.

use crate::measured::Flags;

/// Where a tone table comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum ToneSource {
    /// A calibration against a tablet.
    Calibration(String),
    /// The embedded profile's tone curve.
    Profile(String),
    /// The sRGB curve (IEC 61966-2-1:1999), for want of anything better.
    Srgb,
    /// Linear light (a float file).
    Linear,
}

/// Light and density by code.
#[derive(Debug, Clone, PartialEq)]
pub struct ToneTable {
    /// Transmittance or reflectance factor by code, 256 or 65536 entries, above zero, never decreasing nor increasing
    /// against the direction of the scan.
    pub light: Vec<f64>,
    /// Density by code: -lg light.
    pub density: Vec<f64>,
    /// Standard uncertainty of that density by code (calibration only; zero otherwise).
    pub density_u: Vec<f64>,
    /// Densities within which the table may be trusted, lowest and highest; outside, results are flagged.
    pub trusted: (f64, f64),
    /// Where it comes from.
    pub source: ToneSource,
    /// Flags that everything measured through it carries.
    pub flags: Flags,
}

/// Linear light of an sRGB value `v` in 0..=1 (IEC 61966-2-1:1999): `v/12.92` up to 0.04045, else
/// `((v+0.055)/1.055)^2.4`.
///
/// ```
/// # use twinwedge_core::scan::srgb_to_linear;
/// assert!((srgb_to_linear(0.5) - 0.21404114).abs() < 1e-7);
/// ```
#[must_use]
pub fn srgb_to_linear(v: f64) -> f64 {
    if v <= 0.04045 { v / 12.92 } else { crate::numeric::math::pow((v + 0.055) / 1.055, 2.4) }
}

impl ToneTable {
    /// The table of a scan that has no calibration: its profile's curve, else linear for float files, else sRGB.
    /// Flags it uncalibrated.
    #[must_use]
    pub fn uncalibrated(scan: &super::Scan) -> Self {
        todo!("{}", scan.width)
    }
}
