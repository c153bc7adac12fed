//! What detail survives? What two prints of one scene share, and what the candidate lost it to.

use super::in_words;
use crate::compare::{Comparison, Finding, Question, Verdict, format};
use crate::detail::{Detail, Loss, Separation};
use crate::measured::{Flags, Measured, Value};

impl Comparison {
    /// Adds what the prints say of surviving detail. `found` is that of this pair with the label of the third film that told
    /// the two apart, or why there is none.
    pub fn tell_detail(&mut self, found: Result<(&Detail, Option<&str>), &str>) {
        let last = self.findings.iter().rposition(|finding| finding.question <= Question::Detail);
        let place = last.map_or(0, |last| last + 1);
        let films = (self.reference.as_str(), self.candidate.as_str());
        let list = match found {
            Ok((detail, third)) => vec![agreement(films, detail, third), lost(films, detail)],
            Err(reason) => {
                let sentence = format!(
                    "What of the scene's detail both prints carry was not measured. {}",
                    super::sentence(reason)
                );
                vec![of("detail.agreement", Verdict::NotMeasured, sentence)]
            }
        };
        self.findings.splice(place..place, list);
    }
}

fn of(key: &str, verdict: Verdict, sentence: String) -> Finding {
    super::finding(key, Question::Detail, verdict, sentence, &[])
}

/// A limit with its unit.
fn frequency(limit: &Measured) -> String {
    format!("{} cycles/mm", in_words(limit, 1))
}

fn agreement((r, c): (&str, &str), detail: &Detail, third: Option<&str>) -> Finding {
    let key = "detail.agreement";
    let place = detail.place_words();
    let mut sentence = match &detail.agreement {
        Value::Known(limit) => format!(
            "The prints of {c} and {r} agree about the scene up to {} {place} (coherence 0.25).",
            frequency(limit)
        ),
        Value::Undefined(reason) => {
            format!("The prints of {c} and {r} agree about nothing of the scene. {reason}")
        }
    };
    let mut verdict = Verdict::NotDistinguishable;
    if let [Value::Known(one), Value::Known(other)] = &detail.limits {
        let how = match (detail.separation, third) {
            (Separation::ThirdFilm, Some(third)) => format!("told apart by the print of {third}"),
            (Separation::ThirdFilm | Separation::PlainAreas, _) => {
                "told apart by the grain in plain areas of the prints".to_owned()
            }
            (Separation::Bounds, _) => "two prints alone tell no more".to_owned(),
        };
        sentence = format!(
            "{sentence} Scene outweighs grain up to {} in {r} and up to {} in {c} (signal-to-grain 1; {how}).",
            frequency(one),
            frequency(other)
        );
        let bound = (one.flags | other.flags).contains(Flags::LOWER_BOUND);
        if !bound && other.minus(one).excludes_zero() {
            verdict = Verdict::Differs;
        }
    }
    if let (_, out @ 1..) = detail.blocks {
        let places = detail.differing.len();
        let where_ = if places == 1 { "one place".to_owned() } else { format!("{places} places") };
        sentence = format!(
            "{sentence} The frames differ in {where_}; {out} of {} blocks were left out.",
            detail.blocks.0 + out
        );
    }
    of(key, verdict, sentence)
}

/// A ratio in words: how many times, or that it does not differ.
fn ratio(value: &Value) -> String {
    match value {
        Value::Known(known) => {
            format!(
                "{} (95 %: {} to {})",
                format::number(known.value, 2),
                format::number(known.low, 2),
                format::number(known.high, 2)
            )
        }
        Value::Undefined(_) => "unknown".to_owned(),
    }
}

fn lost((r, c): (&str, &str), detail: &Detail) -> Finding {
    let key = "detail.lost";
    let statement = &detail.statement;
    if let (Loss::NotMeasured, Value::Undefined(reason)) = (statement.loss, &statement.signal_to_grain) {
        let sentence = format!("Whether {c} lost detail to grain or to blur is not told. {reason}");
        return of(key, Verdict::NotMeasured, sentence);
    }
    let band = format!(
        "Between {} and {} cycles/mm {}",
        format::number(statement.band.0, 1),
        format::number(statement.band.1, 1),
        detail.place_words()
    );
    let evidence = format!(
        "signal-to-grain {} times that of {r}, modulation {} and grain {} times at equal contrast",
        ratio(&statement.signal_to_grain),
        ratio(&statement.modulation),
        ratio(&statement.grain)
    );
    let (verdict, words) = match statement.loss {
        Loss::Grain => (Verdict::Differs, format!("detail of {c} is lost to grain")),
        Loss::Blur => (Verdict::Differs, format!("detail of {c} is lost to blur")),
        Loss::GrainAndBlur => (Verdict::Differs, format!("detail of {c} is lost to grain and to blur")),
        Loss::NotSeparated => (
            Verdict::Differs,
            format!("{c} carries less detail than {r}; whether to grain or to blur is not distinguishable"),
        ),
        Loss::Kept => (Verdict::Differs, format!("{c} carries more detail above its grain than {r}")),
        Loss::NotDistinguishable | Loss::NotMeasured => {
            (Verdict::NotDistinguishable, format!("the detail that {c} and {r} carry is not distinguishable"))
        }
    };
    of(key, verdict, format!("{band} {words} ({evidence}). Paper, enlarger and scanner are part of it."))
}
