//! The card: what a reader takes away in ten seconds. The tester's verdict, up to six facts in a word and a number, and the curves.

use std::fmt::Write;

use twinwedge_core::compare::{Comparison, Finding, Kind, Side, Verdict};
use twinwedge_core::document::{Film, FindingChoice};

use super::curves;
use crate::export::gather::{CandidatePart, Gathered};
use crate::export::markup::escape;

/// A fact: what it is about, the kinds of findings that tell it (the first that was measured), and the words of its two sides.
struct Fact {
    about: &'static str,
    kinds: &'static [Kind],
    above: &'static str,
    below: &'static str,
}

const FACTS: [Fact; 6] = [
    Fact { about: "Speed", kinds: &[Kind::SpeedRelative], above: "faster", below: "slower" },
    Fact {
        about: "Against its box",
        kinds: &[Kind::SpeedIso, Kind::SpeedBox],
        above: "faster than it says",
        below: "slower than it says",
    },
    Fact { about: "Development", kinds: &[Kind::AverageContrast], above: "harder", below: "softer" },
    Fact {
        about: "Grain",
        kinds: &[Kind::GranularityNetOne, Kind::Granularity],
        above: "coarser",
        below: "finer",
    },
    Fact { about: "Sharpness", kinds: &[Kind::Edges], above: "sharper", below: "less sharp" },
    Fact { about: "Overexposure", kinds: &[Kind::Headroom], above: "bears more", below: "bears less" },
];

/// The whole card of a film.
pub(super) fn card(
    out: &mut String,
    gathered: &Gathered,
    candidate: &CandidatePart,
    comparison: &Comparison,
) {
    let film = &candidate.part.film;
    out.push_str("<div class=\"card\">\n");
    verdict(out, gathered, film);
    out.push_str("<div class=\"facts\">\n");
    facts(gathered, film, comparison).iter().for_each(|fact| told(out, fact));
    price(out, &gathered.reference.film, film);
    out.push_str("</div>\n");
    curves::small(out, gathered, candidate);
    out.push_str("</div>\n");
}

/// The tester's own words, if there are any.
fn verdict(out: &mut String, gathered: &Gathered, film: &Film) {
    let report = &gathered.series.report;
    for (what, texts) in
        [("The tester's verdict", &report.verdicts), ("The tester's recommendation", &report.recommendations)]
    {
        let text = texts.get(&film.id).map(|text| text.trim());
        if let Some(text) = text.filter(|text| !text.is_empty()) {
            let _ = writeln!(
                out,
                "<div class=\"verdict\"><p class=\"what\">{what}</p><p>{}</p></div>",
                escape(text)
            );
        }
    }
}

/// A fact of the card as it is told.
#[derive(Debug, Clone)]
pub(in crate::export) struct Told {
    /// What it is about.
    pub(in crate::export) about: &'static str,
    /// What the candidate is, in a word: faster, coarser.
    pub(in crate::export) word: &'static str,
    /// The number with its interval.
    pub(in crate::export) much: String,
    /// Beyond its uncertainty.
    pub(in crate::export) differs: bool,
}

/// The facts of a film: none that was not measured, or whose finding the tester left out.
pub(in crate::export) fn facts(gathered: &Gathered, film: &Film, comparison: &Comparison) -> Vec<Told> {
    let choices = gathered.series.report.findings.get(&film.id);
    let kept = |finding: &&Finding| {
        let choice = choices.and_then(|choices| choices.get(&finding.key));
        finding.verdict != Verdict::NotMeasured && !matches!(choice, Some(FindingChoice::Dropped))
    };
    let of = |kind: &Kind| comparison.findings.iter().filter(kept).find(|finding| finding.kind == *kind);
    let told = |fact: &Fact| {
        let finding = fact.kinds.iter().find_map(of)?;
        let (differs, word) = match (finding.verdict, finding.claims.first().and_then(|claim| claim.side)) {
            (Verdict::Differs, Some(Side::Above)) => (true, fact.above),
            (Verdict::Differs, Some(Side::Below)) => (true, fact.below),
            _ => (false, "not distinguishable"),
        };
        Some(Told { about: fact.about, word, much: finding.figure.clone(), differs })
    };
    FACTS.iter().filter_map(told).collect()
}

fn told(out: &mut String, fact: &Told) {
    let class = if fact.differs { "differs" } else { "same" };
    let _ = writeln!(
        out,
        "<div class=\"{class}\"><span class=\"what\">{}</span><span class=\"word\">{}</span><span class=\"much\">{}\
         </span></div>",
        fact.about,
        fact.word,
        escape(&fact.much)
    );
}

/// What both cost, in the tester's own words.
fn price(out: &mut String, reference: &Film, film: &Film) {
    if film.price.trim().is_empty() {
        return;
    }
    let beside = match reference.price.trim() {
        "" => String::new(),
        price => format!("{}: {}", escape(&reference.label), escape(price)),
    };
    let _ = writeln!(
        out,
        "<div class=\"same\"><span class=\"what\">Price</span><span class=\"word\">{}</span><span class=\"much\">{beside}</span>\
         </div>",
        escape(film.price.trim())
    );
}
