//! Two films beside each other: which patches and which families of colour the candidate renders lighter or darker.

use std::collections::BTreeMap;

use serde::Serialize;

use super::colour::Family;
use super::holm;
use super::stops::{Grey, Greys, Route, Unread};
use crate::measured::{Flags, Measured};
use crate::units::Stops;

/// Chance that in a comparison of two films any patch (or any family) is called lighter or darker that is not. A side is a strong
/// word: one comparison in a hundred, not in twenty.
pub const SIDES: f64 = 0.01;

/// What is said of a patch or a family.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rendered {
    /// The candidate renders it lighter, beyond doubt for all together.
    Lighter,
    /// The candidate renders it darker, beyond doubt for all together.
    Darker,
    /// The difference does not exceed its uncertainty.
    NotDistinguishable,
    /// A neutral, by which the others are read.
    Neutral,
    /// Densities are not corrected for contrast: nothing is said.
    NotCorrected,
    /// It has no number in the reference (first), the candidate (second) or both.
    Unread(Option<Unread>, Option<Unread>),
}

/// One patch of both films.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PatchRendering {
    /// Its number in the layout.
    pub patch: usize,
    /// Its family of colours where that is known.
    pub family: Option<Family>,
    /// Candidate minus reference in stops against the grey card, positive where the candidate is lighter.
    pub difference: Option<Measured<Stops>>,
    /// Probability of as large a difference by chance, adjusted for the number of patches.
    pub chance: Option<f64>,
    /// What is said of it.
    pub rendered: Rendered,
    /// The difference in every draw.
    #[serde(skip)]
    pub draws: Vec<f64>,
}

/// A family of colours of both films.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FamilyRow {
    /// The family that this row is of.
    pub family: Family,
    /// Patches of it that both films have.
    pub patches: Vec<usize>,
    /// Mean difference of these patches.
    pub difference: Measured<Stops>,
    /// Smallest and largest difference among them.
    pub span: (f64, f64),
    /// Probability of as large a mean by chance, adjusted for the number of families.
    pub chance: f64,
    /// What is said of it.
    pub rendered: Rendered,
}

/// Two films beside each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rendering {
    /// Patches, in the order of the layout.
    pub rows: Vec<PatchRendering>,
    /// Families, those of hue first.
    pub families: Vec<FamilyRow>,
}

/// Why two films cannot be put beside each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Incomparable {
    /// They have not the same number of patches.
    Patches,
    /// Another patch is the grey card.
    Card,
    /// One has neutrals read beside it, the other curves: what flare does is in one and not in the other.
    Routes(Route, Route),
    /// Their draws are not as many, so that errors in common cannot cancel.
    Draws,
}

fn verdict<Q: crate::units::Quantity>(difference: &Measured<Q>, chance: f64) -> Rendered {
    if chance >= SIDES || !difference.excludes_zero() {
        Rendered::NotDistinguishable
    } else if difference.number() > 0.0 {
        Rendered::Lighter
    } else {
        Rendered::Darker
    }
}

fn in_stops(found: Measured, flags: Flags) -> Measured<Stops> {
    Measured::with_interval(Stops(found.value), found.u, found.low, found.high).flagged(flags)
}

/// The candidate's greys beside the reference's. `families` holds the family of each patch where it is known. Differences are
/// taken draw by draw: errors of the target and of curves that both share cancel. Both must have been found with one seed.
///
/// # Errors
/// Why they cannot be put beside each other.
pub fn rendering(
    reference: &Greys,
    candidate: &Greys,
    families: &[Option<Family>],
) -> Result<Rendering, Incomparable> {
    check(reference, candidate)?;
    let both = reference.patches.iter().zip(&candidate.patches).enumerate();
    let mut rows: Vec<PatchRendering> =
        both.map(|(patch, (r, c))| row(patch, families.get(patch).copied().flatten(), r, c)).collect();
    let measured: Vec<usize> = (0..rows.len()).filter(|place| rows[*place].difference.is_some()).collect();
    let chances: Vec<f64> =
        measured.iter().filter_map(|place| rows[*place].difference.as_ref().map(holm::chance)).collect();
    for (place, chance) in measured.iter().zip(holm::adjusted(&chances)) {
        let row = &mut rows[*place];
        row.chance = Some(chance);
        if let Some(difference) = &row.difference {
            row.rendered = verdict(difference, chance);
        }
    }
    let families = family_rows(&rows);
    Ok(Rendering { rows, families })
}

fn check(reference: &Greys, candidate: &Greys) -> Result<(), Incomparable> {
    if reference.patches.len() != candidate.patches.len() {
        return Err(Incomparable::Patches);
    }
    if reference.card != candidate.card {
        return Err(Incomparable::Card);
    }
    let routes = (reference.route, candidate.route);
    if routes.0 != routes.1 && routes.0 != Route::Bare && routes.1 != Route::Bare {
        return Err(Incomparable::Routes(routes.0, routes.1));
    }
    let draws = |greys: &Greys| greys.patches.iter().find_map(Grey::in_stops).map(|stops| stops.draws.len());
    match (draws(reference), draws(candidate)) {
        (Some(r), Some(c)) if r != c => Err(Incomparable::Draws),
        _ => Ok(()),
    }
}

fn row(patch: usize, family: Option<Family>, reference: &Grey, candidate: &Grey) -> PatchRendering {
    let unread = |grey: &Grey| match grey {
        Grey::Unread(reason) => Some(*reason),
        _ => None,
    };
    let empty = |rendered| PatchRendering {
        patch,
        family,
        difference: None,
        chance: None,
        rendered,
        draws: Vec::new(),
    };
    match (reference, candidate) {
        (Grey::Stops(r), Grey::Stops(c)) => {
            let draws: Vec<f64> = c.draws.iter().zip(&r.draws).map(|(c, r)| c - r).collect();
            let value = c.stops.value.0 - r.stops.value.0;
            // Draws that one or the other lacks may be more than one in forty together.
            let found = holm::by_draws(value, &draws, true);
            let flags = r.stops.flags | c.stops.flags;
            let rendered = Rendered::NotDistinguishable;
            let difference = Some(found.map_or_else(
                || in_stops(c.stops.plain().minus(&r.stops.plain()), flags),
                |found| in_stops(found, flags),
            ));
            PatchRendering { patch, family, difference, chance: None, rendered, draws }
        }
        (Grey::Unread(_), _) | (_, Grey::Unread(_)) => {
            empty(Rendered::Unread(unread(reference), unread(candidate)))
        }
        (Grey::Neutral(_), _) | (_, Grey::Neutral(_)) => empty(Rendered::Neutral),
        (Grey::Bare(_), _) | (_, Grey::Bare(_)) => empty(Rendered::NotCorrected),
    }
}

fn family_rows(rows: &[PatchRendering]) -> Vec<FamilyRow> {
    let mut members: BTreeMap<Family, Vec<&PatchRendering>> = BTreeMap::new();
    for row in rows.iter().filter(|row| row.difference.is_some()) {
        if let Some(family) = row.family {
            members.entry(family).or_default().push(row);
        }
    }
    let of = |(family, rows): (Family, Vec<&PatchRendering>)| {
        let values: Vec<f64> =
            rows.iter().filter_map(|row| Some(row.difference.as_ref()?.number())).collect();
        let count = values.len() as f64;
        let mean = values.iter().sum::<f64>() / count;
        // A patch near an end of its curve may lack a draw; the others still have it.
        let mean_of = |draw: usize| {
            let known = rows.iter().map(|row| row.draws[draw]).filter(|value| value.is_finite());
            let (sum, count) = known.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
            sum / count
        };
        let draws: Vec<f64> = (0..rows[0].draws.len()).map(mean_of).collect();
        let flags = rows
            .iter()
            .filter_map(|row| row.difference.as_ref())
            .fold(Flags::empty(), |all, one| all | one.flags);
        let difference = in_stops(holm::by_draws(mean, &draws, true)?, flags);
        let span = values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(*value), high.max(*value))
        });
        let patches = rows.iter().map(|row| row.patch).collect();
        Some(FamilyRow {
            family,
            patches,
            difference,
            span,
            chance: 1.0,
            rendered: Rendered::NotDistinguishable,
        })
    };
    let mut found: Vec<FamilyRow> = members.into_iter().filter_map(of).collect();
    let chances: Vec<f64> = found.iter().map(|row| holm::chance(&row.difference)).collect();
    for (row, chance) in found.iter_mut().zip(holm::adjusted(&chances)) {
        row.chance = chance;
        row.rendered = verdict(&row.difference, chance);
    }
    found
}
