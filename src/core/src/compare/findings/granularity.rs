//! How grainy is it, brought to one density?

use super::{Pair, figure_in_words, finding, in_words};
use crate::compare::{Finding, Question, Verdict};
use crate::figures::FigureId;
use crate::measured::{Flags, Measured};

/// Granularity of both films referred to net density 1.0.
pub(super) fn findings(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let ids = [FigureId::GranularityNetOne];
    let of = |verdict, sentence| finding("grain.net_one", Question::Grain, verdict, sentence, &ids);
    let both = pair.both(FigureId::GranularityNetOne).zip(pair.percent(FigureId::GranularityNetOne));
    let Some(((reference, candidate), percent)) = both else {
        let sentence = format!(
            "Their granularity was not compared at net density 1.0. {}",
            pair.why(FigureId::GranularityNetOne)
        );
        list.push(of(Verdict::NotMeasured, sentence));
        return;
    };
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let values = format!(
        "{} against {}",
        figure_in_words(FigureId::GranularityNetOne, &candidate),
        figure_in_words(FigureId::GranularityNetOne, &reference)
    );
    let differs = percent.excludes_zero();
    let mut sentence = if differs {
        let part = |number: f64| 1.0 + number / 100.0;
        let ratio = Measured {
            value: part(percent.value),
            u: percent.u / 100.0,
            low: part(percent.low),
            high: part(percent.high),
            flags: percent.flags,
        };
        let times = in_words(&ratio, 2);
        format!("At net density 1.0, granularity of {c} is {times} times that of {r} ({values}).")
    } else {
        format!("At net density 1.0, granularity of {c} and {r} is not distinguishable ({values}).")
    };
    let predicted: Vec<&str> = [(r, &reference), (c, &candidate)]
        .into_iter()
        .filter(|(_, rms)| rms.flags.contains(Flags::PREDICTED))
        .map(|(label, _)| label.as_str())
        .collect();
    if !predicted.is_empty() {
        sentence.push_str(&format!(
            " For {} it is predicted from one density by the square-root law.",
            predicted.join(" and ")
        ));
    }
    list.push(of(if differs { Verdict::Differs } else { Verdict::NotDistinguishable }, sentence));
}
