//! What prints blank, and why: over-exposed and over-developed are told apart by where the shadows match and by the curves. And a
//! slow film pushed beside the faster one.

use super::{by_sign, in_words, rated, sentence};
use crate::compare::difference::{difference, distinguishable};
use crate::compare::{About, Claim, Comparison, Finding, Kind, Verdict, format};
use crate::figures::{Difference, FigureId};
use crate::measured::{Flags, Measured, Value};
use crate::tone::{FilmTones, Tones, zone_words};

/// What the cause rests on.
const EVIDENCE: [FigureId; 2] = [FigureId::SpeedPoint, FigureId::AverageGradient];

const BOUNDS: Flags = Flags::LOWER_BOUND.union(Flags::UPPER_BOUND);

impl Comparison {
    /// Adds from which tone on each film prints as blank paper, and whether exposure or development makes the difference; and
    /// where the third film of the tones is the reference `pushed`, that roll beside the candidate. `tones` are those of this
    /// pair.
    pub fn tell_blank(&mut self, tones: &Tones, pushed: bool) {
        let [reference, candidate, ..] = &*tones.films else { return };
        if let Some(found) = self.blank(tones, reference, candidate) {
            self.insert_last(found);
        }
        if let Some(found) = pushed.then(|| against_pushed(tones)).flatten() {
            self.insert_last(found);
        }
    }

    /// Puts a finding behind the others of its question.
    pub(super) fn insert_last(&mut self, found: Finding) {
        let before = self.findings.iter().rposition(|finding| finding.question <= found.question);
        self.findings.insert(before.map_or(0, |last| last + 1), found);
    }

    /// The difference of a figure that has an interval on both sides.
    fn settled(&self, id: FigureId) -> Option<Measured> {
        let row = self.rows.iter().find(|row| row.figure == id)?;
        row.difference.known().copied().filter(|known| !known.flags.intersects(BOUNDS))
    }

    /// Nothing where the paper was not tested, or one of the films has no print on it.
    fn blank(&self, tones: &Tones, reference: &FilmTones, candidate: &FilmTones) -> Option<Finding> {
        let (r, c) = (&reference.label, &candidate.label);
        let prints = [reference.print.as_ref()?, candidate.print.as_ref()?];
        let of = |verdict, sentence| super::finding(Kind::Blank, verdict, sentence, &EVIDENCE);
        let [first, second] = prints.map(|print| &print.blank_zone);
        let Value::Known(zones) = difference(Difference::Subtract, first, second, None) else {
            let told = |film: &FilmTones, zone: &Value| match zone {
                Value::Known(zone) => {
                    format!("{} prints blank from zone {} on.", film.label, in_words(zone, 1))
                }
                Value::Undefined(why) => format!("{}: {}", film.label, sentence(why)),
            };
            let words = format!("From which tone on {c} and {r} print blank cannot be compared.");
            let detail = format!("{} {}", told(candidate, second), told(reference, first));
            return Some(of(Verdict::NotMeasured, words).with_detail(detail));
        };
        let (first, second) = (first.known()?, second.known()?);
        let differs = distinguishable(&Value::Known(zones)) == Some(true);
        let rated = rated::rated(tones);
        let (gain, harder) = (self.settled(FigureId::SpeedPoint), self.settled(FigureId::AverageGradient));
        let words = if differs {
            let sooner = zones.number() < 0.0;
            let word = if sooner { "sooner" } else { "later" };
            format!("{rated}, {c} prints blank {word} than {r}: {}.", cause(sooner, gain, harder))
        } else {
            format!("{rated}, {c} and {r} print blank from zones that are not distinguishable.")
        };
        let each = [
            gain.map(|gain| {
                format!(
                    "For a shadow as dense {c} needs {} stops less exposure",
                    format::difference(&gain, 2)
                )
            }),
            harder.map(|harder| {
                format!("its average gradient is {} % against that of {r}", format::difference(&harder, 0))
            }),
        ];
        let causes: Vec<String> = each.into_iter().flatten().collect();
        let detail = format!(
            "Tones of the subject print within 0.04 of the paper's white from zone {} on in {c}, from {} on in {r}. {}",
            in_words(second, 1),
            in_words(first, 1),
            if causes.is_empty() { String::new() } else { format!("{}.", causes.join("; ")) }
        );
        let figure =
            format!("from zone {} against {}", zone_words(second.number()), zone_words(first.number()));
        let speed = gain.map(|gain| Claim::of(About::Speed, gain, gain.excludes_zero()));
        let contrast = harder.map(|harder| Claim::of(About::Contrast, harder, harder.excludes_zero()));
        let claims = [Some(Claim::of(About::Difference, zones, differs)), speed, contrast];
        let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
        let found = of(verdict, words).with_figure(figure).with_detail(detail);
        Some(found.claiming(claims.into_iter().flatten()))
    }
}

/// Why one film prints blank sooner or later than the other: `gain` in speed at matched shadows, which at one exposure index is as
/// much more exposure than its shadows need, and how much `harder` it was developed.
fn cause(sooner: bool, gain: Option<Measured>, harder: Option<Measured>) -> &'static str {
    let side = |of: Option<Measured>| of.map(|of| of.excludes_zero() && (of.number() > 0.0) == sooner);
    match (sooner, side(gain), side(harder)) {
        (true, Some(true), Some(true)) => "it is over-exposed and developed harder",
        (true, Some(true), Some(false)) => "it is over-exposed, and not found to be developed harder",
        (true, Some(false), Some(true)) => "it is developed harder, and not found to be over-exposed",
        (false, Some(true), Some(true)) => "it is exposed less fully and developed softer",
        (false, Some(true), Some(false)) => "it is exposed less fully, and not found to be developed softer",
        (false, Some(false), Some(true)) => "it is developed softer, and not found to be exposed less fully",
        (_, Some(false), Some(false)) => "neither exposure nor development was found to cause it",
        (_, None, _) => "whether exposure causes it is not settled",
        (_, _, None) => "whether development causes it is not settled",
    }
}

/// The candidate beside the pushed roll: the density of the lowest zone that both were tested for.
fn against_pushed(tones: &Tones) -> Option<Finding> {
    let [_, candidate, pushed] = &*tones.films else { return None };
    let tested = |value: &Value| value.known().copied().filter(|known| !known.flags.intersects(BOUNDS));
    let of = |row: &crate::tone::ZoneRow| Some((tested(&row.films[2].net)?, tested(&row.films[1].net)?));
    let found = tones.rows[1..=5].iter().find_map(|row| Some((row.zone, of(row)?)));
    let (c, p) = (&candidate.label, &pushed.label);
    let told = |verdict, words| super::finding(Kind::Pushed, verdict, words, &EVIDENCE);
    let Some((zone, (of_pushed, of_candidate))) = found.filter(|_| candidate.placed && pushed.placed) else {
        let words = format!("The pushed {p} and {c} cannot be compared zone by zone.");
        let tied = [candidate, pushed].into_iter().find(|film| !film.placed);
        let why = tied.map_or_else(
            || "No zone up to V was tested on both, with base+fog known.".to_owned(),
            |film| film.tie.to_string(),
        );
        return Some(told(Verdict::NotMeasured, words).with_detail(sentence(&why)));
    };
    let [first, second] = [of_pushed, of_candidate].map(Value::Known);
    let Value::Known(by) = difference(Difference::Subtract, &first, &second, None) else { return None };
    let differs = by.excludes_zero();
    let rated = rated::rated(tones);
    let words = if differs {
        let side = by_sign(&by, "denser", "thinner");
        format!("{rated}, {c} records {side} shadows than {p}, which was pushed.")
    } else {
        format!("{rated}, the shadows of {c} and of {p}, which was pushed, are not distinguishable.")
    };
    let zone_word = zone_words(f64::from(zone));
    let detail = format!(
        "Zone {zone_word} lies {} above base+fog on {c}, {} on {p}.",
        in_words(&of_candidate, 2),
        in_words(&of_pushed, 2)
    );
    let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
    let found = told(verdict, words)
        .with_figure(format!("density {} in zone {zone_word}", format::difference(&by, 2)))
        .with_detail(detail);
    Some(found.claiming([Claim::of(About::AtZone(zone), by, differs)]))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By the words' meaning: a film that is faster than its rating gets more light than its shadows need, and one that is steeper
    /// was developed harder.
    #[test]
    fn each_cause_is_named_where_it_was_found() {
        let (yes, no) = (Some(Measured::normal(1.0, 0.1)), Some(Measured::normal(0.05, 0.1)));
        let less = Some(Measured::normal(-1.0, 0.1));
        assert_eq!(cause(true, yes, yes), "it is over-exposed and developed harder");
        assert_eq!(cause(true, yes, no), "it is over-exposed, and not found to be developed harder");
        assert_eq!(cause(true, no, yes), "it is developed harder, and not found to be over-exposed");
        assert_eq!(cause(true, less, no), "neither exposure nor development was found to cause it");
        assert_eq!(cause(false, less, less), "it is exposed less fully and developed softer");
        assert_eq!(cause(false, yes, less), "it is developed softer, and not found to be exposed less fully");
        assert_eq!(cause(true, None, yes), "whether exposure causes it is not settled");
    }
}
