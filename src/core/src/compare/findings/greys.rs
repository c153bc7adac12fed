//! How does it turn colours into greys?
//!
//! Print densities alone do not tell: contrast of film and paper parts the same greys more or less, which looks like a film that
//! renders colours otherwise. So nothing is said of colours before each density was taken back to the exposure of the film.

use super::{Pair, finding};
use crate::compare::greys as words;
use crate::compare::{About, Claim, Comparison, Finding, GREYS_CAUTION, Kind, Question, Verdict, format};
use crate::document::PatchRole;
use crate::greys::colour::Family;
use crate::greys::holm;
use crate::greys::pair::{BandsPair, GreysPair, band_words};
use crate::greys::rendering::{FamilyRow, Rendered, SIDES};
use crate::greys::stops::Route;
use crate::measured::Measured;
use crate::units::Stops;
use crate::words::Sentence;

/// Decimals of print densities where their interval does not say.
const DECIMALS: usize = 2;

pub(super) fn findings(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    list.extend(grey_card(pair));
}

/// Whether the prints are matched at all: the grey card should come out alike.
fn grey_card(pair: &Pair<'_>) -> Option<Finding> {
    let card = pair.comparison.patches.iter().find(|row| row.role == Some(PatchRole::GreyCard))?;
    let difference = card.difference.known()?;
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let differs = difference.excludes_zero();
    let (verdict, sentence) = if differs {
        let side = super::by_sign(difference, "darker", "lighter");
        let sentence =
            format!("The prints are not matched: the grey card of {c} prints {side} than that of {r}.");
        (Verdict::Differs, sentence)
    } else {
        let sentence = "The prints are matched at the grey card: no difference is distinguishable there.";
        (Verdict::NotDistinguishable, sentence.to_owned())
    };
    let claim = Claim::of(About::Difference, *difference, differs);
    let figure = format!("density {}", format::difference(difference, DECIMALS));
    Some(finding(Kind::GreyCard, verdict, sentence, &[]).with_figure(figure).claiming([claim]))
}

impl Comparison {
    /// Adds what is known of colours as greys: the greys of both films and their sensitivities, or why there are none.
    pub fn tell_colours(
        &mut self,
        greys: Result<&GreysPair, &Sentence>,
        bands: Result<&BandsPair, &Sentence>,
    ) {
        let last = self.findings.iter().rposition(|finding| finding.question <= Question::Greys);
        let place = last.map_or(0, |last| last + 1);
        let (r, c) = (self.reference.as_str(), self.candidate.as_str());
        let mut list = Vec::new();
        match greys {
            _ if self.patches.is_empty() => list.push(silent(
                "How the films turn colours into greys was not measured: no patches were sampled.",
                "",
            )),
            Err(why) => list.push(silent(
                "How the films turn colours into greys was not measured.",
                &super::sentence(why),
            )),
            Ok(pair) if pair.route() == Route::Bare => list.push(silent(
                "How the films turn colours into greys cannot be told from print densities alone.",
                &format!(
                    "{GREYS_CAUTION} Enter the known densities of at least four neutral patches on the Prints page, or test \
                     the paper."
                ),
            )),
            Ok(pair) => list.extend(colours((r, c), pair)),
        }
        if let Ok(pair) = bands {
            list.push(shares((r, c), pair));
        }
        self.findings.splice(place..place, list);
    }
}

fn silent(sentence: &str, detail: &str) -> Finding {
    finding(Kind::Patches, Verdict::NotMeasured, sentence.to_owned(), &[]).with_detail(detail)
}

/// Words as a list: `a, b and c`.
fn listed(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [some @ .., last] => format!("{} and {last}", some.join(", ")),
    }
}

fn stops(difference: &Measured<Stops>) -> String {
    format!("{} stops", words::stops(difference))
}

/// What is said of families of colours. None where no family was read on both films.
fn colours((r, c): (&str, &str), pair: &GreysPair) -> Option<Finding> {
    let families: Vec<&FamilyRow> =
        pair.rendering.families.iter().filter(|row| row.family != Family::Neutral).collect();
    if families.is_empty() {
        return Some(silent(
            "How the films turn colours into greys was not measured: no patch has a known colour.",
            "Say on the Prints page what patches show, or open a file with their reflectances on the Greys page.",
        ));
    }
    let on = |side: Rendered| -> Vec<&str> {
        families.iter().filter(|row| row.rendered == side).map(|row| row.family.words()).collect()
    };
    let (lighter, darker) = (on(Rendered::Lighter), on(Rendered::Darker));
    let sentence = match (lighter.is_empty(), darker.is_empty()) {
        (true, true) => {
            format!("No family of colours comes out distinguishably lighter or darker on {c} than on {r}.")
        }
        (false, true) => format!("{c} renders {} lighter than {r}.", listed(&lighter)),
        (true, false) => format!("{c} renders {} darker than {r}.", listed(&darker)),
        (false, false) => {
            format!("{c} renders {} lighter, and {} darker, than {r}.", listed(&lighter), listed(&darker))
        }
    };
    let size = |row: &&FamilyRow| row.difference.number().abs();
    let largest = families.iter().copied().max_by(|a, b| size(a).total_cmp(&size(b)))?;
    let told: Vec<String> =
        families.iter().map(|row| format!("{} {}", row.family.words(), stops(&row.difference))).collect();
    let detail = format!(
        "Against the grey card, {}, positive where {c} is lighter: {}. A side is named only where it is beyond doubt for all \
         families together.",
        words::route(pair.route()),
        told.join("; ")
    );
    let claims = families.iter().map(|row| {
        let differs = matches!(row.rendered, Rendered::Lighter | Rendered::Darker);
        Claim::of(About::Family(row.family), row.difference.plain(), differs)
    });
    let claims: Vec<Claim> = claims.collect();
    let differs = !lighter.is_empty() || !darker.is_empty();
    let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
    let figure = format!("{}: {}", largest.family.words(), stops(&largest.difference));
    Some(
        finding(Kind::Colours, verdict, sentence, &[])
            .with_figure(figure)
            .with_detail(detail)
            .claiming(claims),
    )
}

/// From which light the films take their exposure.
fn shares((r, c): (&str, &str), pair: &BandsPair) -> Finding {
    let count = pair.against.len();
    let told: Vec<(usize, Measured<Stops>)> = pair
        .against
        .iter()
        .zip(pair.told())
        .enumerate()
        .filter_map(|(band, (against, told))| Some((band, (*against).filter(|_| told)?)))
        .collect();
    let chances: Vec<f64> = told.iter().map(|(_, against)| holm::chance(against)).collect();
    let adjusted = holm::adjusted(&chances);
    let differs: Vec<bool> =
        told.iter().zip(&adjusted).map(|((_, one), chance)| *chance < SIDES && one.excludes_zero()).collect();
    let on = |above: bool| -> Vec<&str> {
        let side = told
            .iter()
            .zip(&differs)
            .filter(|((_, one), differs)| **differs && (one.number() > 0.0) == above);
        side.map(|((band, _), _)| band_words(*band, count)).collect()
    };
    let (more, less) = (on(true), on(false));
    let sentence = match (more.is_empty(), less.is_empty()) {
        _ if told.is_empty() => {
            format!("From which light {c} and {r} take their exposure cannot be told from these patches.")
        }
        (true, true) => {
            format!(
                "No difference is distinguishable in the light from which {c} and {r} take their exposure."
            )
        }
        (false, true) => {
            format!("{c} takes more of its exposure from {} light than {r} does.", listed(&more))
        }
        (true, false) => {
            format!("{c} takes less of its exposure from {} light than {r} does.", listed(&less))
        }
        (false, false) => format!(
            "{c} takes more of its exposure from {} light, and less from {}, than {r} does.",
            listed(&more),
            listed(&less)
        ),
    };
    let verdict = match (told.is_empty(), differs.contains(&true)) {
        (true, _) => Verdict::NotMeasured,
        (false, true) => Verdict::Differs,
        (false, false) => Verdict::NotDistinguishable,
    };
    let words: Vec<String> =
        told.iter().map(|(band, one)| format!("{} {}", band_words(*band, count), stops(one))).collect();
    let untold: Vec<&str> = (0..count)
        .filter(|band| told.iter().all(|(known, _)| known != band))
        .map(|band| band_words(band, count))
        .collect();
    let mut detail = format!("Under {}.", pair.light);
    if !words.is_empty() {
        detail = format!(
            "{detail} The candidate's share of exposure against the reference's: {}.",
            words.join("; ")
        );
    }
    if !untold.is_empty() {
        detail = format!("{detail} These patches do not tell {} light apart.", listed(&untold));
    }
    let size = |one: &&(usize, Measured<Stops>)| one.1.number().abs();
    let largest = told.iter().max_by(|a, b| size(a).total_cmp(&size(b)));
    let figure = largest
        .map_or_else(String::new, |(band, one)| format!("{}: {}", band_words(*band, count), stops(one)));
    let claims: Vec<Claim> = told
        .iter()
        .zip(&differs)
        .map(|((band, one), differs)| Claim::of(About::Band(*band), one.plain(), *differs))
        .collect();
    finding(Kind::Bands, verdict, sentence, &[]).with_figure(figure).with_detail(detail).claiming(claims)
}
