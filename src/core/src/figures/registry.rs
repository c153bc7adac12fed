//! What each figure is called, its unit, definition and source.

use super::Difference::{Percent, SpeedStops, Stops, Subtract};
use super::{FigureId, FigureSpec};
use crate::citation::{Citation, SourceKind};

const ISO_6: Citation =
    Citation { text: "ISO 6:1993, speed point, contrast condition and speed", kind: SourceKind::Published };
const ISO_5: Citation =
    Citation { text: "ISO 5-1:2009, ISO 5-2:2009, ISO 5-3:2009, density", kind: SourceKind::Published };
const ISO_10505: Citation =
    Citation { text: "ISO 10505:2009, RMS granularity of photographic films", kind: SourceKind::Published };
const PRACTICE: Citation = Citation { text: "common practice, no source", kind: SourceKind::Practice };
const AVERAGES: Citation = Citation {
    text: "mean gradient over a stated range; common practice, range of ISO 6:1993 when it is 1.30",
    kind: SourceKind::Practice,
};
const STRAIGHT: Citation = Citation {
    text: "F. Hurter and V. C. Driffield, J. Soc. Chem. Ind. 9 (1890) for the straight line; the criterion is this program's \
           own: longest run of readings that no test at 95 % tells from a line",
    kind: SourceKind::Derived,
};
const CURVE: Citation =
    Citation { text: "follows from the fitted characteristic curve", kind: SourceKind::Derived };

#[rustfmt::skip]
macro_rules! figure {
    ($id:ident, $key:literal, $label:literal, $unit:literal, $decimals:literal, $difference:ident, $source:ident, $definition:literal) => {
        FigureSpec {
            id: FigureId::$id, key: $key, label: $label, unit: $unit, definition: $definition, decimals: $decimals,
            difference: $difference, source: $source,
        }
    };
}

/// How many figures there are.
pub(super) const COUNT: usize = 16;

static REGISTRY: [FigureSpec; COUNT] = [
    figure!(
        IsoSpeed,
        "iso_speed",
        "ISO speed",
        "",
        0,
        Stops,
        ISO_6,
        "0.80 over the exposure in lux seconds at the speed point, of a film whose density gains 0.80 over the next 1.30 in \
         log H; shown unrounded, printed on a box as the nearest third-stop step."
    ),
    figure!(
        FixedDensitySpeed,
        "fixed_density_speed",
        "speed at 0.10 above base+fog",
        "",
        0,
        Stops,
        ISO_6,
        "0.80 over the exposure in lux seconds at the speed point, whatever the contrast; not an ISO speed."
    ),
    figure!(
        ShadowMatchIndex,
        "shadow_match_index",
        "exposure index by shadow match",
        "",
        0,
        Stops,
        PRACTICE,
        "The exposure index at which the bracket's shadow density equals the reference film's."
    ),
    figure!(
        SpeedPoint,
        "speed_point",
        "speed point",
        "log H",
        2,
        SpeedStops,
        ISO_6,
        "Log exposure at which density is 0.10 above base+fog."
    ),
    figure!(
        BaseFog,
        "base_fog",
        "base+fog",
        "",
        2,
        Subtract,
        ISO_5,
        "Density of the unexposed, developed film: read on an unexposed area, else the low end of the curve where it gains \
         no more than 0.02 over its lowest stop."
    ),
    figure!(
        DMax,
        "d_max",
        "D-max",
        "",
        2,
        Subtract,
        ISO_5,
        "Highest density that the tablet reached; a lower bound where the curve still gains more than 0.02 over its highest \
         stop."
    ),
    figure!(
        IsoContrast,
        "iso_contrast",
        "density gained over 1.30",
        "",
        2,
        Subtract,
        ISO_6,
        "Density gained from the speed point over the next 1.30 in log H; the contrast condition asks for 0.80."
    ),
    figure!(
        AverageGradient,
        "average_gradient",
        "average gradient",
        "",
        2,
        Percent,
        AVERAGES,
        "Density gained over the series' range of log H from the speed point, divided by that range."
    ),
    figure!(
        Gamma,
        "gamma",
        "gamma",
        "",
        2,
        Percent,
        STRAIGHT,
        "Slope of the straight line, by weighted regression on its readings."
    ),
    figure!(
        StraightFrom,
        "straight_from",
        "straight from",
        "log H",
        2,
        Subtract,
        STRAIGHT,
        "Log exposure of the first reading on the straight line."
    ),
    figure!(
        StraightTo,
        "straight_to",
        "straight to",
        "log H",
        2,
        Subtract,
        STRAIGHT,
        "Log exposure of the last reading on the straight line."
    ),
    figure!(
        StraightDeparture,
        "straight_departure",
        "departure from the straight line",
        "",
        3,
        Subtract,
        STRAIGHT,
        "Largest difference in density between curve and straight line within the line's range, positive above the line."
    ),
    figure!(
        MaximumGradient,
        "maximum_gradient",
        "maximum gradient",
        "",
        2,
        Percent,
        CURVE,
        "Largest gradient of the fitted curve averaged over one stop, 0.30 in log H."
    ),
    figure!(
        TestedRange,
        "tested_range",
        "tested range",
        "log H",
        2,
        Subtract,
        CURVE,
        "Log exposure from the lowest to the highest fitted reading; nothing is said beyond."
    ),
    figure!(
        Granularity,
        "granularity",
        "RMS granularity",
        "",
        1,
        Percent,
        ISO_10505,
        "1000 times the standard deviation of density through a circular aperture, 48 µm unless said."
    ),
    figure!(
        GranularityDensity,
        "granularity_density",
        "density of the granularity",
        "",
        2,
        Subtract,
        ISO_10505,
        "Mean density of the area in which granularity was measured."
    ),
];

/// All figures, in the order of tables.
#[must_use]
pub fn registry() -> &'static [FigureSpec] {
    &REGISTRY
}

/// The entry of one figure.
///
/// ```
/// # use twinwedge_core::figures::{spec, FigureId};
/// assert_eq!(spec(FigureId::SpeedPoint).label, "speed point");
/// ```
#[must_use]
pub fn spec(id: FigureId) -> &'static FigureSpec {
    &REGISTRY[id as usize]
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_figure_finds_itself_and_names_differ() {
        for entry in registry() {
            assert_eq!(spec(entry.id).id, entry.id);
            assert!(entry.definition.ends_with('.') && !entry.source.text.is_empty());
            let plain = |c: char| c.is_ascii_lowercase() || c == '_';
            assert!(entry.key.chars().all(plain), "{}", entry.key);
        }
        let distinct = |of: fn(&FigureSpec) -> &str| registry().iter().map(of).collect::<BTreeSet<_>>().len();
        assert_eq!(distinct(|entry| entry.key), registry().len());
        assert_eq!(distinct(|entry| entry.label), registry().len());
    }
}
