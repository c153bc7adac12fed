//! What becomes of findings, and the tester's verdicts.

use twinwedge_core::document::{FilmId, FindingChoice, Series};
use twinwedge_core::problem::Problem;

use super::{Change, film_of, label_of};

/// A change of what the report says beyond the numbers.
#[derive(Debug, Clone, PartialEq)]
pub enum FindingEdit {
    /// What becomes of a finding; none keeps it as computed.
    Choose {
        /// On which film.
        film: FilmId,
        /// The finding's name.
        key: String,
        /// What becomes of it.
        choice: Option<FindingChoice>,
    },
    /// The verdict on a film; an empty one is none.
    Verdict(FilmId, String),
}

impl Change for FindingEdit {
    fn label(&self, series: &Series) -> String {
        match self {
            Self::Choose { film, choice, .. } => {
                let verb = match choice {
                    None => "keep",
                    Some(FindingChoice::Dropped) => "drop",
                    Some(FindingChoice::Reworded(_)) => "reword",
                };
                format!("{verb} a finding on {}", label_of(series, film))
            }
            Self::Verdict(film, _) => format!("change the verdict on {}", label_of(series, film)),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        let (Self::Choose { film, .. } | Self::Verdict(film, _)) = &self;
        film_of(series, film)?;
        match self {
            Self::Choose { film, key, choice: Some(choice) } => {
                series.report.findings.entry(film).or_default().insert(key, choice);
            }
            Self::Choose { film, key, choice: None } => {
                if let Some(choices) = series.report.findings.get_mut(&film) {
                    choices.remove(&key);
                    if choices.is_empty() {
                        series.report.findings.remove(&film);
                    }
                }
            }
            Self::Verdict(film, text) if text.trim().is_empty() => {
                series.report.verdicts.remove(&film);
            }
            Self::Verdict(film, text) => {
                series.report.verdicts.insert(film, text);
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{cause, done, two_films};
    use super::*;

    #[test]
    fn findings_are_dropped_reworded_and_kept_again() {
        let choose = |choice| FindingEdit::Choose {
            film: "Plover 640".into(),
            key: "speed.relative".to_owned(),
            choice,
        };
        let series = two_films();
        let (dropped, label) = done(&series, choose(Some(FindingChoice::Dropped))).unwrap();
        assert_eq!(label, "drop a finding on Plover 640");
        let kept = &dropped.report.findings[&FilmId::from("Plover 640")];
        assert_eq!(kept["speed.relative"], FindingChoice::Dropped);
        let words = FindingChoice::Reworded("It is faster.".to_owned());
        let (reworded, label) = done(&dropped, choose(Some(words.clone()))).unwrap();
        assert_eq!(label, "reword a finding on Plover 640");
        assert_eq!(reworded.report.findings[&FilmId::from("Plover 640")]["speed.relative"], words);
        assert_eq!(done(&reworded, choose(None)).unwrap().0, series, "nothing is left behind");
        assert_eq!(done(&series, choose(None)).unwrap().0, series);
    }

    #[test]
    fn a_verdict_is_kept_for_a_film_that_is_there() {
        let verdict = |film: &str, text: &str| FindingEdit::Verdict(film.into(), text.to_owned());
        let (after, label) = done(&two_films(), verdict("Plover 640", "Worth it.")).unwrap();
        assert_eq!(after.report.verdicts[&FilmId::from("Plover 640")], "Worth it.");
        assert_eq!(label, "change the verdict on Plover 640");
        assert_eq!(done(&after, verdict("Plover 640", " ")).unwrap().0, two_films());
        assert!(cause(&after, verdict("Godwit", "No.")).contains("no longer"));
    }
}
