//! Whether grain, and the difference between two films' grain, is seen in a print of chosen enlargement and distance.

use super::in_words;
use crate::compare::{About, Claim, Comparison, Finding, Kind, Question, Verdict, Whose, format};
use crate::figures::FigureId;
use crate::grain::viewer::{GradientSource, Seen, Viewed};
use crate::measured::{Measured, Value};
use crate::words::Sentence;

impl Comparison {
    /// Adds what an eye sees of both films' grain in a print, behind what else is said of grain. `viewed` is that of this pair,
    /// or why there is none.
    pub fn view_grain(&mut self, viewed: Result<&Viewed, &Sentence>) {
        let of_grain = |finding: &Finding| finding.question == Question::Grain;
        let place = self.findings.iter().rposition(of_grain).map_or(self.findings.len(), |last| last + 1);
        let found = match viewed {
            Ok(viewed) => said(viewed),
            Err(reason) => {
                finding(Verdict::NotMeasured, "What an eye sees of their grain was not estimated.".to_owned())
                    .with_detail(super::sentence(reason))
            }
        };
        self.findings.insert(place, found);
    }
}

fn finding(verdict: Verdict, sentence: String) -> Finding {
    super::finding(Kind::GrainViewed, verdict, sentence, &[FigureId::Granularity])
}

fn said(viewed: &Viewed) -> Finding {
    let (Some(candidate), Some(ratio)) = (&viewed.candidate, &viewed.ratio) else {
        return finding(Verdict::NotMeasured, "There is one film only.".to_owned());
    };
    let reference = &viewed.reference;
    let print = format!(
        "In a print of {} × from {} cm",
        format::number(viewed.viewing.enlargement, 1).trim_end_matches(".0"),
        format::number(viewed.viewing.distance_mm / 10.0, 0)
    );
    let films = match (reference.seen(), candidate.seen()) {
        (Some(true), Some(true)) => "the grain of both films is seen".to_owned(),
        (Some(false), Some(false)) => "the grain of neither film is seen".to_owned(),
        (None, None) => "the grain of both films is at the threshold".to_owned(),
        _ => format!(
            "the grain of {} {}, that of {} {}",
            candidate.label,
            word(candidate),
            reference.label,
            word(reference)
        ),
    };
    let from = format!(
        "{} {}, {} {}",
        candidate.label,
        starts(&candidate.from),
        reference.label,
        starts(&reference.from)
    );
    let differs = ratio.low > 1.0 || ratio.high < 1.0;
    let difference = match (&viewed.difference, viewed.difference_seen) {
        (Some(Value::Known(least)), seen) => format!(
            "The difference between them {} (from {} × on at this distance).",
            match seen {
                Some(true) => "is seen",
                Some(false) => "is not seen",
                None => "is at the threshold",
            },
            in_words(least, 1)
        ),
        (Some(Value::Undefined(why)), _) => super::sentence(why),
        (None, _) => String::new(),
    };
    let assumed = [reference, candidate].iter().any(|seen| seen.source == GradientSource::Assumed);
    let paper = if assumed { " on a usual paper" } else { "" };
    let sentence = format!("{print}, {films}.");
    let detail = format!(
        "Grain is seen in enlargements ({from}). {difference} Visible granularity of {} over that of {}. An estimate from \
         the noise power spectrum and the contrast sensitivity of the eye (Barten 1999){paper}.",
        candidate.label, reference.label
    );
    let figure = format!("{} times", format::measured(ratio, 2));
    let excess =
        Measured { value: ratio.value - 1.0, low: ratio.low - 1.0, high: ratio.high - 1.0, ..*ratio };
    let seen = [(Whose::Reference, reference), (Whose::Candidate, candidate)];
    let seen =
        seen.into_iter().filter_map(|(whose, film)| Some(Claim::side(About::Film(whose), film.seen()?)));
    let claims = seen.chain([Claim::of(About::Difference, excess, differs)]);
    let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
    finding(verdict, sentence).with_figure(figure).with_detail(detail).claiming(claims)
}

fn word(seen: &Seen) -> &'static str {
    match seen.seen() {
        Some(true) => "is seen",
        Some(false) => "is not seen",
        None => "is at the threshold",
    }
}

fn starts(from: &Value) -> String {
    match from {
        Value::Known(least) => format!("from {} ×", in_words(least, 1)),
        Value::Undefined(_) => "not up to 100 ×".to_owned(),
    }
}
