//! How grainy is it, what detail survives, and is it worth using?

use super::{Pair, figure_in_words, finding};
use crate::compare::difference::distinguishable;
use crate::compare::{About, Claim, Finding, Kind, Verdict, format};
use crate::figures::{Difference, FigureId};
use crate::measured::Value;

/// Densities further apart than this are said to be different when granularities are compared. Granularity rises about
/// as the square root of density (H. Siedentopf, Phys. Z. 38, 1937), so at density 1 this is 5 % in the ratio.
const SAME_DENSITY: f64 = 0.10;

pub(super) fn findings(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    list.push(granularity(pair));
    super::sharpness::findings(pair, list);
    list.push(finding(
        Kind::AlikeZones,
        Verdict::NotMeasured,
        "Both films at one exposure index were not compared: this comparison holds no figures zone by zone."
            .to_owned(),
        &[],
    ));
}

fn granularity(pair: &Pair<'_>) -> Finding {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let ids = [FigureId::Granularity, FigureId::GranularityDensity];
    let of = |verdict, sentence| finding(Kind::Granularity, verdict, sentence, &ids);
    let ratio = match pair.ratio(FigureId::Granularity) {
        Ok(ratio) => ratio,
        Err(why) => {
            let sentence = "Their graininess was not compared.".to_owned();
            return of(Verdict::NotMeasured, sentence).with_detail(why);
        }
    };
    let [reference, candidate] = &ratio.films;
    let densities = pair.both(FigureId::GranularityDensity);
    let at = |film: usize| {
        densities.map_or(String::new(), |(r, c)| {
            format!(" at density {}", format::number([r, c][film].number(), 2))
        })
    };
    let mut detail = format!(
        "RMS granularity {}{} against {}{}.",
        figure_in_words(FigureId::Granularity, candidate),
        at(1),
        figure_in_words(FigureId::Granularity, reference),
        at(0)
    );
    if let Some((r, c)) = densities
        && (r.number() - c.number()).abs() > SAME_DENSITY
    {
        detail.push_str(
            " The two were measured at different densities; granularity rises with density, so the ratio mixes film and \
             density.",
        );
    }
    detail.push_str(ratio.on_prints());
    let sentence = if ratio.differs() {
        let side = if ratio.times.value > 1.0 { "coarser" } else { "finer" };
        format!("Where it was measured the grain of {c} is {side} than that of {r}.")
    } else {
        format!("Where it was measured the grain of {c} and {r} is not distinguishable.")
    };
    of(ratio.verdict(), sentence)
        .with_figure(ratio.figure())
        .with_detail(detail)
        .claiming([ratio.claim(About::Difference)])
}

/// Is it worth using? Only what both figures carry: speed against grain, at equal density where that is known.
pub(super) fn worth(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let at_equal_density = pair.ratio(FigureId::GranularityNetOne);
    let grain = if at_equal_density.is_ok() { FigureId::GranularityNetOne } else { FigureId::Granularity };
    let ids = [FigureId::SpeedPoint, grain];
    let of = |verdict, sentence| finding(Kind::SpeedForGrain, verdict, sentence, &ids);
    let stops = pair.by(Difference::SpeedStops, FigureId::SpeedPoint);
    let (Some(Value::Known(stops)), Ok(ratio)) = (stops, at_equal_density.or_else(|_| pair.ratio(grain)))
    else {
        let sentence =
            "Speed cannot be weighed against grain: one of the two was not measured in both films.";
        list.push(of(Verdict::NotMeasured, sentence.to_owned()));
        return;
    };
    let faster = distinguishable(&Value::Known(stops)) == Some(true);
    let grainier = ratio.differs();
    let speed =
        format::in_thirds(&stops).map_or_else(|| "speed".to_owned(), |thirds| format!("{thirds} of speed"));
    let by = format::in_thirds(&stops).map_or_else(String::new, |thirds| format!(" by {thirds}"));
    let (gains, coarser) = (stops.number() > 0.0, ratio.times.value > 1.0);
    let sentence = match (faster, grainier) {
        (true, true) => match (gains, coarser) {
            (true, true) => format!("{c} buys {speed} with coarser grain."),
            (false, false) => format!("{c} gives up {speed} for finer grain."),
            (true, false) => format!("{c} is faster than {r}{by}, and its grain is finer."),
            (false, true) => format!("{c} is slower than {r}{by}, and its grain is coarser."),
        },
        (true, false) => {
            let word = if gains { "faster" } else { "slower" };
            format!("{c} is {word} than {r}{by}; their grain is not distinguishable.")
        }
        (false, true) => {
            let word = if coarser { "coarser" } else { "finer" };
            format!("The grain of {c} is {word} than that of {r}; their speeds are not distinguishable.")
        }
        (false, false) => format!("Neither in speed nor in grain are {c} and {r} distinguishable."),
    };
    let differs = faster || grainier;
    let figure = format!("{} stops, {}", format::difference(&stops, 2), ratio.figure());
    let of_what =
        if grain == FigureId::GranularityNetOne { " at net density 1.0" } else { " where it was measured" };
    let detail = format!("Speed at the speed points; RMS granularity{of_what}: {}.", ratio.values);
    let claims = [Claim::of(About::Speed, stops, faster), ratio.claim(About::Grain)];
    let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
    list.push(of(verdict, sentence).with_figure(figure).with_detail(detail).claiming(claims));
}
