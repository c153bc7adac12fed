//! Both films as if developed to one contrast: a prediction, told where their contrasts differ.

use super::{finding, sentence};
use crate::compare::difference::{difference, distinguishable};
use crate::compare::{About, Claim, Comparison, FilmFigures, Kind, Verdict, format};
use crate::figures::{Difference, Draws, FigureId, Figures};
use crate::measured::{Flags, Value};
use crate::words::Sentence;

/// A film as if it had been developed to the reference's contrast.
#[derive(Debug, Clone, Copy)]
pub struct AsIfMatched<'a> {
    /// Its figures then.
    pub figures: &'a Figures,
    /// Their draws.
    pub draws: &'a Draws,
    /// What the prediction rests on, in a sentence.
    pub basis: &'a str,
}

impl Comparison {
    /// Whether the two were developed to contrasts that differ: only then is there a question of matched ones.
    #[must_use]
    pub fn contrasts_differ(&self) -> bool {
        let row = self.rows.iter().find(|row| row.figure == FigureId::AverageGradient);
        row.is_some_and(|row| row.distinguishable == Some(true))
    }

    /// Adds how fast the candidate would be against the reference if both were developed to the reference's contrast, where their
    /// contrasts differ. `matched` is the prediction, or why there is none.
    pub fn match_contrast(&mut self, reference: &FilmFigures, matched: Result<AsIfMatched<'_>, &Sentence>) {
        if !self.contrasts_differ() {
            return;
        }
        let (r, c) = (&self.reference, &self.candidate);
        let of = |verdict, words| finding(Kind::MatchedContrast, verdict, words, &[FigureId::SpeedPoint]);
        let id = FigureId::SpeedPoint;
        let stops = matched.map_err(ToString::to_string).and_then(|matched| {
            let missing = || "Its speed point cannot be predicted.".to_owned();
            let figures = reference.figures.get(&id).zip(matched.figures.get(&id)).ok_or_else(missing)?;
            let draws = reference.draws.get(id).zip(matched.draws.get(id));
            match difference(Difference::SpeedStops, figures.0, figures.1, draws) {
                Value::Known(stops) => Ok((stops, matched.basis)),
                Value::Undefined(_) => Err(missing()),
            }
        });
        let found = match stops {
            Err(why) => {
                let words = format!("How {c} would do at the contrast of {r} cannot be predicted.");
                of(Verdict::NotMeasured, words).with_detail(sentence(&why))
            }
            Ok((stops, basis)) => {
                let stops = stops.flagged(Flags::PREDICTED);
                let differs = distinguishable(&Value::Known(stops)) == Some(true);
                let words = if differs {
                    let by =
                        format::in_thirds(&stops).map_or_else(String::new, |thirds| format!("{thirds} "));
                    let side = super::by_sign(&stops, "faster", "slower");
                    format!("Developed to the same contrast, {c} would be {by}{side} than {r}.")
                } else {
                    format!(
                        "Developed to the same contrast, {c} and {r} would not be distinguishable in speed."
                    )
                };
                let verdict = if differs { Verdict::Differs } else { Verdict::NotDistinguishable };
                let figure = format!("{} stops, predicted", format::difference(&stops, 2));
                let claim = Claim::of(About::Speed, stops, differs);
                of(verdict, words).with_figure(figure).with_detail(sentence(basis)).claiming([claim])
            }
        };
        self.insert_last(found);
    }
}
