//! Colours as greys, sensitivities, filters and light as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::compare::greys as words;
use twinwedge_core::greys::colour::Family;
use twinwedge_core::greys::filters::{Choice, Factor};
use twinwedge_core::greys::lighting::{Cause, Lighting};
use twinwedge_core::greys::pair::{BandsPair, GreysPair, band_words};
use twinwedge_core::greys::rendering::{PatchRendering, Rendered};
use twinwedge_core::greys::sensitivity::Sensitivity;
use twinwedge_core::greys::stops::{Found, Grey, Route};
use twinwedge_core::measured::Measured;
use twinwedge_core::units::Stops;

use super::written::{DENSITY, RATIO, STOPS, measured_json};
use crate::engine::ask::FilterAdvice;

fn stops_json(stops: &Measured<Stops>) -> Json {
    measured_json(&stops.plain(), STOPS)
}

fn route_word(route: Route) -> &'static str {
    match route {
        Route::Neutrals => "neutral patches",
        Route::Curves => "curves of paper and film",
        Route::Bare => "not corrected for contrast",
    }
}

/// The greys of one print as JSON, measured numbers in the form of [`figures_json`](super::figures_json): how stops were found,
/// each patch in stops from the grey card (or its bare difference of density, called so), and what speaks against them.
#[must_use]
pub fn greys_json(found: &Found, names: &[String]) -> Json {
    let patch = |(number, grey): (usize, &Grey)| {
        let (kind, key, value) = match grey {
            Grey::Neutral(stops) => ("neutral", "from_grey_card", stops_json(&stops.stops)),
            Grey::Stops(stops) => ("read", "from_grey_card", stops_json(&stops.stops)),
            Grey::Bare(density) => {
                ("not corrected for contrast", "density_difference", measured_json(&density.plain(), DENSITY))
            }
            Grey::Unread(why) => {
                ("not read", "from_grey_card", json!({ "value": null, "reason": words::unread(*why) }))
            }
        };
        json!({ "name": names.get(number), "is": kind, key: value })
    };
    let agreement = found.agreement.as_ref().map(|agreement| {
        let patches = agreement.patches.iter().map(|patch| {
            json!({
                "name": names.get(patch.patch),
                "difference": stops_json(&patch.difference),
                "disagrees": patch.disagrees,
            })
        });
        json!({ "largest": agreement.largest, "patches": patches.collect::<Vec<_>>() })
    });
    let closed = found.closed.iter().map(|(way, why)| words::closed(*way, *why));
    json!({
        "by": route_word(found.greys.route),
        "grey_card": names.get(found.greys.card),
        "patches": found.greys.patches.iter().enumerate().map(patch).collect::<Vec<_>>(),
        "closed": closed.collect::<Vec<_>>(),
        "agreement": agreement,
        "doubts": words::doubts(found, names),
    })
}

fn said(rendered: Rendered) -> &'static str {
    match rendered {
        Rendered::Lighter => "lighter",
        Rendered::Darker => "darker",
        Rendered::NotDistinguishable => "not distinguishable",
        Rendered::Neutral => "neutral",
        Rendered::NotCorrected => "not corrected for contrast",
        Rendered::Unread(..) => "not read",
    }
}

fn family_json(family: Option<Family>) -> Json {
    json!(family.map(Family::words))
}

/// Two films' greys beside each other as JSON: those of both, each patch's difference in stops, positive where the candidate is
/// lighter, and families of colours.
#[must_use]
pub fn rendering_json(pair: &GreysPair) -> Json {
    let row = |row: &PatchRendering| {
        json!({
            "name": pair.names.get(row.patch),
            "family": family_json(row.family),
            "difference": row.difference.as_ref().map(stops_json),
            "said": said(row.rendered),
            "words": words::rendered(row.rendered),
        })
    };
    let families = pair.rendering.families.iter().map(|family| {
        json!({
            "family": family.family.words(),
            "members": family.patches.iter().map(|patch| pair.names.get(*patch)).collect::<Vec<_>>(),
            "difference": stops_json(&family.difference),
            "span": { "low": family.span.0, "high": family.span.1 },
            "said": said(family.rendered),
        })
    });
    json!({
        "reference": greys_json(&pair.reference, &pair.names),
        "candidate": greys_json(&pair.candidate, &pair.names),
        "patches": pair.rendering.rows.iter().map(row).collect::<Vec<_>>(),
        "families": families.collect::<Vec<_>>(),
    })
}

/// A film's sensitivity as JSON: bands with share and relative sensitivity, what any sensitivity might have there that explains
/// the patches, whether the patches tell the band from others, and what kind of film is left.
#[must_use]
pub fn sensitivity_json(found: &Sensitivity) -> Json {
    let count = found.bands.len();
    let bands = found.bands.iter().zip(found.told_apart()).enumerate().map(|(number, (band, told))| {
        json!({
            "name": band_words(number, count),
            "from_nm": band.from,
            "to_nm": band.to,
            "exposure_share": measured_json(&band.share, RATIO),
            "relative_sensitivity": measured_json(&band.relative, RATIO),
            "possible": { "low": band.possible.0, "high": band.possible.1 },
            "told_apart": told,
        })
    });
    let [green, red, extended] = found.classes.bands.map(words::sees);
    json!({
        "bands": bands.collect::<Vec<_>>(),
        "may_be": found.classes.left.iter().map(|class| words::class(*class)).collect::<Vec<_>>(),
        "sees": { "green": green, "red": red, "extended_red": extended },
        "curve": found.nodes.iter().zip(&found.values).map(|(nm, value)| json!({ "nm": nm, "relative": value }))
            .collect::<Vec<_>>(),
        "independent_numbers": found.told,
        "error_scale": found.error_scale,
    })
}

/// Two films' sensitivities as JSON, and by how many stops more of its exposure the candidate takes from each band.
#[must_use]
pub fn bands_json(pair: &BandsPair) -> Json {
    let count = pair.against.len();
    let band = |(number, (difference, told)): (usize, (&Option<Measured<Stops>>, bool))| {
        json!({
            "name": band_words(number, count),
            "difference": difference.as_ref().map(stops_json),
            "told_apart": told,
        })
    };
    json!({
        "under_light": pair.light,
        "reference": sensitivity_json(&pair.reference),
        "candidate": sensitivity_json(&pair.candidate),
        "bands": pair.against.iter().zip(pair.told()).enumerate().map(band).collect::<Vec<_>>(),
    })
}

/// A filter's factor as JSON.
#[must_use]
pub fn factor_json(factor: &Factor) -> Json {
    json!({ "exposure_factor": factor.factor, "in_stops": factor.stops, "covered_share": factor.covered })
}

/// Filters on the candidate as JSON, under each light the nearest to the reference first.
#[must_use]
pub fn filters_json(advice: &FilterAdvice, names: &[String]) -> Json {
    let choice = |choice: &Choice| {
        let stays = choice.left.iter().filter(|left| left.stays);
        json!({
            "under_light": advice.lights.get(choice.light),
            "filter": choice.filter.and_then(|number| advice.filters.get(number)).map(|number| number.words().0),
            "distance": stops_json(&choice.distance),
            "as_good_as_the_nearest": choice.as_good,
            "filter_factor": choice.factor.as_ref().map(factor_json),
            "stays_different": stays.map(|left| names.get(left.patch)).collect::<Vec<_>>(),
        })
    };
    json!(advice.choices.iter().map(choice).collect::<Vec<_>>())
}

fn cause_word(cause: Cause) -> &'static str {
    match cause {
        Cause::Exposure => "exposure",
        Cause::UnevenReference => "uneven light, reference",
        Cause::UnevenCandidate => "uneven light, candidate",
        Cause::Changed => "changed light",
        Cause::Flare => "flare",
        Cause::Colour => "colour of the light",
    }
}

/// What the neutral patches tell of the light on both frames, as JSON.
#[must_use]
pub fn lighting_json(lighting: &Lighting) -> Json {
    let told = lighting.told.iter().map(|told| {
        json!({
            "cause": cause_word(told.cause),
            "fakes": stops_json(&told.fakes),
            "distinguishable": told.distinguishable,
            "words": words::told(told),
        })
    });
    json!({
        "told": told.collect::<Vec<_>>(),
        "not_told": lighting.untold.iter().map(|untold| words::untold(*untold)).collect::<Vec<_>>(),
        "flare": {
            "reference": measured_json(&lighting.flare[0], RATIO),
            "candidate": measured_json(&lighting.flare[1], RATIO),
        },
        "reference_error_scale": lighting.error_scale[0],
        "candidate_error_scale": lighting.error_scale[1],
    })
}
