//! The findings, question by question: a sentence and its figure each; the numbers behind them follow with the evidence.

use std::fmt::Write;

use twinwedge_core::compare::{Comparison, Finding, Kind, Question, Verdict};
use twinwedge_core::document::{Film, FindingChoice};
use twinwedge_core::drawing::Plot;

use super::prose;
use crate::export::gather::{CandidatePart, Gathered};

/// A finding that the tester kept, its number on the page, and the tester's own words for it.
struct Shown<'a> {
    number: usize,
    finding: &'a Finding,
    reworded: Option<&'a str>,
    /// The number on which those words rest, where it has changed since.
    before: Option<&'a str>,
}

/// Findings as the tester kept, reworded or dropped them, in the order of their questions.
fn shown<'a>(gathered: &'a Gathered, film: &Film, comparison: &'a Comparison) -> Vec<Shown<'a>> {
    let choices = gathered.series.report.findings.get(&film.id);
    let mut list = Vec::new();
    for question in Question::ALL {
        for finding in comparison.findings.iter().filter(|finding| finding.question == question) {
            let reworded = match choices.and_then(|choices| choices.get(&finding.key)) {
                Some(FindingChoice::Dropped) => continue,
                Some(FindingChoice::Reworded(words)) => Some(words.as_str()),
                None => None,
            };
            let before = gathered.series.report.changed_since(&film.id, &finding.key, finding.number());
            let before = before.filter(|_| reworded.is_some());
            list.push(Shown { number: list.len() + 1, finding, reworded, before });
        }
    }
    list
}

/// The findings of these kinds that were measured and that the tester kept: in whose words the report says them, and their figures.
pub(in crate::export) fn kept<'a>(
    gathered: &'a Gathered,
    film: &Film,
    comparison: &'a Comparison,
    kinds: &[Kind],
) -> Vec<(&'a str, &'a str)> {
    let shown = shown(gathered, film, comparison);
    let of = |kind: &Kind| shown.iter().find(|shown| shown.finding.kind == *kind);
    let measured = kinds.iter().filter_map(of).filter(|one| one.finding.verdict != Verdict::NotMeasured);
    measured.map(|one| (one.reworded.unwrap_or(&one.finding.sentence), one.finding.figure.as_str())).collect()
}

/// What the findings of these kinds say of a film, for those who do not see the figure that shows it: as computed, since a figure
/// shows what was computed.
pub(super) fn said(candidate: &CandidatePart, kinds: &[Kind]) -> String {
    let findings = candidate.comparison.as_ref().map(|comparison| &*comparison.findings).unwrap_or_default();
    let of = |kind: &Kind| {
        findings.iter().find(|finding| finding.kind == *kind && finding.verdict != Verdict::NotMeasured)
    };
    kinds.iter().filter_map(of).map(|finding| format!(" {}", finding.sentence)).collect()
}

/// A plot whose title, which screen readers tell, says what the findings of these kinds say.
pub(super) fn saying(plot: &Plot, candidate: &CandidatePart, kinds: &[Kind]) -> Plot {
    let said = said(candidate, kinds);
    let title = if said.is_empty() { plot.title.clone() } else { format!("{}.{said}", plot.title) };
    Plot { title, ..plot.clone() }
}

/// What links from a finding to its evidence and back: the film's number on the page and the finding's own.
fn places(film: usize, finding: usize) -> (String, String) {
    (format!("finding-{film}-{finding}"), format!("behind-{film}-{finding}"))
}

/// A sentence and a figure for each, under the question that it answers.
pub(super) fn findings(
    out: &mut String,
    gathered: &Gathered,
    film: &Film,
    comparison: &Comparison,
    number: usize,
) {
    let shown = shown(gathered, film, comparison);
    let _ = writeln!(out, "<h2 id=\"findings-{number}\">Findings</h2>\n<div class=\"findings\">");
    for question in Question::ALL {
        let mut of = shown.iter().filter(|shown| shown.finding.question == question).peekable();
        if of.peek().is_none() {
            continue;
        }
        let _ = writeln!(out, "<section><h3>{}</h3><ul>", question.text());
        of.for_each(|shown| one(out, shown, number));
        out.push_str("</ul></section>\n");
    }
    out.push_str("</div>\n");
}

fn one(out: &mut String, shown: &Shown<'_>, film: usize) {
    let finding = shown.finding;
    let class = match finding.verdict {
        Verdict::Differs => "differs",
        Verdict::NotDistinguishable => "same",
        Verdict::NotMeasured => "missing",
    };
    let (here, behind) = places(film, shown.number);
    let computed = prose(&finding.sentence);
    let sentence = match shown.reworded {
        Some(words) => {
            let doubt = shown.before.map_or_else(String::new, |before| {
                format!(", written when the number was {}: it has changed since", prose(before))
            });
            let words = prose(words);
            format!(
                "{words} <span class=\"computed\">In the tester's words{doubt}. Computed: {computed}</span>"
            )
        }
        None => computed,
    };
    let link = if finding.detail.is_empty() {
        String::new()
    } else {
        let number = shown.number;
        format!(
            "&nbsp;<a class=\"to\" href=\"#{behind}\" aria-label=\"Evidence of finding {number}\">[{number}]</a>"
        )
    };
    let _ = writeln!(
        out,
        "<li class=\"{class}\" id=\"{here}\"><span class=\"says\">{sentence}{link}</span><span class=\"much\">{}</span></li>",
        prose(&finding.figure)
    );
}

/// The numbers, conditions and reasons behind the findings, each with the way back.
pub(super) fn behind(
    out: &mut String,
    gathered: &Gathered,
    film: &Film,
    comparison: &Comparison,
    number: usize,
) {
    let shown = shown(gathered, film, comparison);
    out.push_str("<h3>Behind the findings</h3>\n<ul class=\"behind\">\n");
    for shown in shown.iter().filter(|shown| !shown.finding.detail.is_empty()) {
        let (finding, here) = places(number, shown.number);
        let _ = writeln!(
            out,
            "<li id=\"{here}\"><a href=\"#{finding}\" aria-label=\"Back to finding {}\">[{}]</a> {}</li>",
            shown.number,
            shown.number,
            prose(&shown.finding.detail)
        );
    }
    out.push_str("</ul>\n");
}
