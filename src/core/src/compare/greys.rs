//! Colours as greys in words: what pages, reports and verbs say of patches, ways back to stops, kinds of film, and light.

use super::format;
use crate::greys::filters::{Filter, Numbered};
use crate::greys::lighting::{Cause, Lighting, Told, Untold};
use crate::greys::rendering::Rendered;
use crate::greys::sensitivity::{Class, Classes, Verdict};
use crate::greys::stops::{Agreement, Doubt, End, Found, NoRoute, Route, Unread};
use crate::measured::Measured;
use crate::shown::capital;
use crate::units::Stops;

/// Decimals of stops where their interval does not say.
const DECIMALS: usize = 2;

/// Stops with their sign and interval.
#[must_use]
pub fn stops(measured: &Measured<Stops>) -> String {
    format::difference(&measured.plain(), DECIMALS)
}

/// How stops were found.
#[must_use]
pub fn route(route: Route) -> &'static str {
    match route {
        Route::Neutrals => "by the neutral patches of each print",
        Route::Curves => "by the curves of paper and film",
        Route::Bare => "not corrected for contrast",
    }
}

fn end(end: End) -> &'static str {
    match end {
        End::Light => "lighter",
        End::Dark => "darker",
    }
}

/// Why a patch has no number.
#[must_use]
pub fn unread(why: Unread) -> String {
    match why {
        Unread::NotSampled => "not read".to_owned(),
        Unread::Beyond(side) => format!("{} than anything that could read it", end(side)),
        Unread::AtTheEnd(side) => {
            format!("so near to the {} end that its interval is open", end(side).trim_end_matches("er"))
        }
        Unread::NoCard => "the grey card was not read".to_owned(),
    }
}

/// What is said of a patch or a family.
#[must_use]
pub fn rendered(rendered: Rendered) -> String {
    match rendered {
        Rendered::Lighter => "lighter".to_owned(),
        Rendered::Darker => "darker".to_owned(),
        Rendered::NotDistinguishable => "not distinguishable".to_owned(),
        Rendered::Neutral => "neutral".to_owned(),
        Rendered::NotCorrected => "not corrected for contrast".to_owned(),
        Rendered::Unread(Some(why), Some(other)) if why == other => unread(why),
        Rendered::Unread(Some(why), Some(other)) => {
            format!("reference: {}; candidate: {}", unread(why), unread(other))
        }
        Rendered::Unread(Some(why), None) => format!("reference: {}", unread(why)),
        Rendered::Unread(None, Some(why)) => format!("candidate: {}", unread(why)),
        Rendered::Unread(None, None) => "not read".to_owned(),
    }
}

/// Why a way back to stops is closed, as a sentence.
#[must_use]
pub fn closed(way: Route, why: NoRoute) -> String {
    let why = match why {
        NoRoute::TooFewNeutrals(count) => {
            format!("only {count} neutral patches of different known density are there, and four are needed")
        }
        NoRoute::OutOfOrder => {
            "the neutral patches do not print in the order of their known densities".to_owned()
        }
        NoRoute::CardNotSampled => "the grey card was not read".to_owned(),
        NoRoute::CardBeyond(side) => format!("the grey card prints {} than what could read it", end(side)),
        NoRoute::NoPaper => "the paper's curve or the print's exposure is not known".to_owned(),
        NoRoute::NotFinite => "a patch has no density".to_owned(),
    };
    format!("Patches were not read {}: {why}.", route(way))
}

/// What speaks against the greys of a print, and how both ways agree: sentences.
#[must_use]
pub fn doubts(found: &Found, names: &[String]) -> Vec<String> {
    let name = |patch: usize| names.get(patch).map_or("?", String::as_str);
    let doubt = |doubt: &Doubt| match doubt {
        Doubt::Contradicted { patch, departure } => format!(
            "The neutral patch '{}' lies {} in density from where the others put it.",
            name(*patch),
            format::signed(*departure, DECIMALS)
        ),
        Doubt::Scatter(times) => format!(
            "The neutral patches scatter {} times as far as their stated errors; intervals were widened by that.",
            format::number(*times, 1)
        ),
    };
    let agreement = found.agreement.as_ref().map(|agreement| agrees(agreement, names));
    found.greys.doubts.iter().map(doubt).chain(agreement).collect()
}

fn agrees(agreement: &Agreement, names: &[String]) -> String {
    let largest = format::number(agreement.largest, DECIMALS);
    if agreement.patches.is_empty() {
        return "No patch was read both by neutral patches and by curves.".to_owned();
    }
    if !agreement.disagrees() {
        return format!("The curves of paper and film agree with the neutral patches to {largest} stops.");
    }
    let names: Vec<&str> = agreement
        .patches
        .iter()
        .filter(|patch| patch.disagrees)
        .filter_map(|patch| names.get(patch.patch).map(String::as_str))
        .collect();
    format!(
        "The curves of paper and film depart from the neutral patches by up to {largest} stops, beyond doubt at {}: flare, \
         which curves leave in, or another print exposure than on record.",
        names.join("; ")
    )
}

/// What kind of film it may be, in words after 'It is'.
#[must_use]
pub fn class(class: Class) -> &'static str {
    match class {
        Class::Unsensitised => "unsensitised (blue alone)",
        Class::Orthochromatic => "orthochromatic (blue and green)",
        Class::Panchromatic => "panchromatic",
        Class::ExtendedRed => "panchromatic with extended red",
    }
}

/// The kind of a film as a sentence.
#[must_use]
pub fn classes(label: &str, classes: &Classes) -> String {
    match classes.left.as_slice() {
        [] => format!("{label} is like none of the usual kinds of film."),
        [one] => format!("{label} is {}.", class(*one)),
        several => {
            let words: Vec<&str> = several.iter().map(|one| class(*one)).collect();
            format!("{label} may be {}; these patches do not tell.", words.join(" or "))
        }
    }
}

/// Whether a film sees a band.
#[must_use]
pub fn sees(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Yes => "yes",
        Verdict::No => "no",
        Verdict::Open => "not told",
    }
}

/// A filter in words.
#[must_use]
pub fn filter(filter: &Filter) -> String {
    match filter {
        Filter::CutOn(from) => format!("all from {from} nm on"),
        Filter::CutOff(to) => format!("all up to {to} nm"),
        Filter::Pass(from, to) => format!("{from} to {to} nm alone"),
        Filter::Numbered(number) => numbered(*number),
        Filter::Measured(_) => "as measured".to_owned(),
    }
}

/// A numbered filter: `No. 8, yellow`.
#[must_use]
pub fn numbered(number: Numbered) -> String {
    let (number, colour) = number.words();
    format!("No. {number}, {colour}")
}

/// What may be wrong with the light.
#[must_use]
pub fn cause(cause: Cause) -> &'static str {
    match cause {
        Cause::Exposure => "exposure of the candidate's frame",
        Cause::UnevenReference => "uneven light on the reference's frame",
        Cause::UnevenCandidate => "uneven light on the candidate's frame",
        Cause::Changed => "light that changed between the frames",
        Cause::Flare => "flare",
        Cause::Colour => "colour of the light",
    }
}

/// Whether it is so, as a sentence.
#[must_use]
pub fn told(told: &Told) -> String {
    let size = format::number(told.fakes.number().abs(), DECIMALS);
    if !told.distinguishable {
        let most = told.fakes.low.abs().max(told.fakes.high.abs());
        return format!(
            "{}: not distinguishable; it would fake {} stops at most.",
            capital(cause(told.cause)),
            format::number(most, DECIMALS)
        );
    }
    match told.cause {
        Cause::Exposure => format!("The frames were exposed differently: this fakes {size} stops of speed."),
        Cause::UnevenReference | Cause::UnevenCandidate => {
            format!("There was {}: patches on one side look {size} stops lighter for it.", cause(told.cause))
        }
        Cause::Changed => {
            format!(
                "The light changed between the frames: this fakes {size} stops between the films on one side."
            )
        }
        Cause::Flare => {
            format!("The frames have not the same flare: this fakes {size} stops in the darkest patches.")
        }
        Cause::Colour => {
            format!("The light changed its colour: this fakes {size} stops between warm and cold colours.")
        }
    }
}

/// What cannot be told of the light, as a sentence.
#[must_use]
pub fn untold(untold: Untold) -> &'static str {
    match untold {
        Untold::ExposureScale => {
            "Whether both frames had the same exposure is told by their shadows, not here."
        }
        Untold::ColourOnTwoFilms => {
            "A change of the light's colour looks like the films' own rendering; it takes a second frame on the same film."
        }
        Untold::ColourPatches => {
            "A change of the light's colour cannot be told: too few patches have a known reflectance."
        }
        Untold::FlareRange => "Flare cannot be told: the neutral patches are too much alike.",
    }
}

/// What the greys tell of the light in one sentence.
#[must_use]
pub fn light(lighting: &Lighting) -> String {
    let sure = lighting.told.iter().filter(|told| told.distinguishable).count();
    match sure {
        0 => "No difference of the light on both frames is distinguishable.".to_owned(),
        1 => "One thing about the light on the frames differs.".to_owned(),
        count => format!("{count} things about the light on the frames differ."),
    }
}
