//! Shadows, middle, highlights and contrast of the negatives.

use super::{Pair, by_sign, figure_in_words, finding, in_words, magnitude};
use crate::compare::difference::distinguishable;
use crate::compare::{About, Claim, FilmFigures, Finding, Kind, Verdict, Whose, format};
use crate::figures::{Departures, End, Extreme, FigureId, Opposed, Reached, spec, straight};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;
use crate::shown::capital;

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
        let sentence = "Base+fog was not measured in both films.".to_owned();
        return of(Verdict::NotMeasured, sentence).with_detail(pair.why(id));
    };
    let values =
        format!("Base+fog {} against {}.", figure_in_words(id, &candidate), figure_in_words(id, &reference));
    let bounds = Flags::LOWER_BOUND | Flags::UPPER_BOUND;
    if difference.flags.intersects(bounds) {
        let sentence = format!("Base+fog of {c} and {r} cannot be compared: it is only bounded.");
        return of(Verdict::NotMeasured, sentence).with_detail(values);
    }
    let differs = difference.excludes_zero();
    let (found, more) = if differs {
        // A negative denser by d everywhere prints alike with its exposure times 10^d.
        let factor = format::number(math::pow(10.0, difference.number()), 2);
        let sentence = format!(
            "{c} has the {} base+fog; that alone makes print exposures {factor} times as long.",
            by_sign(&difference, "higher", "lower")
        );
        (of(Verdict::Differs, sentence), " It says nothing about shadow detail.")
    } else {
        let sentence = format!("Base+fog of {c} and {r} is not distinguishable.");
        (of(Verdict::NotDistinguishable, sentence), "")
    };
    found
        .with_figure(format::difference(&difference, spec(id).decimals))
        .with_detail(values + more)
        .claiming([Claim::of(About::Difference, difference, differs)])
}

/// Said only where the test did not reach a film's toe: what the data say, what it bounds, and what to expose.
fn toe(whose: Whose, film: &FilmFigures) -> Option<Finding> {
    let end = &film.reach.as_ref()?.toe;
    let (sentence, bounded) = match end.reached {
        Reached::Whole => return None,
        Reached::Part => {
            (format!("The test may end just short of the unexposed density of {}.", film.label), "")
        }
        Reached::Not => (
            format!("The test did not reach the toe of {}: its shadows stay open.", film.label),
            " Base+fog and speed point are only bounded by it.",
        ),
    };
    let detail = format!("{}{bounded} {}", end.reason, end.advice.clone().unwrap_or_default());
    let ids = [FigureId::BaseFog, FigureId::SpeedPoint, FigureId::ToeLength];
    let found = finding(Kind::Toe, Verdict::NotMeasured, sentence, &ids).with_detail(detail);
    Some(found.about(whose).claiming([limit(whose, end)]))
}

/// The one-sided limit that is stated of an end.
fn limit(whose: Whose, end: &End) -> Claim {
    let stated = Measured::with_interval(end.found, 0.0, f64::NEG_INFINITY, end.limit);
    Claim::size(About::Film(whose), stated.flagged(Flags::UPPER_BOUND))
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
        let sentence = "No straight line was found in both films.".to_owned();
        return of(Verdict::NotMeasured, sentence).with_detail(pair.why(id));
    };
    let values =
        format!("Straight lines: {} stops against {}.", in_words(&candidate, 1), in_words(&reference, 1));
    let Some(difference) = pair.difference(id) else {
        let sentence =
            "Which film stays straight longer cannot be told: both still were where the test ends.";
        return of(Verdict::NotMeasured, sentence.to_owned()).with_detail(values);
    };
    let differs = distinguishable(&Value::Known(difference)) == Some(true);
    let found = if differs {
        let side = by_sign(&difference, "longer", "shorter");
        of(Verdict::Differs, format!("The straight line of {c} is {side} than that of {r}."))
    } else {
        let sentence = format!("How long {c} and {r} stay straight is not distinguishable.");
        of(Verdict::NotDistinguishable, sentence)
    };
    found
        .with_figure(format!("{} stops", format::difference(&difference, 1)))
        .with_detail(values)
        .claiming([Claim::of(About::Difference, difference, differs)])
}

/// Peaks and valleys of each film, by size and place, and where the two are opposed.
fn departures(pair: &Pair<'_>) -> Option<Finding> {
    let [reference, candidate] = pair.films().map(|(_, film)| film.departures.as_ref());
    let own = [(pair.reference, reference?), (pair.candidate, candidate?)];
    let shapes = own.map(|(film, of)| extremes(film, of)).join(" ");
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let ids = [FigureId::StraightDeparture, FigureId::StraightFrom, FigureId::StraightTo];
    let places = pair.films().into_iter().zip(own).flat_map(|((whose, _), (_, of))| {
        let real = of.extremes.iter().filter(|extreme| extreme.distinguishable());
        real.map(move |extreme| (whose, extreme))
    });
    let places: Vec<_> = places.collect();
    let claims = places
        .iter()
        .map(|(whose, extreme)| Claim::both(About::Place(*whose, extreme.log_h), extreme.departure));
    let opposed = &pair.comparison.opposed;
    let at_places = opposed.iter().flat_map(|place| {
        [
            Claim::both(About::Place(Whose::Reference, place.reference_log_h), place.reference),
            Claim::both(About::Place(Whose::Candidate, place.candidate_log_h), place.candidate),
        ]
    });
    let claims: Vec<Claim> = claims.chain(at_places).collect();
    if !opposed.is_empty() {
        let sentence =
            format!("At equal shadows the straight lines of {c} and {r} bow in opposite directions.");
        let said: Vec<String> = opposed.iter().map(|place| opposed_in_words(pair, place)).collect();
        let detail = format!("{shapes} {}.", said.join("; "));
        return Some(
            finding(Kind::Departure, Verdict::Differs, sentence, &ids).with_detail(detail).claiming(claims),
        );
    }
    let size = |extreme: &Extreme| extreme.departure.value.abs();
    // At its ends a line is left by the tolerance, whatever lies between them.
    let strays = |largest: f64| largest.max(straight::TOLERANCE);
    let largest = places.iter().map(|(_, extreme)| *extreme).max_by(|a, b| size(a).total_cmp(&size(b)));
    let found = |sentence| finding(Kind::Departure, Verdict::NotDistinguishable, sentence, &ids);
    let found = match largest {
        Some(largest) => {
            let at_most = format::number((100.0 * strays(size(largest)) - 1e-9).ceil() / 100.0, 2);
            found(format!("Neither curve was found to stray more than {at_most} from its straight line."))
                .with_figure(format::difference(&largest.departure, 3))
        }
        None => found(
            "Neither curve has a peak or valley along its straight line beyond its uncertainty.".to_owned(),
        ),
    };
    Some(found.with_detail(shapes).claiming(claims))
}

fn opposed_in_words(pair: &Pair<'_>, place: &Opposed) -> String {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    format!(
        "At log H {} ({r} at {}) {c} bows {} where {r} bows {}, {} apart",
        format::number(place.candidate_log_h, 2),
        format::number(place.reference_log_h, 2),
        by_sign(&place.candidate, "up", "down"),
        by_sign(&place.reference, "up", "down"),
        in_words(&magnitude(&place.difference), 3)
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
    let sentence = format!(
        "The test did not reach the shoulder of {}: where its highlights close up stays open.",
        film.label
    );
    let detail = format!("{} {}", end.reason, end.advice.clone().unwrap_or_default());
    let ids = [FigureId::DMax, FigureId::ShoulderLength, FigureId::UsableTo];
    let found = finding(Kind::Shoulder, Verdict::NotMeasured, sentence, &ids).with_detail(detail);
    Some(found.about(whose).claiming([limit(whose, end)]))
}

fn d_max(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::DMax;
    let of = |verdict, sentence| finding(Kind::DMax, verdict, sentence, &[id]);
    let (Some((reference, candidate)), Some(difference)) = (pair.both(id), pair.difference(id)) else {
        let sentence = "The highest density was not measured in both films.".to_owned();
        return of(Verdict::NotMeasured, sentence).with_detail(pair.why(id));
    };
    let values =
        format!("D-max {} against {}.", figure_in_words(id, &candidate), figure_in_words(id, &reference));
    let differs = distinguishable(&Value::Known(difference)) == Some(true);
    let found = if differs {
        let side = by_sign(&difference, "higher", "lower");
        of(Verdict::Differs, format!("The shoulder of {c} ends at a {side} density than that of {r}."))
    } else {
        let sentence = format!("The highest densities of {c} and {r} are not distinguishable.");
        of(Verdict::NotDistinguishable, sentence)
    };
    found
        .with_figure(format::difference(&difference, spec(id).decimals))
        .with_detail(values)
        .claiming([Claim::of(About::Difference, difference, differs)])
}

/// From the speed point to the end of the straight line: exposure that still separates fully.
fn headroom(pair: &Pair<'_>) -> Option<Finding> {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let id = FigureId::Headroom;
    let ((reference, candidate), difference) = (pair.both(id)?, pair.difference(id)?);
    let values = format!(
        "From the speed point to the end of the straight line: {} stops against {}.",
        in_words(&candidate, 1),
        in_words(&reference, 1)
    );
    let differs = distinguishable(&Value::Known(difference)) == Some(true);
    let (verdict, sentence) = if differs {
        let word = by_sign(&difference, "more", "less");
        (Verdict::Differs, format!("{c} bears {word} overexposure than {r} before its highlights close up."))
    } else {
        let sentence = format!("How much overexposure {c} and {r} bear is not distinguishable.");
        (Verdict::NotDistinguishable, sentence)
    };
    let found = finding(Kind::Headroom, verdict, sentence, &[id]);
    let found =
        found.with_figure(format!("{} stops", format::difference(&difference, 1))).with_detail(values);
    Some(found.claiming([Claim::of(About::Difference, difference, differs)]))
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
        let sentence = format!("The contrasts of {c} and {r} cannot be compared by {}.", named(id));
        return of(Verdict::NotMeasured, sentence).with_detail(pair.why(id));
    };
    let differs = distinguishable(&Value::Known(percent)) == Some(true);
    let sentence = match (differs, id) {
        (false, FigureId::AverageGradient) => {
            format!("{c} and {r} are developed to contrasts that are not distinguishable.")
        }
        (false, _) => format!("How steep the straight lines of {c} and {r} are is not distinguishable."),
        (true, FigureId::AverageGradient) => format!(
            "{c} is developed {} than {r}: part of what differs between their prints is development.",
            by_sign(&percent, "harder", "softer")
        ),
        (true, _) => {
            format!(
                "The straight line of {c} is {} than that of {r}.",
                by_sign(&percent, "steeper", "flatter")
            )
        }
    };
    let values = format!(
        "{} {} against {}.",
        spec(id).label,
        figure_in_words(id, &candidate),
        figure_in_words(id, &reference)
    );
    let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
    of(verdict, sentence)
        .with_figure(format!("{} %", format::difference(&percent, 0)))
        .with_detail(capital(&values))
        .claiming([Claim::of(About::Difference, percent, differs)])
}

fn named(id: FigureId) -> String {
    spec(id).label.to_lowercase()
}
