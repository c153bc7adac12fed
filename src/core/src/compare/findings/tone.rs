//! Shadows, middle, highlights and contrast of the negatives.

use super::{Pair, by_sign, figure_in_words, finding, in_words, magnitude};
use crate::compare::difference::distinguishable;
use crate::compare::{About, Claim, FilmFigures, Finding, Kind, Verdict, Whose, format};
use crate::figures::{Departures, End, FigureId, Opposed, Reached, spec};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;

/// What happens in the shadows?
pub(super) fn shadows(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    list.push(base_fog(pair));
    for (whose, film) in pair.films() {
        list.extend(toe(whose, film));
    }
}

fn base_fog(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::BaseFog;
    let of = |verdict, sentence| finding(Kind::BaseFog, verdict, sentence, &[id]);
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
    let differs = difference.excludes_zero();
    let found = if differs {
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
    };
    found.claiming([Claim::of(About::Difference, difference, differs)])
}

/// Said only where the test did not reach a film's toe: what the data say, what it bounds, and what to expose.
fn toe(whose: Whose, film: &FilmFigures) -> Option<Finding> {
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
    let found = finding(Kind::Toe, Verdict::NotMeasured, sentence.trim().to_owned(), &ids);
    Some(found.about(whose).claiming([limit(whose, end)]))
}

/// The one-sided limit that is stated of an end.
fn limit(whose: Whose, end: &End) -> Claim {
    let stated = Measured::with_interval(end.found, 0.0, f64::NEG_INFINITY, end.limit);
    Claim::size(About::Film(whose), stated.flagged(Flags::UPPER_BOUND))
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
    let of = |verdict, sentence| finding(Kind::StraightRange, verdict, sentence, &[id]);
    let Some((reference, candidate)) = pair.both(id) else {
        let sentence = format!("No straight-line range in both films. {}", pair.why(id));
        return of(Verdict::NotMeasured, sentence);
    };
    let values = format!("{} stops against {}", in_words(&candidate, 1), in_words(&reference, 1));
    let difference = pair.difference(id);
    let differs = difference.is_some_and(|by| distinguishable(&Value::Known(by)) == Some(true));
    let found = match difference {
        Some(difference) if differs => of(
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
    };
    found.claiming(difference.map(|by| Claim::of(About::Difference, by, differs)))
}

/// Peaks and valleys of each film, by size and place, and where the two are opposed.
fn departures(pair: &Pair<'_>) -> Option<Finding> {
    let [reference, candidate] = pair.films().map(|(_, film)| film.departures.as_ref());
    let own = [(pair.reference, reference?), (pair.candidate, candidate?)];
    let shapes = own.map(|(film, of)| extremes(film, of)).join(" ");
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let ids = [FigureId::StraightDeparture, FigureId::StraightFrom, FigureId::StraightTo];
    let claims = pair.films().into_iter().zip(own).flat_map(|((whose, _), (_, of))| {
        let real = of.extremes.iter().filter(|extreme| extreme.distinguishable());
        real.map(move |extreme| Claim::both(About::Place(whose, extreme.log_h), extreme.departure))
    });
    let opposed = &pair.comparison.opposed;
    let at_places = opposed.iter().flat_map(|place| {
        [
            Claim::both(About::Place(Whose::Reference, place.reference_log_h), place.reference),
            Claim::both(About::Place(Whose::Candidate, place.candidate_log_h), place.candidate),
        ]
    });
    let claims: Vec<Claim> = claims.chain(at_places).collect();
    if opposed.is_empty() {
        let sentence = format!(
            "{shapes} Where one of {c} and {r} bows up and the other down along their straight lines is not distinguishable."
        );
        return Some(finding(Kind::Departure, Verdict::NotDistinguishable, sentence, &ids).claiming(claims));
    }
    let place = |place: &Opposed| {
        format!(
            "at log H {} ({r} at {}) {c} bows {} where {r} bows {}, {} apart",
            format::number(place.candidate_log_h, 2),
            format::number(place.reference_log_h, 2),
            by_sign(&place.candidate, "up", "down"),
            by_sign(&place.reference, "up", "down"),
            in_words(&magnitude(&place.difference), 3)
        )
    };
    let places: Vec<String> = opposed.iter().map(place).collect();
    let sentence =
        format!("{shapes} Laid over each other at equal shadows the two are opposed: {}.", places.join("; "));
    Some(finding(Kind::Departure, Verdict::Differs, sentence, &ids).claiming(claims))
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
    for (whose, film) in pair.films() {
        let shoulder = shoulder(whose, film);
        open |= shoulder.is_some();
        list.extend(shoulder);
    }
    if !open {
        list.push(d_max(pair));
    }
    list.extend(headroom(pair));
}

/// Said only where the test did not reach a film's shoulder.
fn shoulder(whose: Whose, film: &FilmFigures) -> Option<Finding> {
    let end = &film.reach.as_ref()?.shoulder;
    if end.reached != Reached::Not {
        return None;
    }
    let sentence =
        format!("{}: {} {}", film.label, lowered(&end.reason), end.advice.as_deref().unwrap_or_default());
    let ids = [FigureId::DMax, FigureId::ShoulderLength, FigureId::UsableTo];
    let found = finding(Kind::Shoulder, Verdict::NotMeasured, sentence.trim().to_owned(), &ids);
    Some(found.about(whose).claiming([limit(whose, end)]))
}

fn d_max(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::DMax;
    let of = |verdict, sentence| finding(Kind::DMax, verdict, sentence, &[id]);
    let (Some((reference, candidate)), Some(difference)) = (pair.both(id), pair.difference(id)) else {
        let sentence = format!("The highest density was not measured in both films. {}", pair.why(id));
        return of(Verdict::NotMeasured, sentence);
    };
    let values = format!("{} against {}", figure_in_words(id, &candidate), figure_in_words(id, &reference));
    let differs = distinguishable(&Value::Known(difference)) == Some(true);
    let found = if differs {
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
    };
    found.claiming([Claim::of(About::Difference, difference, differs)])
}

/// From the speed point to the end of the straight line: exposure that still separates fully.
fn headroom(pair: &Pair<'_>) -> Option<Finding> {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::Headroom;
    let ((reference, candidate), difference) = (pair.both(id)?, pair.difference(id)?);
    let values = format!("{} stops against {}", in_words(&candidate, 1), in_words(&reference, 1));
    let differs = distinguishable(&Value::Known(difference)) == Some(true);
    let (verdict, sentence) = if differs {
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
    let claim = Claim::of(About::Difference, difference, differs);
    Some(finding(Kind::Headroom, verdict, sentence, &[id]).claiming([claim]))
}

/// Is it developed to the same contrast?
pub(super) fn contrast(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    list.push(compared_slope(pair, FigureId::AverageGradient, Kind::AverageContrast));
    let gamma = compared_slope(pair, FigureId::Gamma, Kind::Gamma);
    if gamma.verdict != Verdict::NotMeasured {
        list.push(gamma);
    }
}

fn compared_slope(pair: &Pair<'_>, id: FigureId, kind: Kind) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let of = |verdict, sentence| finding(kind, verdict, sentence, &[id]);
    let (Some(percent), Some((reference, candidate))) = (pair.percent(id), pair.both(id)) else {
        let sentence = format!("Their contrasts cannot be compared by {}. {}", named(id), pair.why(id));
        return of(Verdict::NotMeasured, sentence);
    };
    let values = format!("{} against {}", figure_in_words(id, &candidate), figure_in_words(id, &reference));
    let differs = distinguishable(&Value::Known(percent)) == Some(true);
    let by = in_words(&magnitude(&percent), 0);
    let sentence = if !differs {
        format!("By {}, {c} and {r} are not distinguishable in contrast ({values}).", named(id))
    } else if id == FigureId::AverageGradient {
        format!(
            "{c} is developed {by} % {} than {r} ({} {values}). Differences between their prints are partly development.",
            by_sign(&percent, "harder", "softer"),
            named(id)
        )
    } else {
        format!(
            "The straight line of {c} is {by} % {} than that of {r} ({} {values}).",
            by_sign(&percent, "steeper", "flatter"),
            named(id)
        )
    };
    let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
    of(verdict, sentence).claiming([Claim::of(About::Difference, percent, differs)])
}

fn named(id: FigureId) -> String {
    spec(id).label.to_lowercase()
}
