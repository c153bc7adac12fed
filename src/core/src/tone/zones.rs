//! Zones: eleven one-stop steps of the subject, and where the meter puts them on a film.

use serde::Serialize;

use crate::numeric::math;
use crate::units::STOP;

/// Zones 0 to 10.
pub const ZONES: u32 = 11;
/// The zone of the tone that the meter is pointed at.
pub const METERED_ZONE: f64 = 5.0;

/// lg H of a zone against the metered zone V: one stop each. Common practice, no source.
///
/// ```
/// # use twinwedge_core::tone::zone_log_h;
/// assert!((zone_log_h(2.0) + 0.903090).abs() < 1e-6);
/// ```
#[must_use]
pub fn zone_log_h(zone: f64) -> f64 {
    (zone - METERED_ZONE) * STOP
}

/// The zone at so much lg H from the metered one.
#[must_use]
pub fn zone_at(log_h: f64) -> f64 {
    METERED_ZONE + log_h / STOP
}

/// The number of a zone as it is written.
///
/// ```
/// # use twinwedge_core::tone::zone_name;
/// assert_eq!((zone_name(0), zone_name(8)), ("0", "VIII"));
/// ```
#[must_use]
pub fn zone_name(zone: u32) -> &'static str {
    const NAMES: [&str; 11] = ["0", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X"];
    NAMES.get(zone as usize).copied().unwrap_or("beyond X")
}

/// A place on the scale of zones in words: the zone, and thirds of a stop from it.
///
/// ```
/// # use twinwedge_core::tone::zone_words;
/// assert_eq!((zone_words(8.3), zone_words(2.0), zone_words(0.7)), ("VIII ⅓".into(), "II".into(), "0 ⅔".into()));
/// ```
#[must_use]
pub fn zone_words(zone: f64) -> String {
    let thirds = (zone * 3.0).round();
    if thirds < 0.0 {
        return "below 0".to_owned();
    }
    let whole = (thirds / 3.0).floor();
    if whole > 10.0 {
        return "beyond X".to_owned();
    }
    let name = zone_name(whole as u32);
    match (thirds - 3.0 * whole).round() as i64 {
        1 => format!("{name} ⅓"),
        2 => format!("{name} ⅔"),
        _ => name.to_owned(),
    }
}

/// Exposure at the film in lux seconds: `H = q L t / N²`, L in candelas per square metre, t in seconds. q about 0.65 for
/// lens losses and obliquity, recalled.
///
/// ```
/// # use twinwedge_core::tone::focal_plane_exposure;
/// assert!((focal_plane_exposure(0.65, 4000.0, 1.0 / 125.0, 16.0) - 0.08125).abs() < 1e-6);
/// ```
#[must_use]
pub fn focal_plane_exposure(q: f64, luminance: f64, seconds: f64, f_number: f64) -> f64 {
    q * luminance * seconds / (f_number * f_number)
}

/// lg of the exposure in lux seconds that a tone gets which was metered at exposure index `index`: `H = q K / S`, from the
/// camera's equation and the reflected-light meter's, `N² / t = L S / K` (ISO 2720:1974, K between 10.6 and 13.4, seen in
/// copies).
///
/// ```
/// # use twinwedge_core::tone::metered_log_h;
/// assert!((metered_log_h(0.65, 12.5, 100.0) - 0.08125_f64.log10()).abs() < 1e-12);
/// ```
#[must_use]
pub fn metered_log_h(q: f64, k: f64, index: f64) -> f64 {
    math::log10(q * k / index)
}

/// Whether a place on the exposure axis was tested.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reach {
    /// Within the exposures that the film was tested at.
    Tested,
    /// Less exposure than any that was tested: density is at most the lowest one read.
    Below,
    /// More exposure than any that was tested: density is at least the highest one read.
    Above,
}

/// Whether a tone keeps its place in the negative.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kept {
    /// Beyond doubt: every criterion lies outside its 95 % interval.
    Kept,
    /// Beyond doubt below a criterion.
    Lost,
    /// Its uncertainty reaches over a criterion.
    Unsettled,
    /// The test does not tell.
    NotTested,
}

impl Kept {
    /// One word for a table.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Kept => "kept",
            Self::Lost => "lost",
            Self::Unsettled => "unsettled",
            Self::NotTested => "not tested",
        }
    }

    /// Both must be kept.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Lost, _) | (_, Self::Lost) => Self::Lost,
            (Self::NotTested, _) | (_, Self::NotTested) => Self::NotTested,
            (Self::Unsettled, _) | (_, Self::Unsettled) => Self::Unsettled,
            (Self::Kept, Self::Kept) => Self::Kept,
        }
    }
}
