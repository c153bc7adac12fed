//! Labels of films in sentences: put in where a sentence leaves the engine.
//!
//! Rules speak of a film by a stand-in made of its name within the series, which never changes. So no result depends on a
//! label, and a film that is called otherwise is called so at once in everything that is known already.

use std::collections::{BTreeMap, HashMap};

use twinwedge_core::document::{Film, FilmId};
use twinwedge_core::measured::Value;
use twinwedge_core::problem::Problem;
use twinwedge_core::words::Sentence;

/// What a stand-in begins and ends with: Unicode noncharacters, which no text is written with.
const BEGIN: char = '\u{fdd0}';
const END: char = '\u{fdd1}';

/// Stands for the label of a film until a sentence is shown.
pub(super) fn stand_in(id: &FilmId) -> String {
    format!("{BEGIN}{}{END}", id.0)
}

/// The labels of a series' films.
#[derive(Debug, PartialEq)]
pub struct Names(HashMap<FilmId, String>);

impl Names {
    /// Of two films of one name the first counts.
    pub(super) fn of(films: &[Film]) -> Self {
        Self(films.iter().rev().map(|film| (film.id.clone(), film.label.clone())).collect())
    }

    /// A sentence with labels in place of stand-ins. A film that has gone is called by its name within the series.
    pub(super) fn put_into(&self, text: &mut String) {
        if !text.contains([BEGIN, END]) {
            return;
        }
        let mut parts = text.split([BEGIN, END]);
        let mut told = parts.next().unwrap_or_default().to_owned();
        // Stand-in and sentence by turns.
        while let Some(name) = parts.next() {
            let id = FilmId::from(name);
            told.push_str(self.0.get(&id).map_or(name, String::as_str));
            told.push_str(parts.next().unwrap_or_default());
        }
        *text = told;
    }

    /// A problem with labels in place of stand-ins.
    pub(super) fn put_into_problem(&self, mut problem: Problem) -> Problem {
        problem.put(self);
        let Problem { severity, subject, cause, remedy } = problem;
        // Once more as each message is made: on one line, visible and short, whatever a label holds.
        Problem::new(severity, subject, cause, remedy)
    }
}

/// What holds sentences that may speak of films.
pub(super) trait Sentences {
    /// Puts labels in place of stand-ins.
    fn put(&mut self, names: &Names);
}

/// A copy of an answer with labels in its sentences.
pub(super) fn labelled<T: Sentences + Clone>(answer: &T, names: &Names) -> T {
    let mut labelled = answer.clone();
    labelled.put(names);
    labelled
}

impl Sentences for String {
    fn put(&mut self, names: &Names) {
        names.put_into(self);
    }
}

impl Sentences for Sentence {
    fn put(&mut self, names: &Names) {
        self.each_label(&mut |text| names.put_into(text));
    }
}

impl Sentences for Value {
    fn put(&mut self, names: &Names) {
        if let Self::Undefined(reason) = self {
            reason.put(names);
        }
    }
}

impl<T: Sentences> Sentences for Vec<T> {
    fn put(&mut self, names: &Names) {
        self.iter_mut().for_each(|each| each.put(names));
    }
}

impl<T: Sentences, const N: usize> Sentences for [T; N] {
    fn put(&mut self, names: &Names) {
        self.iter_mut().for_each(|each| each.put(names));
    }
}

impl<T: Sentences> Sentences for Option<T> {
    fn put(&mut self, names: &Names) {
        self.iter_mut().for_each(|each| each.put(names));
    }
}

impl<K, V: Sentences> Sentences for BTreeMap<K, V> {
    fn put(&mut self, names: &Names) {
        self.values_mut().for_each(|each| each.put(names));
    }
}
