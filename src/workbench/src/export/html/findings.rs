//! The tester's verdict and the findings, question by question.

use std::fmt::Write;

use twinwedge_core::compare::{Comparison, DARKROOM_CAUTION, Finding, Question, Verdict};
use twinwedge_core::document::{Film, FindingChoice};

use super::prose;
use crate::export::gather::Gathered;
use crate::export::markup::escape;

/// The tester's own words, if there are any.
pub(super) fn verdict(out: &mut String, gathered: &Gathered, film: &Film) {
    if let Some(verdict) =
        gathered.series.report.verdicts.get(&film.id).filter(|text| !text.trim().is_empty())
    {
        let _ = writeln!(
            out,
            "<div class=\"verdict\"><h3>The tester's verdict</h3><p>{}</p></div>",
            escape(verdict.trim())
        );
    }
}

/// Findings as the tester kept, reworded or dropped them.
pub(super) fn findings(out: &mut String, gathered: &Gathered, film: &Film, comparison: &Comparison) {
    let choices = gathered.series.report.findings.get(&film.id);
    let choice = |finding: &Finding| choices.and_then(|choices| choices.get(&finding.key));
    out.push_str("<h2>Findings</h2>\n<div class=\"findings\">\n");
    let mut development = false;
    for question in Question::ALL {
        let kept: Vec<&Finding> = comparison
            .findings
            .iter()
            .filter(|finding| finding.question == question)
            .filter(|finding| !matches!(choice(finding), Some(FindingChoice::Dropped)))
            .collect();
        if kept.is_empty() {
            continue;
        }
        development |= question == Question::Contrast;
        let _ = writeln!(out, "<section><h3>{}</h3><ul>", question.text());
        for finding in kept {
            let class = match finding.verdict {
                Verdict::Differs => "differs",
                Verdict::NotDistinguishable => "same",
                Verdict::NotMeasured => "missing",
            };
            let _ = match choice(finding) {
                Some(FindingChoice::Reworded(words)) => writeln!(
                    out,
                    "<li class=\"{class}\">{} <span class=\"computed\">In the tester's words. Computed: {}</span></li>",
                    prose(words),
                    prose(&finding.sentence)
                ),
                _ => writeln!(out, "<li class=\"{class}\">{}</li>", prose(&finding.sentence)),
            };
        }
        out.push_str("</ul></section>\n");
    }
    out.push_str("</div>\n");
    if development {
        let _ = writeln!(out, "<p class=\"caution\">{DARKROOM_CAUTION}</p>");
    }
}
