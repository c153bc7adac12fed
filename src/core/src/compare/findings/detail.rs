//! What detail survives? What two prints of one scene share, and what the candidate lost it to.

use super::in_words;
use crate::compare::{About, Claim, Comparison, Finding, Kind, Question, Verdict, Whose, format};
use crate::detail::{Detail, Loss, Separation};
use crate::measured::{Bound, Flags, Measured, Value};
use crate::words::Sentence;

impl Comparison {
    /// Adds what the prints say of surviving detail. `found` is that of this pair with the label of the third film that told
    /// the two apart, or why there is none.
    pub fn tell_detail(&mut self, found: Result<(&Detail, Option<&str>), &Sentence>) {
        let last = self.findings.iter().rposition(|finding| finding.question <= Question::Detail);
        let place = last.map_or(0, |last| last + 1);
        let films = (self.reference.as_str(), self.candidate.as_str());
        let list = match found {
            Ok((detail, third)) => vec![agreement(films, detail, third), lost(films, detail)],
            Err(reason) => {
                let sentence = "What detail of the scene both prints carry was not measured.".to_owned();
                let found = finding(Kind::Agreement, Verdict::NotMeasured, sentence);
                vec![found.with_detail(super::sentence(reason))]
            }
        };
        self.findings.splice(place..place, list);
    }
}

fn finding(kind: Kind, verdict: Verdict, sentence: String) -> Finding {
    super::finding(kind, verdict, sentence, &[])
}

/// A limit with its unit.
fn frequency(limit: &Measured) -> String {
    format!("{} cycles/mm", in_words(limit, 1))
}

/// Whether two limits surely differ. Of a bound one side alone is known: beyond it lies what is finer than the other's limit.
fn apart(one: &Measured, other: &Measured) -> bool {
    match (one.bound(), other.bound()) {
        (None, None) => other.minus(one).excludes_zero(),
        (Some(Bound::AtLeast(least)), None) => other.high < least,
        (None, Some(Bound::AtLeast(least))) => one.high < least,
        _ => false,
    }
}

fn agreement((r, c): (&str, &str), detail: &Detail, third: Option<&str>) -> Finding {
    let place = detail.place_words();
    let (mut sentence, mut figure, mut behind) = match &detail.agreement {
        Value::Known(limit) => (
            format!("The prints of {c} and {r} show the same detail, as far as they agree at all."),
            frequency(limit),
            format!("They agree about the scene up to {} {place} (coherence 0.25).", frequency(limit)),
        ),
        Value::Undefined(reason) => (
            format!("The prints of {c} and {r} agree about nothing of the scene."),
            String::new(),
            reason.to_string(),
        ),
    };
    let mut verdict = Verdict::NotDistinguishable;
    let mut claims = Vec::new();
    if let [Value::Known(one), Value::Known(other)] = &detail.limits {
        let how = match (detail.separation, third) {
            (Separation::ThirdFilm, Some(third)) => format!("told apart by the print of {third}"),
            (Separation::ThirdFilm | Separation::UniformAreas, _) => {
                "told apart by the grain in uniform areas of the prints".to_owned()
            }
            (Separation::Bounds, _) => "two prints alone tell no more".to_owned(),
        };
        behind = format!(
            "{behind} Scene outweighs grain up to {} in {r} and up to {} in {c} (signal-to-grain 1; {how}).",
            frequency(one),
            frequency(other)
        );
        claims.extend([
            Claim::size(About::Film(Whose::Reference), *one),
            Claim::size(About::Film(Whose::Candidate), *other),
        ]);
        let difference = other.minus(one);
        if apart(one, other) {
            verdict = Verdict::Differs;
            claims.push(Claim::side(About::Difference, difference.value > 0.0));
        }
        let drowned = |film: &str| format!("The finest detail {place} drowns in the grain of {film}.");
        let [in_reference, in_candidate] =
            [one, other].map(|limit| !limit.flags.contains(Flags::LOWER_BOUND));
        sentence = match (in_reference, in_candidate) {
            (true, true) if verdict == Verdict::Differs && other.value > one.value => {
                format!("{c} holds finer detail above its grain than {r}.")
            }
            (true, true) if verdict == Verdict::Differs => {
                format!("Detail drowns in the grain of {c} earlier than in that of {r}.")
            }
            (true, true) => {
                format!(
                    "Up to which fineness {c} and {r} hold detail above their grain is not distinguishable."
                )
            }
            (false, true) => drowned(c),
            (true, false) => drowned(r),
            (false, false) => {
                "Both films hold the scene above their grain as far as the prints can tell.".to_owned()
            }
        };
        figure = if in_candidate {
            frequency(other)
        } else if in_reference {
            frequency(one)
        } else {
            figure
        };
    }
    if let (_, out @ 1..) = detail.blocks {
        let places = detail.differing.len();
        let where_ = if places == 1 { "one place".to_owned() } else { format!("{places} places") };
        behind = format!(
            "{behind} The frames differ in {where_}; {out} of {} blocks were left out.",
            detail.blocks.0 + out
        );
    }
    finding(Kind::Agreement, verdict, sentence).with_figure(figure).with_detail(behind).claiming(claims)
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
        let sentence = format!("Whether {c} lost detail to grain or to blur is not told.");
        return finding(Kind::Lost, Verdict::NotMeasured, sentence).with_detail(reason.to_string());
    }
    let band = format!(
        "Between {} and {} cycles/mm {}",
        format::number(statement.band.0, 1),
        format::number(statement.band.1, 1),
        detail.place_words()
    );
    let (verdict, sentence) = match statement.loss {
        Loss::Grain => (Verdict::Differs, format!("Fine detail of {c} is lost to grain.")),
        Loss::Blur => (Verdict::Differs, format!("Fine detail of {c} is lost to blur.")),
        Loss::GrainAndBlur => (Verdict::Differs, format!("Fine detail of {c} is lost to grain and to blur.")),
        Loss::NotSeparated => (
            Verdict::Differs,
            format!(
                "{c} carries less fine detail than {r}; whether grain or blur took it is not distinguishable."
            ),
        ),
        Loss::Kept => (Verdict::Differs, format!("{c} carries more fine detail above its grain than {r}.")),
        Loss::NotDistinguishable | Loss::NotMeasured => (
            Verdict::NotDistinguishable,
            format!("The fine detail that {c} and {r} carry is not distinguishable."),
        ),
    };
    let behind = format!(
        "{band}: signal-to-grain {} times that of {r}, modulation {} and grain {} times at equal contrast. Paper, enlarger \
         and scanner are part of it.",
        ratio(&statement.signal_to_grain),
        ratio(&statement.modulation),
        ratio(&statement.grain)
    );
    let figure = format!("{} times signal-to-grain", short_ratio(&statement.signal_to_grain));
    finding(Kind::Lost, verdict, sentence).with_figure(figure).with_detail(behind).claiming(told(detail))
}

/// A ratio with its interval as figures are written.
fn short_ratio(value: &Value) -> String {
    match value {
        Value::Known(known) if known.bound().is_none() => format::measured(known, 2),
        _ => ratio(value),
    }
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
