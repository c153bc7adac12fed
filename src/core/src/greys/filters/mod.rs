//! Filters: what they take from a film's exposure, what they do to its greys, and which brings one film nearest to another.

mod nearest;

pub use nearest::{Choice, Choices, Film, Left, nearest};

use serde::{Deserialize, Serialize};

use super::spectrum::Spectrum;
use super::tables::{FILTERS, FILTERS_FROM};
use crate::numeric::math;

/// Filters by their standard numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Numbered {
    /// A yellow filter.
    No8,
    /// A yellowish green filter.
    No11,
    /// A deep yellow filter.
    No12,
    /// A dark yellow filter.
    No15,
    /// An orange filter.
    No21,
    /// A light red filter.
    No23A,
    /// A red filter.
    No25,
    /// A deep red filter.
    No29,
    /// A deep blue filter.
    No47B,
    /// A green filter.
    No58,
    /// A deep green filter.
    No61,
}

impl Numbered {
    /// All of them, in the order of their numbers.
    pub const ALL: [Self; 11] = [
        Self::No8,
        Self::No11,
        Self::No12,
        Self::No15,
        Self::No21,
        Self::No23A,
        Self::No25,
        Self::No29,
        Self::No47B,
        Self::No58,
        Self::No61,
    ];

    /// Its number, and its colour in words.
    ///
    /// ```
    /// # use twinwedge_core::greys::filters::Numbered;
    /// assert_eq!(Numbered::No25.words(), ("25", "red"));
    /// ```
    #[must_use]
    pub fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::No8 => ("8", "yellow"),
            Self::No11 => ("11", "yellowish green"),
            Self::No12 => ("12", "deep yellow"),
            Self::No15 => ("15", "dark yellow"),
            Self::No21 => ("21", "orange"),
            Self::No23A => ("23A", "light red"),
            Self::No25 => ("25", "red"),
            Self::No29 => ("29", "deep red"),
            Self::No47B => ("47B", "deep blue"),
            Self::No58 => ("58", "green"),
            Self::No61 => ("61", "deep green"),
        }
    }
}

/// A filter in front of the lens: an ideal one, one by its number, or one as measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Filter {
    /// Lets through everything from this wavelength on, nothing below.
    CutOn(f64),
    /// Lets through everything up to this wavelength, nothing beyond.
    CutOff(f64),
    /// Lets through everything between two wavelengths, nothing else.
    Pass(f64, f64),
    /// A filter of the standard numbers, 400 to 700 nm.
    Numbered(Numbered),
    /// A measured transmittance.
    Measured(Spectrum),
}

impl Filter {
    /// Transmittance at a wavelength; `None` where it is not known.
    #[must_use]
    pub fn transmittance(&self, nm: f64) -> Option<f64> {
        let through = |lets: bool| Some(f64::from(u8::from(lets)));
        match self {
            Self::CutOn(from) => through(nm >= *from),
            Self::CutOff(to) => through(nm <= *to),
            Self::Pass(from, to) => through((*from..=*to).contains(&nm)),
            Self::Numbered(number) => {
                let (_, table) = FILTERS.iter().find(|(named, _)| named == number)?;
                let at = (nm - FILTERS_FROM) / 10.0;
                if !(0.0..=(table.len() - 1) as f64).contains(&at) {
                    return None;
                }
                let below = (at.floor() as usize).min(table.len() - 2);
                let value = |i: usize| f64::from(table[i]) / 1e4;
                Some(value(below) + (at - below as f64) * (value(below + 1) - value(below)))
            }
            Self::Measured(spectrum) => spectrum.at(nm),
        }
    }

    /// Transmittance, beyond where it is known that of the nearest wavelength at which it is.
    fn nearest(&self, nm: f64) -> f64 {
        let known = match self {
            Self::Numbered(_) => (FILTERS_FROM, FILTERS_FROM + 10.0 * (FILTERS[0].1.len() - 1) as f64),
            Self::Measured(spectrum) => spectrum.range(),
            _ => (nm, nm),
        };
        self.transmittance(nm.clamp(known.0, known.1)).unwrap_or_default()
    }
}

/// What a filter takes from a film's exposure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Factor {
    /// By how many times the exposure must be longer.
    pub factor: f64,
    /// The same in stops.
    pub stops: f64,
    /// Share of the film's exposure without the filter that falls where the filter's transmittance is known; the factor holds for
    /// that share.
    pub covered: f64,
}

/// Wavelengths of a sum by 10 nm that both spectra hold.
fn wavelengths(one: &Spectrum, other: &Spectrum) -> impl Iterator<Item = f64> + use<> {
    let (a, b) = (one.range(), other.range());
    let first = (a.0.max(b.0) / 10.0 - 1e-9).ceil() as i64;
    let last = (a.1.min(b.1) / 10.0 + 1e-9).floor() as i64;
    (first..=last).map(|ten| 10.0 * ten as f64)
}

/// The factor of a filter for a film under a light: exposure without over exposure with it, both summed by 10 nm over the
/// wavelengths at which light, sensitivity and filter are known. `None` where the film sees nothing through it.
#[must_use]
pub fn factor(light: &Spectrum, sensitivity: &Spectrum, filter: &Filter) -> Option<Factor> {
    let (mut all, mut without, mut with) = (0.0, 0.0, 0.0);
    for nm in wavelengths(light, sensitivity) {
        let seen = light.at(nm)? * sensitivity.at(nm)?;
        all += seen;
        if let Some(through) = filter.transmittance(nm) {
            without += seen;
            with += seen * through;
        }
    }
    (with > 0.0).then(|| {
        let factor = without / with;
        Factor { factor, stops: math::log2(factor), covered: without / all }
    })
}

/// Stops of a reflectance from the grey card as a film of that sensitivity would render them, by sums over 10 nm; `None` where
/// either gives no exposure.
#[must_use]
pub fn stops_through(
    light: &Spectrum,
    filter: Option<&Filter>,
    sensitivity: &Spectrum,
    (patch, card): (&Spectrum, &Spectrum),
) -> Option<f64> {
    let (mut of_patch, mut of_card) = (0.0, 0.0);
    for nm in wavelengths(light, sensitivity) {
        let seen = light.at(nm)? * sensitivity.at(nm)? * filter.map_or(1.0, |filter| filter.nearest(nm));
        of_patch += seen * patch.nearest(nm);
        of_card += seen * card.nearest(nm);
    }
    (of_patch > 0.0 && of_card > 0.0).then(|| math::log2(of_patch / of_card))
}
