//! How grainy is it, brought to one density?

use super::{Pair, finding};
use crate::compare::{About, Finding, Kind, Verdict};
use crate::figures::FigureId;
use crate::measured::Flags;

/// Granularity of both films referred to net density 1.0.
pub(super) fn findings(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let ids = [FigureId::GranularityNetOne];
    let of = |verdict, sentence| finding(Kind::GranularityNetOne, verdict, sentence, &ids);
    let ratio = match pair.ratio(FigureId::GranularityNetOne) {
        Ok(ratio) => ratio,
        Err(why) => {
            let sentence = "Their granularity was not compared at equal density.".to_owned();
            list.push(of(Verdict::NotMeasured, sentence).with_detail(why));
            return;
        }
    };
    let sentence = if ratio.differs() {
        let side = if ratio.times.value > 1.0 { "coarser" } else { "finer" };
        format!("At equal density the grain of {c} is {side} than that of {r}.")
    } else {
        format!("At equal density the grain of {c} and {r} is not distinguishable.")
    };
    let mut detail = format!("RMS granularity at net density 1.0: {}.", ratio.values);
    let predicted: Vec<&str> = [r, c]
        .into_iter()
        .zip(&ratio.films)
        .filter(|(_, rms)| rms.flags.contains(Flags::PREDICTED))
        .map(|(label, _)| label.as_str())
        .collect();
    if !predicted.is_empty() {
        let films = predicted.join(" and ");
        detail.push_str(&format!(" For {films} it is predicted from one density by the square-root law."));
    }
    let found = of(ratio.verdict(), sentence).with_figure(ratio.figure()).with_detail(detail);
    list.push(found.claiming([ratio.claim(About::Difference)]));
}
