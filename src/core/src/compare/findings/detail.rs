//! What detail survives? What two prints of one scene share, and what the candidate lost it to.

use super::in_words;
use crate::compare::{About, Claim, Comparison, Finding, Kind, Question, Verdict, Whose, format};
use crate::detail::{Detail, Loss, Separation};
use crate::measured::{Bound, Flags, Measured, Value};

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
                vec![of(Kind::Agreement, Verdict::NotMeasured, sentence)]
            }
        };
        self.findings.splice(place..place, list);
    }
}

fn of(kind: Kind, verdict: Verdict, sentence: String) -> Finding {
    super::finding(kind, verdict, sentence, &[])
}

/// A limit with its unit.
fn frequency(limit: &Measured) -> String {
    format!("{} cycles/mm", in_words(limit, 1))
}

fn agreement((r, c): (&str, &str), detail: &Detail, third: Option<&str>) -> Finding {
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
    let mut claims = Vec::new();
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
        claims.extend([
            Claim::size(About::Film(Whose::Reference), *one),
            Claim::size(About::Film(Whose::Candidate), *other),
        ]);
        let bound = (one.flags | other.flags).contains(Flags::LOWER_BOUND);
        let difference = other.minus(one);
        if !bound && difference.excludes_zero() {
            verdict = Verdict::Differs;
            claims.push(Claim::side(About::Difference, difference.value > 0.0));
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
    of(Kind::Agreement, verdict, sentence).claiming(claims)
}

/// A ratio in words: how many times, or that it does not differ.
fn ratio(value: &Value) -> String {
    match value {
        Value::Known(known) if known.bound().is_some() => match known.bound() {
            Some(Bound::AtMost(limit)) => format!("at most {}", format::number(limit, 2)),
            Some(Bound::AtLeast(limit)) => format!("at least {}", format::number(limit, 2)),
            None => String::new(),
        },
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
    let statement = &detail.statement;
    if let (Loss::NotMeasured, Value::Undefined(reason)) = (statement.loss, &statement.signal_to_grain) {
        let sentence = format!("Whether {c} lost detail to grain or to blur is not told. {reason}");
        return of(Kind::Lost, Verdict::NotMeasured, sentence);
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
    let sentence = format!("{band} {words} ({evidence}). Paper, enlarger and scanner are part of it.");
    of(Kind::Lost, verdict, sentence).claiming(told(detail))
}

/// What the statement commits itself to: the sides that its words name, and the ratios that it states.
fn told(detail: &Detail) -> Vec<Claim> {
    let statement = &detail.statement;
    let (less, more) = (Some(false), Some(true));
    let [ratio, grain, modulation] = match statement.loss {
        Loss::Grain => [less, more, None],
        Loss::Blur => [less, None, less],
        Loss::GrainAndBlur => [less, more, less],
        Loss::NotSeparated => [less, None, None],
        Loss::Kept => [more, None, None],
        Loss::NotDistinguishable | Loss::NotMeasured => [None; 3],
    };
    let parts = [
        (About::Difference, &statement.signal_to_grain, ratio),
        (About::Grain, &statement.grain, grain),
        (About::Modulation, &statement.modulation, modulation),
    ];
    let claim = |(about, value, side): (About, &Value, Option<bool>)| {
        let known = value.known()?;
        let excess =
            Measured { value: known.value - 1.0, low: known.low - 1.0, high: known.high - 1.0, ..*known };
        let side = side.and_then(|above| Claim::side(about, above).side);
        Some(Claim { about, side, size: Some(excess) })
    };
    parts.into_iter().filter_map(claim).collect()
}
