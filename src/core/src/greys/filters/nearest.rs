//! Which filter brings one film nearest to another.

use serde::Serialize;

use super::{Factor, Filter, factor};
use crate::greys::holm;
use crate::greys::sensitivity::Sensitivity;
use crate::greys::spectrum::Spectrum;
use crate::greys::stops::{Grey, Greys, InStops};
use crate::measured::Measured;
use crate::numeric::math;
use crate::units::Stops;

/// A film: its greys as measured, and the sensitivity found from them.
#[derive(Debug, Clone, Copy)]
pub struct Film<'a> {
    /// Its patches in stops from the grey card.
    pub greys: &'a Greys,
    /// Its exposure by wavelength.
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
            let apart = c.stops.value.0 - r.stops.value.0;
            // A patch near an end of its curve may lack a draw.
            let read =
                r.draws.iter().zip(&c.draws).map(|(r, c)| if (c - r).is_finite() { c - r } else { apart });
            let films = reference.sensitivity.draws.iter().zip(&candidate.sensitivity.draws);
            films.zip(read).map(|((rs, cs), read)| read + moved(i, rs, cs)).collect()
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

type Known<'a> = (usize, &'a Spectrum, InStops, InStops);

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
