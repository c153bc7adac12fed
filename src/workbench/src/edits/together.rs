//! Several changes that are one step: a series that begins, one record changed for many films.

use twinwedge_core::document::Series;
use twinwedge_core::problem::Problem;

use super::{Change, Operation};

/// Changes that are done one after another and taken back together. Where one is refused, none is done.
#[derive(Debug, Clone)]
pub struct Together {
    /// What the whole is called after 'Undo'.
    pub label: String,
    /// The changes, in order.
    pub steps: Vec<Operation>,
}

impl Change for Together {
    fn label(&self, _: &Series) -> String {
        self.label.clone()
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        self.steps.into_iter().try_for_each(|step| step.apply(series))
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{cause, done, two_films};
    use super::super::{FilmChange, FilmText};
    use super::*;

    fn developer(films: &[&str]) -> Together {
        let change = |film: &&str| {
            FilmChange::Text(FilmText::Developer, "Saltmarsh 1".to_owned()).of(&(*film).into()).into()
        };
        Together { label: "change developer".to_owned(), steps: films.iter().map(change).collect() }
    }

    #[test]
    fn several_changes_are_one_step_and_all_are_done() {
        let (after, label) = done(&two_films(), developer(&["Tern 160", "Plover 640"])).unwrap();
        assert_eq!(label, "change developer");
        assert!(after.films.iter().all(|film| film.process.developer == "Saltmarsh 1"));
    }

    #[test]
    fn where_one_is_refused_the_whole_is() {
        assert_eq!(cause(&two_films(), developer(&["Tern 160", "gone"])), "It is no longer in the series.");
    }
}
