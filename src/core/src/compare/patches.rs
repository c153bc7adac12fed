//! Patches and spots of two prints beside each other.

use crate::compare::{FilmFigures, PatchRow};
use crate::document::PatchRole;
use crate::measured::Value;
use crate::patch::PatchSample;
use crate::tablet::{StepSample, of_prints};
use crate::words::{self, Side};

use super::difference::distinguishable;

/// The patches of both prints, in the order of the layout (or of the reference's samples without one).
pub(super) fn patch_rows(reference: &FilmFigures, candidate: &FilmFigures) -> Vec<PatchRow> {
    let layout = reference.layout.as_ref().or(candidate.layout.as_ref());
    let names: Vec<(String, Option<PatchRole>)> = match layout {
        Some(layout) => layout.patches.iter().map(|patch| (patch.name.clone(), Some(patch.role))).collect(),
        None => names_of(&reference.patches, &candidate.patches).map(|name| (name, None)).collect(),
    };
    if reference.patches.is_empty() && candidate.patches.is_empty() {
        return Vec::new();
    }
    let card =
        names.iter().find(|(_, role)| *role == Some(PatchRole::GreyCard)).map(|(name, _)| name.as_str());
    let cards = card.map(|name| (sample(&reference.patches, name), sample(&candidate.patches, name)));
    let row = |(name, role): (String, Option<PatchRole>)| {
        row(name, role, (&reference.patches, &candidate.patches), cards)
    };
    names.into_iter().map(row).collect()
}

/// The spots of both prints, in the order of the reference's.
pub(super) fn spot_rows(reference: &FilmFigures, candidate: &FilmFigures) -> Vec<PatchRow> {
    let layout = reference.layout.as_ref().or(candidate.layout.as_ref());
    let card = layout.and_then(|layout| {
        layout.patches.iter().find(|patch| patch.role == PatchRole::GreyCard).map(|patch| patch.name.as_str())
    });
    let cards = card.map(|name| (sample(&reference.patches, name), sample(&candidate.patches, name)));
    names_of(&reference.spots, &candidate.spots)
        .map(|name| row(name, None, (&reference.spots, &candidate.spots), cards))
        .collect()
}

fn names_of<'a>(
    reference: &'a [PatchSample],
    candidate: &'a [PatchSample],
) -> impl Iterator<Item = String> + use<'a> {
    let only_candidate =
        candidate.iter().filter(|patch| !reference.iter().any(|other| other.name == patch.name));
    reference.iter().chain(only_candidate).map(|patch| patch.name.clone())
}

fn sample<'a>(samples: &'a [PatchSample], name: &str) -> Option<&'a StepSample> {
    samples.iter().find(|patch| patch.name == name).map(|patch| &patch.sample)
}

type Cards<'a> = (Option<&'a StepSample>, Option<&'a StepSample>);

fn row(
    name: String,
    role: Option<PatchRole>,
    (reference, candidate): (&[PatchSample], &[PatchSample]),
    cards: Option<Cards<'_>>,
) -> PatchRow {
    let (r, c) = (sample(reference, &name), sample(candidate, &name));
    let value = |sample: Option<&StepSample>, whose: Side| match sample {
        Some(sample) => Value::Known(sample.density.plain()),
        None => Value::Undefined(words::Pair::NotSampledIn { whose }.into()),
    };
    let difference = match (r, c) {
        (Some(r), Some(c)) => Value::Known(of_prints(&[(1.0, c, r)])),
        _ => Value::Undefined(words::Pair::NotSampledInBoth.into()),
    };
    let against_grey = match (r, c, cards, role) {
        (_, _, _, Some(PatchRole::GreyCard)) => Value::Undefined(words::Pair::GreyCardItself.into()),
        (Some(r), Some(c), Some((Some(card_r), Some(card_c))), _) => {
            // (c - card_c) - (r - card_r), four readings.
            Value::Known(of_prints(&[(1.0, c, r), (-1.0, card_c, card_r)]))
        }
        (Some(_), Some(_), None, _) => Value::Undefined(words::Pair::NoGreyCard.into()),
        (Some(_), Some(_), _, _) => Value::Undefined(words::Pair::GreyCardNotSampled.into()),
        _ => Value::Undefined(words::Pair::NotSampledInBoth.into()),
    };
    let distinguishable = distinguishable(&difference);
    PatchRow {
        reference: value(r, Side::Reference),
        candidate: value(c, Side::Candidate),
        name,
        role,
        difference,
        against_grey,
        distinguishable,
    }
}
