//! How sharp is it, apart from its grain?

use super::{Pair, figure_in_words, finding, in_words};
use crate::compare::{Finding, Question, Verdict};
use crate::figures::FigureId;
use crate::measured::{Flags, Measured};

pub(super) fn findings(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let ids = [FigureId::Mtf50, FigureId::Mtf10];
    let of = |verdict, sentence| finding("detail.edges", Question::Detail, verdict, sentence, &ids);
    let (Some(percent), Some((reference, candidate))) =
        (pair.percent(FigureId::Mtf50), pair.both(FigureId::Mtf50))
    else {
        let sentence = format!("Their edge sharpness was not compared. {}", pair.why(FigureId::Mtf50));
        list.push(of(Verdict::NotMeasured, sentence));
        return;
    };
    let part = |number: f64| 1.0 + number / 100.0;
    let ratio = Measured {
        value: part(percent.value),
        u: percent.u / 100.0,
        low: part(percent.low),
        high: part(percent.high),
        flags: percent.flags,
    };
    let values = format!(
        "{} against {}",
        figure_in_words(FigureId::Mtf50, &candidate),
        figure_in_words(FigureId::Mtf50, &reference)
    );
    let differs = ratio.low > 1.0 || ratio.high < 1.0;
    let mut sentence = if differs {
        let word = if ratio.value > 1.0 { "sharper" } else { "less sharp" };
        format!(
            "Edges on {c} are {word} than on {r}: modulation falls to 50 % at {} times the spatial frequency ({values}).",
            in_words(&ratio, 2)
        )
    } else {
        format!("Edge sharpness of {c} and {r} is not distinguishable ({values}).")
    };
    if ratio.flags.contains(Flags::FROM_PRINT) {
        sentence.push_str(" Measured on prints: paper and enlarger are part of it.");
    }
    list.push(of(if differs { Verdict::Differs } else { Verdict::NotDistinguishable }, sentence));
}
