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
            return of(Verdict::NotMeasured, format!("Their graininess was not compared. {why}"));
        }
    };
    let [reference, candidate] = &ratio.films;
    let densities = pair.both(FigureId::GranularityDensity);
    let at = |film: usize| {
        densities.map_or(String::new(), |(r, c)| {
            format!(" at density {}", format::number([r, c][film].number(), 2))
        })
    };
    let values = format!(
        "{}{} against {}{}",
        figure_in_words(FigureId::Granularity, candidate),
        at(1),
        figure_in_words(FigureId::Granularity, reference),
        at(0)
    );
    let mut sentence = if ratio.differs() {
        format!("RMS granularity of {c} is {} times that of {r} ({values}).", ratio.in_words())
    } else {
        format!("RMS granularity of {c} and {r} is not distinguishable ({values}).")
    };
    if let Some((r, c)) = densities
        && (r.number() - c.number()).abs() > SAME_DENSITY
    {
        sentence.push_str(
            " The two were measured at different densities; granularity rises with density, so the ratio mixes film and \
             density.",
        );
    }
    sentence.push_str(ratio.on_prints());
    of(ratio.verdict(), sentence).claiming([ratio.claim(About::Difference)])
}

/// Is it worth using? Only what both figures carry: speed against grain, measured alike.
pub(super) fn worth(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let c = &pair.candidate.label;
    let ids = [FigureId::SpeedPoint, FigureId::Granularity];
    let of = |verdict, sentence| finding(Kind::SpeedForGrain, verdict, sentence, &ids);
    let stops = pair.by(Difference::SpeedStops, FigureId::SpeedPoint);
    let (Some(Value::Known(stops)), Ok(ratio)) = (stops, pair.ratio(FigureId::Granularity)) else {
        list.push(of(
            Verdict::NotMeasured,
            "Speed against grain cannot be weighed: one of the two was not measured in both films."
                .to_owned(),
        ));
        return;
    };
    let faster = distinguishable(&Value::Known(stops)) == Some(true);
    let grainier = ratio.differs();
    let speed = format!("{} stops of speed", format::difference(&stops, 2));
    let grain = format!("a granularity {} times the reference's", ratio.in_words());
    let (verdict, sentence) = match (faster, grainier) {
        (true, true) => (Verdict::Differs, format!("{c} stands for {speed} at {grain}.")),
        (true, false) => (
            Verdict::Differs,
            format!("{c} stands for {speed}; in granularity the two are not distinguishable."),
        ),
        (false, true) => {
            (Verdict::Differs, format!("{c} has {grain}; in speed the two are not distinguishable."))
        }
        (false, false) => (
            Verdict::NotDistinguishable,
            format!("Neither in speed nor in granularity are {c} and the reference distinguishable."),
        ),
    };
    let claims = [Claim::of(About::Speed, stops, faster), ratio.claim(About::Grain)];
    list.push(of(verdict, sentence).claiming(claims));
}
