//! How fast is it really?

use super::{Pair, by_sign, figure_in_words, finding};
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
        let sentence = format!("How fast {c} is against {r} was not measured.");
        return of(Verdict::NotMeasured, sentence).with_detail(pair.why(FigureId::SpeedPoint));
    };
    let stops = match &value {
        Value::Known(stops) => stops,
        Value::Undefined(reason) => {
            let sentence = format!("How fast {c} is against {r} cannot be told from these tests.");
            return of(Verdict::NotMeasured, sentence).with_detail(super::sentence(reason));
        }
    };
    let differs = distinguishable(&value) == Some(true);
    let found = if differs {
        let (by, side) = (by_thirds(stops), by_sign(stops, "faster", "slower"));
        of(Verdict::Differs, format!("{c} is {by}{side} than {r}."))
    } else {
        of(Verdict::NotDistinguishable, format!("In speed {c} and {r} are not distinguishable."))
    };
    found
        .with_figure(in_stops(stops))
        .with_detail("Measured at the speed points, 0.10 above base+fog.")
        .claiming([Claim::of(About::Difference, *stops, differs)])
}

/// A distance in thirds of a stop and a blank after it, where its interval allows any. Without its sign.
fn by_thirds(stops: &Measured) -> String {
    format::in_thirds(stops).map_or_else(String::new, |thirds| format!("{thirds} "))
}

/// A difference in stops with its sign.
fn in_stops(stops: &Measured) -> String {
    format!("{} stops", format::difference(stops, 2))
}

/// Distance from the speed on the box: from the ISO speed where there is one, else from the speed against the
/// reference, that one taken at its own box speed.
fn against_box(pair: &Pair<'_>) -> Option<Finding> {
    let c = &pair.candidate.label;
    let box_speed = pair.candidate.box_speed.filter(|speed| *speed > 0.0)?;
    let boxed = Value::Known(Measured::normal(box_speed, 0.0));
    let iso = pair.row(FigureId::IsoSpeed)?.candidate.clone();
    if let Some(measured) = iso.known() {
        let speed = figure_in_words(FigureId::IsoSpeed, measured);
        let detail = format!("Its ISO 6 speed in this process is {speed}.");
        let stops = difference(Difference::Stops, &boxed, &iso, None);
        let found = box_sentence(c, Kind::SpeedIso, box_speed, stops.known()?, &[FigureId::IsoSpeed]);
        return Some(found.with_detail(detail));
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
    let detail = format!(
        "Taking {} at its box speed of {reference_box:.0}, {c} works out at {:.0}.",
        pair.reference.label,
        (speed / unit).round() * unit
    );
    let found = box_sentence(c, Kind::SpeedBox, box_speed, &distance, &[FigureId::SpeedPoint]);
    Some(found.with_detail(detail))
}

fn box_sentence(c: &str, kind: Kind, box_speed: f64, stops: &Measured, evidence: &[FigureId]) -> Finding {
    let differs = distinguishable(&Value::Known(*stops)) == Some(true);
    let (verdict, sentence) = if differs {
        let (by, side) = (by_thirds(stops), by_sign(stops, "faster", "slower"));
        (Verdict::Differs, format!("{c} is {by}{side} than the {box_speed:.0} on its box."))
    } else {
        (
            Verdict::NotDistinguishable,
            format!("The speed of {c} is not distinguishable from the {box_speed:.0} on its box."),
        )
    };
    let claim = Claim::of(About::Difference, *stops, differs);
    finding(kind, verdict, sentence, evidence).with_figure(in_stops(stops)).claiming([claim])
}

fn shadow_match(pair: &Pair<'_>) -> Option<Finding> {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let evidence = [FigureId::ShadowMatchIndex];
    let of = |verdict, sentence| finding(Kind::ShadowMatch, verdict, sentence, &evidence);
    let Some((reference, candidate)) = pair.both(FigureId::ShadowMatchIndex) else {
        let sentence = "No exposure index was found by shadow match.".to_owned();
        return Some(of(Verdict::NotMeasured, sentence).with_detail(pair.why(FigureId::ShadowMatchIndex)));
    };
    let stops = *pair.by(Difference::Stops, FigureId::ShadowMatchIndex)?.known()?;
    let stops = &stops;
    let index = figure_in_words(FigureId::ShadowMatchIndex, &candidate);
    let reference = figure_in_words(FigureId::ShadowMatchIndex, &reference);
    let differs = distinguishable(&Value::Known(*stops)) == Some(true);
    let why = why_not_as_the_curves(pair, stops);
    let found = if differs {
        let side = by_sign(stops, "less", "more");
        let sentence = format!("For equal shadows give {c} {}{side} exposure than {r}.", by_thirds(stops));
        of(Verdict::Differs, sentence)
    } else {
        let sentence = format!("For equal shadows the exposures of {c} and {r} are not distinguishable.");
        of(Verdict::NotDistinguishable, sentence)
    };
    let detail = format!(
        "The frame of equal shadow density puts {c} at an exposure index of {index} where {r} is rated at {reference}.{why}"
    );
    let claim = Claim::of(About::Difference, *stops, differs);
    Some(found.with_figure(in_stops(stops)).with_detail(detail).claiming([claim]))
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
