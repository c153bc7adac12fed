//! How fast is it really?

use super::{Pair, by_sign, figure_in_words, finding, in_words, magnitude};
use crate::compare::difference::{difference, distinguishable};
use crate::compare::{About, Claim, Finding, Kind, Verdict, format};
use crate::figures::{Difference, FigureId};
use crate::measured::{Flags, Measured, Value};
use crate::numeric::math;

pub(super) fn findings(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    list.push(relative(pair));
    list.extend(against_box(pair));
    list.extend(shadow_match(pair));
}

fn relative(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let evidence = [FigureId::SpeedPoint];
    let of = |verdict, sentence| finding(Kind::SpeedRelative, verdict, sentence, &evidence);
    let value = pair.by(Difference::SpeedStops, FigureId::SpeedPoint);
    let Some(value) = value.filter(|_| pair.both(FigureId::SpeedPoint).is_some()) else {
        let sentence =
            format!("How fast {c} is against {r} was not measured. {}", pair.why(FigureId::SpeedPoint));
        return of(Verdict::NotMeasured, sentence);
    };
    if let Value::Undefined(reason) = &value
        && films_unlit(pair)
    {
        let sentence = format!("How fast {c} is against {r} was not measured. {reason}");
        return of(Verdict::NotMeasured, sentence);
    }
    let differs = distinguishable(&value) == Some(true);
    let found = match (value.known(), differs) {
        (Some(stops), true) => of(
            Verdict::Differs,
            format!(
                "{c} is {} stops {} than {r} at the speed point{}.",
                in_words(&magnitude(stops), 2),
                by_sign(stops, "faster", "slower"),
                thirds(stops, ": "),
            ),
        ),
        (Some(stops), _) => of(
            Verdict::NotDistinguishable,
            format!(
                "The speeds of {c} and {r} at the speed point are not distinguishable ({} stops).",
                format::difference(stops, 2)
            ),
        ),
        (None, _) => of(
            Verdict::NotMeasured,
            format!(
                "How fast {c} is against {r} cannot be told: both speed points are only bounds on opposite sides."
            ),
        ),
    };
    found.claiming(value.known().map(|stops| Claim::of(About::Difference, *stops, differs)))
}

/// Whether nothing says how much light one of the films had.
fn films_unlit(pair: &Pair<'_>) -> bool {
    let row = pair.row(FigureId::SpeedPoint);
    let unlit =
        |value: &Value| value.known().is_some_and(|known| known.flags.contains(Flags::LIGHT_NOT_SAID));
    row.is_some_and(|row| unlit(&row.reference) || unlit(&row.candidate))
}

/// The distance in thirds of a stop after `before`; nothing where its interval does not allow any.
fn thirds(stops: &Measured, before: &str) -> String {
    format::in_thirds(stops).map_or_else(String::new, |thirds| format!("{before}{thirds}"))
}

/// Distance from the speed on the box: from the ISO speed where there is one, else from the speed against the
/// reference, that one taken at its own box speed.
fn against_box(pair: &Pair<'_>) -> Option<Finding> {
    let c = &pair.candidate.label;
    let box_speed = pair.candidate.box_speed.filter(|speed| *speed > 0.0)?;
    let boxed = Value::Known(Measured::normal(box_speed, 0.0));
    let iso = pair.row(FigureId::IsoSpeed)?.candidate.clone();
    if let Some(measured) = iso.known() {
        let lead = format!(
            "The ISO 6 speed of {c} in this process is {}",
            figure_in_words(FigureId::IsoSpeed, measured)
        );
        let stops = difference(Difference::Stops, &boxed, &iso, None);
        let evidence = [FigureId::IsoSpeed];
        return Some(box_sentence(&lead, Kind::SpeedIso, box_speed, stops.known()?, &evidence));
    }
    let reference_box = pair.reference.box_speed.filter(|speed| *speed > 0.0)?;
    let gain = *pair.by(Difference::SpeedStops, FigureId::SpeedPoint)?.known()?;
    let expected = math::log2(box_speed / reference_box);
    let distance = Measured {
        value: gain.value - expected,
        low: gain.low - expected,
        high: gain.high - expected,
        ..gain.flagged(Flags::ASSUMED)
    };
    let speed = reference_box * math::pow(2.0, gain.number());
    let digits = if speed < 20.0 { 0 } else { math::log10(speed).floor() as i32 - 1 };
    let unit = math::pow(10.0, f64::from(digits));
    let lead = format!(
        "Taking {} at its box speed of {reference_box:.0}, {c} works out at {:.0}",
        pair.reference.label,
        (speed / unit).round() * unit
    );
    Some(box_sentence(&lead, Kind::SpeedBox, box_speed, &distance, &[FigureId::SpeedPoint]))
}

fn box_sentence(lead: &str, kind: Kind, box_speed: f64, stops: &Measured, evidence: &[FigureId]) -> Finding {
    let text = format::difference(stops, 2);
    let differs = distinguishable(&Value::Known(*stops)) == Some(true);
    let (verdict, sentence) = if differs {
        let side = by_sign(stops, "above", "below");
        let thirds = format::in_thirds(stops).map_or_else(String::new, |thirds| format!("{thirds} "));
        (Verdict::Differs, format!("{lead}, {thirds}{side} the {box_speed:.0} on its box ({text} stops)."))
    } else {
        (
            Verdict::NotDistinguishable,
            format!("{lead}, not distinguishable from the {box_speed:.0} on its box ({text} stops)."),
        )
    };
    let claim = Claim::of(About::Difference, *stops, differs);
    finding(kind, verdict, sentence, evidence).claiming([claim])
}

fn shadow_match(pair: &Pair<'_>) -> Option<Finding> {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let evidence = [FigureId::ShadowMatchIndex];
    let of = |verdict, sentence| finding(Kind::ShadowMatch, verdict, sentence, &evidence);
    let Some((reference, candidate)) = pair.both(FigureId::ShadowMatchIndex) else {
        let sentence = format!("No exposure index by shadow match. {}", pair.why(FigureId::ShadowMatchIndex));
        return Some(of(Verdict::NotMeasured, sentence));
    };
    let stops = *pair.by(Difference::Stops, FigureId::ShadowMatchIndex)?.known()?;
    let stops = &stops;
    let index = figure_in_words(FigureId::ShadowMatchIndex, &candidate);
    let reference = figure_in_words(FigureId::ShadowMatchIndex, &reference);
    let differs = distinguishable(&Value::Known(*stops)) == Some(true);
    let why = why_not_as_the_curves(pair, stops);
    let found = if differs {
        of(
            Verdict::Differs,
            format!(
                "For the same shadow density, {c} is to be rated at an exposure index of {index} where {r} is at \
                 {reference}: {} stops{}.{why}",
                format::difference(stops, 2),
                thirds(stops, ", ")
            ),
        )
    } else {
        of(
            Verdict::NotDistinguishable,
            format!(
                "By the matched shadow, the exposure indices of {c} ({index}) and {r} ({reference}) are not \
                 distinguishable ({} stops).{why}",
                format::difference(stops, 2)
            ),
        )
    };
    Some(found.claiming([Claim::of(About::Difference, *stops, differs)]))
}

/// Why the match gives another distance than the speed points, where it does.
fn why_not_as_the_curves(pair: &Pair<'_>, stops: &Measured) -> String {
    const ALIKE: f64 = 1.0 / 6.0;
    let gain = pair.by(Difference::SpeedStops, FigureId::SpeedPoint);
    let Some(Value::Known(gain)) = gain.filter(|gain| {
        gain.known().is_some_and(|gain| gain.bound().is_none() && (gain.value - stops.value).abs() > ALIKE)
    }) else {
        return String::new();
    };
    format!(
        " The speed points differ by {} stops: they are read at 0.10 above base+fog, the match at the shadow of a frame, and \
         toes need not run alike.",
        format::difference(&gain, 2)
    )
}
