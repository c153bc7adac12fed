//! How sharp is it, apart from its grain?

use super::{Pair, finding};
use crate::compare::{About, Finding, Kind, Verdict};
use crate::figures::FigureId;
use crate::measured::Flags;

pub(super) fn findings(pair: &Pair<'_>, list: &mut Vec<Finding>) {
    let (r, c) = (&pair.reference.label, &pair.candidate.label);
    let ids = [FigureId::Mtf50, FigureId::Mtf10];
    let of = |verdict, sentence| finding(Kind::Edges, verdict, sentence, &ids);
    list.push(match pair.ratio(FigureId::Mtf50) {
        Ok(ratio) => {
            let sentence = if ratio.differs() {
                let word = if ratio.times.value > 1.0 { "sharper" } else { "less sharp" };
                format!("Edges on {c} are {word} than on {r}.")
            } else {
                format!("Edge sharpness of {c} and {r} is not distinguishable.")
            };
            let beyond = if ratio.times.flags.contains(Flags::BEYOND_HALF_CYCLE) {
                " One lies beyond half a cycle per pixel of its scan: scan finer to be sure of it."
            } else {
                ""
            };
            let detail =
                format!("Modulation falls to 50 % at {}.{beyond}{}", ratio.values, ratio.on_prints());
            of(ratio.verdict(), sentence)
                .with_figure(ratio.figure())
                .with_detail(detail)
                .claiming([ratio.claim(About::Difference)])
        }
        Err(why) => {
            of(Verdict::NotMeasured, "Their edge sharpness was not compared.".to_owned()).with_detail(why)
        }
    });
}
