//! Filters: what they take from a film's exposure, what they do to its greys, and which brings one film nearest to another.

use serde::{Deserialize, Serialize};

use super::holm;
use super::sensitivity::Sensitivity;
use super::spectrum::Spectrum;
use super::stops::{Grey, Greys};
use super::tables::{FILTERS, FILTERS_FROM};
use crate::measured::Measured;
use crate::numeric::math;
use crate::units::Stops;

/// Filters by their standard numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Numbered {
    /// Yellow.
    No8,
    /// Yellowish green.
    No11,
    /// Deep yellow.
    No12,
    /// Dark yellow.
    No15,
    /// Orange.
    No21,
    /// Light red.
    No23A,
    /// Red.
    No25,
    /// Deep red.
    No29,
    /// Deep blue.
    No47B,
    /// Green.
    No58,
    /// Deep green.
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

/// A filter.
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

/// A film: its greys as measured, and the sensitivity found from them.
#[derive(Debug, Clone, Copy)]
pub struct Film<'a> {
    /// Greys.
    pub greys: &'a Greys,
    /// Sensitivity.
    pub sensitivity: &'a Sensitivity,
}

/// What the choice is made from.
#[derive(Debug, Clone, Copy)]
pub struct Choices<'a> {
    /// The light that the films were tested under.
    pub tested: &'a Spectrum,
    /// Lights to choose from; both films are taken under the same.
    pub lights: &'a [Spectrum],
    /// Filters to choose from, on the candidate alone.
    pub filters: &'a [Filter],
    /// Reflectance of each patch, where known.
    pub patches: &'a [Option<&'a Spectrum>],
    /// Reflectance of the grey card.
    pub card: &'a Spectrum,
}

/// What is left of the difference of one patch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Left {
    /// Its number in the layout.
    pub patch: usize,
    /// Candidate through the filter minus reference, in stops.
    pub difference: Measured<Stops>,
    /// Beyond doubt, for all patches together.
    pub stays: bool,
}

/// One light and one filter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Choice {
    /// Number of the light.
    pub light: usize,
    /// Number of the filter; `None` for no filter.
    pub filter: Option<usize>,
    /// Root of the mean squared difference of all patches, in stops. What their errors add is in it.
    pub distance: Measured<Stops>,
    /// Not distinguishable from the nearest of the same light.
    pub as_good: bool,
    /// The filter's factor for the candidate under this light.
    pub factor: Option<Factor>,
    /// What stays different.
    pub left: Vec<Left>,
}

/// Exposure of every patch and of the card by a unit of each node.
struct Exposures {
    patches: Vec<Vec<f64>>,
    card: Vec<f64>,
}

impl Exposures {
    fn of(
        light: &Spectrum,
        filter: Option<&Filter>,
        nodes: &[f64],
        patches: &[&Spectrum],
        card: &Spectrum,
    ) -> Self {
        const GRID: f64 = 5.0;
        let (first, last) = (nodes[0], nodes[nodes.len() - 1]);
        let width = (last - first) / (nodes.len() - 1) as f64;
        let count = ((last - first) / GRID).round() as usize;
        let sums = |reflects: &Spectrum| {
            let mut sums = vec![0.0; nodes.len()];
            for i in 0..=count {
                let nm = (first + GRID * i as f64).min(last);
                // No light beyond its spectrum, as in the estimate of the sensitivity.
                let power =
                    light.at(nm).unwrap_or_default() * filter.map_or(1.0, |filter| filter.nearest(nm));
                let at = (nm - first) / width;
                let below = (at.floor() as usize).min(nodes.len() - 2);
                let share = at - below as f64;
                sums[below] += (1.0 - share) * power * reflects.nearest(nm);
                sums[below + 1] += share * power * reflects.nearest(nm);
            }
            sums
        };
        Self { patches: patches.iter().map(|patch| sums(patch)).collect(), card: sums(card) }
    }

    fn stops(&self, patch: usize, sensitivity: &[f64]) -> f64 {
        let dot = |a: &[f64]| a.iter().zip(sensitivity).map(|(a, b)| a * b).sum::<f64>();
        math::log2(dot(&self.patches[patch]) / dot(&self.card))
    }
}

/// Which filter on the candidate brings it nearest to the reference under each light, nearest first, with no filter among the
/// choices. What filter and light change is predicted from the sensitivities, the rest is as measured, all draw by draw.
/// Empty where no patch was read on both films and has a known reflectance.
#[must_use]
pub fn nearest(reference: Film<'_>, candidate: Film<'_>, choices: &Choices<'_>) -> Vec<Choice> {
    let stops = |greys: &Greys, patch: usize| greys.patches.get(patch).and_then(Grey::in_stops).cloned();
    let known = choices.patches.iter().enumerate().filter_map(|(patch, reflectance)| {
        Some((patch, (*reflectance)?, stops(reference.greys, patch)?, stops(candidate.greys, patch)?))
    });
    let known: Vec<_> = known.collect();
    if known.is_empty() {
        return Vec::new();
    }
    let spectra: Vec<&Spectrum> = known.iter().map(|(_, reflectance, ..)| *reflectance).collect();
    let exposures = |film: Film<'_>, light: &Spectrum, filter: Option<&Filter>| {
        Exposures::of(light, filter, &film.sensitivity.nodes, &spectra, choices.card)
    };
    let before = (exposures(reference, choices.tested, None), exposures(candidate, choices.tested, None));
    let one = |light: usize, number: Option<usize>| {
        let filter = number.map(|number| &choices.filters[number]);
        let after = (
            exposures(reference, &choices.lights[light], None),
            exposures(candidate, &choices.lights[light], filter),
        );
        let moved = |i: usize, r: &[f64], c: &[f64]| {
            (after.1.stops(i, c) - before.1.stops(i, c)) - (after.0.stops(i, r) - before.0.stops(i, r))
        };
        let best = |i: usize| {
            let (_, _, r, c) = &known[i];
            c.stops.value.0 - r.stops.value.0
                + moved(i, &reference.sensitivity.values, &candidate.sensitivity.values)
        };
        let draws = |i: usize| -> Vec<f64> {
            let (_, _, r, c) = &known[i];
            let films = reference.sensitivity.draws.iter().zip(&candidate.sensitivity.draws);
            films
                .zip(r.draws.iter().zip(&c.draws))
                .map(|((rs, cs), (r, c))| c - r + moved(i, rs, cs))
                .collect()
        };
        let values: Vec<f64> = (0..known.len()).map(best).collect();
        let drawn: Vec<Vec<f64>> = (0..known.len()).map(draws).collect();
        choice((light, number), filter, &known, (&values, &drawn), (candidate, choices))
    };
    let mut list = Vec::new();
    for light in 0..choices.lights.len() {
        let filters = core::iter::once(None).chain((0..choices.filters.len()).map(Some));
        let mut of_light: Vec<(Choice, Vec<f64>)> = filters.filter_map(|filter| one(light, filter)).collect();
        of_light.sort_by(|a, b| a.0.distance.number().total_cmp(&b.0.distance.number()));
        let Some((first, nearest)) =
            of_light.first().map(|(choice, draws)| (choice.distance.number(), draws.clone()))
        else {
            continue;
        };
        list.extend(of_light.into_iter().map(|(mut choice, draws)| {
            let apart: Vec<f64> = draws.iter().zip(&nearest).map(|(draw, nearest)| draw - nearest).collect();
            let found = holm::by_draws(choice.distance.number() - first, &apart, true);
            choice.as_good = found.is_none_or(|found| found.low <= 0.0);
            choice
        }));
    }
    list.sort_by(|a, b| a.distance.number().total_cmp(&b.distance.number()));
    list
}

type Known<'a> = (usize, &'a Spectrum, super::stops::InStops, super::stops::InStops);

fn choice(
    (light, number): (usize, Option<usize>),
    filter: Option<&Filter>,
    known: &[Known<'_>],
    (values, drawn): (&[f64], &[Vec<f64>]),
    (candidate, choices): (Film<'_>, &Choices<'_>),
) -> Option<(Choice, Vec<f64>)> {
    let root = |squares: f64| math::sqrt(squares / values.len() as f64);
    let distance = root(values.iter().map(|value| value * value).sum());
    let distances: Vec<f64> = (0..drawn[0].len())
        .map(|draw| root(drawn.iter().map(|draws| draws[draw] * draws[draw]).sum()))
        .collect();
    let in_stops =
        |found: Measured| Measured::with_interval(Stops(found.value), found.u, found.low, found.high);
    let left = known.iter().zip(values).zip(drawn).map(|(((patch, ..), value), draws)| {
        Some(Left { patch: *patch, difference: in_stops(holm::by_draws(*value, draws, true)?), stays: false })
    });
    let mut left: Vec<Left> = left.collect::<Option<_>>()?;
    let chances: Vec<f64> = left.iter().map(|left| holm::chance(&left.difference)).collect();
    for (left, chance) in left.iter_mut().zip(holm::adjusted(&chances)) {
        left.stays = chance < holm::LEVEL;
    }
    let factor = filter
        .zip(candidate.sensitivity.spectrum())
        .and_then(|(filter, sensitivity)| factor(&choices.lights[light], &sensitivity, filter));
    let distance = in_stops(holm::by_draws(distance, &distances, false)?);
    Some((Choice { light, filter: number, distance, as_good: false, factor, left }, distances))
}
