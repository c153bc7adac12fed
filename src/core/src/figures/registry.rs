//! What each figure is called, its unit, definition and source.

use super::Difference::{Percent, SpeedStops, Stops, Subtract};
use super::{FigureId, FigureSpec};
use crate::citation::{
    AVERAGES, CURVE, DELTA_X, INDEX, ISO_5, ISO_6, ISO_10505, ISO_12233, JONES, PRACTICE, SHAPE, STRAIGHT,
    USABLE,
};

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
pub(super) const COUNT: usize = 39;

/// In the order of [`FigureId`].
static REGISTRY: [FigureSpec; COUNT] = [
    figure!(
        IsoSpeed,
        "iso_speed",
        "ISO speed",
        "",
        0,
        Stops,
        ISO_6,
        "0.80 over the exposure in lux seconds at the speed point, of a film whose density gains 0.80 over the \
         next 1.30 in log H; shown unrounded, printed on a box as the nearest third-stop step."
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
        FractionalGradientSpeed,
        "fractional_gradient_speed",
        "speed by fractional gradient",
        "",
        0,
        Stops,
        JONES,
        "From the exposure at the fractional-gradient point, made to agree with ISO 6 where the point lies 0.296 \
         in log H below the speed point; not an ISO speed."
    ),
    figure!(
        DeltaXSpeed,
        "delta_x_speed",
        "speed by delta-X",
        "",
        0,
        Stops,
        DELTA_X,
        "From the speed point and the density gained over 1.30 in log H, by the relation of both to the \
         fractional gradient; agrees with ISO 6 at a gain of 0.80; not an ISO speed."
    ),
    figure!(
        ShadowMatchIndex,
        "shadow_match_index",
        "exposure index by shadow match",
        "",
        0,
        Stops,
        PRACTICE,
        "The exposure index at which the bracket's shadow density equals the reference film's: net of base+fog or \
         gross, as the series chose."
    ),
    figure!(
        ShadowMatchOther,
        "shadow_match_other",
        "index by shadow match, the other way",
        "",
        0,
        Stops,
        PRACTICE,
        "The same by the density that the series did not choose: gross where it chose net, net where it chose \
         gross."
    ),
    figure!(
        BoxDistance,
        "box_distance",
        "speed at 0.10 against the box",
        "stops",
        2,
        Subtract,
        PRACTICE,
        "The speed at 0.10 above base+fog over the speed on the box, in stops."
    ),
    figure!(
        IndexBoxDistance,
        "index_box_distance",
        "shadow match against the box",
        "stops",
        2,
        Subtract,
        PRACTICE,
        "The exposure index by shadow match over the speed on the box, in stops; the reference is taken at its \
         box speed."
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
        FractionalGradientPoint,
        "fractional_gradient_point",
        "fractional-gradient point",
        "log H",
        2,
        SpeedStops,
        JONES,
        "Log exposure, down from the steepest part, at which the local gradient has fallen to 0.3 of the mean gradient over \
         the next 1.50 in log H; an upper bound where the test may begin above it."
    ),
    figure!(
        DeltaXPoint,
        "delta_x_point",
        "delta-X point",
        "log H",
        2,
        SpeedStops,
        DELTA_X,
        "Where the fractional-gradient point lies by the relation with the speed point and the density gained \
         over 1.30 in log H."
    ),
    figure!(
        BaseFog,
        "base_fog",
        "base+fog",
        "",
        2,
        Subtract,
        ISO_5,
        "Density of the unexposed, developed film: read on an unexposed area, else, where the curve gains no more than \
         0.02 over its lowest stop, where its foot begins as a power of exposure; else the low end of the curve, an \
         upper bound."
    ),
    figure!(
        SpeedPointGradient,
        "speed_point_gradient",
        "gradient at the speed point",
        "",
        2,
        Percent,
        CURVE,
        "Local gradient of the fitted curve at the speed point: how well deep shadows are separated."
    ),
    figure!(
        ToeLength,
        "toe_length",
        "toe length",
        "stops",
        1,
        Subtract,
        SHAPE,
        "Exposure from where the local gradient is a tenth of that of the steepest stop to where it first reaches \
         nine tenths."
    ),
    figure!(
        ToeCurvature,
        "toe_curvature",
        "toe curvature",
        "",
        2,
        Percent,
        SHAPE,
        "Largest rise of the local gradient over one stop below the steepest stop, per unit of log H: large for a \
         short, sharp toe."
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
        AverageGradient130,
        "average_gradient_130",
        "average gradient over 1.30",
        "",
        2,
        Percent,
        ISO_6,
        "Density gained over the next 1.30 in log H from the speed point, divided by 1.30: the slope of ISO 6, \
         0.615 where its contrast condition is met exactly."
    ),
    figure!(
        AverageGradient150,
        "average_gradient_150",
        "average gradient over 1.50",
        "",
        2,
        Percent,
        AVERAGES,
        "Density gained over the next 1.50 in log H from the speed point, divided by 1.50."
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
        ContrastIndex,
        "contrast_index",
        "contrast index",
        "",
        2,
        Percent,
        INDEX,
        "Slope of the ray from a point on the base+fog line that meets the curve at distances 0.2 and 2.2 from \
         it, density and log H on one scale."
    ),
    figure!(
        Gamma,
        "gamma",
        "gamma",
        "",
        2,
        Percent,
        STRAIGHT,
        "Slope of the straight line: the regression line about the steepest 0.60 in log H, as far as the curve departs from it by no \
         more than 0.02 in density."
    ),
    figure!(
        MaximumGradient,
        "maximum_gradient",
        "maximum gradient",
        "",
        2,
        Percent,
        CURVE,
        "Largest gradient of the fitted curve averaged over one stop, 0.30 in log H; the interval allows for errors making the \
         steepest of several stops steeper."
    ),
    figure!(
        StraightFrom,
        "straight_from",
        "straight from",
        "log H",
        2,
        Subtract,
        STRAIGHT,
        "Log exposure at which the curve comes within 0.02 in density of the straight line."
    ),
    figure!(
        StraightTo,
        "straight_to",
        "straight to",
        "log H",
        2,
        Subtract,
        STRAIGHT,
        "Log exposure at which the curve leaves the straight line by more than 0.02 in density."
    ),
    figure!(
        StraightLength,
        "straight_length",
        "length of the straight line",
        "stops",
        1,
        Subtract,
        STRAIGHT,
        "Exposure over which the curve stays within 0.02 in density of the straight line."
    ),
    figure!(
        StraightDeparture,
        "straight_departure",
        "departure from the straight line",
        "",
        3,
        Subtract,
        STRAIGHT,
        "Largest peak or valley of the curve between the ends of its straight line, positive above the line."
    ),
    figure!(
        DMax,
        "d_max",
        "D-max",
        "",
        2,
        Subtract,
        ISO_5,
        "Highest density that the tablet reached; a lower bound where the curve still gains more than 0.02 over \
         its highest stop."
    ),
    figure!(
        ShoulderLength,
        "shoulder_length",
        "shoulder length",
        "stops",
        1,
        Subtract,
        SHAPE,
        "Exposure from where the local gradient is last nine tenths of that of the steepest stop to where it has \
         fallen to a tenth."
    ),
    figure!(
        ShoulderCurvature,
        "shoulder_curvature",
        "shoulder curvature",
        "",
        2,
        Percent,
        SHAPE,
        "Largest fall of the local gradient over one stop above the steepest stop, per unit of log H: large where \
         highlights close up suddenly."
    ),
    figure!(
        Headroom,
        "headroom",
        "straight above the speed point",
        "stops",
        1,
        Subtract,
        STRAIGHT,
        "Exposure from the speed point to the end of the straight line: what still separates fully."
    ),
    figure!(
        UsableFrom,
        "usable_from",
        "usable from",
        "log H",
        2,
        Subtract,
        USABLE,
        "Log exposure at which the local gradient has come up to the series' limit for the toe."
    ),
    figure!(
        UsableTo,
        "usable_to",
        "usable to",
        "log H",
        2,
        Subtract,
        USABLE,
        "Log exposure at which the local gradient has fallen to the series' limit for the shoulder."
    ),
    figure!(
        UsableRange,
        "usable_range",
        "usable exposure range",
        "stops",
        1,
        Subtract,
        USABLE,
        "Exposure between the series' two limits of the local gradient, 0.20 and 0.20 unless changed."
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
    figure!(
        GranularityNetOne,
        "granularity_net_one",
        "RMS granularity at net density 1.0",
        "",
        1,
        Percent,
        ISO_10505,
        "Referred to density 1.0 above base+fog: between uniform areas of other densities by their variances, or a little way \
         from one by the square root of net density, then marked as a prediction."
    ),
    figure!(
        Mtf50,
        "mtf50",
        "50 % MTF at",
        "c/mm",
        1,
        Percent,
        ISO_12233,
        "Spatial frequency on the film at which the modulation of a slanted edge has come down to 50 %: film with \
         scanner, unless the scanner's own edge was given."
    ),
    figure!(
        Mtf10,
        "mtf10",
        "10 % MTF at",
        "c/mm",
        1,
        Percent,
        ISO_12233,
        "Spatial frequency on the film at which the modulation of a slanted edge has come down to 10 %."
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
            let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
            assert!(entry.key.chars().all(plain), "{}", entry.key);
        }
        let distinct = |of: fn(&FigureSpec) -> &str| registry().iter().map(of).collect::<BTreeSet<_>>().len();
        assert_eq!(distinct(|entry| entry.key), registry().len());
        assert_eq!(distinct(|entry| entry.label), registry().len());
    }
}
