//! How does it turn colours into greys?
//!
//! Print densities alone do not tell: contrast of film and paper parts the same greys more or less, which looks like a film that
//! renders colours otherwise. So far nothing is said of colours, and the table is marked as not corrected for contrast.

use super::{Pair, finding};
use crate::compare::{About, Claim, Finding, GREYS_CAUTION, Kind, Verdict, format};
use crate::document::PatchRole;

/// Decimals of print densities where their interval does not say.
const DECIMALS: usize = 2;

pub(super) fn findings(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let of = |sentence: &str| finding(Kind::Patches, Verdict::NotMeasured, sentence.to_owned(), &[]);
    if pair.comparison.patches.is_empty() {
        list.push(of("How the films turn colours into greys was not measured: no patches were sampled."));
        return;
    }
    list.extend(grey_card(pair));
    let sentence = "How the films turn colours into greys cannot be told from print densities alone.";
    list.push(of(sentence).with_detail(GREYS_CAUTION));
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
