//! The known colour of a patch: CIELAB of a reflectance, and the family of colours that it belongs to.

use serde::{Deserialize, Serialize};

use super::light::daylight;
use super::spectrum::Spectrum;
pub use crate::document::Shows;
use crate::numeric::math;
use crate::spectra::tables::{OBSERVER, OBSERVER_FROM};

/// CIELAB, relative to the white of its light.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Lab {
    /// Lightness, 0 to 100.
    pub l: f64,
    /// Green to red.
    pub a: f64,
    /// Blue to yellow.
    pub b: f64,
}

impl Lab {
    /// Chroma: distance from grey.
    #[must_use]
    pub fn chroma(&self) -> f64 {
        math::hypot(self.a, self.b)
    }

    /// Hue angle in degrees, 0 to 360.
    ///
    /// ```
    /// # use twinwedge_core::greys::colour::Lab;
    /// assert!((Lab { l: 50.0, a: 0.0, b: -10.0 }.hue() - 270.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn hue(&self) -> f64 {
        math::atan2(self.b, self.a).to_degrees().rem_euclid(360.0)
    }
}

/// CIELAB of tristimulus values against those of white (CIE 15:2004, 8.2.1).
#[must_use]
pub fn lab_of_xyz(xyz: [f64; 3], white: [f64; 3]) -> Lab {
    let f = |i: usize| {
        let t = xyz[i] / white[i];
        let low = 24.0 / 116.0;
        if t > low * low * low { math::cbrt(t) } else { (841.0 / 108.0) * t + 16.0 / 116.0 }
    };
    let (x, y, z) = (f(0), f(1), f(2));
    Lab { l: 116.0 * y - 16.0, a: 500.0 * (x - y), b: 200.0 * (y - z) }
}

fn tristimulus(reflects: impl Fn(f64) -> f64, light: &Spectrum) -> [f64; 3] {
    let mut sums = [0.0; 3];
    let mut white = 0.0;
    for (i, observer) in OBSERVER.iter().enumerate() {
        let nm = OBSERVER_FROM + 10.0 * i as f64;
        // No light is known beyond the ends of its spectrum, and the eye sees next to nothing there.
        let power = light.at(nm).unwrap_or_default();
        let seen = reflects(nm) * power;
        sums.iter_mut().zip(observer).for_each(|(sum, weight)| *sum += seen * weight);
        white += power * observer[1];
    }
    sums.map(|sum| 100.0 * sum / white)
}

/// Tristimulus values of a reflectance or transmittance under a light, the 2 degree observer, white Y = 100: a sum by 10 nm from
/// 380 to 780 nm, beyond the ends of a spectrum with its last value (CIE 15:2004, 7.2.2.1).
#[must_use]
pub fn xyz(spectrum: &Spectrum, light: &Spectrum) -> [f64; 3] {
    tristimulus(|nm| spectrum.nearest(nm), light)
}

/// CIELAB of a reflectance under D50, to which colours of patches are commonly told; `None` where the spectrum leaves out more
/// than the ends of the visible range (420 to 680 nm must be there).
#[must_use]
pub fn lab(reflectance: &Spectrum) -> Option<Lab> {
    let (from, to) = reflectance.range();
    let light = daylight(5_003.0).filter(|_| from <= 420.0 && to >= 680.0)?;
    Some(lab_of_xyz(xyz(reflectance, &light), tristimulus(|_| 1.0, &light)))
}

/// A family of patches that a film may render lighter or darker together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Family {
    /// Greys, and colours next to grey.
    Neutral,
    /// Hues about red.
    Red,
    /// Oranges and browns.
    Orange,
    /// Hues about yellow.
    Yellow,
    /// Hues about green.
    Green,
    /// Hues between blue and green.
    Cyan,
    /// Hues about blue.
    Blue,
    /// Hues between blue and red.
    Purple,
    /// Magentas and pinks.
    Magenta,
    /// Skin tones, stated as such.
    Skin,
    /// Leaves and grass.
    Foliage,
    /// Sky, stated as such.
    Sky,
}

/// Colours of less chroma than this have no hue to speak of.
const LEAST_CHROMA: f64 = 8.0;
/// Where families begin, as CIELAB hue angles: no standard divides hues into families; these put the names where most people
/// would.
const FAMILIES: [(f64, Family); 8] = [
    (10.0, Family::Red),
    (45.0, Family::Orange),
    (80.0, Family::Yellow),
    (110.0, Family::Green),
    (175.0, Family::Cyan),
    (235.0, Family::Blue),
    (300.0, Family::Purple),
    (332.0, Family::Magenta),
];

impl Family {
    /// All of them, those without hue first.
    pub const ALL: [Self; 12] = [
        Self::Neutral,
        Self::Red,
        Self::Orange,
        Self::Yellow,
        Self::Green,
        Self::Cyan,
        Self::Blue,
        Self::Purple,
        Self::Magenta,
        Self::Skin,
        Self::Foliage,
        Self::Sky,
    ];

    /// What patches of it are called, in sentences.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Neutral => "greys",
            Self::Red => "reds",
            Self::Orange => "oranges and browns",
            Self::Yellow => "yellows",
            Self::Green => "greens",
            Self::Cyan => "blue-greens",
            Self::Blue => "blues",
            Self::Purple => "purples",
            Self::Magenta => "pinks",
            Self::Skin => "skin",
            Self::Foliage => "foliage",
            Self::Sky => "sky",
        }
    }

    /// The family of a patch: what it shows where the layout states that, else its hue; `None` where its colour is not known.
    ///
    /// ```
    /// # use twinwedge_core::greys::colour::{Family, Lab, Shows};
    /// let leaf = Lab { l: 43.0, a: -13.0, b: 22.0 };
    /// assert_eq!(Family::of(Shows::Colour, Some(leaf)), Some(Family::Green));
    /// assert_eq!(Family::of(Shows::Foliage, Some(leaf)), Some(Family::Foliage));
    /// assert_eq!(Family::of(Shows::Colour, None), None);
    /// ```
    #[must_use]
    pub fn of(shows: Shows, lab: Option<Lab>) -> Option<Self> {
        match shows {
            Shows::Grey => Some(Self::Neutral),
            Shows::Skin => Some(Self::Skin),
            Shows::Foliage => Some(Self::Foliage),
            Shows::Sky => Some(Self::Sky),
            Shows::Colour => lab.map(Self::of_lab),
        }
    }

    fn of_lab(lab: Lab) -> Self {
        if lab.chroma() < LEAST_CHROMA {
            return Self::Neutral;
        }
        let hue = lab.hue();
        let found = FAMILIES.iter().rev().find(|(from, _)| hue >= *from);
        // Below the first: magentas reach over red's zero.
        found.map_or(Self::Magenta, |(_, family)| *family)
    }
}
