//! What becomes of findings, and the tester's verdicts.

use std::collections::BTreeMap;

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
    /// A finding is said in the tester's words, which rest on its number as it is now.
    Reword {
        /// On which film.
        film: FilmId,
        /// The finding's name.
        key: String,
        /// The tester's words.
        words: String,
        /// What the finding rests on: see [`Finding::number`](twinwedge_core::compare::Finding::number).
        number: String,
    },
    /// Findings on a film are told in this order, by their names.
    Order {
        /// On which film.
        film: FilmId,
        /// The findings' names.
        keys: Vec<String>,
    },
    /// The verdict on a film; an empty one is none.
    Verdict(FilmId, String),
    /// What is recommended about a film; an empty recommendation is none.
    Recommendation(FilmId, String),
}

/// Puts a text beside a film; an empty one is none.
fn put(texts: &mut BTreeMap<FilmId, String>, film: FilmId, text: String) {
    if text.trim().is_empty() {
        texts.remove(&film);
    } else {
        texts.insert(film, text);
    }
}

/// Takes a finding of a film out of what is kept of findings.
fn take_out<T>(of: &mut BTreeMap<FilmId, BTreeMap<String, T>>, film: &FilmId, key: &str) {
    if let Some(kept) = of.get_mut(film) {
        kept.remove(key);
        if kept.is_empty() {
            of.remove(film);
        }
    }
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
            Self::Reword { film, .. } => format!("reword a finding on {}", label_of(series, film)),
            Self::Order { film, .. } => format!("move a finding on {}", label_of(series, film)),
            Self::Recommendation(film, _) => {
                format!("change the recommendation on {}", label_of(series, film))
            }
            Self::Verdict(film, _) => format!("change the verdict on {}", label_of(series, film)),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        let (Self::Choose { film, .. }
        | Self::Reword { film, .. }
        | Self::Order { film, .. }
        | Self::Verdict(film, _)
        | Self::Recommendation(film, _)) = &self;
        film_of(series, film)?;
        let report = &mut series.report;
        match self {
            Self::Choose { film, key, choice } => {
                if !matches!(choice, Some(FindingChoice::Reworded(_))) {
                    take_out(&mut report.reworded_on, &film, &key);
                }
                match choice {
                    Some(choice) => {
                        report.findings.entry(film).or_default().insert(key, choice);
                    }
                    None => take_out(&mut report.findings, &film, &key),
                }
            }
            Self::Reword { film, key, words, number } => {
                report.reworded_on.entry(film.clone()).or_default().insert(key.clone(), number);
                report.findings.entry(film).or_default().insert(key, FindingChoice::Reworded(words));
            }
            Self::Order { film, keys } => {
                report.order.insert(film, keys);
            }
            Self::Verdict(film, text) => put(&mut report.verdicts, film, text),
            Self::Recommendation(film, text) => put(&mut report.recommendations, film, text),
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
    fn a_reworded_finding_remembers_its_number_until_it_is_kept_or_dropped() {
        let film = || FilmId::from("Plover 640");
        let reword = FindingEdit::Reword {
            film: film(),
            key: "speed.relative".to_owned(),
            words: "Two stops, near enough.".to_owned(),
            number: "+1.90 ± 0.10 stops".to_owned(),
        };
        let (reworded, label) = done(&two_films(), reword).unwrap();
        assert_eq!(label, "reword a finding on Plover 640");
        let since = |now: &str| reworded.report.changed_since(&film(), "speed.relative", now);
        assert_eq!(since("+1.90 ± 0.10 stops"), None);
        assert_eq!(since("+1.40 ± 0.10 stops"), Some("+1.90 ± 0.10 stops"));
        let choose = |choice| FindingEdit::Choose { film: film(), key: "speed.relative".to_owned(), choice };
        assert_eq!(done(&reworded, choose(None)).unwrap().0, two_films(), "nothing is left behind");
        let dropped = done(&reworded, choose(Some(FindingChoice::Dropped))).unwrap().0;
        assert!(dropped.report.reworded_on.is_empty());
    }

    #[test]
    fn findings_are_told_in_the_testers_order_and_new_ones_follow() {
        let film = FilmId::from("Plover 640");
        let order = FindingEdit::Order { film: film.clone(), keys: vec!["c".to_owned(), "a".to_owned()] };
        let (after, label) = done(&two_films(), order).unwrap();
        assert_eq!(label, "move a finding on Plover 640");
        let mut told = ["a", "b", "c", "d"];
        after.report.put_in_order(&film, &mut told, |key| key);
        assert_eq!(told, ["c", "a", "b", "d"]);
        let mut told = ["a", "b"];
        two_films().report.put_in_order(&film, &mut told, |key| key);
        assert_eq!(told, ["a", "b"]);
    }

    #[test]
    fn a_recommendation_is_kept_beside_the_verdict() {
        let recommend = |text: &str| FindingEdit::Recommendation("Plover 640".into(), text.to_owned());
        let (after, label) = done(&two_films(), recommend("For dusk.")).unwrap();
        assert_eq!(after.report.recommendations[&FilmId::from("Plover 640")], "For dusk.");
        assert_eq!(label, "change the recommendation on Plover 640");
        assert_eq!(done(&after, recommend("")).unwrap().0, two_films());
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
