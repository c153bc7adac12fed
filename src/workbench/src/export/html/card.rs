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
    out.push_str("<section class=\"card\">\n");
    verdict(out, gathered, film);
    out.push_str("<div class=\"facts\">\n");
    for fact in &FACTS {
        told(out, gathered, film, comparison, fact);
    }
    price(out, &gathered.reference.film, film);
    out.push_str("</div>\n");
    curves::small(out, gathered, candidate);
    out.push_str("</section>\n");
}

/// The tester's own words, if there are any.
fn verdict(out: &mut String, gathered: &Gathered, film: &Film) {
    let verdict = gathered.series.report.verdicts.get(&film.id).map(|text| text.trim());
    if let Some(verdict) = verdict.filter(|text| !text.is_empty()) {
        let _ = writeln!(
            out,
            "<div class=\"verdict\"><p class=\"what\">The tester's verdict</p><p>{}</p></div>",
            escape(verdict)
        );
    }
}

/// One fact; nothing where it was not measured, or where the tester left its finding out.
fn told(out: &mut String, gathered: &Gathered, film: &Film, comparison: &Comparison, fact: &Fact) {
    let choices = gathered.series.report.findings.get(&film.id);
    let kept = |finding: &&Finding| {
        let choice = choices.and_then(|choices| choices.get(&finding.key));
        finding.verdict != Verdict::NotMeasured && !matches!(choice, Some(FindingChoice::Dropped))
    };
    let of = |kind: &Kind| comparison.findings.iter().filter(kept).find(|finding| finding.kind == *kind);
    let Some(finding) = fact.kinds.iter().find_map(of) else { return };
    let (class, word) = match (finding.verdict, finding.claims.first().and_then(|claim| claim.side)) {
        (Verdict::Differs, Some(Side::Above)) => ("differs", fact.above),
        (Verdict::Differs, Some(Side::Below)) => ("differs", fact.below),
        _ => ("same", "not distinguishable"),
    };
    let _ = writeln!(
        out,
        "<div class=\"{class}\"><span class=\"what\">{}</span><span class=\"word\">{word}</span><span class=\"much\">{}\
         </span></div>",
        fact.about,
        escape(&finding.figure)
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
