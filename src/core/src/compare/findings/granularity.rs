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
            let sentence = format!("Their granularity was not compared at net density 1.0. {why}");
            list.push(of(Verdict::NotMeasured, sentence));
            return;
        }
    };
    let values = &ratio.values;
    let mut sentence = if ratio.differs() {
        let times = ratio.in_words();
        format!("At net density 1.0, granularity of {c} is {times} times that of {r} ({values}).")
    } else {
        format!("At net density 1.0, granularity of {c} and {r} is not distinguishable ({values}).")
    };
    let predicted: Vec<&str> = [r, c]
        .into_iter()
        .zip(&ratio.films)
        .filter(|(_, rms)| rms.flags.contains(Flags::PREDICTED))
        .map(|(label, _)| label.as_str())
        .collect();
    if !predicted.is_empty() {
        sentence.push_str(&format!(
            " For {} it is predicted from one density by the square-root law.",
            predicted.join(" and ")
        ));
    }
    list.push(of(ratio.verdict(), sentence).claiming([ratio.claim(About::Difference)]));
}
