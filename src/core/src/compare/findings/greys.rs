//! How does it turn colours into greys?

use super::{Pair, finding};
use crate::compare::{Finding, PatchRow, Question, Verdict, format};
use crate::document::PatchRole;
use crate::figures::FigureId;
use crate::measured::{Measured, Value};

/// Decimals of print densities where their interval does not say.
const DECIMALS: usize = 2;

pub(super) fn findings(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let patches = &pair.comparison.patches;
    if patches.is_empty() {
        let sentence = "No patches were sampled in the prints, so how the two films turn colours into greys was not \
                        measured.";
        list.push(of("greys.patches", Verdict::NotMeasured, sentence.to_owned()));
        return;
    }
    list.extend(grey_card(pair));
    let coloured = |row: &&PatchRow| {
        !matches!(
            row.role,
            Some(PatchRole::Grey | PatchRole::GreyCard | PatchRole::White | PatchRole::Shadow)
        )
    };
    let rows: Vec<&PatchRow> = patches.iter().filter(coloured).collect();
    let known: Vec<(&str, &Measured)> =
        rows.iter().filter_map(|row| Some((row.name.as_str(), row.against_grey.known()?))).collect();
    if known.is_empty() {
        let reason = rows.iter().find_map(|row| match &row.against_grey {
            Value::Undefined(reason) => Some(reason.as_str()),
            Value::Known(_) => None,
        });
        let sentence = format!(
            "How the two films turn colours into greys was not measured. {}",
            reason.unwrap_or("The layout has no colour patches.")
        );
        list.push(of("greys.patches", Verdict::NotMeasured, sentence));
        return;
    }
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let named = |keep: &dyn Fn(&Measured) -> bool| {
        let mut kept: Vec<_> = known.iter().filter(|(_, value)| keep(value)).collect();
        kept.sort_by(|a, b| b.1.number().abs().total_cmp(&a.1.number().abs()));
        let texts =
            kept.iter().map(|(name, value)| format!("{name} ({})", format::difference(value, DECIMALS)));
        texts.collect::<Vec<_>>()
    };
    let lighter = named(&|value| value.excludes_zero() && value.number() < 0.0);
    let darker = named(&|value| value.excludes_zero() && value.number() > 0.0);
    for (key, word, patches) in [("greys.lighter", "lighter", &lighter), ("greys.darker", "darker", &darker)]
    {
        if !patches.is_empty() {
            let sentence = format!(
                "Against the grey card, {c} renders {word} than {r}, in print density: {}.",
                listed(patches)
            );
            list.push(of(key, Verdict::Differs, sentence));
        }
    }
    let alike: Vec<String> = known
        .iter()
        .filter(|(_, value)| !value.excludes_zero())
        .map(|(name, _)| (*name).to_owned())
        .collect();
    if !alike.is_empty() {
        let sentence =
            format!("Against the grey card not distinguishable in the two prints: {}.", listed(&alike));
        list.push(of("greys.alike", Verdict::NotDistinguishable, sentence));
    }
}

/// Whether the prints are matched at all: the grey card should come out alike.
fn grey_card(pair: &Pair<'_>) -> Option<Finding> {
    let card = pair.comparison.patches.iter().find(|row| row.role == Some(PatchRole::GreyCard))?;
    let difference = card.difference.known()?;
    let text = format::difference(difference, DECIMALS);
    Some(if difference.excludes_zero() {
        let side = super::by_sign(difference, "darker", "lighter");
        of(
            "greys.card",
            Verdict::Differs,
            format!(
                "The grey card of {} prints {side} than that of {} ({text}): the prints are not matched there, and patches \
                 are to be judged against the card, not as they lie.",
                pair.candidate.label, pair.reference.label
            ),
        )
    } else {
        of(
            "greys.card",
            Verdict::NotDistinguishable,
            format!(
                "The grey cards of the two prints are not distinguishable ({text}): the prints are matched there."
            ),
        )
    })
}

fn of(key: &str, verdict: Verdict, sentence: String) -> Finding {
    let none: [FigureId; 0] = [];
    finding(key, Question::Greys, verdict, sentence, &none)
}

/// `a`, `a and b`, `a, b and c`.
fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
