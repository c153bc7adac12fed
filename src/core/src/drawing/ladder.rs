//! The grey ladder: steps of known density by which a reader judges the screen or paper that the report is read on.

use crate::greys::munsell::Rung;
use crate::numeric::math;

/// A grey field with its density, printed beside its neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LadderStep {
    /// Density against the white of the screen or paper.
    pub density: f64,
    /// The 8-bit sRGB grey that stands for it.
    pub code: u8,
    /// Its Munsell value, white being 10.
    pub munsell: f64,
}

/// What a reader should look for.
pub const LADDER_NOTE: &str = "Before judging the pictures: every two neighbours of this ladder should be told apart, 0.00 \
    from 0.05 at the light end and 1.85 from 2.00 at the dark end too. Where they run together, the screen or paper hides \
    that difference of density in the pictures as well. Screens cannot be trusted with tones; the numbers can. Under each \
    density stands its Munsell value: equal steps of it look equal.";

/// Steps close together where eyes and screens fail first, at the light end, then 0.15 apart (half a stop of light).
const DENSITIES: [f64; 16] =
    [0.0, 0.05, 0.10, 0.20, 0.35, 0.50, 0.65, 0.80, 0.95, 1.10, 1.25, 1.40, 1.55, 1.70, 1.85, 2.00];

/// The ladder, light to dark.
///
/// ```
/// # use twinwedge_core::drawing::grey_ladder;
/// assert_eq!(grey_ladder()[0].code, 255);
/// ```
#[must_use]
pub fn grey_ladder() -> Vec<LadderStep> {
    DENSITIES
        .iter()
        .map(|density| LadderStep {
            density: *density,
            code: screen_grey(math::pow(10.0, -density)),
            munsell: Rung::of_density(*density).map_or(10.0, |rung| rung.value),
        })
        .collect()
}

/// The 8-bit sRGB grey of linear `light` in 0..=1, the inverse of [`crate::scan::srgb_to_linear`]
/// (IEC 61966-2-1:1999): `12.92 l` up to 0.0031308, else `1.055 l^(1/2.4) - 0.055`. Clamped to what a screen shows.
///
/// ```
/// # use twinwedge_core::drawing::screen_grey;
/// assert_eq!((screen_grey(0.21586050), screen_grey(2.0)), (128, 255));
/// ```
#[must_use]
pub fn screen_grey(light: f64) -> u8 {
    let light = light.clamp(0.0, 1.0);
    let value =
        if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * math::pow(light, 1.0 / 2.4) - 0.055 };
    (value * 255.0).round() as u8
}
