//! Shadows, middle, highlights and contrast of the negatives.

use super::{Pair, by_sign, figure_in_words, finding, in_words, magnitude};
use crate::compare::difference::distinguishable;
use crate::compare::{FilmFigures, Finding, Question, Verdict, format};
use crate::figures::{Departures, FigureId, Opposed, Reached, spec};
use crate::measured::{Flags, Value};
use crate::numeric::math;

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
    let (Some((reference, candidate)), Some(difference)) = (pair.both(id), pair.difference(id)) else {
        return of(
            Verdict::NotMeasured,
            format!("Base+fog was not measured in both films. {}", pair.why(id)),
        );
    };
    let bounds = Flags::LOWER_BOUND | Flags::UPPER_BOUND;
    if difference.flags.intersects(bounds) {
        let values =
            format!("{} against {}", figure_in_words(id, &candidate), figure_in_words(id, &reference));
        return of(
            Verdict::NotMeasured,
            format!("Base+fog of {c} and {r} cannot be compared: it is only bounded ({values})."),
        );
    }
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

/// Said only where the test did not reach a film's toe: what the data say, what it bounds, and what to expose.
fn toe(pair: &Pair<'_>, film: &FilmFigures) -> Option<Finding> {
    let end = &film.reach.as_ref()?.toe;
    if end.reached == Reached::Whole {
        return None;
    }
    let bounded = match end.reached {
        Reached::Not => " Base+fog and speed point are only bounded by it.",
        Reached::Whole | Reached::Part => "",
    };
    let sentence = format!(
        "{}: {}{bounded} {}",
        film.label,
        lowered(&end.reason),
        end.advice.as_deref().unwrap_or_default()
    );
    let ids = [FigureId::BaseFog, FigureId::SpeedPoint, FigureId::ToeLength];
    let key = format!("shadows.toe.{}", whose(pair, film));
    Some(finding(&key, Question::Shadows, Verdict::NotMeasured, sentence.trim().to_owned(), &ids))
}

fn whose(pair: &Pair<'_>, film: &FilmFigures) -> &'static str {
    if core::ptr::eq(film, pair.reference) { "reference" } else { "candidate" }
}

/// A sentence as it goes on after a colon.
fn lowered(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// How straight is the middle?
pub(super) fn middle(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    list.push(straight_range(pair));
    list.extend(departures(pair));
}

fn straight_range(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::StraightLength;
    let of = |verdict, sentence| finding("middle.range", Question::Middle, verdict, sentence, &[id]);
    let Some((reference, candidate)) = pair.both(id) else {
        let sentence = format!("No straight-line range in both films. {}", pair.why(id));
        return of(Verdict::NotMeasured, sentence);
    };
    let values = format!("{} stops against {}", in_words(&candidate, 1), in_words(&reference, 1));
    match pair.difference(id) {
        Some(difference) if distinguishable(&Value::Known(difference)) == Some(true) => of(
            Verdict::Differs,
            format!(
                "The straight line of {c} is {} stops {} than that of {r} ({values}).",
                in_words(&magnitude(&difference), 1),
                by_sign(&difference, "longer", "shorter")
            ),
        ),
        Some(_) => of(
            Verdict::NotDistinguishable,
            format!("The lengths of the straight lines of {c} and {r} are not distinguishable ({values})."),
        ),
        None => of(
            Verdict::NotMeasured,
            format!(
                "Which straight line is longer cannot be told: both go on to the end of what was tested ({values})."
            ),
        ),
    }
}

/// Peaks and valleys of each film, by size and place, and where the two are opposed.
fn departures(pair: &Pair<'_>) -> Option<Finding> {
    let films = [pair.reference, pair.candidate];
    if films.iter().any(|film| film.departures.is_none()) {
        return None;
    }
    let own = films.map(|film| (film, film.departures.as_ref()));
    let shapes: Vec<String> = own.into_iter().filter_map(|(film, of)| Some(extremes(film, of?))).collect();
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let ids = [FigureId::StraightDeparture, FigureId::StraightFrom, FigureId::StraightTo];
    let of = |verdict, sentence: String| {
        Some(finding("middle.departure", Question::Middle, verdict, sentence, &ids))
    };
    let places: Vec<&Opposed> =
        pair.comparison.opposed.iter().filter(|place| place.difference.excludes_zero()).collect();
    let shapes = shapes.join(" ");
    if places.is_empty() {
        return of(
            Verdict::NotDistinguishable,
            format!(
                "{shapes} Where one of {c} and {r} bows up and the other down along their straight lines is not \
                 distinguishable."
            ),
        );
    }
    let place = |place: &&Opposed| {
        format!(
            "at log H {} ({r} at {}) {c} bows {} where {r} bows {}, {} apart",
            format::number(place.candidate_log_h, 2),
            format::number(place.reference_log_h, 2),
            if place.candidate > 0.0 { "up" } else { "down" },
            if place.reference > 0.0 { "up" } else { "down" },
            in_words(&magnitude(&place.difference), 3)
        )
    };
    let places: Vec<String> = places.iter().map(place).collect();
    of(
        Verdict::Differs,
        format!(
            "{shapes} Laid over each other at equal shadows the two are opposed: {}. These tones render apart even when both \
             contrasts are matched.",
            places.join("; ")
        ),
    )
}

/// The distinguishable peaks and valleys of one film in a sentence.
fn extremes(film: &FilmFigures, of: &Departures) -> String {
    let real = of.extremes.iter().filter(|extreme| extreme.distinguishable());
    let each: Vec<String> = real
        .map(|extreme| {
            format!(
                "{} {} at log H {}",
                by_sign(&extreme.departure, "a peak of", "a valley of"),
                format::difference(&extreme.departure, 3),
                format::number(extreme.log_h, 2)
            )
        })
        .collect();
    match each.as_slice() {
        [] => format!("{} has no peak or valley along its straight line beyond its uncertainty.", film.label),
        each => format!("{} departs from its straight line by {}.", film.label, each.join(", ")),
    }
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
    let end = &film.reach.as_ref()?.shoulder;
    if end.reached != Reached::Not {
        return None;
    }
    let sentence =
        format!("{}: {} {}", film.label, lowered(&end.reason), end.advice.as_deref().unwrap_or_default());
    let key = format!("highlights.shoulder.{}", whose(pair, film));
    let ids = [FigureId::DMax, FigureId::ShoulderLength, FigureId::UsableTo];
    Some(finding(&key, Question::Highlights, Verdict::NotMeasured, sentence.trim().to_owned(), &ids))
}

fn d_max(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::DMax;
    let of = |verdict, sentence| finding("highlights.d_max", Question::Highlights, verdict, sentence, &[id]);
    let (Some((reference, candidate)), Some(difference)) = (pair.both(id), pair.difference(id)) else {
        let sentence = format!("The highest density was not measured in both films. {}", pair.why(id));
        return of(Verdict::NotMeasured, sentence);
    };
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
    let id = FigureId::Headroom;
    let ((reference, candidate), difference) = (pair.both(id)?, pair.difference(id)?);
    let values = format!("{} stops against {}", in_words(&candidate, 1), in_words(&reference, 1));
    let (verdict, sentence) = if distinguishable(&Value::Known(difference)) == Some(true) {
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
    Some(finding("highlights.headroom", Question::Highlights, verdict, sentence, &[id]))
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
