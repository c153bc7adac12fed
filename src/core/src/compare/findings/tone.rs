//! Shadows, middle, highlights and contrast of the negatives.

use super::{Pair, by_sign, figure_in_words, finding, in_words, magnitude};
use crate::compare::difference::distinguishable;
use crate::compare::{FilmFigures, Finding, Question, Verdict, format};
use crate::figures::{FigureId, spec};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;
use crate::units::STOP;

/// What happens in the shadows?
pub(super) fn shadows(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    list.push(base_fog(pair));
    for film in [pair.reference, pair.candidate] {
        list.extend(toe(pair, film));
    }
}

fn base_fog(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::BaseFog;
    let of = |verdict, sentence| finding("shadows.base_fog", Question::Shadows, verdict, sentence, &[id]);
    let Some((reference, candidate)) = pair.both(id) else {
        return of(
            Verdict::NotMeasured,
            format!("Base+fog was not measured in both films. {}", pair.why(id)),
        );
    };
    let difference = candidate.minus(&reference);
    let values = format!("{} against {}", figure_in_words(id, &candidate), figure_in_words(id, &reference));
    if difference.excludes_zero() {
        // A negative denser by d everywhere prints alike with its exposure times 10^d.
        let factor = format::number(math::pow(10.0, difference.number()), 2);
        of(
            Verdict::Differs,
            format!(
                "Base+fog of {c} is {} {} than that of {r} ({values}). That alone changes the print exposure by a \
                 factor of {factor}; it says nothing about shadow detail.",
                in_words(&magnitude(&difference), spec(id).decimals),
                by_sign(&difference, "higher", "lower"),
            ),
        )
    } else {
        of(Verdict::NotDistinguishable, format!("Base+fog of {c} and {r} is not distinguishable ({values})."))
    }
}

/// Said only where the test did not reach a film's toe.
fn toe(pair: &Pair<'_>, film: &FilmFigures) -> Option<Finding> {
    let ids = [FigureId::BaseFog, FigureId::SpeedPoint];
    let flagged = ids.iter().any(|id| {
        let value = film.figures.get(id).and_then(Value::known);
        value.is_some_and(|measured| measured.flags.contains(Flags::TOE_NOT_REACHED))
    });
    if !flagged {
        return None;
    }
    let whose = if core::ptr::eq(film, pair.reference) { "reference" } else { "candidate" };
    Some(finding(
        &format!("shadows.toe.{whose}"),
        Question::Shadows,
        Verdict::NotMeasured,
        format!(
            "The test did not reach the toe of {}: its darkest steps still lie above base+fog, so toe and speed point are \
             only bounded. One more tablet exposure with less light (2 stops, a neutral density of 0.60, is a fair first \
             step) would reach it.",
            film.label
        ),
        &ids,
    ))
}

/// How straight is the middle?
pub(super) fn middle(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    list.push(straight_range(pair));
    list.extend(departures(pair));
}

/// Length of a film's straight-line range, in stops. Its two ends are treated as independent.
fn straight_length(film: &FilmFigures) -> Option<Measured> {
    let from = film.figures.get(&FigureId::StraightFrom)?.known()?;
    let to = film.figures.get(&FigureId::StraightTo)?.known()?;
    Some(in_stops(&to.minus(from)))
}

fn in_stops(log_h: &Measured) -> Measured {
    Measured {
        value: log_h.value / STOP,
        u: log_h.u / STOP,
        low: log_h.low / STOP,
        high: log_h.high / STOP,
        flags: log_h.flags,
    }
}

fn straight_range(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let ids = [FigureId::StraightFrom, FigureId::StraightTo];
    let of = |verdict, sentence| finding("middle.range", Question::Middle, verdict, sentence, &ids);
    let (Some(reference), Some(candidate)) =
        (straight_length(pair.reference), straight_length(pair.candidate))
    else {
        return of(
            Verdict::NotMeasured,
            format!("No straight-line range in both films. {}", pair.why(FigureId::StraightFrom)),
        );
    };
    let difference = candidate.minus(&reference);
    let values = format!("{} stops against {}", in_words(&candidate, 1), in_words(&reference, 1));
    if difference.excludes_zero() {
        of(
            Verdict::Differs,
            format!(
                "The straight line of {c} is {} stops {} than that of {r} ({values}).",
                in_words(&magnitude(&difference), 1),
                by_sign(&difference, "longer", "shorter")
            ),
        )
    } else {
        of(
            Verdict::NotDistinguishable,
            format!("The lengths of the straight lines of {c} and {r} are not distinguishable ({values})."),
        )
    }
}

fn departures(pair: &Pair<'_>) -> Option<Finding> {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::StraightDeparture;
    let of =
        |verdict, sentence| Some(finding("middle.departure", Question::Middle, verdict, sentence, &[id]));
    let (reference, candidate) = pair.both(id)?;
    let values = format!(
        "{} for {c}, {} for {r}",
        format::difference(&candidate, spec(id).decimals),
        format::difference(&reference, spec(id).decimals)
    );
    let real = (reference.excludes_zero(), candidate.excludes_zero());
    let opposed = reference.number() * candidate.number() < 0.0;
    if !candidate.minus(&reference).excludes_zero() {
        return of(
            Verdict::NotDistinguishable,
            format!("The largest departures from the straight line are not distinguishable ({values})."),
        );
    }
    let shape = |value: &Measured| by_sign(value, "a peak above", "a valley below");
    let sentence = match real {
        (true, true) if opposed => format!(
            "The largest departures from the straight line are opposed ({values}): {c} has {} its line, {r} {} its \
             own. Where they fall on the same tones, these render apart even when both contrasts are matched.",
            shape(&candidate),
            shape(&reference)
        ),
        (_, true) => format!(
            "{c} departs from its straight line by {}, {} it; {r} by {}.",
            format::difference(&candidate, spec(id).decimals),
            shape(&candidate),
            format::difference(&reference, spec(id).decimals)
        ),
        _ => format!("The largest departures from the straight line differ ({values})."),
    };
    of(Verdict::Differs, sentence)
}

/// What happens in the highlights?
pub(super) fn highlights(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let mut open = false;
    for film in [pair.reference, pair.candidate] {
        let shoulder = shoulder(pair, film);
        open |= shoulder.is_some();
        list.extend(shoulder);
    }
    if !open {
        list.push(d_max(pair));
    }
    list.extend(headroom(pair));
}

/// Said only where the test did not reach a film's shoulder.
fn shoulder(pair: &Pair<'_>, film: &FilmFigures) -> Option<Finding> {
    let highest = film.figures.get(&FigureId::DMax)?.known()?;
    if !highest.flags.intersects(Flags::SHOULDER_NOT_REACHED | Flags::LOWER_BOUND) {
        return None;
    }
    let whose = if core::ptr::eq(film, pair.reference) { "reference" } else { "candidate" };
    let plain = Measured { flags: Flags::empty(), ..*highest };
    Some(finding(
        &format!("highlights.shoulder.{whose}"),
        Question::Highlights,
        Verdict::NotMeasured,
        format!(
            "The test did not reach the shoulder of {}: its density still rises at the largest exposure ({}). Where its \
             highlights begin to close up is not known; one more tablet exposure with more light (2 stops is a fair first \
             step) would show it.",
            film.label,
            figure_in_words(FigureId::DMax, &plain)
        ),
        &[FigureId::DMax],
    ))
}

fn d_max(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::DMax;
    let of = |verdict, sentence| finding("highlights.d_max", Question::Highlights, verdict, sentence, &[id]);
    let Some((reference, candidate)) = pair.both(id) else {
        let sentence = format!("The highest density was not measured in both films. {}", pair.why(id));
        return of(Verdict::NotMeasured, sentence);
    };
    let difference = candidate.minus(&reference);
    let values = format!("{} against {}", figure_in_words(id, &candidate), figure_in_words(id, &reference));
    if difference.excludes_zero() {
        of(
            Verdict::Differs,
            format!(
                "The shoulder of {c} ends {} {} in density than that of {r} ({values}).",
                in_words(&magnitude(&difference), spec(id).decimals),
                by_sign(&difference, "higher", "lower")
            ),
        )
    } else {
        of(
            Verdict::NotDistinguishable,
            format!("The highest densities of {c} and {r} are not distinguishable ({values})."),
        )
    }
}

/// From the speed point to the end of the straight line: exposure that still separates fully.
fn headroom(pair: &Pair<'_>) -> Option<Finding> {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let of_film = |film: &FilmFigures| {
        let to = film.figures.get(&FigureId::StraightTo)?.known()?;
        let speed = film.figures.get(&FigureId::SpeedPoint)?.known()?;
        let bounded = Flags::LOWER_BOUND | Flags::UPPER_BOUND;
        (!(to.flags | speed.flags).intersects(bounded)).then(|| in_stops(&to.minus(speed)))
    };
    let (reference, candidate) = (of_film(pair.reference)?, of_film(pair.candidate)?);
    let difference = candidate.minus(&reference);
    let values = format!("{} stops against {}", in_words(&candidate, 1), in_words(&reference, 1));
    let ids = [FigureId::SpeedPoint, FigureId::StraightTo];
    let (verdict, sentence) = if difference.excludes_zero() {
        let word = by_sign(&difference, "further", "less far");
        (
            Verdict::Differs,
            format!(
                "Above its speed point the straight line of {c} reaches {} stops {word} than that of {r} ({values}).",
                in_words(&magnitude(&difference), 1)
            ),
        )
    } else {
        (
            Verdict::NotDistinguishable,
            format!(
                "How far the straight line reaches above the speed point is not distinguishable ({values})."
            ),
        )
    };
    Some(finding("highlights.headroom", Question::Highlights, verdict, sentence, &ids))
}

/// Is it developed to the same contrast?
pub(super) fn contrast(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    list.push(compared_slope(pair, FigureId::AverageGradient, "contrast.average"));
    let gamma = compared_slope(pair, FigureId::Gamma, "contrast.gamma");
    if gamma.verdict != Verdict::NotMeasured {
        list.push(gamma);
    }
}

fn compared_slope(pair: &Pair<'_>, id: FigureId, key: &str) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let of = |verdict, sentence| finding(key, Question::Contrast, verdict, sentence, &[id]);
    let (Some(percent), Some((reference, candidate))) = (pair.percent(id), pair.both(id)) else {
        let sentence = format!("Their contrasts cannot be compared by {}. {}", named(id), pair.why(id));
        return of(Verdict::NotMeasured, sentence);
    };
    let values = format!("{} against {}", figure_in_words(id, &candidate), figure_in_words(id, &reference));
    if distinguishable(&Value::Known(percent)) != Some(true) {
        let sentence =
            format!("By {}, {c} and {r} are not distinguishable in contrast ({values}).", named(id));
        return of(Verdict::NotDistinguishable, sentence);
    }
    let by = in_words(&magnitude(&percent), 0);
    let sentence = if id == FigureId::AverageGradient {
        let (harder, time) =
            if percent.number() > 0.0 { ("harder", "shorter") } else { ("softer", "longer") };
        format!(
            "{c} is developed {by} % {harder} than {r} ({} {values}): on the same paper and grade the same subject takes \
             up that much {} density range in the negative, and differences between the prints are partly development. As \
             a starting point for a test, a {time} development would bring the two together; by how much, only a series \
             of development times of this film can tell.",
            named(id),
            if percent.number() > 0.0 { "more" } else { "less" },
        )
    } else {
        format!(
            "The straight line of {c} is {by} % {} than that of {r} ({} {values}).",
            by_sign(&percent, "steeper", "flatter"),
            named(id)
        )
    };
    of(Verdict::Differs, sentence)
}

fn named(id: FigureId) -> String {
    spec(id).label.to_lowercase()
}
